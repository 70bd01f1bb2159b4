//! What another program needs: an engine from its file, at a speed, and its results.
//!
//! ```
//! use freshcharge_sim::prelude::*;
//!
//! let text = std::fs::read_to_string("../scenarios/touring.toml")?;
//! let engine = Engine::from_toml(&text)?;
//! let point = engine.at(7000.0)?.run()?;
//! assert!(point.summary.delivery_ratio > 0.3 && point.summary.delivery_ratio < 1.2);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

use std::sync::{Arc, OnceLock};

pub use crate::cycle::{CycleError, Settings, WithoutPipes};
pub use crate::forms::engine::{Fault, Faults, Scenario};
pub use crate::model::ModelError;
pub use crate::result::{
    GroupTrace, OpeningTrace, PipeGas, PipeTrace, Point, ReedTrace, Standstill, Summary, Trace,
    TraceEvent, Verdict, VolumeTrace,
};
pub use crate::spec::EngineSpec;

use crate::cycle::{settle, settle_traced};
use crate::forms::engine::read;
use crate::model::{self, Model};
use crate::studies::quantities::Facts;

/// An engine of an engine file.
///
/// A copy shares everything with the original, and what does not depend on speed is worked out once for all
/// copies: hand copies or references to as many threads as you like.
#[derive(Debug, Clone)]
pub struct Engine(Arc<Parts>);

#[derive(Debug)]
struct Parts {
    scenario: Scenario,
    /// What does not depend on speed, from the first time it is asked for.
    model: OnceLock<Result<model::Engine, ModelError>>,
}

/// An engine at a speed, ready to run.
#[derive(Debug, Clone)]
pub struct OperatingPoint(Arc<Model>);

/// Why there is no result.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// The engine file, or a change of it, has faults: all of them, in order of line.
    #[error(transparent)]
    File(#[from] Faults),
    /// The engine cannot be simulated.
    #[error(transparent)]
    Model(#[from] ModelError),
    /// The cycle could not be computed.
    #[error(transparent)]
    Cycle(#[from] CycleError),
    /// The cycle does not repeat, so that its figures are no results; they are here to look at.
    #[error(
        "at {:.0}/min the cycle did not settle: after {} cycles it still changes by {:.1e} per cycle",
        .0.rpm, .0.verdict.cycles(), .0.verdict.residual()
    )]
    NotSettled(Box<Point>),
    /// The engine would not run.
    #[error("at {rpm:.0}/min the engine would not run: {why}")]
    WouldNotRun {
        /// Speed [1/min].
        rpm: f64,
        /// Why.
        why: Standstill,
    },
}

impl Engine {
    /// Reads the text of an engine file.
    ///
    /// # Errors
    /// [`Error::File`] with every fault that the file has.
    pub fn from_toml(text: &str) -> Result<Self, Error> {
        Ok(Self::from(read(text)?))
    }

    /// The same engine with one number of its file changed, in the unit that the key names.
    ///
    /// The path is the key's, `stack.base_total_mm` or `exhaust.window.roof_depth_mm` (every exhaust
    /// window); [`Scenario::with`] says what else it may be.
    ///
    /// # Errors
    /// [`Error::File`] when there is no such number, it lies outside its limits, or the engine is no longer
    /// possible.
    pub fn with(&self, path: &str, value: f64) -> Result<Self, Error> {
        self.with_all(&[(path, value)])
    }

    /// The same engine with several numbers changed, checked once at the end.
    ///
    /// # Errors
    /// As [`Self::with`].
    pub fn with_all(&self, changes: &[(&str, f64)]) -> Result<Self, Error> {
        Ok(Self::from(self.scenario().with_all(changes)?))
    }

    /// What a number of the file stands at, in the unit that its key names: as written, else its default.
    /// None for what the engine has not, or where the numbers that the path means differ.
    #[must_use]
    pub fn value(&self, path: &str) -> Option<f64> {
        self.scenario().value(path)
    }

    /// A quantity that follows from the measurements without a simulation, such as `blowdown_deg` or
    /// `squish_gap_mm`, in the unit of its name; [`Facts`] lists them all. None for what the engine has not.
    #[must_use]
    pub fn quantity(&self, key: &str) -> Option<f64> {
        Facts::only(&self.scenario().spec, &[], &[key.to_owned()]).get(key)
    }

    /// The engine file understood.
    #[must_use]
    pub fn scenario(&self) -> &Scenario {
        &self.0.scenario
    }

    /// The engine at a speed [1/min].
    ///
    /// # Errors
    /// [`Error::Model`] when the engine cannot be simulated, or not at this speed.
    pub fn at(&self, rpm: f64) -> Result<OperatingPoint, Error> {
        let built = || model::Engine::new(&self.scenario().spec);
        let engine = self.0.model.get_or_init(built).as_ref().map_err(Clone::clone)?;
        Ok(OperatingPoint(Arc::new(engine.at_speed(rpm)?)))
    }
}

impl From<Scenario> for Engine {
    fn from(scenario: Scenario) -> Self {
        Self(Arc::new(Parts { scenario, model: OnceLock::new() }))
    }
}

impl OperatingPoint {
    /// Settles the cycle from cold, as closely as [`Settings::single`] says.
    ///
    /// # Errors
    /// [`Error::Cycle`] when the cycle cannot be computed, [`Error::NotSettled`] when it does not repeat,
    /// [`Error::WouldNotRun`] when no fresh charge comes in.
    pub fn run(&self) -> Result<Point, Error> {
        self.run_with(&Settings::single())
    }

    /// The same with other settings.
    ///
    /// # Errors
    /// As [`Self::run`].
    pub fn run_with(&self, settings: &Settings) -> Result<Point, Error> {
        settled(settle(&self.0, settings)?)
    }

    /// Settles the cycle and traces it.
    ///
    /// # Errors
    /// As [`Self::run`].
    pub fn trace(&self) -> Result<(Point, Trace), Error> {
        let (point, trace) = settle_traced(&self.0, &Settings::single())?;
        Ok((settled(point)?, trace))
    }

    /// The model that is run.
    #[must_use]
    pub fn model(&self) -> &Arc<Model> {
        &self.0
    }
}

fn settled(point: Point) -> Result<Point, Error> {
    if let Some(why) = point.standstill {
        return Err(Error::WouldNotRun { rpm: point.rpm, why });
    }
    if point.verdict.settled() { Ok(point) } else { Err(Error::NotSettled(Box::new(point))) }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TOURING: &str = include_str!("../../scenarios/touring.toml");

    fn travels<T: Send + Sync + Clone>(_: &T) {}

    #[test]
    fn an_engine_goes_to_every_thread_and_shares_what_does_not_depend_on_speed() {
        let engine = Engine::from_toml(TOURING).unwrap();
        travels(&engine);
        let copy = engine.clone();
        let point = copy.at(6000.0).unwrap();
        travels(&point);
        assert!(
            engine.0.model.get().is_some(),
            "the original has not got what its copy worked out"
        );
        assert!(Arc::ptr_eq(&engine.0, &copy.0));
    }

    #[test]
    fn a_run_by_the_front_door_is_the_run_of_the_library() {
        let engine = Engine::from_toml(TOURING).unwrap();
        let spec = &engine.scenario().spec;
        let plain = crate::cycle::simulate(spec, 6000.0, &Settings::single()).unwrap();
        let point = engine.at(6000.0).unwrap();
        assert_eq!(point.run().unwrap(), plain);
        assert_eq!(point.trace().unwrap().0, plain);
        let loose = point.run_with(&Settings::sweep()).unwrap();
        assert_ne!(loose, plain);
    }

    #[test]
    fn what_goes_wrong_is_told_by_kind() {
        let faults = Engine::from_toml("name = \"x\"\nbore = 39.0 mm\n").unwrap_err();
        assert!(matches!(&faults, Error::File(list) if list.iter().any(|f| f.line == 2)));
        assert!(faults.to_string().lines().any(|l| l.starts_with("line 2")), "{faults}");
        let engine = Engine::from_toml(TOURING).unwrap();
        assert!(matches!(engine.with("stack.base_totl_mm", 1.0), Err(Error::File(_))));
        let mut long = engine.scenario().clone();
        long.spec.combustion.duration.value.fill(4.0);
        assert!(matches!(
            Engine::from(long).at(6000.0),
            Err(Error::Model(ModelError::BurnsOpen { .. }))
        ));
        let hasty = Settings { cycles: 2, ..Settings::single() };
        let error = engine.at(6000.0).unwrap().run_with(&hasty).unwrap_err();
        assert!(
            matches!(&error, Error::NotSettled(point) if point.verdict.cycles() == 2),
            "{error}"
        );
        assert!(error.to_string().contains("did not settle"));
    }

    #[test]
    fn a_trace_is_arrays_of_one_length_in_si_units() {
        let engine = Engine::from_toml(TOURING).unwrap();
        let (point, trace) = engine.at(6000.0).unwrap().trace().unwrap();
        let rows = trace.len();
        assert!(rows > 1400 && trace.angle.is_sorted());
        for values in [&trace.time, &trace.cylinder.mass, &trace.crankcase.pressure] {
            assert_eq!(values.len(), rows);
        }
        assert!(trace.groups.iter().all(|g| g.mass_flow.len() == rows));
        // pascals, radians and seconds: the trace has the figures of its point
        let peak = trace.cylinder.pressure.iter().copied().fold(0.0, f64::max);
        assert!((peak / point.summary.peak_pressure - 1.0).abs() < 1e-3, "{peak}");
        let opens = trace.event(TraceEvent::ExhaustOpens).unwrap();
        assert!((trace.angle[0] - opens).abs() < 1e-9 && opens > 1.0 && opens < 2.0);
        assert!((trace.time[rows - 1] - 0.01).abs() < 1e-9);
    }

    #[test]
    fn a_number_changes_by_its_path_and_the_original_stays() {
        let engine = Engine::from_toml(TOURING).unwrap();
        let before = engine.quantity("blowdown_deg").unwrap();
        let roof = engine.value("exhaust.window[0].roof_depth_mm").unwrap();
        let higher = engine.with("exhaust.window.roof_depth_mm", roof - 1.0).unwrap();
        assert!(higher.quantity("blowdown_deg").unwrap() > before + 1.0);
        assert_eq!(engine.quantity("blowdown_deg"), Some(before));
        assert_eq!(engine.quantity("no_such_thing"), None);
    }
}
