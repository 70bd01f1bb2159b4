//! What the errors of the measurements leave of a result.
//!
//! # Decisions
//!
//! - A part that has the same size in the state to run and in a measured state is the same part and was
//!   read once: its error moves both. Parts of another size have an error each. What a change writes
//!   down of the measured state is taken out again where it says nothing new, so that `--set` of one
//!   thing touches no other reading.

use crate::forms::engine::key_at;
use crate::forms::engine::keys::UsualError;
use crate::forms::engine::{Parts, Scenario};

/// One measured number with its half-width, both in the key's unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Contribution {
    /// Its path in the file.
    pub path: String,
    /// Half-width ±.
    pub half_width: f64,
    /// Whether the file states it; else it is the usual error of such a measurement.
    pub stated: bool,
}

/// Every measured number of a file with its error: the file's own tolerance, or, where `usual`, the
/// usual error of measuring it so.
///
/// A part that was fitted in several states counts once, at the first of them, the state to run being
/// the first: it was read once.
#[must_use]
pub fn measured(scenario: &Scenario, usual: bool) -> Vec<Contribution> {
    let parts = scenario.parts();
    let first = |path: &str| if Parts::concerns(path) { parts.first(path) } else { None };
    let mut found: Vec<Contribution> = Vec::new();
    let (again, own): (Vec<_>, Vec<_>) =
        scenario.document.tolerances.iter().partition(|(path, _)| first(path).is_some());
    for (path, half_width) in own.into_iter().chain(again) {
        let path = first(path).unwrap_or_else(|| path.clone());
        if !found.iter().any(|c| c.path == path) {
            found.push(Contribution { path, half_width: *half_width, stated: true });
        }
    }
    if !usual {
        return found;
    }
    for path in scenario.document.numbers() {
        let list = path.split_once("[").is_some() && path.ends_with(']');
        let key = if list { path.rsplit_once('[').map_or(&*path, |p| p.0) } else { &path };
        let Some((_, known)) = key_at(key) else { continue };
        let Some(value) = scenario.value(&path) else { continue };
        let half_width = match known.usual_error {
            UsualError::Unknown => continue,
            UsualError::Absolute(e) => e,
            UsualError::Share(s) => s * value.abs(),
        };
        let told = found.iter().any(|c| c.path == path) || first(&path).is_some();
        // a gasket of no thickness is not there
        if !told && half_width > 0.0 && (value != 0.0 || !list) {
            found.push(Contribution { path, half_width, stated: false });
        }
    }
    found
}

/// Half-width of a result and what makes most of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Half-width ± of the result, contributions added in squares.
    pub half_width: f64,
    /// Shares of its square, largest first: path and share.
    pub shares: Vec<(String, f64)>,
}

/// Propagates errors to results by central differences: `results` gives the same list for any engine.
/// A change that the engine cannot take is taken from one side.
pub fn spread(
    scenario: &Scenario,
    errors: &[Contribution],
    results: &dyn Fn(&Scenario) -> Vec<f64>,
) -> Vec<Spread> {
    let base = results(scenario);
    let mut squares: Vec<Vec<(String, f64)>> = vec![Vec::new(); base.len()];
    for error in errors {
        let Some(value) = scenario.value(&error.path) else { continue };
        let at = |step: f64| {
            let mut changes = vec![(error.path.clone(), value + step)];
            changes.extend(counterpart(scenario, &error.path, step));
            let changes: Vec<(&str, f64)> = changes.iter().map(|(p, v)| (p.as_str(), *v)).collect();
            let changed = scenario.with_all(&changes).ok()?;
            let found = results(&changed);
            (found.len() == base.len()).then_some(found)
        };
        let (up, down) = (at(error.half_width), at(-error.half_width));
        for (i, squares) in squares.iter_mut().enumerate() {
            let change = match (&up, &down) {
                (Some(up), Some(down)) => 0.5 * (up[i] - down[i]),
                (Some(up), None) => up[i] - base[i],
                (None, Some(down)) => base[i] - down[i],
                (None, None) => continue,
            };
            if change != 0.0 && change.is_finite() {
                squares.push((error.path.clone(), change * change));
            }
        }
    }
    squares.into_iter().map(combine).collect()
}

/// What is wrong by the same error: a part that was fitted in several states was misread once, not
/// twice. Gives the paths of the other states with the number as misread by `step`, in the key's unit.
#[must_use]
pub fn counterpart(scenario: &Scenario, path: &str, step: f64) -> Vec<(String, f64)> {
    if !Parts::concerns(path) {
        return Vec::new();
    }
    let others = scenario.parts().elsewhere(path);
    others.into_iter().map(|(path, value)| (path, value + step)).collect()
}

fn combine(mut squares: Vec<(String, f64)>) -> Spread {
    let sum: f64 = squares.iter().map(|s| s.1).sum();
    squares.sort_by(|a, b| b.1.total_cmp(&a.1));
    for share in &mut squares {
        share.1 /= sum;
    }
    Spread { half_width: sum.sqrt(), shares: squares }
}
