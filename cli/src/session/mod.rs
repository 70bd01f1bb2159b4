//! What surrounds the work of a command: files, progress, the store of a sweep.

pub(crate) mod charts;
pub(crate) mod engine;
pub(crate) mod files;
pub(crate) mod limits;
pub(crate) mod measured;
pub(crate) mod progress;
pub(crate) mod sweep;
pub(crate) mod version;
pub(crate) mod writeup;
