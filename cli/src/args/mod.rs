//! Flags and subcommands with their help, nothing else.

mod numbers;
mod sweep;

use std::path::PathBuf;

use clap::{Parser, Subcommand};

use numbers::{not_negative, number, speed};
pub(crate) use sweep::{MergeArgs, ResultsArgs, SweepArgs, TrendsArgs};

use crate::present::drawing::Paper;
use crate::session::limits::Use;

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

const RIG_EXAMPLES: &str = "\
Examples:
  freshcharge rig scenarios/rigs/vessel-into-pipe.toml
  freshcharge rig rig.toml --out results --charts charts
  freshcharge rig rig.toml --csv > histories.csv

Exit codes: 0 done; 1 stopped before the end; 2 bad input or failure.";

/// Gas exchange of crankcase-scavenged two-strokes: from measurements to numbers, reasons and charts.
#[derive(Debug, Parser)]
#[command(name = "freshcharge", version = VERSION, after_help = EXAMPLES, max_term_width = 100)]
pub(crate) struct Args {
    /// Version of the model to compute with, 1 or 2; the engine file's own, else 1, when left out. 1
    /// gives the results of program 0.3.0, 2 keeps new and old gas apart in the cylinder.
    #[arg(long, global = true, value_name = "N")]
    pub(crate) model: Option<u8>,
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
    /// Why gas flows back when the transfers open, how much blowdown would be enough, and the cheapest way
    /// there.
    #[command(
        after_help = "Examples:\n  freshcharge explain engine.toml --rpm 8000\n  freshcharge explain engine.toml --rpm 8000 --speeds 4000:9000:1000 --charts charts --maps\n  freshcharge explain engine.toml --speeds 4000,7000 --hours 20,5 --brief"
    )]
    Explain(ExplainArgs),
    /// Show everything that follows from the measurements, held against limits.
    #[command(
        after_help = "Examples:\n  freshcharge check engine.toml\n  freshcharge check engine.toml --use race --rpm 11000\n  freshcharge limits > mine.toml && freshcharge check engine.toml --limits mine.toml"
    )]
    Check(CheckArgs),
    /// Print the shipped limits and guidelines with their sources, to edit.
    Limits,
    /// Turn timings from one convention into the others.
    #[command(
        after_help = "Examples:\n  freshcharge angles 121/177 --rpm 8000\n  freshcharge angles \"91.5 atdc\" --engine engine.toml"
    )]
    Angles(AnglesArgs),
    /// Correct measured power to standard air.
    #[command(
        after_help = "Example:\n  freshcharge correct --pressure 985 --temperature 28 --humidity 55 --power 8.2"
    )]
    Correct(CorrectArgs),
    /// Compare two builds: every quantity, and which change made the difference.
    #[command(after_help = "Example:\n  freshcharge compare before.toml after.toml --rpm 8000")]
    Compare(CompareArgs),
    /// From a wish for power to timings: what it takes, and what stands in the way.
    #[command(after_help = "Example:\n  freshcharge target engine.toml --power 9 --rpm 8500")]
    Target(TargetArgs),
    /// Draw the port map at true scale: the bore unrolled, as SVG to print and as DXF.
    #[command(
        after_help = "Example:\n  freshcharge portmap engine.toml planned.toml -o map\n\nPrint at 100 %: the check bars must measure 100 mm both ways."
    )]
    Portmap(PortmapArgs),
    /// Write a build up as one page: tables, charts, words, what it rests on.
    #[command(
        after_help = "Example:\n  freshcharge report engine.toml -o build.html\n  freshcharge report before.toml after.toml --rpm 4000:9000:500 --measured dyno.csv -o build.html"
    )]
    Report(ReportArgs),
    /// Find stacks and cuts that reach goals, and write the cut sheet.
    #[command(
        after_help = "Example:\n  freshcharge plan engine.toml goals.toml --sheet job --after after.toml\n  freshcharge compare engine.toml after.toml\n\nA goals file has [goals] with ranges of what check or run names (simulated results with @speed),\n[shelf] with the gaskets and spacers at hand, and [operations] with what may be cut, how far, how\nexactly. scenarios/goals.toml is an example."
    )]
    Plan(PlanArgs),
    /// Take readings in mid-job: what is left, what to expect, go or stop.
    #[command(
        after_help = "Example:\n  freshcharge recheck job/job.toml\n  freshcharge recheck job/job.toml roof=32.5"
    )]
    Recheck(RecheckArgs),
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
    /// Draw a degree disc to print, with this engine's events on it.
    #[command(after_help = "Example:\n  freshcharge disc touring.toml -o print")]
    Disc(DiscArgs),
    /// Find uncertain inputs from measurements, with bands, and predict a build that was held out.
    #[command(
        after_help = "Example:\n  freshcharge fit base.toml --measured base.csv --input exhaust.discharge_coefficient=0.65:0.90 --input friction.constant_bar=0.1:0.6 --held-out spacer.toml spacer.csv"
    )]
    Fit(FitArgs),
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
    /// Change a number of the engine file first, as PATH=VALUE; may be given several times.
    #[arg(long = "set", value_name = "PATH=VALUE")]
    pub(crate) set: Vec<String>,
    /// What the engine is for: limits that a change made with --set may not break.
    #[arg(long = "use", value_name = "USE", default_value = "touring")]
    pub(crate) usage: Use,
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
    /// Give ± of the results: draw this many sets of readings within their errors; 64 without a number.
    ///
    /// A reading is named as one to repeat only where its rank correlation with a result is larger than
    /// chance gives: two-sided, 5 % for the whole list, shared by all readings and results (Bonferroni).
    #[arg(long, value_name = "SETS", num_args = 0..=1, default_missing_value = "64", conflicts_with = "csv")]
    pub(crate) plus_minus: Option<u64>,
    /// Size of the cells that pipes are cut into [mm]; the file's own when left out.
    #[arg(value_parser = number, long, value_name = "MM")]
    pub(crate) cells_mm: Option<f64>,
    /// Run the engine without its pipes too and tell what the pipes add.
    #[arg(long)]
    pub(crate) against_plain: bool,
    /// Run at half the cell size too and tell how far each headline result moves.
    #[arg(long)]
    pub(crate) check_grid: bool,
    /// Turn the engine over without burning and predict what a compression gauge with a check valve reads;
    /// --rpm gives the cranking speed, 300 to 800 is usual.
    #[arg(long, requires = "rpm", conflicts_with_all = ["csv", "trace", "charts", "sketch", "plus_minus", "against_plain", "check_grid", "bare_windows", "cells_mm"])]
    pub(crate) motored: bool,
    /// Gauge's volume between plug thread and check valve [cm³], with --motored.
    #[arg(value_parser = number, long, value_name = "CM3", requires = "motored", default_value_t = 0.0)]
    pub(crate) gauge_volume_cm3: f64,
    /// Effective leak area past the rings [mm²], with --motored; the file's own when left out.
    #[arg(value_parser = number, long, value_name = "MM2", requires = "motored")]
    pub(crate) leak_mm2: Option<f64>,
    /// Temperature of the whole engine [°C], with --motored; ambient when left out.
    #[arg(value_parser = number, long, value_name = "C", requires = "motored", allow_negative_numbers = true)]
    pub(crate) engine_temperature_c: Option<f64>,
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
    /// Petals.
    Reed,
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
    /// Go on with a file that was left before every question was answered.
    #[arg(long = "continue", conflicts_with_all = ["template", "force", "intake"])]
    pub(crate) go_on: bool,
}

/// What `check` is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Ask {
    /// How much must come off head or barrel to get the squish back?
    Squish,
    /// What compression?
    Compression,
    /// Which base stack holds the squish, and with what timings?
    Spacer,
    /// How wide may the exhaust become?
    Width,
    /// Does the roof's shape waste area?
    Shape,
    /// Is the squish velocity right for this speed?
    SquishVelocity,
    /// Will the piston hit the head?
    Clearance,
    /// How long does the blowdown last at each speed?
    Blowdown,
    /// How accurate must I measure?
    Accuracy,
}

/// Arguments of `check`.
#[derive(Debug, clap::Args)]
pub(crate) struct CheckArgs {
    /// Engine file; - reads standard input.
    pub(crate) file: PathBuf,
    /// Speeds for what depends on them; the file's own when left out.
    #[arg(long, value_name = "SPEEDS")]
    pub(crate) rpm: Option<String>,
    /// What the engine is for: which limits apply.
    #[arg(long = "use", value_name = "USE", default_value = "touring")]
    pub(crate) usage: Use,
    /// Change a number of the engine file first, as PATH=VALUE; may be given several times.
    #[arg(long = "set", value_name = "PATH=VALUE")]
    pub(crate) set: Vec<String>,
    /// Your own limits instead of the shipped ones.
    #[arg(long, value_name = "FILE")]
    pub(crate) limits: Option<PathBuf>,
    /// Everything that follows from the measurements, with ±, every limit and its source.
    #[arg(long)]
    pub(crate) all: bool,
    /// The question that the last sentence answers; timings and verdict when left out.
    #[arg(long, value_name = "QUESTION")]
    pub(crate) ask: Option<Ask>,
    /// Print as JSON.
    #[arg(long)]
    pub(crate) json: bool,
}

/// Arguments of `compare`.
#[derive(Debug, clap::Args)]
pub(crate) struct CompareArgs {
    /// Engine before.
    pub(crate) before: PathBuf,
    /// Engine after; the same as before, with --set applied, when left out.
    pub(crate) after: Option<PathBuf>,
    /// Change a number of the engine file of the second build, as PATH=VALUE; may be given several times.
    #[arg(long = "set", value_name = "PATH=VALUE")]
    pub(crate) set: Vec<String>,
    /// Weigh this change against that of --set, as PATH=VALUE; may be given several times.
    #[arg(long = "or", value_name = "PATH=VALUE")]
    pub(crate) other: Vec<String>,
    /// What the engine is for: which limits the second build is held against.
    #[arg(long = "use", value_name = "USE", default_value = "touring")]
    pub(crate) usage: Use,
    /// Speed at which simulated results are compared.
    #[arg(value_parser = speed, long, value_name = "RPM", default_value_t = 7000.0)]
    pub(crate) rpm: f64,
}

/// Arguments of `angles`.
#[derive(Debug, clap::Args)]
pub(crate) struct AnglesArgs {
    /// A timing: 177, "91.5 atdc", "88.5 bbdc", 121/177, 121/177/28.
    #[arg(required = true)]
    pub(crate) timing: Vec<String>,
    /// Engine whose stroke and rod turn angles into millimetres.
    #[arg(long, value_name = "FILE")]
    pub(crate) engine: Option<PathBuf>,
    /// Speed that turns degrees into milliseconds.
    #[arg(value_parser = speed, long, value_name = "RPM")]
    pub(crate) rpm: Option<f64>,
}

/// Arguments of `target`.
#[derive(Debug, clap::Args)]
pub(crate) struct TargetArgs {
    /// Engine to start from.
    pub(crate) file: PathBuf,
    /// Brake power wanted [kW].
    #[arg(value_parser = number, long, value_name = "KW")]
    pub(crate) power: f64,
    /// At this speed [1/min].
    #[arg(value_parser = speed, long, value_name = "RPM")]
    pub(crate) rpm: f64,
    /// Show no progress.
    #[arg(long, short)]
    pub(crate) quiet: bool,
}

/// Arguments of `plan`.
#[derive(Debug, clap::Args)]
pub(crate) struct PlanArgs {
    /// Engine to start from.
    pub(crate) file: PathBuf,
    /// Goals, shelf and operations.
    pub(crate) goals: PathBuf,
    /// Write the cut sheet of the best plan into this folder: Markdown, a page to print, and the job file
    /// for recheck.
    #[arg(long, value_name = "DIR")]
    pub(crate) sheet: Option<PathBuf>,
    /// Write the engine file as it is after the best plan: a new file, for compare, run and check.
    #[arg(long, value_name = "FILE")]
    pub(crate) after: Option<PathBuf>,
    /// What the engine is for: limits that a plan is held against.
    #[arg(long = "use", value_name = "USE", default_value = "touring")]
    pub(crate) usage: Use,
    /// How many plans to show.
    #[arg(long, default_value_t = 5)]
    pub(crate) show: usize,
    /// Show no progress.
    #[arg(long, short)]
    pub(crate) quiet: bool,
}

/// Arguments of `recheck`.
#[derive(Debug, clap::Args)]
pub(crate) struct RecheckArgs {
    /// Job file, as `plan --sheet` wrote it, with your readings filled in.
    pub(crate) job: PathBuf,
    /// Readings taken just now, by the operation's name: roof=32.5 width=36.2. They stand in for those of
    /// the job file, which is not changed.
    #[arg(value_name = "NAME=READING")]
    pub(crate) readings: Vec<String>,
    /// What the engine is for: limits that a cut which went too far is held against.
    #[arg(long = "use", value_name = "USE", default_value = "touring")]
    pub(crate) usage: Use,
    /// A reading that was asked back is really so: the operation's name.
    #[arg(long, value_name = "NAME")]
    pub(crate) confirm: Vec<String>,
    /// Show no progress.
    #[arg(long, short)]
    pub(crate) quiet: bool,
}

/// Arguments of `explain`.
#[derive(Debug, clap::Args)]
pub(crate) struct ExplainArgs {
    /// Engine file; - reads standard input.
    pub(crate) file: PathBuf,
    /// The speed to explain [1/min].
    #[arg(value_parser = speed, long, value_name = "RPM", default_value_t = 7000.0)]
    pub(crate) rpm: f64,
    /// Speeds for required against actual blowdown; the file's own when left out.
    #[arg(long, value_name = "SPEEDS")]
    pub(crate) speeds: Option<String>,
    /// Running time at each of the speeds, for the weighted soot line: as many numbers as speeds.
    #[arg(value_parser = not_negative, long, value_name = "HOURS", value_delimiter = ',')]
    pub(crate) hours: Option<Vec<f64>>,
    /// Draw required against actual blowdown into this folder.
    #[arg(long, value_name = "DIR")]
    pub(crate) charts: Option<PathBuf>,
    /// Draw maps over speed, blowdown and chord too (some hundred simulations).
    #[arg(long, requires = "charts")]
    pub(crate) maps: bool,
    /// Only the account at the one speed: no required blowdown, levers and doubts.
    #[arg(long)]
    pub(crate) brief: bool,
    /// Show no progress.
    #[arg(long, short)]
    pub(crate) quiet: bool,
}

/// Arguments of `portmap`.
#[derive(Debug, clap::Args)]
pub(crate) struct PortmapArgs {
    /// Engine as measured.
    pub(crate) file: PathBuf,
    /// Engine as planned, drawn dashed over it.
    pub(crate) planned: Option<PathBuf>,
    /// Folder for port-map.pdf, .svg, .png and .dxf.
    #[arg(long, short, value_name = "DIR", default_value = ".")]
    pub(crate) out: PathBuf,
    /// Paper of the PDF; what is larger comes in tiles.
    #[arg(long, value_name = "PAPER", default_value = "a4")]
    pub(crate) paper: Paper,
}

/// Arguments of `disc`.
#[derive(Debug, clap::Args)]
pub(crate) struct DiscArgs {
    /// Engine file.
    pub(crate) file: PathBuf,
    /// Change a number of the engine file first, as PATH=VALUE; may be given several times.
    #[arg(long = "set", value_name = "PATH=VALUE")]
    pub(crate) set: Vec<String>,
    /// Diameter of the disc [mm].
    #[arg(value_parser = number, long, value_name = "MM", default_value_t = 170.0)]
    pub(crate) diameter_mm: f64,
    /// The crank turns anticlockwise as you look at the disc.
    #[arg(long)]
    pub(crate) counter_clockwise: bool,
    /// Folder for degree-disc.pdf, .svg and .png.
    #[arg(long, short, value_name = "DIR", default_value = ".")]
    pub(crate) out: PathBuf,
    /// Paper of the PDF; what is larger comes in tiles.
    #[arg(long, value_name = "PAPER", default_value = "a4")]
    pub(crate) paper: Paper,
}

/// Arguments of `report`.
#[derive(Debug, clap::Args)]
pub(crate) struct ReportArgs {
    /// Engine files: the build before, and after; one alone is told by itself.
    #[arg(required_unless_present = "write_template", num_args = 1..=2)]
    pub(crate) files: Vec<PathBuf>,
    /// Speeds as from:to:step or a,b,c; the first file's own when left out.
    #[arg(long, value_name = "SPEEDS")]
    pub(crate) rpm: Option<String>,
    /// Measurements as CSV; may be given several times. Over speed: rpm with power_kw, torque_nm, fuel_g and
    /// time_s, compression_gauge_bar and others; over the crank angle: rpm and angle_deg with
    /// cylinder_pressure_bar, crankcase_pressure_bar, exhaust_pressure_bar. Units stand in the heads.
    #[arg(long, value_name = "FILE")]
    pub(crate) measured: Vec<PathBuf>,
    /// Results of a sweep of this engine, whose charts go onto the page.
    #[arg(long, value_name = "RESULTS")]
    pub(crate) sweep: Option<PathBuf>,
    /// What the engine is for: which limits apply.
    #[arg(long = "use", value_name = "USE", default_value = "touring")]
    pub(crate) usage: Use,
    /// Page to write.
    #[arg(long, short, value_name = "FILE", default_value = "build.html")]
    pub(crate) out: PathBuf,
    /// Also write build.md and its pictures, for a forum, into this folder.
    #[arg(long, value_name = "DIR")]
    pub(crate) markdown: Option<PathBuf>,
    /// Order of the sections, headings, words and style from this file.
    #[arg(long, value_name = "FILE")]
    pub(crate) template: Option<PathBuf>,
    /// Write the template that is used without --template, to begin with.
    #[arg(long, value_name = "FILE")]
    pub(crate) write_template: Option<PathBuf>,
    /// Show no progress.
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

/// Arguments of `fit`.
#[derive(Debug, clap::Args)]
pub(crate) struct FitArgs {
    /// Engine file of the build that was measured.
    pub(crate) file: PathBuf,
    /// An input to find with its plausible range, as PATH=LOW:HIGH; one to four times.
    #[arg(long, value_name = "PATH=LOW:HIGH", required = true)]
    pub(crate) input: Vec<String>,
    /// Measurements as CSV, over speed or over the crank angle, as for report; may be given several times.
    #[arg(long, value_name = "FILE", required = true)]
    pub(crate) measured: Vec<PathBuf>,
    /// Standard deviation of the measurements, in percent of the largest value of a column.
    #[arg(value_parser = number, long, value_name = "PERCENT", default_value_t = 2.0)]
    pub(crate) error: f64,
    /// Another build and its measurements, left out of the fit and predicted with it.
    #[arg(long, num_args = 2, value_names = ["ENGINE", "FILE"])]
    pub(crate) held_out: Vec<PathBuf>,
    /// Print JSON instead of words.
    #[arg(long)]
    pub(crate) json: bool,
}

/// Arguments of `correct`.
#[derive(Debug, clap::Args)]
pub(crate) struct CorrectArgs {
    /// Barometric pressure at the test [mbar].
    #[arg(value_parser = number, long, value_name = "MBAR")]
    pub(crate) pressure: f64,
    /// Air temperature [°C].
    #[arg(value_parser = number, long, value_name = "C", allow_negative_numbers = true)]
    pub(crate) temperature: f64,
    /// Relative humidity [%].
    #[arg(value_parser = number, long, value_name = "PERCENT", default_value_t = 50.0)]
    pub(crate) humidity: f64,
    /// Measured power [kW].
    #[arg(value_parser = number, long, value_name = "KW")]
    pub(crate) power: Option<f64>,
}
