//! A plausible state at exhaust opening to begin with.

use crate::gas::Gas;
use crate::network::layout::{BURNED, ENERGY, Layout, MASS, OLD};

/// Pressures over ambient, temperatures [K] and burned shares at the start.
const CYLINDER: (f64, f64, f64) = (3.5, 1300.0, 0.93);
const CRANKCASE: (f64, f64, f64) = (1.2, 330.0, 0.02);
const SILENCER: (f64, f64, f64) = (1.0, 700.0, 0.85);

/// Volumes at exhaust opening [m³].
pub(super) struct Volumes {
    pub(super) cylinder: f64,
    pub(super) crankcase: f64,
    pub(super) silencer: f64,
}

/// State vector at exhaust opening for a cold start.
pub(super) fn cold_start(layout: &Layout, gas: &Gas<f64>, ambient: f64, at: &Volumes) -> Vec<f64> {
    let mut y = vec![0.0; layout.states()];
    let mut fill = |index: usize, volume: f64, (over, t, b): (f64, f64, f64)| {
        let state = gas.at(b).state(t);
        let mass = over * ambient * volume / (state.gas_constant * t);
        y[index + MASS] = mass;
        y[index + ENERGY] = mass * state.energy();
        y[index + BURNED] = mass * b;
        mass
    };
    let cylinder = fill(Layout::CYLINDER, at.cylinder, CYLINDER);
    let crankcase = fill(Layout::CRANKCASE, at.crankcase, CRANKCASE);
    let silencer =
        if layout.silencer { fill(layout.silencer(), at.silencer, SILENCER) } else { 0.0 };
    y[layout.cylinder_old()] = cylinder;
    y[layout.silencer_old()] = silencer * SILENCER.2;
    y[layout.crankcase_tracers() + OLD] = crankcase * CRANKCASE.2;
    y
}
