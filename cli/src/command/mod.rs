//! One module a subcommand.

mod run;
mod words;

pub(crate) use run::{Row, Run};

use crate::Outcome;
use crate::args::{Args, Command};
use crate::files::Failure;

/// Does what was asked.
pub(crate) fn dispatch(args: &Args) -> Result<Outcome, Failure> {
    match &args.command {
        Command::Run(args) => run::run(args),
    }
}
