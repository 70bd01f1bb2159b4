//! Invariants of random engines: mirrored and scaled ones give mirrored and scaled results, and results move the way
//! physics says when one thing is changed.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::cycle::{Settings, simulate};
use freshcharge_sim::result::{Point, Summary};
use freshcharge_sim::scenario;
use freshcharge_sim::spec::EngineSpec;
use freshcharge_validation::Tolerance;
use freshcharge_validation::random::Sample;
use freshcharge_validation::trial;

fn spec(text: &str) -> EngineSpec {
    scenario::read(text).unwrap_or_else(|faults| panic!("{faults:#?}\n{text}")).spec
}

fn settled(text: &str, rpm: f64) -> Option<Point> {
    let point = simulate(&spec(text), rpm, &Settings::single()).unwrap();
    point.verdict.settled().then_some(point)
}

/// What has no dimension, or pressures and temperatures: the same in an engine and in one scaled.
fn intensive(s: &Summary) -> [(&'static str, f64); 10] {
    [
        ("delivery ratio", s.delivery_ratio),
        ("trapping efficiency", s.trapping_efficiency.unwrap()),
        ("scavenging efficiency", s.scavenging_efficiency),
        ("pressure at exhaust opening", s.cylinder_pressure_eo),
        ("pressure at transfer opening", s.cylinder_pressure_to),
        ("crankcase pressure at transfer opening", s.crankcase_pressure_to),
        ("temperature at transfer opening", s.cylinder_temperature_to),
        ("peak pressure", s.peak_pressure),
        ("imep", s.imep),
        ("fmep", s.fmep),
    ]
}

/// The file with every length times `k`, areas and volumes accordingly: keys carry their unit.
fn scaled(text: &str, k: f64) -> String {
    let power = |key: &str| match key.rsplit('_').next() {
        Some("mm") => 1,
        Some("mm2") => 2,
        Some("cm3") => 3,
        // a flow of heat goes with the flow of mass: volumes by the inverse of the speed
        Some("k") if key.ends_with("w_per_k") => 2,
        // what swings keeps step with the crank
        Some("hz") => -1,
        _ => 0,
    };
    let number = |word: &str, power: i32| {
        format!("{:?}", word.trim().parse::<f64>().unwrap() * k.powi(power))
    };
    let line = |line: &str| match line.split_once(" = ") {
        Some((key, value)) if power(key) != 0 => {
            let inner = value.trim().trim_start_matches('[').trim_end_matches(']');
            let numbers: Vec<String> = inner.split(',').map(|w| number(w, power(key))).collect();
            let (open, close) = if value.contains('[') { ("[", "]") } else { ("", "") };
            format!("{key} = {open}{}{close}", numbers.join(", "))
        }
        _ => line.to_owned(),
    };
    text.lines().map(line).collect::<Vec<_>>().join("\n")
}

/// Without what depends on size: heat by correlations of Reynolds' number, wall friction in pipes.
fn without_size(text: &str) -> String {
    ["annand", "woschni"]
        .iter()
        .fold(text.to_owned(), |text, law| text.replace(law, "adiabatic"))
        .replace("[exhaust.pipe]\n", "[exhaust.pipe]\nfriction = 0.0\nheat = 0.0\n")
        .replace(
            "[inlet_pipe]\n",
            "[inlet_pipe]\nfriction = 0.0\nheat = 0.0\nend_correction = false\n",
        )
        + "[run]\ncells_mm = 10.0\n"
}

#[test]
fn an_engine_scaled_at_the_same_piston_speed_breathes_alike() {
    let volumes = Tolerance::relative(
        3e-4,
        "two searches that end at changes of 1e-6 a cycle, up to a hundred times that from their fixed points",
    );
    let pipes = Tolerance::relative(
        5e-3,
        "two searches that end at an estimated 1e-4 if their slowest mode loses a twentieth a cycle; some lose less",
    );
    let mut compared = 0;
    for index in 0..14 {
        let has_pipes = index % 7 == 0;
        let tolerance = if has_pipes { pipes } else { volumes };
        let Sample { text, rpm } = trial::sample(3, index, has_pipes);
        let plain = without_size(&text);
        for k in [0.6, 1.7] {
            let (Some(one), Some(other)) =
                (settled(&plain, rpm), settled(&scaled(&plain, k), rpm / k))
            else {
                continue;
            };
            for ((what, a), (_, b)) in
                intensive(&one.summary).into_iter().zip(intensive(&other.summary))
            {
                tolerance.or_absolute(1e-4).check(what, b, a);
            }
            let volume = other.summary.delivered_fresh / one.summary.delivered_fresh;
            tolerance.check("delivered mass goes with the cube", volume, k.powi(3));
            compared += 1;
        }
    }
    println!("{compared} pairs");
    assert!(compared >= 24, "{compared}");
}

#[test]
fn a_mirrored_engine_gives_mirrored_results() {
    for index in 0..12 {
        let Sample { text, rpm } = trial::sample(4, index, index % 6 == 0);
        // the left window has another width, so that its mirror image is another engine
        let narrow = text.replacen(
            "centre_deg = -90\nchord_mm = ",
            "centre_deg = -90\nroof_radius_mm = 2.0\nchord_mm = ",
            1,
        );
        let turned = narrow
            .replace("centre_deg = -90", "centre_deg = LEFT")
            .replace("centre_deg = 90", "centre_deg = -90")
            .replace("centre_deg = LEFT", "centre_deg = 90");
        assert_ne!(narrow, turned);
        let settings = Settings::sweep();
        let one = simulate(&spec(&narrow), rpm, &settings).unwrap();
        let other = simulate(&spec(&turned), rpm, &settings).unwrap();
        assert_eq!(one.summary, other.summary, "engine {index}");
        assert_eq!(one.verdict, other.verdict);
    }
}

/// A file with a number changed by its path.
fn with(text: &str, path: &str, value: impl Fn(f64) -> f64) -> Option<String> {
    let (table, key) = path.rsplit_once('.').unwrap();
    let at = text.find(&format!("[{table}]\n"))?;
    let start = at + text[at..].find(&format!("{key} = "))? + key.len() + 3;
    let end = start + text[start..].find('\n')?;
    let new = value(text[start..end].parse().ok()?);
    Some(format!("{}{new:?}{}", &text[..start], &text[end..]))
}

type Rule = (&'static str, &'static str, fn(f64) -> f64, fn(&Summary) -> f64, f64);

/// Where flow has time, so that no column of gas turns a rule round [1/min].
const SLOW: f64 = 1500.0;
/// Where a throttle costs more than it keeps from flowing back out of an inlet that closes late [1/min].
const FAST: f64 = 10_000.0;

/// What is changed, how, what is looked at, and which way it must go.
const RULES: [Rule; 7] = [
    (
        "a roof 1 mm higher lowers the pressure at transfer opening",
        "[exhaust.window].roof_depth_mm",
        |x| x - 1.0,
        |s| s.cylinder_pressure_to,
        -1.0,
    ),
    (
        "a roof 1 mm higher raises the pressure at exhaust opening",
        "[exhaust.window].roof_depth_mm",
        |x| x - 1.0,
        |s| s.cylinder_pressure_eo,
        1.0,
    ),
    (
        "more clearance lowers the peak",
        "head.assembled.volume_cm3",
        |x| x * 1.15,
        |s| s.peak_pressure,
        -1.0,
    ),
    (
        "a smaller crankcase is compressed further at low speed",
        "crankcase.volume_cm3",
        |x| x * 0.85,
        |s| s.crankcase_pressure_to,
        1.0,
    ),
    ("leaking rings lower the peak", "leaks.blow_by_mm2", |x| x + 1.5, |s| s.peak_pressure, -1.0),
    (
        "leaking rings put burned gas into the crankcase",
        "leaks.blow_by_mm2",
        |x| x + 1.5,
        |s| s.crankcase_burned_blow_by,
        1.0,
    ),
    (
        "a choked carburettor delivers less at high speed",
        "carburettor.throttle",
        |x| x * 0.1,
        |s| s.delivered_fresh,
        -1.0,
    ),
];

#[test]
fn results_move_the_way_physics_says() {
    for (words, path, change, look, sign) in RULES {
        let mut moved = 0;
        let mut against = Vec::new();
        for index in 0..40 {
            let Sample { text, rpm } = trial::sample(5, index, false);
            let rpm = if words.ends_with("at low speed") {
                SLOW
            } else if words.ends_with("at high speed") {
                FAST
            } else {
                rpm
            };
            let Some(changed) = with(&text, path, change) else { continue };
            let (Some(a), Some(b)) = (settled(&text, rpm), settled(&changed, rpm)) else {
                continue;
            };
            let by = sign * (look(&b.summary) - look(&a.summary));
            if by > 0.0 { moved += 1 } else { against.push((index, rpm, look(&a.summary), by)) }
        }
        println!("{words}: {moved} of {}; against: {against:?}", moved + against.len());
        assert!(against.is_empty() && moved >= 30, "{words}: {against:?}");
    }
}
