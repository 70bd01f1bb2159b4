//! From a measured two-stroke cylinder to numbers, reasons and charts.

mod args;
mod commands;
#[cfg(test)]
mod hostile;
mod present;
mod session;

use std::process::ExitCode;

use clap::Parser;

/// How a command ends when nothing failed.
enum Outcome {
    /// Everything asked for is there.
    Done,
    /// It ran, but a point did not settle or could not be computed.
    Incomplete,
}

fn main() -> ExitCode {
    let args = args::Args::parse();
    match commands::dispatch(&args) {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::Incomplete) => ExitCode::from(1),
        Err(failure) if failure.is_broken_pipe() => ExitCode::SUCCESS,
        Err(failure) => {
            failure.report();
            ExitCode::from(2)
        }
    }
}
