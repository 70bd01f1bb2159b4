//! Every file a user writes: text in, what it means or every fault out. The only module that knows
//! TOML.

mod document;
pub mod engine;
mod fault;
mod keys;
mod quantity;
mod reading;
mod speeds;
mod value;
