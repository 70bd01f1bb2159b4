//! Kernels: functions, flow, one right-hand side.

use divan::{Bencher, black_box};
use freshcharge_benches::model;
use freshcharge_sim::flow::{Upstream, mass_flow};
use freshcharge_sim::lane::{exp, ln};
use freshcharge_sim::network::Network;
use freshcharge_sim::ode::System;

fn main() {
    divan::main();
}

#[divan::bench]
fn exponential() -> f64 {
    exp(black_box(0.37))
}

#[divan::bench]
fn logarithm() -> f64 {
    ln(black_box(0.83))
}

#[divan::bench]
fn orifice() -> f64 {
    let upstream = Upstream {
        pressure: black_box(2.1e5),
        specific_pressure_volume: black_box(287.0 * 900.0),
        kappa: black_box(0.25),
    };
    mass_flow(black_box(2e-4), &upstream, black_box(1.4e5), 2e-4)
}

/// Transfers and exhaust open: the most expensive place.
#[divan::bench]
fn right_hand_side(bencher: Bencher) {
    let model = model("touring", 6000.0);
    let layout = model.case.choices.layout;
    let mut network = Network::<f64>::new(&model.case);
    let (mut dy, mut dq) = (vec![0.0; layout.states()], vec![0.0; layout.quadratures()]);
    bencher.bench_local(|| {
        network.rates(black_box(2.6), &model.cold_start, &mut dy, &mut dq, false);
        dy[0]
    });
}
