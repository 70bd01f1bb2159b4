//! Traces: quantities against crank angle over the settled cycle, from the dense output.

use super::lane_run::LaneRun;
use super::watch::Step;
use crate::model::{EventKind, Model};
use crate::network::Signals;
use crate::ode::Stepper;
use crate::result::{
    GroupTrace, OpeningTrace, PipeTrace, ReedTrace, Trace, TraceEvent, VolumeTrace,
};
use crate::units::{DEG, TURN};

/// Spacing of a trace [rad]; events are added.
pub const TRACE_STEP: f64 = 0.25 * DEG;
/// Rows nearer to each other are one [deg].
const SAME: f64 = 1e-6;

/// Records one cycle after another and keeps the last.
pub struct Tracer {
    trace: Trace,
    /// Nothing but the names of groups and stages.
    empty: Trace,
    /// Lifts of petals at their stops [m].
    stops: Vec<f64>,
    start: f64,
    angular_speed: f64,
    next: f64,
}

impl Tracer {
    /// For a model.
    #[must_use]
    pub fn new(model: &Model) -> Self {
        let groups = model.reference.group_names.iter().cloned();
        let stages = model.reference.stages.iter().zip(&model.case.numbers.petals);
        let empty = Trace {
            groups: groups.map(|name| GroupTrace { name, ..GroupTrace::default() }).collect(),
            reed: stages
                .clone()
                .map(|(stage, _)| ReedTrace { name: stage.name.clone(), ..ReedTrace::default() })
                .collect(),
            events: events(model),
            ..Trace::default()
        };
        Self {
            trace: empty.clone(),
            empty,
            stops: stages.map(|(_, petal)| petal.stop).collect(),
            start: model.timing.exhaust_opens,
            angular_speed: model.reference.angular_speed,
            next: model.timing.exhaust_opens,
        }
    }

    /// Begins a new cycle.
    pub(super) fn restart(&mut self) {
        self.trace = self.empty.clone();
        self.next = self.start;
    }

    /// Records the grid angles of an accepted step and its end when that is an event.
    pub(super) fn step<L: crate::lane::Lane>(
        &mut self,
        run: &mut LaneRun,
        (from, to): (f64, f64),
        stepper: &Stepper<L>,
    ) {
        let before = run.before;
        let step = Step { from, to, before: &before, after: &before };
        let sample = |angle: f64, run: &mut LaneRun, tracer: &mut Self| {
            let share = (angle - from) / (to - from);
            let signals = run.probe_at(0, &step, stepper, share);
            let masses = [0, 3].map(|i| stepper.dense(i, 0, to - from, share));
            tracer.push(angle, &signals, masses);
        };
        while self.next <= to + 1e-12 {
            sample(self.next.min(to), run, self);
            self.next += TRACE_STEP;
        }
        if to >= run.next_angle() && self.is_beyond_last(to) {
            sample(to, run, self);
        }
    }

    /// Records an angle at which everything is known.
    pub(super) fn at(&mut self, angle: f64, signals: &Signals<f64>, masses: [f64; 2]) {
        if self.is_beyond_last(angle) {
            self.push(angle, signals, masses);
        }
    }

    fn is_beyond_last(&self, angle: f64) -> bool {
        self.trace.angle.last().is_none_or(|last| angle / DEG - last / DEG > SAME)
    }

    /// Takes over the gas in the pipes.
    pub(super) fn set_pipes(&mut self, pipes: Vec<PipeTrace>, start: Vec<f64>) {
        self.trace.pipes = pipes;
        self.trace.start = start;
    }

    /// The trace, with the angles found on the way added to its events.
    #[must_use]
    pub fn into_trace(mut self) -> Trace {
        self.find_events();
        self.trace.events.sort_by(|a, b| a.1.total_cmp(&b.1));
        self.trace
    }

    /// First turn of the transfer flow and fall below crankcase pressure, by linear interpolation in
    /// the trace.
    fn find_events(&mut self) {
        let trace = &self.trace;
        let (opens, closes) =
            (trace.event(TraceEvent::TransferOpens), trace.event(TraceEvent::TransferCloses));
        let Some((opens, closes)) = opens.zip(closes) else { return };
        let crossing = |value: &dyn Fn(usize) -> f64| {
            let angle = &trace.angle;
            (1..angle.len()).find_map(|i| {
                let (a, b) = (value(i - 1), value(i));
                let inside = angle[i] > opens && angle[i] < closes;
                let turns = inside && a < 0.0 && b >= 0.0;
                turns.then(|| angle[i - 1] + (angle[i] - angle[i - 1]) * a / (a - b))
            })
        };
        let turn = crossing(&|i| trace.transfer.mass_flow[i]);
        let fall = crossing(&|i| trace.crankcase.pressure[i] - trace.cylinder.pressure[i]);
        let found =
            [(TraceEvent::FlowTurnsForward, turn), (TraceEvent::CylinderFallsBelowCrankcase, fall)];
        let found = found.into_iter().filter_map(|(event, angle)| Some((event, angle?)));
        self.trace.events.extend(found);
    }

    fn push(&mut self, angle: f64, s: &Signals<f64>, [cylinder, case]: [f64; 2]) {
        let t = &mut self.trace;
        t.angle.push(angle);
        t.time.push((angle - self.start) / self.angular_speed);
        t.piston_drop.push(s.drop);
        push_volumes(t, s, [cylinder, case]);
        push_openings(t, s);
        t.exhaust_pressure.push(s.exhaust_pressure);
        t.exhaust_enthalpy_flow.push(s.exhaust_enthalpy_flow);
        t.outlet_mass_flow.push(s.outlet_flow);
        t.blow_by_mass_flow.push(s.blow_by_flow);
        t.crankcase_leak_mass_flow.push(s.leak_flow);
        t.burn_rate.push(s.burning);
        for (g, group) in t.groups.iter_mut().enumerate() {
            group.area.push(s.transfer_areas[g]);
            group.mass_flow.push(s.transfer_flows[g]);
            group.slug_volume_ratio.push(s.slug_fills[g]);
            group.slug_temperature.push(s.slug_temperatures[g]);
        }
        for (i, (stage, stop)) in t.reed.iter_mut().zip(&self.stops).enumerate() {
            // what a petal gives on its seat and stop is no lift
            stage.lift.push(s.petal_lifts[i].clamp(0.0, *stop));
            stage.velocity.push(s.petal_velocities[i]);
        }
    }
}

fn push_volumes(t: &mut Trace, s: &Signals<f64>, [cylinder, case]: [f64; 2]) {
    let push = |to: &mut VolumeTrace, values: [f64; 6]| {
        let [volume, pressure, temperature, burned_fraction, mass, wall_heat] = values;
        to.volume.push(volume);
        to.pressure.push(pressure);
        to.temperature.push(temperature);
        to.burned_fraction.push(burned_fraction);
        to.mass.push(mass);
        to.wall_heat.push(wall_heat);
    };
    let (p, temperature, b) = (s.cylinder_pressure, s.cylinder_temperature, s.cylinder_burned);
    push(&mut t.cylinder, [s.volume, p, temperature, b, cylinder, s.wall_heat]);
    let (p, temperature, b) = (s.case_pressure, s.case_temperature, s.case_burned);
    push(&mut t.crankcase, [s.case_volume, p, temperature, b, case, s.case_heat]);
    t.crankcase_rest_temperature.push(s.rest_temperature);
}

fn push_openings(t: &mut Trace, s: &Signals<f64>) {
    let push = |to: &mut OpeningTrace, area: f64, flow: f64, burned: f64| {
        to.area.push(area);
        to.mass_flow.push(flow);
        to.burned_mass_flow.push(burned);
    };
    push(&mut t.exhaust, s.exhaust_area, s.exhaust_flow, s.exhaust_burned_flow);
    let (areas, flows) = (s.transfer_areas.iter().sum(), s.transfer_flows.iter().sum());
    push(&mut t.transfer, areas, flows, s.transfer_burned_flows.iter().sum());
    push(&mut t.intake, s.intake_area, s.intake_flow, s.intake_burned_flow);
}

/// Events of the cycle that its timing gives [rad after top dead centre of the traced cycle].
fn events(model: &Model) -> Vec<(TraceEvent, f64)> {
    let mut events = vec![
        (TraceEvent::ExhaustOpens, model.timing.exhaust_opens),
        (TraceEvent::BottomDeadCentre, model.case.numbers.crank.bottom_angle()),
        (TraceEvent::TopDeadCentre, TURN),
    ];
    events.extend(model.events.iter().filter_map(|event| {
        let kind = match event.kind {
            EventKind::TransferOpens => TraceEvent::TransferOpens,
            EventKind::TransferCloses => TraceEvent::TransferCloses,
            EventKind::ExhaustCloses => TraceEvent::ExhaustCloses,
            EventKind::IntakeOpens => TraceEvent::InletOpens,
            EventKind::IntakeCloses => TraceEvent::InletCloses,
            EventKind::BurnStarts => TraceEvent::BurnStarts,
            EventKind::BurnEnds => TraceEvent::BurnEnds,
            _ => return None,
        };
        Some((kind, event.angle))
    }));
    events
}
