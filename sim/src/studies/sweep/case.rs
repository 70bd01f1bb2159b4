//! From a number to the engine that it means.
//!
//! # Decisions
//!
//! - A held quantity is found by the secant method to 1e-9 of its unit and is refused beyond 1e-6; limits
//!   allow 1e-6.

use super::figures::Figure;
use super::plan::{Hold, Sweep};
use super::snapped;
use crate::forms::engine::Scenario;
use crate::spec::EngineSpec;

/// One combination of everything but speed.
#[derive(Debug)]
pub struct Build {
    /// Value of every varied number, in the order of [`Sweep::paths`]; none where a hold found none.
    pub values: Vec<Option<f64>>,
    /// The plan's figures; none where the engine has none or could not be built.
    pub figures: Vec<Option<f64>>,
    /// The engine, unless it is refused.
    pub engine: Result<Box<EngineSpec>, Refusal>,
}

/// Why a combination is not simulated.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// No engine can be so.
    #[error("{key}: {remedy}")]
    Impossible {
        /// Key of the engine file it turns on.
        key: String,
        /// What would be right.
        remedy: String,
    },
    /// A figure cannot be held.
    #[error("hold {figure}: no {by} gives {at}")]
    NotHeld {
        /// The figure.
        figure: &'static str,
        /// What was moved.
        by: String,
        /// What was to be held.
        at: f64,
    },
    /// A figure lies below its least.
    #[error("{figure}: {value:.4} is below {least}")]
    Below {
        /// The figure.
        figure: &'static str,
        /// Its value.
        value: f64,
        /// The limit.
        least: f64,
    },
    /// A figure lies above its most.
    #[error("{figure}: {value:.4} is above {most}")]
    Above {
        /// The figure.
        figure: &'static str,
        /// Its value.
        value: f64,
        /// The limit.
        most: f64,
    },
}

impl Refusal {
    /// What refuses it, in one word: the figure, or the key of the engine file.
    #[must_use]
    pub fn constraint(&self) -> &str {
        match self {
            Self::Impossible { key, .. } => key,
            Self::NotHeld { figure, .. }
            | Self::Below { figure, .. }
            | Self::Above { figure, .. } => figure,
        }
    }
}

/// Accuracy to which a figure is held, in its unit.
const HELD: f64 = 1e-6;

impl Sweep {
    /// The engine that a combination means.
    #[must_use]
    pub fn build(&self, combination: u64) -> Build {
        let mut values = self.set_values(combination);
        let set = values.len();
        let present = self.present[set..].iter().zip(&self.plan.holds);
        values.extend(present.map(|(p, h)| p.or(h.shelf.first().copied()).unwrap_or(f64::NAN)));
        for (i, hold) in self.plan.holds.iter().enumerate() {
            let at = self.held[i];
            let Some(found) = self.moved(&mut values, set + i, hold, at) else {
                let known = values[..set + i].iter().map(|v| Some(*v));
                let unknown = (set + i..values.len()).map(|_| None);
                let (figure, by) = (hold.of.key, hold.by.clone());
                return Build {
                    values: known.chain(unknown).collect(),
                    figures: vec![None; self.plan.figures.len()],
                    engine: Err(Refusal::NotHeld { figure, by, at }),
                };
            };
            values[set + i] = found;
        }
        let known = values.iter().map(|v| Some(*v)).collect();
        match self.changer.with(&values) {
            Ok(scenario) => self.judged(known, scenario),
            Err(faults) => {
                let first = faults.into_iter().next();
                let (key, remedy) = first.map(|f| (f.key, f.remedy)).unwrap_or_default();
                let figures = vec![None; self.plan.figures.len()];
                let engine = Err(Refusal::Impossible { key, remedy });
                Build { values: known, figures, engine }
            }
        }
    }

    /// Values of axes and sampled numbers.
    fn set_values(&self, combination: u64) -> Vec<f64> {
        let points = self.plan.sample.as_ref().map_or(1, |s| s.points() as u64);
        let point = combination % points;
        let mut rest = combination / points;
        let mut places = vec![0; self.plan.axes.len()];
        for (place, axis) in places.iter_mut().zip(&self.plan.axes).rev() {
            let count = axis.numbers.first().map_or(1, |v| v.values.len()) as u64;
            *place = (rest % count) as usize;
            rest /= count;
        }
        let axes = self.plan.axes.iter().zip(&places);
        let mut values: Vec<f64> =
            axes.flat_map(|(axis, place)| axis.numbers.iter().map(|v| v.values[*place])).collect();
        if let Some(sampled) = &self.sampled {
            let numbers = self.plan.sample.as_ref().map_or(0, |s| s.over.len());
            values.extend((0..numbers).map(|d| sampled.value(point, d)));
        }
        values
    }

    fn judged(&self, values: Vec<Option<f64>>, scenario: Scenario) -> Build {
        let figures = self.plan.figures.iter().map(|f| (f.value)(&scenario.spec)).collect();
        let engine = match self.refusal(&scenario) {
            Some(refusal) => Err(refusal),
            None => Ok(Box::new(scenario.spec)),
        };
        Build { values, figures, engine }
    }

    /// The first limit that refuses a possible engine.
    fn refusal(&self, scenario: &Scenario) -> Option<Refusal> {
        let broken = self.plan.limits.iter().find_map(|limit| {
            let (figure, value) = (limit.of.key, (limit.of.value)(&scenario.spec)?);
            match (limit.least, limit.most) {
                (Some(least), _) if value < least - HELD => {
                    Some(Refusal::Below { figure, value, least })
                }
                (_, Some(most)) if value > most + HELD => {
                    Some(Refusal::Above { figure, value, most })
                }
                _ => None,
            }
        });
        broken.or_else(|| {
            let fault = scenario.faults_for_running().into_iter().next()?;
            Some(Refusal::Impossible { key: fault.key, remedy: fault.remedy })
        })
    }

    /// Value of number `place` that keeps a figure; numbers after it stand as in the base engine.
    fn moved(&self, values: &mut [f64], place: usize, hold: &Hold, at: f64) -> Option<f64> {
        let mut values = values.to_vec();
        let mut off = |x: f64| -> Option<f64> {
            values[place] = x;
            let value = figure_of(hold.of, &self.changer.with(&values).ok()?)?;
            Some(value - at)
        };
        if hold.shelf.is_empty() {
            solved(&mut off, self.present[place]?)
        } else {
            let tried = hold.shelf.iter().filter_map(|x| Some((off(*x)?.abs(), *x)));
            tried.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))).map(|(_, x)| x)
        }
    }
}

fn figure_of(figure: &Figure, scenario: &Scenario) -> Option<f64> {
    (figure.value)(&scenario.spec).filter(|v| v.is_finite())
}

/// Zero of `off` near `start` by the secant method; a step into what no engine can be is halved. A
/// figure of a build is smooth and rises or falls all along, so that it takes five or six steps.
fn solved(off: &mut impl FnMut(f64) -> Option<f64>, start: f64) -> Option<f64> {
    let scale = 0.01 * start.abs().max(1.0);
    let (mut x0, mut f0) = nearest_possible(off, start, scale)?;
    if f0.abs() <= HELD * 1e-3 {
        return Some(x0);
    }
    let (mut x1, mut f1) = [scale, -scale].iter().find_map(|d| Some((x0 + d, off(x0 + d)?)))?;
    for _ in 0..40 {
        if f1.abs() <= HELD * 1e-3 {
            return Some(snapped(x1));
        }
        let slope = (f1 - f0) / (x1 - x0);
        if slope == 0.0 || !slope.is_finite() {
            break;
        }
        let mut step = -f1 / slope;
        // far steps are where engines end
        step = step.clamp(-20.0 * scale, 20.0 * scale);
        let next = (0..20).find_map(|_| {
            let found = off(x1 + step).map(|f| (x1 + step, f));
            step *= 0.5;
            found
        });
        let Some((x, f)) = next else { break };
        (x0, f0) = (x1, f1);
        (x1, f1) = (x, f);
    }
    (f1.abs() <= HELD).then_some(x1)
}

/// The start, or the place nearest to it where there is an engine at all.
fn nearest_possible(
    off: &mut impl FnMut(f64) -> Option<f64>,
    start: f64,
    scale: f64,
) -> Option<(f64, f64)> {
    let around = (1..=20).flat_map(|i| [f64::from(i), -f64::from(i)]);
    std::iter::once(0.0).chain(around).find_map(|i| {
        let x = start + i * scale;
        Some((x, off(x)?))
    })
}
