//! `freshcharge plan`: stacks and cuts that reach goals.

mod after;
mod bench;
mod ranks;
mod search;

use std::fmt::Write as _;

use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::workshop::{Facts, NOTHING, Solution};

pub(crate) use bench::simulate_all;
pub(crate) use search::search;

use super::goals::{Choice, Goals, Kind};
use super::{sheet, variant};
use crate::Outcome;
use crate::args::PlanArgs;
use crate::present::tables::layout::{number, wrapped};
use crate::session::engine::load;
use crate::session::files::{self, Failure};
use crate::session::progress::Watch;
use after::Whole;

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

/// Runs the command.
pub(crate) fn run(args: &PlanArgs) -> Result<Outcome, Failure> {
    let (scenario, _) = load(&args.file)?;
    let wish = Goals::read(&args.goals, &scenario)?;
    if let Some(path) = args.after.as_ref().filter(|p| p.exists()) {
        return Err(Failure::Argument {
            flag: "--after",
            value: path.display().to_string(),
            remedy: "this file is there already and is not written over: choose another name"
                .to_owned(),
        });
    }
    let watch = Watch::listening(args.quiet);
    let found = search(&scenario, &wish, &wish.choices(), &watch);
    let (mut plans, goals) = (found.plans, found.goals);
    if plans.is_empty() {
        watch.clear();
        files::print(&nothing(&scenario, &goals, &watch))?;
        return Ok(Outcome::Incomplete);
    }
    let reached = plans[0].solution.relaxation == 0.0;
    plans.retain(|p| !reached || p.solution.relaxation == 0.0);
    let tie = reached && !watch.stopped();
    let settle = if tie { ranks::try_ranks(&scenario, &goals, &mut plans) } else { None };
    let count = plans.len();
    plans.truncate(args.show.max(1));
    let whole = Whole::of(&scenario, &goals, &plans[0], &watch);
    let stopped = watch.stopped();
    watch.clear();

    let broken = broken(args, &scenario, &goals, &plans[0])?;
    let warnings: Vec<String> =
        broken.iter().cloned().chain(whole.as_ref().and_then(Whole::warning)).collect();
    let mut text = told(&scenario, (&wish, &goals), &plans, (count, stopped), &warnings);
    if let Some(words) = settle {
        let _ = writeln!(text, "\n{}", wrapped(&words));
    }
    if let Some(whole) = &whole {
        text.push_str(&whole.words());
    }
    cautions(&mut text, plans[0].solution.done.contains(&true));
    text.push_str(&written(args, &scenario, &goals, (&plans[0], &warnings), whole.as_ref())?);
    let last = match &broken {
        Some(limit) => sentence(limit),
        None => answer(&scenario, &goals, &plans[0], (reached, whole.as_ref())),
    };
    let _ = writeln!(text, "\n{}", wrapped(&last));
    files::print(&text)?;
    Ok(if reached && !stopped { Outcome::Done } else { Outcome::Incomplete })
}

/// What must be said of a plan that breaks a limit which can harm the engine and which no goal names.
fn broken(
    args: &PlanArgs,
    scenario: &Scenario,
    goals: &Goals,
    plan: &Plan,
) -> Result<Option<String>, Failure> {
    let Some(engine) = goals.engine(scenario, plan.choice, &plan.solution.amounts) else {
        return Ok(None);
    };
    let rpm = scenario.run_speeds.iter().copied().fold(0.0, f64::max);
    let items = variant::newly_broken(scenario, &engine, args.usage, rpm)?;
    let way = variant::stands_in_the_way(&items, args.usage);
    Ok(way.map(|limit| {
        format!("plan 1 must NOT be built as it stands: {limit}. Give these quantities as goals too, and every plan keeps them.")
    }))
}

/// Words that begin a sentence.
fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |c| c.to_uppercase().chain(letters).collect())
}

/// The sentence that answers: what to fit, what to cut, and what that gives.
fn answer(
    scenario: &Scenario,
    goals: &Goals,
    plan: &Plan,
    (reached, whole): (bool, Option<&Whole>),
) -> String {
    let c = plan.choice;
    let cuts: Vec<String> = goals
        .kinds
        .iter()
        .zip(&plan.solution.amounts)
        .filter(|(_, amount)| **amount > 1e-6)
        .map(|(kind, amount)| format!("{amount:.2} {} {}", kind.unit(), kind.words()))
        .collect();
    let cuts = if cuts.is_empty() {
        "cut nothing".to_owned()
    } else {
        format!("cut {}", super::brief::and(&cuts))
    };
    let engine = goals.engine(scenario, c, &plan.solution.amounts);
    let facts = engine.map(|s| Facts::of_scenario(&s, &[]));
    let get = |key: &str| {
        let value = facts.as_ref().and_then(|f| f.get(key));
        value.map_or("unknown".to_owned(), |v| format!("{v:.2}"))
    };
    let begin = if reached { "Fit" } else { "No stack reaches every goal; the nearest is to fit" };
    let loss = whole.and_then(Whole::loss).map_or(String::new(), |percent| {
        format!(" It costs {percent:.1} % of the power, by the simulation: do it only if the goals are worth that to you.")
    });
    format!(
        "{begin} the {:.2} mm head gasket, a base gasket of {:.2} mm and a spacer of {:.2} mm, and {cuts}: squish {} mm, trapped compression {}, transfers {}°, blowdown {}°.{loss}",
        c.head,
        c.base,
        c.spacer,
        get("squish_mm"),
        get("trapped_ratio"),
        get("transfer_duration_deg"),
        get("blowdown_deg")
    )
}

/// The plans in words, the warning first where there is one.
fn told(
    scenario: &Scenario,
    (wish, goals): (&Goals, &Goals),
    plans: &[Plan],
    (count, stopped): (usize, bool),
    warnings: &[String],
) -> String {
    let reached = plans[0].solution.relaxation == 0.0;
    let mut text = String::new();
    for warning in warnings {
        let _ = writeln!(text, "{}\n", wrapped(&format!("{}: {warning}", scenario.spec.name)));
    }
    let _ = write!(text, "{}: ", scenario.spec.name);
    if stopped {
        text.push_str(&unfinished(wish, goals));
    }
    if reached {
        let and = if stopped { " that were looked at" } else { "" };
        let _ = writeln!(
            text,
            "{count} stacks{and} reach every goal, in every corner of the tolerances."
        );
    } else {
        miss(&mut text, goals, &plans[0]);
    }
    table(&mut text, goals, plans);
    text
}

/// Writes the files that were asked for; gives words on them.
fn written(
    args: &PlanArgs,
    scenario: &Scenario,
    goals: &Goals,
    (plan, warnings): (&Plan, &[String]),
    whole: Option<&Whole>,
) -> Result<String, Failure> {
    let mut text = String::new();
    if let Some(folder) = &args.sheet {
        let written = sheet::write(folder, args, scenario, (goals, plan), warnings)?;
        let _ = writeln!(text, "\nCut sheet: {written}");
    }
    if let Some(path) = &args.after {
        match whole {
            Some(whole) => {
                files::write(path, whole.file.as_bytes())?;
                let _ = writeln!(
                    text,
                    "\nEngine file after plan 1: {}; freshcharge compare {} {} gives the numbers above.",
                    path.display(),
                    args.file.display(),
                    path.display()
                );
            }
            None => text.push_str(
                "\nNo engine file was written: the engine after this plan cannot be described.\n",
            ),
        }
    }
    Ok(text)
}

/// What is said when the work was stopped.
fn unfinished(wish: &Goals, goals: &Goals) -> String {
    let missing: Vec<&str> =
        wish.keys.iter().filter(|k| !goals.keys.contains(k)).map(String::as_str).collect();
    let rest = if missing.is_empty() {
        String::new()
    } else {
        format!(" The goals that need the simulation were NOT looked at: {}.", missing.join(", "))
    };
    format!("stopped before the end; this is what was found until then.{rest}\n")
}

/// What is said when there is no plan to offer.
fn nothing(scenario: &Scenario, goals: &Goals, watch: &Watch) -> String {
    let name = &scenario.spec.name;
    if watch.stopped() {
        return format!("{name}: stopped before a plan was found. Nothing is advised.\n");
    }
    let mut loose = goals.closed();
    loose.goals.iter_mut().for_each(|g| g.held = false);
    let found = search(scenario, &loose, &loose.choices(), watch).plans;
    let Some(nearest) = found.first() else {
        return format!(
            "{name}: no stack of this shelf gives an engine that can be measured at all: every one makes a port that never opens, or a negative gasket.\n"
        );
    };
    let mut text = format!(
        "{name}: no plan is offered. With this shelf and these operations every stack breaks a safety goal,\nand safety goals are never relaxed. The nearest would come to:\n"
    );
    for (g, (key, goal)) in loose.keys.iter().zip(&loose.goals).enumerate() {
        let (low, high) = (nearest.solution.low[g], nearest.solution.high[g]);
        if goals.held().contains(&key.as_str()) && goal.missed(low, high) > NOTHING {
            let _ = writeln!(
                text,
                "  {key}: {} to {} where {} is asked",
                number(low),
                number(high),
                loose.file.goals[key].words()
            );
        }
    }
    text.push_str("Put other gaskets or spacers on the shelf, allow another operation, or ask for less elsewhere.\n");
    text
}

/// Which goals give way, and by how much.
fn miss(text: &mut String, goals: &Goals, plan: &Plan) {
    let _ = writeln!(text, "no stack of this shelf with these operations reaches every goal.");
    let _ = writeln!(
        text,
        "The smallest relaxation that gives one, in the worst corner of the tolerances:"
    );
    let Solution { low, high, .. } = &plan.solution;
    for (g, (key, goal)) in goals.keys.iter().zip(&goals.goals).enumerate() {
        if goal.held {
            continue;
        }
        if let Some(least) = goal.least.filter(|l| low[g] < l - NOTHING * goal.scale) {
            let _ = writeln!(text, "  {key}: at least {} instead of {least}", number(low[g]));
        }
        if let Some(most) = goal.most.filter(|m| high[g] > m + NOTHING * goal.scale) {
            let _ = writeln!(text, "  {key}: at most {} instead of {most}", number(high[g]));
        }
    }
    let held = goals.held();
    if !held.is_empty() {
        let words = format!(
            "Safety goals are never relaxed; every plan below keeps them: {}.",
            held.join(", ")
        );
        let _ = writeln!(text, "{}", wrapped(&words));
    }
}

/// What to bear in mind before anything is cut or fitted.
pub(crate) fn cautions(text: &mut String, cut: bool) {
    let _ = writeln!(text, "\nBefore and while working:");
    let first = if cut { 0 } else { sheet::GENERAL.len() - 1 };
    let form = textwrap::Options::new(80).initial_indent("- ").subsequent_indent("  ");
    if cut {
        let _ = writeln!(text, "{}", textwrap::fill(freshcharge_sim::studies::CUT, &form));
    }
    for caution in sheet::GENERAL[first..].iter().chain(&[freshcharge_sim::studies::MODEL, LIMITS])
    {
        let _ = writeln!(text, "{}", textwrap::fill(caution, &form));
    }
}

/// What the model cannot say.
const LIMITS: &str = "The model knows gas exchange. It knows nothing of knock, heat, strength and wear: a plan that gives power here can still hole a piston.";

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
