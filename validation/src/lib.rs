//! Helpers of the checks: tolerances with reasons, reference tables with citations, random engines.

pub mod bounds;
pub mod hostile;
pub mod random;
pub mod record;
mod reference;
pub mod report;
mod tolerance;
pub mod trial;

pub use reference::{Reference, ReferenceError};
pub use tolerance::Tolerance;
