//! From model to settled cycle.

mod anderson;
mod driver;
mod figures;
mod lane_run;
mod newton;
mod piped;
mod recorder;
mod turns;
mod vector;
mod watch;

use std::sync::Arc;

use driver::Solving;
pub use driver::{Chain, Sink};
pub use recorder::{TRACE_STEP, Tracer};

use crate::lane::InstructionSet;
use crate::model::{Engine, Model, ModelError};
use crate::result::{Point, Trace};
use crate::spec::EngineSpec;

/// How long a search for the settled cycle may take, and how it is made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Cycles allowed; with pipes, on the grid of the engine file, and half as many on each coarser one.
    pub cycles: u32,
    /// Instruction set to run on; changes speed, never bits.
    pub instructions: InstructionSet,
    /// For engines without pipes. With pipes the waves choose the steps, and a cycle counts as settled by
    /// bounds that are the program's own.
    pub without_pipes: WithoutPipes,
}

/// How an engine without pipes is integrated and settled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WithoutPipes {
    /// Tolerance of the integrator, relative, per step.
    pub tolerance: f64,
    /// Largest change per cycle that counts as repeating.
    pub repeat: f64,
    /// Steps allowed in one cycle, refused ones included.
    pub steps: u32,
    /// Differences the acceleration remembers; 0 repeats plainly.
    pub memory: usize,
    /// Plain cycles before the acceleration starts.
    pub plain: u32,
}

impl WithoutPipes {
    /// For single runs: repeats to 1e-6, integrator at 1e-8.
    #[must_use]
    pub fn single() -> Self {
        Self { tolerance: 1e-8, repeat: 1e-6, steps: 20_000, memory: 8, plain: 3 }
    }

    /// For sweeps: repeats to 1e-5, integrator at 1e-7.
    #[must_use]
    pub fn sweep() -> Self {
        Self { tolerance: 1e-7, repeat: 1e-5, ..Self::single() }
    }
}

impl Settings {
    /// For single runs: 100 cycles, [`WithoutPipes::single`].
    #[must_use]
    pub fn single() -> Self {
        let instructions = InstructionSet::best();
        Self { cycles: 100, instructions, without_pipes: WithoutPipes::single() }
    }

    /// For sweeps: 100 cycles, [`WithoutPipes::sweep`].
    #[must_use]
    pub fn sweep() -> Self {
        Self { without_pipes: WithoutPipes::sweep(), ..Self::single() }
    }
}

impl Default for Settings {
    fn default() -> Self {
        Self::single()
    }
}

/// Why a cycle could not be computed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CycleError {
    /// The engine cannot be simulated.
    #[error(transparent)]
    Model(#[from] ModelError),
    /// A state left what gas can be.
    #[error(
        "{part}: {quantity} = {value:.4e} at {angle_deg:.1}° after top dead centre, outside what the model allows"
    )]
    OutOfBounds {
        /// Which volume.
        part: &'static str,
        /// Which quantity.
        quantity: &'static str,
        /// Its value.
        value: f64,
        /// Where [deg].
        angle_deg: f64,
    },
    /// A cell of a pipe left what gas can be.
    #[error(
        "{fault}, at {angle_deg:.1}° after top dead centre; look for a sudden change of bore, or make the cells smaller"
    )]
    Pipe {
        /// What happened where.
        fault: String,
        /// When [deg].
        angle_deg: f64,
    },
    /// Too many steps in one cycle.
    #[error(
        "more than {steps} steps in one cycle, at {angle_deg:.1}° after top dead centre with a step of {step_deg:.1e}°; look for an opening or a volume far too small for the rest"
    )]
    TooManySteps {
        /// The limit.
        steps: u32,
        /// Where [deg].
        angle_deg: f64,
        /// Last step [deg].
        step_deg: f64,
    },
}

/// Settles one engine at one speed, from cold.
///
/// # Errors
/// When the engine cannot be simulated or the state leaves its bounds. Not settling is a result.
pub fn simulate(spec: &EngineSpec, rpm: f64, settings: &Settings) -> Result<Point, CycleError> {
    let model = Engine::new(spec)?.at_speed(rpm)?;
    settle(&Arc::new(model), settings)
}

/// Settles a model from cold.
///
/// # Errors
/// When the state leaves its bounds.
pub fn settle(model: &Arc<Model>, settings: &Settings) -> Result<Point, CycleError> {
    one(model, settings, None)
}

/// Settles one model, in one lane.
fn one(
    model: &Arc<Model>,
    settings: &Settings,
    tracer: Option<&mut Tracer>,
) -> Result<Point, CycleError> {
    let tracer = match tracer {
        Some(tracer) if model.pipes.is_some() => return piped::trace(model, settings, tracer),
        other => other,
    };
    let mut found = None;
    let mut tasks = std::iter::once(Chain { index: 0, models: vec![Ok(Arc::clone(model))] });
    settings.instructions.run_one(Solving {
        settings: *settings,
        source: &mut || tasks.next(),
        sink: &mut |_, _, result| found = Some(result),
        tracer,
        probes: None,
    });
    found.unwrap_or_else(|| unreachable!("one chain of one point gives one result"))
}

/// Solves chains from `source` until it gives no more; `sink` receives chain index, point index within
/// the chain and the point, in whatever order they end. Chains are worked on side by side where the
/// processor has wide vectors, which changes the speed, never a bit of a result; those that share their
/// sub-models should follow each other.
pub fn solve(settings: &Settings, source: &mut dyn FnMut() -> Option<Chain>, sink: &mut Sink) {
    let solving = Solving { settings: *settings, source, sink, tracer: None, probes: None };
    settings.instructions.run_lanes(solving);
}

/// Runs `cycles` cycles from a given state at exhaust opening, without acceleration: for checks and for
/// watching an engine start. With pipes it ends earlier where the cycle repeats. The state is that of the
/// volumes and, with pipes, of what they hold, as a trace gives it; pipes of which it says nothing begin
/// cold. The verdict says whether it happened to settle.
///
/// # Errors
/// When the state leaves its bounds.
pub fn run_from(
    model: &Model,
    start: &[f64],
    cycles: u32,
    settings: &Settings,
) -> Result<Point, CycleError> {
    let without_pipes = WithoutPipes { memory: 0, plain: 0, ..settings.without_pipes };
    let settings = Settings { cycles, without_pipes, ..*settings };
    let (volumes, pipes) = start.split_at(start.len().min(model.cold_start.len()));
    let model = Arc::new(Model { cold_start: volumes.to_vec(), ..model.clone() });
    if model.pipes.is_some() {
        return piped::run(&model, pipes, &settings);
    }
    settle(&model, &settings)
}

/// Settles one engine at one speed and traces the settled cycle.
///
/// # Errors
/// As [`simulate`].
pub fn simulate_traced(
    spec: &EngineSpec,
    rpm: f64,
    settings: &Settings,
) -> Result<(Point, Trace), CycleError> {
    settle_traced(&Arc::new(Engine::new(spec)?.at_speed(rpm)?), settings)
}

/// Settles a model from cold and traces the settled cycle.
///
/// # Errors
/// When the state leaves its bounds.
pub fn settle_traced(
    model: &Arc<Model>,
    settings: &Settings,
) -> Result<(Point, Trace), CycleError> {
    let mut tracer = Tracer::new(model);
    let point = one(model, settings, Some(&mut tracer))?;
    Ok((point, tracer.into_trace()))
}
