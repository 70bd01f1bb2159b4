//! `freshcharge chart`: several engines over each other.

use crate::Outcome;
use crate::args::ChartArgs;
use crate::present::charts as chart;
use crate::session::engine::{speeds_or, start};
use crate::session::files::{self, Failure};

/// Runs the command.
pub(crate) fn run(args: &ChartArgs) -> Result<Outcome, Failure> {
    let mut runs = Vec::new();
    for file in &args.files {
        let (scenario, hash) = crate::session::engine::load(file)?;
        let speeds = speeds_or(args.rpm.as_deref(), &scenario.run_speeds)?;
        let first = args.files.iter().zip(&runs).take(1);
        let first = first
            .map(|(file, run): (_, &freshcharge_sim::studies::run::Run)| (&**file, &run.scenario));
        crate::session::version::same_model(first.chain([(&**file, &scenario)]))?;
        runs.push(start(file, scenario, hash, &speeds, false, args.quiet)?);
    }
    let written = crate::session::charts::write(&args.out, &chart::overlaid(&runs)?)?;
    files::print(&format!("{}\n", written.join("\n")))?;
    Ok(if runs.iter().all(freshcharge_sim::studies::run::Run::complete) {
        Outcome::Done
    } else {
        Outcome::Incomplete
    })
}
