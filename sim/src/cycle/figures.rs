//! Cycle figures from what was noted and integrated.
//!
//! # Decisions
//!
//! - Penetration is zero where there is no hot backflow, whatever an earlier late backflow left in the
//!   duct.
//! - The exhaust pulse level uses the mean slope of the outlet flow over each step.

use super::watch::{HotBackflow, PetalNotes, Watch};
use crate::model::{Model, Reference, StageReference};
use crate::network::layout::{BURNED, ENERGY, Layout, MASS, quadrature as q};
use crate::portable;
use crate::result::{
    Balance, GroupFigures, Point, ReedFigures, Standstill, Summary, Verdict, WorkCounts,
};

/// A finished cycle.
pub(super) struct Closing<'a> {
    pub(super) model: &'a Model,
    pub(super) watch: &'a Watch,
    pub(super) start: &'a [f64],
    pub(super) end: &'a [f64],
    pub(super) integrals: &'a [f64],
    /// What pipes have stored over the cycle and, where the inlet is one, what has come in through its
    /// mouth beyond what has passed the intake.
    pub(super) pipes: Stored,
}

/// Mass [kg], energy [J] and burned mass [kg].
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Stored {
    pub(super) mass: f64,
    pub(super) energy: f64,
    pub(super) burned: f64,
}

/// The operating point.
pub(super) fn point(closing: &Closing, verdict: Verdict, work: WorkCounts) -> Point {
    let groups = groups(closing);
    let mut summary = Summary { balance: balance(closing), ..Summary::default() };
    charge(closing, &groups, &mut summary);
    pressures(closing, &mut summary);
    backflow(closing, &groups, &mut summary);
    crankcase(closing, &mut summary);
    power(closing, &mut summary);
    let reed = reed(closing, &mut summary);
    let standstill = standstill(closing.model, &summary);
    Point { rpm: closing.model.reference.rpm, verdict, standstill, summary, groups, reed, work }
}

/// Net delivery over the reference mass below which nothing is delivered: engines that idle take in a hundred times
/// as much, and what is left of nothing by rounding and integration is a thousandth of it.
const NOTHING: f64 = 1e-3;
/// Pressure at exhaust closing over ambient from which the exhaust is what stops the engine.
const BACKED_UP: f64 = 1.05;

fn delivers(s: &Summary) -> bool {
    s.delivered_fresh > NOTHING * s.reference_mass
}

/// Why the engine would not run.
fn standstill(model: &Model, s: &Summary) -> Option<Standstill> {
    let backed_up = s.cylinder_pressure_ec > BACKED_UP * model.reference.ambient_pressure;
    (!delivers(s)).then_some(if backed_up {
        Standstill::BackPressure {
            cylinder: s.cylinder_pressure_ec,
            crankcase: s.crankcase_pressure_to,
        }
    } else {
        Standstill::NothingDelivered
    })
}

fn groups(closing: &Closing) -> Vec<GroupFigures> {
    let (reference, watch) = (&closing.model.reference, closing.watch);
    (0..reference.group_names.len())
        .map(|g| {
            let at = q::group(g);
            let hot = watch.turned[g].unwrap_or_default();
            let HotBackflow { mass, burned, duration, peak, penetration, depth } = hot;
            GroupFigures {
                name: reference.group_names[g].clone(),
                opens: closing.model.timing.group_opens[g],
                hot_mass: mass,
                hot_burned: burned,
                hot_duration: duration,
                hot_peak: peak,
                penetration,
                hot_depth: depth,
                late_mass: (closing.integrals[at + q::REVERSE] - mass).max(0.0),
                late_burned: (closing.integrals[at + q::REVERSE_BURNED] - burned).max(0.0),
                net_mass: closing.integrals[at + q::NET],
                largest_slug: watch.largest_fill[g],
            }
        })
        .collect()
}

fn reed(closing: &Closing, s: &mut Summary) -> Vec<ReedFigures> {
    let notes = &closing.watch.petals;
    s.reed_backflow_mass = (!notes.is_empty()).then_some(closing.watch.past_petals);
    let figures = |(notes, stage): (&PetalNotes, &StageReference)| {
        let root_stress = notes.lift * stage.stress_per_lift;
        ReedFigures {
            name: stage.name.clone(),
            lift: notes.lift,
            stop: notes.stop,
            seat_speed: notes.seat_speed,
            stop_speed: notes.stop_speed,
            openings: notes.openings,
            open: notes.open,
            root_stress,
            fatigue_share: root_stress / stage.fatigue_stress,
            frequency: stage.frequency,
        }
    };
    notes.iter().zip(&closing.model.reference.stages).map(figures).collect()
}

/// A share of what there is. Burned mass and the mass that holds it are integrated each by itself, and the tolerance
/// of the steps carries their ratio past the ends by up to some 1e-5.
fn share(value: f64) -> f64 {
    // a NaN stays one
    value.clamp(0.0, 1.0)
}

/// Delivery, trapping, scavenging.
fn charge(closing: &Closing, groups: &[GroupFigures], s: &mut Summary) {
    let reference = &closing.model.reference;
    let trapped = &closing.watch.trapped;
    s.reference_mass = reference.mass;
    s.delivered_fresh = closing.integrals[q::INTAKE_FRESH];
    s.delivery_ratio = reference.air_share * s.delivered_fresh / reference.mass;
    // below nothing is integration error
    let kept = (trapped.mass - trapped.old).max(0.0);
    s.trapping_efficiency = delivers(s).then(|| (kept / s.delivered_fresh).min(1.0));
    s.charging_efficiency = s.trapping_efficiency.map_or(0.0, |kept| s.delivery_ratio * kept);
    s.scavenging_efficiency = share((trapped.mass - trapped.burned) / trapped.mass);
    s.scavenge_ratio = groups.iter().map(|g| g.net_mass).sum::<f64>() / reference.mass;
    s.trapped_mass = trapped.mass;
    s.leftover_fresh = trapped.old - trapped.burned;
    s.exhaust_return_mass = closing.integrals[q::EXHAUST_RETURN];
    s.exhaust_return_fresh = closing.integrals[q::RETURNED_FRESH];
    s.fresh_lost = closing.integrals[q::FRESH_LOST];
    s.fuel_mass = (1.0 - reference.air_share) * s.delivered_fresh;
}

/// Temperature at which what has left the exhaust side over the cycle would have its enthalpy [K].
fn exhaust_temperature(closing: &Closing) -> f64 {
    let i = closing.integrals;
    let (mass, near) = (i[q::OUTLET_MASS], closing.watch.at_transfer_opening.cylinder_temperature);
    let gas = closing.model.case.numbers.gas.at(i[q::OUTLET_BURNED] / mass);
    gas.from_enthalpy(i[q::OUTLET_ENTHALPY] / mass, near)
}

fn pressures(closing: &Closing, s: &mut Summary) {
    s.exhaust_temperature = exhaust_temperature(closing);
    let watch = closing.watch;
    let (opening, transfer) = (&watch.at_exhaust_opening, &watch.at_transfer_opening);
    s.cylinder_pressure_eo = opening.cylinder_pressure;
    s.cylinder_temperature_eo = opening.cylinder_temperature;
    s.crankcase_pressure_eo = opening.case_pressure;
    s.crankcase_temperature_eo = opening.case_temperature;
    s.cylinder_pressure_to = transfer.cylinder_pressure;
    s.cylinder_temperature_to = transfer.cylinder_temperature;
    s.crankcase_pressure_to = transfer.case_pressure;
    s.crankcase_temperature_to = transfer.case_temperature;
    s.cylinder_pressure_ec = watch.trapped.pressure;
    s.cylinder_temperature_ec = watch.trapped.temperature;
    s.mixing_rise = closing.model.case.choices.layout.two_zones.then_some(watch.trapped.rise);
    s.late_angle = watch.crossing.map(|angle| angle - closing.model.timing.transfer_opens);
    s.peak_pressure = watch.peak_pressure;
    s.peak_pressure_angle = watch.peak_angle - crate::units::TURN;
    s.exhaust_pulse_level = 20.0 * portable::log10(watch.steepest_outlet);
}

fn backflow(closing: &Closing, groups: &[GroupFigures], s: &mut Summary) {
    let largest = |f: fn(&GroupFigures) -> f64| groups.iter().map(f).fold(0.0, f64::max);
    let total = |f: fn(&GroupFigures) -> f64| groups.iter().map(f).sum::<f64>();
    s.hot_backflow_mass = total(|g| g.hot_mass);
    s.hot_backflow_burned = total(|g| g.hot_burned);
    s.hot_backflow_duration = largest(|g| g.hot_duration);
    s.hot_backflow_penetration = largest(|g| g.penetration);
    s.hot_backflow_peak = closing.watch.total_peak;
    s.late_backflow_mass = total(|g| g.late_mass);
    s.late_backflow_burned = total(|g| g.late_burned);
}

fn crankcase(closing: &Closing, s: &mut Summary) {
    let origin = &closing.watch.origin;
    s.crankcase_burned_fraction = share(origin.burned);
    s.crankcase_burned_hot = origin.hot.max(0.0).min(s.crankcase_burned_fraction);
    let rest = s.crankcase_burned_fraction - s.crankcase_burned_hot;
    s.crankcase_burned_late = origin.late.max(0.0).min(rest);
    s.crankcase_burned_blow_by = rest - s.crankcase_burned_late;
    s.blow_by_mass = closing.integrals[q::BLOW_BY];
    s.crankcase_leak_mass = closing.integrals[q::LEAK_MASS];
    s.heat_to_crankcase = closing.integrals[q::CRANKCASE_HEAT];
}

fn power(closing: &Closing, s: &mut Summary) {
    let Reference { swept, angular_speed, fmep, heat_per_mass, .. } = closing.model.reference;
    s.imep = closing.integrals[q::CYLINDER_WORK] / swept;
    s.crankcase_imep = closing.integrals[q::CRANKCASE_WORK] / swept;
    s.fmep = fmep;
    s.bmep = s.imep + s.crankcase_imep - s.fmep;
    let work = s.bmep * swept;
    s.torque = work / crate::units::TURN;
    s.power = s.torque * angular_speed;
    s.bsfc = (work > 0.0).then(|| s.fuel_mass / work);
    s.burned_mass = closing.integrals[q::BURNT];
    s.heat_released = s.burned_mass * heat_per_mass;
    s.heat_to_walls = closing.integrals[q::CYLINDER_HEAT];
}

/// What came in less what went out less what is stored.
fn balance(closing: &Closing) -> Balance {
    let (model, i) = (closing.model, closing.integrals);
    let layout = model.case.choices.layout;
    let stored = |part: usize| {
        let volumes = [Some(Layout::CYLINDER), Some(Layout::CRANKCASE)]
            .into_iter()
            .chain([layout.silencer.then(|| layout.silencer())])
            .flatten();
        volumes.map(|at| closing.end[at + part] - closing.start[at + part]).sum::<f64>()
    };
    let pipes = &closing.pipes;
    let mass = i[q::INTAKE_MASS] - i[q::OUTLET_MASS] - i[q::LEAK_MASS] - stored(MASS) - pipes.mass;
    let burned_in = i[q::INTAKE_MASS] - i[q::INTAKE_FRESH] + i[q::BURNT];
    let burned_out = i[q::OUTLET_BURNED] + i[q::LEAK_BURNED];
    let burned = burned_in - burned_out - stored(BURNED) - pipes.burned;
    let heat = i[q::CYLINDER_HEAT] + i[q::CRANKCASE_HEAT] + i[q::SILENCER_HEAT];
    let work = i[q::CYLINDER_WORK] + i[q::CRANKCASE_WORK];
    let flow = i[q::INTAKE_ENTHALPY] - i[q::OUTLET_ENTHALPY] - i[q::LEAK_ENTHALPY];
    let energy = flow - heat - work - stored(ENERGY) - pipes.energy;
    let throughput = i[q::INTAKE_MASS].abs();
    let released = (i[q::BURNT] * model.reference.heat_per_mass).abs();
    let over = |value: f64, size: f64| if size > 0.0 { value / size } else { value };
    Balance {
        mass: over(mass, throughput),
        burned: over(burned, throughput),
        energy: over(energy, released),
    }
}
