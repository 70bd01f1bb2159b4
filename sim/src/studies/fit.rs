//! Uncertain inputs found from measurements of the whole engine.
//!
//! Least squares by the method of Levenberg and Marquardt (J. J. Moré, "The Levenberg–Marquardt algorithm:
//! implementation and theory", Lecture Notes in Mathematics 630 (1978) 105–116, as the library used follows
//! it). Inputs stay inside their ranges by value = middle + half·sin u. Bands come from the linearised
//! problem at the answer, inputs counted in their ranges.

use std::sync::Arc;

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::{DMatrix, DVector, Dyn, Owned, SymmetricEigen, U1};

use crate::cycle::{Chain, Settings, solve};
use crate::forms::engine::{Changer, Scenario};
use crate::model::Engine;
use crate::portable;
use crate::result::Point;

/// Most inputs that are fitted together.
pub const MOST_INPUTS: usize = 4;
/// Standard deviations of a band.
pub const BAND: f64 = 3.0;
/// Correlation from which two inputs count as not to be told apart.
pub const ALIKE: f64 = 0.95;

/// An input with the range in which it is plausible, in its key's unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Unknown {
    /// Its path in the engine file.
    pub path: String,
    /// Least value.
    pub low: f64,
    /// Greatest value.
    pub high: f64,
}

/// A measured result at a speed.
#[derive(Debug, Clone, Copy)]
pub struct Measured {
    /// Speed [1/min].
    pub rpm: f64,
    /// What is measured, of a computed point.
    pub of: fn(&Point) -> Option<f64>,
    /// What was measured.
    pub value: f64,
    /// Standard deviation of the measurement, in the same unit.
    pub deviation: f64,
}

/// What was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Values of the inputs.
    pub values: Vec<f64>,
    /// Half-width of each band, [`BAND`] standard deviations; infinite where the data say nothing.
    pub half_widths: Vec<f64>,
    /// Pairs of inputs with their correlation, where it is [`ALIKE`] or more in size.
    pub alike: Vec<(usize, usize, f64)>,
    /// Inputs that ended at an end of their range.
    pub at_end: Vec<bool>,
    /// Root of the mean square of (computed − measured)/deviation, before and after.
    pub misfit: [f64; 2],
    /// Computed results at the values found, in the order of the measurements.
    pub computed: Vec<f64>,
    /// Engines simulated.
    pub engines: u32,
}

/// Why nothing was found.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// Too many inputs, or none.
    #[error("{0} inputs; between 1 and {MOST_INPUTS} can be fitted together")]
    Count(usize),
    /// A path that is no number.
    #[error("{path}: {remedy}")]
    Path {
        /// The path.
        path: String,
        /// What to write instead.
        remedy: String,
    },
    /// A range without inside.
    #[error("{path}: the range from {low} to {high} has nothing in it")]
    Range {
        /// The path.
        path: String,
        /// Low end.
        low: f64,
        /// High end.
        high: f64,
    },
    /// Fewer measurements than inputs.
    #[error("{measured} measurements for {inputs} inputs; measure at more speeds, or fit fewer")]
    TooFew {
        /// Measurements.
        measured: usize,
        /// Inputs.
        inputs: usize,
    },
    /// The engine cannot be simulated somewhere in the ranges.
    #[error("{0}")]
    Engine(String),
}

/// Step of the slopes, as a share of the range.
const STEP: f64 = 2e-3;
/// How near an end counts as at it, as a share of the range.
const NEAR: f64 = 5e-3;

/// Finds the inputs of an engine at which it computes what was measured.
///
/// # Errors
/// See [`FitError`].
pub fn fit(
    scenario: &Scenario,
    inputs: &[Unknown],
    measured: &[Measured],
) -> Result<Fit, FitError> {
    if inputs.is_empty() || inputs.len() > MOST_INPUTS {
        return Err(FitError::Count(inputs.len()));
    }
    if measured.len() < inputs.len() {
        return Err(FitError::TooFew { measured: measured.len(), inputs: inputs.len() });
    }
    for input in inputs {
        // a range that is not a number has nothing in it either
        if input.low.partial_cmp(&input.high) != Some(std::cmp::Ordering::Less) {
            let Unknown { path, low, high } = input.clone();
            return Err(FitError::Range { path, low, high });
        }
    }
    let paths: Vec<String> = inputs.iter().map(|i| i.path.clone()).collect();
    let changer = scenario
        .changer(&paths)
        .map_err(|(i, remedy)| FitError::Path { path: paths[i].clone(), remedy })?;
    let start: Vec<f64> = inputs
        .iter()
        .map(|i| {
            let own = scenario.value(&i.path).unwrap_or(0.5 * (i.low + i.high));
            // at an end the sine is flat
            let margin = 0.05 * (i.high - i.low);
            own.clamp(i.low + margin, i.high - margin)
        })
        .collect();
    let mut problem = Problem::new(changer, inputs, measured);
    problem.place(&start)?;
    let before = problem.misfit();
    let (problem, _) = LevenbergMarquardt::new()
        .with_ftol(1e-6)
        .with_xtol(1e-4)
        .with_gtol(1e-6)
        .with_patience(12)
        .minimize(problem);
    problem.concluded(before)
}

/// Results of an engine with inputs at given values, in the order of the measurements.
///
/// # Errors
/// When it cannot be simulated, or does not settle.
pub fn predicted(
    scenario: &Scenario,
    inputs: &[Unknown],
    values: &[f64],
    measured: &[Measured],
) -> Result<Vec<f64>, FitError> {
    let paths: Vec<String> = inputs.iter().map(|i| i.path.clone()).collect();
    let changer = scenario
        .changer(&paths)
        .map_err(|(i, remedy)| FitError::Path { path: paths[i].clone(), remedy })?;
    computed(&changer, values, measured)
}

/// Results at values of the inputs.
fn computed(
    changer: &Changer,
    values: &[f64],
    measured: &[Measured],
) -> Result<Vec<f64>, FitError> {
    let engine = |why: String| FitError::Engine(why);
    let scenario = changer.with(values).map_err(|faults| {
        engine(faults.first().map_or_else(String::new, |f| format!("{}: {}", f.key, f.remedy)))
    })?;
    let faults = scenario.faults_for_running();
    if let Some(fault) = faults.first() {
        return Err(engine(format!("{}: {}", fault.key, fault.remedy)));
    }
    let mut speeds: Vec<f64> = measured.iter().map(|m| m.rpm).collect();
    speeds.sort_by(f64::total_cmp);
    speeds.dedup();
    let built = Engine::new(&scenario.spec).map_err(|e| engine(e.to_string()))?;
    let models = speeds.iter().map(|rpm| built.at_speed(*rpm).map(Arc::new)).collect();
    let mut chain = Some(Chain { index: 0, models });
    let mut points: Vec<Option<Point>> = vec![None; speeds.len()];
    let mut failed = None;
    solve(&Settings::single(), &mut || chain.take(), &mut |_, i, result| match result {
        Ok(point) if point.usable() => points[i] = Some(point),
        Ok(_) => failed = Some(format!("did not settle at {:.0}/min", speeds[i])),
        Err(error) => failed = Some(error.to_string()),
    });
    if let Some(why) = failed {
        return Err(engine(why));
    }
    let value = |m: &Measured| {
        let at = speeds.partition_point(|s| *s < m.rpm);
        points[at].as_ref().and_then(|p| (m.of)(p))
    };
    measured
        .iter()
        .map(|m| value(m).ok_or_else(|| engine(format!("no such result at {:.0}/min", m.rpm))))
        .collect()
}

struct Problem<'a> {
    changer: Changer,
    inputs: &'a [Unknown],
    measured: &'a [Measured],
    angles: DVector<f64>,
    computed: Option<Vec<f64>>,
    failed: Option<FitError>,
    engines: std::cell::Cell<u32>,
}

impl<'a> Problem<'a> {
    fn new(changer: Changer, inputs: &'a [Unknown], measured: &'a [Measured]) -> Self {
        Self {
            changer,
            inputs,
            measured,
            angles: DVector::zeros(inputs.len()),
            computed: None,
            failed: None,
            engines: std::cell::Cell::new(0),
        }
    }

    fn at(&self, values: &[f64]) -> Result<Vec<f64>, FitError> {
        self.engines.set(self.engines.get() + 1);
        computed(&self.changer, values, self.measured)
    }

    /// Puts the inputs at values.
    fn place(&mut self, values: &[f64]) -> Result<(), FitError> {
        let angle = |(i, v): (&Unknown, &f64)| {
            portable::asin(((2.0 * v - i.low - i.high) / (i.high - i.low)).clamp(-1.0, 1.0))
        };
        self.angles =
            DVector::from_iterator(self.inputs.len(), self.inputs.iter().zip(values).map(angle));
        self.computed = Some(self.at(&self.values())?);
        Ok(())
    }

    fn values(&self) -> Vec<f64> {
        let value = |(i, u): (&Unknown, &f64)| {
            0.5 * (i.low + i.high) + 0.5 * (i.high - i.low) * portable::sin(*u)
        };
        self.inputs.iter().zip(self.angles.iter()).map(value).collect()
    }

    fn residuals_of(&self, computed: &[f64]) -> DVector<f64> {
        let each = self.measured.iter().zip(computed).map(|(m, c)| (c - m.value) / m.deviation);
        DVector::from_iterator(computed.len(), each)
    }

    fn misfit(&self) -> f64 {
        let residuals = self.computed.as_ref().map(|c| self.residuals_of(c));
        residuals.map_or(f64::NAN, |r| (r.norm_squared() / r.len() as f64).sqrt())
    }

    /// Slopes of the residuals by the inputs, each counted in its range.
    fn slopes(&self) -> Result<DMatrix<f64>, FitError> {
        let values = self.values();
        let mut slopes = DMatrix::zeros(self.measured.len(), self.inputs.len());
        for (i, input) in self.inputs.iter().enumerate() {
            let range = input.high - input.low;
            let ends = [-1.0, 1.0]
                .map(|sign| (values[i] + sign * STEP * range).clamp(input.low, input.high));
            let mut found = Vec::new();
            for end in ends {
                let mut moved = values.clone();
                moved[i] = end;
                found.push(self.residuals_of(&self.at(&moved)?));
            }
            let by = (ends[1] - ends[0]) / range;
            slopes.set_column(i, &((&found[1] - &found[0]) / by));
        }
        Ok(slopes)
    }

    fn concluded(self, before: f64) -> Result<Fit, FitError> {
        if let Some(error) = self.failed {
            return Err(error);
        }
        let values = self.values();
        let slopes = self.slopes()?;
        let (n, m) = (self.inputs.len(), self.measured.len());
        let after = self.misfit();
        // where the misfit is larger than the deviations say, the bands grow with it
        let freedom = (m - n).max(1) as f64;
        let scale = (after * after * m as f64 / freedom).max(1.0);
        let spread = inverse(&(slopes.transpose() * &slopes)).map(|c| c * scale);
        let deviation = |i: usize| spread.as_ref().map_or(f64::INFINITY, |c| c[(i, i)].sqrt());
        let range = |i: usize| self.inputs[i].high - self.inputs[i].low;
        let alike = pairs(&slopes);
        let at_end = (0..n)
            .map(|i| {
                let near = NEAR * range(i);
                values[i] - self.inputs[i].low < near || self.inputs[i].high - values[i] < near
            })
            .collect();
        Ok(Fit {
            half_widths: (0..n).map(|i| BAND * deviation(i) * range(i)).collect(),
            values,
            alike,
            at_end,
            misfit: [before, after],
            computed: self.computed.unwrap_or_default(),
            engines: self.engines.get(),
        })
    }
}

/// Inverse of a symmetric positive matrix; none where it has none to working accuracy.
fn inverse(matrix: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    let parts = SymmetricEigen::new(matrix.clone());
    let largest = parts.eigenvalues.max();
    (parts.eigenvalues.min() > 1e-12 * largest).then(|| matrix.clone().try_inverse())?
}

/// Pairs of inputs whose slopes are alike: correlation of the two where all else is known.
fn pairs(slopes: &DMatrix<f64>) -> Vec<(usize, usize, f64)> {
    let n = slopes.ncols();
    let mut found = Vec::new();
    for i in 0..n {
        for j in i + 1..n {
            let (a, b) = (slopes.column(i), slopes.column(j));
            // in the estimates the sign turns: more of the one is made up for by less of the other
            let correlation = -a.dot(&b) / (a.norm() * b.norm());
            if correlation.abs() >= ALIKE {
                found.push((i, j, correlation));
            }
        }
    }
    found
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_> {
    type ParameterStorage = Owned<f64, Dyn, U1>;
    type ResidualStorage = Owned<f64, Dyn, U1>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;

    fn set_params(&mut self, angles: &DVector<f64>) {
        self.angles.copy_from(angles);
        self.computed = self.at(&self.values()).map_err(|e| self.failed = Some(e)).ok();
        if self.computed.is_some() {
            self.failed = None;
        }
    }

    fn params(&self) -> DVector<f64> {
        self.angles.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        self.computed.as_ref().map(|c| self.residuals_of(c))
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let mut slopes = self.slopes().ok()?;
        for (i, u) in self.angles.iter().enumerate() {
            // d(value/range)/du
            slopes.column_mut(i).scale_mut(0.5 * portable::cos(*u));
        }
        Some(slopes)
    }
}
