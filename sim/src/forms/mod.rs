//! Every file a user writes: text in, what it means or every fault out. The only module that knows
//! TOML.

mod document;
pub mod engine;
mod fault;
pub mod goals;
pub mod job;
mod keys;
pub mod limits;
pub mod measured;
mod nearest;
mod place;
mod quantity;
mod reading;
pub mod rig;
mod speeds;
pub mod sweep;
pub mod template;
mod value;

pub use document::{Document, Entry, Value, Words};
pub use fault::{Fault, FaultKind, Faults, SHOWN, displayable, quoted};
pub use nearest::or_nearest;
pub use place::Place;
