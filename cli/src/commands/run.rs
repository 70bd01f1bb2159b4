//! `freshcharge run`: an engine over a range of speeds.

use std::path::Path;
use std::sync::Arc;

use freshcharge_sim::cycle::{self, CycleError, Settings};
use freshcharge_sim::model::Engine;
use freshcharge_sim::result::{Point, Trace};
use freshcharge_sim::scenario::{self, Scenario};
use freshcharge_sim::spec::EngineSpec;
use rayon::prelude::*;
use sha2::{Digest, Sha256};

use super::motored;
use super::plus_minus::{self, PlusMinus};
use super::version;
use super::words;
use crate::Outcome;
use crate::args::RunArgs;
use crate::chart;
use crate::export;
use crate::faults;
use crate::files::{self, Failure};
use crate::progress::Progress;

/// What became of one speed.
pub(crate) struct Row {
    /// Speed [1/min].
    pub(crate) rpm: f64,
    /// The point, with its trace where one was asked for.
    pub(crate) result: Result<(Point, Option<Trace>), CycleError>,
}

impl Row {
    /// The point, if there is one.
    pub(crate) fn point(&self) -> Option<&Point> {
        self.result.as_ref().ok().map(|(point, _)| point)
    }
}

/// A finished run.
pub(crate) struct Run {
    /// Engine file's name.
    pub(crate) file: String,
    /// SHA-256 of the engine file.
    pub(crate) hash: String,
    /// What was read.
    pub(crate) scenario: Scenario,
    /// One row a speed.
    pub(crate) rows: Vec<Row>,
    /// What the errors of the readings leave, where it was asked for.
    pub(crate) plus_minus: Option<PlusMinus>,
    /// The same without pipes, where asked for.
    pub(crate) plain: Option<Vec<Row>>,
    /// The same with cells of half the size, where asked for.
    pub(crate) halved: Option<Vec<Row>>,
}

/// Runs the command.
pub(crate) fn run(args: &RunArgs) -> Result<Outcome, Failure> {
    let (scenario, hash) = load(&args.file)?;
    let mut scenario = with_set(scenario, &args.set)?;
    if args.motored {
        return motored::run(args, &scenario, &hash);
    }
    if args.bare_windows {
        scenario.spec = scenario.spec.with_bare_windows();
    }
    if let Some(cells) = args.cells_mm {
        scenario.spec.cell = cell_size(cells)?;
    }
    let speeds = speeds_or(args.rpm.as_deref(), &scenario.run_speeds)?;
    let traced = args.trace.is_some() || args.charts.is_some();
    if let Some(sets) = args.plus_minus
        && !(plus_minus::FEWEST..=plus_minus::MOST).contains(&sets)
    {
        return Err(Failure::Argument {
            flag: "--plus-minus",
            value: sets.to_string(),
            remedy: format!(
                "write a number of sets between {} and {}; 64 is a good start",
                plus_minus::FEWEST,
                plus_minus::MOST
            ),
        });
    }
    let mut run = start(&args.file, scenario, hash, &speeds, traced, args.quiet)?;
    run.plus_minus =
        args.plus_minus.map(|sets| plus_minus::of(&run.scenario, &speeds, sets, args.quiet));
    beside(args, &mut run, &speeds)?;
    print(args, &run)?;
    if args.sketch {
        files::print(&chart::sketch::run(&run))?;
    }
    if let Some(folder) = &args.trace {
        write_traces(folder, &run)?;
    }
    if let Some(folder) = &args.charts {
        let written = crate::session::charts::write(folder, &chart::of_run(&run)?)?;
        if !args.quiet && !args.json && !args.csv {
            files::print(&format!("\nCharts: {}\n", written.join(", ")))?;
        }
    }
    Ok(if complete(&run) { Outcome::Done } else { Outcome::Incomplete })
}

/// A size of cells in m.
fn cell_size(cells: f64) -> Result<f64, Failure> {
    if (1.0..=50.0).contains(&cells) {
        return Ok(cells * 1e-3);
    }
    Err(Failure::Argument {
        flag: "--cells-mm",
        value: format!("{cells}"),
        remedy: "cells are between 1 and 50 mm long; 10 is usual".to_owned(),
    })
}

/// Runs what is to stand beside the engine: itself without pipes, itself in finer cells.
fn beside(args: &RunArgs, run: &mut Run, speeds: &[f64]) -> Result<(), Failure> {
    let spec = &run.scenario.spec;
    let flag = if args.check_grid { "--check-grid" } else { "--against-plain" };
    if (args.check_grid || args.against_plain) && !spec.has_pipes() {
        return Err(Failure::Argument {
            flag,
            value: run.file.clone(),
            remedy: "this engine has no pipes: describe them in [exhaust.pipe]".to_owned(),
        });
    }
    let again = |spec: EngineSpec| {
        let scenario = Scenario { spec, ..run.scenario.clone() };
        simulate(&run.file, &scenario, speeds, false, args.quiet)
    };
    let plain = args.against_plain.then(|| again(spec.without_pipes())).transpose()?;
    let finer = EngineSpec { cell: 0.5 * spec.cell, ..spec.clone() };
    let halved = args.check_grid.then(|| again(finer)).transpose()?;
    (run.plain, run.halved) = (plain, halved);
    Ok(())
}

/// The engine with the changes of `--set`.
pub(super) fn with_set(scenario: Scenario, set: &[String]) -> Result<Scenario, Failure> {
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

/// Whether every speed settled.
pub(super) fn complete(run: &Run) -> bool {
    run.rows.iter().all(|r| r.point().is_some_and(|p| p.verdict.settled()))
}

/// The speeds asked for, or those of the file.
pub(super) fn speeds_or(asked: Option<&str>, own: &[f64]) -> Result<Vec<f64>, Failure> {
    let Some(text) = asked else { return Ok(own.to_vec()) };
    scenario::parse_speeds(text).map_err(|remedy| Failure::Argument {
        flag: "--rpm",
        value: text.to_owned(),
        remedy,
    })
}

/// Simulates an engine at all speeds.
pub(super) fn start(
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
        return Err(Failure::Faults(crate::faults::report(file, text, &faults)));
    }
    let file = file.display().to_string();
    let rows = simulate(&file, &scenario, speeds, traced, quiet)?;
    Ok(Run { file, hash, scenario, rows, plus_minus: None, plain: None, halved: None })
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
            let report = crate::faults::report(path, &text, &faults);
            Err(Failure::Faults(format!("{report}{}", unfinished(path, &text))))
        }
    }
}

/// How a file begins that `new` has left before every question was answered.
pub(super) const INCOMPLETE: &str = "# NOT COMPLETE";

/// What to do with a file that is not complete; nothing where it is.
fn unfinished(path: &Path, text: &str) -> String {
    let Some(line) = text.lines().find(|l| l.starts_with(INCOMPLETE)) else { return String::new() };
    format!("{}: {}\n", path.display(), line.trim_start_matches("# "))
}

/// What stands behind a value of the template that nobody has measured.
pub(super) const UNMEASURED: &str = "NOT MEASURED";

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
fn simulate(
    file: &str,
    scenario: &Scenario,
    speeds: &[f64],
    traced: bool,
    quiet: bool,
) -> Result<Vec<Row>, Failure> {
    let engine = Engine::new(&scenario.spec)
        .map_err(|why| Failure::Engine { file: file.to_owned(), why: why.to_string() })?;
    let progress = Progress::new(speeds.len(), quiet);
    let settings = Settings::single();
    let rows = speeds
        .par_iter()
        .map(|&rpm| {
            let result = engine.at_speed(rpm).map_err(CycleError::from).and_then(|model| {
                let model = Arc::new(model);
                if traced {
                    cycle::settle_traced(&model, &settings).map(|(p, t)| (p, Some(t)))
                } else {
                    cycle::settle(&model, &settings).map(|p| (p, None))
                }
            });
            progress.advance();
            Row { rpm, result }
        })
        .collect();
    Ok(rows)
}

fn print(args: &RunArgs, run: &Run) -> Result<(), Failure> {
    let text = if args.json {
        export::json::run(run)
    } else if args.csv {
        export::csv::run(run)
    } else {
        let mut text = export::table::run(run);
        text.push_str(&export::pipes::tables(run));
        if let Some(found) = &run.plus_minus {
            text.push_str(&plus_minus::words(found));
        }
        if !args.quiet {
            text.push_str(&words::run(run));
        }
        text
    };
    files::print(&text)
}

fn write_traces(folder: &Path, run: &Run) -> Result<(), Failure> {
    files::make_folder(folder)?;
    for row in &run.rows {
        if let Ok((_, Some(trace))) = &row.result {
            let path = folder.join(format!("trace-{:.0}rpm.csv", row.rpm));
            files::write(&path, export::csv::trace(trace).as_bytes())?;
            for pipe in &trace.pipes {
                let path = folder.join(format!("pipe-{}-{:.0}rpm.csv", pipe.side, row.rpm));
                let rest = run.scenario.spec.rest_pressure(&pipe.side);
                files::write(&path, export::csv::pipe(pipe, rest).as_bytes())?;
            }
        }
    }
    Ok(())
}
