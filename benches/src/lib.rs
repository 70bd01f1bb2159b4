//! The cases the benches share, and the yardstick: a general-purpose integrator on the same
//! right-hand side.

use std::cell::RefCell;
use std::sync::Arc;

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
    let text = match name {
        "touring" => include_str!("../../scenarios/touring.toml"),
        "utility" => include_str!("../../scenarios/utility.toml"),
        "disc-valve" => include_str!("../../scenarios/disc-valve.toml"),
        _ => include_str!("../../scenarios/short-blowdown.toml"),
    };
    let scenario = scenario::read(text).unwrap_or_else(|faults| panic!("{faults:?}"));
    let engine = Engine::new(&scenario.spec).unwrap_or_else(|error| panic!("{error}"));
    Arc::new(engine.at_speed(rpm).unwrap_or_else(|error| panic!("{error}")))
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

/// Settles a model by plain repetition with `ode_solvers`' Dopri5 from event to event, to a change of
/// `repeat` in masses and burned shares; gives the cycles it took.
#[must_use]
pub fn settle_with_yardstick(model: &Model, tolerance: f64, repeat: f64) -> u32 {
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
                let rates = Rates {
                    network: &network,
                    integrals: RefCell::new(vec![0.0; layout.quadratures()]),
                };
                let (step, absolute) = (event.angle - from, tolerance * 1e-5);
                let mut solver =
                    Dopri5::new(rates, from, event.angle, step, y.clone(), tolerance, absolute);
                if solver.integrate().is_err() {
                    return u32::MAX;
                }
                if let Some(end) = solver.y_out().last() {
                    y.clone_from(end);
                }
                from = event.angle;
            }
            let mut network = network.borrow_mut();
            match event.kind {
                EventKind::TransferOpens => network.phase.scavenging = 1.0,
                EventKind::ExhaustCloses => {
                    network.phase.scavenging = 0.0;
                    network.phase.charge =
                        y[Layout::CYLINDER + MASS] - y[Layout::CYLINDER + BURNED];
                }
                EventKind::BurnStarts => network.phase.burning = 1.0,
                EventKind::BurnEnds => network.phase.burning = 0.0,
                _ => {}
            }
        }
        let change =
            [Layout::CYLINDER, Layout::CRANKCASE].into_iter().fold(0.0_f64, |worst, at| {
                let mass = (y[at + MASS] / before[at + MASS] - 1.0).abs();
                let share =
                    (y[at + BURNED] / y[at + MASS] - before[at + BURNED] / before[at + MASS]).abs();
                worst.max(mass).max(share)
            });
        if change < repeat {
            return cycle;
        }
    }
    u32::MAX
}
