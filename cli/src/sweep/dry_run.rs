//! What a sweep will take, found by timing a few chains.

use std::fmt::Write;
use std::time::Instant;

use freshcharge_sim::cycle::cost::{MEASURED_ON, expected};
use freshcharge_sim::model::Engine;

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

/// Time of a combination's points by the cost model [s]; none where there is nothing to simulate.
fn foreseen(job: &Job, combination: u64) -> Option<f64> {
    let spec = job.sweep.build(combination).engine.ok()?;
    let engine = Engine::new(&spec).ok()?;
    let (speeds, links) = (&job.sweep.plan().speeds, job.sweep.chains_of_one());
    let link = speeds.len().div_ceil(links.max(1) as usize).max(1);
    let cost = |(i, rpm): (usize, &f64)| {
        engine.at_speed(*rpm).map_or(0.0, |model| expected(&model, i % link > 0).seconds)
    };
    (!speeds.is_empty()).then(|| speeds.iter().enumerate().map(cost).sum())
}

/// The report.
pub(super) fn report(job: &Job, shard: Shard, threads: usize) -> String {
    let sweep = &job.sweep;
    let combinations = sweep.combinations();
    let looked = combinations.min(LOOKED_AT);
    let (alive, looking) = look(job, looked);
    let refused = looked - alive.len() as u64;
    let timed = (alive.len() as u64).min(TIMED);
    let started = Instant::now();
    let mut bytes = 0;
    let chosen = |i: u64| alive[(i * alive.len() as u64 / timed) as usize];
    for i in 0..timed {
        let combination = chosen(i);
        bytes += worker::alone(job, combination * sweep.chains_of_one()).rows.len() as u64;
    }
    let each = started.elapsed().as_secs_f64() / timed.max(1) as f64;
    let chains = shard.chains(sweep.chains());
    let share = alive.len() as f64 / looked.max(1) as f64;
    let per_chain = sweep.rows() as f64 / sweep.chains_of_one() as f64;
    let seconds = chains as f64 * (share * each + looking) / threads as f64;
    let row = bytes as f64 / (timed.max(1) as f64 * per_chain).max(1.0);
    let rows = chains as f64 * per_chain;
    let size = rows * row.max(60.0) / 1e6;
    let foreseen: Option<f64> = (0..timed).map(|i| foreseen(job, chosen(i))).sum();
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
    let _ = writeln!(
        out,
        "Timed: {timed} chains, {:.0} ms each; {:.1} µs to build a combination.",
        1e3 * each,
        1e6 * looking,
    );
    let _ = writeln!(
        out,
        "On {threads} threads it takes about {} and {size:.1} MB of disk. Nothing was written.",
        duration(seconds),
    );
    if let Some(points) = foreseen.filter(|_| timed > 0) {
        let each = points / (timed * sweep.chains_of_one()) as f64;
        let _ = writeln!(
            out,
            "By the cost model about {}: an estimate for {MEASURED_ON}; the timed figure is this machine's.",
            duration(chains as f64 * share * each / threads as f64),
        );
    }
    out
}
