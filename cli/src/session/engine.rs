//! Engines as commands get them: read, changed by `--set`, run at their speeds with progress.

use std::path::Path;

use freshcharge_sim::forms::engine::{self as scenario, Scenario};
use freshcharge_sim::studies::plus_minus;
use freshcharge_sim::studies::run::{self, Row, Run};
use sha2::{Digest, Sha256};

use super::files::{self, Failure};
use super::progress::Progress;
use super::version;
use crate::present::faults;

/// ± from as many sets of readings.
pub(crate) fn spread(
    scenario: &Scenario,
    speeds: &[f64],
    sets: u64,
    quiet: bool,
) -> plus_minus::PlusMinus {
    let progress = Progress::new(sets as usize, quiet);
    plus_minus::of(scenario, speeds, sets, &|| progress.advance())
}

/// The engine with the changes of `--set`.
pub(crate) fn with_set(scenario: Scenario, set: &[String]) -> Result<Scenario, Failure> {
    if set.is_empty() {
        return Ok(scenario);
    }
    let mut changes = Vec::new();
    for text in set {
        let parts = text.split_once('=').map(|(p, v)| (p.trim(), v.trim().parse::<f64>()));
        let Some((path, Ok(value))) = parts else {
            return Err(Failure::Argument {
                flag: "--set",
                value: text.clone(),
                remedy: faults::decimal_comma(text).unwrap_or_else(|| {
                    "write PATH=VALUE, such as stack.base_total_mm=1.4".to_owned()
                }),
            });
        };
        changes.push((path, value));
    }
    scenario.with_all(&changes).map_err(|faults| {
        let list: Vec<String> =
            faults.iter().map(|f| format!("--set {} = {}: {}", f.key, f.found, f.remedy)).collect();
        Failure::Faults(format!("{}\nNothing was run.\n", list.join("\n")))
    })
}

/// The speeds asked for, or those of the file.
pub(crate) fn speeds_or(asked: Option<&str>, own: &[f64]) -> Result<Vec<f64>, Failure> {
    let Some(text) = asked else { return Ok(own.to_vec()) };
    scenario::parse_speeds(text).map_err(|remedy| Failure::Argument {
        flag: "--rpm",
        value: text.to_owned(),
        remedy,
    })
}

/// Simulates an engine at all speeds.
pub(crate) fn start(
    file: &Path,
    scenario: Scenario,
    hash: String,
    speeds: &[f64],
    traced: bool,
    quiet: bool,
) -> Result<Run, Failure> {
    let faults = scenario.faults_for_running();
    let text = &scenario.document.text;
    if !faults.is_empty() {
        return Err(Failure::Faults(faults::report(file, text, &faults)));
    }
    let file = file.display().to_string();
    let rows = simulate(&file, &scenario, speeds, traced, quiet)?;
    Ok(Run { file, hash, scenario, rows, plus_minus: None, plain: None, grids: None })
}

/// Reads an engine file; gives it with the hash of its text.
pub(crate) fn load(path: &Path) -> Result<(Scenario, String), Failure> {
    let text = files::read_text(path)?;
    let hash = Sha256::digest(text.as_bytes()).iter().map(|b| format!("{b:02x}")).collect();
    match scenario::read(&text).and_then(version::as_asked) {
        Ok(scenario) => {
            tell_unmeasured(path, &text);
            Ok((scenario, hash))
        }
        Err(faults) => {
            let report = faults::report(path, &text, &faults);
            Err(Failure::Faults(format!("{report}{}", unfinished(path, &text))))
        }
    }
}

/// How a file begins that `new` has left before every question was answered.
pub(crate) const INCOMPLETE: &str = "# NOT COMPLETE";

/// What to do with a file that is not complete; nothing where it is.
fn unfinished(path: &Path, text: &str) -> String {
    let Some(line) = text.lines().find(|l| l.starts_with(INCOMPLETE)) else { return String::new() };
    format!("{}: {}\n", path.display(), line.trim_start_matches("# "))
}

/// What stands behind a value of the template that nobody has measured.
pub(crate) const UNMEASURED: &str = "NOT MEASURED";

/// Says so where values of a file are still those of the template.
fn tell_unmeasured(path: &Path, text: &str) {
    let count = text.matches(UNMEASURED).count();
    if count > 0 {
        let (verb, noun) = if count == 1 { ("is", "value") } else { ("are", "values") };
        files::say(&format!(
            "{}: {count} {noun} {verb} marked {UNMEASURED}: until they are measured, the answers are those of another engine. Take the mark out with the value.\n",
            path.display()
        ));
    }
}

/// All speeds on all cores, in order.
pub(crate) fn simulate(
    file: &str,
    scenario: &Scenario,
    speeds: &[f64],
    traced: bool,
    quiet: bool,
) -> Result<Vec<Row>, Failure> {
    let progress = Progress::new(speeds.len(), quiet);
    run::at_speeds(&scenario.spec, speeds, traced, &|| progress.advance())
        .map_err(|why| Failure::Engine { file: file.to_owned(), why: why.to_string() })
}
