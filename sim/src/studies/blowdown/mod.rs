//! Why a short blowdown blows back, how much would be enough, and the cheapest way there.

mod account;
mod doubts;
mod levers;
mod required;
mod root;

pub use account::{Emptying, emptying};
pub use doubts::{Doubt, doubts};
pub use levers::{HalfDegrees, Lever, Reached, Slack, apply, reach, slack};
pub use required::{Required, required};

use std::sync::Arc;

use crate::cycle::{CycleError, Settings, settle};
use crate::model::Engine;
use crate::result::Point;
use crate::spec::EngineSpec;

/// A settled point of an engine at a speed [1/min]; an error where it did not settle.
///
/// # Errors
/// When the engine cannot be simulated; a point that does not settle is none to reason from and gives
/// its residual.
pub fn point(spec: &EngineSpec, rpm: f64) -> Result<Point, String> {
    settled(spec, rpm, false)
}

/// The counterfactual: no reverse flow through the transfers before the pressures have crossed.
///
/// # Errors
/// As [`point`].
pub fn counterfactual(spec: &EngineSpec, rpm: f64) -> Result<Point, String> {
    settled(spec, rpm, true)
}

fn settled(spec: &EngineSpec, rpm: f64, held: bool) -> Result<Point, String> {
    let model = Engine::new(spec).and_then(|e| e.at_speed(rpm)).map_err(|e| e.to_string())?;
    let model = if held { model.with_reverse_held() } else { model };
    let point =
        settle(&Arc::new(model), &Settings::single()).map_err(|e: CycleError| e.to_string())?;
    if let Some(why) = &point.standstill {
        Err(format!("would not run at {rpm:.0}/min: {why}"))
    } else if point.verdict.settled() {
        Ok(point)
    } else {
        Err(format!("did not settle at {rpm:.0}/min (residual {:.1e})", point.verdict.residual()))
    }
}

/// Cylinder less crankcase pressure at transfer opening [Pa].
#[must_use]
pub fn difference(point: &Point) -> f64 {
    point.summary.cylinder_pressure_to - point.summary.crankcase_pressure_to
}
