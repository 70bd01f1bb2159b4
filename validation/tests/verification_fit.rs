//! Verification: inputs that made synthetic measurements are found again within the bands stated, and inputs
//! that do the same are told as such. The noise is drawn, the engine is a shipped scenario.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::cycle::{Settings, simulate};
use freshcharge_sim::inquiry::{Fit, FitError, Measured, Unknown, fit, predicted};
use freshcharge_sim::result::Point;
use freshcharge_sim::scenario::{self, Scenario};

use rand_pcg::Pcg64;
use rand_pcg::rand_core::{Rng, SeedableRng};

fn engine() -> Scenario {
    scenario::read(include_str!("../../scenarios/short-blowdown.toml")).unwrap()
}

fn unknown(path: &str, low: f64, high: f64) -> Unknown {
    Unknown { path: path.to_owned(), low, high }
}

fn torque(point: &Point) -> Option<f64> {
    Some(point.summary.torque)
}

fn fuel(point: &Point) -> Option<f64> {
    Some(point.summary.fuel_mass * point.rpm)
}

const SPEEDS: [f64; 6] = [3000.0, 4000.0, 5000.0, 6000.0, 7000.0, 8000.0];

/// What an engine gives, as exact measurements with a relative deviation.
fn exact(engine: &Scenario, of: fn(&Point) -> Option<f64>, deviation: f64) -> Vec<Measured> {
    SPEEDS
        .iter()
        .map(|rpm| {
            let point = simulate(&engine.spec, *rpm, &Settings::single()).unwrap();
            let value = of(&point).unwrap();
            Measured { rpm: *rpm, of, value, deviation: deviation * value }
        })
        .collect()
}

/// Two normal numbers (Box and Muller 1958).
fn normal(random: &mut Pcg64) -> f64 {
    let mut share = || (random.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
    let (a, b) = (1.0 - share(), share());
    (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
}

fn noisy(data: &[Measured], seed: u64) -> Vec<Measured> {
    let mut random = Pcg64::seed_from_u64(seed);
    data.iter()
        .map(|m| Measured { value: m.value + m.deviation * normal(&mut random), ..*m })
        .collect()
}

fn within(found: &Fit, truth: &[f64]) -> bool {
    (0..truth.len()).all(|i| (found.values[i] - truth[i]).abs() <= found.half_widths[i])
}

#[test]
fn known_inputs_come_back_within_their_bands() {
    let inputs = [
        unknown("exhaust.discharge_coefficient", 0.65, 0.90),
        unknown("friction.constant_bar", 0.1, 0.7),
    ];
    let truth = [0.82, 0.38];
    let real = engine()
        .with_all(&[(inputs[0].path.as_str(), truth[0]), (inputs[1].path.as_str(), truth[1])])
        .unwrap();
    let mut data = exact(&real, torque, 0.01);
    data.extend(exact(&real, fuel, 0.01));
    // without noise they come back as they were
    let clean = fit(&engine(), &inputs, &data).unwrap();
    assert!((clean.values[0] - truth[0]).abs() < 1e-4, "{clean:?}");
    assert!((clean.values[1] - truth[1]).abs() < 1e-4, "{clean:?}");
    assert!(clean.alike.is_empty() && clean.misfit[1] < 1e-2, "{clean:?}");
    let seeds: Vec<u64> = (1..=20).collect();
    let found: Vec<Fit> = std::thread::scope(|scope| {
        let halves = seeds.chunks(10).map(|half| {
            let (inputs, data) = (&inputs, &data);
            scope.spawn(move || -> Vec<Fit> {
                half.iter().map(|s| fit(&engine(), inputs, &noisy(data, *s)).unwrap()).collect()
            })
        });
        let halves: Vec<_> = halves.collect();
        halves.into_iter().flat_map(|h| h.join().unwrap()).collect()
    });
    let good = found.iter().filter(|f| within(f, &truth)).count();
    println!("{good} of {} seeds within the bands", found.len());
    assert!(good >= 19, "{good} of 20: {found:#?}");
    // bands that say something
    for f in &found {
        assert!(f.half_widths[0] < 0.5 * 0.25 && f.half_widths[1] < 0.5 * 0.6, "{f:?}");
    }
}

#[test]
fn inputs_that_do_the_same_are_told_as_such() {
    // one adds to the pressure lost to friction, the other takes from the fuel that burns: torque alone
    // cannot tell which
    let inputs =
        [unknown("friction.constant_bar", 0.1, 0.7), unknown("combustion.efficiency", 0.75, 0.98)];
    let data = noisy(&exact(&engine(), torque, 0.02), 3);
    let found = fit(&engine(), &inputs, &data).unwrap();
    assert_eq!(found.alike.len(), 1, "{found:?}");
    let (a, b, correlation) = found.alike[0];
    assert_eq!((a, b), (0, 1));
    assert!(correlation > 0.95, "more friction is made up for by more burning: {correlation}");
}

#[test]
fn a_build_held_out_is_told_better_by_the_fitted_inputs() {
    let inputs = [unknown("friction.constant_bar", 0.1, 0.7)];
    let real = |s: &Scenario| s.with(&inputs[0].path, 0.5).unwrap();
    let spaced = engine().with("stack.base_total_mm", 1.2).unwrap();
    let found = fit(&engine(), &inputs, &noisy(&exact(&real(&engine()), torque, 0.01), 5)).unwrap();
    let other = exact(&real(&spaced), torque, 0.01);
    let off = |values: &[f64]| -> f64 {
        let computed = predicted(&spaced, &inputs, values, &other).unwrap();
        other.iter().zip(computed).map(|(m, c)| (c / m.value - 1.0).powi(2)).sum::<f64>().sqrt()
    };
    assert!(off(&found.values) < 0.2 * off(&[engine().value(&inputs[0].path).unwrap()]));
}

#[test]
fn what_cannot_be_fitted_is_said() {
    let data = exact(&engine(), torque, 0.01);
    let wrong = |inputs: &[Unknown], data: &[Measured]| fit(&engine(), inputs, data).unwrap_err();
    let one = unknown("friction.constant_bar", 0.1, 0.7);
    assert_eq!(wrong(&[], &data), FitError::Count(0));
    assert!(matches!(
        wrong(&[unknown("frction.constant_bar", 0.1, 0.7)], &data),
        FitError::Path { .. }
    ));
    assert!(matches!(
        wrong(&[Unknown { high: 0.1, ..one.clone() }], &data),
        FitError::Range { .. }
    ));
    assert!(matches!(wrong(&[one.clone(), one], &data[..1]), FitError::TooFew { .. }));
}
