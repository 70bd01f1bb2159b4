//! Verification: the whole engine against the second model, closed forms and its own limits.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use std::sync::Arc;

use freshcharge_sim::cycle::{Settings, WithoutPipes, run_from, settle};
use freshcharge_sim::engine::scavenging::ExitCurve;
use freshcharge_sim::gas::Gas;
use freshcharge_sim::model::{Engine, Model};
use freshcharge_sim::network::layout::{BURNED, ENERGY, Layout, MASS};
use freshcharge_sim::result::{COLUMNS, Point, TraceEvent};
use freshcharge_sim::scenario::{self, Scenario};
use freshcharge_sim::spec::{ModelVersion, ScavengingLaw};
use freshcharge_sim::units::{DEG, TURN};
use freshcharge_validation::{Tolerance, reference};

const TOURING: &str = include_str!("../../scenarios/touring.toml");
const SHORT: &str = include_str!("../../scenarios/short-blowdown.toml");

fn read(text: &str) -> Scenario {
    scenario::read(text).unwrap_or_else(|faults| panic!("{faults:#?}"))
}

fn model(text: &str, rpm: f64) -> Model {
    Engine::new(&read(text).spec).unwrap().at_speed(rpm).unwrap()
}

fn settled(model: Model, settings: &Settings) -> Point {
    let point = settle(&Arc::new(model), settings).unwrap();
    assert!(point.verdict.settled(), "{:?}", point.verdict);
    point
}

fn value(point: &Point, key: &str) -> f64 {
    let column = COLUMNS.iter().find(|c| c.key == key).unwrap_or_else(|| panic!("{key}"));
    (column.value)(point).unwrap_or(f64::NAN)
}

#[test]
fn the_second_model_gives_the_same_numbers() {
    let table = reference!("reference_model.csv");
    let near = Tolerance::relative(1e-3, "demanded; seen 5e-5 in backflow, 3e-6 elsewhere")
        .or_absolute(1e-9);
    let mut points: Vec<(String, f64, Point)> = Vec::new();
    for row in 0..table.len() {
        let (name, rpm) = (table.text(row, "scenario"), table.number(row, "rpm"));
        let known = points.iter().position(|(n, r, _)| n == name && (r - rpm).abs() < 0.5);
        let index = known.unwrap_or_else(|| {
            let text = if name.starts_with("touring") { TOURING } else { SHORT };
            // the table was computed with one zone
            let mut spec = read(text).with_model(ModelVersion::ONE).unwrap().spec;
            if name.ends_with("bare") {
                spec = spec.with_bare_windows();
            }
            let model = Engine::new(&spec).unwrap().at_speed(rpm).unwrap();
            points.push((name.to_owned(), rpm, settled(model, &Settings::single())));
            points.len() - 1
        });
        let key = table.text(row, "quantity");
        let what = format!("{name} {rpm} {key}");
        near.check(&what, value(&points[index].2, key), table.number(row, "value"));
    }
    assert_eq!(points.len(), 6);
}

/// Emptying of the cylinder from an imposed state to transfer opening, written out again with the
/// standard library's functions and classical Runge–Kutta steps.
fn emptied(model: &Model, start: [f64; 3], to: f64) -> f64 {
    let f = &model.case.numbers.figures;
    let gas: &Gas<f64> = &model.case.numbers.gas;
    let crank = &model.case.numbers.crank;
    let heat = &model.case.numbers.heat;
    let window = &read(TOURING).spec.exhaust.windows[0];
    let shape = freshcharge_sim::window::Shape::of(window).unwrap();
    let deck = read(TOURING).spec.stack.deck;
    let pressure = |theta: f64, y: [f64; 3]| {
        let state = gas.at(y[2] / y[0]).from_energy(y[1] / y[0]);
        let volume = f.clearance + f.bore_area * crank.at(theta).drop;
        (y[0] * state.gas_constant * state.temperature / volume, state, volume)
    };
    let rates = |theta: f64, y: [f64; 3]| {
        let (p, state, volume) = pressure(theta, y);
        let here = crank.at(theta);
        let window_area = 0.78 * shape.area_above(here.drop + deck - window.roof_depth);
        let area = (window_area.powi(-2) + f.exit_outward.powi(-2)).powf(-0.5);
        let gamma = state.heat_capacity / (state.heat_capacity - state.gas_constant);
        let critical = (2.0 / (gamma + 1.0)).powf(gamma / (gamma - 1.0));
        let ratio = (f.back_pressure / p).max(critical);
        let psi = (2.0 * gamma / (gamma - 1.0)
            * (ratio.powf(2.0 / gamma) - ratio.powf((gamma + 1.0) / gamma)))
        .sqrt();
        let flow = area * p / (state.gas_constant * state.temperature).sqrt() * psi;
        let mu = 1.458e-6 * state.temperature.powf(1.5) / (state.temperature + 110.4);
        let reynolds = y[0] / volume * heat.piston_speed * heat.bore / mu;
        let h = heat.convective * state.heat_capacity * mu / 0.7 / heat.bore * reynolds.powf(0.7);
        let t = state.temperature;
        let liner = heat.perimeter * (heat.liner_at_top + here.drop);
        let wall = h
            * (heat.head_area * (t - heat.head_wall)
                + heat.crown_area * (t - heat.crown_wall)
                + liner * (t - heat.liner_wall));
        let per = f.time_per_radian;
        let work = p * f.bore_area * here.slope;
        [-flow * per, -(flow * state.enthalpy + wall) * per - work, -flow * y[2] / y[0] * per]
    };
    let steps = 4000;
    let (mut theta, mut y) = (model.timing.exhaust_opens, start);
    let h = (to - theta) / f64::from(steps);
    let moved = |y: [f64; 3], k: [f64; 3], s: f64| std::array::from_fn(|i| y[i] + s * k[i]);
    for _ in 0..steps {
        let k1 = rates(theta, y);
        let k2 = rates(theta + h / 2.0, moved(y, k1, h / 2.0));
        let k3 = rates(theta + h / 2.0, moved(y, k2, h / 2.0));
        let k4 = rates(theta + h, moved(y, k3, h));
        for i in 0..3 {
            y[i] += h / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]);
        }
        theta += h;
    }
    pressure(to, y).0
}

#[test]
fn blowdown_from_an_imposed_state_is_the_independent_emptying() {
    let near = Tolerance::relative(1e-4, "demanded; both integrations are tighter than 1e-6");
    for rpm in [4000.0, 8000.0] {
        for (bar, kelvin) in [(3.0, 1300.0), (4.5, 1600.0)] {
            let m = model(TOURING, rpm);
            let (f, gas) = (&m.case.numbers.figures, &m.case.numbers.gas);
            let drop = m.case.numbers.crank.at(m.timing.exhaust_opens).drop;
            let volume = f.clearance + f.bore_area * drop;
            let state = gas.at(0.9).state(kelvin);
            let mass = bar * 1e5 * volume / (state.gas_constant * kelvin);
            let start = [mass, mass * state.energy(), 0.9 * mass];
            let mut y = m.cold_start.clone();
            for (part, value) in [MASS, ENERGY, BURNED].into_iter().zip(start) {
                y[Layout::CYLINDER + part] = value;
            }
            let layout = m.case.choices.layout;
            y[layout.cylinder_old()] = mass;
            let point = run_from(&m, &y, 1, &Settings::single()).unwrap();
            let wanted = emptied(&m, start, m.timing.transfer_opens);
            near.check("pressure at transfer opening", point.summary.cylinder_pressure_to, wanted);
        }
    }
}

/// Headline results.
fn headline(point: &Point) -> [f64; 7] {
    let s = &point.summary;
    [
        s.delivery_ratio,
        s.trapping_efficiency.unwrap(),
        s.cylinder_pressure_eo,
        s.cylinder_pressure_to,
        s.crankcase_pressure_to,
        s.bmep,
        s.peak_pressure,
    ]
}

#[test]
fn ten_times_tighter_integration_moves_no_result() {
    let near = Tolerance::relative(2e-4, "demanded of the settled results");
    for (text, rpm) in [(TOURING, 4000.0), (TOURING, 8000.0), (SHORT, 8000.0)] {
        let usual = settled(model(text, rpm), &Settings::single());
        let without_pipes =
            WithoutPipes { tolerance: 1e-9, repeat: 1e-7, ..WithoutPipes::single() };
        let tight = Settings { without_pipes, ..Settings::single() };
        let tight = settled(model(text, rpm), &tight);
        for (a, b) in headline(&usual).into_iter().zip(headline(&tight)) {
            near.check("headline result", a, b);
        }
        let backflow = (usual.summary.hot_backflow_mass - tight.summary.hot_backflow_mass)
            / tight.summary.delivered_fresh;
        assert!(backflow.abs() < 1e-4, "{backflow:e}");
    }
}

#[test]
fn a_tenfold_thinner_regularised_layer_moves_no_result() {
    let near = Tolerance::relative(1e-3, "demanded of the settled results");
    for (text, rpm) in [(TOURING, 5000.0), (SHORT, 8000.0)] {
        let usual = settled(model(text, rpm), &Settings::single());
        let mut thin = model(text, rpm);
        thin.case.numbers.figures.epsilon *= 0.1;
        let thin = settled(thin, &Settings::single());
        for (a, b) in headline(&usual).into_iter().zip(headline(&thin)) {
            near.check("headline result", a, b);
        }
        let (a, b) = (&usual.summary, &thin.summary);
        for (x, y) in [
            (a.hot_backflow_mass, b.hot_backflow_mass),
            (a.late_backflow_mass, b.late_backflow_mass),
        ] {
            let moved = (x - y) / b.delivered_fresh;
            assert!(moved.abs() < 1e-3, "{moved:e}");
        }
    }
}

#[test]
fn a_closed_adiabatic_chamber_keeps_its_entropy() {
    // no burning, no walls: compression from exhaust closing to the peak is isentropic
    let text = TOURING.replace("efficiency = 0.88", "efficiency = 0.1");
    let text = format!("{text}\n[heat]\nlaw = \"adiabatic\"\n");
    let mut m = model(&text, 6000.0);
    m.case.numbers.figures.burn_efficiency = 0.0;
    let settings = Settings::single();
    let (point, trace) =
        freshcharge_sim::cycle::settle_traced(&Arc::new(m.clone()), &settings).unwrap();
    let (cylinder, closes) = (&trace.cylinder, trace.event(TraceEvent::ExhaustCloses).unwrap());
    let row = |angle: f64| trace.angle.iter().position(|a| *a >= angle - 1e-11).unwrap();
    let (closed, top) = (row(closes + DEG), row(TURN));
    let b = cylinder.burned_fraction[top];
    // entropy difference ∫cp dT/T − R ln(p₂/p₁) by quadrature over the mixture's own heat capacity
    let (t1, t2) = (cylinder.temperature[closed], cylinder.temperature[top]);
    let gas = &m.case.numbers.gas;
    let cp = |t: f64| gas.at(b).state(t).heat_capacity / t;
    let heat = freshcharge_sim::math::integrate(&cp, t1, t2, 1e-12);
    let ratio = cylinder.pressure[top] / cylinder.pressure[closed];
    let rise = heat - gas.at(b).gas_constant() * ratio.ln();
    assert!(rise.abs() < 1e-4 * heat, "{rise} of {heat}");
    assert!(point.verdict.settled());
}

#[test]
fn scavenging_laws_follow_the_published_curves() {
    let table = reference!("scavenging_models.csv");
    let curves = [
        ("SE_pm", ScavengingLaw::PerfectMixing, 1e-9),
        // the laws that jump are smoothed over 0.02 of purity
        ("SE_pd", ScavengingLaw::PerfectDisplacement, 0.02),
        ("SE_bb_Lpd0.5_s0", ScavengingLaw::TwoPart { displaced: 0.5, short_circuit: 0.0 }, 0.01),
    ];
    for (column, law, allowed) in curves {
        let curve = ExitCurve::of(&law).unwrap();
        let leaving = |x: f64| curve.as_ref().map_or(x, |c| ExitCurve::at(|_| c, x));
        let near = Tolerance::absolute(allowed, "width of the smoothed jump");
        let (mut ratio, mut efficiency) = (0.0, 0.0);
        for row in 0..table.len() {
            // isothermal, constant volume: dη/dS = 1 − y(η)
            let end = table.number(row, "L");
            let steps = 2000;
            let h = (end - ratio) / f64::from(steps);
            for _ in 0..steps {
                let k1 = 1.0 - leaving(efficiency);
                let k2 = 1.0 - leaving(efficiency + 0.5 * h * k1);
                efficiency += h * k2;
            }
            ratio = end;
            near.or_absolute(allowed.max(1e-7)).check(
                column,
                efficiency,
                table.number(row, column),
            );
        }
    }
}

#[test]
fn lowering_only_the_exhaust_roof_brings_more_gas_back() {
    let base = read(TOURING);
    let mut last: Option<Point> = None;
    for lower in [0.0, 0.4, 0.8, 1.2] {
        let spec = base.with("exhaust.window[0].roof_depth_mm", 33.1 + lower).unwrap().spec;
        let m = Engine::new(&spec).unwrap().at_speed(7000.0).unwrap();
        let point = settled(m, &Settings::single());
        if let Some(before) = &last {
            let (a, b) = (&before.summary, &point.summary);
            assert!(b.cylinder_pressure_to > a.cylinder_pressure_to);
            assert!(b.hot_backflow_mass > a.hot_backflow_mass);
        }
        last = Some(point);
    }
}
