//! Sweeps: a plan, and from a number to the engine that it means. Nothing here runs anything.
//!
//! A plan has axes (one number of the engine file, or several that change together), sampled numbers,
//! numbers that are moved so that a figure *holds*, and limits that refuse a build before it is
//! simulated. A *combination* is one value of everything but speed; a *chain* is a combination with at
//! most [`CHAIN`] of its speeds; a *case* is one combination at one speed, and becomes one row.

mod case;
mod design;
mod figures;
mod file;
mod plan;
mod sensitivity;
mod sobol;
mod values;

pub use case::{Build, Refusal};
pub use design::{Design, Sample, Sampled};
pub use figures::{FIGURES, Figure, figure};
pub use file::{Objective, Request, located, request};
pub use plan::{Axis, CHAIN, Hold, Limit, MOST_CASES, Place, Plan, PlanFault, Sweep, Varied};
pub use sensitivity::{Indices, critical_rank_correlation, indices, rank_correlation};
pub use sobol::{DIMENSIONS, Sobol};
pub use values::{MOST_VALUES, range, shelf_sums, snapped, steps};
