//! What blowdown had to do, and what it did.

use crate::crank::Crank;
use crate::geometry;
use crate::model::Model;
use crate::portable;
use crate::result::{Point, Trace};
use crate::spec::EngineSpec;
use crate::units::{BAR, DEG, angular_speed};

/// Account of the time between exhaust and transfer opening.
#[derive(Debug, Clone, PartialEq)]
pub struct Emptying {
    /// Time there is [ms].
    pub time_ms: f64,
    /// Blowdown [deg].
    pub angle_deg: f64,
    /// Degrees with choked flow through the exhaust.
    pub choked_deg: f64,
    /// Mass that left, as a share of what the cylinder held at exhaust opening.
    pub share_left: f64,
    /// Mass that left, as a share of what sonic flow through the same opening would have taken.
    pub of_sonic: f64,
    /// V/(C_d·A·a) with the mean effective area and sound speed of the period [ms].
    pub time_scale_ms: f64,
    /// Rise of crankcase pressure by its compression since the intake shut, or since it last was lowest
    /// [bar].
    pub crankcase_rise_bar: f64,
    /// Lowest crankcase pressure of the cycle [bar].
    pub crankcase_lowest_bar: f64,
}

/// From a traced point.
#[must_use]
pub fn emptying(spec: &EngineSpec, model: &Model, point: &Point, trace: &Trace) -> Emptying {
    let omega = angular_speed(point.rpm);
    let (eo, to) = (model.timing.exhaust_opens, model.timing.transfer_opens);
    let (angle, cylinder, exhaust) = (&trace.angle, &trace.cylinder, &trace.exhaust);
    let gas = &model.case.numbers.gas;
    let discharge = model.case.numbers.figures.exhaust_discharge;
    let (mut choked, mut left, mut sonic, mut scale_sum) = (0.0, 0.0, 0.0, 0.0);
    let crank: Crank<f64> = geometry::crank(spec);
    let clearance = geometry::clearance_volume(spec);
    let bore = geometry::bore_area(spec);
    for i in 1..angle.len() {
        let (from, end) = (angle[i - 1], angle[i]);
        if from < eo - 1e-9 || end > to + 1e-9 {
            continue;
        }
        let dt = (end - from) / omega;
        let middle = |c: &[f64]| 0.5 * (c[i] + c[i - 1]);
        let (p, t) = (middle(&cylinder.pressure), middle(&cylinder.temperature));
        let state = gas.at(middle(&cylinder.burned_fraction)).state(t);
        let gamma = state.gamma();
        let critical = portable::pow(2.0 / (gamma + 1.0), gamma / (gamma - 1.0));
        if middle(&trace.exhaust_pressure) / p <= critical {
            choked += end - from;
        }
        left += middle(&exhaust.mass_flow) * dt;
        let effective = discharge * middle(&exhaust.area);
        let full =
            gamma.sqrt() * portable::pow(2.0 / (gamma + 1.0), 0.5 * (gamma + 1.0) / (gamma - 1.0));
        sonic += effective * p / state.specific_pressure_volume().sqrt() * full * dt;
        let sound = (gamma * state.specific_pressure_volume()).sqrt();
        let volume = clearance + bore * crank.at(0.5 * (from + end)).drop;
        scale_sum += effective * sound / volume * dt;
    }
    let time = (to - eo) / omega;
    let held = cylinder.mass.first().copied().unwrap_or(f64::NAN);
    let lowest = trace.crankcase.pressure.iter().copied().fold(f64::INFINITY, f64::min) / BAR;
    Emptying {
        time_ms: time * 1e3,
        angle_deg: (to - eo) / DEG,
        choked_deg: choked / DEG,
        share_left: left / held,
        of_sonic: left / sonic,
        // mean of the rate C_d·A·a/V over the period, turned into a time
        time_scale_ms: time / scale_sum * 1e3,
        crankcase_rise_bar: point.summary.crankcase_pressure_to / BAR - lowest,
        crankcase_lowest_bar: lowest,
    }
}
