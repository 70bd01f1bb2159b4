//! Volumes and pipes in one explicit second-order step.
//!
//! Both are advanced by the midpoint rule. To the middle of a step the pipes' cells move by themselves and the
//! volumes with the rates of the step before (of the step's start, where something has jumped there), so
//! that one evaluation a step is enough: it asks the engine what stands at its ports, the pipes what passes
//! them, and then the engine for the rest. Every stream is worked out once and booked on both sides.
//!
//! # Decisions
//!
//! - The step lands on every event. After a jump it takes rates worked out at its start. What the rates
//!   of last time cost is half the limit of stability: 1 instead of 2 for volumes. Stiff gas columns and
//!   turning flows ask a second time, on average every sixth step. Friction and wall heat of pipes are
//!   carried on in a straight line from the last step. The step is 0.9 of what the fastest signal allows;
//!   bare windows and vessels may shorten it. Traces are of the middles of the steps and of the events.

use std::sync::Arc;

use super::columns::Columns;
use super::petals::Petals;
use super::slugs;
use crate::cycle::CycleError;
use crate::cycle::figures::Stored;
use crate::cycle::lane_run::{LaneRun, check};
use crate::cycle::vector::admissible_temperature;
use crate::cycle::watch::Step;
use crate::flow::steepest;
use crate::lane::InstructionSet;
use crate::model::{Model, ModelError, Part, Piped};
use crate::network::layout::{BURNED, Layout, MASS, ZONE_MASS, quadrature as q};
use crate::network::{AtPort, Course, Given, Network, Passed, Signals, Spare};
use crate::pipe::ends::Outside;
use crate::pipe::{Content, Passing, Side, StepError, VESSEL_SHARE};
use crate::units::DEG;

/// Share of a cell that a signal may cross in a step that is chosen freely.
const COURANT: f64 = 0.9;
/// The same in a step that follows an earlier cycle's.
const COURANT_MOST: f64 = 1.0;
/// Share of a volume's fastest rate that a step may cover: 1 would be the limit of stability.
const VOLUME_SHARE: f64 = 0.5;
/// Most steps of a cycle: some hundred times what engines take.
const MOST_STEPS: u32 = 2_000_000;

/// State of everything at one angle.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Snapshot {
    /// Volumes.
    pub(super) y: Vec<f64>,
    /// Every conserved number of the pipes.
    pub(super) pipes: Vec<f64>,
}

/// Ends of the steps of a cycle [rad].
#[derive(Debug, Clone, Default)]
pub(super) struct Steps {
    pub(super) ends: Vec<f64>,
    /// Whether the cycle follows them instead of choosing its own.
    pub(super) follow: bool,
}

/// A finished cycle.
pub(super) struct Finished {
    pub(super) end: Snapshot,
    pub(super) integrals: Vec<f64>,
    /// What pipes have stored, and what their mouths have taken in beyond the intake.
    pub(super) stored: Stored,
}

/// Watches the steps of a cycle.
pub(super) trait Observer {
    /// In the middle of a step, and at events: the angle, the engine's signals and state, the pipes.
    fn at(&mut self, angle: f64, signals: &Signals<f64>, y: &[f64], piped: &Piped);
}

/// An engine with its pipes.
pub(super) struct Coupled {
    pub(super) model: Arc<Model>,
    engine: Network<f64>,
    pub(super) piped: Piped,
    /// State at the start of a step, and where the rates were worked out last.
    y: Vec<f64>,
    middle: Vec<f64>,
    dy: Vec<f64>,
    q: Vec<f64>,
    dq: Vec<f64>,
    /// Angle at which the rates were worked out last [rad].
    seen: f64,
    columns: Columns,
    petals: Petals,
    /// Flows that the gas columns follow, at their places in the state.
    aims: Vec<f64>,
    /// Last flow out of the cylinder through the exhaust [kg/s].
    exhaust_flow: f64,
    /// Fastest signal over its cell [1/s].
    rate: f64,
}

impl Coupled {
    /// With cells of about `cell` [m].
    pub(super) fn new(
        model: &Arc<Model>,
        cell: f64,
        set: InstructionSet,
    ) -> Result<Self, ModelError> {
        let layout = model.case.choices.layout;
        let pipes = model.pipes.as_ref().unwrap_or_else(|| unreachable!("only engines with pipes"));
        let zeros = |n: usize| vec![0.0; n];
        let (states, sums) = (layout.states(), layout.quadratures());
        Ok(Self {
            engine: Network::new(&model.case),
            piped: pipes.network(&model.case.numbers.gas, cell)?.with_instructions(set),
            model: Arc::clone(model),
            y: zeros(states),
            middle: zeros(states),
            dy: zeros(states),
            q: zeros(sums),
            dq: zeros(sums),
            seen: 0.0,
            columns: Columns::of(&layout, model.case.numbers.figures.time_per_radian),
            petals: Petals::of(&layout, &model.case.numbers),
            aims: zeros(states),
            exhaust_flow: 0.0,
            rate: 0.0,
        })
    }

    /// The engine's cold start with the gas the pipes begin with.
    pub(super) fn cold_start(&self) -> Snapshot {
        Snapshot { y: self.model.cold_start.clone(), pipes: self.piped.network.stored() }
    }

    /// One cycle from `start`, with its steps and its notes.
    pub(super) fn cycle(
        &mut self,
        start: &Snapshot,
        steps: &mut Steps,
        notes: &mut LaneRun,
        mut observer: Option<&mut dyn Observer>,
    ) -> Result<Finished, CycleError> {
        let held = self.begin(start, notes)?;
        let mut theta = self.model.timing.exhaust_opens;
        self.watched(&mut observer);
        if !steps.follow {
            steps.ends.clear();
        }
        let mut place = 0;
        loop {
            let (h, lands) = self.next_step(theta, steps, place, notes);
            if place >= MOST_STEPS as usize {
                let (angle_deg, step_deg) = (theta / DEG, h / DEG);
                return Err(CycleError::TooManySteps { steps: MOST_STEPS, angle_deg, step_deg });
            }
            self.step((theta, h), notes)?;
            self.watched(&mut observer);
            let to = if lands { notes.next_angle() } else { theta + h };
            if !steps.follow {
                steps.ends.push(to);
            }
            place += 1;
            notes.work.steps += 1;
            theta = to;
            if lands {
                let ends = self.land(to, notes)?;
                self.watched(&mut observer);
                if ends {
                    return Ok(self.finished(&held));
                }
            }
        }
    }

    fn watched(&self, observer: &mut Option<&mut dyn Observer>) {
        if let Some(observer) = observer {
            observer.at(self.seen, &self.engine.signals, &self.middle, &self.piped);
        }
    }

    /// Puts everything in place; gives what the pipes hold.
    fn begin(&mut self, start: &Snapshot, notes: &mut LaneRun) -> Result<Content, CycleError> {
        self.y.copy_from_slice(&start.y);
        self.q.fill(0.0);
        self.piped.network.restore(&start.pipes);
        self.exhaust_flow = 0.0;
        self.rate = 0.0;
        notes.begin_notes(&start.y);
        self.set_phase(notes);
        let theta = self.model.timing.exhaust_opens;
        self.look(theta)?;
        self.start_from(theta, notes)?;
        notes.began(self.engine.signals.course(0));
        Ok(self.piped.network.held())
    }

    fn finished(&self, held: &Content) -> Finished {
        let network = &self.piped.network;
        let mut stored = network.held();
        stored.add(-1.0, *held);
        if let Some(inlet) = &self.piped.inlet {
            // the ledger counts what passes the intake: what came in at the mouth beyond it
            let intake = Content {
                mass: self.q[q::INTAKE_MASS],
                energy: self.q[q::INTAKE_ENTHALPY],
                burned: self.q[q::INTAKE_MASS] - self.q[q::INTAKE_FRESH],
            };
            stored.add(1.0, network.reservoirs()[inlet.reservoir].received);
            stored.add(1.0, intake);
        }
        let Content { mass, energy, burned } = stored;
        let end = Snapshot { y: self.y.clone(), pipes: network.stored() };
        Finished { end, integrals: self.q.clone(), stored: Stored { mass, energy, burned } }
    }

    /// Reads off what the pipes hold.
    fn look(&mut self, theta: f64) -> Result<(), CycleError> {
        self.rate = self.piped.network.refresh().map_err(|e| pipe_fault(&e, theta))?;
        Ok(())
    }

    /// Rates at θ itself, that the next step leans on instead of those of the step before.
    fn start_from(&mut self, theta: f64, notes: &mut LaneRun) -> Result<(), CycleError> {
        self.middle.copy_from_slice(&self.y);
        self.piped.network.forget();
        self.piped.network.predict(0.0).map_err(|e| pipe_fault(&e, theta))?;
        self.rates(theta, None)?;
        self.columns.forget(&self.middle, &self.dy, &self.aims);
        self.petals.forget(&self.middle, &self.dy);
        self.seen = theta;
        notes.work.evaluations += 1;
        Ok(())
    }

    /// What the cylinder has to give over a step of `dt` [s].
    fn spare(&self, dt: f64) -> Spare<f64> {
        let [mass, burned] = [MASS, BURNED].map(|k| self.y[Layout::CYLINDER + k]);
        let layout = self.model.case.choices.layout;
        let new = if layout.two_zones { self.y[layout.zones() + ZONE_MASS] } else { 0.0 };
        Spare {
            burned: burned.max(0.0) / dt,
            fresh: (mass - burned).max(0.0) / dt,
            new: new.max(0.0) / dt,
            residual: (mass - new).max(0.0) / dt,
        }
    }

    /// All rates at θ from the state in the middle of a step.
    fn rates(&mut self, theta: f64, spare: Option<Spare<f64>>) -> Result<(), CycleError> {
        let network = &mut self.piped.network;
        let f = &self.model.case.numbers.figures;
        let beside = |part: &Option<Part>, plain: f64| {
            part.as_ref().map_or(plain, |p| network.end_state(p.pipes.start, Side::Start).pressure)
        };
        let pressures = (
            beside(&self.piped.exhaust, f.back_pressure),
            beside(&self.piped.inlet, f.ambient_pressure),
        );
        let (y, dy) = (&self.middle, &mut self.dy);
        let half = self.engine.look(theta, y, dy, pressures, self.exhaust_flow);
        held("cylinder", &half.exhaust, theta)?;
        held("crankcase", &half.intake, theta)?;
        let outside = |at: &AtPort| Outside {
            pressure: at.pressure,
            temperature: at.temperature,
            burned: at.burned,
        };
        if let Some(part) = &self.piped.exhaust {
            network.set_port(part.port, outside(&half.exhaust), half.exhaust.area);
        }
        if let Some(part) = &self.piped.inlet {
            network.set_port(part.port, outside(&half.intake), half.intake.area);
        }
        network.flow();
        let mut given = Given { pipe_heat: network.wall_heat(), spare, ..Given::default() };
        if let Some(part) = &self.piped.exhaust {
            let passing = network.ports()[part.port].passing;
            let leftover = network.end_rider(part.pipes.start, Side::Start);
            given.exhaust = Some(passed(&passing.flow, 1.0, leftover));
            given.exhaust_pressure = passing.face_pressure;
            given.outlet = passed(&network.received_rate(part.reservoir), 1.0, 0.0);
        }
        if let Some(part) = &self.piped.inlet {
            let leftover = network.end_rider(part.pipes.start, Side::Start);
            let passing = network.ports()[part.port].passing;
            given.intake = Some(passed(&passing.flow, -1.0, leftover));
            let sound = network.pipes()[part.pipes.start].sound(0);
            given.intake_pressure = stagnation(&passing, sound);
        }
        let (out, into) =
            self.engine.finish(theta, y, dy, &mut self.dq, &half, &given, &mut self.aims);
        if let Some(part) = &self.piped.exhaust {
            network.fill_port(part.port, content(&out, 1.0), out.old - out.burned);
        }
        if let Some(part) = &self.piped.inlet {
            network.fill_port(part.port, content(&into, -1.0), into.burned - into.old);
        }
        self.exhaust_flow = out.mass;
        Ok(())
    }

    /// A step of `h` [rad] from θ.
    fn step(&mut self, (theta, h): (f64, f64), notes: &mut LaneRun) -> Result<(), CycleError> {
        let (dt, half) = (h * self.model.case.numbers.figures.time_per_radian, 0.5 * h);
        let at = theta + half;
        self.middle.copy_from_slice(&self.y);
        add(&mut self.middle, half, &self.dy);
        self.columns.predict(half, &self.y, &mut self.middle);
        self.petals.predict(half, &self.y, &mut self.middle);
        self.drain(dt);
        self.hold_back();
        self.piped.network.predict(dt).map_err(|e| pipe_fault(&e, theta))?;
        let spare = Some(self.spare(dt));
        self.rates(at, spare)?;
        let span = at - self.seen;
        notes.work.evaluations += 1;
        if self.columns.correct((h, span), (&self.y, &mut self.middle), &self.dy, &self.aims) {
            self.rates(at, spare)?;
            notes.work.evaluations += 1;
        }
        if self.note((self.seen, at), theta, notes)? {
            self.set_phase(notes);
            self.rates(at, spare)?;
            notes.work.evaluations += 1;
        }
        self.columns.end((h, span), (&self.y, &self.middle), &mut self.dy, &self.aims);
        self.petals.end((h, span), (&self.y, &self.middle), &mut self.dy);
        add(&mut self.y, h, &self.dy);
        add(&mut self.q, h, &self.dq);
        self.piped.network.advance();
        self.seen = at;
        self.look(theta + h)
    }

    /// Length of the next step from θ [rad], and whether it ends at an event.
    fn next_step(
        &self,
        theta: f64,
        steps: &mut Steps,
        place: usize,
        notes: &LaneRun,
    ) -> (f64, bool) {
        let per_second = 1.0 / self.model.case.numbers.figures.time_per_radian;
        let event = notes.next_angle();
        if steps.follow && place < steps.ends.len() {
            let mut target = steps.ends[place];
            // gas that has become faster than in the cycle followed
            while (target - theta) * self.rate > COURANT_MOST * per_second {
                target = 0.5 * (theta + target);
                steps.ends.insert(place, target);
            }
            return (target - theta, target >= event);
        }
        let own = (self.rate / COURANT)
            .max(self.piped.network.haste() / VESSEL_SHARE)
            .max(self.haste() / VOLUME_SHARE);
        let most = per_second / own;
        let left = event - theta;
        let count = (left / most).ceil().max(1.0);
        // the last of several equal steps, not a long one and a splinter
        if count > 2.0 { (most, false) } else { (left / count, count < 1.5) }
    }

    /// Fastest rate at which the volumes answer to each other [1/s]: the slope of the flow function
    /// through bare windows.
    fn haste(&self) -> f64 {
        let s = &self.engine.signals;
        let numbers = &self.model.case.numbers;
        let layout = self.model.case.choices.layout;
        // γ√(RT)·dψ/dΠ of burned gas at its warmest
        let answer = |area: f64, temperature: f64, pressures: (f64, f64), volume: f64| {
            let (high, low) = (pressures.0.max(pressures.1), pressures.0.min(pressures.1));
            let shortfall = (1.0 - low / high).max(numbers.figures.epsilon);
            area * (300.0 * temperature).sqrt() * 1.4 * steepest(shortfall) / volume
        };
        let pressures = (s.cylinder_pressure, s.case_pressure);
        let (mut cylinder, mut case, mut silencer) = (0.0_f64, 0.0, 0.0);
        for g in 0..numbers.groups.len() {
            if layout.column(g).is_none() {
                let area = s.transfer_areas[g];
                cylinder += answer(area, s.cylinder_temperature, pressures, s.volume);
                case += answer(area, s.case_temperature, pressures, s.case_volume);
            }
        }
        if layout.inlet().is_none() && self.piped.inlet.is_none() {
            let pressures = (s.case_pressure, numbers.figures.ambient_pressure);
            case += answer(s.intake_area, s.case_temperature, pressures, s.case_volume);
        }
        if self.piped.exhaust.is_none() {
            let pressures = (s.cylinder_pressure, s.exhaust_pressure);
            let (f, warmest) = (&numbers.figures, s.cylinder_temperature);
            cylinder += answer(s.exhaust_area, warmest, pressures, s.volume);
            if layout.silencer {
                let behind = (s.exhaust_pressure, f.back_pressure);
                silencer = answer(s.exhaust_area, warmest, pressures, f.silencer_volume)
                    + answer(f.outlet, warmest, behind, f.silencer_volume);
            }
        }
        // two that answer to each other do so faster than either alone
        cylinder + case.max(silencer)
    }

    /// Keeps the cylinder's burned mass in the middle of a step between none and all, where the rate of the last
    /// step has just come to its end.
    fn hold_back(&mut self) {
        let [mass, burned] = [MASS, BURNED].map(|k| Layout::CYLINDER + k);
        let (first, all, held) = (self.y[burned], self.middle[mass], &mut self.middle[burned]);
        // a comparison that keeps what is not a number
        let (least, most) = (first.min(0.0), first.max(all));
        if *held < least {
            *held = least;
        } else if *held > most {
            *held = most;
        }
    }

    /// Puts slugs into the middle of a step of `dt` [s] with the flows found last.
    fn drain(&mut self, dt: f64) {
        let layout = self.model.case.choices.layout;
        for (g, group) in self.model.case.numbers.groups.iter().enumerate() {
            let flow = self.engine.signals.transfer_flows[g];
            let passes = flow * dt * group.per_blend_mass;
            let states = (&self.y[..], &mut self.middle[..]);
            slugs::predict(&layout, g, group.per_blend_mass, passes, states);
        }
    }

    /// Notes what has come from one evaluation to the next, the state being that at `theta`. True when what
    /// counts in the right-hand side has changed with it.
    fn note(
        &mut self,
        (from, to): (f64, f64),
        theta: f64,
        notes: &mut LaneRun,
    ) -> Result<bool, CycleError> {
        let after = self.engine.signals.course(0);
        check(to, &after)?;
        let before = notes.before;
        let step = Step { from, to, before: &before, after: &after };
        let mut changed = false;
        notes.watch.peaks(self.model.reference.angular_speed, &step);
        for g in 0..notes.hot.len() {
            if !notes.watch.turns(g, &step) {
                continue;
            }
            let share = rise(before.transfer_flows[g], after.transfer_flows[g]);
            let fill = before.slug_fills[g] + share * (after.slug_fills[g] - before.slug_fills[g]);
            let angles = (self.model.timing.group_opens[g], from + share * (to - from));
            let volume = self.model.reference.duct_volumes[g];
            let mut sums = self.q.clone();
            add(&mut sums, to - theta, &self.dq);
            notes.watch.close_hot(g, angles, fill, volume, &sums);
            notes.hot[g] = 0.0;
            changed = true;
        }
        if notes.watch.crosses(&self.model.timing, &step) {
            let excess = |s: &Course| s.case_pressure - s.cylinder_pressure;
            let angle = from + rise(excess(&before), excess(&after)) * (to - from);
            notes.watch.crossing = Some(angle.max(self.model.timing.transfer_opens));
            notes.phase.reverse_gate = 1.0;
            changed = true;
        }
        notes.before = after;
        Ok(changed)
    }

    /// Passes the events at the angle reached. True when the cycle ends there.
    fn land(&mut self, angle: f64, notes: &mut LaneRun) -> Result<bool, CycleError> {
        let seen = self.seen;
        self.start_from(angle, notes)?;
        let turned = self.note((seen, angle), angle, notes)?;
        let (jumps, ends) = notes.pass_events(&self.y, &self.q);
        for (at, value) in &notes.set {
            self.y[*at] = *value;
        }
        self.set_phase(notes);
        if (turned || jumps) && !ends {
            self.start_from(angle, notes)?;
        }
        Ok(ends)
    }

    fn set_phase(&mut self, notes: &LaneRun) {
        self.engine.phase = notes.phase;
        self.engine.hot.copy_from_slice(&notes.hot);
    }
}

/// Refuses to hand the pipes a state that is no gas: within a step, or of an accelerated start.
fn held(part: &'static str, at: &AtPort, theta: f64) -> Result<(), CycleError> {
    let positive = at.pressure > 0.0 && at.pressure.is_finite();
    if positive && admissible_temperature(at.temperature) && !at.burned.is_nan() {
        return Ok(());
    }
    let (quantity, value) =
        if positive { ("temperature", at.temperature) } else { ("pressure", at.pressure) };
    Err(CycleError::OutOfBounds { part, quantity, value, angle_deg: theta / DEG })
}

/// Pressure to which gas that moves toward the engine would rise if it came to rest, with γ = 1.4; that at
/// the face where it moves away [Pa].
fn stagnation(passing: &Passing, sound: f64) -> f64 {
    let mach = (-passing.face_velocity).max(0.0) / sound;
    let warmer = 1.0 + 0.2 * mach * mach;
    passing.face_pressure * warmer * warmer * warmer * warmer.sqrt()
}

/// Share of a step at which a quantity that is above zero at its end rises through it.
fn rise(before: f64, after: f64) -> f64 {
    if before < 0.0 { before / (before - after) } else { 0.0 }
}

/// What passes an end, with the share of unburned leftovers in gas from the pipe.
fn passed(content: &Content, sign: f64, leftover: f64) -> Passed {
    Passed {
        old: sign * (content.burned + leftover * content.mass),
        mass: sign * content.mass,
        energy: sign * content.energy,
        burned: sign * content.burned,
    }
}

fn content(passed: &Passed, sign: f64) -> Content {
    Content { mass: sign * passed.mass, energy: sign * passed.energy, burned: sign * passed.burned }
}

fn add(y: &mut [f64], h: f64, dy: &[f64]) {
    for (value, rate) in y.iter_mut().zip(dy) {
        *value += h * rate;
    }
}

fn pipe_fault(fault: &StepError, theta: f64) -> CycleError {
    CycleError::Pipe { fault: fault.to_string(), angle_deg: theta / DEG }
}
