//! What a sweep will take, found by timing a few chains; with pipes, by timing a few points and a model of
//! what the others cost beside them.

use std::cell::RefCell;
use std::fmt::Write;
use std::sync::Arc;
use std::time::Instant;

use freshcharge_sim::cycle::{Chain, Settings, solve};
use freshcharge_sim::model::Engine;
use freshcharge_sim::spec::EngineSpec;

use super::job::Job;
use super::progress::duration;
use super::{Shard, worker};

/// Combinations looked at to see how many are refused.
const LOOKED_AT: u64 = 2000;
/// Chains timed.
const TIMED: u64 = 6;

/// Combinations that no limit refuses, of `looked` evenly over the plan, and the time each took [s].
fn look(job: &Job, looked: u64) -> (Vec<u64>, f64) {
    let combinations = u128::from(job.sweep.combinations());
    let place = |i: u64| (u128::from(i) * combinations / u128::from(looked)) as u64;
    let started = Instant::now();
    let alive = (0..looked).map(place).filter(|c| job.sweep.build(*c).engine.is_ok()).collect();
    (alive, started.elapsed().as_secs_f64() / looked.max(1) as f64)
}

/// Cells whose update costs as much as what a step of engine and pipe ends costs besides them: tuned-pipe settled
/// with cells of 20 to 2.5 mm takes 1.7 µs a step and 10 ns for each cell of the finest grid.
const CELLS_OF_A_STEP: f64 = 170.0;
/// Pairs of neighbouring points timed.
const PAIRS: usize = 3;

/// What a settled point with pipes costs beside others: cells and the fixed part of a step, times the steps
/// of a turn, as many as a signal crosses cells meanwhile.
fn weight(spec: &EngineSpec, rpm: f64) -> f64 {
    (spec.pipe_length() / spec.cell + CELLS_OF_A_STEP) / (rpm * spec.cell)
}

/// Seconds for a [`weight`] of one: from cold, and from the point before.
fn rates(job: &Job, alive: &[u64]) -> Option<[f64; 2]> {
    let speeds = &job.sweep.plan().speeds;
    let mut sums = [[0.0; 2]; 2];
    for i in 0..PAIRS {
        let combination = *alive.get(i * (alive.len() - 1) / (PAIRS - 1))?;
        let at = (i * (speeds.len() - 1) / (PAIRS - 1)).min(speeds.len().saturating_sub(2));
        let spec = job.sweep.build(combination).engine.ok()?;
        let engine = Engine::new(&spec).ok()?;
        let pair = &speeds[at..speeds.len().min(at + 2)];
        let models = pair.iter().map(|rpm| engine.at_speed(*rpm).map(Arc::new)).collect();
        let mut chain = Some(Chain { index: 0, models });
        let clock = RefCell::new(Instant::now());
        solve(&Settings::sweep(), &mut || chain.take(), &mut |_, place, _| {
            let took = clock.replace(Instant::now()).elapsed().as_secs_f64();
            sums[place][0] += took;
            sums[place][1] += weight(&spec, pair[place]);
        });
    }
    let [cold, chained] = sums.map(|[seconds, weights]| seconds / weights);
    Some([cold, if chained.is_finite() { chained } else { cold }])
}

/// Seconds for a chain on average, of the combinations looked at.
fn modelled(job: &Job, alive: &[u64], [cold, chained]: [f64; 2]) -> f64 {
    let speeds = &job.sweep.plan().speeds;
    let chains = job.sweep.chains_of_one() as usize;
    let sum = |combination: &u64| {
        let Ok(spec) = job.sweep.build(*combination).engine else { return 0.0 };
        let points = speeds.iter().enumerate().map(|(i, rpm)| {
            let first = i % speeds.len().div_ceil(chains) == 0;
            weight(&spec, *rpm) * if first { cold } else { chained }
        });
        points.sum::<f64>() / chains as f64
    };
    alive.iter().map(sum).sum::<f64>() / alive.len().max(1) as f64
}

/// Seconds a chain takes, bytes of all rows of the chains that were run, how many were run, and what was
/// done to know it.
struct Cost {
    each: f64,
    bytes: u64,
    run: u64,
    words: String,
}

/// Times some chains as they are.
fn timed(job: &Job, alive: &[u64]) -> Cost {
    let run = (alive.len() as u64).min(TIMED);
    let started = Instant::now();
    let mut bytes = 0;
    for i in 0..run {
        let combination = alive[(i * alive.len() as u64 / run) as usize];
        bytes += worker::alone(job, combination * job.sweep.chains_of_one()).rows.len() as u64;
    }
    let each = started.elapsed().as_secs_f64() / run.max(1) as f64;
    Cost { each, bytes, run, words: format!("Timed: {run} chains, {:.0} ms each", 1e3 * each) }
}

/// Models what chains with pipes take, where the plan has pipes and speeds.
fn with_pipes(job: &Job, alive: &[u64]) -> Option<Cost> {
    let spec = job.sweep.build(*alive.first()?).engine.ok()?;
    if !spec.has_pipes() || job.sweep.plan().speeds.is_empty() {
        return None;
    }
    let rates = rates(job, alive)?;
    let each = modelled(job, alive, rates);
    let [cold, chained] = rates.map(|rate| 1e3 * rate * weight(&spec, job.sweep.plan().speeds[0]));
    let words = format!(
        "Timed: {PAIRS} pairs of points. From them, by cells and steps: {cold:.0} ms for the first point from cold, {chained:.0} ms from a neighbour, {:.0} ms a chain",
        1e3 * each
    );
    Some(Cost { each, bytes: 0, run: 0, words })
}

/// The report.
pub(crate) fn report(job: &Job, shard: Shard, threads: usize) -> String {
    let sweep = &job.sweep;
    let combinations = sweep.combinations();
    let looked = combinations.min(LOOKED_AT);
    let (alive, looking) = look(job, looked);
    let refused = looked - alive.len() as u64;
    let Cost { each, bytes, run, words } =
        with_pipes(job, &alive).unwrap_or_else(|| timed(job, &alive));
    let chains = shard.chains(sweep.chains());
    let share = alive.len() as f64 / looked.max(1) as f64;
    let per_chain = sweep.rows() as f64 / sweep.chains_of_one() as f64;
    let seconds = chains as f64 * (share * each + looking) / threads as f64;
    let row = bytes as f64 / (run.max(1) as f64 * per_chain).max(1.0);
    let rows = chains as f64 * per_chain;
    // some three hundred bytes where no row has been seen
    let size = rows * row.max(if run == 0 { 300.0 } else { 60.0 });
    let size = if size < 1e5 {
        format!("{:.0} kB", (size / 1e3).ceil())
    } else {
        format!("{:.1} MB", size / 1e6)
    };
    let mut out = String::new();
    // writing to a String cannot fail
    let _ = writeln!(
        out,
        "{} cases: {combinations} combinations{}, in {} chains{}.",
        sweep.cases(),
        match sweep.plan().speeds.len() {
            0 => ", geometry only".to_owned(),
            speeds => format!(" at {speeds} speeds"),
        },
        sweep.chains(),
        if shard == Shard::WHOLE {
            String::new()
        } else {
            format!(", {chains} of them in shard {shard}")
        },
    );
    let _ = writeln!(
        out,
        "Refused before simulation: {refused} of {looked} combinations looked at ({:.0} %).",
        100.0 * refused as f64 / looked.max(1) as f64,
    );
    let _ = writeln!(out, "{words}; {:.1} µs to build a combination.", 1e6 * looking);
    let _ = writeln!(
        out,
        "On {threads} threads it takes about {} and {size} of disk. Nothing was written.",
        duration(seconds),
    );
    out
}
