//! Verification: the new and the old zone of the cylinder, held at constant pressure and volume against closed
//! forms, and in engines against what a scavenging curve says by its own definition.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use std::sync::Arc;

use freshcharge_sim::cycle::{Settings, settle};
use freshcharge_sim::model::Engine;
use freshcharge_sim::network::Network;
use freshcharge_sim::network::layout::{
    BURNED, ENERGY, Layout, MASS, ZONE_MASS, ZONE_OLD_POTENTIAL,
};
use freshcharge_sim::ode::{StepControl, Stepper, System};
use freshcharge_sim::result::Point;
use freshcharge_sim::scenario;
use freshcharge_sim::spec::{EngineSpec, HeatLaw, ModelVersion, ScavengingLaw};
use freshcharge_validation::Tolerance;

const TOURING: &str = include_str!("../../scenarios/touring.toml");
const DISC_VALVE: &str = include_str!("../../scenarios/disc-valve.toml");
const TUNED_PIPE: &str = include_str!("../../scenarios/tuned-pipe.toml");
const BOX_SILENCER: &str = include_str!("../../scenarios/box-silencer.toml");

const DEFAULT: ScavengingLaw = ScavengingLaw::Curve { k0: 0.0, k1: -1.0, k2: -0.3863 };

fn two_part(displaced: f64) -> ScavengingLaw {
    ScavengingLaw::TwoPart { displaced, short_circuit: 0.0 }
}

/// The engine of a file by version 2 of the model.
fn read(text: &str) -> EngineSpec {
    let scenario = scenario::read(text).unwrap_or_else(|f| panic!("{f:#?}"));
    scenario.with_model(ModelVersion::TWO).unwrap().spec
}

/// The engine's cylinder at bottom dead centre, held there, between a crankcase and an outside that are large
/// and of nearly one pressure.
struct Vessel {
    network: Network<f64>,
    theta: f64,
}

impl System<f64> for Vessel {
    fn rates(&mut self, _: f64, y: &[f64], dy: &mut [f64], dq: &mut [f64], observed: bool) {
        self.network.rates(self.theta, y, dy, dq, observed);
    }
}

/// What has become of the vessel when `ratio` of its volume has been delivered.
#[derive(Debug, Clone, Copy)]
struct Scavenged {
    /// S = ∫V̇_in dt/V.
    ratio: f64,
    /// Mass of the new zone over ρ_n V.
    new: f64,
    /// All mass over ρ_n V.
    all: f64,
    /// Mass share of the new zone.
    share: f64,
}

/// Difference of the pressures on both sides, over themselves: what it does to volumes shows ten times less
/// than the tolerances.
const DRIVE: f64 = 1e-5;
/// Pressure [Pa] and temperature of what comes in [K].
const PRESSURE: f64 = 1e5;
const COLD: f64 = 330.0;
/// Crankcase [m³].
const LARGE: f64 = 100.0;

/// An engine whose gas keeps its heat.
fn without_heat(law: &ScavengingLaw) -> EngineSpec {
    let mut spec = read(TOURING).with_bare_windows();
    spec.scavenging = law.clone();
    spec.exhaust.silencer = None;
    spec.heat.law = HeatLaw::Adiabatic;
    spec.crankcase.wall_conductance = 0.0;
    spec.transfers.iter_mut().for_each(|group| group.wall_conductance = 0.0);
    spec
}

/// The course over S of a cylinder that begins full of gas of this burned share, r times as dense as what
/// comes in.
fn scavenged(law: &ScavengingLaw, sigma: f64, r: f64, burned: f64) -> Vec<Scavenged> {
    let mut case = Engine::new(&without_heat(law)).unwrap().at_speed(6000.0).unwrap().case;
    let theta = case.numbers.crank.bottom_angle();
    let f = &mut case.numbers.figures;
    f.short_circuit = sigma;
    f.back_pressure = PRESSURE;
    f.crankcase_at_top = LARGE;
    let gas = case.numbers.gas;
    let position = case.numbers.crank.at(theta);
    let volume = f.clearance + f.bore_area * position.drop;
    let ambient = f.ambient_pressure;
    let layout = case.choices.layout;
    let mut y = vec![0.0; layout.states()];
    let mut fill = |at: usize, p: f64, v: f64, t: f64, b: f64| {
        let state = gas.at(b).state(t);
        y[at + MASS] = p * v / state.specific_pressure_volume();
        y[at + ENERGY] = y[at + MASS] * state.energy();
        y[at + BURNED] = y[at + MASS] * b;
        y[at + MASS]
    };
    let dense = PRESSURE / gas.at(0.0).state(COLD).specific_pressure_volume();
    let warm = PRESSURE / (r * dense * gas.at(burned).gas_constant());
    let pressure = PRESSURE * (1.0 + 0.5 * DRIVE);
    let mass = fill(Layout::CYLINDER, pressure, volume, warm, burned);
    let case_volume = LARGE - case.numbers.figures.bore_area * position.drop;
    let held = fill(Layout::CRANKCASE, PRESSURE * (1.0 + DRIVE), case_volume, COLD, 0.0);
    y[layout.cylinder_old()] = mass;
    y[layout.zones() + ZONE_OLD_POTENTIAL] = mass * warm * (ambient / pressure).powf(0.25);
    let mut network = Network::new(&case);
    network.phase.scavenging = 1.0;
    let mut vessel = Vessel { network, theta };
    let mut stepper = Stepper::<f64>::new(layout.states(), layout.normed(), layout.quadratures());
    stepper.y[..y.len()].copy_from_slice(&y);
    let scale = vec![mass; layout.normed()];
    let (mut control, mut h) = (StepControl::default(), 1e-6);
    let mut course = Vec::new();
    loop {
        let at = |i: usize| stepper.y[i];
        let (new, all) = (at(layout.zones() + ZONE_MASS), at(Layout::CYLINDER + MASS));
        let full = dense * volume;
        let ratio = (held - at(Layout::CRANKCASE + MASS)) / full;
        course.push(Scavenged { ratio, new: new / full, all: all / full, share: new / all });
        if ratio > 1.6 {
            return course;
        }
        loop {
            let error = stepper.attempt(&mut vessel, 0.0, h, 1e-8, &scale);
            match control.judge(error) {
                Ok(factor) => {
                    stepper.accept(true);
                    h *= factor;
                    break;
                }
                Err(factor) => h *= factor,
            }
        }
    }
}

/// At S = `ratio`, by straight lines between the steps.
fn at(course: &[Scavenged], ratio: f64) -> Scavenged {
    let after = course.partition_point(|s| s.ratio < ratio);
    let (a, b) = (course[after - 1], course[after]);
    let u = (ratio - a.ratio) / (b.ratio - a.ratio);
    let of = |x: f64, y: f64| x + u * (y - x);
    Scavenged { ratio, new: of(a.new, b.new), all: of(a.all, b.all), share: of(a.share, b.share) }
}

const RATIOS: [f64; 4] = [0.3, 0.6, 1.0, 1.5];

#[test]
fn at_equal_density_the_fresh_volume_share_follows_the_curve() {
    let near =
        Tolerance::absolute(1e-4, "passages of the laws 0.04 and 1e-4 wide, pressures 1e-5 apart");
    let measured = ScavengingLaw::Table {
        ratio: vec![0.0, 0.5, 1.0, 2.0, 4.0],
        efficiency: vec![0.0, 0.35, 0.58, 0.85, 0.99],
    };
    type Efficiency = fn(f64) -> f64;
    let closed: [(&str, ScavengingLaw, Efficiency); 4] = [
        ("mixing", ScavengingLaw::PerfectMixing, |s| 1.0 - (-s).exp()),
        ("displacement", ScavengingLaw::PerfectDisplacement, |s| s.min(1.0)),
        ("two-part", two_part(0.4), |s| if s < 0.4 { s } else { 1.0 - 0.6 * (0.4 - s).exp() }),
        ("default curve", DEFAULT, |s| 1.0 - (-s - 0.3863 * s * s).exp()),
    ];
    for (name, law, efficiency) in closed {
        let course = scavenged(&law, 0.0, 1.0, 0.0);
        for s in RATIOS {
            near.check(&format!("{name} at S = {s}"), at(&course, s).share, efficiency(s));
        }
    }
    // a table through its own points; its first slope is below one: the rest is the short circuit's
    let course = scavenged(&measured, 0.0, 1.0, 0.0);
    near.check("table at S = 0.5", at(&course, 0.5).share, 0.35);
    near.check("table at S = 1", at(&course, 1.0).share, 0.58);
}

#[test]
fn displacement_fills_the_volume_whatever_the_old_gas_is_like() {
    let near = Tolerance::absolute(2e-4, "the last 1e-4 of the volume, pressures 1e-5 apart");
    for r in [0.28, 0.5, 1.0] {
        let course = scavenged(&ScavengingLaw::PerfectDisplacement, 0.0, r, 1.0);
        for s in [0.4, 0.8, 1.0, 1.5] {
            let due: f64 = if s < 1.0 { s } else { 1.0 };
            near.check(&format!("displacement, r = {r}, S = {s}"), at(&course, s).new, due);
        }
    }
}

#[test]
fn mixing_and_short_circuit_follow_their_closed_forms_whatever_the_old_gas_is_like() {
    let near = Tolerance::absolute(1e-4, "pressures 1e-5 apart");
    for r in [0.28, 0.6, 1.0] {
        for sigma in [0.0, 0.2, 0.4] {
            let course = scavenged(&ScavengingLaw::PerfectMixing, sigma, r, 1.0);
            for s in RATIOS {
                let what = format!("mixing, r = {r}, short circuit {sigma}, S = {s}");
                let left = (-(1.0 - sigma) * s).exp();
                near.check(&format!("{what}, fresh"), at(&course, s).new, 1.0 - left);
                let all = 1.0 - (1.0 - r) * left;
                near.check(&format!("{what}, all"), at(&course, s).all, all);
            }
        }
    }
}

/// The engine settled with another law and short circuit.
fn point(text: &str, rpm: f64, law: &ScavengingLaw, sigma: f64) -> Point {
    let mut spec = read(text);
    spec.scavenging = law.clone();
    let mut model = Engine::new(&spec).unwrap().at_speed(rpm).unwrap();
    model.case.numbers.figures.short_circuit = sigma;
    let point = settle(&Arc::new(model), &Settings::single()).unwrap();
    assert!(point.verdict.settled(), "{law:?} {sigma}: {:?}", point.verdict);
    point
}

/// For laws that mix, what leaves by the short way is missing in the cylinder, and hot gas stands in its
/// place.
#[test]
fn short_circuit_lowers_charge_and_warms_it() {
    for (name, law) in [("mixing", ScavengingLaw::PerfectMixing), ("default", DEFAULT)] {
        let points = [0.0, 0.1, 0.2].map(|sigma| point(DISC_VALVE, 9000.0, &law, sigma).summary);
        for pair in points.windows(2) {
            let (a, b) = (&pair[0], &pair[1]);
            assert!(b.trapped_mass < a.trapped_mass, "{name}");
            assert!(b.charging_efficiency < a.charging_efficiency, "{name}");
            assert!(b.cylinder_temperature_ec > a.cylinder_temperature_ec, "{name}");
        }
    }
}

/// Gas of the cycle before leaves as it is mixed: what of it is unburned is nowhere sorted out.
#[test]
fn leftovers_leave_with_the_residual_they_are_mixed_in() {
    let near = Tolerance::relative(1e-4, "repeat limit, and gas that came back from the ducts");
    for (name, law) in [
        ("mixing", ScavengingLaw::PerfectMixing),
        ("two-part", two_part(0.35)),
        ("displacement", ScavengingLaw::PerfectDisplacement),
        ("default", DEFAULT),
    ] {
        let s = point(DISC_VALVE, 9000.0, &law, 0.0).summary;
        assert!(s.exhaust_return_mass < 1e-3 * s.trapped_mass, "{name}: {}", s.exhaust_return_mass);
        let burned = s.trapped_mass * (1.0 - s.scavenging_efficiency);
        let at_opening = (s.trapped_mass - burned - s.burned_mass) / (burned + s.burned_mass);
        near.check(&format!("{name}: leftover over burned"), s.leftover_fresh / burned, at_opening);
    }
}

/// The further a curve is from mixing, the more of the charge it keeps.
#[test]
fn charging_and_trapping_move_with_the_curve() {
    let laws = [
        ScavengingLaw::PerfectMixing,
        two_part(0.35),
        two_part(0.6),
        ScavengingLaw::PerfectDisplacement,
    ];
    for (text, rpm) in [(DISC_VALVE, 9000.0), (TOURING, 6000.0)] {
        let points = laws.each_ref().map(|law| point(text, rpm, law, 0.0).summary);
        for pair in points.windows(2) {
            assert!(pair[1].trapping_efficiency > pair[0].trapping_efficiency);
            assert!(pair[1].charging_efficiency > pair[0].charging_efficiency);
            assert!(pair[1].cylinder_temperature_ec < pair[0].cylinder_temperature_ec);
            // hot gas that is displaced leaves hotter than a mixture would
            assert!(pair[1].exhaust_temperature > pair[0].exhaust_temperature);
        }
        // volumes decide: between mixing and displacement lies as much as between their curves, where the
        // one zone of model 1 gains a sixth (measured)
        let gain = points[3].charging_efficiency / points[0].charging_efficiency;
        assert!(gain > 1.4, "{gain}");
    }
}

/// The same with waves: balances at rounding, and the law acts.
#[test]
fn an_engine_with_pipes_has_its_zones_too() {
    let mixing = point(BOX_SILENCER, 5000.0, &ScavengingLaw::PerfectMixing, 0.0).summary;
    let half = point(BOX_SILENCER, 5000.0, &two_part(0.5), 0.0).summary;
    let tuned = point(TUNED_PIPE, 9500.0, &two_part(0.5), 0.0).summary;
    for s in [&mixing, &half, &tuned] {
        let balance = s.balance;
        for value in [balance.mass, balance.burned, balance.energy] {
            assert!(value.abs() < 1e-10, "{balance:?}");
        }
        assert!(s.mixing_rise.is_some_and(|rise| rise.abs() < 0.1), "{s:?}");
    }
    let efficiency = [&mixing, &half].map(|s| s.trapping_efficiency.unwrap());
    assert!(efficiency[1] > efficiency[0] + 0.01, "{efficiency:?}");
}
