//! Prints what two zones in the cylinder change: the laws of scavenging over the short circuit and the speed,
//! all scenarios by both versions of the model, and what both cost.
//!
//! `cargo run --release -p freshcharge-validation --bin zones -- laws|scenarios|cost`

use std::process::ExitCode;
use std::sync::Arc;
use std::time::Instant;

use freshcharge_sim::cycle::{Chain, Settings, settle, solve};
use freshcharge_sim::model::Engine;
use freshcharge_sim::result::{Point, Summary};
use freshcharge_sim::scenario::{self, Scenario};
use freshcharge_sim::spec::{EngineSpec, ModelVersion, ScavengingLaw};

const SCENARIOS: [(&str, &str); 7] = [
    ("touring", include_str!("../../../scenarios/touring.toml")),
    ("short-blowdown", include_str!("../../../scenarios/short-blowdown.toml")),
    ("utility", include_str!("../../../scenarios/utility.toml")),
    ("disc-valve", include_str!("../../../scenarios/disc-valve.toml")),
    ("reed", include_str!("../../../scenarios/reed.toml")),
    ("tuned-pipe", include_str!("../../../scenarios/tuned-pipe.toml")),
    ("box-silencer", include_str!("../../../scenarios/box-silencer.toml")),
];

fn read(text: &str) -> Scenario {
    scenario::read(text).unwrap_or_else(|faults| panic!("{faults:#?}"))
}

fn by(scenario: &Scenario, version: ModelVersion) -> EngineSpec {
    scenario.with_model(version).unwrap_or_else(|faults| panic!("{faults:#?}")).spec
}

/// The settled point; none where it cannot be computed.
fn point(spec: &EngineSpec, rpm: f64, sigma: Option<f64>) -> Option<Point> {
    let mut model = Engine::new(spec).ok()?.at_speed(rpm).ok()?;
    if let Some(sigma) = sigma {
        model.case.numbers.figures.short_circuit = sigma;
    }
    settle(&Arc::new(model), &Settings::single()).ok()
}

fn laws() {
    let two_part = |displaced| ScavengingLaw::TwoPart { displaced, short_circuit: 0.0 };
    let laws = [
        ("mixing", ScavengingLaw::PerfectMixing),
        ("two-part 0.35", two_part(0.35)),
        ("default curve", ModelVersion::TWO.scavenging()),
        ("displacement", ScavengingLaw::PerfectDisplacement),
    ];
    println!(
        "{:<13} {:>6} {:<14} {:>5} | {:^39} | {:^39}",
        "engine", "1/min", "law", "sigma", "model 1", "model 2"
    );
    let head = "charg.  trap.   T_ec K T_exh K trapped mg";
    println!("{:<13} {:>6} {:<14} {:>5} | {head} | {head}", "", "", "", "");
    let figures =
        |p: Option<Point>| {
            p.map_or_else(|| "not computed".to_owned(), |p| {
            let Summary { charging_efficiency, trapped_mass, .. } = p.summary;
            let trapping_efficiency = p.summary.trapping_efficiency.unwrap_or(f64::NAN);
            format!(
                "{charging_efficiency:6.4} {trapping_efficiency:6.4} {:7.1} {:7.1} {:8.2}{}",
                p.summary.cylinder_temperature_ec,
                p.summary.exhaust_temperature,
                trapped_mass * 1e6,
                if p.verdict.settled() { "  " } else { " !" }
            )
        })
        };
    for (name, text, speeds) in [
        (SCENARIOS[3].0, SCENARIOS[3].1, &[9000.0][..]),
        (SCENARIOS[0].0, SCENARIOS[0].1, &[4000.0, 6000.0, 8000.0][..]),
    ] {
        let scenario = read(text);
        for rpm in speeds {
            for (law_name, law) in &laws {
                for sigma in [0.0, 0.1, 0.2] {
                    let told = [ModelVersion::ONE, ModelVersion::TWO].map(|version| {
                        let mut spec = by(&scenario, version);
                        spec.scavenging = law.clone();
                        figures(point(&spec, *rpm, Some(sigma)))
                    });
                    println!(
                        "{name:<13} {rpm:>6.0} {law_name:<14} {sigma:>5} | {:<39} | {:<39}",
                        told[0], told[1]
                    );
                }
            }
        }
    }
}

/// Every speed of every scenario by both versions, as it stands in its file.
fn scenarios() {
    println!(
        "{:<15} {:>6} {:>2} {:>7} {:>7} {:>7} {:>7} {:>7} {:>7} {:>7} {:>7} {:>6} {:>6}",
        "engine",
        "1/min",
        "m",
        "bmep",
        "kW",
        "deliv.",
        "trap.",
        "charg.",
        "T_ec K",
        "T_exh K",
        "bsfc",
        "rise %",
        "cycles"
    );
    for (name, text) in SCENARIOS {
        let scenario = read(text);
        for rpm in &scenario.run_speeds {
            for version in [ModelVersion::ONE, ModelVersion::TWO] {
                let number = version.number();
                let Some(p) = point(&by(&scenario, version), *rpm, None) else {
                    println!("{name:<15} {rpm:>6.0} {number:>2} not computed");
                    continue;
                };
                let s = &p.summary;
                println!(
                    "{name:<15} {rpm:>6.0} {number:>2} {:7.3} {:7.3} {:7.4} {:7.4} {:7.4} {:7.1} {:7.1} {:7.0} {:6.2} {:>6}{}",
                    s.bmep / 1e5,
                    s.power / 1e3,
                    s.delivery_ratio,
                    s.trapping_efficiency.unwrap_or(f64::NAN),
                    s.charging_efficiency,
                    s.cylinder_temperature_ec,
                    s.exhaust_temperature,
                    s.bsfc.map_or(f64::NAN, |b| b * 3.6e9),
                    s.mixing_rise.map_or(0.0, |r| 100.0 * r),
                    p.verdict.cycles(),
                    if p.verdict.settled() { "" } else { " not settled" }
                );
            }
        }
    }
}

/// Seconds this thread has worked, where the system tells; else the clock's.
fn seconds(since: Instant) -> f64 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let nanoseconds = told.and_then(|text| text.split(' ').next()?.parse::<f64>().ok());
    nanoseconds.map_or_else(|| since.elapsed().as_secs_f64(), |ns| ns * 1e-9)
}

/// Speeds in a sweep's chain, and chains.
const CHAIN: [usize; 2] = [16, 24];

/// Processor time of a sweep over the speeds of a scenario, in lanes [s], and cycles a point.
fn swept(spec: &EngineSpec, speeds: &[f64]) -> (f64, f64) {
    let [length, count] = CHAIN;
    let (low, high) = (speeds[0], speeds[speeds.len() - 1]);
    let engine = Engine::new(spec).unwrap_or_else(|error| panic!("{error}"));
    let share = |i: usize| i as f64 / (length * count) as f64;
    let mut chains = (0..count).map(|index| Chain {
        index,
        models: (0..length)
            .map(|i| engine.at_speed(low + (high - low) * share(i * count + index)).map(Arc::new))
            .collect(),
    });
    let mut cycles = 0_u32;
    let clock = Instant::now();
    let start = seconds(clock);
    solve(&Settings::sweep(), &mut || chains.next(), &mut |_, _, point| {
        cycles += point.map_or(0, |p| p.verdict.cycles());
    });
    (seconds(clock) - start, f64::from(cycles) / (length * count) as f64)
}

/// The same of both versions, the faster of three rounds that take turns.
fn cost_of_sweeps() {
    println!("{:<15} {:>10} {:>9} {:>9}", "sweep", "time 2 : 1", "cycles 1", "cycles 2");
    for (name, text) in &SCENARIOS[..5] {
        let scenario = read(text);
        let specs = [ModelVersion::ONE, ModelVersion::TWO].map(|v| by(&scenario, v));
        let (mut best, mut cycles) = ([f64::INFINITY; 2], [0.0; 2]);
        for _ in 0..3 {
            for (k, spec) in specs.iter().enumerate() {
                let (time, of) = swept(spec, &scenario.run_speeds);
                (best[k], cycles[k]) = (best[k].min(time), of);
            }
        }
        let [one, two] = cycles;
        println!("{name:<15} {:>10.2} {one:>9.1} {two:>9.1}", best[1] / best[0]);
    }
}

/// Processor time, evaluations and cycles of both versions over every scenario's speeds, in turns.
fn cost() {
    println!(
        "{:<15} {:>10} {:>12} {:>12} {:>9} {:>9}",
        "engine", "time 2 : 1", "evaluations", "per eval.", "cycles 1", "cycles 2"
    );
    for (name, text) in SCENARIOS {
        let scenario = read(text);
        let specs = [ModelVersion::ONE, ModelVersion::TWO].map(|v| by(&scenario, v));
        let mut best = [f64::INFINITY; 2];
        let (mut work, mut cycles) = ([0_u64; 2], [0_u32; 2]);
        for _ in 0..3 {
            for (k, spec) in specs.iter().enumerate() {
                let clock = Instant::now();
                let start = seconds(clock);
                let points: Vec<Point> =
                    scenario.run_speeds.iter().filter_map(|rpm| point(spec, *rpm, None)).collect();
                best[k] = best[k].min(seconds(clock) - start);
                work[k] = points.iter().map(|p| p.work.evaluations).sum();
                cycles[k] = points.iter().map(|p| p.verdict.cycles()).sum();
            }
        }
        let per = |k: usize| f64::from(cycles[k]) / scenario.run_speeds.len() as f64;
        let (time, evaluations) = (best[1] / best[0], work[1] as f64 / work[0] as f64);
        println!(
            "{name:<15} {time:>10.2} {evaluations:>12.2} {:>12.2} {:>9.1} {:>9.1}",
            time / evaluations,
            per(0),
            per(1)
        );
    }
}

fn main() -> ExitCode {
    match std::env::args().nth(1).as_deref() {
        Some("laws") => laws(),
        Some("scenarios") => scenarios(),
        Some("cost") => {
            cost_of_sweeps();
            cost();
        }
        _ => {
            eprintln!("write one of: laws, scenarios, cost");
            return ExitCode::from(2);
        }
    }
    ExitCode::SUCCESS
}
