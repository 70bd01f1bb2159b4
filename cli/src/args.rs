//! Flags and subcommands with their help, nothing else.

use std::path::PathBuf;

use clap::{Parser, Subcommand};

use crate::sweep::Shard;

const EXAMPLES: &str = "\
Examples:
  freshcharge run engine.toml
  freshcharge run engine.toml --rpm 3000:9000:500 --charts charts
  freshcharge run engine.toml --rpm 8000 --trace traces --json > result.json
  cat engine.toml | freshcharge run -

Exit codes: 0 done; 1 ran, but a speed did not settle or could not be computed;
2 bad input or failure.";

const SWEEP_EXAMPLES: &str = "\
Examples:
  freshcharge sweep plan.toml --dry-run
  freshcharge sweep plan.toml --out results
  freshcharge sweep engine.toml --vary stack.base_total_mm=0.5:2.5:0.25 --rpm 4000:9000:500 --out results
  freshcharge sweep plan.toml --out results --shard 2/7

The same command goes on where an earlier run ended, however it ended.
Exit codes: 0 done; 1 interrupted, or a case did not settle or could not be computed;
2 bad input or failure.";

const MERGE_EXAMPLES: &str = "\
Examples:
  freshcharge merge results
  freshcharge merge machine-a/results machine-b/results --out results

Exit codes: 0 every case is there exactly once; 1 cases are missing, they are listed;
2 bad input or failure.";

const RESULTS_EXAMPLES: &str = "\
Examples:
  freshcharge results results
  freshcharge results results --filter 'hot_backflow_mass_mg<1' --filter rpm=6000 --best 10
  freshcharge results results --pareto power_kw,hot_backflow_mass_mg --csv > front.csv
  freshcharge results results --sort power_kw:down --json
  freshcharge results results --tolerances

Exit codes: 0 done; 1 some rows are damaged and were left out; 2 bad input or failure.";

const TRENDS_EXAMPLES: &str = "\
Examples:
  freshcharge trends results
  freshcharge trends results --x rpm --y power_kw --by stack.base_total_mm --out charts
  freshcharge trends results --map stack.base_total_mm,stack.head_total_mm --y power_kw --fix rpm=6000
  freshcharge trends results --map stack.base_total_mm,stack.head_total_mm --y power_kw --by rpm

Numbers that are neither drawn nor fixed stand at the base engine's nearest value.";

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
    /// Simulate many variants of an engine: a plan file, or an engine file with --vary.
    #[command(after_help = SWEEP_EXAMPLES)]
    Sweep(SweepArgs),
    /// Join the shards of a sweep into one file, each case exactly once.
    #[command(after_help = MERGE_EXAMPLES)]
    Merge(MergeArgs),
    /// Filter and sort the rows of a sweep, take the best or the Pareto front.
    #[command(after_help = RESULTS_EXAMPLES)]
    Results(ResultsArgs),
    /// Draw charts of a sweep: trends, maps, trade-offs, what matters.
    #[command(after_help = TRENDS_EXAMPLES)]
    Trends(TrendsArgs),
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

/// Arguments of `sweep`.
#[derive(Debug, clap::Args)]
pub(crate) struct SweepArgs {
    /// Plan file, or engine file.
    pub(crate) file: PathBuf,
    /// Vary a number of the engine file: PATH=from:to:step or PATH=a,b,c; may be repeated.
    #[arg(long, value_name = "PATH=VALUES")]
    pub(crate) vary: Vec<String>,
    /// Speeds as from:to:step or a,b,c; the plan's or the engine file's own when left out.
    #[arg(long, value_name = "SPEEDS")]
    pub(crate) rpm: Option<String>,
    /// Folder for results and charts.
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Time a few chains and tell number, duration and disk; write nothing.
    #[arg(long)]
    pub(crate) dry_run: bool,
    /// Compute one part of several, such as 2/7.
    #[arg(long, value_name = "I/N", env = "FRESHCHARGE_SHARD", default_value = "1/1")]
    pub(crate) shard: Shard,
    /// Threads; all cores when left out.
    #[arg(long, value_name = "N", env = "FRESHCHARGE_THREADS")]
    pub(crate) threads: Option<usize>,
    /// Put results of another plan aside and begin anew.
    #[arg(long, conflicts_with = "repair")]
    pub(crate) restart: bool,
    /// Keep all good rows of a damaged file and compute the others anew.
    #[arg(long)]
    pub(crate) repair: bool,
    /// Draw no charts at the end.
    #[arg(long)]
    pub(crate) no_charts: bool,
    /// Say nothing but the summary.
    #[arg(long, short)]
    pub(crate) quiet: bool,
}

/// Arguments of `merge`.
#[derive(Debug, clap::Args)]
pub(crate) struct MergeArgs {
    /// Folders with shards.
    #[arg(required = true)]
    pub(crate) folders: Vec<PathBuf>,
    /// Folder for the joined results; the first one when left out.
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
}

/// Arguments of `results`.
#[derive(Debug, clap::Args)]
pub(crate) struct ResultsArgs {
    /// Results folder or file of a sweep.
    pub(crate) results: PathBuf,
    /// Keep rows with COLUMN<NUMBER (also <= > >= = !=) or COLUMN=WORD; all must hold.
    #[arg(long, value_name = "CONDITION")]
    pub(crate) filter: Vec<String>,
    /// Sort by a column; an objective has its best first, :up and :down say it outright.
    #[arg(long, value_name = "COLUMN")]
    pub(crate) sort: Option<String>,
    /// The first N, by --sort or by the first objective; settled rows only.
    #[arg(long, value_name = "N")]
    pub(crate) best: Option<usize>,
    /// Rows that no other row beats in two or three columns, such as power_kw,late_angle_deg:least.
    #[arg(long, value_name = "A,B", conflicts_with = "sort")]
    pub(crate) pareto: Option<String>,
    /// Columns to show.
    #[arg(long, value_name = "A,B", value_delimiter = ',')]
    pub(crate) columns: Vec<String>,
    /// All rows as CSV.
    #[arg(long, conflicts_with = "json")]
    pub(crate) csv: bool,
    /// All rows as JSON.
    #[arg(long)]
    pub(crate) json: bool,
    /// Of a sampled sweep: each objective with ± and the two numbers that matter most.
    #[arg(long)]
    pub(crate) tolerances: bool,
}

/// Arguments of `trends`.
#[derive(Debug, clap::Args)]
pub(crate) struct TrendsArgs {
    /// Results folder or file of a sweep.
    pub(crate) results: PathBuf,
    /// What trends are drawn over: a varied number or rpm.
    #[arg(long, value_name = "COLUMN", conflicts_with = "map")]
    pub(crate) x: Option<String>,
    /// The result to draw.
    #[arg(long, value_name = "COLUMN")]
    pub(crate) y: Option<String>,
    /// One curve (at most seven), or one panel of a map (at most six), for each value of this column.
    #[arg(long, value_name = "COLUMN")]
    pub(crate) by: Option<String>,
    /// A map over two varied numbers.
    #[arg(long, value_name = "X,Y")]
    pub(crate) map: Option<String>,
    /// Hold a column at a value: COLUMN=VALUE.
    #[arg(long, value_name = "COLUMN=VALUE")]
    pub(crate) fix: Vec<String>,
    /// Folder for the charts; `charts` in the results folder when left out.
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
}
