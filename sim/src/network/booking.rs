//! All balances, after all streams: what one place gives another receives.

use super::contents::{Contents, CrankcaseContents, MAX_GROUPS};
use super::layout::{
    BURNED, ENERGY, HOT, LATE, Layout, MASS, OLD, SLUG_BURNED, SLUG_MASS, SLUG_POTENTIAL,
    quadrature as q,
};
use super::streams::{Stream, TransferStreams};
use crate::lane::Lane;

/// What stands in every volume.
#[derive(Debug, Clone, Copy)]
pub struct Inside<L: Lane> {
    /// Piston drop [m].
    pub drop: L,
    /// Cylinder volume [m³].
    pub volume: L,
    /// Crankcase volume [m³].
    pub case_volume: L,
    /// dV/dθ of the cylinder [m³/rad].
    pub swept_rate: L,
    /// Cylinder.
    pub cylinder: Contents<L>,
    /// Crankcase.
    pub case: CrankcaseContents<L>,
    /// Silencer, where there is one.
    pub silencer: Option<Contents<L>>,
}

/// Every stream and heat flow.
#[derive(Debug, Clone, Copy)]
pub struct Flows<L: Lane> {
    /// Cylinder to exhaust.
    pub exhaust: Stream<L>,
    /// Transfer groups.
    pub transfers: [TransferStreams<L>; MAX_GROUPS],
    /// Outside to crankcase.
    pub intake: Stream<L>,
    /// Cylinder to crankcase past the rings.
    pub blow_by: Stream<L>,
    /// Crankcase to outside.
    pub leak: Stream<L>,
    /// Silencer (or exhaust port) to outside.
    pub outlet: Stream<L>,
    /// Fresh gas burned [kg/s].
    pub burning: L,
    /// Heat to the cylinder's walls [W].
    pub wall_heat: L,
    /// Heat to the crankcase's walls [W].
    pub case_heat: L,
    /// Heat of each slug to its duct [W].
    pub slug_heats: [L; MAX_GROUPS],
    /// Heat to the silencer's walls [W].
    pub silencer_heat: L,
}

/// Books a stream into (`sign` 1) or out of (`sign` −1) a volume at `at` with tracers.
#[inline(always)]
fn give<L: Lane>(dy: &mut [L], at: usize, old: usize, stream: &Stream<L>, sign: f64) {
    dy[at + MASS] += stream.mass.scale(sign);
    dy[at + ENERGY] += stream.enthalpy.scale(sign);
    dy[at + BURNED] += stream.burned.scale(sign);
    dy[old] += stream.old.scale(sign);
}

/// The same for the crankcase with all its tracers.
#[inline(always)]
fn give_case<L: Lane>(dy: &mut [L], layout: &Layout, stream: &Stream<L>, sign: f64) {
    let tracers = layout.crankcase_tracers();
    give(dy, Layout::CRANKCASE, tracers + OLD, stream, sign);
    dy[tracers + HOT] += stream.hot.scale(sign);
    dy[tracers + LATE] += stream.late.scale(sign);
}

/// Rates of all states by crank angle.
#[inline(always)]
pub fn book<L: Lane>(
    layout: &Layout,
    inside: &Inside<L>,
    flows: &Flows<L>,
    time_per_radian: L,
    dy: &mut [L],
) {
    dy.fill(L::zero());
    let (at, old) = (Layout::CYLINDER, layout.cylinder_old());
    give(dy, at, old, &flows.exhaust, -1.0);
    give(dy, at, old, &flows.blow_by, -1.0);
    give_case(dy, layout, &flows.blow_by, 1.0);
    give_case(dy, layout, &flows.intake, 1.0);
    give_case(dy, layout, &flows.leak, -1.0);
    for g in 0..layout.groups {
        let t = &flows.transfers[g];
        let through = t.from_slug.with(&t.from_rest).less(&t.reverse);
        give(dy, at, old, &through, 1.0);
        give_case(dy, layout, &through, -1.0);
        book_slug(layout, inside, flows, g, dy);
        dy[Layout::CRANKCASE + ENERGY] -= flows.slug_heats[g];
    }
    if layout.silencer {
        give(dy, layout.silencer(), layout.silencer_old(), &flows.exhaust, 1.0);
        give(dy, layout.silencer(), layout.silencer_old(), &flows.outlet, -1.0);
        dy[layout.silencer() + ENERGY] -= flows.silencer_heat;
    }
    // burning turns fresh gas into burned gas; the new part of it becomes old
    let shares = &inside.cylinder.shares;
    let fresh = L::one() - shares.burned;
    let new_share =
        L::select(fresh.gt(L::splat(1e-9)), (L::one() - shares.old) / fresh, L::zero());
    dy[at + BURNED] += flows.burning;
    dy[old] += flows.burning * new_share;
    dy[at + ENERGY] -= flows.wall_heat;
    dy[Layout::CRANKCASE + ENERGY] -= flows.case_heat;
    for rate in dy.iter_mut() {
        *rate = *rate * time_per_radian;
    }
    dy[at + ENERGY] -= inside.cylinder.pressure * inside.swept_rate;
    dy[Layout::CRANKCASE + ENERGY] += inside.case.mixed.pressure * inside.swept_rate;
}

/// The slug zone of group `g`: a part of the crankcase with an account of its own.
#[inline(always)]
fn book_slug<L: Lane>(
    layout: &Layout,
    inside: &Inside<L>,
    flows: &Flows<L>,
    g: usize,
    dy: &mut [L],
) {
    let t = &flows.transfers[g];
    let slug = &inside.case.slugs[g];
    let out = t.from_slug.with(&t.overflow);
    let net = t.reverse.less(&out);
    let (at, tracers) = (layout.slug(g), layout.slug_tracers(g));
    let entering = inside.cylinder.state.temperature * inside.case.to_potential;
    let state = &slug.contents.state;
    let cooling = flows.slug_heats[g] * slug.potential / (state.heat_capacity * state.temperature);
    dy[at + SLUG_MASS] = net.mass;
    dy[at + SLUG_BURNED] = net.burned;
    dy[at + SLUG_POTENTIAL] = t.reverse.mass * entering - out.mass * slug.potential - cooling;
    dy[tracers + OLD] = net.old;
    dy[tracers + HOT] = net.hot;
    dy[tracers + LATE] = net.late;
}

/// Rates of the quadratures by crank angle.
#[inline(always)]
pub fn integrals<L: Lane>(
    layout: &Layout,
    inside: &Inside<L>,
    flows: &Flows<L>,
    time_per_radian: L,
    dq: &mut [L],
) {
    let zero = L::zero();
    let exhaust = &flows.exhaust;
    let mut case_heat = flows.case_heat;
    for heat in &flows.slug_heats[..layout.groups] {
        case_heat += *heat;
    }
    dq[q::INTAKE_MASS] = flows.intake.mass;
    dq[q::INTAKE_FRESH] = flows.intake.mass - flows.intake.burned;
    dq[q::INTAKE_ENTHALPY] = flows.intake.enthalpy;
    dq[q::OUTLET_MASS] = flows.outlet.mass;
    dq[q::OUTLET_BURNED] = flows.outlet.burned;
    dq[q::OUTLET_ENTHALPY] = flows.outlet.enthalpy;
    dq[q::EXHAUST_RETURN] = L::select(exhaust.mass.lt(zero), -exhaust.mass, zero);
    dq[q::FRESH_LOST] = exhaust.mass - exhaust.burned;
    dq[q::BLOW_BY] = flows.blow_by.mass;
    dq[q::LEAK_MASS] = flows.leak.mass;
    dq[q::LEAK_BURNED] = flows.leak.burned;
    dq[q::LEAK_ENTHALPY] = flows.leak.enthalpy;
    dq[q::CYLINDER_HEAT] = flows.wall_heat;
    dq[q::CRANKCASE_HEAT] = case_heat;
    dq[q::SILENCER_HEAT] = flows.silencer_heat;
    dq[q::BURNT] = flows.burning;
    let per_pressure = L::one() / inside.case.mixed.pressure;
    let cylinder_rt = inside.cylinder.state.specific_pressure_volume();
    for g in 0..layout.groups {
        let (t, at) = (&flows.transfers[g], q::group(g));
        let slug_rt = inside.case.slugs[g].contents.state.specific_pressure_volume();
        dq[at + q::NET] = t.net;
        dq[at + q::REVERSE] = t.reverse.mass;
        dq[at + q::REVERSE_BURNED] = t.reverse.burned;
        dq[at + q::REVERSE_VOLUME] = t.reverse.mass * cylinder_rt * per_pressure;
        dq[at + q::OVERFLOW] = t.overflow.mass * slug_rt * per_pressure;
    }
    for rate in dq.iter_mut() {
        *rate = *rate * time_per_radian;
    }
    dq[q::CYLINDER_WORK] = inside.cylinder.pressure * inside.swept_rate;
    dq[q::CRANKCASE_WORK] = -(inside.case.mixed.pressure * inside.swept_rate);
}
