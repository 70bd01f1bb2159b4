//! Pressures over the crank angle: read, held against computed ones.

use std::path::Path;

use freshcharge_sim::result::Trace;
use freshcharge_sim::spec::EngineSpec;
use freshcharge_sim::units::{BAR, DEG};
use freshcharge_sim::workshop::Facts;

use super::head::{Head, Place};
use super::{Quantity, Rows, Series, wrong};
use crate::files::Failure;

/// Fewest points of a trace.
const FEWEST: usize = 12;
/// Most speeds in a file.
const SPEEDS: usize = 12;
/// Pressures that there can be [bar].
const PRESSURES: std::ops::Range<f64> = 0.0..400.0;
/// Widest gap between points over which a trace is read between them [deg].
const GAP: f64 = 15.0;

/// A pressure measured over the crank angle at one speed.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PressureTrace {
    /// Speed [1/min].
    pub(crate) rpm: f64,
    /// Where.
    pub(crate) place: Place,
    /// Crank angle [deg after top dead centre, 0 to 360] and absolute pressure [bar], in order of angle.
    pub(crate) points: Vec<(f64, f64)>,
}

/// Reads the traces of a file; `speed` and `angle` are the places of these columns.
pub(super) fn read(
    path: &Path,
    rows: &Rows,
    (speed, angle): (usize, usize),
    ambient: f64,
) -> Result<Vec<PressureTrace>, Failure> {
    let mut traces: Vec<PressureTrace> = Vec::new();
    for (place, head) in rows.heads.iter().enumerate() {
        let (at, factor, gauge) = match head {
            Head::Pressure(at, factor, gauge) => (*at, *factor, *gauge),
            Head::Speed | Head::Angle => continue,
            _ => return Err(wrong(path, 1, "only pressures stand over the crank angle")),
        };
        for (line, row) in &rows.rows {
            let (Some(rpm), Some(value)) = (row[speed], row[place]) else { continue };
            let Some(angle) = row[angle].filter(|a| a.abs() <= 1080.0) else {
                return Err(wrong(path, *line, "a pressure without a crank angle in degrees"));
            };
            let bar = factor * value + if gauge { ambient } else { 0.0 };
            if !PRESSURES.contains(&bar) {
                let why = format!(
                    "{bar} bar is no absolute pressure of an engine; readings over ambient have _gauge in their head"
                );
                return Err(wrong(path, *line, &why));
            }
            let same = |t: &&mut PressureTrace| t.rpm == rpm && t.place == at;
            let point = (angle.rem_euclid(360.0), bar);
            match traces.iter_mut().find(same) {
                Some(trace) => trace.points.push(point),
                None => traces.push(PressureTrace { rpm, place: at, points: vec![point] }),
            }
            if traces.iter().filter(|t| t.place == at).count() > SPEEDS {
                let why = format!(
                    "more than {SPEEDS} speeds; write the mean speed of a trace into each of its rows"
                );
                return Err(wrong(path, *line, &why));
            }
        }
    }
    for trace in &mut traces {
        trace.points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (count, rpm) = (trace.points.len(), trace.rpm);
        if count < FEWEST {
            let why =
                format!("{count} points at {rpm}/min are no trace; at least {FEWEST} are needed");
            return Err(wrong(path, 2, &why));
        }
    }
    if traces.is_empty() { Err(wrong(path, 2, "no points")) } else { Ok(traces) }
}

/// Value at an angle between points in order of angle; none beyond them or across a wide gap.
fn between(points: &[(f64, f64)], angle: f64) -> Option<f64> {
    let next = points.partition_point(|p| p.0 < angle).clamp(1, points.len().max(2) - 1);
    let (a, b) = (points.get(next - 1)?, points.get(next)?);
    let wide = b.0 - a.0;
    if !(a.0..=b.0).contains(&angle) || wide > GAP {
        return None;
    }
    Some(if wide > 0.0 { a.1 + (angle - a.0) / wide * (b.1 - a.1) } else { a.1 })
}

impl PressureTrace {
    /// Pressure at a crank angle of any turn; none where nothing was measured near it.
    pub(crate) fn at(&self, angle: f64) -> Option<f64> {
        let angle = angle.rem_euclid(360.0);
        between(&self.points, angle).or_else(|| {
            // between the last point and the first of the next turn
            let (first, last) = (self.points.first()?, self.points.last()?);
            let seam = [*last, (first.0 + 360.0, first.1)];
            between(&seam, if angle < first.0 { angle + 360.0 } else { angle })
        })
    }
}

/// A measured trace held against a computed one.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Residual {
    /// Crank angle in the computed turn [deg] and measured pressure [bar], in order of angle.
    pub(crate) measured: Vec<(f64, f64)>,
    /// Computed less measured [bar] over the same angles.
    pub(crate) difference: Vec<(f64, f64)>,
    /// Mean of the difference [bar].
    pub(crate) mean: f64,
    /// Root of its mean square [bar].
    pub(crate) rms: f64,
    /// Angle and value where it is largest.
    pub(crate) largest: (f64, f64),
    /// Degrees by which the measured trace would have to be read later to lie closest, and the root mean square
    /// that is left when its level is free as well [bar].
    pub(crate) shifted: (f64, f64),
}

/// Largest shift looked at [deg], and how finely.
const SHIFT: f64 = 5.0;
const STEPS: i32 = 50;

impl Residual {
    /// Holds a measured trace against a computed one; none where the two share no angle.
    pub(crate) fn of(measured: &PressureTrace, computed: &Trace) -> Option<Self> {
        let rows = computed.angle.iter().zip(measured.place.of(computed));
        let ours: Vec<(f64, f64)> = rows.map(|(a, p)| (a / DEG, p / BAR)).collect();
        let start = ours.first()?.0;
        let turned = |a: f64| start + (a - start).rem_euclid(360.0);
        let mut theirs: Vec<(f64, f64)> =
            measured.points.iter().map(|(a, p)| (turned(*a), *p)).collect();
        theirs.sort_by(|a, b| a.0.total_cmp(&b.0));
        let apart = |shift: f64| -> Vec<(f64, f64)> {
            let one = |(a, p): &(f64, f64)| Some((*a, between(&ours, turned(a + shift))? - p));
            theirs.iter().filter_map(one).collect()
        };
        let difference = apart(0.0);
        let count = difference.len() as f64;
        let mean = difference.iter().map(|d| d.1).sum::<f64>() / count;
        let rms = (difference.iter().map(|d| d.1 * d.1).sum::<f64>() / count).sqrt();
        let largest = difference.iter().copied().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
        let left = |shift: f64| {
            let apart = apart(shift);
            let n = apart.len() as f64;
            let mean = apart.iter().map(|d| d.1).sum::<f64>() / n;
            (apart.iter().map(|d| (d.1 - mean) * (d.1 - mean)).sum::<f64>() / n).sqrt()
        };
        let shifts = (-STEPS..=STEPS).map(|i| SHIFT * f64::from(i) / f64::from(STEPS));
        let shifted = shifts.map(|s| (s, left(s))).min_by(|a, b| a.1.total_cmp(&b.1))?;
        Some(Self { measured: theirs, difference, mean, rms, largest, shifted })
    }
}

/// What the traces show at the events of an engine: pressures when exhaust and transfers open, and the highest.
pub(super) fn at_events(traces: &[PressureTrace], engine: &EngineSpec) -> Vec<Series> {
    let facts = Facts::of(engine, &[]);
    let at = |key: &str, trace: &PressureTrace| trace.at(facts.get(key)?);
    let (exhaust, transfer) = ("exhaust_opens_deg_atdc", "transfer_opens_deg_atdc");
    let mut found: Vec<Series> = Vec::new();
    let mut put = |quantity: Quantity, rpm: f64, value: Option<f64>| {
        let Some(value) = value else { return };
        match found.iter_mut().find(|s| s.quantity == quantity) {
            Some(series) => series.points.push((rpm, value)),
            None => found.push(Series { quantity, points: vec![(rpm, value)] }),
        }
    };
    for trace in traces {
        match trace.place {
            Place::Cylinder => {
                put(Quantity::CylinderAtExhaust, trace.rpm, at(exhaust, trace));
                put(Quantity::CylinderAtTransfer, trace.rpm, at(transfer, trace));
                // a trace that leaves out the top shows no highest pressure
                let peak = trace.points.iter().map(|p| p.1).fold(f64::NAN, f64::max);
                let whole = trace.at(15.0).is_some();
                put(Quantity::Peak, trace.rpm, whole.then_some(peak));
            }
            Place::Crankcase => {
                put(Quantity::CrankcaseAtTransfer, trace.rpm, at(transfer, trace));
            }
            Place::Exhaust => {}
        }
    }
    for series in &mut found {
        series.points.sort_by(|a, b| a.0.total_cmp(&b.0));
    }
    found
}
