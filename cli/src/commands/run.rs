//! `freshcharge run`: an engine over a range of speeds.

use std::path::Path;

use freshcharge_sim::result::Point;
use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::spec::EngineSpec;
use freshcharge_sim::studies::plus_minus;
use freshcharge_sim::studies::run::{OtherGrids, Run};

use super::motored;
use super::variant;
use crate::Outcome;
use crate::args::RunArgs;
use crate::present::charts as chart;
use crate::present::tables as export;
use crate::present::tables::layout::wrapped;
use crate::present::words;
use crate::session::engine::{load, simulate, speeds_or, spread, start, with_set};
use crate::session::files::{self, Failure};

/// Runs the command.
pub(crate) fn run(args: &RunArgs) -> Result<Outcome, Failure> {
    let (scenario, hash) = load(&args.file)?;
    let base = scenario.clone();
    let mut scenario = with_set(scenario, &args.set)?;
    if args.motored {
        return motored::run(args, &scenario, &hash);
    }
    let mut base = base;
    adapt(args, &mut scenario)?;
    adapt(args, &mut base)?;
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
    run.plus_minus = args.plus_minus.map(|sets| spread(&run.scenario, &speeds, sets, args.quiet));
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
    if !args.quiet && !args.json && !args.csv {
        files::print(&last_words(args, &base, &run)?)?;
    }
    Ok(if run.complete() { Outcome::Done } else { Outcome::Incomplete })
}

/// What is asked for beside the file: no gas columns, other cells.
fn adapt(args: &RunArgs, scenario: &mut Scenario) -> Result<(), Failure> {
    if args.bare_windows {
        scenario.spec = scenario.spec.with_bare_windows();
    }
    if let Some(cells) = args.cells_mm {
        scenario.spec.cell = cell_size(cells)?;
    }
    Ok(())
}

/// The sentence that answers: where power peaks, or what a variant is worth.
fn last_words(args: &RunArgs, base: &Scenario, run: &Run) -> Result<String, Failure> {
    let points: Vec<&Point> =
        run.rows.iter().filter_map(|r| r.point()).filter(|p| p.verdict.settled()).collect();
    let peak = variant::peak_words(&points);
    let peak = peak.map_or(String::new(), |words| format!("\n{}\n", wrapped(&words)));
    if args.set.is_empty() {
        return Ok(peak);
    }
    let carried = !args.bare_windows && args.cells_mm.is_none();
    Ok(peak + &variant::beside(base, run, &args.set, (carried, args.usage))?)
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

/// Runs what is to stand beside the engine: itself without pipes, itself in coarser and finer cells.
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
    let in_cells = |factor: f64| again(EngineSpec { cell: factor * spec.cell, ..spec.clone() });
    let grids = || Ok::<_, Failure>(OtherGrids { doubled: in_cells(2.0)?, halved: in_cells(0.5)? });
    let grids = args.check_grid.then(grids).transpose()?;
    (run.plain, run.grids) = (plain, grids);
    Ok(())
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
            text.push_str(&export::plus_minus::words(found));
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
