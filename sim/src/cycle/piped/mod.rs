//! Engines with pipes: volumes and waves together.
//!
//! # Decisions
//!
//! - The right-hand side of the volumes is the one of engines without pipes, cut in two
//!   (`network::piped`). What leaves the cylinder has its mixture by the scavenging law; the law is asked
//!   with the last flow for the face and with the true one for the booking, and the booking's mass,
//!   energy and burned mass are what enters the pipe.
//! - What is faster than the step is solved exactly over it: a gas column that follows its quasi-steady
//!   flow, with that flow as a straight line (`columns`; a cap on its rate would move delivery by 0.4 %),
//!   an almost empty slug (`slugs`), petals by smaller steps of their own (`petals`).
//! - `run_from` takes what volumes and pipes hold (a trace's `start`) and makes plain cycles on the full
//!   grid: the second start that a search is held against.
//! - A short wide duct differs from none by what it holds, up to 12 % of power at speeds at which gas
//!   returns through the port, and by its inertia, as L/A: no term in the end equation is left over
//!   (`verification_engine1d`).
//! - The balance holds pipes and volumes; `received` of the reservoirs is what has left. A volume in a
//!   chain of pieces is adiabatic. A carburettor before inlet pipes throttles their mouth. The casting's
//!   duct is the cone of its volume, length and exit; before a pipe only the ledge's loss stands in
//!   series with the window.
//! - Old gas in pipes is burned gas and unburned leftovers. The leftovers ride on the mass flux to first
//!   order; whatever else comes back fresh counts as new, and as kept when it is trapped, whichever cycle
//!   it went out in.
//! - Waves at the port are split as simple waves of one entropy with γ = 1.35.

mod columns;
mod coupled;
mod petals;
mod record;
mod search;
mod settle;
mod slugs;
mod transport;

use std::sync::Arc;

use super::driver::{Chain, Sink};
use super::recorder::Tracer;
use super::{CycleError, Settings};
use crate::model::Model;
use crate::result::Point;
use record::Recorder;
pub(super) use settle::run;

/// Whether the engine of a chain has pipes.
pub(super) fn has_pipes(chain: &Chain) -> bool {
    chain.models.iter().flatten().any(|m| m.pipes.is_some())
}

/// Solves the points of a chain in order, the first from cold, each other from the one before it.
pub(super) fn solve(chain: &Chain, settings: &Settings, sink: &mut Sink) {
    let mut from = None;
    for (index, model) in chain.models.iter().enumerate() {
        let result = match model {
            Err(error) => Err(error.clone().into()),
            Ok(model) => settle::settle(model, settings, from.as_ref()),
        };
        from = result.as_ref().ok().map(|s| s.neighbour.clone());
        sink(chain.index, index, result.map(|s| s.point));
    }
}

/// Settles a model and records its last cycle.
pub(super) fn trace(
    model: &Arc<Model>,
    settings: &Settings,
    tracer: &mut Tracer,
) -> Result<Point, CycleError> {
    let mut solution = settle::settle(model, settings, None)?;
    let mut recorder = Recorder::new(tracer);
    solution.watched(&mut recorder)?;
    recorder.close();
    Ok(solution.point)
}
