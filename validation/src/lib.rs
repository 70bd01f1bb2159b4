//! Helpers of the checks: tolerances with reasons, reference tables with citations.

pub mod record;
mod reference;
mod tolerance;

pub use reference::{Reference, ReferenceError};
pub use tolerance::Tolerance;
