//! Why a short blowdown blows back, how much would be enough, and the cheapest way there.

mod account;
mod doubts;
mod levers;
mod required;
mod root;

pub use account::{Emptying, emptying};
pub use doubts::{Doubt, doubts};
pub use levers::{HalfDegrees, Lever, Limit, Reached, Slack, apply, reach, slack};
pub use required::{Required, required};

use std::sync::Arc;

use super::error::{StudyError, usable};
use crate::cycle::{Settings, settle};
use crate::model::Engine;
use crate::result::Point;
use crate::spec::EngineSpec;

/// A settled point of an engine at a speed [1/min]; an error where it did not settle.
///
/// # Errors
/// When the engine cannot be simulated; a point that does not settle is none to reason from and gives
/// its residual.
pub fn point(spec: &EngineSpec, rpm: f64) -> Result<Point, StudyError> {
    settled(spec, rpm, false)
}

/// The counterfactual: no reverse flow through the transfers before the pressures have crossed.
///
/// # Errors
/// As [`point`].
pub fn counterfactual(spec: &EngineSpec, rpm: f64) -> Result<Point, StudyError> {
    settled(spec, rpm, true)
}

fn settled(spec: &EngineSpec, rpm: f64, held: bool) -> Result<Point, StudyError> {
    let model = Engine::new(spec)?.at_speed(rpm)?;
    let model = if held { model.with_reverse_held() } else { model };
    usable(settle(&Arc::new(model), &Settings::single())?)
}

/// Cylinder less crankcase pressure at transfer opening [Pa].
#[must_use]
pub fn difference(point: &Point) -> f64 {
    point.summary.cylinder_pressure_to - point.summary.crankcase_pressure_to
}
