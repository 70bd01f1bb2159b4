//! What stands in each volume: pressures, temperatures and compositions from the conserved state.
//!
//! # Decisions
//!
//! - The slug's share of the window has the factor m_s/(m_s + m_f): the last 1e-8 of a duct's filling
//!   drains slowly instead of stiffly (no result moves by more than 1e-8).

use super::layout::Layout;
use super::numbers::{Figures, GroupNumbers};
use crate::flow::Upstream;
use crate::gas::{Gas, GasState};
use crate::lane::Lane;

/// Gas in one place, ready to flow out of it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Contents<L: Lane> {
    /// p [Pa].
    pub(super) pressure: L,
    /// Mass [kg].
    pub(super) mass: L,
    /// Temperature, heat capacity, enthalpy.
    pub(super) state: GasState<L>,
    /// Shares of the mass: burned, old, burned from hot backflow, burned from late backflow.
    pub(super) shares: Shares<L>,
}

/// Mass shares a stream carries.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shares<L: Lane> {
    /// Burned gas b.
    pub(super) burned: L,
    /// Old gas.
    pub(super) old: L,
    /// Burned gas in the crankcase that came by hot backflow.
    pub(super) hot: L,
    /// Burned gas in the crankcase that came by late backflow.
    pub(super) late: L,
}

impl<L: Lane> Contents<L> {
    /// As the gas upstream of an opening.
    #[inline(always)]
    pub(super) fn upstream(&self) -> Upstream<L> {
        Upstream {
            pressure: self.pressure,
            specific_pressure_volume: self.state.specific_pressure_volume(),
            kappa: self.state.gas_constant / self.state.heat_capacity,
        }
    }
}

/// Three neighbours of the state, in the order of the layout.
#[inline(always)]
pub(super) fn three<L: Lane>(y: &[L], at: usize) -> [L; 3] {
    let part = &y[at..at + 3];
    [part[0], part[1], part[2]]
}

/// A single volume `volume` whose states start at `at`, with its old gas at `old`.
#[inline(always)]
pub(super) fn of_volume<L: Lane>(
    gas: &Gas<L>,
    y: &[L],
    at: usize,
    old: usize,
    volume: L,
) -> Contents<L> {
    let [mass, energy, burned] = three(y, at);
    let per_mass = L::one() / mass;
    let burned = burned * per_mass;
    let state = gas.at(burned).from_energy(energy * per_mass);
    Contents {
        pressure: mass / volume * state.specific_pressure_volume(),
        mass,
        state,
        shares: Shares { burned, old: y[old] * per_mass, hot: L::zero(), late: L::zero() },
    }
}

/// The same with mass and shares alone known, where its zones tell the rest.
#[inline(always)]
pub(super) fn untold<L: Lane>(y: &[L], at: usize, old: usize) -> Contents<L> {
    let [mass, _, burned] = three(y, at);
    let (per_mass, zero) = (L::one() / mass, L::zero());
    let state =
        GasState { temperature: zero, gas_constant: zero, heat_capacity: zero, enthalpy: zero };
    let shares =
        Shares { burned: burned * per_mass, old: y[old] * per_mass, hot: zero, late: zero };
    Contents { pressure: zero, mass, state, shares }
}

/// Bounds of a slug's potential temperature where its properties are evaluated [K].
pub(super) const COLDEST: f64 = 150.0;
/// The upper one.
pub(super) const HOTTEST: f64 = 5000.0;
/// Largest number of transfer groups.
pub const MAX_GROUPS: usize = 4;

/// The crankcase with the returned slugs of its ducts, all at one pressure.
#[derive(Debug, Clone, Copy)]
pub(super) struct CrankcaseContents<L: Lane> {
    /// Everything together: mean temperature and shares.
    pub(super) mixed: Contents<L>,
    /// The gas outside the slug zones.
    pub(super) rest: Contents<L>,
    /// 1/p [1/Pa].
    pub(super) per_pressure: L,
    /// (p₀/p)^κ: times a temperature gives the potential temperature.
    pub(super) to_potential: L,
}

/// A returned slug.
#[derive(Debug, Clone, Copy)]
pub(super) struct Slug<L: Lane> {
    /// The gas in it.
    pub(super) contents: Contents<L>,
    /// Potential temperature θ_s [K].
    pub(super) potential: L,
    /// V_s/V_d.
    pub(super) fill: L,
}

impl<L: Lane> Slug<L> {
    /// A place for one, before it is known.
    pub(super) fn empty() -> Self {
        let z = L::zero();
        let shares = Shares { burned: z, old: z, hot: z, late: z };
        let state = GasState { temperature: z, gas_constant: z, heat_capacity: z, enthalpy: z };
        Self { contents: Contents { pressure: z, mass: z, state, shares }, potential: z, fill: z }
    }
}

/// x^κ with κ = ¼, the fixed exponent of the potential temperature.
#[inline(always)]
fn quarter_power<L: Lane>(x: L) -> L {
    x.sqrt().sqrt()
}

/// The crankcase at `volume`; fills in `slugs`.
#[allow(clippy::too_many_arguments, reason = "one kernel, all of it needed, inlined once")]
#[inline(always)]
pub(super) fn of_crankcase<L: Lane>(
    gas: &Gas<L>,
    layout: &Layout,
    figures: &Figures<L>,
    groups: &[GroupNumbers<L>],
    y: &[L],
    volume: L,
    slugs: &mut [Slug<L>],
) -> CrankcaseContents<L> {
    let at = Layout::CRANKCASE;
    let tracers = layout.crankcase_tracers();
    let [mass, energy, burned] = three(y, at);
    let [old, hot, late] = three(y, tracers);
    let per_mass = L::one() / mass;
    let mixed_shares = Shares {
        burned: burned * per_mass,
        old: old * per_mass,
        hot: hot * per_mass,
        late: late * per_mass,
    };
    let state = gas.at(mixed_shares.burned).from_energy(energy * per_mass);
    let per_volume = L::one() / volume;
    let pressure = mass * state.specific_pressure_volume() * per_volume;
    let mixed = Contents { pressure, mass, state, shares: mixed_shares };

    let expansion = quarter_power(pressure * figures.per_ambient_pressure);
    let mixed_potential = state.temperature / expansion;
    let mut rest = Remainder { mass, energy, burned, old, hot, late };
    let mut pressure_volume = L::zero();
    for (g, (slug, group)) in slugs.iter_mut().zip(groups).enumerate() {
        *slug = of_slug(gas, layout, group, y, g, &mixed, mixed_potential, expansion);
        rest.take(y, layout, g, &slug.contents);
        pressure_volume += slug.contents.mass * slug.contents.state.specific_pressure_volume();
    }
    let rest = rest.contents(gas);
    let pressure_volume = rest.mass * rest.state.specific_pressure_volume() + pressure_volume;
    let pressure = pressure_volume * per_volume;
    let per_pressure = L::one() / pressure;
    for (slug, group) in slugs.iter_mut().zip(groups) {
        slug.contents.pressure = pressure;
        let slug_volume =
            slug.contents.mass * slug.contents.state.specific_pressure_volume() * per_pressure;
        slug.fill = slug_volume * group.per_duct_volume;
    }
    CrankcaseContents {
        mixed: Contents { pressure, ..mixed },
        rest: Contents { pressure, ..rest },
        per_pressure,
        to_potential: quarter_power(figures.ambient_pressure * per_pressure),
    }
}

#[allow(clippy::too_many_arguments, reason = "one kernel, all of it needed, inlined once")]
#[inline(always)]
fn of_slug<L: Lane>(
    gas: &Gas<L>,
    layout: &Layout,
    group: &GroupNumbers<L>,
    y: &[L],
    g: usize,
    mixed: &Contents<L>,
    mixed_potential: L,
    expansion: L,
) -> Slug<L> {
    let (at, tracers) = (layout.slug(g), layout.slug_tracers(g));
    let [mass, burned, content] = three(y, at);
    let [old, hot, late] = three(y, tracers);
    // where the zone is empty its properties pass over into those of the whole crankcase
    let inverse = L::one() / (mass.at_least(L::zero()) + group.floor_mass);
    // an emptied zone holds what the integration error left in it, of either sign: its temperature is
    // held to what gas can be
    let floor = group.floor_mass;
    let potential = ((content + floor * mixed_potential) * inverse)
        .at_least(L::splat(COLDEST))
        .at_most(L::splat(HOTTEST));
    let shares = Shares {
        burned: (burned + floor * mixed.shares.burned) * inverse,
        old: (old + floor * mixed.shares.old) * inverse,
        hot: (hot + floor * mixed.shares.hot) * inverse,
        late: (late + floor * mixed.shares.late) * inverse,
    };
    let state = gas.at(shares.burned).state(potential * expansion);
    let contents = Contents { pressure: mixed.pressure, mass, state, shares };
    Slug { contents, potential, fill: L::zero() }
}

/// What is left of the crankcase when the slugs are taken off.
struct Remainder<L: Lane> {
    mass: L,
    energy: L,
    burned: L,
    old: L,
    hot: L,
    late: L,
}

impl<L: Lane> Remainder<L> {
    #[inline(always)]
    fn take(&mut self, y: &[L], layout: &Layout, g: usize, slug: &Contents<L>) {
        let (at, tracers) = (layout.slug(g), layout.slug_tracers(g));
        let [mass, burned, _] = three(y, at);
        let [old, hot, late] = three(y, tracers);
        self.mass -= mass;
        self.energy -= mass * slug.state.energy();
        self.burned -= burned;
        self.old -= old;
        self.hot -= hot;
        self.late -= late;
    }

    /// Its gas; the pressure is still to be set.
    #[inline(always)]
    fn contents(&self, gas: &Gas<L>) -> Contents<L> {
        let inverse = L::one() / self.mass;
        let burned = self.burned * inverse;
        Contents {
            pressure: L::zero(),
            mass: self.mass,
            state: gas.at(burned).from_energy(self.energy * inverse),
            shares: Shares {
                burned,
                old: self.old * inverse,
                hot: self.hot * inverse,
                late: self.late * inverse,
            },
        }
    }
}
