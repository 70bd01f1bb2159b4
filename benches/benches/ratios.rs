//! How many times faster than the yardstick, and how far from a tight reference: 512 speeds, and 512
//! cases that vary timing, spacer and speed together, on one core at the sweep's tolerances. Prints
//! ratios of times taken in the same run, each the fastest of some rounds that take turns.

use std::sync::Arc;
use std::time::Instant;

use freshcharge_benches::{Case, cases, settle_with_yardstick, speeds};
use freshcharge_sim::cycle::{Chain, Settings, WithoutPipes, settle, solve};
use freshcharge_sim::lane::InstructionSet;
use freshcharge_sim::result::Point;

/// Points in a chain.
const CHAIN: usize = 16;
/// The yardstick and the reference take every so manieth point.
const SAMPLE: usize = 16;
const ROUNDS: usize = 3;

/// Seconds this thread has worked, where the system tells; else the clock's. Others on the machine then
/// count less.
fn seconds(since: Instant) -> f64 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let nanoseconds = told.and_then(|text| text.split(' ').next()?.parse::<f64>().ok());
    nanoseconds.map_or_else(|| since.elapsed().as_secs_f64(), |ns| ns * 1e-9)
}

/// Seconds a point.
fn timed(points: usize, work: impl FnOnce()) -> f64 {
    let clock = Instant::now();
    let start = seconds(clock);
    work();
    (seconds(clock) - start) / points as f64
}

/// All points in lanes, in chains of `length`, in the order of the cases.
fn lanes(cases: &[Case], length: usize) -> Vec<Point> {
    let mut found = vec![None; cases.len()];
    let mut chains = cases.chunks(length).enumerate().map(|(index, models)| Chain {
        index,
        models: models.iter().map(|model| Ok(Arc::clone(model))).collect(),
    });
    solve(&Settings::sweep(), &mut || chains.next(), &mut |chain, place, point| {
        found[chain * length + place] = point.ok();
    });
    found.into_iter().map(|point| point.unwrap_or_else(|| panic!("a case failed"))).collect()
}

/// Repeating plainly, it gives up where a cycle is never near enough to the one before.
fn yardstick_settles(model: &Case) -> bool {
    settle_with_yardstick(model, 1e-7, 1e-5).is_some()
}

/// Times a point [s]: yardstick, scalar, lanes from cold, lanes in chains.
fn round(sample: &[&Case], cold: &[Case], chained: &[Case]) -> [f64; 4] {
    let yardstick = timed(sample.len(), || {
        for model in sample {
            assert!(yardstick_settles(model));
        }
    });
    // on other sets a single point makes its probing cycles side by side
    let scalar = Settings { instructions: InstructionSet::Baseline, ..Settings::sweep() };
    let one = timed(cold.len(), || {
        for model in cold {
            assert!(settle(model, &scalar).is_ok());
        }
    });
    let from_cold = timed(cold.len(), || drop(lanes(cold, 1)));
    let in_chains = timed(chained.len(), || drop(lanes(chained, CHAIN)));
    [yardstick, one, from_cold, in_chains]
}

/// Largest relative errors of pressure at transfer opening and delivery ratio.
fn errors(cases: &[Case], length: usize) -> [f64; 2] {
    let without_pipes = WithoutPipes { tolerance: 1e-11, repeat: 1e-8, ..WithoutPipes::single() };
    let tight = Settings { cycles: 400, without_pipes, ..Settings::single() };
    let points = lanes(cases, length);
    let mut worst = [0.0_f64; 2];
    for (model, point) in cases.iter().zip(&points).step_by(SAMPLE) {
        let reference = settle(model, &tight).unwrap_or_else(|error| panic!("{error}"));
        assert!(reference.verdict.settled() && point.verdict.settled());
        let of = |p: &Point| [p.summary.cylinder_pressure_to, p.summary.delivery_ratio];
        for (worst, (a, b)) in worst.iter_mut().zip(of(point).iter().zip(of(&reference))) {
            *worst = worst.max((a / b - 1.0).abs());
        }
    }
    worst
}

fn report(name: &str, cold: &[Case], chained: &[Case]) {
    let all: Vec<&Case> = cold.iter().step_by(SAMPLE).collect();
    let sample: Vec<&Case> = all.iter().copied().filter(|m| yardstick_settles(m)).collect();
    let rounds: Vec<[f64; 4]> = (0..ROUNDS).map(|_| round(&sample, cold, chained)).collect();
    let best: [f64; 4] =
        std::array::from_fn(|i| rounds.iter().map(|r| r[i]).fold(f64::INFINITY, f64::min));
    let [yardstick, one, from_cold, in_chains] = best;
    let (settles, of) = (sample.len(), all.len());
    println!("{name}: yardstick {:.2} ms a point, {settles} of {of} settle", yardstick * 1e3);
    for (what, time) in [("scalar, cold", one), ("lanes, cold", from_cold)] {
        let (ms, over) = (time * 1e3, yardstick / time);
        println!("  {what:<16} {ms:6.3} ms  {over:5.1} times the yardstick");
    }
    let (ms, over) = (in_chains * 1e3, yardstick / in_chains);
    println!("  {:<16} {ms:6.3} ms  {over:5.1} times the yardstick", "lanes, chained");
    println!("  lanes over scalar, cold: {:.2}", one / from_cold);
    for (what, cases, length) in [("cold", cold, 1), ("chained", chained, CHAIN)] {
        let [pressure, delivery] = errors(cases, length);
        println!(
            "  {what}: errors of pressure at transfer opening {pressure:.1e}, of delivery ratio {delivery:.1e}"
        );
    }
}

fn main() {
    let cases_of_speeds = speeds("touring-bare", 512);
    report("512 speeds", &cases_of_speeds, &cases_of_speeds);
    report("512 cases of timing, spacer and speed", &cases(512, 1), &cases(512, CHAIN));
}
