//! One settled point from cold, and the yardstick beside it: the same right-hand side under
//! `ode_solvers`' Dopri5 at the same tolerance, repeated plainly to the same change.

use std::sync::Arc;

use divan::{Bencher, counter::ItemsCount};
use freshcharge_benches::{engine, model, settle_many, settle_with_yardstick};
use freshcharge_sim::cycle::{Chain, Settings, run_from, settle, solve};

fn main() {
    divan::main();
}

const SPEEDS: [f64; 4] = [4000.0, 6000.0, 8000.0, 9000.0];

#[divan::bench(args = SPEEDS)]
fn touring(bencher: Bencher, rpm: f64) {
    let model = model("touring", rpm);
    bencher.bench_local(|| settle(&model, &Settings::single()));
}

#[divan::bench(args = SPEEDS)]
fn touring_bare(bencher: Bencher, rpm: f64) {
    let model = model("touring-bare", rpm);
    bencher.bench_local(|| settle(&model, &Settings::single()));
}

#[divan::bench(args = SPEEDS, sample_count = 10)]
fn touring_bare_yardstick(bencher: Bencher, rpm: f64) {
    let model = model("touring-bare", rpm);
    bencher.bench_local(|| settle_with_yardstick(&model, 1e-8, 1e-6));
}

#[divan::bench(args = [4000.0, 6000.0])]
fn utility(bencher: Bencher, rpm: f64) {
    let model = model("utility", rpm);
    bencher.bench_local(|| settle(&model, &Settings::single()));
}

/// An engine with a tuned pipe in 10 mm cells, from cold; [`disc_valve`] is the same without.
#[divan::bench(args = [6000.0, 8000.0, 9500.0], sample_count = 5)]
fn tuned_pipe(bencher: Bencher, rpm: f64) {
    let model = model("tuned-pipe", rpm);
    bencher.bench_local(|| settle(&model, &Settings::single()));
}

/// Thirteen speeds of an engine with pipes, of which the first is given [1/min], by 500: each from cold, or in
/// one chain (as items a second; one over it is the mean time of a point).
#[divan::bench(args = BANDS, sample_count = 5)]
fn band_cold(bencher: Bencher, (name, first): (&str, f64)) {
    band(bencher, name, first, 1);
}

#[divan::bench(args = BANDS, sample_count = 5)]
fn band_chained(bencher: Bencher, (name, first): (&str, f64)) {
    band(bencher, name, first, POINTS);
}

const BANDS: [(&str, f64); 2] = [("tuned-pipe", 6000.0), ("box-silencer", 3000.0)];
const POINTS: usize = 13;

fn band(bencher: Bencher, name: &str, first: f64, points: usize) {
    let engine = engine(name);
    let models: Vec<_> = (0..POINTS)
        .map(|k| Ok(Arc::new(engine.at_speed(first + 500.0 * k as f64).expect("a speed"))))
        .collect();
    bencher.counter(ItemsCount::new(POINTS)).bench_local(|| {
        let mut chains = models
            .chunks(points)
            .enumerate()
            .map(|(index, models)| Chain { index, models: models.to_vec() });
        let mut open = 0;
        solve(&Settings::single(), &mut || chains.next(), &mut |_, _, point| {
            open += usize::from(point.is_ok_and(|p| !p.verdict.settled()));
        });
        open
    });
}

#[divan::bench(args = [6000.0, 8000.0, 9500.0])]
fn disc_valve(bencher: Bencher, rpm: f64) {
    let model = model("disc-valve", rpm);
    bencher.bench_local(|| settle(&model, &Settings::single()));
}

/// One plain cycle from a cold start.
#[divan::bench]
fn one_cycle(bencher: Bencher) {
    let model = model("touring", 6000.0);
    bencher.bench_local(|| run_from(&model, &model.cold_start, 1, &Settings::single()));
}

/// 512 speeds, each from cold, at the sweep's tolerances, on one core.
#[divan::bench(sample_count = 3)]
fn many_speeds_cold() {
    let _ = settle_many("touring-bare", 512, 1);
}

/// The same in chains of 16, each point started from its neighbour.
#[divan::bench(sample_count = 3)]
fn many_speeds_chained() {
    let _ = settle_many("touring-bare", 512, 16);
}
