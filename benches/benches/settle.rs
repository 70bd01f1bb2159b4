//! One settled point from cold, and the yardstick beside it: the same right-hand side under
//! `ode_solvers`' Dopri5 at the same tolerance, repeated plainly to the same change.

use divan::Bencher;
use freshcharge_benches::{model, settle_with_yardstick};
use freshcharge_sim::cycle::{Settings, settle};

fn main() {
    divan::main();
}

const SPEEDS: [f64; 4] = [4000.0, 6000.0, 8000.0, 9000.0];

#[divan::bench(args = SPEEDS)]
fn touring(bencher: Bencher, rpm: f64) {
    let model = model("touring", rpm);
    bencher.bench_local(|| settle(&model, &Settings::single()));
}

#[divan::bench(args = SPEEDS, sample_count = 10)]
fn touring_yardstick(bencher: Bencher, rpm: f64) {
    let model = model("touring", rpm);
    bencher.bench_local(|| settle_with_yardstick(&model, 1e-8, 1e-6));
}

#[divan::bench(args = [4000.0, 6000.0])]
fn utility(bencher: Bencher, rpm: f64) {
    let model = model("utility", rpm);
    bencher.bench_local(|| settle(&model, &Settings::single()));
}
