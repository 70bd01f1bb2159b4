//! Streams through the links. Each is computed once and booked twice.
//!
//! # Decisions
//!
//! - The casting's exhaust duct: 1/A² = 1/(C_d A_w)² + (1 + K)/A_exit², K being the ledge's loss in the
//!   direction of flow; its volume belongs to the silencer where there is one.
//! - Crankcase leak and intake outflow carry the gas outside the slug zones. A leak inward brings fresh
//!   gas.
//! - In the counterfactual the gate on reverse flow is lifted at the end of the step in which the
//!   pressures cross; until then a column that would move backward waits at rest.

use super::contents::{Contents, Shares, Slug};
use super::numbers::GroupNumbers;
use crate::column::Column;
use crate::flow::{Upstream, flow_density, mass_flow};
use crate::gas::Gas;
use crate::lane::{Lane, Mask, exp};

/// Mass, enthalpy and what the mass carries, per second. Positive in the link's own direction.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stream<L: Lane> {
    /// ṁ [kg/s].
    pub(super) mass: L,
    /// ṁ·h [W].
    pub(super) enthalpy: L,
    /// Burned mass [kg/s].
    pub(super) burned: L,
    /// Old mass [kg/s].
    pub(super) old: L,
    /// Burned gas of hot backflow [kg/s].
    pub(super) hot: L,
    /// Burned gas of late backflow [kg/s].
    pub(super) late: L,
}

impl<L: Lane> Stream<L> {
    /// No flow.
    #[inline(always)]
    pub(super) fn none() -> Self {
        let zero = L::zero();
        Self { mass: zero, enthalpy: zero, burned: zero, old: zero, hot: zero, late: zero }
    }

    /// `mass` of gas with this enthalpy and these shares.
    #[inline(always)]
    pub(super) fn of(mass: L, enthalpy: L, shares: &Shares<L>) -> Self {
        Self {
            mass,
            enthalpy: mass * enthalpy,
            burned: mass * shares.burned,
            old: mass * shares.old,
            hot: mass * shares.hot,
            late: mass * shares.late,
        }
    }

    /// Both together.
    #[inline(always)]
    pub(super) fn with(&self, other: &Self) -> Self {
        Self {
            mass: self.mass + other.mass,
            enthalpy: self.enthalpy + other.enthalpy,
            burned: self.burned + other.burned,
            old: self.old + other.old,
            hot: self.hot + other.hot,
            late: self.late + other.late,
        }
    }

    /// This less another.
    #[inline(always)]
    pub(super) fn less(&self, other: &Self) -> Self {
        Self {
            mass: self.mass - other.mass,
            enthalpy: self.enthalpy - other.enthalpy,
            burned: self.burned - other.burned,
            old: self.old - other.old,
            hot: self.hot - other.hot,
            late: self.late - other.late,
        }
    }
}

/// A place at the end of a link: gas that would leave it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place<L: Lane> {
    /// Gas as upstream.
    pub(super) upstream: Upstream<L>,
    /// Its enthalpy [J/kg].
    pub(super) enthalpy: L,
    /// Its shares.
    pub(super) shares: Shares<L>,
}

impl<L: Lane> From<&Contents<L>> for Place<L> {
    #[inline(always)]
    fn from(contents: &Contents<L>) -> Self {
        Self {
            upstream: contents.upstream(),
            enthalpy: contents.state.enthalpy,
            shares: contents.shares,
        }
    }
}

impl<L: Lane> Upstream<L> {
    #[inline(always)]
    fn either(mask: L::Mask, yes: &Self, no: &Self) -> Self {
        Self {
            pressure: L::select(mask, yes.pressure, no.pressure),
            specific_pressure_volume: L::select(
                mask,
                yes.specific_pressure_volume,
                no.specific_pressure_volume,
            ),
            kappa: L::select(mask, yes.kappa, no.kappa),
        }
    }
}

#[inline(always)]
fn either<L: Lane>(mask: L::Mask, yes: &Place<L>, no: &Place<L>) -> Place<L> {
    Place {
        upstream: Upstream::either(mask, &yes.upstream, &no.upstream),
        enthalpy: L::select(mask, yes.enthalpy, no.enthalpy),
        shares: Shares {
            burned: L::select(mask, yes.shares.burned, no.shares.burned),
            old: L::select(mask, yes.shares.old, no.shares.old),
            hot: L::select(mask, yes.shares.hot, no.shares.hot),
            late: L::select(mask, yes.shares.late, no.shares.late),
        },
    }
}

/// Stream through an opening whose column moves at `flow` [kg/s], positive from `from` to `to`.
#[inline(always)]
pub(super) fn carried<L: Lane>(flow: L, from: &Place<L>, to: &Place<L>) -> Stream<L> {
    let source = either(flow.ge(L::zero()), from, to);
    Stream::of(flow, source.enthalpy, &source.shares)
}

/// Stream through a plain opening, positive from `from` to `to`.
#[inline(always)]
pub(super) fn between<L: Lane>(area: L, from: &Place<L>, to: &Place<L>, epsilon: L) -> Stream<L> {
    let forward = to.upstream.pressure.le(from.upstream.pressure);
    let source = either(forward, from, to);
    let sink_pressure = L::select(forward, to.upstream.pressure, from.upstream.pressure);
    let flow = mass_flow(area, &source.upstream, sink_pressure, epsilon);
    let signed = L::select(forward, flow, -flow);
    Stream::of(signed, source.enthalpy, &source.shares)
}

/// What one transfer group does.
#[derive(Debug, Clone, Copy)]
pub(super) struct TransferStreams<L: Lane> {
    /// Geometric flow area [m²].
    pub(super) area: L,
    /// Out of the slug into the cylinder.
    pub(super) from_slug: Stream<L>,
    /// Out of the rest of the crankcase into the cylinder.
    pub(super) from_rest: Stream<L>,
    /// Out of the cylinder into the slug.
    pub(super) reverse: Stream<L>,
    /// Overflow of the slug into the rest; moves no mass between volumes.
    pub(super) overflow: Stream<L>,
    /// Net forward flow [kg/s].
    pub(super) net: L,
    /// Quasi-steady flow that a column follows [kg/s].
    pub(super) aim: L,
    /// Whether the windows are open in any lane.
    pub(super) open: bool,
}

impl<L: Lane> TransferStreams<L> {
    /// Windows shut.
    #[inline(always)]
    pub(super) fn none() -> Self {
        let none = Stream::none();
        Self {
            area: L::zero(),
            from_slug: none,
            from_rest: none,
            reverse: none,
            overflow: none,
            net: L::zero(),
            aim: L::zero(),
            open: false,
        }
    }
}

/// What besides the gases decides a transfer flow.
#[derive(Debug, Clone, Copy)]
pub(super) struct Gates<L: Lane> {
    /// 0 while reverse flow is held back, else 1.
    pub(super) reverse: L,
    /// 1 while reverse flow counts as hot backflow.
    pub(super) hot: L,
    /// Half-width of the regularised flow function.
    pub(super) epsilon: L,
    /// Fastest relaxation of a column [1/s].
    pub(super) fastest: L,
}

/// What the bare windows between cylinder and crankcase have in common.
#[derive(Debug, Clone, Copy)]
pub(super) struct Facing<L: Lane> {
    /// Where the crankcase's pressure is not below the cylinder's.
    forward: L::Mask,
    /// The lower pressure [Pa].
    low: L,
    /// Flow per effective area out of the crankcase's rest or, in reverse, out of the cylinder
    /// [kg/(s m²)].
    density: L,
}

impl<L: Lane> Facing<L> {
    /// At these states.
    #[inline(always)]
    pub(super) fn of(cylinder: &Place<L>, rest: &Place<L>, epsilon: L) -> Self {
        let (inner, case) = (cylinder.upstream.pressure, rest.upstream.pressure);
        let forward = inner.le(case);
        let low = L::select(forward, inner, case);
        let source = Upstream::either(forward, &rest.upstream, &cylinder.upstream);
        Self { forward, low, density: flow_density(&source, low, epsilon) }
    }
}

/// Flow through the window of a transfer group, as a bare orifice.
///
/// Forward, the window's area divides w : 1 − w between slug and rest, w = 1 − e^{−m_s/m_δ}, times
/// m_s/(m_s + m_f): the last 10⁻⁸ of a duct's filling drains slowly instead of stiffly.
/// In reverse the slug takes it all and overflows by volume once it fills the duct.
#[allow(clippy::too_many_arguments, reason = "one kernel, all of it needed, inlined once")]
#[inline(always)]
pub(super) fn transfer<L: Lane>(
    area: L,
    facing: &Facing<L>,
    cylinder: &Place<L>,
    slug: &Slug<L>,
    rest: &Place<L>,
    group: &GroupNumbers<L>,
    gates: &Gates<L>,
) -> TransferStreams<L> {
    let slug_place = Place::from(&slug.contents);
    let forward = facing.forward;
    let zero = L::zero();
    let through = area * facing.density;
    let (mut out_of_slug, mut out_of_rest) = (zero, zero);
    if forward.any() {
        let through_slug = mass_flow(area, &slug_place.upstream, facing.low, gates.epsilon);
        let blend = slug_share(slug, group);
        out_of_slug = L::select(forward, blend * through_slug, zero);
        out_of_rest = L::select(forward, (L::one() - blend) * through, zero);
    }
    let back = L::select(forward, zero, through * gates.reverse);
    let over = back * overflow_share(slug.fill) * cylinder.upstream.specific_pressure_volume
        / slug_place.upstream.specific_pressure_volume;
    let mut reverse = Stream::of(back, cylinder.enthalpy, &cylinder.shares);
    reverse.hot = reverse.burned * gates.hot;
    reverse.late = reverse.burned - reverse.hot;
    TransferStreams {
        area,
        from_slug: Stream::of(out_of_slug, slug_place.enthalpy, &slug_place.shares),
        from_rest: Stream::of(out_of_rest, rest.enthalpy, &rest.shares),
        reverse,
        overflow: Stream::of(over, slug_place.enthalpy, &slug_place.shares),
        net: out_of_slug + out_of_rest - back,
        aim: zero,
        open: true,
    }
}

/// Flow through the window of a transfer group whose duct's column moves at `flow` [kg/s], and the
/// column's acceleration [kg/s²]. The flow is the column's own; forward it divides between slug and
/// rest as w/√(R_sT_s) : (1−w)/√(R_rT_r).
#[allow(clippy::too_many_arguments, reason = "one kernel, all of it needed, inlined once")]
#[inline(always)]
pub(super) fn transfer_by_column<L: Lane>(
    area: L,
    flow: L,
    cylinder: &Place<L>,
    slug: &Slug<L>,
    rest: &Place<L>,
    group: &GroupNumbers<L>,
    gates: &Gates<L>,
) -> (TransferStreams<L>, L) {
    let zero = L::zero();
    let slug_place = Place::from(&slug.contents);
    let blend = slug_share(slug, group);
    let slug_part = blend / slug_place.upstream.specific_pressure_volume.sqrt();
    let rest_part = (L::one() - blend) / rest.upstream.specific_pressure_volume.sqrt();
    let parts = slug_part + rest_part;
    let slug_flow_share = slug_part / parts;
    // what flows forward behaves as one gas: its flow function is that of the shares
    let mixed = Upstream {
        pressure: rest.upstream.pressure,
        specific_pressure_volume: (L::one() / parts).squared(),
        kappa: rest.upstream.kappa
            + slug_flow_share * (slug_place.upstream.kappa - rest.upstream.kappa),
    };
    let column = Column {
        ease: group.column_ease,
        losses: (group.loss_forward, group.loss_reverse),
        area,
        from: mixed,
        to: cylinder.upstream,
        fastest: gates.fastest,
    };
    let (acceleration, aim) = column.law(flow);
    // where reverse flow is held back the column waits at rest
    let held = flow.le(zero).and(acceleration.lt(zero)).and(gates.reverse.lt(L::splat(0.5)));
    let acceleration = L::select(held, zero, acceleration);
    let forward = L::select(flow.gt(zero), flow, zero);
    let back = L::select(flow.lt(zero), -flow, zero) * gates.reverse;
    let out_of_slug = forward * slug_flow_share;
    let out_of_rest = forward - out_of_slug;
    let over = back * overflow_share(slug.fill) * cylinder.upstream.specific_pressure_volume
        / slug_place.upstream.specific_pressure_volume;
    let mut reverse = Stream::of(back, cylinder.enthalpy, &cylinder.shares);
    reverse.hot = reverse.burned * gates.hot;
    reverse.late = reverse.burned - reverse.hot;
    let streams = TransferStreams {
        area,
        from_slug: Stream::of(out_of_slug, slug_place.enthalpy, &slug_place.shares),
        from_rest: Stream::of(out_of_rest, rest.enthalpy, &rest.shares),
        reverse,
        overflow: Stream::of(over, slug_place.enthalpy, &slug_place.shares),
        net: forward - back,
        aim,
        open: true,
    };
    (streams, acceleration)
}

/// The slug's share w of the window.
#[inline(always)]
fn slug_share<L: Lane>(slug: &Slug<L>, group: &GroupNumbers<L>) -> L {
    let held = slug.contents.mass.at_least(L::zero());
    (L::one() - exp(-(held * group.per_blend_mass))) * (held / (held + group.floor_mass))
}

/// S: from 0 at 98 % of the duct's volume to 1 at 100 %.
#[inline(always)]
fn overflow_share<L: Lane>(fill: L) -> L {
    let u = fill.plus(-0.98).scale(50.0).at_least(L::zero()).at_most(L::one());
    u.squared() * (L::splat(3.0) - u.scale(2.0))
}

/// What the scavenging law knows when it decides what leaves.
#[derive(Debug, Clone, Copy)]
pub(super) struct Exit<L: Lane> {
    /// 1 while the law applies.
    pub(super) scavenging: L,
    /// Leaving fresh share y by volume at the cylinder's fresh volume share; the law's table.
    pub(super) leaving: L,
    /// Short-circuit share σ.
    pub(super) short_circuit: L,
    /// Fresh mass entering through the transfers [kg/s].
    pub(super) entering_fresh: L,
    /// New fresh mass entering [kg/s].
    pub(super) entering_new: L,
}

/// Stream out of the cylinder during scavenging: `mass` with the composition of the law at the
/// cylinder's temperature.
#[inline(always)]
pub(super) fn leaving<L: Lane>(
    gas: &Gas<L>,
    mass: L,
    cylinder: &Contents<L>,
    exit: &Exit<L>,
) -> Stream<L> {
    let scavenging = exit.scavenging.gt(L::splat(0.5));
    let fresh = L::one() - cylinder.shares.burned;
    let (r_fresh, r_burned) = gas.gas_constants();
    // volume share back to mass share, both at the cylinder's temperature
    let y = exit.leaving;
    let by_mass = y * r_burned / (y * r_burned + (L::one() - y) * r_fresh);
    let leaving = L::select(scavenging, by_mass, fresh);
    let direct = L::select(scavenging, exit.short_circuit * exit.entering_fresh, L::zero());
    let direct = direct.at_most(mass);
    let fresh_out = direct + (mass - direct) * leaving;
    // new gas among the fresh: as in the cylinder, and as it enters in what goes straight through
    let new_share = (L::one() - cylinder.shares.old) / fresh;
    let new_share = L::select(fresh.gt(L::splat(1e-12)), new_share, L::zero());
    let entering = L::select(
        exit.entering_fresh.gt(L::zero()),
        exit.entering_new / exit.entering_fresh,
        L::zero(),
    );
    let new_out = direct * entering + (mass - direct) * leaving * new_share;
    let (h_fresh, h_burned) = gas.enthalpies(cylinder.state.temperature);
    let burned_out = mass - fresh_out;
    Stream {
        mass,
        enthalpy: fresh_out * h_fresh + burned_out * h_burned,
        burned: burned_out,
        old: mass - new_out,
        hot: L::zero(),
        late: L::zero(),
    }
}

/// Fresh volume share of the cylinder at its burned mass share.
#[inline(always)]
pub(super) fn volume_share<L: Lane>(gas: &Gas<L>, burned: L) -> L {
    let (r_fresh, r_burned) = gas.gas_constants();
    let b = burned.at_least(L::zero()).at_most(L::one());
    let fresh = (L::one() - b) * r_fresh;
    fresh / (fresh + b * r_burned)
}

/// True in any lane whose area is open.
#[inline(always)]
pub(super) fn open<L: Lane>(area: L) -> bool {
    area.gt(L::zero()).any()
}
