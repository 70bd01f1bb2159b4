//! What is noted while a cycle runs: captures at events, first turns, peaks.

use crate::model::Timing;
use crate::network::Course;
use crate::network::layout::quadrature as q;

/// Cylinder and crankcase at one angle.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Capture {
    pub(super) cylinder_pressure: f64,
    pub(super) cylinder_temperature: f64,
    pub(super) case_pressure: f64,
    pub(super) case_temperature: f64,
}

/// Cylinder contents and pressure at exhaust closing.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Trapped {
    pub(super) mass: f64,
    pub(super) burned: f64,
    pub(super) old: f64,
    pub(super) pressure: f64,
    pub(super) temperature: f64,
    /// By how much the pressure rose when the zones mixed, over itself.
    pub(super) rise: f64,
}

/// Shares of the crankcase at transfer opening: burned, and of it hot and late.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Origin {
    pub(super) burned: f64,
    pub(super) hot: f64,
    pub(super) late: f64,
}

/// First turn of one transfer group.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct HotBackflow {
    pub(super) mass: f64,
    pub(super) burned: f64,
    pub(super) duration: f64,
    pub(super) peak: f64,
    pub(super) penetration: f64,
    pub(super) depth: f64,
}

/// Notes of one cycle in one lane.
#[derive(Debug, Clone, Default)]
pub(super) struct Watch {
    pub(super) at_exhaust_opening: Capture,
    pub(super) at_transfer_opening: Capture,
    pub(super) origin: Origin,
    pub(super) trapped: Trapped,
    /// Angle at which the cylinder fell below crankcase pressure.
    pub(super) crossing: Option<f64>,
    /// Per group; none while hot backflow lasts or before the group opens.
    pub(super) turned: Vec<Option<HotBackflow>>,
    pub(super) open: Vec<bool>,
    peaks: Vec<f64>,
    pub(super) total_peak: f64,
    pub(super) largest_fill: Vec<f64>,
    pub(super) peak_pressure: f64,
    pub(super) peak_angle: f64,
    pub(super) steepest_outlet: f64,
    /// Petals of each stage.
    pub(super) petals: Vec<PetalNotes>,
    /// Mass back past the petals [kg].
    pub(super) past_petals: f64,
}

/// Notes of the petals of one stage.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct PetalNotes {
    /// Lift at the stop [m].
    pub(super) stop: f64,
    /// Highest lift [m].
    pub(super) lift: f64,
    /// Largest speed onto the seat [m/s].
    pub(super) seat_speed: f64,
    /// The same onto the stop [m/s].
    pub(super) stop_speed: f64,
    /// Times it has lifted.
    pub(super) openings: u32,
    /// Angle off its seat [rad].
    pub(super) open: f64,
    /// Whether it has lifted since it was last seated.
    lifted: bool,
}

/// What the watch needs of the step just accepted, for one lane.
pub(super) struct Step<'a> {
    pub(super) from: f64,
    pub(super) to: f64,
    /// Signals at its start.
    pub(super) before: &'a Course,
    /// Signals at its end.
    pub(super) after: &'a Course,
}

/// Lift at which a petal counts as off its seat, over that at the stop.
const LIFTED: f64 = 0.02;

impl PetalNotes {
    fn step(&mut self, s: usize, step: &Step) {
        let at = |signals: &Course| (signals.petal_lifts[s], signals.petal_velocities[s]);
        let ((before, speed_before), (after, speed_after)) = (at(step.before), at(step.after));
        self.lift = self.lift.max(after.min(self.stop));
        if before > 0.0 && after <= 0.0 {
            self.seat_speed = self.seat_speed.max(-speed_before).max(-speed_after);
            self.lifted = false;
        }
        if before < self.stop && after >= self.stop {
            self.stop_speed = self.stop_speed.max(speed_before).max(speed_after);
        }
        if after > LIFTED * self.stop {
            self.openings += u32::from(!self.lifted);
            self.lifted = true;
            self.open += step.to - step.from;
        }
    }
}

impl Watch {
    pub(super) fn new(groups: usize, stops: impl Iterator<Item = f64>) -> Self {
        Self {
            petals: stops.map(|stop| PetalNotes { stop, ..PetalNotes::default() }).collect(),
            turned: vec![None; groups],
            open: vec![false; groups],
            peaks: vec![0.0; groups],
            largest_fill: vec![0.0; groups],
            ..Self::default()
        }
    }

    /// Whether the first turn of group `g` lies in this step.
    pub(super) fn turns(&self, g: usize, step: &Step) -> bool {
        self.open[g] && self.turned[g].is_none() && step.after.transfer_flows[g] > 0.0
    }

    /// Whether the cylinder falls below crankcase pressure in this step.
    pub(super) fn crosses(&self, timing: &Timing, step: &Step) -> bool {
        self.crossing.is_none()
            && step.to > timing.transfer_opens
            && step.from < timing.transfer_closes
            && step.after.cylinder_pressure < step.after.case_pressure
    }

    /// Closes the account of hot backflow of group `g` at `angle` with the slug filling `fill` of the
    /// duct.
    pub(super) fn close_hot(
        &mut self,
        g: usize,
        (opened, angle): (f64, f64),
        fill: f64,
        duct_volume: f64,
        integrals: &[f64],
    ) {
        let at = q::group(g);
        // where nothing flows back the integration error may leave a trace below zero
        let mass = integrals[at + q::REVERSE].max(0.0);
        // without reverse flow nothing has penetrated, whatever is left in the duct from before
        let (duration, penetration) = if mass > 0.0 {
            (angle - opened, fill + integrals[at + q::OVERFLOW] / duct_volume)
        } else {
            (0.0, 0.0)
        };
        self.turned[g] = Some(HotBackflow {
            mass,
            burned: integrals[at + q::REVERSE_BURNED].max(0.0),
            duration,
            peak: self.peaks[g],
            penetration,
            depth: integrals[at + q::REVERSE_VOLUME] / duct_volume,
        });
    }

    /// Peaks over the step.
    pub(super) fn peaks(&mut self, angular_speed: f64, step: &Step) {
        let mut reverse = 0.0;
        for g in 0..self.open.len() {
            let flow = -step.after.transfer_flows[g];
            if self.open[g] && self.turned[g].is_none() && flow > 0.0 {
                self.peaks[g] = self.peaks[g].max(flow);
                reverse += flow;
            }
            self.largest_fill[g] = self.largest_fill[g].max(step.after.slug_fills[g]);
        }
        self.total_peak = self.total_peak.max(reverse);
        let slope = (step.after.outlet_flow - step.before.outlet_flow) / (step.to - step.from);
        self.steepest_outlet = self.steepest_outlet.max(slope.abs() * angular_speed);
        self.pressure_peak(step);
        let back = |s: &Course| (-s.intake_flow).max(0.0);
        if !self.petals.is_empty() {
            let time = (step.to - step.from) / angular_speed;
            self.past_petals += 0.5 * (back(step.before) + back(step.after)) * time;
        }
        for (s, notes) in self.petals.iter_mut().enumerate() {
            notes.step(s, step);
        }
    }

    /// Highest point of the cubic through both ends with their slopes, where the pressure turns.
    fn pressure_peak(&mut self, step: &Step) {
        let (p0, p1) = (step.before.cylinder_pressure, step.after.cylinder_pressure);
        let h = step.to - step.from;
        let (d0, d1) =
            (h * step.before.cylinder_pressure_slope, h * step.after.cylinder_pressure_slope);
        let mut candidate = (p1, step.to);
        if d0 > 0.0 && d1 < 0.0 {
            let rise = p1 - p0;
            // slope of the cubic: d0 + 2u·c2 + 3u²·c3
            let (c2, c3) = (3.0 * rise - 2.0 * d0 - d1, d0 + d1 - 2.0 * rise);
            let root = (c2 * c2 - 3.0 * c3 * d0).sqrt();
            let u = -d0 / (c2 - root);
            if (0.0..=1.0).contains(&u) {
                candidate = (p0 + u * (d0 + u * (c2 + u * c3)), step.from + u * h);
            }
        }
        if candidate.0 > self.peak_pressure {
            (self.peak_pressure, self.peak_angle) = candidate;
        }
    }
}
