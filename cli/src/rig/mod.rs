//! What a rig gave, as text.

pub(crate) mod words;
