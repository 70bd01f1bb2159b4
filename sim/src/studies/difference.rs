//! What a change is worth at one speed, and how sure that is.

use super::blowdown as inquiry;
use super::error::StudyError;
use super::uncertainty as workshop;
use super::verdict::{Against, Item, Judgement, judge};
use crate::forms::engine::{Scenario, general};
use crate::result::Point;
use crate::spec::{Discharge, EngineSpec};

/// A build held against the one before at one speed.
#[derive(Debug, Clone)]
pub struct Difference {
    /// Before.
    pub before: Point,
    /// After.
    pub after: Point,
    /// Half-width ± of the difference of torque [N·m]: what the usual errors of the changed numbers and the
    /// plausible range of the discharge coefficients (0.65 to 0.90) make of it, added in squares.
    pub error: f64,
}

impl Difference {
    /// The torque, as a value to be judged.
    #[must_use]
    pub fn item(&self) -> Item {
        let (before, after) = (self.before.summary.torque, self.after.summary.torque);
        let against = Against::Base { value: before, more_is_better: true };
        let (words, unit) = ("torque".to_owned(), "N·m".to_owned());
        Item { words, unit, value: after, error: self.error, against }
    }

    /// Its verdict.
    #[must_use]
    pub fn judgement(&self) -> Judgement {
        judge(&[self.item()])
    }
}

/// Plausible range of the discharge coefficients of ports.
const COEFFICIENTS: [f64; 2] = [0.65, 0.90];

/// Two builds at a speed [1/min]; `changed` names the numbers that were changed, whose reading errors the
/// change carries.
///
/// # Errors
/// When one of them cannot be simulated or does not settle.
pub fn difference(
    before: &Scenario,
    after: &Scenario,
    changed: &[String],
    rpm: f64,
) -> Result<Difference, StudyError> {
    let torque =
        |spec: &EngineSpec| Ok::<f64, StudyError>(inquiry::point(spec, rpm)?.summary.torque);
    let (a, b) = (inquiry::point(&before.spec, rpm)?, inquiry::point(&after.spec, rpm)?);
    let mut squares = 0.0;
    let sets: [fn(&mut EngineSpec, f64); 2] = [
        |spec, value| constant(&mut spec.exhaust.discharge, value),
        |spec, value| spec.transfers.iter_mut().for_each(|t| constant(&mut t.discharge, value)),
    ];
    for set in sets {
        let mut ends = [0.0; 2];
        for (end, value) in ends.iter_mut().zip(COEFFICIENTS) {
            let (mut before, mut after) = (before.spec.clone(), after.spec.clone());
            set(&mut before, value);
            set(&mut after, value);
            *end = torque(&after)? - torque(&before)?;
        }
        squares += (0.5 * (ends[1] - ends[0])).powi(2);
    }
    for path in changed {
        let (Some(width), Some(value)) = (half_width(after, path), after.value(path)) else {
            continue;
        };
        // one side is enough; the other where the engine cannot take the first
        let moved = [value + width, value - width]
            .into_iter()
            .find_map(|v| torque(&after.with(path, v).ok()?.spec).ok());
        if let Some(moved) = moved {
            squares += (moved - b.summary.torque).powi(2);
        }
    }
    Ok(Difference { before: a, after: b, error: squares.sqrt() })
}

fn constant(discharge: &mut Discharge, value: f64) {
    if let Discharge::Constant(c) = discharge {
        *c = value;
    }
}

/// The error of a number: its own, or of a stack's total those of its parts in squares.
fn half_width(scenario: &Scenario, path: &str) -> Option<f64> {
    let parts: &[&str] = match path {
        "stack.base_total_mm" => &["stack.base_gaskets_mm", "stack.spacers_mm"],
        "stack.head_total_mm" => &["stack.head_gaskets_mm"],
        _ => &[],
    };
    let errors = workshop::measured(scenario, true);
    if parts.is_empty() {
        let same = |e: &&workshop::Contribution| general(&e.path) == general(path);
        return errors.iter().find(same).map(|e| e.half_width);
    }
    let part =
        |e: &&workshop::Contribution| parts.iter().any(|p| e.path.split('[').next() == Some(p));
    let squares: f64 = errors.iter().filter(part).map(|e| e.half_width.powi(2)).sum();
    (squares > 0.0).then(|| squares.sqrt())
}
