//! `freshcharge sweep` and `freshcharge merge`.

use std::fmt::Write;
use std::sync::atomic::{AtomicBool, Ordering};

use freshcharge_sim::scenario::HANDLES;

use super::results::tolerances;
use crate::args::{MergeArgs, SweepArgs};
use crate::files::{self, Failure};
use crate::present::rows::{Outcome, Shard};
use crate::session::sweep::job::Job;
use crate::session::sweep::merge::{self, Merged};
use crate::session::sweep::progress::{Progress, duration};
use crate::session::sweep::runner::{self, Task};
use crate::session::sweep::store::{Found, Policy, Store};
use crate::session::sweep::tally::Tally;
use crate::session::sweep::{ResultsFile, dry_run, sweep_file};

/// Set when somebody wants the sweep to end.
static STOP: AtomicBool = AtomicBool::new(false);

/// More threads than any machine has cores only cost memory.
const MOST_THREADS: usize = 4096;

/// Runs a sweep.
pub(crate) fn sweep(args: &SweepArgs) -> Result<crate::Outcome, Failure> {
    let job = Job::new(sweep_file::read(&args.file, &args.vary, args.rpm.as_deref())?)?;
    let threads = args.threads.unwrap_or_else(|| {
        std::thread::available_parallelism().map_or(1, std::num::NonZeroUsize::get)
    });
    if !(1..=MOST_THREADS).contains(&threads) {
        let remedy = format!("between 1 and {MOST_THREADS} threads can work");
        return Err(Failure::Argument { flag: "--threads", value: threads.to_string(), remedy });
    }
    if !args.quiet {
        files::say(&held(&job));
    }
    if args.dry_run {
        files::print(&dry_run::report(&job, args.shard, threads))?;
        return Ok(crate::Outcome::Done);
    }
    let Some(folder) = &args.out else {
        let remedy = "say where the results go, such as --out results".to_owned();
        return Err(Failure::Argument { flag: "--out", value: "is missing".to_owned(), remedy });
    };
    let policy = match (args.restart, args.repair) {
        (true, _) => Policy::Restart,
        (_, true) => Policy::Repair,
        _ => Policy::Resume,
    };
    let opened = Store::open(folder, &job, args.shard, policy)?;
    // without a handler an interrupt ends the program at once, which loses a second at most
    let _ = ctrlc::set_handler(|| {
        if STOP.swap(true, Ordering::Relaxed) {
            std::process::exit(1);
        }
        files::say("\nFinishing the chains under way; once more to end at once.\n");
    });
    let task = Task { job: &job, shard: args.shard, threads, stop: &STOP };
    let (mut out, all, whole) = compute(&task, opened, args.quiet)?;
    if !whole {
        files::print(&out)?;
        return Ok(crate::Outcome::Incomplete);
    }
    if args.shard == Shard::WHOLE {
        if job.sweep.plan().sample.as_ref().is_some_and(|s| s.readings) {
            out.push_str(&tolerances(&mut ResultsFile::open(folder)?)?);
        }
        if !args.no_charts {
            let written = crate::session::charts::write(
                &folder.join("charts"),
                &crate::session::charts::of_sweep(folder)?,
            )?;
            let _ = writeln!(out, "Charts: {}", written.join(", "));
        }
    } else {
        let _ = writeln!(out, "When all shards are done: freshcharge merge {}", folder.display());
    }
    files::print(&out)?;
    let unsound = all.of(Outcome::NotSettled) + all.of(Outcome::Faulty);
    Ok(if unsound == 0 { crate::Outcome::Done } else { crate::Outcome::Incomplete })
}

/// Computes what is missing; gives words about it, the count of all rows, and whether all are there.
fn compute(
    task: &Task,
    (mut store, found): (Store, Found),
    quiet: bool,
) -> Result<(String, Tally, bool), Failure> {
    let Task { job, shard, threads, .. } = *task;
    let before = found.tally.rows();
    if before > 0 && !quiet {
        files::say(&format!("Going on behind {before} cases that are there already.\n"));
    }
    if found.dropped > 0 && !quiet {
        files::say(&format!("{} rows of an unfinished chain are computed again.\n", found.dropped));
    }
    let total = rows_of(job, shard);
    let mut progress = Progress::new(job, total, before, quiet);
    let ended = runner::run(task, &mut store, found.chains, &mut progress)?;
    let mut all = found.tally;
    all.join(&ended.tally, &job.objectives);
    let path = store.path().display().to_string();
    let mut out = summary(job, &ended, &all, &path, threads);
    let whole = ended.chains == shard.chains(job.sweep.chains());
    if !whole {
        let _ = writeln!(
            out,
            "Interrupted: {} of {total} cases are in the file. The same command goes on from here.",
            all.rows()
        );
    }
    Ok((out, all, whole))
}

/// Cases of a shard.
fn rows_of(job: &Job, shard: Shard) -> u64 {
    if shard == Shard::WHOLE {
        return job.sweep.cases();
    }
    let rows = |chain| {
        let (_, rows) = job.sweep.chain(chain);
        rows.end - rows.start
    };
    (0..shard.chains(job.sweep.chains())).map(|p| rows(shard.chain(p))).sum()
}

/// What numbers that stand for several keys hold.
fn held(job: &Job) -> String {
    let mut out = String::new();
    for path in job.sweep.paths() {
        if let Some(handle) = HANDLES.iter().find(|h| h.path == path) {
            // writing to a String cannot fail
            let _ = writeln!(out, "{path}: {}", handle.meaning);
        }
    }
    for (hold, at) in job.sweep.plan().holds.iter().zip(job.sweep.held()) {
        let how = if hold.shelf.is_empty() { "moved" } else { "chosen from the shelf" };
        let _ = writeln!(out, "{} is {how} so that {} stays {at:.4}.", hold.by, hold.of.key);
    }
    out
}

fn summary(job: &Job, ended: &runner::Ended, all: &Tally, path: &str, threads: usize) -> String {
    let seconds = ended.elapsed.as_secs_f64();
    let rows = ended.tally.rows();
    let mut out = format!(
        "{}: {}\n{} cases in {} on {threads} threads, {:.1} cases/s. Results: {path}\n",
        job.name,
        all.words(),
        rows,
        duration(seconds),
        rows as f64 / seconds.max(1e-9),
    );
    // of readings none is the best
    let choices = job.sweep.plan().sample.as_ref().is_none_or(|s| !s.readings);
    for (objective, best) in job.objectives.iter().zip(&all.best).filter(|_| choices) {
        let Some((value, case)) = best else { continue };
        let build = job.sweep.build(case / job.sweep.rows());
        let speed = job.sweep.plan().speeds.get((case % job.sweep.rows()) as usize);
        let at: Vec<String> = job
            .sweep
            .paths()
            .iter()
            .zip(&build.values)
            .map(|(path, v)| format!("{path} = {}", v.map_or_else(String::new, shortened)))
            .chain(speed.map(|s| format!("{s:.0}/min")))
            .collect();
        let way = if objective.rising { "Most" } else { "Least" };
        // writing to a String cannot fail
        let _ = writeln!(
            out,
            "{way} {}: {value:.4} in case {case} ({}).",
            objective.key,
            at.join(", ")
        );
    }
    out
}

/// A number with at most four decimals.
fn shortened(value: f64) -> String {
    let text = format!("{value:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Joins shards.
pub(crate) fn merge(args: &MergeArgs) -> Result<crate::Outcome, Failure> {
    let out = args.out.as_ref().unwrap_or(&args.folders[0]);
    match merge::merge(&args.folders, out)? {
        Merged::Whole { file, rows } => {
            files::print(&format!("{rows} cases, each exactly once: {}\n", file.display()))?;
            Ok(crate::Outcome::Done)
        }
        Merged::Missing(problems) => {
            for problem in problems {
                files::say(&format!("{problem}\n"));
            }
            files::say(
                "Nothing was written. Run the sweep of each shard named again; it goes on where it ended.\n",
            );
            Ok(crate::Outcome::Incomplete)
        }
    }
}
