//! Results to text.

pub(crate) mod csv;
pub(crate) mod json;
pub(crate) mod layout;
pub(crate) mod pipes;
pub(crate) mod plus_minus;
pub(crate) mod rig;
pub(crate) mod schema;
pub(crate) mod table;
