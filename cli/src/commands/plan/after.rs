//! The engine after a plan: its file, and what the simulation says of it over the band.

use std::fmt::Write as _;

use freshcharge_sim::cycle::Settings;
use freshcharge_sim::result::Point;
use freshcharge_sim::scenario::{self, Scenario};

use super::Plan;
use super::bench::simulate_all;
use crate::commands::goals::Goals;
use crate::export::layout::{number, wrapped};
use crate::progress::Watch;

/// The engine after the whole plan: all cuts and the stack together.
pub(super) struct Whole {
    /// Its file.
    pub(super) file: String,
    /// What it gives, speed by speed.
    rows: Vec<Row>,
    /// Why there is nothing about some of it.
    why: String,
    /// Whether the stack stays as it is, and whether nothing is cut.
    same: bool,
    uncut: bool,
}

/// One speed before, after the plan, and with its stack alone.
struct Row {
    rpm: f64,
    before: Option<Point>,
    after: Option<Point>,
    stack: Option<Point>,
}

/// Speeds shown at most; fewer with pipes, where each takes a hundred times as long.
const SPEEDS: usize = 9;
const SPEEDS_WITH_PIPES: usize = 4;
/// A change of power below this is none [-]: what a cycle that repeats to 1e-6 leaves, and a printed digit.
const NONE: f64 = 1e-3;

impl Whole {
    /// Builds the engine, reads its own file back and simulates that; none where it cannot be built.
    pub(super) fn of(
        scenario: &Scenario,
        goals: &Goals,
        plan: &Plan,
        watch: &Watch,
    ) -> Option<Self> {
        let built = goals.engine(scenario, plan.choice, &plan.solution.amounts)?;
        let part = |thick: f64| if thick > 0.0 { vec![thick] } else { Vec::new() };
        let parts = [
            ("stack.base_gaskets_mm", part(plan.choice.base)),
            ("stack.spacers_mm", part(plan.choice.spacer)),
            ("stack.head_gaskets_mm", part(plan.choice.head)),
        ];
        let body = scenario::rewritten(scenario, &built, &parts).ok()?;
        let file = format!("{HEAD}\n{body}");
        let after = scenario::read(&file).ok()?;
        let stack = goals.engine(scenario, plan.choice, &vec![0.0; goals.kinds.len()]);
        let total = |path: &str| scenario.value(path).unwrap_or(0.0);
        let near = |a: f64, b: f64| (a - b).abs() < 1e-9;
        let same = near(total("stack.base_total_mm"), plan.choice.base + plan.choice.spacer)
            && near(total("stack.head_total_mm"), plan.choice.head);
        let uncut = plan.solution.amounts.iter().all(|a| *a < 1e-6);
        let mut whole = Self { file, rows: Vec::new(), why: String::new(), same, uncut };
        if watch.stopped() {
            "It was not simulated over the band, because the work was stopped."
                .clone_into(&mut whole.why);
        } else {
            whole.simulate([Some(scenario), Some(&after), stack.as_ref()], watch);
        }
        Some(whole)
    }

    fn simulate(&mut self, [before, after, stack]: [Option<&Scenario>; 3], watch: &Watch) {
        let Some(first) = before else { return };
        let most = if first.spec.has_pipes() { SPEEDS_WITH_PIPES } else { SPEEDS };
        let speeds = thinned(&first.run_speeds, most);
        for (words, engine) in [("as it is", before), ("after the plan", after)] {
            if let Some(fault) = engine.and_then(|e| e.faults_for_running().into_iter().next()) {
                self.why = format!("The engine {words} cannot be simulated: {fault}.");
                return;
            }
        }
        let runs = |s: &&Scenario| s.faults_for_running().is_empty();
        let engines = [before, after, stack.filter(runs)];
        let mut cases = Vec::new();
        for rpm in &speeds {
            cases.extend(engines.iter().flatten().map(|s| (s.spec.clone(), *rpm)));
        }
        watch.begin("Simulations over the band", cases.len());
        let mut points = simulate_all(&cases, &Settings::single(), watch).into_iter();
        let mut next = |s: Option<&Scenario>| s.and_then(|_| points.next()).flatten();
        for rpm in speeds {
            let [before, after, stack] = engines.map(&mut next);
            self.rows.push(Row { rpm, before, after, stack });
        }
        if watch.stopped() {
            self.rows.clear();
            "It was not simulated over the band, because the work was stopped."
                .clone_into(&mut self.why);
        }
    }

    /// Change of power at every speed that both engines have, as a share.
    fn changes(&self) -> Vec<(f64, f64)> {
        let change = |r: &Row| {
            let (before, after) = (r.before.as_ref()?, r.after.as_ref()?);
            Some((r.rpm, after.summary.power / before.summary.power - 1.0))
        };
        self.rows.iter().filter_map(change).collect()
    }

    /// Share of power lost over the band in the mean, where the simulation says that the plan is worse [%].
    pub(super) fn loss(&self) -> Option<f64> {
        let mean = mean(&self.changes());
        (mean < -NONE).then_some(-100.0 * mean)
    }

    /// What has to be said first: the simulation says that the plan is worse.
    pub(super) fn warning(&self) -> Option<String> {
        let changes = self.changes();
        self.loss().map(|loss| {
            let gains: Vec<String> =
                changes.iter().filter(|c| c.1 > NONE).map(|c| format!("{:.0}", c.0)).collect();
            let (worse, where_else) = if gains.is_empty() {
                ("WORSE", "at no speed does it give more".to_owned())
            } else {
                ("WORSE on the whole", format!("it gives more only at {}/min", gains.join(", ")))
            };
            format!(
                "the simulation says that plan 1 makes this engine {worse}: over the band it loses {loss:.1} % of its power in the mean; {where_else}. Do it only if the goals are worth that to you."
            )
        })
    }

    /// Power and torque before and after, and the test that can be undone.
    pub(super) fn words(&self) -> String {
        let mut text =
            "\nThe whole of plan 1, all cuts and the stack together, in the simulation:\n"
                .to_owned();
        if self.rows.is_empty() {
            let _ = writeln!(text, "{}", wrapped(&self.why));
        } else {
            self.table(&mut text);
            let _ = writeln!(text, "{}", wrapped(&self.verdict()));
        }
        let _ = writeln!(text, "\n{}", wrapped(&self.reversible()));
        text
    }

    fn table(&self, text: &mut String) {
        let _ = writeln!(
            text,
            "{:>7}{:>14}{:>9}{:>9}{:>16}{:>9}{:>9}",
            "1/min", "power now, kW", "then", "change", "torque now, N·m", "then", "change"
        );
        for row in &self.rows {
            let (Some(a), Some(b)) = (&row.before, &row.after) else {
                let which = if row.before.is_none() { "as it is" } else { "after the plan" };
                let _ = writeln!(text, "{:>7.0}  does not settle {which}", row.rpm);
                continue;
            };
            let (a, b) = (&a.summary, &b.summary);
            let change = format!("{:+.1} %", 100.0 * (b.power / a.power - 1.0));
            let _ = writeln!(
                text,
                "{:>7.0}{:>14}{:>9}{change:>9}{:>16}{:>9}{:>9}",
                row.rpm,
                number(a.power / 1e3),
                number(b.power / 1e3),
                number(a.torque),
                number(b.torque),
                format!("{:+.2}", b.torque - a.torque)
            );
        }
    }

    /// The table in a sentence.
    fn verdict(&self) -> String {
        let changes = self.changes();
        if changes.is_empty() {
            return "At no speed do both engines settle, so the simulation says nothing of this plan.".to_owned();
        }
        let speeds = |more: bool| {
            let at = changes.iter().filter(|c| if more { c.1 > NONE } else { c.1 < -NONE });
            at.map(|c| format!("{:.0}", c.0)).collect::<Vec<_>>()
        };
        let (more, less) = (speeds(true), speeds(false));
        let all = changes.len();
        let words = match (more.len(), less.len()) {
            (0, 0) => "It changes the power at no speed of the band.".to_owned(),
            (n, 0) if n == all => "It gives more power at every speed of the band.".to_owned(),
            (0, n) if n == all => "It gives LESS power at every speed of the band.".to_owned(),
            (_, 0) => {
                format!("It gives more power at {}/min and the same elsewhere.", more.join(", "))
            }
            (0, _) => {
                format!("It gives LESS power at {}/min and the same elsewhere.", less.join(", "))
            }
            _ => format!(
                "It gives more power at {}/min and less at {}/min.",
                more.join(", "),
                less.join(", ")
            ),
        };
        format!(
            "{words} In the mean over the band that is {:+.1} %. Whether a change is larger than what your readings leave open, freshcharge run --plus-minus tells for either file.",
            100.0 * mean(&changes)
        )
    }

    /// A test that takes no metal off, and what the model expects of it.
    fn reversible(&self) -> String {
        if self.same {
            return "The stack stays as it is, so there is nothing to try without cutting: measure again before the first cut.".to_owned();
        }
        let count = self.rows.len();
        let shown = [count / 4, count * 3 / 4];
        let dp =
            |p: &Point| (p.summary.cylinder_pressure_to - p.summary.crankcase_pressure_to) / 1e5;
        let expected: Vec<String> = shown
            .iter()
            .filter_map(|i| {
                let row = self.rows.get(*i)?;
                let (a, b) = (row.before.as_ref()?, row.stack.as_ref()?);
                Some(format!(
                    "at {:.0}/min torque {:+.1} %, pressure difference at transfer opening {:+.2} bar",
                    row.rpm,
                    100.0 * (b.summary.torque / a.summary.torque - 1.0),
                    dp(b) - dp(a)
                ))
            })
            .collect();
        if self.uncut {
            return "Nothing is cut, so the whole plan can be undone: fit it, and measure squish and timing before it runs.".to_owned();
        }
        if expected.is_empty() {
            return "Before cutting, fit the stack alone and measure squish and timing; what it does by itself was not simulated.".to_owned();
        }
        format!(
            "Before cutting, try what can be undone: fit this stack alone. The model expects {}. If the change does not come that way, do not cut: find out why first.",
            expected.join("; ")
        )
    }
}

/// What the file says of itself.
const HEAD: &str = "# The engine after a plan of freshcharge: the stack and the sizes that it asks for. What was read before\n# stands as it was read, with the stack it was read with in [stack.measured]. Nothing here has been cut\n# yet: enter what you measure afterwards.";

fn mean(changes: &[(f64, f64)]) -> f64 {
    changes.iter().map(|c| c.1).sum::<f64>() / changes.len().max(1) as f64
}

/// At most so many of the speeds, the first and the last among them.
fn thinned(speeds: &[f64], most: usize) -> Vec<f64> {
    let last = speeds.len().saturating_sub(1);
    if last < most {
        return speeds.to_vec();
    }
    (0..most).map(|i| speeds[(i * last + (most - 1) / 2) / (most - 1)]).collect()
}
