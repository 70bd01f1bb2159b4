//! Verification: answers on blowdown against scans, limits in which they must be exact, and what only
//! blow-by can do.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::inquiry::{
    Lever, Reached, apply, counterfactual, difference, point, reach, required,
};
use freshcharge_sim::scenario::{self, Scenario};
use freshcharge_sim::spec::{Discharge, EngineSpec, HeatLaw, Intake};
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
    let mut answered = 0;
    for lever in Lever::ALL {
        if let Reached::At(amount) = reach(&engine, lever, 3000.0).unwrap() {
            let moved = apply(&engine, lever, amount).unwrap();
            let left = difference(&point(&moved.spec, 3000.0).unwrap()) / 1e5;
            Tolerance::absolute(1e-3, "demanded").check(lever.words(), left, 0.0);
            answered += 1;
        }
    }
    assert!(answered >= 3, "{answered}");
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
        Intake::Rotary { discharge, .. } | Intake::PistonPort { discharge, .. } => times(discharge),
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
