//! From one cycle to the next: verdict, steps, acceleration.

use super::{AfterCycle, LaneRun, Start};
use crate::cycle::Settings;
use crate::cycle::figures::{Closing, Stored, point};
use crate::cycle::newton::{Newton, Probes};
use crate::cycle::turns::{GIVEN_UP, PLAIN_CYCLES};
use crate::cycle::vector::{change, derivative, displaced, name, probes, state, vector};
use crate::network::layout::{Layout, MASS};
use crate::ode::StepControl;
use crate::result::{Point, Verdict};

/// Change of a cycle below which the next ones follow its steps.
const FOLLOW: f64 = 3e-3;
/// Change of a cycle, over the one that counts as repeating, below which the next may be the last.
const NEARLY: f64 = 60.0;
/// Change of a cycle below which the map is straight enough to be probed.
const STRAIGHT: f64 = 5e-2;
/// Times a point is probed at most.
const MOST_PROBINGS: u32 = 2;
/// Change of a cycle below which the tolerance is tightened.
const NEAR: f64 = 1e-2;
/// Tolerance of the cycles that follow, where the final one is tighter: on steps that are followed the
/// map is smooth however loose they are, and what the acceleration has learned holds on.
const MIDDLE_TOLERANCE: f64 = 1e-7;
/// Change of a cycle below which the tolerance takes its final value.
const NEARER: f64 = 1e-3;
/// Cycles after which it does so in any case.
const MIDDLE_CYCLES: u32 = 15;

/// Whether a search that ends has had its chance, rather than been asked for a few cycles or for plain ones.
fn searched(settings: &Settings) -> bool {
    settings.without_pipes.memory > 0 && settings.cycles >= GIVEN_UP
}

impl LaneRun {
    /// Decides with which steps the next cycle is made. Steps chosen anew in each cycle make the cycle
    /// map rough by some hundred times the tolerance; on the steps of an earlier cycle it is smooth.
    fn choose_steps(&mut self, residual: f64, settings: &Settings) {
        let last = settings.without_pipes.tolerance;
        let middle = MIDDLE_TOLERANCE.max(last);
        if self.newton.is_some() {
            self.follows = self.tolerance <= last;
            self.tolerance = last;
        } else if self.tolerance > middle {
            if residual <= NEAR || self.cycles >= settings.without_pipes.plain {
                self.tolerance = middle;
            }
        } else if self.tolerance > last && (residual <= NEARER || self.cycles >= MIDDLE_CYCLES) {
            self.tolerance = last;
            self.follows = false;
        } else {
            self.follows |= residual <= FOLLOW || self.cycles >= settings.without_pipes.plain + 3;
        }
        self.exact = residual <= NEARLY * settings.without_pipes.repeat
            || self.cycles + 1 >= settings.cycles;
    }

    /// Judges the cycle that ends with state `y` and quadratures `integrals`.
    pub(in crate::cycle) fn end_cycle(
        &mut self,
        y: &[f64],
        integrals: &[f64],
        settings: &Settings,
    ) -> AfterCycle {
        let image = vector(&self.model, y);
        if self.probing {
            return AfterCycle::Image(image);
        }
        self.cycles += 1;
        let (residual, slowest) = change(&self.model, &self.start, &image);
        let fine = self.exact && self.tolerance <= settings.without_pipes.tolerance;
        let settled = residual <= settings.without_pipes.repeat && fine;
        let gives_up = self.cycles >= settings.cycles;
        if !settled && (self.turns.is_some() || gives_up && searched(settings)) {
            return self.after_search(y, integrals, image, settings);
        }
        if settled || gives_up {
            let verdict = if settled {
                Verdict::Settled { cycles: self.cycles, residual }
            } else {
                let slowest = name(&self.model, slowest);
                Verdict::NotSettled { cycles: self.cycles, residual, slowest }
            };
            return self.done(y, integrals, verdict);
        }
        let progress = residual <= self.residual;
        if !progress {
            // what was learned of the map has proved wrong
            self.newton = None;
        }
        self.residual = residual;
        let accelerates =
            settings.without_pipes.memory > 0 && self.cycles >= settings.without_pipes.plain;
        if accelerates
            && self.newton.is_none()
            && residual <= STRAIGHT
            && self.probings < MOST_PROBINGS
        {
            return self.probes(image);
        }
        AfterCycle::Continue(self.advance(&image, settings))
    }

    /// Goes on plainly from a cycle that did not settle, and looks whether the state repeats after several turns.
    fn after_search(
        &mut self,
        y: &[f64],
        integrals: &[f64],
        image: Vec<f64>,
        settings: &Settings,
    ) -> AfterCycle {
        let (residual, slowest) = change(&self.model, &self.start, &image);
        let cycles = self.cycles;
        let slowest = name(&self.model, slowest);
        let verdict = Verdict::NotSettled { cycles, residual, slowest };
        let point = self.point(y, integrals, verdict.clone());
        let mut turns = self.turns.take().unwrap_or_default();
        let apart = |a: &[f64], b: &[f64]| change(&self.model, a, b).0;
        if let Some((turns, residual, points)) =
            turns.add(image.clone(), point, settings.without_pipes.repeat, apart)
        {
            let verdict = Verdict::Repeats { turns, cycles, residual };
            let mean = Box::new(Point::mean(&points, verdict));
            return AfterCycle::Done(mean, self.end(y));
        }
        let next = state(&self.model, &image).filter(|_| cycles < settings.cycles + PLAIN_CYCLES);
        let Some(next) = next else { return self.done(y, integrals, verdict) };
        self.turns = Some(turns);
        self.newton = None;
        self.plain = None;
        self.exact = true;
        self.residual = residual;
        self.start = image;
        AfterCycle::Continue(next)
    }

    /// The point that did not settle, where the search had ended before a plain cycle failed.
    pub(in crate::cycle) fn given_up(&mut self) -> Option<Point> {
        self.turns.take()?.last()
    }

    fn done(&mut self, y: &[f64], integrals: &[f64], verdict: Verdict) -> AfterCycle {
        let point = Box::new(self.point(y, integrals, verdict));
        AfterCycle::Done(point, self.end(y))
    }

    fn point(&self, y: &[f64], integrals: &[f64], verdict: Verdict) -> Point {
        let closing = Closing {
            model: &self.model,
            watch: &self.watch,
            start: &self.start_state,
            end: y,
            integrals,
            pipes: Stored::default(),
        };
        point(&closing, verdict, self.work)
    }

    /// Where a neighbour may start from.
    fn end(&mut self, y: &[f64]) -> Start {
        let mut state = y.to_vec();
        let layout = self.model.case.choices.layout;
        state[layout.cylinder_old()] = state[Layout::CYLINDER + MASS];
        let mut newton = self.newton.take();
        newton.iter_mut().for_each(Newton::map_changes);
        Start { state, newton }
    }

    /// Asks for the cycles that tell how the one that has just ended in `image` depends on its start.
    fn probes(&mut self, image: Vec<f64>) -> AfterCycle {
        self.probings += 1;
        let probes = probes(&self.model, &self.start, &image);
        let states = probes.iter().map(|probe| state(&self.model, &displaced(&self.start, probe)));
        // where a displaced state cannot be, the next cycle goes on without
        let starts = states.collect::<Option<Vec<_>>>().unwrap_or_default();
        self.probed = Some((image, probes));
        AfterCycle::Probe(Probes::new(starts, self.grid.clone()))
    }

    /// The state from which to go on after the cycles of [`Self::probes`].
    pub(in crate::cycle) fn learn(&mut self, probes: &Probes, settings: &Settings) -> Vec<f64> {
        self.work.add(&probes.work.borrow());
        let Some((image, made)) = self.probed.take() else {
            return self.start_state.clone();
        };
        let images: Option<Vec<Vec<f64>>> = probes.ends.borrow().iter().cloned().collect();
        self.newton = images.filter(|images| images.len() == made.len()).and_then(|images| {
            Newton::new(&derivative(&self.model, (&self.start, &image), &made, &images))
        });
        self.advance(&image, settings)
    }

    /// The state at the start of the next cycle after one that ended in `image`.
    fn advance(&mut self, image: &[f64], settings: &Settings) -> Vec<f64> {
        self.choose_steps(self.residual, settings);
        // a candidate that made things much worse is given up with all its history
        if self.residual > 100.0 * self.best {
            self.anderson.clear();
        }
        self.best = self.best.min(self.residual);
        let candidate = if let Some(newton) = &mut self.newton {
            let next = newton.next(&self.start, image);
            if !self.follows {
                newton.map_changes();
            }
            Some(next)
        } else if settings.without_pipes.memory > 0
            && self.cycles > settings.without_pipes.plain
            && (!self.wary || self.residual <= STRAIGHT)
        {
            Some(self.anderson.next(&self.start, image))
        } else {
            None
        };
        let admissible = candidate.and_then(|next| Some((state(&self.model, &next)?, next)));
        self.plain = admissible.is_some().then(|| image.to_vec());
        let (state, next) = admissible.unwrap_or_else(|| {
            let plain = state(&self.model, image);
            let fallback = || self.model.cold_start.clone();
            (plain.unwrap_or_else(fallback), image.to_vec())
        });
        self.start = next;
        state
    }

    /// Where to go on after a cycle that failed: from where the one before it ended, with nothing learned; where it
    /// had started there already, from cold and accelerated only near the end. None where that has been done too.
    pub(in crate::cycle) fn retreat(&mut self, settings: &Settings) -> Option<Vec<f64>> {
        // after the search there is nothing to go back to: the cycle that ended it is the answer
        if self.turns.is_some() {
            return None;
        }
        let image = self.plain.take().or_else(|| {
            let again = settings.without_pipes.memory > 0 && self.cycles > 0 && !self.wary;
            self.wary |= again;
            again.then(|| vector(&self.model, &self.model.cold_start))
        })?;
        self.cycles += 1;
        let state = state(&self.model, &image).filter(|_| self.cycles < settings.cycles)?;
        self.anderson.clear();
        self.newton = None;
        self.follows = false;
        self.control = StepControl::default();
        self.start = image;
        Some(state)
    }
}
