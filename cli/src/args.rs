//! Flags and subcommands with their help, nothing else.

use std::path::PathBuf;

use clap::{Parser, Subcommand};

const EXAMPLES: &str = "\
Examples:
  freshcharge run engine.toml
  freshcharge run engine.toml --rpm 3000:9000:500 --charts charts
  freshcharge run engine.toml --rpm 8000 --trace traces --json > result.json
  cat engine.toml | freshcharge run -

Exit codes: 0 done; 1 ran, but a speed did not settle or could not be computed;
2 bad input or failure.";

const RIG_EXAMPLES: &str = "\
Examples:
  freshcharge rig scenarios/rigs/vessel-into-pipe.toml
  freshcharge rig rig.toml --out results --charts charts
  freshcharge rig rig.toml --csv > histories.csv

Exit codes: 0 done; 1 stopped before the end; 2 bad input or failure.";

/// Gas exchange of crankcase-scavenged two-strokes: from measurements to numbers, reasons and charts.
#[derive(Debug, Parser)]
#[command(name = "freshcharge", version, after_help = EXAMPLES, max_term_width = 100)]
pub(crate) struct Args {
    /// What to do.
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Simulate an engine over a range of speeds.
    #[command(after_help = EXAMPLES)]
    Run(RunArgs),
    /// Run a rig: pipes, vessels, orifices and junctions, from shock tubes to resonators.
    #[command(after_help = RIG_EXAMPLES)]
    Rig(RigArgs),
    /// Print the JSON Schema of an engine file, for completion and checks in an editor.
    #[command(
        after_help = "Example:\n  freshcharge schema > engine.schema.json\n\nThen put `#:schema ./engine.schema.json` at the top of the engine file."
    )]
    Schema,
    /// Print completions for a shell.
    #[command(
        after_help = "Example:\n  freshcharge completions bash > ~/.local/share/bash-completion/completions/freshcharge"
    )]
    Completions {
        /// Which shell.
        shell: clap_complete::Shell,
    },
    /// Print the manual page.
    #[command(after_help = "Example:\n  freshcharge man > freshcharge.1 && man ./freshcharge.1")]
    Man,
}

/// Arguments of `run`.
#[derive(Debug, clap::Args)]
pub(crate) struct RunArgs {
    /// Engine file; - reads standard input.
    pub(crate) file: PathBuf,
    /// Speeds as from:to:step or a,b,c; the file's own when left out.
    #[arg(long, value_name = "SPEEDS")]
    pub(crate) rpm: Option<String>,
    /// Print results as JSON instead of a table.
    #[arg(long, conflicts_with = "csv")]
    pub(crate) json: bool,
    /// Print results as CSV instead of a table.
    #[arg(long)]
    pub(crate) csv: bool,
    /// Write a crank-angle trace of each speed as CSV into this folder.
    #[arg(long, value_name = "DIR")]
    pub(crate) trace: Option<PathBuf>,
    /// Draw charts as SVG and PNG into this folder.
    #[arg(long, value_name = "DIR")]
    pub(crate) charts: Option<PathBuf>,
    /// Leave out the inertia of the gas columns in transfer ducts and inlet tract.
    #[arg(long)]
    pub(crate) bare_windows: bool,
    /// Say nothing but results.
    #[arg(long, short)]
    pub(crate) quiet: bool,
}

/// Arguments of `rig`.
#[derive(Debug, clap::Args)]
pub(crate) struct RigArgs {
    /// Rig file; - reads standard input.
    pub(crate) file: PathBuf,
    /// Write histories, profiles and maps of place and time as CSV into this folder.
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Draw charts as SVG and PNG into this folder.
    #[arg(long, value_name = "DIR")]
    pub(crate) charts: Option<PathBuf>,
    /// Print the histories as CSV instead of a summary.
    #[arg(long)]
    pub(crate) csv: bool,
    /// Say nothing but results.
    #[arg(long, short)]
    pub(crate) quiet: bool,
}
