//! Traces: quantities against crank angle over the settled cycle, from the dense output.

use super::lane_run::LaneRun;
use super::watch::Step;
use crate::model::{EventKind, Model};
use crate::network::Signals;
use crate::ode::Stepper;
use crate::result::Trace;
use crate::units::{BAR, CM3, DEG, MG, MM, MM2, TURN};

/// Spacing of a trace [rad]; events are added.
pub const TRACE_STEP: f64 = 0.25 * DEG;

/// Records one cycle after another and keeps the last.
pub struct Tracer {
    trace: Trace,
    groups: Vec<String>,
    /// Names of the stages of petals, and lifts at their stops [m].
    stages: Vec<(String, f64)>,
    start: f64,
    angular_speed: f64,
    next: f64,
}

/// Grams per second in one kilogram per second.
const G_PER_S: f64 = 1e3;

impl Tracer {
    /// For a model.
    #[must_use]
    pub fn new(model: &Model) -> Self {
        let mut tracer = Self {
            trace: Trace::default(),
            groups: model.reference.group_names.clone(),
            stages: model
                .reference
                .stages
                .iter()
                .zip(&model.case.numbers.petals)
                .map(|(stage, petal)| (stage.name.clone(), petal.stop))
                .collect(),
            start: model.timing.exhaust_opens,
            angular_speed: model.reference.angular_speed,
            next: model.timing.exhaust_opens,
        };
        tracer.trace.names = tracer.names();
        tracer.trace.events = events(model);
        tracer.restart();
        tracer
    }

    /// Begins a new cycle.
    pub(super) fn restart(&mut self) {
        self.trace.columns = vec![Vec::new(); self.trace.names.len()];
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
        let event = run.next_angle();
        let last = self.trace.columns[0].last().copied().unwrap_or(f64::NEG_INFINITY);
        if to >= event && to / DEG - last > 1e-6 {
            sample(to, run, self);
        }
    }

    /// Records an angle at which everything is known.
    pub(super) fn at(&mut self, angle: f64, signals: &Signals<f64>, masses: [f64; 2]) {
        let last = self.trace.columns[0].last().copied().unwrap_or(f64::NEG_INFINITY);
        if angle / DEG - last > 1e-6 {
            self.push(angle, signals, masses);
        }
    }

    /// Takes over the gas in the pipes.
    pub(super) fn set_pipes(&mut self, pipes: Vec<crate::result::PipeTrace>, start: Vec<f64>) {
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
        let Some(opens) = self.trace.event("transfer opens") else {
            return;
        };
        let Some(closes) = self.trace.event("transfer closes") else {
            return;
        };
        let crossing = |values: &dyn Fn(usize) -> f64| {
            let angles = self.trace.column("angle_deg")?;
            (1..angles.len()).find_map(|i| {
                let (a, b) = (values(i - 1), values(i));
                let inside = angles[i] > opens && angles[i] < closes;
                let turns = inside && a < 0.0 && b >= 0.0;
                turns.then(|| angles[i - 1] + (angles[i] - angles[i - 1]) * a / (a - b))
            })
        };
        let flow = self.trace.column("transfer_mass_flow_g_per_s").map(<[f64]>::to_vec);
        let cylinder = self.trace.column("cylinder_pressure_bar").map(<[f64]>::to_vec);
        let case = self.trace.column("crankcase_pressure_bar").map(<[f64]>::to_vec);
        let turn = flow.and_then(|f| crossing(&|i| f[i]));
        let fall = cylinder.zip(case).and_then(|(p, c)| crossing(&|i| c[i] - p[i]));
        let found = [("flow turns forward", turn), ("cylinder falls below crankcase", fall)];
        for (name, angle) in found {
            self.trace.events.extend(angle.map(|a| (name.to_owned(), a)));
        }
    }

    fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = PLAIN.iter().map(|(name, _)| (*name).to_owned()).collect();
        names.insert(0, "angle_deg".to_owned());
        names.insert(1, "time_ms".to_owned());
        names.push("cylinder_mass_mg".to_owned());
        names.push("crankcase_mass_mg".to_owned());
        for group in &self.groups {
            for quantity in
                ["area_mm2", "mass_flow_g_per_s", "slug_volume_ratio", "slug_temperature_k"]
            {
                names.push(format!("transfer_{group}_{quantity}"));
            }
        }
        for (stage, _) in &self.stages {
            names.extend(["lift_mm", "velocity_m_per_s"].map(|q| format!("reed_{stage}_{q}")));
        }
        names
    }

    fn push(&mut self, angle: f64, s: &Signals<f64>, [cylinder, case]: [f64; 2]) {
        let mut row = vec![angle / DEG, (angle - self.start) / self.angular_speed * 1e3];
        row.extend(PLAIN.iter().map(|(_, value)| value(s)));
        row.extend([cylinder / MG, case / MG]);
        for g in 0..self.groups.len() {
            row.extend([
                s.transfer_areas[g] / MM2,
                s.transfer_flows[g] * G_PER_S,
                s.slug_fills[g],
                s.slug_temperatures[g],
            ]);
        }
        let petals = self.stages.iter().zip(s.petal_lifts.iter().zip(&s.petal_velocities));
        // what a petal gives on its seat and stop is no lift
        row.extend(
            petals
                .flat_map(|((_, stop), (lift, velocity))| [lift.clamp(0.0, *stop) / MM, *velocity]),
        );
        for (column, value) in self.trace.columns.iter_mut().zip(row) {
            column.push(value);
        }
    }
}

type Read = fn(&Signals<f64>) -> f64;

/// Columns that do not depend on the number of groups.
const PLAIN: &[(&str, Read)] = &[
    ("piston_drop_mm", |s| s.drop / MM),
    ("cylinder_volume_cm3", |s| s.volume / CM3),
    ("crankcase_volume_cm3", |s| s.case_volume / CM3),
    ("cylinder_pressure_bar", |s| s.cylinder_pressure / BAR),
    ("crankcase_pressure_bar", |s| s.case_pressure / BAR),
    ("exhaust_pressure_bar", |s| s.exhaust_pressure / BAR),
    ("cylinder_temperature_k", |s| s.cylinder_temperature),
    ("crankcase_temperature_k", |s| s.case_temperature),
    ("crankcase_rest_temperature_k", |s| s.rest_temperature),
    ("cylinder_burned_fraction", |s| s.cylinder_burned),
    ("crankcase_burned_fraction", |s| s.case_burned),
    ("exhaust_area_mm2", |s| s.exhaust_area / MM2),
    ("exhaust_mass_flow_g_per_s", |s| s.exhaust_flow * G_PER_S),
    ("exhaust_burned_mass_flow_g_per_s", |s| s.exhaust_burned_flow * G_PER_S),
    ("exhaust_enthalpy_flow_w", |s| s.exhaust_enthalpy_flow),
    ("transfer_area_mm2", |s| s.transfer_areas.iter().sum::<f64>() / MM2),
    ("transfer_mass_flow_g_per_s", |s| s.transfer_flows.iter().sum::<f64>() * G_PER_S),
    ("transfer_burned_mass_flow_g_per_s", |s| {
        s.transfer_burned_flows.iter().sum::<f64>() * G_PER_S
    }),
    ("intake_area_mm2", |s| s.intake_area / MM2),
    ("intake_mass_flow_g_per_s", |s| s.intake_flow * G_PER_S),
    ("intake_burned_mass_flow_g_per_s", |s| s.intake_burned_flow * G_PER_S),
    ("blow_by_mass_flow_g_per_s", |s| s.blow_by_flow * G_PER_S),
    ("crankcase_leak_mass_flow_g_per_s", |s| s.leak_flow * G_PER_S),
    ("outlet_mass_flow_g_per_s", |s| s.outlet_flow * G_PER_S),
    ("burn_rate_g_per_s", |s| s.burning * G_PER_S),
    ("wall_heat_w", |s| s.wall_heat),
    ("crankcase_heat_w", |s| s.case_heat),
];

/// Named events of the cycle [deg after top dead centre of the traced cycle].
fn events(model: &Model) -> Vec<(String, f64)> {
    let start = model.timing.exhaust_opens;
    let bottom = model.case.numbers.crank.bottom_angle();
    let mut events = vec![
        ("exhaust opens".to_owned(), start / DEG),
        ("bottom dead centre".to_owned(), bottom / DEG),
        ("top dead centre".to_owned(), TURN / DEG),
    ];
    for event in &model.events {
        let name = match event.kind {
            EventKind::TransferOpens => "transfer opens",
            EventKind::TransferCloses => "transfer closes",
            EventKind::ExhaustCloses => "exhaust closes",
            EventKind::IntakeOpens => "inlet opens",
            EventKind::IntakeCloses => "inlet closes",
            EventKind::BurnStarts => "burn starts",
            EventKind::BurnEnds => "burn ends",
            _ => continue,
        };
        events.push((name.to_owned(), event.angle / DEG));
    }
    events
}
