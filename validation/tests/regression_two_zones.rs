//! Regression: frozen results and work counts of every scenario, of version 2 of the model. Re-bless only with a
//! reason.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use std::sync::Arc;

use freshcharge_sim::cycle::{Settings, settle};
use freshcharge_sim::lane::InstructionSet;
use freshcharge_sim::model::Engine;
use freshcharge_sim::result::Point;
use freshcharge_sim::scenario;
use freshcharge_sim::spec::ModelVersion;
use freshcharge_validation::Tolerance;

/// Scenario, its text, speed, delivery ratio, trapping efficiency, bmep [bar], exhaust temperature [K], hot
/// backflow [mg], most evaluations (with pipes: steps).
type Frozen = (&'static str, &'static str, f64, [f64; 5], u64);

const FROZEN: &[Frozen] = &[
    (
        "touring",
        include_str!("../../scenarios/touring.toml"),
        6000.0,
        [0.738158, 0.692652, 5.46328, 958.383, 2.88172],
        18_000,
    ),
    (
        "short-blowdown",
        include_str!("../../scenarios/short-blowdown.toml"),
        6000.0,
        [0.753811, 0.671559, 5.37157, 942.595, 5.07856],
        23_000,
    ),
    (
        "utility",
        include_str!("../../scenarios/utility.toml"),
        5000.0,
        [0.630394, 0.737260, 4.45738, 933.658, 1.55087],
        36_000,
    ),
    (
        "disc-valve",
        include_str!("../../scenarios/disc-valve.toml"),
        9000.0,
        [0.761984, 0.485508, 3.86386, 762.214, 0.741440],
        21_000,
    ),
    (
        "reed",
        include_str!("../../scenarios/reed.toml"),
        8000.0,
        [1.009251, 0.436943, 4.65348, 732.334, 0.736176],
        41_000,
    ),
];

/// The same of engines with pipes, whose verdict rests on headline results steady to 1e-4.
const FROZEN_WITH_PIPES: &[Frozen] = &[
    (
        "tuned-pipe",
        include_str!("../../scenarios/tuned-pipe.toml"),
        9500.0,
        [1.076034, 0.585195, 7.22645, 783.343, 7.06940],
        10_500,
    ),
    (
        "box-silencer",
        include_str!("../../scenarios/box-silencer.toml"),
        5000.0,
        [0.553691, 0.777974, 4.47127, 855.130, 0.903832],
        18_500,
    ),
];

const NAMES: [&str; 5] =
    ["delivery ratio", "trapping efficiency", "bmep", "exhaust temperature", "backflow"];

fn point(text: &str, rpm: f64, settings: &Settings) -> Point {
    let scenario = scenario::read(text).unwrap_or_else(|faults| panic!("{faults:#?}"));
    let spec = scenario.with_model(ModelVersion::TWO).unwrap().spec;
    let model = Engine::new(&spec).unwrap().at_speed(rpm).unwrap();
    settle(&Arc::new(model), settings).unwrap()
}

/// What is frozen of a point.
fn figures(p: &Point) -> [f64; 5] {
    let s = &p.summary;
    [
        s.delivery_ratio,
        s.trapping_efficiency.unwrap(),
        s.bmep / 1e5,
        s.exhaust_temperature,
        s.hot_backflow_mass * 1e6,
    ]
}

fn as_frozen(table: &[Frozen], near: Tolerance, backflow: Tolerance, work: fn(&Point) -> u64) {
    let points: Vec<Point> =
        table.iter().map(|(_, text, rpm, ..)| point(text, *rpm, &Settings::single())).collect();
    for ((name, ..), p) in table.iter().zip(&points) {
        let [a, b, c, d, e] = figures(p);
        println!("{name}: [{a:.6}, {b:.6}, {c:.5}, {d:.3}, {e:.6}], {}, {:?}", work(p), p.verdict);
    }
    for ((name, _, _, frozen, most), p) in table.iter().zip(&points) {
        assert!(p.verdict.settled(), "{name}: {:?}", p.verdict);
        for (i, (value, frozen)) in figures(p).into_iter().zip(frozen).enumerate() {
            let tolerance = if i == 4 { &backflow } else { &near };
            tolerance.check(&format!("{name}, model 2: {}", NAMES[i]), value, *frozen);
        }
        assert!(work(p) <= *most, "{name}: {} of work, frozen at {most}", work(p));
    }
}

#[test]
fn results_and_work_of_two_zones_are_as_frozen() {
    let near = Tolerance::relative(2e-5, "repeat limit of 1e-6 and printed digits");
    let backflow =
        Tolerance::relative(2e-4, "difference of nearly equal pressures, printed digits");
    as_frozen(FROZEN, near, backflow, |p| p.work.evaluations);
}

#[test]
fn results_and_work_of_two_zones_with_pipes_are_as_frozen() {
    let near = Tolerance::relative(2e-4, "headline results steady to 1e-4");
    let backflow = Tolerance::relative(1e-3, "difference of nearly equal pressures");
    as_frozen(FROZEN_WITH_PIPES, near, backflow, |p| p.work.steps);
}

#[test]
fn every_instruction_set_gives_two_zones_the_same_bits() {
    let sets = InstructionSet::available();
    for (name, text, rpm, ..) in FROZEN {
        let on = |instructions| point(text, *rpm, &Settings { instructions, ..Settings::sweep() });
        let first = on(sets[0]);
        for set in &sets[1..] {
            assert_eq!(on(*set), first, "{name} on {set:?}");
        }
    }
}
