//! Engines with pipes: volumes and waves together.

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
