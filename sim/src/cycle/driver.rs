//! Steps all lanes, each at its own angle with its own step, and keeps them filled with work.
//!
//! # Decisions
//!
//! - Early cycles run at a looser tolerance; once a cycle has nearly settled, the next ones follow its
//!   steps, which makes the cycle map smooth. A refused step is halved. Single runs follow steps of 1e-7
//!   until a cycle changes by less than 1e-3, then choose steps of 1e-8.
//! - Sweeps keep five chains under way for each lane, and a lane that passes an event may hand its chain
//!   to the pool for one that is where the other lanes are.
//! - While steps are chosen, the error norm of one in which a flow reverses counts seven times: rates
//!   bend there like a square root, and the estimate can be far too small by chance (it left delivery
//!   ratios 3e-4 off at 1e-7).

use std::sync::Arc;

use super::lane_run::{AfterCycle, LaneRun, Start};
use super::newton::Probes;
use super::recorder::Tracer;
use super::{CycleError, Settings};
use crate::lane::{Lane, LaneJob, MOST_LANES};
use crate::model::{Model, ModelError};
use crate::network::Network;
use crate::ode::{Lifted, Stepper};
use crate::result::Point;

/// One combination of everything but speed: its models are solved in order, the first from cold,
/// each other from the one before it.
#[derive(Debug, Clone)]
pub struct Chain {
    /// Number by which its results are told.
    pub index: usize,
    /// Its points.
    pub models: Vec<Result<Arc<Model>, ModelError>>,
}

/// Receives chain index, point index within the chain and the point.
pub type Sink<'a> = dyn FnMut(usize, usize, Result<Point, CycleError>) + 'a;

/// A group of lanes at work.
struct Driver<'p, L: Lane> {
    settings: Settings,
    /// Where chains stand for probing cycles, one each.
    probes: Option<&'p Probes>,
    lanes: Vec<Option<Box<Work>>>,
    /// Chains under way that have no lane.
    parked: Vec<Parked>,
    /// The shared parts, made for the first case.
    parts: Option<Parts<L>>,
    /// A chain of other sub-models, until the lanes at work have ended.
    waiting: Option<Chain>,
    t: L,
}

struct Parts<L: Lane> {
    network: Network<L>,
    stepper: Stepper<L>,
    scale: Vec<L>,
}

/// A chain in a lane.
struct Work {
    chain: Chain,
    position: usize,
    run: LaneRun,
    /// Whether its cycle has begun and nothing has been seen of it yet.
    fresh: bool,
}

/// A chain that waits for a lane.
struct Parked {
    work: Box<Work>,
    lifted: Lifted,
    t: f64,
}

/// Chains under way for each lane where there are several. A window shut in all lanes costs nothing, so
/// lanes are given work from the same part of the cycle where there is some.
const UNDER_WAY: usize = 5;

impl<'p, L: Lane> Driver<'p, L> {
    /// Idle.
    fn new(settings: Settings, probes: Option<&'p Probes>) -> Self {
        Self {
            settings,
            probes,
            lanes: (0..L::WIDTH).map(|_| None).collect(),
            parked: Vec::new(),
            parts: None,
            waiting: None,
            t: L::zero(),
        }
    }

    /// Gives a lane its next chain, if there is one.
    fn refill(&mut self, lane: usize, source: &mut dyn FnMut() -> Option<Chain>, sink: &mut Sink) {
        self.lanes[lane] = None;
        while let Some(chain) = self.waiting.take().or_else(&mut *source) {
            if super::piped::has_pipes(&chain) {
                super::piped::solve(&chain, &self.settings, sink);
                continue;
            }
            if !self.suits(&chain) {
                self.waiting = Some(chain);
                break;
            }
            if self.start_point(lane, chain, 0, None, sink) {
                self.reseat(lane);
                return;
            }
        }
        if let Some(index) = self.fitting(lane, None) {
            let parked = self.parked.remove(index);
            self.seat(lane, parked);
        }
    }

    /// Gives a lane that has come to another part of the cycle to a parked chain that is where the other
    /// lanes are, if there is one and this one is not.
    fn reseat(&mut self, lane: usize) {
        let Some(index) = self.fitting(lane, self.lanes[lane].as_deref()) else { return };
        let next = self.parked.remove(index);
        self.park(lane);
        self.seat(lane, next);
    }

    /// The parked chain that suits the other lanes best; none where `instead` suits them as well.
    fn fitting(&self, lane: usize, instead: Option<&Work>) -> Option<usize> {
        let company = |work: &Work| {
            let others = self.lanes.iter().enumerate().filter(|(other, _)| *other != lane);
            let alike = |other: &Work| other.run.next_event == work.run.next_event;
            others.filter(|(_, other)| other.as_deref().is_some_and(alike)).count()
        };
        let mut best = (instead.map(company), None);
        for (index, parked) in self.parked.iter().enumerate() {
            let count = company(&parked.work);
            if best.0.is_none_or(|most| count > most) {
                best = (Some(count), Some(index));
            }
        }
        best.1
    }

    /// Takes the work out of a lane.
    fn park(&mut self, lane: usize) {
        if let (Some(work), Some(parts)) = (self.lanes[lane].take(), &self.parts) {
            let lifted = parts.stepper.lift(lane);
            self.parked.push(Parked { work, lifted, t: self.t.lane(lane) });
        }
    }

    /// Puts parked work into a lane.
    fn seat(&mut self, lane: usize, parked: Parked) {
        let Parked { work, lifted, t } = parked;
        let model = Arc::clone(&work.run.model);
        self.install(lane, &model);
        if let Some(parts) = &mut self.parts {
            parts.stepper.put(lane, &lifted);
            set_phase(&mut parts.network, lane, &work.run);
        }
        self.t.set_lane(lane, t);
        self.lanes[lane] = Some(work);
    }

    /// Gives every lane a chain, and parks some more where there are several lanes.
    fn fill(&mut self, source: &mut dyn FnMut() -> Option<Chain>, sink: &mut Sink) {
        for lane in 0..L::WIDTH {
            self.refill(lane, source, sink);
        }
        // probing cycles keep step with each other anyway
        let most =
            if L::WIDTH > 1 && self.probes.is_none() { (UNDER_WAY - 1) * L::WIDTH } else { 0 };
        while self.parked.len() < most && self.lanes[0].is_some() {
            let before = self.parked.len();
            self.park(0);
            self.refill(0, source, sink);
            if self.parked.len() == before {
                return;
            }
        }
    }

    /// Whether a chain has the sub-models of the lanes at work.
    fn suits(&self, chain: &Chain) -> bool {
        let first = chain.models.iter().flatten().next();
        let (Some(model), Some(parts)) = (first, &self.parts) else { return true };
        model.case.choices == *parts.network.choices()
    }

    /// Starts the first point of the chain, from `position` on, that has a model. False when there
    /// is none.
    fn start_point(
        &mut self,
        lane: usize,
        chain: Chain,
        position: usize,
        from: Option<Start>,
        sink: &mut Sink,
    ) -> bool {
        let mut from = from;
        for (index, model) in chain.models.iter().enumerate().skip(position) {
            let model = match model {
                Ok(model) => Arc::clone(model),
                Err(error) => {
                    sink(chain.index, index, Err(error.clone().into()));
                    from = None;
                    continue;
                }
            };
            let mut start = from.take().unwrap_or_else(|| Start::cold(&model));
            let run = if let Some(probes) = self.probes {
                start.state.clone_from(&probes.starts[chain.index]);
                LaneRun::probe(Arc::clone(&model), start.clone(), &probes.grid, &self.settings)
            } else {
                LaneRun::new(Arc::clone(&model), start.clone(), &self.settings)
            };
            self.install(lane, &model);
            self.lanes[lane] = Some(Box::new(Work { chain, position: index, run, fresh: false }));
            self.begin(lane, &start.state);
            return true;
        }
        false
    }

    /// Puts a model's numbers into a lane.
    fn install(&mut self, lane: usize, model: &Model) {
        let layout = model.case.choices.layout;
        let parts = self.parts.get_or_insert_with(|| Parts {
            network: Network::new(&model.case),
            stepper: Stepper::new(layout.states(), layout.normed(), layout.quadratures()),
            scale: vec![L::one(); layout.normed()],
        });
        parts.network.set_lane(lane, &model.case);
        for (place, value) in parts.scale.iter_mut().zip(&model.scale) {
            place.set_lane(lane, *value);
        }
        if L::WIDTH > 1 && self.lanes.iter().all(Option::is_none) {
            // lanes without work yet mirror this one, so that they hold plausible gas
            for (place, value) in parts.stepper.y.iter_mut().zip(&model.cold_start) {
                *place = L::splat(*value);
            }
            self.t = L::splat(model.timing.exhaust_opens);
        }
    }

    /// Begins a cycle of a lane at `y`.
    fn begin(&mut self, lane: usize, y: &[f64]) {
        let (Some(work), Some(parts)) = (&mut self.lanes[lane], &mut self.parts) else {
            return;
        };
        work.run.begin_cycle(lane, y, &mut parts.stepper);
        self.t.set_lane(lane, work.run.model.timing.exhaust_opens);
        set_phase(&mut parts.network, lane, &work.run);
        parts.stepper.restart(L::mask_from_fn(|i| i == lane));
        work.run.work.evaluations += 1;
        work.fresh = true;
    }

    /// One step of all lanes.
    #[inline(always)]
    fn step(
        &mut self,
        source: &mut dyn FnMut() -> Option<Chain>,
        sink: &mut Sink,
        mut tracer: Option<&mut Tracer>,
    ) {
        let Some(parts) = &mut self.parts else { return };
        let mut landing = [false; MOST_LANES];
        let lanes = &self.lanes;
        let t = self.t;
        let h = L::from_fn(|i| match &lanes[i] {
            None => 0.0,
            Some(work) => {
                let (h, lands) = work.run.proposal(t.lane(i));
                landing[i] = lands;
                h
            }
        });
        let tolerance = L::from_fn(|i| lanes[i].as_ref().map_or(1.0, |work| work.run.tolerance));
        let Parts { network, stepper, scale } = parts;
        let error = stepper.attempt(network, t, h, tolerance, scale);
        let mut accepted = [false; MOST_LANES];
        let mut failed = [const { None }; MOST_LANES];
        for (i, slot) in self.lanes.iter_mut().enumerate() {
            let Some(work) = slot else { continue };
            let run = &mut work.run;
            if std::mem::take(&mut work.fresh) {
                run.began(network.first_signals.course(i));
            }
            run.tries += 1;
            run.work.evaluations += 6;
            let (from, step) = (t.lane(i), h.lane(i));
            let after = network.signals.course(i);
            match run.judge(error.lane(i), &after) {
                Ok(factor) => {
                    accepted[i] = true;
                    let to = if landing[i] { run.next_angle() } else { from + step };
                    if let Some(tracer) = tracer.as_deref_mut() {
                        tracer.step(run, (from, to), stepper);
                    }
                    match run.note(i, (from, to), &after, stepper) {
                        Ok(false) => {}
                        Ok(true) => set_phase(network, i, run),
                        Err(error) => failed[i] = Some(error),
                    }
                    run.accepted((from, to), landing[i], factor);
                    self.t.set_lane(i, to);
                }
                Err(factor) => {
                    run.refused(from, step, factor);
                }
            }
            if failed[i].is_none() {
                failed[i] =
                    run.overdue(self.settings.without_pipes.steps, self.t.lane(i), step).err();
            }
        }
        stepper.accept(L::mask_from_fn(|i| accepted[i]));
        for (i, failure) in failed.iter_mut().enumerate().take(L::WIDTH) {
            if let Some(error) = failure.take() {
                self.fail(i, error, source, sink, tracer.as_deref_mut());
            } else if accepted[i] && landing[i] {
                self.land(i, source, sink, tracer.as_deref_mut());
            }
        }
    }

    /// A lane's cycle has failed. From an accelerated start that may be the start's fault: then it goes on without.
    /// Otherwise report the point and go on with the next of its chain, from cold.
    fn fail(
        &mut self,
        lane: usize,
        error: CycleError,
        source: &mut dyn FnMut() -> Option<Chain>,
        sink: &mut Sink,
        tracer: Option<&mut Tracer>,
    ) {
        let settings = self.settings;
        let retreat = self.lanes[lane].as_mut().and_then(|work| work.run.retreat(&settings));
        if let Some(next) = retreat {
            tracer.into_iter().for_each(Tracer::restart);
            self.begin(lane, &next);
            return self.reseat(lane);
        }
        let Some(mut work) = self.lanes[lane].take() else {
            return;
        };
        let found = work.run.given_up().ok_or(error);
        sink(work.chain.index, work.position, found);
        if self.start_point(lane, work.chain, work.position + 1, None, sink) {
            self.reseat(lane);
        } else {
            self.refill(lane, source, sink);
        }
    }

    /// A lane has reached an event.
    fn land(
        &mut self,
        lane: usize,
        source: &mut dyn FnMut() -> Option<Chain>,
        sink: &mut Sink,
        tracer: Option<&mut Tracer>,
    ) {
        let (Some(work), Some(parts)) = (&mut self.lanes[lane], &mut self.parts) else {
            return;
        };
        let states = work.run.model.cold_start.len();
        let y: Vec<f64> = parts.stepper.y[..states].iter().map(|v| v.lane(lane)).collect();
        let integrals: Vec<f64> = parts.stepper.q.iter().map(|v| v.lane(lane)).collect();
        let (jumps, ends) = work.run.pass_events(&y, &integrals);
        for (at, value) in &work.run.set {
            parts.stepper.y[*at].set_lane(lane, *value);
        }
        if !ends {
            if jumps {
                parts.stepper.restart(L::mask_from_fn(|i| i == lane));
                work.run.work.evaluations += 1;
            }
            set_phase(&mut parts.network, lane, &work.run);
            self.reseat(lane);
            return;
        }
        let next = match work.run.end_cycle(&y, &integrals, &self.settings) {
            AfterCycle::Continue(next) => next,
            AfterCycle::Probe(probes) => {
                probe(&work.run.model, &probes, &self.settings);
                work.run.learn(&probes, &self.settings)
            }
            AfterCycle::Image(image) => {
                let index = work.chain.index;
                if let Some(probes) = self.probes {
                    probes.ended(index, &image, &work.run.work);
                }
                return self.refill(lane, source, sink);
            }
            AfterCycle::Done(point, next) => {
                return self.finish(lane, *point, next, source, sink);
            }
        };
        if let Some(tracer) = tracer {
            tracer.restart();
        }
        self.begin(lane, &next);
        self.reseat(lane);
    }

    /// A lane's point is done: report it and go on with the next of its chain, from `next`.
    fn finish(
        &mut self,
        lane: usize,
        point: Point,
        next: Start,
        source: &mut dyn FnMut() -> Option<Chain>,
        sink: &mut Sink,
    ) {
        let Some(work) = self.lanes[lane].take() else {
            return;
        };
        sink(work.chain.index, work.position, Ok(point));
        if self.start_point(lane, work.chain, work.position + 1, Some(next), sink) {
            self.reseat(lane);
        } else {
            self.refill(lane, source, sink);
        }
    }
}

/// Makes probing cycles side by side.
fn probe(model: &Arc<Model>, probes: &Probes, settings: &Settings) {
    let mut rest = 0..probes.starts.len();
    let mut source = || {
        let models = vec![Ok(Arc::clone(model))];
        rest.next().map(|index| Chain { index, models })
    };
    settings.instructions.run_lanes(Solving {
        settings: *settings,
        source: &mut source,
        // one that fails leaves its place empty
        sink: &mut |_, _, _| {},
        tracer: None,
        probes: Some(probes),
    });
}

/// Chains to be solved, in as many lanes as the processor is good for.
pub(super) struct Solving<'a, 'b> {
    pub(super) settings: Settings,
    /// Gives chains until there are no more.
    pub(super) source: &'a mut dyn FnMut() -> Option<Chain>,
    /// Takes points.
    pub(super) sink: &'a mut Sink<'b>,
    /// Sees every step of the first lane.
    pub(super) tracer: Option<&'a mut Tracer>,
    /// Where chains stand for probing cycles.
    pub(super) probes: Option<&'a Probes>,
}

impl LaneJob for Solving<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn run<L: Lane>(self) {
        let Self { settings, source, sink, mut tracer, probes } = self;
        let mut driver = Driver::<L>::new(settings, probes);
        loop {
            driver.fill(source, sink);
            if driver.lanes.iter().all(Option::is_none) {
                return;
            }
            while driver.lanes.iter().any(Option::is_some) {
                driver.step(source, sink, tracer.as_deref_mut());
            }
            // what waits has other sub-models
            driver.parts = None;
        }
    }
}

/// Puts a lane's phase into the network.
fn set_phase<L: Lane>(network: &mut Network<L>, lane: usize, run: &LaneRun) {
    network.phase.set_lane(lane, &run.phase);
    network.sums.set_lane(lane, if run.exact { 1.0 } else { 0.0 });
    for (place, value) in network.hot.iter_mut().zip(&run.hot) {
        place.set_lane(lane, *value);
    }
}
