//! The least cuts that reach goals, and keep them in every corner of their tolerances.
//!
//! Cuts are few and goals bend little over them: each subset of operations is solved by linear programs
//! on the goals' slopes, repeated until the cuts stand still; the corners are then tried for real, and
//! what they miss is added to the margins. Where no cuts reach the goals, the same program gives the
//! smallest relaxation, measured in the goals' own scales. Goals that are held take no part in it: cuts
//! that break one of them in any corner are no solution.
//!
//! # Decisions
//!
//! - A base stack lower than its gaskets is one thinner gasket. A plan fits one base gasket, one spacer
//!   and one head gasket; stacks of one height count once.

use microlp::{ComparisonOp, OptimizationDirection, Problem, Variable};

/// A range a quantity has to lie in.
#[derive(Debug, Clone, PartialEq)]
pub struct Goal {
    /// Lower bound.
    pub least: Option<f64>,
    /// Upper bound.
    pub most: Option<f64>,
    /// What counts as one unit of missing it.
    pub scale: f64,
    /// Whether it is never relaxed: what missing it would ruin cannot be weighed against the others.
    pub held: bool,
}

impl Goal {
    /// By how much a quantity between two values misses it, in its scale; zero or less when it is met.
    #[must_use]
    pub fn missed(&self, low: f64, high: f64) -> f64 {
        let below = self.least.map_or(f64::NEG_INFINITY, |l| l - low);
        let above = self.most.map_or(f64::NEG_INFINITY, |m| high - m);
        below.max(above) / self.scale
    }
}

/// Something that may be done by an amount between zero and a limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Operation {
    /// Largest amount.
    pub most: f64,
    /// How far the amount done may be from the amount meant, ±.
    pub tolerance: f64,
    /// Cost of an amount of one: how much it weighs that it cannot be undone.
    pub cost: f64,
    /// Cost of doing it at all.
    pub setup: f64,
}

/// What to do, and what it gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// Amount of each operation; zero where it is not done.
    pub amounts: Vec<f64>,
    /// Whether each is done.
    pub done: Vec<bool>,
    /// Values of the goals' quantities at these amounts.
    pub values: Vec<f64>,
    /// Cost of the cuts.
    pub cost: f64,
    /// By how much the worst goal is missed in the worst corner, in its scale; zero when all hold.
    pub relaxation: f64,
    /// Least value of every quantity over the corners of the tolerances.
    pub low: Vec<f64>,
    /// Greatest value of every quantity over them.
    pub high: Vec<f64>,
}

/// Step for slopes.
const SLOPE_STEP: f64 = 0.01;
/// A relaxation below this is rounding.
pub const NOTHING: f64 = 1e-7;
/// Weight of missing a goal against any cost.
const MISS: f64 = 1e4;

/// Cheapest way to the goals; where there is none, the one that misses them least. `values` gives the
/// goals' quantities at amounts, none where the engine cannot be so. None where no cuts keep the goals
/// that are held.
pub fn solve(
    operations: &[Operation],
    goals: &[Goal],
    values: &dyn Fn(&[f64]) -> Option<Vec<f64>>,
) -> Option<Solution> {
    let mut best: Option<Solution> = None;
    let mut subsets: Vec<u32> = (0..1_u32 << operations.len()).collect();
    subsets.sort_by_key(|s| s.count_ones());
    for subset in subsets {
        let done: Vec<bool> = (0..operations.len()).map(|i| subset >> i & 1 == 1).collect();
        let chosen = operations.iter().zip(&done).filter(|(_, done)| **done);
        let least: f64 = chosen.map(|(o, _)| o.setup).sum();
        // it cannot be cheaper than what it takes to begin
        if best.as_ref().is_some_and(|b| b.relaxation == 0.0 && b.cost <= least) {
            continue;
        }
        let search = Search { operations, goals, values, done };
        if let Some(found) = search.solve()
            && best.as_ref().is_none_or(|b| better(&found, b))
        {
            best = Some(found);
        }
    }
    best
}

/// The relaxation that values between `low` and `high` need; none when they break a goal that is held.
#[must_use]
pub fn relaxation(goals: &[Goal], low: &[f64], high: &[f64]) -> Option<f64> {
    let mut most: f64 = 0.0;
    for (goal, (low, high)) in goals.iter().zip(low.iter().zip(high)) {
        let missed = goal.missed(*low, *high);
        // what is no number misses every goal
        if missed.is_nan() || (goal.held && missed > NOTHING) {
            return None;
        }
        most = if goal.held { most } else { most.max(missed) };
    }
    Some(if most < NOTHING { 0.0 } else { most })
}

/// Amounts in every corner of the tolerances of what is done.
pub fn corners<'a>(
    operations: &'a [Operation],
    done: &[bool],
    amounts: &'a [f64],
) -> impl Iterator<Item = Vec<f64>> + use<'a> {
    let used: Vec<usize> = (0..amounts.len()).filter(|i| done[*i]).collect();
    (0..1_u32 << used.len()).map(move |corner| {
        let mut there = amounts.to_vec();
        for (bit, i) in used.iter().enumerate() {
            let sign = if corner >> bit & 1 == 1 { 1.0 } else { -1.0 };
            there[*i] += sign * operations[*i].tolerance;
        }
        there
    })
}

fn better(a: &Solution, b: &Solution) -> bool {
    if a.relaxation > NOTHING || b.relaxation > NOTHING {
        return a.relaxation < b.relaxation - NOTHING
            || (a.relaxation < b.relaxation + NOTHING && a.cost < b.cost);
    }
    a.cost < b.cost
}

struct Search<'a> {
    operations: &'a [Operation],
    goals: &'a [Goal],
    values: &'a dyn Fn(&[f64]) -> Option<Vec<f64>>,
    done: Vec<bool>,
}

impl Search<'_> {
    fn solve(&self) -> Option<Solution> {
        let mut amounts = vec![0.0; self.operations.len()];
        let mut margins = vec![[0.0; 2]; self.goals.len()];
        let mut relaxation = 0.0;
        for _ in 0..4 {
            for _ in 0..12 {
                let (next, missed) = self.step(&amounts, &margins)?;
                let moved =
                    amounts.iter().zip(&next).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
                (amounts, relaxation) = (next, missed);
                if moved < 1e-9 {
                    break;
                }
            }
            if !self.widen(&amounts, relaxation, &mut margins)? {
                break;
            }
        }
        let values = (self.values)(&amounts)?;
        let cost = (0..amounts.len())
            .filter(|i| self.done[*i])
            .map(|i| self.operations[i].setup + self.operations[i].cost * amounts[i])
            .sum();
        let (mut low, mut high) = (values.clone(), values.clone());
        for there in corners(self.operations, &self.done, &amounts) {
            for (g, value) in (self.values)(&there)?.into_iter().enumerate() {
                low[g] = low[g].min(value);
                high[g] = high[g].max(value);
            }
        }
        let relaxation = self::relaxation(self.goals, &low, &high)?;
        Some(Solution { amounts, done: self.done.clone(), values, cost, relaxation, low, high })
    }

    /// Slopes of every goal by every operation done, at amounts.
    fn slopes(&self, amounts: &[f64], here: &[f64]) -> Option<Vec<Vec<f64>>> {
        let mut slopes = vec![vec![0.0; amounts.len()]; here.len()];
        for i in (0..amounts.len()).filter(|i| self.done[*i]) {
            let step = if amounts[i] + SLOPE_STEP > self.operations[i].most {
                -SLOPE_STEP
            } else {
                SLOPE_STEP
            };
            let mut moved = amounts.to_vec();
            moved[i] += step;
            let there = (self.values)(&moved)?;
            for (g, slope) in slopes.iter_mut().enumerate() {
                slope[i] = (there[g] - here[g]) / step;
            }
        }
        Some(slopes)
    }

    /// One linear program: next amounts and the relaxation it needs.
    fn step(&self, amounts: &[f64], margins: &[[f64; 2]]) -> Option<(Vec<f64>, f64)> {
        let here = (self.values)(amounts)?;
        let slopes = self.slopes(amounts, &here)?;
        let mut problem = Problem::new(OptimizationDirection::Minimize);
        let variables: Vec<Option<Variable>> = self
            .operations
            .iter()
            .zip(&self.done)
            .map(|(o, done)| done.then(|| problem.add_var(o.cost.max(1e-6), (0.0, o.most))))
            .collect();
        let miss = problem.add_var(MISS, (0.0, f64::INFINITY));
        for (g, goal) in self.goals.iter().enumerate() {
            let spread: f64 = (0..amounts.len())
                .filter(|i| self.done[*i])
                .map(|i| slopes[g][i].abs() * self.operations[i].tolerance)
                .sum();
            let base: f64 =
                here[g] - slopes[g].iter().zip(amounts).map(|(s, a)| s * a).sum::<f64>();
            let row: Vec<(Variable, f64)> =
                variables.iter().zip(&slopes[g]).filter_map(|(v, s)| v.map(|v| (v, *s))).collect();
            let with_miss = |by: f64| {
                let last = (!goal.held).then_some((miss, by));
                row.iter().copied().chain(last).collect::<Vec<_>>()
            };
            // a held goal that no cut moves is met, up to rounding, or there is no solution
            let rounding = if goal.held { 1e-9 * goal.scale } else { 0.0 };
            if let Some(least) = goal.least {
                let bound = least - base + spread + margins[g][0] - rounding;
                problem.add_constraint(with_miss(goal.scale), ComparisonOp::Ge, bound);
            }
            if let Some(most) = goal.most {
                let bound = most - base - spread - margins[g][1] + rounding;
                problem.add_constraint(with_miss(-goal.scale), ComparisonOp::Le, bound);
            }
        }
        let solution = problem.solve().ok()?;
        let next = variables.iter().map(|v| v.map_or(0.0, |v| solution[v])).collect();
        Some((next, solution[miss]))
    }

    /// Tries every corner of the tolerances and adds what it misses to the margins; false when nothing
    /// is missed.
    fn widen(&self, amounts: &[f64], relaxation: f64, margins: &mut [[f64; 2]]) -> Option<bool> {
        let mut missed = false;
        for there in corners(self.operations, &self.done, amounts) {
            let values = (self.values)(&there)?;
            for (g, goal) in self.goals.iter().enumerate() {
                let relaxed = if goal.held { 0.0 } else { relaxation };
                let allowed = relaxed * goal.scale + 1e-9 * goal.scale;
                let below = goal.least.map_or(0.0, |l| l - values[g]) - allowed;
                let above = goal.most.map_or(0.0, |m| values[g] - m) - allowed;
                for (side, by) in [(0, below), (1, above)] {
                    if by > 0.0 {
                        margins[g][side] += by;
                        missed = true;
                    }
                }
            }
        }
        Some(missed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn goal(least: f64, most: f64) -> Goal {
        Goal { least: Some(least), most: Some(most), scale: 1.0, held: false }
    }

    fn operation(cost: f64) -> Operation {
        Operation { most: 3.0, tolerance: 0.0, cost, setup: 0.0 }
    }

    #[test]
    fn a_bent_problem_is_solved_to_rounding_and_prefers_the_cheap_cut() {
        let values = |x: &[f64]| Some(vec![x[0] * (1.0 + 0.2 * x[0]) + 2.0 * x[1]]);
        let found = solve(&[operation(1.0), operation(5.0)], &[goal(2.0, 9.0)], &values).unwrap();
        let exact = (-1.0 + (1.0_f64 + 4.0 * 0.2 * 2.0).sqrt()) / 0.4;
        assert!((found.amounts[0] - exact).abs() < 1e-6, "{found:?}");
        assert_eq!(found.amounts[1], 0.0);
        assert_eq!(found.relaxation, 0.0);
    }

    #[test]
    fn corners_keep_the_goal_and_the_least_relaxation_is_found() {
        let values = |x: &[f64]| Some(vec![x[0] * (1.0 + 0.2 * x[0])]);
        let careful = Operation { tolerance: 0.1, ..operation(1.0) };
        let found = solve(std::slice::from_ref(&careful), &[goal(2.0, 9.0)], &values).unwrap();
        assert!(values(&[found.amounts[0] - 0.1]).unwrap()[0] >= 2.0 - 1e-8);
        // 2.0 ± 0.01 cannot be kept with ±0.1: the best is to miss both sides alike
        let found = solve(&[careful], &[goal(1.99, 2.01)], &values).unwrap();
        let (low, high) = (found.amounts[0] - 0.1, found.amounts[0] + 0.1);
        let miss = |x: f64| values(&[x]).unwrap()[0];
        let (below, above) = (1.99 - miss(low), miss(high) - 2.01);
        assert!(
            (below - above).abs() < 0.02 && (found.relaxation - below.max(above)).abs() < 0.02,
            "{found:?}"
        );
    }

    #[test]
    fn a_held_goal_is_kept_and_the_other_gives_way() {
        // the wish asks for 5, the metal allows 2
        let values = |x: &[f64]| Some(vec![x[0], 3.0 - x[0]]);
        let wish = goal(5.0, 9.0);
        let metal = Goal { least: Some(1.0), most: None, scale: 1.0, held: true };
        let careful = Operation { tolerance: 0.1, ..operation(1.0) };
        let found = solve(std::slice::from_ref(&careful), &[wish.clone(), metal.clone()], &values);
        let found = found.unwrap();
        assert!((found.amounts[0] - 1.9).abs() < 1e-6, "{found:?}");
        assert!((found.relaxation - 3.2).abs() < 1e-6, "{found:?}");
        // where the metal is gone already there is nothing to offer
        let gone = Goal { least: Some(3.5), ..metal };
        assert_eq!(solve(&[careful], &[wish, gone], &values), None);
    }
}
