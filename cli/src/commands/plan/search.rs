//! The search for plans: geometry first, then the simulation of what is worth it.
//!
//! Every stack of the shelf is solved for the goals in closed form. Where goals need the simulation, the
//! best of them are simulated together with a step of every operation; on these slopes they are solved
//! again, the better ones simulated again where that led, and at the end every plan is simulated in each
//! corner of its tolerances. What a corner misses tightens the wish, and the plan is solved once more.

use freshcharge_sim::cycle::Settings;
use freshcharge_sim::result::Point;
use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::workshop::{self, Goal, Solution, solve};
use rayon::prelude::*;

use super::Plan;
use super::bench::simulate_all;
use crate::commands::goals::{Choice, Goals, simulated};
use crate::session::progress::Watch;

/// Stacks simulated in each round of slopes.
const ROUNDS: [usize; 3] = [24, 10, 6];
/// As many at least are simulated, reached by geometry or not.
const FEWEST: usize = 8;
/// Plans simulated in every corner, and how often a wish is tightened.
const IN_CORNERS: usize = 5;
const TIGHTENED: usize = 3;
/// Step for the slopes of simulated quantities, as a share of an operation's limit.
const STEP: f64 = 0.1;

/// What a search found.
pub(crate) struct Found {
    /// Plans, best first.
    pub(crate) plans: Vec<Plan>,
    /// The goals they were held against: without the simulated ones where it was stopped before them.
    pub(crate) goals: Goals,
}

/// Every stack with its least cuts, best first. Stacks that break a goal that is held are left out.
pub(crate) fn search(
    scenario: &Scenario,
    goals: &Goals,
    choices: &[Choice],
    watch: &Watch,
) -> Found {
    let closed = goals.closed();
    watch.begin("Stacks tried by geometry", choices.len());
    let mut plans = by_geometry(scenario, &closed, choices, watch);
    sort(scenario, &mut plans);
    if !goals.simulates() || plans.is_empty() {
        return Found { plans, goals: closed };
    }
    let simulated = Simulated { scenario, goals, closed: &closed, watch };
    match simulated.search(&plans).filter(|_| !watch.stopped()) {
        Some(plans) => Found { plans, goals: goals.clone() },
        None => Found { plans, goals: closed },
    }
}

fn by_geometry(scenario: &Scenario, goals: &Goals, choices: &[Choice], watch: &Watch) -> Vec<Plan> {
    let one = |choice: &Choice| {
        if watch.stopped() {
            return None;
        }
        let plan = solve_one(scenario, goals, *choice);
        watch.advance();
        plan
    };
    choices.par_iter().filter_map(one).collect()
}

/// The least cuts with one stack, by goals in closed form.
pub(crate) fn solve_one(scenario: &Scenario, goals: &Goals, choice: Choice) -> Option<Plan> {
    let values = |amounts: &[f64]| goals.values_of(&goals.spec(scenario, choice, amounts), &[]);
    let solution = solve(&goals.operations, &goals.goals, &values)?;
    Some(Plan { choice, solution, stays_best: f64::NAN })
}

/// Best first.
pub(crate) fn sort(scenario: &Scenario, plans: &mut [Plan]) {
    let key = |p: &Plan| (p.solution.relaxation, p.cost(scenario));
    plans.sort_by(|a, b| {
        let (a, b) = (key(a), key(b));
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
}

/// A search by goals that need the simulation.
struct Simulated<'a> {
    scenario: &'a Scenario,
    goals: &'a Goals,
    closed: &'a Goals,
    watch: &'a Watch,
}

/// A stack whose simulated quantities are known about some amounts.
struct Candidate {
    plan: Plan,
    /// Where they are known.
    at: Vec<f64>,
    /// Their values there, one for each goal; those in closed form are not read.
    values: Vec<f64>,
    /// Their slopes by each operation.
    slopes: Vec<Vec<f64>>,
    /// Goals, tightened by what corners missed.
    wish: Vec<Goal>,
    /// Whether its plan has been simulated in every corner.
    whole: bool,
}

impl Simulated<'_> {
    /// Plans whose simulated quantities hold in every corner, or miss least; none when it was stopped.
    fn search(&self, plans: &[Plan]) -> Option<Vec<Plan>> {
        let reached = plans.iter().filter(|p| p.solution.relaxation == 0.0).count();
        let count = reached.max(FEWEST).min(ROUNDS[0]);
        let mut candidates: Vec<Candidate> =
            plans.iter().take(count).map(|p| self.candidate(p)).collect();
        let speeds = self.goals.simulated_speeds().len();
        let steps = 1 + self.goals.operations.len();
        let slopes: usize = ROUNDS.iter().map(|most| count.min(*most)).sum::<usize>() * steps;
        let corners = IN_CORNERS.min(count) * (2 << self.goals.operations.len());
        self.watch.begin("Simulations", speeds * (slopes + corners));
        for most in ROUNDS {
            self.best(&mut candidates, most);
            self.slopes(&mut candidates);
            if self.watch.stopped() {
                return None;
            }
            candidates = candidates.into_par_iter().filter_map(|c| self.solve(c)).collect();
        }
        self.best(&mut candidates, IN_CORNERS);
        for left in (0..TIGHTENED).rev() {
            self.corners(&mut candidates, left > 0);
            if self.watch.stopped() {
                return None;
            }
        }
        let mut plans: Vec<Plan> = candidates.into_iter().map(|c| c.plan).collect();
        sort(self.scenario, &mut plans);
        Some(plans)
    }

    fn candidate(&self, plan: &Plan) -> Candidate {
        Candidate {
            plan: plan.clone(),
            at: plan.solution.amounts.clone(),
            values: Vec::new(),
            slopes: Vec::new(),
            wish: self.goals.goals.clone(),
            whole: false,
        }
    }

    /// Only the best are looked at further.
    fn best(&self, candidates: &mut Vec<Candidate>, most: usize) {
        let key = |c: &Candidate| (c.plan.solution.relaxation, c.plan.cost(self.scenario));
        candidates.sort_by(|a, b| {
            let (a, b) = (key(a), key(b));
            a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
        });
        candidates.truncate(most);
    }

    /// Values of all goals of stacks at amounts; none where one cannot be simulated.
    fn values(&self, places: &[(Choice, Vec<f64>)]) -> Vec<Option<Vec<f64>>> {
        let speeds = self.goals.simulated_speeds();
        let specs: Vec<_> =
            places.iter().map(|(c, a)| self.goals.spec(self.scenario, *c, a)).collect();
        let cases: Vec<_> =
            specs.iter().flat_map(|s| speeds.iter().map(|rpm| (s.clone(), *rpm))).collect();
        let points = simulate_all(&cases, &Settings::sweep(), self.watch);
        let of = |(spec, points): (_, &[Option<Point>])| self.goals.values_of(spec, points);
        specs.iter().zip(points.chunks(speeds.len())).map(of).collect()
    }

    /// Simulates every candidate where it stands, with a step of every operation. Those that cannot be
    /// simulated there are dropped.
    fn slopes(&self, candidates: &mut Vec<Candidate>) {
        let operations = &self.goals.operations;
        let step = |at: &[f64], i: usize| {
            let step = STEP * operations[i].most;
            if at[i] + step > operations[i].most { -step } else { step }
        };
        let mut places = Vec::new();
        for candidate in candidates.iter_mut() {
            candidate.at.clone_from(&candidate.plan.solution.amounts);
            places.push((candidate.plan.choice, candidate.at.clone()));
            for i in 0..operations.len() {
                let mut there = candidate.at.clone();
                there[i] += step(&there, i);
                places.push((candidate.plan.choice, there));
            }
        }
        let values = self.values(&places);
        let mut each = values.chunks(1 + operations.len());
        candidates.retain_mut(|candidate| {
            let known: Option<Vec<&Vec<f64>>> =
                each.next().and_then(|c| c.iter().map(Option::as_ref).collect());
            let Some(known) = known else { return false };
            candidate.values.clone_from(known[0]);
            let slope = |i: usize| {
                let by = step(&candidate.at, i);
                known[i + 1].iter().zip(known[0]).map(|(b, a)| (b - a) / by).collect()
            };
            candidate.slopes = (0..operations.len()).map(slope).collect();
            true
        });
    }

    /// The least cuts on the slopes.
    fn solve(&self, mut candidate: Candidate) -> Option<Candidate> {
        let choice = candidate.plan.choice;
        let values = |amounts: &[f64]| {
            let exact =
                self.closed.values_of(&self.closed.spec(self.scenario, choice, amounts), &[])?;
            let mut exact = exact.into_iter();
            let moved: Vec<f64> = amounts.iter().zip(&candidate.at).map(|(a, b)| a - b).collect();
            let value = |(g, key): (usize, &String)| {
                if simulated(key).is_none() {
                    return exact.next();
                }
                let by: f64 = candidate.slopes.iter().zip(&moved).map(|(s, m)| s[g] * m).sum();
                Some(candidate.values[g] + by)
            };
            self.goals.keys.iter().enumerate().map(value).collect()
        };
        let solution = solve(&self.goals.operations, &candidate.wish, &values)?;
        candidate.plan.solution = solution;
        Some(candidate)
    }

    /// Simulates every new plan in all corners of its tolerances and keeps what was found; where one that
    /// seemed to reach its goals does not, it may be solved again for a tighter wish, which makes it new.
    fn corners(&self, candidates: &mut Vec<Candidate>, again: bool) {
        let mut places = Vec::new();
        let mut counts = Vec::new();
        for candidate in candidates.iter().filter(|c| !c.whole) {
            let Solution { amounts, done, .. } = &candidate.plan.solution;
            let before = places.len();
            places.push((candidate.plan.choice, amounts.clone()));
            let corners = workshop::corners(&self.goals.operations, done, amounts);
            // where nothing is cut there is one corner, which is the middle
            let corners = corners.filter(|c| c != amounts);
            places.extend(corners.map(|c| (candidate.plan.choice, c)));
            counts.push(places.len() - before);
        }
        let values = self.values(&places);
        let mut rest = &values[..];
        let mut counts = counts.into_iter();
        candidates.retain_mut(|candidate| {
            if candidate.whole {
                return true;
            }
            let (own, others) = rest.split_at(counts.next().unwrap_or(0));
            rest = others;
            let own: Option<Vec<&Vec<f64>>> = own.iter().map(Option::as_ref).collect();
            let Some(relaxation) = own.and_then(|own| self.settle(candidate, &own)) else {
                return false;
            };
            let hoped = candidate.plan.solution.relaxation == 0.0;
            candidate.plan.solution.relaxation = relaxation;
            candidate.whole = true;
            if again && hoped && relaxation > 0.0 {
                self.tighten(candidate);
            }
            true
        });
    }

    /// Takes over what was simulated at the amounts and in their corners; gives the relaxation it needs,
    /// none where a goal that is held is broken.
    fn settle(&self, candidate: &mut Candidate, own: &[&Vec<f64>]) -> Option<f64> {
        let solution = &mut candidate.plan.solution;
        candidate.at.clone_from(&solution.amounts);
        candidate.values.clone_from(own[0]);
        solution.values.clone_from(own[0]);
        (solution.low, solution.high) = (own[0].clone(), own[0].clone());
        for values in own {
            for (g, value) in values.iter().enumerate() {
                solution.low[g] = solution.low[g].min(*value);
                solution.high[g] = solution.high[g].max(*value);
            }
        }
        workshop::relaxation(&self.goals.goals, &solution.low, &solution.high)
    }

    /// Solves again for a wish tighter by what the corners missed, where there is a solution.
    fn tighten(&self, candidate: &mut Candidate) {
        let solution = &candidate.plan.solution;
        let ends = solution.low.iter().zip(&solution.high);
        for ((wish, goal), (low, high)) in
            candidate.wish.iter_mut().zip(&self.goals.goals).zip(ends)
        {
            let more =
                |missed: f64| if missed > 0.0 { 1.05 * missed + 1e-4 * goal.scale } else { 0.0 };
            wish.least = wish.least.map(|l| l + more(goal.least.unwrap_or(l) - low));
            wish.most = wish.most.map(|m| m - more(high - goal.most.unwrap_or(m)));
        }
        let again = Candidate {
            plan: candidate.plan.clone(),
            at: candidate.at.clone(),
            values: candidate.values.clone(),
            slopes: candidate.slopes.clone(),
            wish: candidate.wish.clone(),
            whole: false,
        };
        if let Some(again) = self.solve(again).filter(|c| c.plan.solution.relaxation == 0.0) {
            *candidate = again;
        }
    }
}
