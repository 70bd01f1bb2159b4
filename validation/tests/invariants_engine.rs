//! Invariants: balances, bounds and definitions over scenarios and random engines.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use std::sync::Arc;

use freshcharge_sim::cycle::{Settings, settle};
use freshcharge_sim::model::Engine;
use freshcharge_sim::result::Point;
use freshcharge_sim::scenario;
use freshcharge_validation::{bounds, trial};

const SCENARIOS: [(&str, &str); 4] = [
    ("touring", include_str!("../../scenarios/touring.toml")),
    ("short-blowdown", include_str!("../../scenarios/short-blowdown.toml")),
    ("utility", include_str!("../../scenarios/utility.toml")),
    ("disc-valve", include_str!("../../scenarios/disc-valve.toml")),
];

fn keeps(what: &str, point: &Point) {
    let held = bounds::keeps(point, 1e-11).and_then(|()| bounds::keeps_trapping(point));
    assert_eq!(held, Ok(()), "{what}");
}

#[test]
fn every_scenario_settles_and_balances_at_every_speed() {
    for (name, text) in SCENARIOS {
        let scenario = scenario::read(text).unwrap_or_else(|f| panic!("{f:#?}"));
        let engine = Engine::new(&scenario.spec).unwrap();
        let mut cycles = 0;
        for rpm in &scenario.run_speeds {
            let model = Arc::new(engine.at_speed(*rpm).unwrap());
            let point = settle(&model, &Settings::single()).unwrap();
            let what = format!("{name} at {rpm}");
            assert!(point.verdict.settled(), "{what}: {:?}", point.verdict);
            assert!(point.verdict.residual() <= 1e-6, "{what}");
            assert!(point.verdict.cycles() <= 15, "{what}: {:?}", point.verdict);
            cycles += point.verdict.cycles();
            keeps(&what, &point);
        }
        let mean = f64::from(cycles) / scenario.run_speeds.len() as f64;
        println!("{name}: {mean:.1} cycles on average");
        assert!(mean <= 10.0, "{name}: {mean}");
    }
}

/// Runs random engines: nearly all are engines, all keep their bounds, and of every `share` that settle at most one
/// does not.
fn try_engines(count: usize, pipes: bool, share: usize) {
    let tally = trial::run(1, 0..count, pipes);
    println!("{tally}");
    assert!(tally.broken.is_empty(), "{tally}");
    assert_eq!(tally.refusals() + tally.settled + tally.open() + tally.failures(), count);
    assert!(tally.refusals() * 20 < count, "{tally}");
    assert!((tally.open() + tally.failures()) * share <= tally.settled, "{tally}");
}

#[test]
fn random_engines_keep_every_bound() {
    try_engines(500, false, 100);
}

/// Gas takes many cycles down a pipe, and some engines have no periodic state within the cycles allowed.
#[test]
fn random_engines_with_pipes_keep_every_bound() {
    try_engines(24, true, 5);
}

/// Engines on which an accelerated start leads out of the bounds: the search goes on without it.
#[test]
fn a_bad_accelerated_start_is_given_up() {
    for index in [8171, 12_343, 16_027, 17_100, 25_539, 58_486] {
        let tally = trial::run(1, index..index + 1, false);
        assert_eq!((tally.settled, tally.broken.len()), (1, 0), "{tally}");
    }
}
