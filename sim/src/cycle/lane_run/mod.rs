//! What one lane is doing: its case, its cycle, its notes.
//!
//! # Decisions
//!
//! - Integrals are summed and turns are located only in cycles that start within 30 times the repeat
//!   limit; no other cycle may be the last.

mod search;

use std::sync::Arc;

use super::anderson::Anderson;
use super::newton::{Newton, Probes};
use super::turns::Turns;
use super::vector::{Probe, admissible_share, admissible_temperature, vector};
use super::watch::{Capture, Origin, Step, Trapped, Watch};
use super::{CycleError, Settings};
use crate::lane::Lane;
use crate::model::{EventKind, Model};
use crate::network::layout::{
    BURNED, ENERGY, HOT, LATE, Layout, MASS, ZONE_BURNED, ZONE_MASS, ZONE_OLD_POTENTIAL,
    ZONE_POTENTIAL,
};
use crate::network::{Course, Network, Phase, Signals};
use crate::ode::{StepControl, Stepper};
use crate::result::{Point, WorkCounts};
use crate::units::DEG;

/// Woschni's C₁ while gas is exchanged and while the cylinder is closed.
const WOSCHNI_OPEN: f64 = 6.18;
const WOSCHNI_CLOSED: f64 = 2.28;
/// Woschni's C₂ from the start of burning [m/(s K)].
const WOSCHNI_BURNING: f64 = 3.24e-3;
/// First step of a cold start [rad].
const FIRST_STEP: f64 = 1e-3;
/// Angles closer than this are one [rad].
const SAME_ANGLE: f64 = 1e-9;
/// Largest first step of a cycle [rad].
const STEP_AT_OPENING: f64 = 0.02;
/// What is kept of the step when a transfer group opens: the flow sets in there.
const AFTER_OPENING: f64 = 0.3;
/// Tolerance of the plain first cycles, which only bring the state near. Once the acceleration works
/// a loose tolerance would make the cycle map rough and cost more cycles than it saves (tried).
const FIRST_TOLERANCE: f64 = 1e-6;
/// Times the error norm of a step in which a flow reverses: there the rates bend so sharply that the
/// estimate can be small by chance.
const AT_REVERSAL: f64 = 7.0;

/// One lane at work on one point.
pub(super) struct LaneRun {
    pub(super) model: Arc<Model>,
    pub(super) phase: Phase<f64>,
    pub(super) hot: Vec<f64>,
    pub(super) watch: Watch,
    pub(super) before: Course,
    pub(super) next_event: usize,
    pub(super) step: f64,
    control: StepControl,
    pub(super) work: WorkCounts,
    pub(super) tries: u32,
    /// What the event just passed has set in the state: columns stopped by a closing window, zones that
    /// begin or end.
    pub(super) set: Vec<(usize, f64)>,
    probe: Network<f64>,
    probe_rates: (Vec<f64>, Vec<f64>),
    cycles: u32,
    start: Vec<f64>,
    start_state: Vec<f64>,
    anderson: Anderson,
    best: f64,
    /// Change of the last cycle.
    residual: f64,
    newton: Option<Newton>,
    /// Where the last cycle ended, if the next did not simply go on from there.
    plain: Option<Vec<f64>>,
    /// Whether the acceleration waits until the map is nearly straight.
    wary: bool,
    /// Image of the cycle that is probed, and how.
    probed: Option<(Vec<f64>, Vec<Probe>)>,
    probings: u32,
    /// Plain cycles since the search has given up.
    turns: Option<Turns>,
    /// Whether this is itself a probing cycle.
    probing: bool,
    /// Tolerance of the present cycle.
    pub(super) tolerance: f64,
    /// Ends of the steps of a cycle [rad].
    grid: Vec<f64>,
    /// The next of them.
    grid_position: usize,
    /// Whether the cycle follows the grid of the one before instead of choosing its own steps.
    follows: bool,
    /// Whether turns and crossings are located inside their steps and integrals are summed: only where
    /// the cycle may be the last.
    pub(super) exact: bool,
}

/// What follows the end of a cycle.
pub(super) enum AfterCycle {
    /// Go on from this state.
    Continue(Vec<f64>),
    /// Go on once these have been made, from what [`LaneRun::learn`] gives.
    Probe(Probes),
    /// The point is done; this may start a neighbour.
    Done(Box<Point>, Start),
    /// A probing cycle has ended in this state.
    Image(Vec<f64>),
}

/// Where a point starts from: a state, and what is known of the cycle map.
#[derive(Clone)]
pub(super) struct Start {
    pub(super) state: Vec<f64>,
    pub(super) newton: Option<Newton>,
}

impl Start {
    /// Of an engine that has not run.
    pub(super) fn cold(model: &Model) -> Self {
        Self { state: model.cold_start.clone(), newton: None }
    }
}

impl LaneRun {
    /// A probing cycle from `start` on the steps of `grid`.
    pub(super) fn probe(
        model: Arc<Model>,
        start: Start,
        grid: &[f64],
        settings: &Settings,
    ) -> Self {
        let grid = grid.to_vec();
        let run = Self::new(model, start, settings);
        Self { probing: true, follows: true, grid, exact: false, ..run }
    }

    /// From `start`, at exhaust opening.
    pub(super) fn new(model: Arc<Model>, start: Start, settings: &Settings) -> Self {
        let layout = model.case.choices.layout;
        let mut probe = Network::new(&model.case);
        probe.sums = 0.0;
        Self {
            phase: Phase::default(),
            hot: vec![1.0; layout.groups],
            watch: Watch::new(layout.groups, stops(&model)),
            before: Course::default(),
            next_event: 0,
            step: FIRST_STEP,
            control: StepControl::default(),
            work: WorkCounts::default(),
            tries: 0,
            set: Vec::new(),
            probe,
            probe_rates: (vec![0.0; layout.states()], vec![0.0; layout.quadratures()]),
            cycles: 0,
            start: vector(&model, &start.state),
            start_state: start.state,
            anderson: Anderson::new(settings.without_pipes.memory),
            best: f64::INFINITY,
            residual: f64::INFINITY,
            tolerance: if start.newton.is_some() {
                settings.without_pipes.tolerance
            } else {
                FIRST_TOLERANCE.max(settings.without_pipes.tolerance)
            },
            newton: start.newton,
            plain: None,
            wary: false,
            probed: None,
            probings: 0,
            turns: None,
            probing: false,
            grid: Vec::new(),
            grid_position: 0,
            follows: false,
            exact: settings.cycles <= 1,
            model,
        }
    }

    /// Prepares a new cycle and puts the lane's numbers, state and phase in place.
    pub(super) fn begin_cycle<L: Lane>(
        &mut self,
        lane: usize,
        y: &[f64],
        stepper: &mut Stepper<L>,
    ) {
        self.begin_notes(y);
        for (place, value) in stepper.y.iter_mut().zip(y) {
            place.set_lane(lane, *value);
        }
        for place in &mut stepper.q {
            place.set_lane(lane, 0.0);
        }
    }

    /// The same of everything but the integrator's numbers.
    pub(super) fn begin_notes(&mut self, y: &[f64]) {
        self.start_state.copy_from_slice(y);
        let charge = self.phase.charge;
        self.phase = Phase { charge, woschni_speed: WOSCHNI_OPEN, ..Phase::default() };
        self.hot.fill(1.0);
        self.watch = Watch::new(self.hot.len(), stops(&self.model));
        self.next_event = 0;
        self.tries = 0;
        self.step = self.step.min(STEP_AT_OPENING);
        self.grid_position = 0;
        if !self.follows {
            self.grid.clear();
        }
    }

    /// Signals at the start of the cycle, once they have been evaluated.
    pub(super) fn began(&mut self, signals: Course) {
        self.before = signals;
        self.watch.at_exhaust_opening = capture(&signals);
    }

    /// Length of the next step from `t` [rad], and whether it ends at an event.
    pub(super) fn proposal(&self, t: f64) -> (f64, bool) {
        if self.follows {
            let target = self.grid[self.grid_position];
            return (target - t, target >= self.next_angle());
        }
        let left = self.next_angle() - t;
        // a step that would leave a sliver takes it along
        let lands = self.step * 1.01 >= left;
        (if lands { left } else { self.step }, lands)
    }

    /// Judges the step just tried by its error norm and the signals at its end: the factor for the next,
    /// or for another try.
    pub(super) fn judge(&mut self, error: f64, after: &Course) -> Result<f64, f64> {
        if self.follows {
            // also refuses NaN
            return if error <= 1.0 { Ok(1.0) } else { Err(0.5) };
        }
        let error = if self.reverses(after) { error * AT_REVERSAL } else { error };
        self.control.judge(error)
    }

    /// Whether a flow through a port changes its direction.
    fn reverses(&self, after: &Course) -> bool {
        let before = &self.before;
        let transfers = before.transfer_flows.iter().zip(&after.transfer_flows);
        before.intake_flow * after.intake_flow < 0.0
            || before.exhaust_flow * after.exhaust_flow < 0.0
            || transfers.take(self.hot.len()).any(|(a, b)| a * b < 0.0)
    }

    /// Takes note of an accepted step that ended at `to`.
    pub(super) fn accepted(&mut self, (from, to): (f64, f64), lands: bool, factor: f64) {
        self.work.steps += 1;
        if self.follows {
            self.grid_position += 1;
            return;
        }
        self.grid.push(to);
        let grown = (to - from) * factor;
        // landing cuts a step short: that tells nothing about the next one
        self.step = if lands { self.step.max(grown) } else { grown };
    }

    /// Takes note of a refused step from `t` of length `h`.
    pub(super) fn refused(&mut self, t: f64, h: f64, factor: f64) {
        self.work.rejected += 1;
        if self.follows {
            self.grid.insert(self.grid_position, t + 0.5 * h);
        } else {
            self.step = h * factor;
        }
    }

    /// Ends the point when the cycle has taken `steps` tries, the last of length `step` at `angle`.
    pub(super) fn overdue(&self, steps: u32, angle: f64, step: f64) -> Result<(), CycleError> {
        if self.tries < steps {
            return Ok(());
        }
        let (angle_deg, step_deg) = (angle / DEG, step / DEG);
        Err(CycleError::TooManySteps { steps, angle_deg, step_deg })
    }

    /// Where the next step must not go past [rad].
    pub(super) fn next_angle(&self) -> f64 {
        self.model.events[self.next_event].angle
    }

    /// Notes an accepted step before it is taken over. `after` are the signals at its end. True where a
    /// flow has turned, and with it the phase.
    pub(super) fn note<L: Lane>(
        &mut self,
        lane: usize,
        (from, to): (f64, f64),
        after: &Course,
        stepper: &Stepper<L>,
    ) -> Result<bool, CycleError> {
        check(to, after)?;
        let step = Step { from, to, before: &self.before, after };
        if !self.probing {
            self.watch.peaks(self.model.reference.angular_speed, &step);
        }
        let turned = (0..self.hot.len()).any(|g| self.watch.turns(g, &step))
            || self.watch.crosses(&self.model.timing, &step);
        if turned {
            let before = self.before;
            self.turn(lane, &Step { from, to, before: &before, after }, stepper);
        }
        self.before = *after;
        Ok(turned)
    }

    /// Notes where in the step flows turn forward and the cylinder falls below the crankcase.
    fn turn<L: Lane>(&mut self, lane: usize, step: &Step, stepper: &Stepper<L>) {
        let (from, to, before) = (step.from, step.to, step.before);
        // where the pressures are level, bare windows turn
        let excess = |s: &Course| s.case_pressure - s.cylinder_pressure;
        let mut level = None;
        for g in 0..self.hot.len() {
            if !self.watch.turns(g, step) {
                continue;
            }
            let opened = self.model.timing.group_opens[g];
            // a flow that was forward from the start turns at the opening itself
            let share = if before.transfer_flows[g] >= 0.0 || !self.exact {
                0.0
            } else if self.model.case.choices.layout.column(g).is_some() {
                self.root(lane, step, stepper, |s| s.transfer_flows[g])
            } else if let Some(share) = level {
                share
            } else {
                *level.insert(self.root(lane, step, stepper, excess))
            };
            let integrals: Vec<f64> = stepper.q_end.iter().map(|q| q.lane(lane)).collect();
            let fill = if share == 0.0 {
                before.slug_fills[g]
            } else {
                self.probe_at(lane, step, stepper, share).slug_fills[g]
            };
            let angle = from + share * (to - from);
            let volume = self.model.reference.duct_volumes[g];
            self.watch.close_hot(g, (opened, angle), fill, volume, &integrals);
            self.hot[g] = 0.0;
        }
        if self.watch.crosses(&self.model.timing, step) {
            let share = if excess(before) >= 0.0 || !self.exact {
                0.0
            } else {
                level.unwrap_or_else(|| self.root(lane, step, stepper, excess))
            };
            let angle = from + share * (to - from);
            self.watch.crossing = Some(angle.max(self.model.timing.transfer_opens));
            self.phase.reverse_gate = 1.0;
        }
    }

    /// Signals inside the step, at the share `s` of its length, from the dense output.
    pub(super) fn probe_at<L: Lane>(
        &mut self,
        lane: usize,
        step: &Step,
        stepper: &Stepper<L>,
        s: f64,
    ) -> Signals<f64> {
        use crate::ode::System;
        let h = step.to - step.from;
        let y: Vec<f64> = (0..stepper.y.len()).map(|i| stepper.dense(i, lane, h, s)).collect();
        self.probe.phase = self.phase;
        self.probe.hot.copy_from_slice(&self.hot);
        let (dy, dq) = &mut self.probe_rates;
        self.probe.rates(step.from + s * h, &y, dy, dq, true);
        self.probe.signals
    }

    /// Share of the step at which `f` rises through zero (Illinois variant of the false position).
    fn root<L: Lane>(
        &mut self,
        lane: usize,
        step: &Step,
        stepper: &Stepper<L>,
        f: impl Fn(&Course) -> f64,
    ) -> f64 {
        let (mut low, mut high, mut last) = (0.0, 1.0, f64::NAN);
        let (mut f_low, mut f_high) = (f(step.before), f(step.after));
        for _ in 0..40 {
            let middle = (low * f_high - high * f_low) / (f_high - f_low);
            let last = std::mem::replace(&mut last, middle);
            let value = f(&self.probe_at(lane, step, stepper, middle).course(0));
            if value < 0.0 {
                (low, f_low) = (middle, value);
                f_high *= 0.5;
            } else {
                (high, f_high) = (middle, value);
                f_low *= 0.5;
            }
            if value == 0.0 || (middle - last).abs() < 1e-8 {
                return middle;
            }
        }
        0.5 * (low + high)
    }

    /// Handles every event at the angle just reached. True when the right-hand side jumps there.
    pub(super) fn pass_events(&mut self, y: &[f64], integrals: &[f64]) -> (bool, bool) {
        let angle = self.next_angle();
        self.set.clear();
        let (mut jumps, mut ends) = (false, false);
        while let Some(event) = self.model.events.get(self.next_event) {
            if event.angle > angle + SAME_ANGLE {
                break;
            }
            self.next_event += 1;
            match event.kind {
                EventKind::ExhaustOpens => ends = true,
                kind => jumps |= self.pass(kind, angle, y, integrals),
            }
        }
        (jumps, ends)
    }

    fn pass(&mut self, kind: EventKind, angle: f64, y: &[f64], integrals: &[f64]) -> bool {
        match kind {
            EventKind::TransferOpens => {
                self.phase.scavenging = 1.0;
                self.set_zones(y[Layout::CYLINDER + MASS]);
                if self.model.reverse_held {
                    self.phase.reverse_gate = 0.0;
                }
                self.watch.at_transfer_opening = capture(&self.before);
                self.watch.origin = self.origin(y);
                if self.before.cylinder_pressure <= self.before.case_pressure {
                    self.watch.crossing = Some(angle);
                    self.phase.reverse_gate = 1.0;
                }
                true
            }
            EventKind::GroupOpens(g) => {
                self.watch.open[g] = true;
                if !self.follows {
                    self.step *= AFTER_OPENING;
                }
                false
            }
            EventKind::GroupCloses(g) => {
                if self.watch.turned[g].is_none() {
                    let opened = self.model.timing.group_opens[g];
                    let volume = self.model.reference.duct_volumes[g];
                    let fill = self.before.slug_fills[g];
                    self.watch.close_hot(g, (opened, angle), fill, volume, integrals);
                }
                self.watch.open[g] = false;
                let column = self.model.case.choices.layout.column(g);
                self.set.extend(column.map(|at| (at, 0.0)));
                column.is_some()
            }
            EventKind::ExhaustCloses => {
                self.close_exhaust(y);
                true
            }
            EventKind::BurnStarts => {
                let mass = self.watch.trapped.mass;
                let gas = &self.model.case.numbers.gas;
                let r = gas.at(self.watch.trapped.burned / mass).gas_constant();
                // V_s·T_r/(p_r·V_r) with T_r = p_r V_r/(m R)
                self.phase.woschni_burning =
                    WOSCHNI_BURNING * self.model.reference.swept / (mass * r);
                self.phase.burning = 1.0;
                true
            }
            EventKind::IntakeCloses => {
                let column = self.model.case.choices.layout.inlet();
                self.set.extend(column.map(|at| (at, 0.0)));
                column.is_some()
            }
            EventKind::BurnEnds => {
                self.phase.burning = 0.0;
                true
            }
            _ => false,
        }
    }

    /// Begins the cylinder's zones with all its gas in the old one, or, with no `mass` [kg], ends them.
    fn set_zones(&mut self, mass: f64) {
        let layout = self.model.case.choices.layout;
        if !layout.two_zones {
            return;
        }
        let ambient = self.model.reference.ambient_pressure;
        let before = &self.before;
        let fall = (ambient / before.cylinder_pressure).sqrt().sqrt();
        let content = mass * before.cylinder_temperature * fall;
        let at = layout.zones();
        let empty = [ZONE_MASS, ZONE_BURNED, ZONE_POTENTIAL].map(|part| (at + part, 0.0));
        self.set.extend(empty);
        self.set.extend([(at + ZONE_OLD_POTENTIAL, content), (layout.zone_old(), 0.0)]);
    }

    /// Pressure of the cylinder once its zones have mixed, at the energy that it has [Pa].
    fn mixed_pressure(&self, y: &[f64]) -> f64 {
        if !self.model.case.choices.layout.two_zones {
            return self.before.cylinder_pressure;
        }
        let [mass, energy, burned] = [MASS, ENERGY, BURNED].map(|part| y[Layout::CYLINDER + part]);
        let state = self.model.case.numbers.gas.at(burned / mass).from_energy(energy / mass);
        mass * state.specific_pressure_volume() / self.before.volume
    }

    fn close_exhaust(&mut self, y: &[f64]) {
        let layout = self.model.case.choices.layout;
        let at = Layout::CYLINDER;
        let pressure = self.mixed_pressure(y);
        self.set_zones(0.0);
        let (mass, burned) = (y[at + MASS], y[at + BURNED]);
        let gas = self.model.case.numbers.gas.at(burned / mass);
        let trapped = Trapped {
            mass,
            burned,
            old: y[layout.cylinder_old()],
            pressure,
            temperature: pressure * self.before.volume / (mass * gas.gas_constant()),
            rise: pressure / self.before.cylinder_pressure - 1.0,
        };
        self.watch.trapped = trapped;
        self.phase.scavenging = 0.0;
        self.phase.charge = trapped.mass - trapped.burned;
        self.phase.woschni_speed = WOSCHNI_CLOSED;
        self.phase.reference_pressure = pressure;
        self.phase.reference_volume = self.before.volume;
    }

    fn origin(&self, y: &[f64]) -> Origin {
        let layout = self.model.case.choices.layout;
        let mass = y[Layout::CRANKCASE + MASS];
        let tracers = layout.crankcase_tracers();
        Origin {
            burned: y[Layout::CRANKCASE + BURNED] / mass,
            hot: y[tracers + HOT] / mass,
            late: y[tracers + LATE] / mass,
        }
    }
}

/// Lifts of petals at their stops [m].
fn stops(model: &Model) -> impl Iterator<Item = f64> {
    model.case.numbers.petals.iter().map(|p| p.stop)
}

fn capture(s: &Course) -> Capture {
    Capture {
        cylinder_pressure: s.cylinder_pressure,
        cylinder_temperature: s.cylinder_temperature,
        case_pressure: s.case_pressure,
        case_temperature: s.case_temperature,
    }
}

/// Refuses states outside what gas can be.
pub(super) fn check(angle: f64, s: &Course) -> Result<(), CycleError> {
    let temperature = |part, value: f64| {
        if admissible_temperature(value) {
            return Ok(());
        }
        let angle_deg = angle / DEG;
        Err(CycleError::OutOfBounds { part, quantity: "temperature", value, angle_deg })
    };
    let share = |part, value: f64| {
        if admissible_share(value) {
            return Ok(());
        }
        let angle_deg = angle / DEG;
        Err(CycleError::OutOfBounds { part, quantity: "burned share", value, angle_deg })
    };
    temperature("cylinder", s.cylinder_temperature)?;
    temperature("crankcase", s.case_temperature)?;
    share("cylinder", s.cylinder_burned)?;
    share("crankcase", s.case_burned)
}
