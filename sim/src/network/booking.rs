//! All balances, after all streams: what one place gives another receives.
//!
//! # Decisions
//!
//! - The old-gas tracer gains the new part of what burns, so that blow-by after burning carries none of
//!   it as new.
//! - Hot and late tags: a flag per transfer group, changed between steps when the flow first turns
//!   forward; it touches the passive tags only.

use super::contents::{Contents, CrankcaseContents, Slug};
use super::layout::{
    BURNED, ENERGY, HOT, LATE, Layout, MASS, OLD, SLUG_BURNED, SLUG_MASS, SLUG_POTENTIAL,
    quadrature as q,
};
use super::numbers::GroupNumbers;
use super::streams::{Place, Stream, TransferStreams, open};
use super::zones::{Entering, Parts, Zones};
use crate::lane::{Lane, Mask};

/// What stands in every volume.
#[derive(Debug, Clone, Copy)]
pub(super) struct Inside<L: Lane> {
    /// Piston drop [m].
    pub(super) drop: L,
    /// Cylinder volume [m³].
    pub(super) volume: L,
    /// Crankcase volume [m³].
    pub(super) case_volume: L,
    /// dV/dθ of the cylinder [m³/rad].
    pub(super) swept_rate: L,
    /// Cylinder.
    pub(super) cylinder: Contents<L>,
    /// Its zones, where any lane has two.
    pub(super) zones: Option<Zones<L>>,
    /// What would blow back into the transfers.
    pub(super) back: Place<L>,
    /// Its temperature [K].
    pub(super) back_temperature: L,
    /// The old zone's share of its mass.
    pub(super) back_old: L,
    /// Crankcase.
    pub(super) case: CrankcaseContents<L>,
    /// Silencer, where there is one.
    pub(super) silencer: Option<Contents<L>>,
}

/// Every stream and heat flow but those of the transfer groups.
#[derive(Debug, Clone, Copy)]
pub(super) struct Flows<L: Lane> {
    /// Geometric exhaust flow area [m²].
    pub(super) exhaust_area: L,
    /// Cylinder to exhaust.
    pub(super) exhaust: Stream<L>,
    /// Pressure behind the exhaust [Pa].
    pub(super) exhaust_pressure: L,
    /// Geometric intake area [m²].
    pub(super) intake_area: L,
    /// Outside to crankcase.
    pub(super) intake: Stream<L>,
    /// Quasi-steady flow that the inlet's column follows [kg/s].
    pub(super) intake_aim: L,
    /// Cylinder to crankcase past the rings.
    pub(super) blow_by: Stream<L>,
    /// Crankcase to outside.
    pub(super) leak: Stream<L>,
    /// Whether any lane has a leak.
    pub(super) leaky: bool,
    /// Silencer (or exhaust port) to outside.
    pub(super) outlet: Stream<L>,
    /// Fresh gas burned [kg/s].
    pub(super) burning: L,
    /// Heat to the cylinder's walls [W].
    pub(super) wall_heat: L,
    /// Of it from the new and the old zone [W].
    pub(super) zone_heat: [L; 2],
    /// What comes into the zones through the transfers and what leaves them through the exhaust.
    pub(super) zones: Option<(Entering<L>, Parts<L>)>,
    /// Heat to the crankcase's walls [W].
    pub(super) case_heat: L,
    /// Heat to the silencer's walls [W].
    pub(super) silencer_heat: L,
    /// Heat to the walls of all pipes [W].
    pub(super) pipe_heat: L,
}

/// All streams against all balances.
pub(super) struct Booking<'a, L: Lane> {
    pub(super) layout: &'a Layout,
    pub(super) inside: &'a Inside<L>,
    pub(super) flows: &'a Flows<L>,
}

/// Books a stream into (`sign` 1) or out of (`sign` −1) a volume at `at` with tracers.
#[inline(always)]
fn give<L: Lane>(dy: &mut [L], at: usize, old: usize, stream: &Stream<L>, factor: L) {
    let volume = &mut dy[at..at + 3];
    volume[MASS] += stream.mass * factor;
    volume[ENERGY] += stream.enthalpy * factor;
    volume[BURNED] += stream.burned * factor;
    dy[old] += stream.old * factor;
}

impl<L: Lane> Booking<'_, L> {
    /// The same for the crankcase with all its tracers.
    #[inline(always)]
    fn give_case(&self, dy: &mut [L], stream: &Stream<L>, factor: L) {
        let tracers = self.layout.crankcase_tracers();
        give(dy, Layout::CRANKCASE, tracers + OLD, stream, factor);
        dy[tracers + HOT] += stream.hot * factor;
        dy[tracers + LATE] += stream.late * factor;
    }

    /// Rates by crank angle of everything but the transfer groups and the columns, added to `dy`.
    #[inline(always)]
    pub(super) fn plain(&self, time_per_radian: L, dy: &mut [L]) {
        let (layout, inside, flows) = (self.layout, self.inside, self.flows);
        let (at, old) = (Layout::CYLINDER, layout.cylinder_old());
        let (plus, minus) = (time_per_radian, -time_per_radian);
        if open(flows.exhaust_area) {
            give(dy, at, old, &flows.exhaust, minus);
        }
        if open(flows.intake_area) {
            self.give_case(dy, &flows.intake, plus);
        }
        if flows.leaky {
            give(dy, at, old, &flows.blow_by, minus);
            self.give_case(dy, &flows.blow_by, plus);
            self.give_case(dy, &flows.leak, minus);
        }
        if layout.silencer {
            give(dy, layout.silencer(), layout.silencer_old(), &flows.exhaust, plus);
            give(dy, layout.silencer(), layout.silencer_old(), &flows.outlet, minus);
            dy[layout.silencer() + ENERGY] -= flows.silencer_heat * plus;
        }
        // burning turns fresh gas into burned gas; the new part of it becomes old
        let shares = &inside.cylinder.shares;
        let fresh = L::one() - shares.burned;
        let new_share =
            L::select(fresh.gt(L::splat(1e-9)), (L::one() - shares.old) / fresh, L::zero());
        let burning = flows.burning * plus;
        dy[at + BURNED] += burning;
        dy[old] += burning * new_share;
        dy[at + ENERGY] -= flows.wall_heat * plus + inside.cylinder.pressure * inside.swept_rate;
        dy[Layout::CRANKCASE + ENERGY] +=
            inside.case.mixed.pressure * inside.swept_rate - flows.case_heat * plus;
    }

    /// Rates of the quadratures.
    #[inline(always)]
    pub(super) fn integrals(&self, per_radian: L, dq: &mut [L]) {
        let (inside, flows) = (self.inside, self.flows);
        let zero = L::zero();
        let dq = &mut dq[..q::GROUPS];
        let exhaust = &flows.exhaust;
        let back = L::select(exhaust.mass.lt(zero), -exhaust.mass, zero);
        dq[q::INTAKE_MASS] = flows.intake.mass * per_radian;
        dq[q::INTAKE_FRESH] = (flows.intake.mass - flows.intake.burned) * per_radian;
        dq[q::INTAKE_ENTHALPY] = flows.intake.enthalpy * per_radian;
        dq[q::OUTLET_MASS] = flows.outlet.mass * per_radian;
        dq[q::OUTLET_BURNED] = flows.outlet.burned * per_radian;
        dq[q::OUTLET_ENTHALPY] = flows.outlet.enthalpy * per_radian;
        dq[q::EXHAUST_RETURN] = back * per_radian;
        let fresh = exhaust.burned - exhaust.mass;
        dq[q::RETURNED_FRESH] = L::select(exhaust.mass.lt(zero), fresh, zero) * per_radian;
        dq[q::FRESH_LOST] = (exhaust.mass - exhaust.burned) * per_radian;
        dq[q::BLOW_BY] = flows.blow_by.mass * per_radian;
        dq[q::LEAK_MASS] = flows.leak.mass * per_radian;
        dq[q::LEAK_BURNED] = flows.leak.burned * per_radian;
        dq[q::LEAK_ENTHALPY] = flows.leak.enthalpy * per_radian;
        dq[q::CYLINDER_WORK] = inside.cylinder.pressure * inside.swept_rate;
        dq[q::CRANKCASE_WORK] = -(inside.case.mixed.pressure * inside.swept_rate);
        dq[q::CYLINDER_HEAT] = flows.wall_heat * per_radian;
        dq[q::CRANKCASE_HEAT] = flows.case_heat * per_radian;
        dq[q::SILENCER_HEAT] = (flows.silencer_heat + flows.pipe_heat) * per_radian;
        dq[q::BURNT] = flows.burning * per_radian;
    }

    /// Transfer group `g`: cylinder against crankcase, and the slug zone, a part of the crankcase
    /// with an account of its own.
    #[allow(clippy::too_many_arguments, reason = "one booking, both sides and the integrals")]
    #[inline(always)]
    pub(super) fn group(
        &self,
        g: usize,
        group: &GroupNumbers<L>,
        slug: &Slug<L>,
        t: &TransferStreams<L>,
        per_radian: L,
        dy: &mut [L],
        dq: &mut [L],
    ) {
        let (layout, inside) = (self.layout, self.inside);
        let (at, tracers, sums) = (layout.slug(g), layout.slug_tracers(g), q::group(g));
        let state = &slug.contents.state;
        // heat to the duct's wall, in proportion to the duct it fills
        let mut cooling = L::zero();
        if group.conductance.gt(L::zero()).any() {
            let heat = group.conductance
                * slug.fill.at_most(L::one())
                * (state.temperature - group.wall)
                * per_radian;
            dy[Layout::CRANKCASE + ENERGY] -= heat;
            dq[q::CRANKCASE_HEAT] += heat;
            cooling = heat * slug.potential / (state.heat_capacity * state.temperature);
        }
        if !t.open {
            dy[at + SLUG_POTENTIAL] = -cooling;
            dq[sums..sums + q::PER_GROUP].fill(L::zero());
            return;
        }
        let through = t.from_slug.with(&t.from_rest).less(&t.reverse);
        give(dy, Layout::CYLINDER, layout.cylinder_old(), &through, per_radian);
        self.give_case(dy, &through, -per_radian);
        let out = t.from_slug.with(&t.overflow);
        let net = t.reverse.less(&out);
        let entering = inside.back_temperature * inside.case.to_potential;
        let potential = t.reverse.mass * entering - out.mass * slug.potential;
        let zone = &mut dy[at..at + 3];
        zone[SLUG_MASS] = net.mass * per_radian;
        zone[SLUG_BURNED] = net.burned * per_radian;
        zone[SLUG_POTENTIAL] = potential * per_radian - cooling;
        let carried = &mut dy[tracers..tracers + 3];
        carried[OLD] = net.old * per_radian;
        carried[HOT] = net.hot * per_radian;
        carried[LATE] = net.late * per_radian;
        let volume = per_radian * inside.case.per_pressure;
        let sums = &mut dq[sums..sums + q::PER_GROUP];
        sums[q::NET] = t.net * per_radian;
        sums[q::REVERSE] = t.reverse.mass * per_radian;
        sums[q::REVERSE_BURNED] = t.reverse.burned * per_radian;
        sums[q::REVERSE_VOLUME] =
            t.reverse.mass * inside.back.upstream.specific_pressure_volume * volume;
        sums[q::OVERFLOW] = t.overflow.mass * state.specific_pressure_volume() * volume;
    }
}
