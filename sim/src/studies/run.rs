//! An engine over its speeds.

use std::sync::Arc;

use rayon::prelude::*;

use super::plus_minus::PlusMinus;
use crate::cycle::{self, CycleError, Settings};
use crate::forms::engine::Scenario;
use crate::model::{Engine, ModelError};
use crate::result::{Point, Trace};
use crate::spec::EngineSpec;

/// What became of one speed.
#[derive(Debug)]
pub struct Row {
    /// Speed [1/min].
    pub rpm: f64,
    /// The point, with its trace where one was asked for.
    pub result: Result<(Point, Option<Trace>), CycleError>,
}

impl Row {
    /// The point, if there is one.
    #[must_use]
    pub fn point(&self) -> Option<&Point> {
        self.result.as_ref().ok().map(|(point, _)| point)
    }
}

/// A finished run of one engine file.
#[derive(Debug)]
pub struct Run {
    /// Engine file's name.
    pub file: String,
    /// SHA-256 of the engine file.
    pub hash: String,
    /// What was read.
    pub scenario: Scenario,
    /// One row a speed.
    pub rows: Vec<Row>,
    /// What the errors of the readings leave, where it was asked for.
    pub plus_minus: Option<PlusMinus>,
    /// The same without pipes, where asked for.
    pub plain: Option<Vec<Row>>,
    /// The same in other cells, where asked for.
    pub grids: Option<OtherGrids>,
}

/// The engine in coarser and finer cells.
#[derive(Debug)]
pub struct OtherGrids {
    /// Cells of twice the size.
    pub doubled: Vec<Row>,
    /// Of half the size.
    pub halved: Vec<Row>,
}

impl Run {
    /// Whether every speed has an answer.
    #[must_use]
    pub fn complete(&self) -> bool {
        self.rows.iter().all(|r| r.point().is_some_and(Point::answers))
    }
}

/// An engine at all `speeds` [1/min] on all cores, in order, with traces where asked for; `done` is called
/// after each.
///
/// # Errors
/// When no model can be made of the engine. A speed that cannot be computed is a row with its reason.
pub fn at_speeds(
    spec: &EngineSpec,
    speeds: &[f64],
    traced: bool,
    done: &(dyn Fn() + Sync),
) -> Result<Vec<Row>, ModelError> {
    let engine = Engine::new(spec)?;
    let settings = Settings::single();
    let rows = speeds
        .par_iter()
        .map(|&rpm| {
            let result = engine.at_speed(rpm).map_err(CycleError::from).and_then(|model| {
                let model = Arc::new(model);
                if traced {
                    cycle::settle_traced(&model, &settings).map(|(p, t)| (p, Some(t)))
                } else {
                    cycle::settle(&model, &settings).map(|p| (p, None))
                }
            });
            done();
            Row { rpm, result }
        })
        .collect();
    Ok(rows)
}
