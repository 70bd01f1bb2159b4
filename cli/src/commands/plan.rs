//! `freshcharge plan`: stacks and cuts that reach goals.

use std::fmt::Write as _;

use freshcharge_sim::cycle::{Settings, simulate};
use freshcharge_sim::result::Point;
use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::workshop::{self, Solution, solve};
use rayon::prelude::*;

use super::goals::{Choice, Goals, Kind};
use super::run::load;
use super::sheet;
use crate::Outcome;
use crate::args::PlanArgs;
use crate::export::layout::{number, wrapped};
use crate::files::{self, Failure};

/// A stack with its least cuts.
#[derive(Debug, Clone)]
pub(crate) struct Plan {
    /// From the shelf.
    pub(crate) choice: Choice,
    /// Cuts and what they give.
    pub(crate) solution: Solution,
    /// Share of the samples in which it stays the best.
    pub(crate) stays_best: f64,
}

impl Plan {
    /// Cost of the cuts, and a trifle for every part that is changed at all.
    fn cost(&self, scenario: &Scenario) -> f64 {
        let now = |path: &str| scenario.value(path).unwrap_or(0.0);
        let base = self.choice.base + self.choice.spacer - now("stack.base_total_mm");
        let head = self.choice.head - now("stack.head_total_mm");
        self.solution.cost + 0.01 * (base.abs() + head.abs())
    }
}

/// Plans looked at when goals need the simulation.
const SHORT_LIST: usize = 8;
/// Plans whose rank is tried against errors.
const TRIED: usize = 4;
/// Samples for that.
const SAMPLES: u32 = 24;

/// Runs the command.
pub(crate) fn run(args: &PlanArgs) -> Result<Outcome, Failure> {
    let (scenario, _) = load(&args.file)?;
    let goals = Goals::read(&args.goals, &scenario)?;
    let mut plans = search(&scenario, &goals);
    if plans.is_empty() {
        files::print(
            "No stack of this shelf gives an engine that can be measured at all: every one makes a port that never opens, or a negative gasket.\n",
        )?;
        return Ok(Outcome::Incomplete);
    }
    let reached = plans[0].solution.relaxation == 0.0;
    plans.retain(|p| !reached || p.solution.relaxation == 0.0);
    let settle = if reached { try_ranks(&scenario, &goals, &mut plans) } else { None };
    let mut text = format!("{}: ", scenario.spec.name);
    if reached {
        let _ = writeln!(
            text,
            "{} stacks reach every goal, in every corner of the tolerances.",
            plans.len()
        );
    } else {
        miss(&mut text, &scenario, &goals, &plans[0]);
    }
    plans.truncate(args.show.max(1));
    table(&mut text, &goals, &plans);
    if let Some(words) = settle {
        let _ = writeln!(text, "\n{}", wrapped(&words));
    }
    reversible(&mut text, &scenario, &goals, &plans[0]);
    if let Some(folder) = &args.sheet {
        let written = sheet::write(folder, args, &scenario, &goals, &plans[0])?;
        let _ = writeln!(text, "\nCut sheet: {written}");
    }
    files::print(&text)?;
    Ok(if reached { Outcome::Done } else { Outcome::Incomplete })
}

/// Every stack with its least cuts, best first.
pub(crate) fn search(scenario: &Scenario, goals: &Goals) -> Vec<Plan> {
    let closed = goals.closed();
    let mut plans = solve_all(scenario, &closed, &goals.choices());
    sort(scenario, &mut plans);
    if goals.simulates() {
        let short: Vec<Choice> = plans.iter().take(SHORT_LIST).map(|p| p.choice).collect();
        plans = solve_all(scenario, goals, &short);
        sort(scenario, &mut plans);
    }
    plans
}

fn solve_all(scenario: &Scenario, goals: &Goals, choices: &[Choice]) -> Vec<Plan> {
    choices.par_iter().filter_map(|c| solve_one(scenario, goals, *c)).collect()
}

fn solve_one(scenario: &Scenario, goals: &Goals, choice: Choice) -> Option<Plan> {
    let values = |amounts: &[f64]| goals.values_of(&goals.spec(scenario, choice, amounts));
    let solution = solve(&goals.operations, &goals.goals, &values)?;
    Some(Plan { choice, solution, stays_best: f64::NAN })
}

fn sort(scenario: &Scenario, plans: &mut [Plan]) {
    let key = |p: &Plan| (p.solution.relaxation, p.cost(scenario));
    plans.sort_by(|a, b| {
        let (a, b) = (key(a), key(b));
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
}

fn miss(text: &mut String, scenario: &Scenario, goals: &Goals, plan: &Plan) {
    let _ = writeln!(text, "no stack of this shelf with these operations reaches every goal.");
    let _ = writeln!(
        text,
        "The smallest relaxation that gives one, in the worst corner of the tolerances:"
    );
    let (low, high) = worst(scenario, goals, plan);
    for (g, (key, goal)) in goals.keys.iter().zip(&goals.goals).enumerate() {
        if let Some(least) = goal.least.filter(|l| low[g] < l - 1e-9) {
            let _ = writeln!(text, "  {key}: at least {} instead of {least}", number(low[g]));
        }
        if let Some(most) = goal.most.filter(|m| high[g] > m + 1e-9) {
            let _ = writeln!(text, "  {key}: at most {} instead of {most}", number(high[g]));
        }
    }
}

/// Least and greatest value of every goal's quantity over the corners of what is cut.
fn worst(scenario: &Scenario, goals: &Goals, plan: &Plan) -> (Vec<f64>, Vec<f64>) {
    let mut low = plan.solution.values.clone();
    let mut high = low.clone();
    let cut: Vec<usize> = (0..goals.kinds.len()).filter(|i| plan.solution.done[*i]).collect();
    for corner in 0..1_u32 << cut.len() {
        let mut amounts = plan.solution.amounts.clone();
        for (bit, i) in cut.iter().enumerate() {
            let sign = if corner >> bit & 1 == 1 { 1.0 } else { -1.0 };
            amounts[*i] += sign * goals.operations[*i].tolerance;
        }
        let Some(values) = goals.values_of(&goals.spec(scenario, plan.choice, &amounts)) else {
            continue;
        };
        for (g, value) in values.into_iter().enumerate() {
            low[g] = low[g].min(value);
            high[g] = high[g].max(value);
        }
    }
    (low, high)
}

fn table(text: &mut String, goals: &Goals, plans: &[Plan]) {
    let _ = writeln!(text);
    for (rank, plan) in plans.iter().enumerate() {
        let c = plan.choice;
        let _ = write!(
            text,
            "{}. base gasket {:.2} mm, spacer {:.2} mm, head gasket {:.2} mm",
            rank + 1,
            c.base,
            c.spacer,
            c.head
        );
        let mut cuts: Vec<(Kind, f64)> =
            goals.kinds.iter().copied().zip(plan.solution.amounts.iter().copied()).collect();
        cuts.retain(|(_, a)| *a > 1e-6);
        if cuts.is_empty() {
            text.push_str("; nothing is cut");
        }
        for (kind, amount) in cuts {
            let _ = write!(text, "; {amount:.2} {} {}", kind.unit(), kind.words());
        }
        if plan.stays_best.is_finite() {
            let _ = write!(text, "; best in {:.0} % of samples", 100.0 * plan.stays_best);
        }
        text.push('\n');
        for ((key, value), range) in
            goals.keys.iter().zip(&plan.solution.values).zip(goals.file.goals.values())
        {
            let _ = writeln!(text, "     {key} = {} ({})", number(*value), range.words());
        }
    }
}

/// Term `index` of the Halton sequence in a base.
fn halton(index: u32, base: u32) -> f64 {
    let (mut i, mut share, mut value) = (index, 1.0, 0.0);
    while i > 0 {
        share /= f64::from(base);
        value += share * f64::from(i % base);
        i /= base;
    }
    value
}

const PRIMES: [u32; 24] =
    [2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83, 89];

/// In which share of samples of the measurements' errors each of the first plans stays the best; gives
/// words on the measurement that would settle a tie.
fn try_ranks(scenario: &Scenario, goals: &Goals, plans: &mut [Plan]) -> Option<String> {
    let closed = goals.closed();
    let errors = workshop::measured(scenario, true);
    let count = plans.len().min(TRIED);
    if count < 2 {
        return None;
    }
    let choices: Vec<Choice> = plans[..count].iter().map(|p| p.choice).collect();
    let samples: Vec<(Vec<f64>, Vec<f64>)> = (1..=SAMPLES)
        .into_par_iter()
        .filter_map(|s| {
            let shares: Vec<f64> = (0..errors.len())
                .map(|i| {
                    // rotated so that many dimensions do not run alike
                    let turn = (i as f64 * 0.618_033_988_75).fract();
                    2.0 * (halton(s, PRIMES[i % PRIMES.len()]) + turn).fract() - 1.0
                })
                .collect();
            let mut changes = Vec::new();
            for (error, share) in errors.iter().zip(&shares) {
                let step = share * error.half_width;
                changes.push((error.path.clone(), scenario.value(&error.path)? + step));
                changes.extend(workshop::counterpart(scenario, &error.path, step));
            }
            let changes: Vec<(&str, f64)> = changes.iter().map(|(p, v)| (p.as_str(), *v)).collect();
            let engine = scenario.with_all(&changes).ok()?;
            let rank = |c: &Choice| {
                let plan = solve_one(&engine, &closed, *c);
                plan.map_or(f64::INFINITY, |p| 1e3 * p.solution.relaxation + p.cost(scenario))
            };
            Some((shares, choices.iter().map(rank).collect()))
        })
        .collect();
    if samples.is_empty() {
        return None;
    }
    for (k, plan) in plans[..count].iter_mut().enumerate() {
        let wins = samples.iter().filter(|(_, costs)| costs.iter().all(|c| costs[k] <= *c)).count();
        plan.stays_best = wins as f64 / samples.len() as f64;
    }
    // what goes together with the difference of the first two
    let difference: Vec<f64> = samples.iter().map(|(_, c)| c[0] - c[1]).collect();
    let strength = |i: usize| correlation(samples.iter().map(|s| s.0[i]), &difference).abs();
    let most = (0..errors.len()).max_by(|a, b| strength(*a).total_cmp(&strength(*b)))?;
    (plans[0].stays_best < 0.9 && strength(most) > 0.3).then(|| {
        format!(
            "The first two are close. Measuring {} again (±{} now) would settle it best.",
            errors[most].path, errors[most].half_width
        )
    })
}

fn correlation(a: impl Iterator<Item = f64> + Clone, b: &[f64]) -> f64 {
    let n = b.len() as f64;
    let (ma, mb) = (a.clone().sum::<f64>() / n, b.iter().sum::<f64>() / n);
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (x, y) in a.zip(b) {
        ab += (x - ma) * (y - mb);
        aa += (x - ma) * (x - ma);
        bb += (y - mb) * (y - mb);
    }
    if aa * bb > 0.0 && (aa * bb).is_finite() { ab / (aa * bb).sqrt() } else { 0.0 }
}

/// A test that takes no metal off, and what the model expects of it.
fn reversible(text: &mut String, scenario: &Scenario, goals: &Goals, plan: &Plan) {
    let nothing = vec![0.0; goals.kinds.len()];
    let Some(swapped) = goals.engine(scenario, plan.choice, &nothing) else { return };
    let speeds = &scenario.run_speeds;
    let (low, high) = (speeds[speeds.len() / 4], speeds[speeds.len() * 3 / 4]);
    let at = |s: &Scenario, rpm: f64| -> Option<Point> {
        s.faults_for_running()
            .is_empty()
            .then(|| simulate(&s.spec, rpm, &Settings::single()).ok())?
    };
    let mut expected = Vec::new();
    for rpm in [low, high] {
        if let (Some(a), Some(b)) = (at(scenario, rpm), at(&swapped, rpm)) {
            let change = 100.0 * (b.summary.torque / a.summary.torque - 1.0);
            let dp = |p: &Point| {
                (p.summary.cylinder_pressure_to - p.summary.crankcase_pressure_to) / 1e5
            };
            expected.push(format!(
                "at {rpm:.0}/min torque {change:+.1} %, pressure difference at transfer opening {:+.2} bar",
                dp(&b) - dp(&a)
            ));
        }
    }
    let same = scenario.value("stack.base_total_mm") == Some(plan.choice.base + plan.choice.spacer)
        && scenario.value("stack.head_total_mm") == Some(plan.choice.head);
    let words = if same {
        "The stack stays as it is, so there is nothing to try without cutting: measure again before the first cut.".to_owned()
    } else if expected.is_empty() {
        "Before cutting, fit the stack alone and measure squish and timing; this stack alone cannot be run.".to_owned()
    } else {
        format!(
            "Before cutting, try what can be undone: fit this stack alone. The model expects {}. If the change does not come that way, do not cut: find out why first.",
            expected.join("; ")
        )
    };
    let _ = writeln!(text, "\n{}", wrapped(&words));
}
