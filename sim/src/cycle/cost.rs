//! What points will cost, told before they are solved: measured coefficients, an estimate for machines of
//! the kind they were measured on.

use crate::model::Model;

/// Steps and time of a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cost {
    /// Steps of all its cycles on all its grids; none are told for engines without pipes, which share
    /// theirs between lanes.
    pub steps: Option<f64>,
    /// Time of one core [s].
    pub seconds: f64,
}

/// The machine that the coefficients were measured on.
pub const MEASURED_ON: &str = "one core of a shared AMD EPYC server with AVX-512, November 2026";

/// Cycles of a point with pipes, on all grids: from cold and from a neighbour (means over
/// `tuned-pipe.toml`, 6000 to 12 000/min, and `box-silencer.toml`, 3000 to 9000/min).
const CYCLES: [f64; 2] = [38.6, 29.3];
/// Steps of a cycle, mean over its grids: at least so many, and so many more at 1/min and 1 m of cell.
const STEPS: (f64, f64) = (150.0, 24_500.0);
/// Time of a step [s]: of all but the cells, and of a cell of the finest grid.
const STEP: (f64, f64) = (3.7e-6, 1.6e-8);
/// Time of a point without pipes in a sweep [s].
const PLAIN: f64 = 1.0e-3;

/// What a model is expected to cost, from cold or `chained` to a neighbour.
#[must_use]
pub fn expected(model: &Model, chained: bool) -> Cost {
    let Some(pipes) = &model.pipes else { return Cost { steps: None, seconds: PLAIN } };
    let rpm = model.reference.angular_speed * 30.0 / std::f64::consts::PI;
    let cells = pipes.network(&model.case.numbers.gas, pipes.cell).map_or(0, |piped| {
        piped.network.pipes().iter().map(|pipe| pipe.grid().cells()).sum::<usize>()
    });
    let steps = CYCLES[usize::from(chained)] * (STEPS.0 + STEPS.1 / (rpm * pipes.cell));
    Cost { steps: Some(steps), seconds: steps * (STEP.0 + STEP.1 * cells as f64) }
}
