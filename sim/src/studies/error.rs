//! Why a study has no answer.

use crate::cycle::CycleError;
use crate::forms::engine::Fault;
use crate::model::ModelError;
use crate::result::{Point, Standstill};

/// Why a study has no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StudyError {
    /// The engine that was to be tried cannot be, or cannot run.
    #[error("{key}: {remedy}")]
    Engine {
        /// Path of the key or table at fault.
        key: String,
        /// What would be right.
        remedy: String,
    },
    /// Its cycle cannot be computed.
    #[error(transparent)]
    Cycle(#[from] CycleError),
    /// It would not run.
    #[error("would not run at {rpm:.0}/min: {why}")]
    Standstill {
        /// Speed [1/min].
        rpm: f64,
        /// Why.
        why: Standstill,
    },
    /// Its cycle does not repeat.
    #[error("did not settle at {rpm:.0}/min (residual {residual:.1e})")]
    NotSettled {
        /// Speed [1/min].
        rpm: f64,
        /// Largest relative change over the last cycle.
        residual: f64,
    },
    /// It has not what was asked for.
    #[error("no {key}")]
    NoQuantity {
        /// Name of the quantity.
        key: &'static str,
    },
}

impl From<ModelError> for StudyError {
    fn from(error: ModelError) -> Self {
        CycleError::from(error).into()
    }
}

impl StudyError {
    /// The first of the faults that keep an engine from being.
    pub(crate) fn of_faults(faults: &[Fault]) -> Self {
        let (key, remedy) = faults.first().map(|f| (f.key.clone(), f.remedy.clone())).unzip();
        let remedy = remedy.unwrap_or_else(|| "not possible".to_owned());
        Self::Engine { key: key.unwrap_or_else(|| "the engine".to_owned()), remedy }
    }
}

/// The point, where its engine runs and its cycle repeats.
pub(crate) fn usable(point: Point) -> Result<Point, StudyError> {
    let rpm = point.rpm;
    if let Some(why) = point.standstill {
        return Err(StudyError::Standstill { rpm, why });
    }
    if point.verdict.settled() {
        Ok(point)
    } else {
        Err(StudyError::NotSettled { rpm, residual: point.verdict.residual() })
    }
}
