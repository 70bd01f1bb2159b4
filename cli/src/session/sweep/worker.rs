//! One thread's work: chains in, rows out.

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Once};

use freshcharge_sim::cycle::{Chain, CycleError, Settings, solve};
use freshcharge_sim::model::Engine;
use freshcharge_sim::result::Point;
use freshcharge_sim::sweep::{Build, Sweep};

use super::Shard;
use super::job::Job;
use super::row::{self, Result};
use super::runner::Window;
use super::tally::Tally;
use crate::present::rows::Outcome;

/// Rows of neighbouring chains.
#[derive(Default)]
pub(crate) struct Batch {
    /// Position of the first chain in its shard.
    pub(crate) position: u64,
    /// How many chains.
    pub(crate) chains: u64,
    /// The rows.
    pub(crate) rows: Vec<u8>,
    /// What they came to.
    pub(crate) tally: Tally,
}

impl Batch {
    /// Adds the row of a case.
    fn add(&mut self, job: &Job, case: u64, build: &Build, result: &Result) {
        row::write(&mut self.rows, job, case, build, result);
        let refusal = build.engine.as_ref().err();
        let outcome = result.outcome();
        self.tally
            .add(outcome, refusal.filter(|_| outcome == Outcome::Refused).map(|r| r.constraint()));
        if !matches!(outcome, Outcome::Settled | Outcome::Repeats | Outcome::Geometry) {
            return;
        }
        for (which, objective) in job.objectives.iter().enumerate() {
            let of_point = match result {
                Result::Point(point) => job
                    .results
                    .iter()
                    .find(|c| c.key == objective.key)
                    .and_then(|c| (c.value)(point)),
                _ => None,
            };
            let figures = job.sweep.plan().figures.iter().zip(&build.figures);
            let value = of_point
                .or_else(|| figures.filter(|(f, _)| f.key == objective.key).find_map(|(_, v)| *v));
            if let Some(value) = value {
                self.tally.offer(which, objective, value, case);
            }
        }
    }
}

/// A chain that is being solved.
struct Open {
    build: Option<Build>,
    first_case: u64,
    results: Vec<Option<std::result::Result<Point, CycleError>>>,
}

thread_local! {
    /// Whether a panic of this thread becomes a row and need not be shown.
    static CAUGHT: Cell<bool> = const { Cell::new(false) };
}

/// Runs `work`; a panic becomes its message.
fn guarded<T>(work: impl FnOnce() -> T) -> std::result::Result<T, String> {
    static QUIET: Once = Once::new();
    QUIET.call_once(|| {
        let usual = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            if !CAUGHT.get() {
                usual(info);
            }
        }));
    });
    CAUGHT.set(true);
    let done = catch_unwind(AssertUnwindSafe(work));
    CAUGHT.set(false);
    done.map_err(|payload| {
        let text = payload.downcast_ref::<String>().cloned();
        let text = text.or_else(|| payload.downcast_ref::<&str>().map(|s| (*s).to_owned()));
        format!("stopped by a fault of this program: {}", text.unwrap_or_default())
    })
}

/// Prepares a chain; its batch at once when there is nothing to solve.
fn prepare(job: &Job, position: u64, chain: u64) -> std::result::Result<(Open, Chain), Batch> {
    let (combination, rows) = job.sweep.chain(chain);
    let build = job.sweep.build(combination);
    let first_case = job.sweep.first_case(chain);
    let count = (rows.end - rows.start) as usize;
    let same = |build: &Build, result: &Result| {
        let mut batch = Batch { position, chains: 1, ..Batch::default() };
        (0..count as u64).for_each(|i| batch.add(job, first_case + i, build, result));
        batch
    };
    let spec = match &build.engine {
        Err(refusal) => return Err(same(&build, &Result::Refused(refusal.to_string()))),
        Ok(_) if job.sweep.plan().speeds.is_empty() => return Err(same(&build, &Result::Geometry)),
        Ok(spec) => spec,
    };
    let engine = match Engine::new(spec) {
        Ok(engine) => engine,
        Err(why) => return Err(same(&build, &Result::Faulty(why.to_string()))),
    };
    let speeds = &job.sweep.plan().speeds[rows.start as usize..rows.end as usize];
    let models = speeds.iter().map(|rpm| engine.at_speed(*rpm).map(Arc::new)).collect();
    let open = Open { build: Some(build), first_case, results: (0..count).map(|_| None).collect() };
    Ok((open, Chain { index: position as usize, models }))
}

impl Open {
    /// Its batch; points without a result get `fault`.
    fn close(self, job: &Job, position: u64, fault: &str) -> Batch {
        let mut batch = Batch { position, chains: 1, ..Batch::default() };
        let build = self.build.unwrap_or_else(|| nothing(job));
        for (i, result) in self.results.into_iter().enumerate() {
            let result = result.map_or_else(|| Result::Faulty(fault.to_owned()), Result::from);
            batch.add(job, self.first_case + i as u64, &build, &result);
        }
        batch
    }
}

/// What is known of a build that could not even be looked at.
fn nothing(job: &Job) -> Build {
    let refusal =
        freshcharge_sim::sweep::Refusal::Impossible { key: String::new(), remedy: String::new() };
    Build {
        values: vec![None; job.sweep.paths().len()],
        figures: vec![None; job.sweep.plan().figures.len()],
        engine: Err(refusal),
    }
}

/// Solves one chain by itself; a panic becomes its rows.
pub(crate) fn alone(job: &Job, chain: u64) -> Batch {
    solve_alone(job, 0, chain)
}

fn solve_alone(job: &Job, position: u64, chain: u64) -> Batch {
    let (_, rows) = job.sweep.chain(chain);
    let open = RefCell::new(Open {
        build: None,
        first_case: job.sweep.first_case(chain),
        results: (rows.start..rows.end).map(|_| None).collect(),
    });
    let done = guarded(|| match prepare(job, position, chain) {
        Err(batch) => Some(batch),
        Ok((ready, task)) => {
            *open.borrow_mut() = ready;
            let mut task = Some(task);
            solve(&Settings::sweep(), &mut || task.take(), &mut |_, i, result| {
                open.borrow_mut().results[i] = Some(result);
            });
            None
        }
    });
    match done {
        Ok(Some(batch)) => batch,
        Ok(None) => open.into_inner().close(job, position, ""),
        Err(why) => open.into_inner().close(job, position, &why),
    }
}

/// Works until there is nothing more to do.
pub(crate) fn work(job: &Job, shard: Shard, window: &Window, send: &dyn Fn(Batch)) {
    let own = job.sweep.plan().speeds.is_empty().then(|| job.sweep.unshared());
    loop {
        let done = if let Some(sweep) = &own {
            geometry_only(job, sweep, shard, window, send)
        } else {
            simulated(job, shard, window, send)
        };
        if done {
            return;
        }
    }
}

/// Chains at a time where nothing is simulated.
const TOGETHER: u64 = 256;

fn geometry_only(
    job: &Job,
    sweep: &Sweep,
    shard: Shard,
    window: &Window,
    send: &dyn Fn(Batch),
) -> bool {
    let Some(positions) = window.take(TOGETHER, true) else { return true };
    let start = positions.start;
    let empty = || Batch { position: start, chains: positions.end - start, ..Batch::default() };
    let all = guarded(|| {
        let mut batch = empty();
        for chain in positions.clone().map(|p| shard.chain(p)) {
            let build = sweep.build(chain);
            let result = match &build.engine {
                Err(refusal) => Result::Refused(refusal.to_string()),
                Ok(_) => Result::Geometry,
            };
            batch.add(job, chain, &build, &result);
        }
        batch
    });
    send(all.unwrap_or_else(|_| {
        // one of them is at fault; each by itself shows which
        let mut batch = empty();
        for position in positions.clone() {
            let one = solve_alone(job, position, shard.chain(position));
            batch.rows.extend_from_slice(&one.rows);
            batch.tally.join(&one.tally, &job.objectives);
        }
        batch
    }));
    false
}

/// Keeps the driver filled; true when there is nothing more to do.
fn simulated(job: &Job, shard: Shard, window: &Window, send: &dyn Fn(Batch)) -> bool {
    let open: RefCell<BTreeMap<usize, Open>> = RefCell::new(BTreeMap::new());
    let starting = Cell::new(None);
    let ended = Cell::new(false);
    let mut source = || loop {
        // never wait while chains of this very thread are under way: the window may wait for them
        let idle = open.borrow().is_empty();
        let Some(taken) = window.take(1, idle) else {
            ended.set(idle);
            return None;
        };
        starting.set(Some(taken.start));
        let prepared = prepare(job, taken.start, shard.chain(taken.start));
        starting.set(None);
        match prepared {
            Ok((ready, chain)) => {
                open.borrow_mut().insert(chain.index, ready);
                return Some(chain);
            }
            Err(batch) => send(batch),
        }
    };
    let mut sink = |chain: usize, point: usize, result| {
        let mut all = open.borrow_mut();
        let Some(its) = all.get_mut(&chain) else { return };
        its.results[point] = Some(result);
        if its.results.iter().all(Option::is_some)
            && let Some(whole) = all.remove(&chain)
        {
            send(whole.close(job, chain as u64, ""));
        }
    };
    let solved = guarded(|| solve(&Settings::sweep(), &mut source, &mut sink));
    if solved.is_err() {
        // one of them is at fault; each by itself shows which, and the others lose nothing
        let under_way: Vec<u64> = open.borrow().keys().map(|k| *k as u64).collect();
        for position in under_way.into_iter().chain(starting.get()) {
            send(solve_alone(job, position, shard.chain(position)));
        }
        return false;
    }
    ended.get()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_becomes_its_message() {
        let caught = guarded(|| -> u32 { panic!("at point {}", 7) });
        assert!(caught.unwrap_err().ends_with("at point 7"));
        assert_eq!(guarded(|| 3), Ok(3));
    }
}
