//! Bringing an engine with pipes to its periodic state.
//!
//! The slow part is gas that moves down the pipes from cycle to cycle. Coarser grids are settled first, each
//! carried over to the next finer one. On each, plain cycles bring the state near; then the steps are kept
//! as they are, for steps chosen anew make the cycle map rough; then each cycle's change is summed up over
//! all that follows from it (`transport`), and what that leaves (waves, and what they make of the next
//! charge) is accelerated. Far from the fixed point acceleration is a lottery: near the edges of a pipe's
//! band there may be two of them, and plain cycles decide which.
//!
//! # Decisions
//!
//! - Settled is: distance to the fixed point at most 5e-5, the larger of the change summed up and of the
//!   way to where the acceleration goes; and headline results within 5e-5 of what the acceleration
//!   foretells for them (they ride along in its vectors: what combines the states combines them). Steps
//!   kept at other moments move results by up to 6e-5, which two starts have to share.

use std::sync::Arc;

use super::coupled::{Coupled, Finished, Observer, Snapshot, Steps};
use super::search::{Cycle, Headlines, Search, headlines};
use super::transport;
use crate::cycle::figures::{Closing, point};
use crate::cycle::lane_run::{LaneRun, Start};
use crate::cycle::turns::{GIVEN_UP, PLAIN_CYCLES, Turns};
use crate::cycle::vector::{candidate_share, change, name, state, vector};
use crate::cycle::{CycleError, Settings};
use crate::lane::InstructionSet;
use crate::model::{Model, ModelError};
use crate::network::layout::{BURNED, Layout, MASS, SLUG_BURNED, SLUG_MASS, quadrature};
use crate::pipe::State;
use crate::result::{Point, Verdict, WorkCounts};

/// Cells of each grid over those asked for, and the residual at which it has done its part.
const GRIDS: &[(f64, f64)] = &[(4.0, 2e-3), (2.0, 3e-3)];
/// Distance to the periodic state at which a cycle counts as repeating: half of what two starts may differ
/// by.
const REPEATS: f64 = 5e-5;
/// The same for plain cycles that others are held against.
const PLAINLY: f64 = 2e-5;
/// The same of a headline result, in shares of itself.
const STEADY: f64 = 5e-5;
/// Headline results smaller than this count as this: mean pressure [Pa], delivery ratio, trapping, then mass and
/// pressure, which are never small. Of an engine that would not run, shares of next to nothing never come to rest.
const SMALLEST: Headlines = [1e4, 0.02, 0.02, 0.0, 0.0];
/// Velocity that counts as one [m/s].
const VELOCITY: f64 = 500.0;
/// Temperature that counts as one [K].
const TEMPERATURE: f64 = 1000.0;

/// Where a solution starts from: gas in the engine's volumes and, on the coarse grid, in its pipes.
#[derive(Debug, Clone)]
pub(super) struct Neighbour {
    y: Vec<f64>,
    pipes: Vec<State>,
}

/// A point with the state it was reached in.
pub(super) struct Solution {
    pub(super) point: Point,
    pub(super) neighbour: Neighbour,
    fine: Level,
    start: Snapshot,
}

/// Settles a model from cold or from a neighbour.
pub(super) fn settle(
    model: &Arc<Model>,
    settings: &Settings,
    from: Option<&Neighbour>,
) -> Result<Solution, CycleError> {
    let cell = model.pipes.as_ref().map_or(f64::NAN, |p| p.cell);
    let mut level = Level::new(model, cell * GRIDS[0].0, settings.instructions)?;
    let mut start = match from {
        Some(from) => level.snapshot(from.y.clone(), &from.pipes),
        None => level.coupled.cold_start(),
    };
    let mut neighbour = None;
    for (place, (_, enough)) in GRIDS.iter().enumerate() {
        let done = level.settle(start, Goal::Residual(*enough), (settings.cycles / 2).max(1))?;
        let y = done.end.y;
        neighbour.get_or_insert_with(|| Neighbour { y: y.clone(), pipes: level.states() });
        let next = GRIDS.get(place + 1).map_or(1.0, |g| g.0);
        let mut finer = Level::new(model, cell * next, settings.instructions)?;
        start = finer.snapshot(y, &level.carried_to(&finer));
        finer.work = level.work;
        finer.before = level.before + done.cycles;
        level = finer;
    }
    let last = level.settle(start, Goal::Fixed, settings.cycles.max(1))?;
    let neighbour = neighbour.unwrap_or_else(|| unreachable!("there are coarser grids"));
    Ok(Solution { point: last.point, neighbour, fine: level, start: last.start })
}

/// Plain cycles on the model's own grid until one repeats, from what its volumes and `pipes` hold; pipes of
/// which nothing is said begin cold. The steps are then chosen anew for more of them: those kept from far away
/// move the fixed point by 3e-4 where it is touchy.
pub(in crate::cycle) fn run(
    model: &Arc<Model>,
    pipes: &[f64],
    settings: &Settings,
) -> Result<Point, CycleError> {
    let cell = model.pipes.as_ref().map_or(f64::NAN, |p| p.cell);
    let mut level = Level::new(model, cell, settings.instructions)?;
    let mut start = level.coupled.cold_start();
    if !pipes.is_empty() {
        start.pipes = pipes.to_vec();
    }
    let near = level.settle(start, Goal::Plain, settings.cycles.max(1))?;
    if near.cycles >= settings.cycles {
        return Ok(near.point);
    }
    level.before = near.cycles;
    let start = level.image(near.end);
    Ok(level.settle(start, Goal::Plain, settings.cycles - near.cycles)?.point)
}

/// When a grid has done its part.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Goal {
    /// The residual is this small.
    Residual(f64),
    /// The fixed point is found.
    Fixed,
    /// The same, by plain cycles and more closely.
    Plain,
}

impl Solution {
    /// Runs the last cycle again, watched.
    pub(super) fn watched(&mut self, observer: &mut dyn Observer) -> Result<(), CycleError> {
        self.fine.run(&self.start, Some(observer)).map(|_| ())
    }
}

/// A model on one grid.
struct Level {
    coupled: Coupled,
    notes: LaneRun,
    steps: Steps,
    work: WorkCounts,
    /// Cycles on other grids.
    before: u32,
}

/// What a level has come to.
struct Settled {
    point: Point,
    /// State at the start of the last cycle.
    start: Snapshot,
    /// State at its end.
    end: Snapshot,
    cycles: u32,
}

impl Level {
    fn new(
        model: &Arc<Model>,
        cell: f64,
        instructions: InstructionSet,
    ) -> Result<Self, ModelError> {
        let coupled = Coupled::new(model, cell, instructions)?;
        // of a run without pipes only its notes are wanted, which depend on no setting
        let notes = LaneRun::new(Arc::clone(model), Start::cold(model), &Settings::single());
        let (steps, work) = (Steps::default(), WorkCounts::default());
        Ok(Self { coupled, notes, steps, work, before: 0 })
    }

    fn run(
        &mut self,
        start: &Snapshot,
        observer: Option<&mut dyn Observer>,
    ) -> Result<Finished, CycleError> {
        self.notes.work = WorkCounts::default();
        let done = self.coupled.cycle(start, &mut self.steps, &mut self.notes, observer);
        self.work.steps += self.notes.work.steps;
        self.work.evaluations += self.notes.work.evaluations;
        done
    }

    /// Cycles from `start` until the goal is reached.
    fn settle(&mut self, start: Snapshot, goal: Goal, cycles: u32) -> Result<Settled, CycleError> {
        let mut search = Search::new();
        let searches = goal == Goal::Fixed && cycles >= GIVEN_UP;
        let plainly = if searches { PLAIN_CYCLES } else { 0 };
        let mut turns = Turns::default();
        let mut start = start;
        for cycle in 1..=cycles + plainly {
            self.steps.follow = search.keeps_steps;
            let z = self.vector(&start);
            let done = match self.run(&start, None) {
                Ok(done) => done,
                Err(error) => {
                    let plain = search.give_up().filter(|_| cycle < cycles + plainly);
                    start = plain.ok_or(error)?;
                    continue;
                }
            };
            let image = self.vector(&done.end);
            let ahead = self.ahead(&z, &image, done.integrals[quadrature::INTAKE_MASS]);
            let (residual, slowest) = self.residual(&z, &image);
            let verdict = |settled: bool| {
                let cycles = self.before + cycle;
                if settled {
                    Verdict::Settled { cycles, residual }
                } else {
                    Verdict::NotSettled { cycles, residual, slowest: slowest.clone() }
                }
            };
            let point = |settled: bool| self.point(&start, &done, verdict(settled));
            let now = point(true);
            let headlines = headlines(&now);
            let seen =
                Cycle { number: cycle, residual, z: &z, image: &image, ahead: &ahead, headlines };
            let aim = search.aim(&seen);
            let settled = match goal {
                Goal::Residual(enough) => residual <= enough,
                Goal::Fixed => self.repeats(&seen, aim.periodic, REPEATS) && !search.leads_away(),
                Goal::Plain => self.repeats(&seen, aim.periodic, PLAINLY) && !search.leads_away(),
            };
            let gave_up = searches && cycle > cycles;
            if gave_up
                && !settled
                && let Some(point) = self.of_several(&mut turns, &image, point(false))
            {
                return Ok(Settled { point, start, end: done.end, cycles: cycle });
            }
            if settled || cycle == cycles + plainly || cycle >= cycles && search.strays() {
                let point = if settled { now } else { point(false) };
                return Ok(Settled { point, start, end: done.end, cycles: cycle });
            }
            let candidate =
                aim.candidate.filter(|_| goal != Goal::Plain && !(searches && cycle >= cycles));
            let next = candidate.and_then(|z| self.of_vector(&z));
            let image = self.image(done.end);
            search.accelerated = next.is_some();
            start = next.unwrap_or_else(|| image.clone());
            search.plain = Some(image);
        }
        unreachable!("the last cycle returns")
    }

    /// The point of a cycle.
    fn point(&self, start: &Snapshot, done: &Finished, verdict: Verdict) -> Point {
        let closing = Closing {
            model: &self.coupled.model,
            watch: &self.notes.watch,
            start: &start.y,
            end: &done.end.y,
            integrals: &done.integrals,
            pipes: done.stored,
        };
        point(&closing, verdict, self.work)
    }

    /// The mean of the last turns where a plain cycle that ended in `image` shows that the state repeats after
    /// several.
    fn of_several(&self, turns: &mut Turns, image: &[f64], point: Point) -> Option<Point> {
        let cycles = point.verdict.cycles();
        let apart = |a: &[f64], b: &[f64]| self.residual(a, b).0;
        let (turns, residual, points) = turns.add(image.to_vec(), point, REPEATS, apart)?;
        Some(Point::mean(&points, Verdict::Repeats { turns, cycles, residual }))
    }

    /// Whether a cycle is as near to the periodic state, as far as that is known, as is `enough`.
    fn repeats(&self, cycle: &Cycle, periodic: Option<(Vec<f64>, Headlines)>, enough: f64) -> bool {
        periodic.is_some_and(|(periodic, results)| {
            let distance = |to: &[f64]| self.residual(cycle.z, to).0;
            distance(cycle.ahead) <= enough
                && distance(&periodic) <= enough
                && steady(&cycle.headlines, &results)
        })
    }

    /// The end of a cycle as the start of the next: all gas in the cylinder is old from here on.
    fn image(&self, mut end: Snapshot) -> Snapshot {
        let layout = self.coupled.model.case.choices.layout;
        end.y[layout.cylinder_old()] = end.y[Layout::CYLINDER + MASS];
        end
    }

    /// Where further cycles like the one from `z` to `image` would lead, by the flow of `through` [kg] alone.
    fn ahead(&self, z: &[f64], image: &[f64], through: f64) -> Vec<f64> {
        let (weights, _) = self.weights();
        let volumes = z.len() - 4 * weights.len();
        let mut ahead = image.to_vec();
        transport::sum_up_volumes(&self.coupled.model, through, &z[..volumes], &mut ahead);
        // temperature and share stand side by side, and both with the weight of their place
        let places = || z[volumes..].chunks_exact(4).zip(image[volumes..].chunks_exact(4));
        let mut changes: Vec<transport::Mixture> = places()
            .zip(&weights)
            .map(|((a, b), w)| std::array::from_fn(|k| (b[2 + k] - a[2 + k]) / w))
            .collect();
        transport::sum_up(&self.coupled.piped, through, &mut changes);
        let cells = ahead[volumes..].chunks_exact_mut(4).zip(places());
        for (((to, (from, _)), w), change) in cells.zip(&weights).zip(changes) {
            for k in 0..2 {
                to[2 + k] = from[2 + k] + w * change[k];
            }
        }
        ahead
    }

    /// State of every cell and vessel, as last read off.
    fn states(&self) -> Vec<State> {
        self.coupled.piped.network.states()
    }

    fn snapshot(&mut self, y: Vec<f64>, pipes: &[State]) -> Snapshot {
        self.coupled.piped.network.set_states(pipes);
        let start = Snapshot { y, pipes: self.coupled.piped.network.stored() };
        self.image(start)
    }

    /// The gas of this grid on another: straight lines between the middles of the cells.
    fn carried_to(&self, other: &Self) -> Vec<State> {
        let own = &self.coupled.piped.network;
        let mut states = Vec::new();
        for (from, to) in own.pipes().iter().zip(other.coupled.piped.network.pipes()) {
            let (grid, cells) = (from.grid(), from.grid().cells());
            for cell in 0..to.grid().cells() {
                let x = to.grid().middle(cell);
                let after = (0..cells).take_while(|i| grid.middle(*i) <= x).count();
                let (a, b) = (after.saturating_sub(1), after.min(cells - 1));
                let (xa, xb) = (grid.middle(a), grid.middle(b));
                let share = if a == b { 0.0 } else { (x - xa) / (xb - xa) };
                states.push(between(&from.state(a), &from.state(b), share));
            }
        }
        let all = own.states();
        states.extend(&all[all.len() - own.vessels().len()..]);
        states
    }

    /// The whole state as numbers of order one: volumes and vessels with weight 1, cells with 1/√n.
    fn vector(&mut self, at: &Snapshot) -> Vec<f64> {
        let network = &mut self.coupled.piped.network;
        network.restore(&at.pipes);
        // a state that holds no gas gives numbers that are none, and is refused with them
        let _ = network.refresh();
        let mut z = vector(&self.coupled.model, &at.y);
        let (weights, unit) = self.weights();
        for (s, w) in self.states().iter().zip(weights) {
            z.extend([
                w * s.pressure / unit,
                w * s.velocity / VELOCITY,
                w * s.temperature / TEMPERATURE,
                w * s.burned,
            ]);
        }
        z
    }

    /// Weight of each cell and vessel, and the pressure that counts as one [Pa].
    fn weights(&self) -> (Vec<f64>, f64) {
        let network = &self.coupled.piped.network;
        let cells: usize = network.pipes().iter().map(|p| p.grid().cells()).sum();
        let mut weights = vec![1.0 / (cells as f64).sqrt(); cells];
        weights.extend(network.vessels().iter().map(|_| 1.0));
        (weights, self.coupled.model.reference.ambient_pressure)
    }

    /// The state of a vector; none where no gas can be in it.
    fn of_vector(&mut self, z: &[f64]) -> Option<Snapshot> {
        let (weights, unit) = self.weights();
        let volumes = z.len() - 4 * weights.len();
        let y = state(&self.coupled.model, &z[..volumes])?;
        if !holds_its_slugs(&self.coupled.model.case.choices.layout, &y) {
            return None;
        }
        let mut pipes = Vec::with_capacity(weights.len());
        for (s, w) in z[volumes..].chunks_exact(4).zip(weights) {
            let state = State {
                pressure: s[0] / w * unit,
                velocity: s[1] / w * VELOCITY,
                temperature: s[2] / w * TEMPERATURE,
                burned: s[3] / w,
            };
            let good = state.pressure > 0.02 * unit
                && (150.0..4000.0).contains(&state.temperature)
                && state.velocity.abs() < 2.0 * VELOCITY
                && (-0.02..1.02).contains(&state.burned);
            if !good {
                return None;
            }
            pipes.push(State { burned: state.burned.clamp(0.0, 1.0), ..state });
        }
        Some(self.snapshot(y, &pipes))
    }

    /// Change over a cycle: the largest of the volumes', the root mean square of the pipes'; and what
    /// changes most.
    fn residual(&self, z: &[f64], image: &[f64]) -> (f64, String) {
        let (weights, _) = self.weights();
        let volumes = z.len() - 4 * weights.len();
        let model = &self.coupled.model;
        let (largest, index) = change(model, &z[..volumes], &image[..volumes]);
        let squares = z[volumes..].iter().zip(&image[volumes..]).map(|(a, b)| (b - a).powi(2));
        let pipes = squares.sum::<f64>().sqrt();
        if pipes > largest || pipes.is_nan() {
            (pipes, "gas in the pipes".to_owned())
        } else {
            (largest, name(model, index))
        }
    }
}

/// Whether the crankcase holds what its slugs are said to.
fn holds_its_slugs(layout: &Layout, y: &[f64]) -> bool {
    let rest = |of: usize, in_slug: usize| {
        let slugs: f64 = (0..layout.groups).map(|g| y[layout.slug(g) + in_slug]).sum();
        y[Layout::CRANKCASE + of] - slugs
    };
    let (mass, burned) = (rest(MASS, SLUG_MASS), rest(BURNED, SLUG_BURNED));
    mass > 0.0 && candidate_share(burned / mass)
}

fn between(a: &State, b: &State, share: f64) -> State {
    let of = |x: f64, y: f64| x + share * (y - x);
    State {
        pressure: of(a.pressure, b.pressure),
        temperature: of(a.temperature, b.temperature),
        velocity: of(a.velocity, b.velocity),
        burned: of(a.burned, b.burned),
    }
}

/// Whether headline results have come to what they will be.
fn steady(now: &Headlines, periodic: &Headlines) -> bool {
    let sized = now.iter().zip(periodic).zip(SMALLEST);
    sized.fold(true, |steady, ((a, b), least)| {
        steady && (a - b).abs() <= STEADY * a.abs().max(least)
    })
}
