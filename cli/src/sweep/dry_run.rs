//! What a sweep will take, found by timing a few chains.

use std::fmt::Write;
use std::time::Instant;

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
    for i in 0..timed {
        let combination = alive[(i * alive.len() as u64 / timed) as usize];
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
    out
}
