//! What the errors of the measurements leave of a result.

use crate::forms::engine::Scenario;
use crate::forms::engine::key_at;
use crate::forms::engine::keys::UsualError;

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
#[must_use]
pub fn measured(scenario: &Scenario, usual: bool) -> Vec<Contribution> {
    let mut found: Vec<Contribution> = scenario
        .document
        .tolerances
        .iter()
        .map(|(path, half_width)| Contribution {
            path: path.clone(),
            half_width: *half_width,
            stated: true,
        })
        .collect();
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
        let told = found.iter().any(|c| c.path == path);
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

/// Numbers of the state to run with those of the measured state that stand for them where the file says
/// nothing else.
const COUNTERPARTS: &[(&str, &str)] = &[
    ("crank_train.stroke_mm", "stack.measured.stroke_mm"),
    ("crank_train.rod_mm", "stack.measured.rod_mm"),
    ("piston.compression_height_mm", "stack.measured.compression_height_mm"),
    ("stack.base_gaskets_mm", "stack.measured.base_gaskets_mm"),
    ("stack.spacers_mm", "stack.measured.spacers_mm"),
];

/// What is wrong by the same error: a part that was already there when the rest was measured was
/// misread once, not twice.
#[must_use]
pub fn counterpart(scenario: &Scenario, path: &str, step: f64) -> Option<(String, f64)> {
    let (key, index) =
        path.find('[').filter(|_| path.ends_with(']')).map_or((path, ""), |i| path.split_at(i));
    let document = &scenario.document;
    if key == "stack.head_gaskets_mm" {
        let other = "head.assembled.head_gasket_mm";
        let follows = document.has("head.assembled") && !document.gives(other);
        return follows.then(|| {
            (other.to_owned(), scenario.value("stack.head_total_mm").unwrap_or(0.0) + step)
        });
    }
    let other = COUNTERPARTS.iter().find(|c| c.0 == key)?.1;
    if document.gives(other) {
        return None;
    }
    Some((format!("{other}{index}"), scenario.value(path)? + step))
}

fn combine(mut squares: Vec<(String, f64)>) -> Spread {
    let sum: f64 = squares.iter().map(|s| s.1).sum();
    squares.sort_by(|a, b| b.1.total_cmp(&a.1));
    for share in &mut squares {
        share.1 /= sum;
    }
    Spread { half_width: sum.sqrt(), shares: squares }
}
