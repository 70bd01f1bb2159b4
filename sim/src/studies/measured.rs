//! Measurements held against what is computed: the same quantities of a point, traces over the crank angle,
//! what traces show at the events of an engine.

use crate::forms::measured::{Measured, Place, PressureTrace, Quantity, Series};
use crate::result::{COLUMNS, Point, Trace};
use crate::spec::EngineSpec;
use crate::studies::quantities::Facts;
use crate::units::{BAR, DEG};

/// Widest gap between points over which a trace is read between them [deg].
const GAP: f64 = 15.0;

/// What files of an engine's measurements say together, with what their traces show at its events.
#[must_use]
pub fn together(files: Vec<Measured>, engine: &EngineSpec) -> Measured {
    let mut all = Measured::default();
    for one in files {
        all.series.extend(one.series);
        all.traces.extend(one.traces);
    }
    let at_events = at_events(&all.traces, engine);
    all.series.extend(at_events);
    all
}

impl Quantity {
    /// The same of a computed point; none of what is measured on an engine that does not run.
    #[must_use]
    pub fn of(self) -> fn(&Point) -> Option<f64> {
        fn column(key: &str, point: &Point) -> Option<f64> {
            COLUMNS.iter().find(|c| c.key == key).and_then(|c| (c.value)(point))
        }
        /// Air a cycle [mg].
        fn air(point: &Point) -> Option<f64> {
            Some(column("delivery_ratio", point)? * column("reference_mass_mg", point)?)
        }
        match self {
            Self::Power => |p| column("power_kw", p),
            Self::Torque => |p| column("torque_nm", p),
            Self::Fuel => |p| Some(column("fuel_mass_mg", p)? * 1e-3 * p.rpm),
            Self::FuelInAir => |p| Some(1e3 * column("fuel_mass_mg", p)? / air(p)?),
            Self::Air => |p| Some(air(p)? * 1e-3 * p.rpm),
            Self::Gauge => |_| None,
            Self::CylinderAtExhaust => |p| Some(p.summary.cylinder_pressure_eo / BAR),
            Self::CylinderAtTransfer => |p| Some(p.summary.cylinder_pressure_to / BAR),
            Self::CrankcaseAtTransfer => |p| Some(p.summary.crankcase_pressure_to / BAR),
            Self::Peak => |p| Some(p.summary.peak_pressure / BAR),
        }
    }
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
    pub fn at(&self, angle: f64) -> Option<f64> {
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
pub struct Residual {
    /// Crank angle in the computed turn [deg] and measured pressure [bar], in order of angle.
    pub measured: Vec<(f64, f64)>,
    /// Computed less measured [bar] over the same angles.
    pub difference: Vec<(f64, f64)>,
    /// Mean of the difference [bar].
    pub mean: f64,
    /// Root of its mean square [bar].
    pub rms: f64,
    /// Angle and value where it is largest.
    pub largest: (f64, f64),
    /// Degrees by which the measured trace would have to be read later to lie closest, and the root mean square
    /// that is left when its level is free as well [bar].
    pub shifted: (f64, f64),
}

/// Largest shift looked at [deg], and how finely.
const SHIFT: f64 = 5.0;
const STEPS: i32 = 50;

/// The pressure [Pa] in a computed trace where one was measured.
#[must_use]
pub fn computed_pressure(trace: &Trace, place: Place) -> &[f64] {
    match place {
        Place::Cylinder => &trace.cylinder.pressure,
        Place::Crankcase => &trace.crankcase.pressure,
        Place::Exhaust => &trace.exhaust_pressure,
    }
}

impl Residual {
    /// Holds a measured trace against a computed one; none where the two share no angle.
    pub fn of(measured: &PressureTrace, computed: &Trace) -> Option<Self> {
        let rows = computed.angle.iter().zip(computed_pressure(computed, measured.place));
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
fn at_events(traces: &[PressureTrace], engine: &EngineSpec) -> Vec<Series> {
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

/// Power over speed: as measured, else from torque.
#[must_use]
pub fn power(all: &[Series]) -> Option<Vec<(f64, f64)>> {
    let of = |quantity| all.iter().find(|s| s.quantity == quantity);
    let from_torque = |s: &Series| {
        let kw = |(rpm, nm): &(f64, f64)| (*rpm, nm * rpm * std::f64::consts::TAU / 60e3);
        s.points.iter().map(kw).collect()
    };
    of(Quantity::Power).map(|s| s.points.clone()).or_else(|| of(Quantity::Torque).map(from_torque))
}
