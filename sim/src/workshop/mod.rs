//! What the bench works with: everything that follows from the measurements, how sure it is, and the
//! conventions in which timings are told.
//!
//! A [`Fact`] is one named quantity; check, comparison, goals and uncertainty all speak of facts.

mod angles;
mod correction;
mod facts;
mod intake;
mod plan;
mod space;
mod stack;
mod timing;
mod uncertainty;
mod windows;

pub use angles::{Conversion, convert};
pub use correction::{Standard, TestAir, factor, saturation_pressure};
pub use facts::{Fact, Facts, Section};
pub use plan::{Goal, NOTHING, Operation, Solution, corners, relaxation, solve};
pub use stack::{SquishPeak, peak_squish};
pub use uncertainty::{Contribution, Spread, counterpart, measured, spread};
