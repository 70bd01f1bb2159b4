//! A plan, checked as a whole, and its counts.
//!
//! # Decisions
//!
//! - Sampled readings (`readings = true`) move what was measured with them; sampled choices and axes keep
//!   the state in which was measured. The two cannot stand in one sweep.

use super::design::{Sample, Sampled};
use super::figures::Figure;
use crate::forms::engine::{Changer, Scenario};

/// Most speeds of one chain.
pub const CHAIN: usize = 16;
/// Most cases of one plan: about a year on two cores.
pub const MOST_CASES: u128 = 1_000_000_000;

/// One number of the engine file with its values, in the key's unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Varied {
    /// Its path.
    pub path: String,
    /// Its values.
    pub values: Vec<f64>,
}

impl Varied {
    /// A number with its values.
    #[must_use]
    pub fn new(path: impl Into<String>, values: Vec<f64>) -> Self {
        Self { path: path.into(), values }
    }
}

/// Numbers that change together; usually one.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// As many values for each.
    pub numbers: Vec<Varied>,
}

/// A number that is moved so that a figure keeps a value.
#[derive(Debug, Clone, PartialEq)]
pub struct Hold {
    /// The figure to hold.
    pub of: &'static Figure,
    /// Path of the number that is moved.
    pub by: String,
    /// The value to hold; the base engine's when left out.
    pub at: Option<f64>,
    /// Values to choose the nearest from; any value when empty.
    pub shelf: Vec<f64>,
}

/// Bounds of a figure outside which a build is refused.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// The figure.
    pub of: &'static Figure,
    /// Refused below.
    pub least: Option<f64>,
    /// Refused above.
    pub most: Option<f64>,
}

/// Everything that is to be varied, held and refused.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Plan {
    /// Axes, the last changing fastest.
    pub axes: Vec<Axis>,
    /// Sampled numbers, changing faster than all axes.
    pub sample: Option<Sample>,
    /// Held figures, in the order in which they are brought about.
    pub holds: Vec<Hold>,
    /// Limits, the first that is broken is named.
    pub limits: Vec<Limit>,
    /// Figures that a row tells.
    pub figures: Vec<&'static Figure>,
    /// Speeds [1/min]; none when only geometry is asked for.
    pub speeds: Vec<f64>,
}

/// Where in a plan a fault lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The plan as a whole.
    Whole,
    /// A number of an axis.
    Axis(usize, usize),
    /// A sampled number, or the sample itself.
    Sample(Option<usize>),
    /// A hold.
    Hold(usize),
    /// A limit.
    Limit(usize),
}

/// Why a plan cannot be carried out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{key}: {remedy}")]
pub struct PlanFault {
    /// Where.
    pub place: Place,
    /// Which key of that place.
    pub key: &'static str,
    /// What to write instead.
    pub remedy: String,
}

/// A plan with its engine, ready to be asked for its cases.
#[derive(Debug, Clone)]
pub struct Sweep {
    pub(super) plan: Plan,
    pub(super) base: Scenario,
    pub(super) changer: Changer,
    pub(super) sampled: Option<Sampled>,
    pub(super) paths: Vec<String>,
    pub(super) present: Vec<Option<f64>>,
    /// What each hold keeps.
    pub(super) held: Vec<f64>,
    combinations: u64,
}

impl Sweep {
    /// The same for another thread: it shares nothing that is counted.
    #[must_use]
    pub fn unshared(&self) -> Self {
        Self { changer: self.changer.unshared(), ..self.clone() }
    }

    /// Checks the plan against its engine.
    ///
    /// # Errors
    /// Every fault found.
    pub fn new(base: &Scenario, plan: Plan) -> Result<Self, Vec<PlanFault>> {
        let numbers = places(&plan);
        let paths: Vec<String> = numbers.iter().map(|(_, _, path)| path.clone()).collect();
        let mut faults = shape(&plan);
        faults.extend(unknown(base, &numbers));
        if !faults.is_empty() {
            return Err(faults);
        }
        // the list of defaults is long and no case needs it
        let base = Scenario { defaults: Vec::new(), ..base.clone() };
        let readings = plan.sample.as_ref().is_some_and(|s| s.readings);
        let changer = if readings { base.rereader(&paths) } else { base.changer(&paths) };
        let changer = changer.map_err(|(i, remedy)| {
            let (place, key, _) = &numbers[i];
            vec![PlanFault { place: *place, key, remedy }]
        })?;
        faults.extend(impossible(&plan, &changer));
        let combinations = count(&plan).unwrap_or_else(|fault| {
            faults.push(fault);
            0
        });
        let held: Vec<f64> = plan
            .holds
            .iter()
            .enumerate()
            .map(|(i, hold)| {
                hold.at.or_else(|| (hold.of.value)(&base.spec)).unwrap_or_else(|| {
                    let remedy = format!("this engine has no {}", hold.of.key);
                    faults.push(PlanFault { place: Place::Hold(i), key: "of", remedy });
                    f64::NAN
                })
            })
            .collect();
        let nowhere = |h: &Hold| h.shelf.is_empty() && base.value(&h.by).is_none();
        let lost = plan.holds.iter().enumerate().filter(|(_, h)| nowhere(h));
        faults.extend(lost.map(|(i, hold)| {
            let remedy = format!(
                "{} has no single value now to start from: several differ, or it is not there; name one number, or give a shelf",
                hold.by
            );
            PlanFault { place: Place::Hold(i), key: "by", remedy }
        }));
        if !faults.is_empty() {
            return Err(faults);
        }
        let present = paths.iter().map(|p| base.value(p)).collect();
        let sampled = plan.sample.clone().map(Sampled::new);
        Ok(Self { plan, base, changer, sampled, paths, present, held, combinations })
    }

    /// The plan.
    #[must_use]
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// The engine it starts from.
    #[must_use]
    pub fn base(&self) -> &Scenario {
        &self.base
    }

    /// Paths of all numbers that vary: axes, sampled, moved by holds.
    #[must_use]
    pub fn paths(&self) -> &[String] {
        &self.paths
    }

    /// What each of them is in the base engine; none where several numbers of one path differ.
    #[must_use]
    pub fn present(&self) -> &[Option<f64>] {
        &self.present
    }

    /// What each hold keeps.
    #[must_use]
    pub fn held(&self) -> &[f64] {
        &self.held
    }

    /// Combinations of everything but speed.
    #[must_use]
    pub fn combinations(&self) -> u64 {
        self.combinations
    }

    /// Rows of one combination.
    #[must_use]
    pub fn rows(&self) -> u64 {
        self.plan.speeds.len().max(1) as u64
    }

    /// Cases in all.
    #[must_use]
    pub fn cases(&self) -> u64 {
        self.combinations * self.rows()
    }

    /// Chains of one combination.
    #[must_use]
    pub fn chains_of_one(&self) -> u64 {
        self.plan.speeds.len().div_ceil(CHAIN).max(1) as u64
    }

    /// Chains in all.
    #[must_use]
    pub fn chains(&self) -> u64 {
        self.combinations * self.chains_of_one()
    }

    /// Combination of a chain, and which of the combination's rows are its own.
    #[must_use]
    pub fn chain(&self, chain: u64) -> (u64, std::ops::Range<u64>) {
        let parts = self.chains_of_one();
        let (combination, part) = (chain / parts, chain % parts);
        let cut = |part: u64| part * self.rows() / parts;
        (combination, cut(part)..cut(part + 1))
    }

    /// First case of a chain.
    #[must_use]
    pub fn first_case(&self, chain: u64) -> u64 {
        let (combination, rows) = self.chain(chain);
        combination * self.rows() + rows.start
    }
}

/// Every varied number with its place and the key its path stands in.
fn places(plan: &Plan) -> Vec<(Place, &'static str, String)> {
    let mut all = Vec::new();
    for (a, axis) in plan.axes.iter().enumerate() {
        let numbers = axis.numbers.iter().enumerate();
        all.extend(numbers.map(|(n, v)| (Place::Axis(a, n), "path", v.path.clone())));
    }
    let sampled = plan.sample.iter().flat_map(|s| s.over.iter().enumerate());
    all.extend(sampled.map(|(i, v)| (Place::Sample(Some(i)), "path", v.path.clone())));
    all.extend(plan.holds.iter().enumerate().map(|(i, h)| (Place::Hold(i), "by", h.by.clone())));
    all
}

/// Faults that show without the engine.
fn shape(plan: &Plan) -> Vec<PlanFault> {
    let mut faults = Vec::new();
    let mut fault = |place, key, remedy: String| faults.push(PlanFault { place, key, remedy });
    for (a, axis) in plan.axes.iter().enumerate() {
        let lengths: Vec<usize> = axis.numbers.iter().map(|v| v.values.len()).collect();
        if lengths.iter().any(|n| *n != lengths[0]) {
            let lengths: Vec<String> = lengths.iter().map(ToString::to_string).collect();
            let remedy = format!(
                "numbers that change together need equally many values; these have {}",
                lengths.join(" and ")
            );
            fault(Place::Axis(a, 0), "values", remedy);
        }
        for (n, varied) in axis.numbers.iter().enumerate() {
            if varied.values.is_empty() {
                fault(Place::Axis(a, n), "values", "an axis needs at least one value".to_owned());
            }
        }
    }
    if let Some(sample) = &plan.sample {
        if sample.readings && !(plan.axes.is_empty() && plan.holds.is_empty()) {
            let remedy = "readings that may be off go into a plan of their own, without axes or holds: those are choices, and keep the state in which was measured".to_owned();
            fault(Place::Sample(None), "readings", remedy);
        }
        if let Some((key, remedy)) = sample.fault() {
            fault(Place::Sample(None), key, remedy);
        }
        for (i, over) in sample.over.iter().enumerate() {
            if !matches!(over.values[..], [from, to] if from < to) {
                let remedy = "the range must rise from below to above".to_owned();
                fault(Place::Sample(Some(i)), "from", remedy);
            }
        }
    }
    for (i, limit) in plan.limits.iter().enumerate() {
        match (limit.least, limit.most) {
            (None, None) => {
                fault(Place::Limit(i), "least", "a limit needs least, most or both".to_owned());
            }
            (Some(least), Some(most)) if least > most => {
                let remedy = format!("least ({least}) lies above most ({most})");
                fault(Place::Limit(i), "least", remedy);
            }
            _ => {}
        }
    }
    faults
}

/// Paths that the engine has not, and paths that are varied twice.
fn unknown(base: &Scenario, numbers: &[(Place, &'static str, String)]) -> Vec<PlanFault> {
    let mut faults = Vec::new();
    let mut taken: Vec<String> = Vec::new();
    for (place, key, path) in numbers {
        let mut fault = |remedy| faults.push(PlanFault { place: *place, key, remedy });
        match base.paths(path) {
            Err(remedy) => fault(remedy),
            Ok(full) => {
                if full.iter().any(|p| taken.contains(p)) {
                    fault(format!("{path} is varied twice; keep one of them"));
                }
                taken.extend(full);
            }
        }
    }
    faults
}

/// Values that a number can never have.
fn impossible(plan: &Plan, changer: &Changer) -> Vec<PlanFault> {
    let mut faults = Vec::new();
    let mut place_of = 0;
    let mut check = |place, key, values: &[f64]| {
        let refused = |v: &f64| changer.may_be(place_of, *v).err().map(|r| format!("{v}: {r}"));
        if let Some(remedy) = values.iter().find_map(refused) {
            faults.push(PlanFault { place, key, remedy });
        }
        place_of += 1;
    };
    for (a, axis) in plan.axes.iter().enumerate() {
        for (n, varied) in axis.numbers.iter().enumerate() {
            check(Place::Axis(a, n), "values", &varied.values);
        }
    }
    for (i, over) in plan.sample.iter().flat_map(|s| s.over.iter().enumerate()) {
        check(Place::Sample(Some(i)), "from", &over.values);
    }
    for (i, hold) in plan.holds.iter().enumerate() {
        check(Place::Hold(i), "shelf", &hold.shelf);
    }
    faults
}

/// Combinations, when the cases are not too many.
fn count(plan: &Plan) -> Result<u64, PlanFault> {
    let whole = |remedy| PlanFault { place: Place::Whole, key: "axis", remedy };
    let axes = plan.axes.iter().map(|a| a.numbers.first().map_or(1, |v| v.values.len()) as u128);
    let sampled = plan.sample.as_ref().map_or(1, Sample::points);
    let speeds = plan.speeds.len().max(1) as u128;
    let combinations = axes.chain([sampled]).try_fold(1, u128::checked_mul);
    let cases = combinations.and_then(|c| c.checked_mul(speeds));
    match (combinations, cases) {
        (Some(combinations), Some(cases)) if cases <= MOST_CASES => Ok(combinations as u64),
        (_, Some(cases)) => Err(whole(format!(
            "the axes make {cases} cases; at most {MOST_CASES} can be computed: use larger steps, fewer axes or a sample"
        ))),
        _ => Err(whole(format!(
            "the axes make more than {} cases; at most {MOST_CASES} can be computed: use larger steps, fewer axes or a sample",
            u128::MAX
        ))),
    }
}
