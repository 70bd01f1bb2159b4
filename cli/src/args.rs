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

/// Version with what this build can do.
const VERSION: &str = concat!(
    env!("CARGO_PKG_VERSION"),
    "\nvector sets: ",
    "baseline, AVX2 and AVX-512 where the processor has them",
    "\ncharts: SVG, PNG with embedded Noto Sans; results: table, JSON (schema 1), CSV",
);

/// Gas exchange of crankcase-scavenged two-strokes: from measurements to numbers, reasons and charts.
#[derive(Debug, Parser)]
#[command(name = "freshcharge", version = VERSION, after_help = EXAMPLES, max_term_width = 100)]
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
    /// Draw several engines over each other.
    #[command(
        after_help = "Example:\n  freshcharge chart touring.toml short-blowdown.toml --rpm 4000:9000:500 -o charts"
    )]
    Chart(ChartArgs),
    /// Write a new engine file: asks for the measurements one after another, or writes a commented
    /// template where there is no terminal.
    #[command(
        after_help = "Examples:\n  freshcharge new my-engine.toml\n  freshcharge new my-engine.toml --intake piston-port\n  freshcharge new - --template > template.toml"
    )]
    New(NewArgs),
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
    /// Sketch the results over speed in the terminal.
    #[arg(long)]
    pub(crate) sketch: bool,
    /// Leave out the inertia of the gas columns in transfer ducts and inlet tract.
    #[arg(long)]
    pub(crate) bare_windows: bool,
    /// Say nothing but results.
    #[arg(long, short)]
    pub(crate) quiet: bool,
}

/// Arguments of `chart`.
#[derive(Debug, clap::Args)]
pub(crate) struct ChartArgs {
    /// Engine files, the one to compare with first.
    #[arg(required = true, num_args = 1..=5)]
    pub(crate) files: Vec<PathBuf>,
    /// Speeds as from:to:step or a,b,c; each file's own when left out.
    #[arg(long, value_name = "SPEEDS")]
    pub(crate) rpm: Option<String>,
    /// Folder for the charts.
    #[arg(long, short, value_name = "DIR", default_value = "charts")]
    pub(crate) out: PathBuf,
    /// Show no progress.
    #[arg(long, short)]
    pub(crate) quiet: bool,
}

/// How the inlet is opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Intake {
    /// The crank web.
    CrankWeb,
    /// A disc.
    DiscValve,
    /// The piston skirt.
    PistonPort,
}

/// Arguments of `new`.
#[derive(Debug, clap::Args)]
pub(crate) struct NewArgs {
    /// File to write; - prints it.
    pub(crate) file: PathBuf,
    /// How the inlet is opened; asked for when left out.
    #[arg(long)]
    pub(crate) intake: Option<Intake>,
    /// Ask even when standard input is not a terminal.
    #[arg(long, conflicts_with = "template")]
    pub(crate) ask: bool,
    /// Write the commented template without asking.
    #[arg(long)]
    pub(crate) template: bool,
    /// Write over a file that is already there.
    #[arg(long)]
    pub(crate) force: bool,
}
