//! One module a subcommand.

mod angles;
mod brief;
mod chart;
pub(crate) mod check;
mod compare;
mod correct;
mod disc;
mod explain;
mod fit;
mod goals;
#[cfg(test)]
mod hostile;
mod motored;
mod new;
mod plan;
mod portmap;
mod recheck;
mod report;
mod results;
mod rig;
mod run;
mod sheet;
mod sweep;
mod target;
mod trends;
mod variant;
mod version;

use crate::Outcome;
use clap::CommandFactory;

use crate::args::{Args, Command};
use crate::session::files::{self, Failure};

/// Does what was asked.
pub(crate) fn dispatch(args: &Args) -> Result<Outcome, Failure> {
    if let Some(number) = args.model {
        version::choose(number, &args.command)?;
    }
    match &args.command {
        Command::Run(args) => run::run(args),
        Command::Explain(args) => explain::run(args),
        Command::Check(args) => check::run(args),
        Command::Limits => print(crate::session::limits::SHIPPED),
        Command::Disc(args) => disc::run(args),
        Command::Fit(args) => fit::run(args),
        Command::Angles(args) => angles::run(args),
        Command::Correct(args) => correct::run(args),
        Command::Compare(args) => compare::run(args),
        Command::Target(args) => target::run(args),
        Command::Portmap(args) => portmap::run(args),
        Command::Report(args) => report::run(args),
        Command::Plan(args) => plan::run(args),
        Command::Recheck(args) => recheck::run(args),
        Command::Chart(args) => chart::run(args),
        Command::New(args) => new::run(args),
        Command::Sweep(args) => sweep::sweep(args),
        Command::Merge(args) => sweep::merge(args),
        Command::Results(args) => results::run(args),
        Command::Trends(args) => trends::run(args),
        Command::Rig(args) => rig::run(args),
        Command::Schema => print(&crate::present::tables::schema::schema()),
        Command::Completions { shell } => {
            let mut bytes = Vec::new();
            clap_complete::generate(*shell, &mut Args::command(), "freshcharge", &mut bytes);
            print(&String::from_utf8_lossy(&bytes))
        }
        Command::Man => print(&manual()),
    }
}

fn print(text: &str) -> Result<Outcome, Failure> {
    files::print(text).map(|()| Outcome::Done)
}

/// The manual page, with one section a subcommand.
fn manual() -> String {
    let command = Args::command();
    let mut bytes = Vec::new();
    // memory takes every byte
    let _ = clap_mangen::Man::new(command.clone()).render(&mut bytes);
    for subcommand in command.get_subcommands() {
        let _ = clap_mangen::Man::new(subcommand.clone()).render_description_section(&mut bytes);
        let _ = clap_mangen::Man::new(subcommand.clone()).render_options_section(&mut bytes);
    }
    String::from_utf8_lossy(&bytes).into_owned()
}
