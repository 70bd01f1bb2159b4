//! Verification: answers on blowdown against scans, limits in which they must be exact, and what only
//! blow-by can do.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::gas::{Gas, Mixture};
use freshcharge_sim::inquiry::{
    Lever, Reached, apply, counterfactual, difference, point, reach, required, slack,
};
use freshcharge_sim::model::Engine;
use freshcharge_sim::network::layout::Layout;
use freshcharge_sim::network::{Case, Network};
use freshcharge_sim::ode::{StepControl, Stepper, System};
use freshcharge_sim::scenario::{self, Scenario};
use freshcharge_sim::spec::{Discharge, EngineSpec, HeatLaw, Intake};
use freshcharge_sim::window::AreaTable;
use freshcharge_sim::workshop::Facts;
use freshcharge_validation::Tolerance;

fn short() -> Scenario {
    scenario::read(include_str!("../../scenarios/short-blowdown.toml")).unwrap()
}

fn blowdown(scenario: &Scenario) -> f64 {
    Facts::of(&scenario.spec, &[]).get("blowdown_deg").unwrap()
}

#[test]
fn required_blowdown_agrees_with_a_fine_scan() {
    let engine = short();
    let rpm = 5000.0;
    let found = required(&engine, rpm).unwrap();
    // scan the roof in hundredths of a millimetre around the answer for the change of sign
    let roof = found.roof.unwrap();
    let first = (roof / 0.01).floor() * 0.01 - 0.05;
    let mut scanned = None;
    for i in 0..12 {
        let at = first + 0.01 * f64::from(i);
        let raised = apply(&engine, Lever::Roof, at).unwrap();
        if difference(&point(&raised.spec, rpm).unwrap()) <= 0.0 {
            scanned = Some(blowdown(&raised));
            break;
        }
    }
    Tolerance::absolute(0.05, "demanded").check("blowdown", found.equal.unwrap(), scanned.unwrap());
    // (b) lies below (a), and costs what it says
    let harmless = found.harmless.unwrap();
    assert!(harmless < found.equal.unwrap());
    let lower = (0..2000)
        .map(|i| apply(&engine, Lever::Roof, -4.0 + 0.005 * f64::from(i)))
        .find_map(|s| s.ok().filter(|s| blowdown(s) >= harmless))
        .unwrap();
    let real = point(&lower.spec, rpm).unwrap().summary.charging_efficiency;
    let held = counterfactual(&lower.spec, rpm).unwrap().summary.charging_efficiency;
    Tolerance::absolute(3e-4, "a step of 0.005 mm of roof").check("cost", 1.0 - real / held, 0.01);
}

#[test]
fn every_levers_answer_makes_the_pressures_equal() {
    let engine = short();
    for (rpm, least) in [(3000.0, 3), (5000.0, 2), (7000.0, 2)] {
        let mut answered = 0;
        for lever in Lever::ALL {
            if let Reached::At(amount) = reach(&engine, lever, rpm).unwrap() {
                let moved = apply(&engine, lever, amount).unwrap();
                let left = difference(&point(&moved.spec, rpm).unwrap()) / 1e5;
                Tolerance::absolute(1e-3, "demanded").check(lever.words(), left, 0.0);
                answered += 1;
            }
        }
        assert!(answered >= least, "{answered} at {rpm}");
    }
}

#[test]
fn rounded_answers_leave_differences_of_either_sign() {
    let engine = short();
    let rpm = 7000.0;
    let mut timed = 0;
    for lever in Lever::ALL {
        let Reached::At(amount) = reach(&engine, lever, rpm).unwrap() else { continue };
        let slack = slack(&engine, lever, amount, rpm).unwrap();
        // more of a lever always helps, so less leaves some and more leaves none
        assert!(slack.rounded[0] >= -25.0 && slack.rounded[1] <= 25.0, "{lever:?} {slack:?}");
        if let Some(half) = slack.half_degrees {
            assert_eq!(half.angle[1] - half.angle[0], 0.5, "{half:?}");
            assert!(half.left[0].min(half.left[1]) <= 25.0, "{half:?}");
            assert!(half.left[0].max(half.left[1]) >= -25.0, "{half:?}");
            // an eighth of a millimetre or so of roof: tenths of a bar at the most
            assert!(half.left.iter().all(|l| l.abs() < 0.4e5), "{half:?}");
            timed += 1;
        }
    }
    assert!(timed >= 1);
}

/// A network with its piston held where it stands: time goes on, the angle does not.
struct HeldPiston {
    network: Network<f64>,
    angle: f64,
}

impl System<f64> for HeldPiston {
    fn rates(&mut self, _t: f64, y: &[f64], dy: &mut [f64], dq: &mut [f64], observed: bool) {
        self.network.rates(self.angle, y, dy, dq, observed);
    }
}

/// A case of an engine made into the vessel of the closed form: 250 cm³ of a perfect gas behind 20 mm² of
/// exhaust, everything else shut, at the angle where the piston stands at the bottom.
fn closed_form_vessel(spec: &EngineSpec) -> (Case, f64) {
    let mut spec = spec.with_bare_windows();
    spec.heat.law = HeatLaw::Adiabatic;
    spec.crankcase.wall_conductance = 0.0;
    spec.exhaust.exit_area = None;
    spec.exhaust.silencer = None;
    (spec.leaks.blow_by, spec.leaks.crankcase) = (0.0, 0.0);
    let engine = Engine::new(&spec).unwrap();
    let mut case = engine.at_speed(6000.0).unwrap().case;
    let bottom = case.numbers.crank.bottom_angle();
    let open = AreaTable::at(|_| &case.tables.exhaust, case.numbers.crank.at(bottom).drop);
    let air = Mixture { gas_constant: 287.0, low: PERFECT, high: PERFECT };
    case.numbers.gas = Gas::new(&air, &air);
    let f = &mut case.numbers.figures;
    f.time_per_radian = 1.0;
    f.bore_area = 0.0;
    f.clearance = 250e-6;
    f.exhaust_discharge = 20e-6 / open;
    f.back_pressure = 101_325.0;
    f.crankcase_conductance = 0.0;
    f.intake_discharge = 0.0;
    for group in &mut case.numbers.groups {
        group.discharge = 0.0;
    }
    (case, bottom)
}

/// c_p of a perfect gas with γ = 1.4 and R = 287 J/(kg K), and its enthalpy from 0 K.
const PERFECT: [f64; 6] = [3.5 * 287.0, 0.0, 0.0, 0.0, 0.0, 0.0];

#[test]
fn a_held_piston_empties_as_the_closed_form_says() {
    // Table of the closed form: see its header for the sources
    let table = freshcharge_validation::reference!("blowdown_vessel.csv");
    let (case, angle) = closed_form_vessel(&short().spec);
    let layout = case.choices.layout;
    let (mass, temperature) = (5e5 * 250e-6 / (287.0 * 300.0), 300.0);
    let (normed, states, integrals) = (layout.normed(), layout.states(), layout.quadratures());
    let mut stepper = Stepper::<f64>::new(states, normed, integrals);
    let mut fill = |at: usize, mass: f64| {
        stepper.y[at] = mass;
        stepper.y[at + 1] = mass * 2.5 * 287.0 * temperature;
    };
    fill(Layout::CYLINDER, mass);
    fill(Layout::CRANKCASE, mass);
    let start = stepper.y.clone();
    let scale: Vec<f64> = start[..normed].iter().map(|y| y.abs().max(1e-9)).collect();
    let mut held = HeldPiston { network: Network::new(&case), angle };
    let mut control = StepControl::default();
    let (mut t, mut h) = (0.0, 1e-6);
    let near = Tolerance::relative(2e-8, "integrator at 1e-10, ten printed digits");
    let mut compared = 0;
    for row in 0..table.len() {
        let end = table.number(row, "t_s");
        while t < end {
            let lands = t + h >= end;
            let step = if lands { end - t } else { h };
            match control.judge(stepper.attempt(&mut held, t, step, 1e-10, &scale)) {
                Ok(factor) => {
                    stepper.accept(true);
                    t = if lands { end } else { t + step };
                    h = if lands { h.max(step * factor) } else { step * factor };
                }
                Err(factor) => h = step * factor,
            }
        }
        let (m, u) = (stepper.y[0], stepper.y[1]);
        let pressure = 0.4 * u / 250e-6;
        // the last row lies inside the regularised layer
        if pressure >= 101_325.0 * (1.0 + 2.0 * 2e-4) {
            near.check("pressure", pressure, table.number(row, "p_ode_Pa"));
            near.check("mass", m, table.number(row, "m_kg"));
            near.check("temperature", u / (m * 2.5 * 287.0), table.number(row, "T_K"));
            compared += 1;
        }
    }
    assert!(compared >= 8, "{compared}");
    // nothing else moved
    let case_at = Layout::CRANKCASE;
    assert_eq!(stepper.y[case_at..case_at + 2], start[case_at..case_at + 2]);
}

/// The engine with every flow area `share` times as large, walls adiabatic, columns without inertia.
fn scaled(engine: &Scenario, share: f64) -> EngineSpec {
    let mut spec = engine.spec.with_bare_windows();
    spec.heat.law = HeatLaw::Adiabatic;
    spec.crankcase.wall_conductance = 0.0;
    let times = |d: &mut Discharge| {
        if let Discharge::Constant(c) = d {
            *c *= share;
        }
    };
    times(&mut spec.exhaust.discharge);
    if let Some(exit) = &mut spec.exhaust.exit_area {
        *exit *= share;
    }
    for group in &mut spec.transfers {
        times(&mut group.discharge);
    }
    match &mut spec.intake {
        Intake::Rotary { discharge, .. }
        | Intake::PistonPort { discharge, .. }
        | Intake::Reed { discharge, .. } => times(discharge),
    }
    if let Some(carburettor) = &mut spec.carburettor {
        carburettor.discharge *= share;
    }
    spec.leaks.blow_by *= share;
    spec.leaks.crankcase *= share;
    // burning by angle, the same at both speeds
    spec.combustion.start =
        freshcharge_sim::spec::SpeedTable::constant(spec.combustion.start.at(6000.0));
    spec.combustion.duration =
        freshcharge_sim::spec::SpeedTable::constant(spec.combustion.duration.at(6000.0));
    spec
}

#[test]
fn areas_and_speed_scaled_together_change_nothing() {
    let engine = short();
    let a = point(&scaled(&engine, 1.0), 6000.0).unwrap().summary;
    let b = point(&scaled(&engine, 1.2), 7200.0).unwrap().summary;
    let near = Tolerance::relative(1e-6, "repeat limit of the cycle");
    near.check("delivery", b.delivery_ratio, a.delivery_ratio);
    near.check("pressure", b.cylinder_pressure_to, a.cylinder_pressure_to);
    near.check("crankcase", b.crankcase_pressure_to, a.crankcase_pressure_to);
    near.check("charging", b.charging_efficiency, a.charging_efficiency);
    near.or_absolute(1e-12).check("backflow", b.hot_backflow_mass, a.hot_backflow_mass);
    near.check("imep", b.imep, a.imep);
}

#[test]
fn blow_by_alone_is_tagged_as_such() {
    // long blowdown, a crankcase that still pushes when the transfers shut
    let engine = short()
        .with_all(&[
            ("exhaust.window.roof_depth_mm", 25.0),
            ("transfer.main.window.roof_depth_mm", 44.0),
            ("transfer.boost.window.roof_depth_mm", 44.2),
            ("leaks.blow_by_mm2", 0.4),
        ])
        .unwrap();
    let rpm = 9000.0;
    let s = point(&engine.spec, rpm).unwrap().summary;
    assert!(s.hot_backflow_mass < 1e-12 && s.late_backflow_mass < 1e-12, "{s:?}");
    assert!(s.crankcase_burned_fraction > 1e-5);
    let near = Tolerance::absolute(1e-6, "repeat limit of the cycle");
    near.check("hot", s.crankcase_burned_hot, 0.0);
    near.check("late", s.crankcase_burned_late, 0.0);
    near.check("all of it", s.crankcase_burned_blow_by, s.crankcase_burned_fraction);
}

#[test]
fn the_counterfactual_differs_only_where_gas_flows_back() {
    // no backflow: the same engine to the repeat limit
    let engine = short().with("exhaust.window.roof_depth_mm", 25.0).unwrap();
    let (real, held) =
        (point(&engine.spec, 4000.0).unwrap(), counterfactual(&engine.spec, 4000.0).unwrap());
    assert!(real.summary.hot_backflow_mass < 1e-9, "{}", real.summary.hot_backflow_mass);
    Tolerance::relative(1e-5, "repeat limit").check(
        "charging",
        held.summary.charging_efficiency,
        real.summary.charging_efficiency,
    );
    // with backflow none is left and the charge is better
    let (real, held) =
        (point(&short().spec, 7000.0).unwrap(), counterfactual(&short().spec, 7000.0).unwrap());
    assert!(held.summary.hot_backflow_mass < 1e-9, "{}", held.summary.hot_backflow_mass);
    assert!(real.summary.hot_backflow_mass > 1e-6);
    assert!(held.summary.charging_efficiency > real.summary.charging_efficiency);
    assert!(held.summary.balance.mass.abs() < 1e-11 && held.summary.balance.energy.abs() < 1e-11);
}
