//! Flags of sweeps and of what is made of their results.

use std::path::PathBuf;

use crate::session::sweep::Shard;

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
