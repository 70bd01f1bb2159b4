//! After a cut has gone too far: what it costs, and every way out.

use std::fmt::Write as _;

use freshcharge_sim::cycle::Settings;
use freshcharge_sim::result::Point;
use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::workshop::{Facts, NOTHING};

use super::Builds;
use crate::args::RecheckArgs;
use crate::commands::goals::{Choice, Goals, Kind};
use crate::commands::plan::{Plan, search, simulate_all};
use crate::commands::sheet::{Job, JobCut};
use crate::commands::variant;
use crate::present::tables::layout::{number, wrapped};
use crate::session::files::Failure;
use crate::session::progress::Watch;

/// Timing, squish and compression that are told of every build.
const TOLD: [(&str, &str, &str); 5] = [
    ("exhaust_duration_deg", "exhaust open", "°"),
    ("transfer_duration_deg", "transfers open", "°"),
    ("blowdown_deg", "blowdown", "°"),
    ("squish_mm", "squish", "mm"),
    ("trapped_ratio", "trapped ratio", ""),
];
/// How much a skim may take off the top face where the plan does not say [mm] (common practice, no source).
const SKIM: f64 = 1.0;

/// A build with its numbers.
struct Told {
    facts: Facts,
    points: Vec<Option<Point>>,
}

/// Says what the overcut costs and what can still be done about it.
pub(super) fn out(
    out: &mut String,
    job: &Job,
    goals: &Goals,
    builds: &Builds,
    args: &RecheckArgs,
) -> Result<(), Failure> {
    let (Some(planned), Some(end), Some(so_far)) = (&builds.planned, &builds.end, &builds.so_far)
    else {
        out.push_str("\nWays out: none that can be told. An engine with these readings cannot be described.\n");
        return Ok(());
    };
    let watch = Watch::listening(args.quiet);
    let speeds = speeds(goals, planned);
    let told = tell(&[planned, end], &speeds, &watch);
    out.push_str("\nWhat the cut that went too far costs, everything else as planned:\n");
    for (key, words, unit) in TOLD {
        let (Some(a), Some(b)) = (told[0].facts.get(key), told[1].facts.get(key)) else { continue };
        let _ = writeln!(
            out,
            "  {words}: {} instead of {} {unit} ({:+.2})",
            number(b),
            number(a),
            b - a
        );
    }
    for (i, rpm) in speeds.iter().enumerate() {
        match (&told[0].points[i], &told[1].points[i]) {
            (Some(a), Some(b)) => {
                let (a, b) = (a.summary.power, b.summary.power);
                let _ = writeln!(
                    out,
                    "  power at {rpm:.0}/min: {} instead of {} kW ({:+.1} %), simulated",
                    number(b / 1e3),
                    number(a / 1e3),
                    100.0 * (b / a - 1.0)
                );
            }
            _ => {
                let _ = writeln!(out, "  power at {rpm:.0}/min: cannot be simulated");
            }
        }
    }
    let whole = goals.values_of(&end.spec, &told_points(goals, &speeds, &told[1]));
    let met =
        whole.is_some_and(|v| goals.goals.iter().zip(v).all(|(g, v)| g.missed(v, v) < NOTHING));
    let rpm = speeds.iter().copied().fold(0.0, f64::max);
    let broken = variant::newly_broken(planned, end, args.usage, rpm)?;
    if let Some(limit) = variant::stands_in_the_way(&broken, args.usage).filter(|_| met) {
        let words = format!(
            "Ways out: every goal is still met, but {limit}. Do NOT assemble it like this. A thicker head gasket gives squish and compression back; a thicker base stack gives squish back and opens every port earlier. Write the limit into the goals of the job file and run recheck again: it then works out the sizes."
        );
        let _ = writeln!(out, "\n{}", wrapped(&words));
    } else if met {
        out.push_str("\nWays out: none is needed. Every goal is still met; keep the planned stack and finish the rest as planned.\n");
    } else {
        every_way(out, job, goals, so_far, &speeds, &watch);
    }
    watch.clear();
    Ok(())
}

/// The points at the goals' own speeds.
fn told_points(goals: &Goals, speeds: &[f64], told: &Told) -> Vec<Option<Point>> {
    let at = |rpm: &f64| told.points[speeds.iter().position(|s| s == rpm)?].clone();
    goals.simulated_speeds().iter().map(at).collect()
}

/// Speeds at which power is told: three of the engine's own band, and those of the goals.
fn speeds(goals: &Goals, engine: &Scenario) -> Vec<f64> {
    let band = &engine.run_speeds;
    let own = [1, 2, 3].map(|i| band.get((band.len() * i / 4).min(band.len().max(1) - 1)).copied());
    let mut speeds: Vec<f64> = own.into_iter().flatten().chain(goals.simulated_speeds()).collect();
    speeds.sort_by(f64::total_cmp);
    speeds.dedup();
    speeds
}

fn tell(engines: &[&Scenario], speeds: &[f64], watch: &Watch) -> Vec<Told> {
    // a piston that touches the head is not simulated
    let runs: Vec<bool> = engines.iter().map(|e| e.faults_for_running().is_empty()).collect();
    let mut cases = Vec::new();
    for (engine, _) in engines.iter().zip(&runs).filter(|(_, runs)| **runs) {
        cases.extend(speeds.iter().map(|rpm| (engine.spec.clone(), *rpm)));
    }
    watch.begin("Simulations", cases.len());
    let mut points = simulate_all(&cases, &Settings::single(), watch).into_iter();
    let told = |(engine, runs): (&&Scenario, bool)| Told {
        facts: Facts::of_scenario(engine, &[]),
        points: speeds.iter().map(|_| if runs { points.next().flatten() } else { None }).collect(),
    };
    engines.iter().zip(runs).map(told).collect()
}

/// Each kind of way by itself, then all together.
fn every_way(
    out: &mut String,
    job: &Job,
    goals: &Goals,
    engine: &Scenario,
    speeds: &[f64],
    watch: &Watch,
) {
    let left = what_is_left(job, goals);
    let [base, head, all] = choices(job, &left);
    let now = job.stack;
    let skim = with_skim(&left);
    let ways: [(&str, &Goals, Vec<Choice>); 4] = [
        ("another base gasket or spacer", &left, base),
        ("another head gasket", &left, head),
        ("a skim of the top face, with the planned stack", &skim, vec![now]),
        ("stack and cuts together", &left, all),
    ];
    out.push_str("\nWays out, with the cuts that are still to come solved anew for each:\n");
    let mut any = false;
    for (words, goals, choices) in ways {
        let found = search(engine, goals, &choices, watch);
        let skimmed = |p: &Plan| {
            let mut cuts = goals.kinds.iter().zip(&p.solution.amounts);
            cuts.any(|(k, a)| *k == Kind::TopFace && *a > 1e-6)
        };
        match found.plans.first() {
            Some(plan) if words.starts_with("a skim") && !skimmed(plan) => {
                let _ = writeln!(
                    out,
                    "{}",
                    bulleted(&format!(
                        "{words}: none. It changes squish and compression but no timing, and does not help here."
                    ))
                );
            }
            Some(plan) if plan.solution.relaxation == 0.0 => {
                any = true;
                let _ = writeln!(out, "- {words}: {}.", what(goals, plan));
                numbers(out, goals, engine, plan, speeds, watch);
            }
            Some(plan) => {
                let _ = writeln!(
                    out,
                    "{}",
                    bulleted(&format!("{words}: none. {}", nearest(&found.goals, plan)))
                );
            }
            None if choices.is_empty() => {
                let _ = writeln!(out, "- {words}: none; there is no other on the shelf.");
            }
            None => {
                let _ = writeln!(out, "- {words}: none; none keeps the safety goals.");
            }
        }
    }
    if !any {
        out.push_str("There is no way out with this shelf and these operations: NONE reaches every goal again.\n");
    }
}

/// Stacks with other parts below the cylinder only, above it only, and all.
fn choices(job: &Job, left: &Goals) -> [Vec<Choice>; 3] {
    let all = left.choices();
    let now = job.stack;
    let same = |a: f64, b: f64| (a - b).abs() < 1e-9;
    let base: Vec<Choice> = all
        .iter()
        .copied()
        .filter(|c| same(c.head, now.head) && !same(c.base + c.spacer, now.base + now.spacer))
        .collect();
    let head: Vec<Choice> = all
        .iter()
        .copied()
        .filter(|c| !same(c.head, now.head) && same(c.base + c.spacer, now.base + now.spacer))
        .collect();
    [base, head, all]
}

fn bulleted(words: &str) -> String {
    wrapped(&format!("- {words}")).replace('\n', "\n  ")
}

/// The goals with what may still be cut of each operation.
fn what_is_left(job: &Job, goals: &Goals) -> Goals {
    let mut left = goals.clone();
    for (kind, operation) in left.kinds.iter().zip(&mut left.operations) {
        let done = |c: &JobCut| c.reading.map_or(0.0, |r| (c.direction() * (r - c.from)).max(0.0));
        let own = job.cuts.iter().filter(|c| kind.cuts(&c.path));
        operation.most = (operation.most - own.map(done).fold(0.0, f64::max)).max(0.0);
    }
    left
}

/// The same with a skim of the top face allowed.
fn with_skim(goals: &Goals) -> Goals {
    let mut skim = goals.clone();
    if !skim.kinds.contains(&Kind::TopFace) {
        skim.kinds.push(Kind::TopFace);
        skim.operations.push(freshcharge_sim::workshop::Operation {
            most: SKIM,
            tolerance: Kind::TopFace.usual_tolerance(),
            cost: 1.0,
            setup: 0.0,
        });
    }
    skim
}

/// A plan in words.
fn what(goals: &Goals, plan: &Plan) -> String {
    let c = plan.choice;
    let mut words = format!(
        "base gasket {:.2} mm, spacer {:.2} mm, head gasket {:.2} mm",
        c.base, c.spacer, c.head
    );
    let cuts = goals.kinds.iter().zip(&plan.solution.amounts).filter(|(_, a)| **a > 1e-6);
    for (kind, amount) in cuts {
        let _ = write!(words, "; {amount:.2} {} {}", kind.unit(), kind.words());
    }
    words
}

/// Why the nearest of a kind is none.
fn nearest(goals: &Goals, plan: &Plan) -> String {
    let mut missed = Vec::new();
    for (g, (key, goal)) in goals.keys.iter().zip(&goals.goals).enumerate() {
        let (low, high) = (plan.solution.low[g], plan.solution.high[g]);
        if goal.missed(low, high) > NOTHING {
            let end = if goal.least.is_some_and(|l| low < l) { low } else { high };
            missed.push(format!(
                "{key} would come to {} where {} is asked",
                number(end),
                goals.file.goals[key].words()
            ));
        }
    }
    format!("The nearest ({}) misses goals: {}.", what(goals, plan), missed.join("; "))
}

/// What a way out gives.
fn numbers(
    out: &mut String,
    goals: &Goals,
    engine: &Scenario,
    plan: &Plan,
    speeds: &[f64],
    watch: &Watch,
) {
    let Some(built) = goals.engine(engine, plan.choice, &plan.solution.amounts) else { return };
    let told = tell(&[&built], speeds, watch);
    let mut parts = Vec::new();
    for (key, words, unit) in TOLD {
        if let Some(value) = told[0].facts.get(key) {
            parts.push(format!(
                "{words} {}{}{unit}",
                number(value),
                if unit == "mm" { " " } else { "" }
            ));
        }
    }
    for (rpm, point) in speeds.iter().zip(&told[0].points) {
        if let Some(point) = point {
            parts.push(format!("{} kW at {rpm:.0}/min", number(point.summary.power / 1e3)));
        }
    }
    let _ = writeln!(out, "  {}", wrapped(&parts.join(", ")).replace('\n', "\n  "));
}
