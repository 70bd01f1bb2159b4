//! The cases the benches share, and the yardstick: a general-purpose integrator on the same
//! right-hand side.

use std::cell::RefCell;
use std::sync::Arc;

use freshcharge_sim::cycle::{Chain, Settings, solve};
use freshcharge_sim::model::{Engine, EventKind, Model};
use freshcharge_sim::network::Network;
use freshcharge_sim::network::layout::{BURNED, Layout, MASS};
use freshcharge_sim::ode::System as _;
use freshcharge_sim::scenario;
use nalgebra::DVector;
use ode_solvers::{Dopri5, System};

/// A shipped scenario at a speed [1/min].
///
/// # Panics
/// When the scenario cannot be read: the tests would have said so.
#[must_use]
pub fn model(name: &str, rpm: f64) -> Arc<Model> {
    Arc::new(engine(name).at_speed(rpm).unwrap_or_else(|error| panic!("{error}")))
}

/// A shipped scenario; `touring-bare` is touring without the inertia of its gas columns.
///
/// # Panics
/// When the scenario cannot be read.
#[must_use]
pub fn engine(name: &str) -> Engine {
    let text = match name {
        "touring" | "touring-bare" => include_str!("../../scenarios/touring.toml"),
        "utility" => include_str!("../../scenarios/utility.toml"),
        "tuned-pipe" => include_str!("../../scenarios/tuned-pipe.toml"),
        "box-silencer" => include_str!("../../scenarios/box-silencer.toml"),
        "disc-valve" => include_str!("../../scenarios/disc-valve.toml"),
        _ => include_str!("../../scenarios/short-blowdown.toml"),
    };
    let scenario = scenario::read(text).unwrap_or_else(|faults| panic!("{faults:?}"));
    let bare = name.ends_with("bare");
    let spec = if bare { scenario.spec.with_bare_windows() } else { scenario.spec };
    Engine::new(&spec).unwrap_or_else(|error| panic!("{error}"))
}

/// The right-hand side as the yardstick's crate wants it.
struct Rates<'a> {
    network: &'a RefCell<Network<f64>>,
    integrals: RefCell<Vec<f64>>,
}

impl System<f64, DVector<f64>> for Rates<'_> {
    fn system(&self, theta: f64, y: &DVector<f64>, dy: &mut DVector<f64>) {
        let mut integrals = self.integrals.borrow_mut();
        self.network.borrow_mut().rates(
            theta,
            y.as_slice(),
            dy.as_mut_slice(),
            &mut integrals,
            false,
        );
    }
}

/// What changes at an event.
fn pass(network: &mut Network<f64>, kind: EventKind, y: &DVector<f64>) {
    match kind {
        EventKind::TransferOpens => network.phase.scavenging = 1.0,
        EventKind::ExhaustCloses => {
            network.phase.scavenging = 0.0;
            network.phase.charge = y[Layout::CYLINDER + MASS] - y[Layout::CYLINDER + BURNED];
        }
        EventKind::BurnStarts => network.phase.burning = 1.0,
        EventKind::BurnEnds => network.phase.burning = 0.0,
        _ => {}
    }
}

/// Integrates from one event to the next; false when the crate gives up.
fn advance(
    network: &RefCell<Network<f64>>,
    (from, to): (f64, f64),
    y: &mut DVector<f64>,
    tolerance: f64,
) -> bool {
    let quadratures = network.borrow().choices().layout.quadratures();
    let rates = Rates { network, integrals: RefCell::new(vec![0.0; quadratures]) };
    let step = to - from;
    // about the tolerance times the mass in the crankcase, as the engine scales its own
    let absolute = tolerance * 5e-4;
    // the crate's own settings, but for the limits on steps and on stiffness, which would end the
    // integration where the pressures have nearly equalised
    let mut solver = Dopri5::from_param(
        rates,
        from,
        to,
        step,
        y.clone(),
        tolerance,
        absolute,
        0.9,
        0.04,
        0.2,
        10.0,
        step,
        0.0,
        1_000_000,
        u32::MAX,
        ode_solvers::dop_shared::OutputType::Sparse,
    );
    if solver.integrate().is_err() {
        return false;
    }
    if let Some(end) = solver.y_out().last() {
        y.clone_from(end);
    }
    true
}

/// Largest change of mass and burned share of cylinder and crankcase over a cycle.
fn change(before: &DVector<f64>, after: &DVector<f64>) -> f64 {
    let mut worst = 0.0_f64;
    for at in [Layout::CYLINDER, Layout::CRANKCASE] {
        let share = |y: &DVector<f64>| y[at + BURNED] / y[at + MASS];
        let mass = (after[at + MASS] / before[at + MASS] - 1.0).abs();
        worst = worst.max(mass).max((share(after) - share(before)).abs());
    }
    worst
}

/// Settles a model by plain repetition with `ode_solvers`' Dopri5 from event to event, to a change of
/// `repeat` in masses and burned shares; gives the cycles it took, none when it gave up.
#[must_use]
pub fn settle_with_yardstick(model: &Model, tolerance: f64, repeat: f64) -> Option<u32> {
    let network = RefCell::new(Network::<f64>::new(&model.case));
    let layout = model.case.choices.layout;
    let mut y = DVector::from_row_slice(&model.cold_start);
    for cycle in 1..200 {
        let before = y.clone();
        y[layout.cylinder_old()] = y[Layout::CYLINDER + MASS];
        network.borrow_mut().phase = freshcharge_sim::network::Phase::default();
        let mut from = model.timing.exhaust_opens;
        for event in &model.events {
            if event.angle - from > 1e-9 {
                if !advance(&network, (from, event.angle), &mut y, tolerance) {
                    return None;
                }
                from = event.angle;
            }
            pass(&mut network.borrow_mut(), event.kind, &y);
        }
        if change(&before, &y) < repeat {
            return Some(cycle);
        }
    }
    None
}

/// An engine at a speed, ready to run.
pub type Case = Arc<Model>;

/// `count` speeds of a scenario, from 3000 to 9000/min.
///
/// # Panics
/// When the scenario cannot be read.
#[must_use]
pub fn speeds(name: &str, count: usize) -> Vec<Case> {
    let engine = engine(name);
    (0..count).map(|i| at(&engine, i as f64 / (count - 1) as f64)).collect()
}

/// `count` cases of bare touring engines that vary spacer, exhaust and transfer timing and speed: every
/// `chain` of them the same engine at rising speeds.
///
/// # Panics
/// When the scenario cannot be read or changed.
#[must_use]
pub fn cases(count: usize, chain: usize) -> Vec<Case> {
    let text = include_str!("../../scenarios/touring.toml");
    let base = scenario::read(text).unwrap_or_else(|faults| panic!("{faults:?}"));
    // additive sequences without a pattern between them
    let spread = |i: usize, step: f64| (i as f64 * step).fract();
    let engine = |i: usize| {
        let changes = [
            ("stack.base_total_mm", 0.4 + 0.6 * spread(i, 0.618_034)),
            ("exhaust.window.roof_depth_mm", 32.6 + spread(i, 0.754_878)),
        ];
        let changed = base.with_all(&changes).unwrap_or_else(|faults| panic!("{faults:?}"));
        let spec = changed.spec.with_bare_windows();
        Engine::new(&spec).unwrap_or_else(|error| panic!("{error}"))
    };
    let mut all = Vec::new();
    for i in 0..count / chain {
        let engine = engine(i);
        for place in 0..chain {
            let share = if chain == 1 { spread(i, 0.569_840) } else { place as f64 / 15.0 };
            all.push(at(&engine, share));
        }
    }
    all
}

/// The engine at a share of the way from 3000 to 9000/min.
fn at(engine: &Engine, share: f64) -> Case {
    Arc::new(engine.at_speed(3000.0 + 6000.0 * share).unwrap_or_else(|error| panic!("{error}")))
}

/// Settles `count` speeds from 3000 to 9000/min at the sweep's tolerances on one core, in chains of
/// `chain`; gives how many settled.
///
/// # Panics
/// When the scenario cannot be read.
#[must_use]
pub fn settle_many(name: &str, count: usize, chain: usize) -> usize {
    let engine = engine(name);
    let speed = |i: usize| 3000.0 + 6000.0 * i as f64 / (count - 1) as f64;
    let mut next = 0;
    let mut source = || {
        let first = next;
        next += chain;
        let models = (first..next.min(count)).map(|i| engine.at_speed(speed(i)).map(Arc::new));
        (first < count).then(|| Chain { index: first, models: models.collect() })
    };
    let mut settled = 0;
    solve(&Settings::sweep(), &mut source, &mut |_, _, point| {
        settled += usize::from(point.is_ok_and(|p| p.verdict.settled()));
    });
    settled
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_yardstick_settles_too() {
        let cycles = settle_with_yardstick(&model("touring", 8000.0), 1e-7, 1e-5);
        assert!(cycles.is_some_and(|c| c > 10), "{cycles:?}");
    }
}
