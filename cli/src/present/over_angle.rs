//! Traces as charts show them: over degrees, in the unit of the axis.

use freshcharge_sim::result::{Trace, TraceEvent};
use freshcharge_sim::units::DEG;

/// One gram per second [kg/s].
pub(crate) const GRAM_PER_SECOND: f64 = 1e-3;

/// Which values of a trace [SI].
pub(crate) type Values = fn(&Trace) -> &[f64];

/// Angle [deg] and value of every row, for `values` in SI units and a unit of so many of them.
pub(crate) fn curve(trace: &Trace, values: &[f64], unit: f64) -> Vec<(f64, f64)> {
    trace.angle.iter().zip(values).map(|(angle, value)| (angle / DEG, value / unit)).collect()
}

/// First and last angle [deg]; a whole turn of a trace without rows.
pub(crate) fn ends(trace: &Trace) -> (f64, f64) {
    let in_degrees = |angle: Option<&f64>, other: f64| angle.map_or(other, |a| a / DEG);
    (in_degrees(trace.angle.first(), 0.0), in_degrees(trace.angle.last(), 360.0))
}

/// Angle of an event [deg]; none where it does not happen.
pub(crate) fn event(trace: &Trace, event: TraceEvent) -> Option<f64> {
    trace.event(event).map(|angle| angle / DEG)
}
