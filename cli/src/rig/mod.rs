//! Rigs: pipes, vessels and what joins them, from a file, run and written down.

mod convert;
mod keys;
mod reading;
pub(crate) mod record;
pub(crate) mod spec;
pub(crate) mod words;

pub(crate) use convert::read;
