//! New and old gas in the cylinder, each at its own temperature, from the first transfer opening to exhaust
//! closing.
//!
//! A zone k holds m, B, O and Θ = m·θ with θ = T(p₀/p)^¼, which compression leaves alone; the old zone holds
//! the rest of the cylinder's m, B, O. One unknown τ closes the energy, m_n u(τθ_n) + m_o u(τθ_o) = U, and
//! T = τθ. Scavenging curves are measured in volumes with each gas at its own density: so act they here.
//!
//! # Decisions
//!
//! - From the first transfer opening to exhaust closing the cylinder of model 2 has a new and an old
//!   zone. Its m, U, B, O stay what they are; the new zone adds m_n, B_n, O_n, and each zone its Θ =
//!   mθ, θ = T(p₀/p)^¼. One τ for both (T = τθ) closes the energy by Newton's method, so that U is
//!   exact and no temperature can run away where a zone is empty: there θ and shares pass over into
//!   those of the whole (m_f = 10⁻⁶ of the fresh mass that fills the swept volume). Perfect
//!   displacement alone is stiff once the old zone is nearly gone (its last 10⁻⁴ of the volume), which
//!   costs steps at low speed.
//! - What leaves: φ of the curve at the volume share χ of the new zone, the short circuit at the
//!   transfers' own state, ρ and flow together by a quadratic equation. With pipes the shares of mass
//!   are worked out in the first half of an evaluation, with the volume flow of the last one for the
//!   short circuit, and the state outside the port has the temperature of their enthalpy; over a step
//!   no more of a zone leaves than it holds and receives. The zones begin and end at events, which set
//!   their entries of the state; at exhaust opening, where cycles begin, there are none, so that the
//!   periodic search has no new unknowns. To make version 2 the standard: `ModelVersion::STANDARD`, the
//!   template of `new`, the files in `scenarios`, and the numbers in README and
//!   `scenarios/first-hour.md`. A version of the model (`sim/src/spec/version.rs`) is a preset of such
//!   choices: whatever changes physics later adds a choice there, never a second engine.
//! - Gas from the transfers has the temperature it had in the crankcase; blow-by takes both zones by
//!   their mass, inward it goes to the new one; the exhaust's isentropic exponent is that of what
//!   leaves without the short circuit; each zone's wall heat is that of the engine's correlation with
//!   its own state, times its share of the volume. Leftovers in gas that returns go to the new zone
//!   with their tag. Measured curves are taken as they are: where they give the exhaust more new gas
//!   than a mixture would, that is short circuit.

use super::booking::{Flows, Inside};
use super::contents::{COLDEST, Contents, HOTTEST, Shares, Slug, three};
use super::layout::{Layout, ZONE_BURNED, ZONE_MASS, ZONE_OLD_POTENTIAL, ZONE_POTENTIAL};
use super::numbers::Figures;
use super::piped::Spare;
use super::streams::{Place, Stream, TransferStreams};
use crate::flow::Upstream;
use crate::gas::{Gas, GasState};
use crate::lane::Lane;

/// Newton steps toward τ from about the temperature of the mixture: that is within a few per cent of it, and
/// each step squares the error times about 1e-4 per kelvin.
const NEWTON_STEPS: u32 = 3;
/// Largest last step, relative, that counts as converged: its square is below rounding.
const LAST_STEP: f64 = 1e-6;

/// One zone.
#[derive(Debug, Clone, Copy)]
pub(super) struct Zone<L: Lane> {
    /// Mass [kg].
    pub(super) mass: L,
    /// Temperature, heat capacity, enthalpy.
    pub(super) state: GasState<L>,
    /// Burned share of its mass.
    pub(super) burned: L,
    /// Old share of its mass.
    pub(super) old: L,
    /// θ [K].
    pub(super) potential: L,
    /// ρ at the common pressure [kg/m³].
    pub(super) density: L,
}

/// Both of them, at one pressure.
#[derive(Debug, Clone, Copy)]
pub(super) struct Zones<L: Lane> {
    /// Where there are two.
    pub(super) apart: L::Mask,
    /// What has come through the transfers.
    pub(super) new: Zone<L>,
    /// What was there before.
    pub(super) residual: Zone<L>,
    /// 1/τ.
    per_tau: L,
    /// Volume share χ of the new zone.
    pub(super) share: L,
    /// p [Pa].
    pub(super) pressure: L,
}

/// What comes in through the transfers, and how it would stand at cylinder pressure.
#[derive(Debug, Clone, Copy)]
pub(super) struct Entering<L: Lane> {
    stream: Stream<L>,
    /// Σ ṁT [kg K/s].
    heat: L,
    /// Volume flow at cylinder pressure [m³/s].
    volume: L,
    /// ρ_in [kg/m³]; that of the new zone where nothing comes in.
    density: L,
}

/// What leaves through the exhaust, by where it comes from [kg/s].
#[derive(Debug, Clone, Copy)]
pub(super) struct Parts<L: Lane> {
    /// Out of the new zone.
    pub(super) new: L,
    /// Out of the old zone.
    pub(super) residual: L,
    /// Straight from the transfers.
    pub(super) direct: L,
    /// Temperature of what comes back instead [K].
    pub(super) returning: L,
}

impl<L: Lane> Parts<L> {
    /// Nothing.
    #[inline(always)]
    pub(super) fn none() -> Self {
        let zero = L::zero();
        Self { new: zero, residual: zero, direct: zero, returning: zero }
    }

    /// These where they leave; elsewhere gas of the temperature `returning` [K] comes back.
    #[inline(always)]
    pub(super) fn where_leaving(&self, outward: L::Mask, returning: L) -> Self {
        Self {
            new: only(outward, self.new),
            residual: only(outward, self.residual),
            direct: only(outward, self.direct),
            returning,
        }
    }

    /// Times a mass flow, where these are shares of it.
    #[inline(always)]
    pub(super) fn of_mass(&self, mass: L) -> Self {
        Self {
            new: self.new * mass,
            residual: self.residual * mass,
            direct: self.direct * mass,
            returning: self.returning,
        }
    }
}

/// What would leave through the exhaust: volume shares.
#[derive(Debug, Clone, Copy)]
pub(super) struct Leaving<L: Lane> {
    /// φ_n: of the new zone in what does not come straight from the transfers.
    pub(super) new: L,
    /// Volume flow q that takes the short way [m³/s].
    pub(super) direct: L,
    /// ρ_r: density without it [kg/m³].
    pub(super) density: L,
    /// R/c_p without it.
    pub(super) kappa: L,
}

impl<L: Lane> Zone<L> {
    /// Before it is known.
    #[inline(always)]
    fn empty(mass: L) -> Self {
        let z = L::zero();
        let state = GasState { temperature: z, gas_constant: z, heat_capacity: z, enthalpy: z };
        Self { mass, state, burned: z, old: z, potential: z, density: z }
    }

    /// Its internal energy [J].
    #[inline(always)]
    fn energy(&self) -> L {
        self.mass * self.state.energy()
    }

    /// How that rises with τ.
    #[inline(always)]
    fn energy_slope(&self) -> L {
        self.mass * self.potential * (self.state.heat_capacity - self.state.gas_constant)
    }

    /// Takes its state along to the temperature at τ, which the last step has brought within a few
    /// millikelvin: there c_p stays what it is.
    #[inline(always)]
    fn warm(&mut self, tau: L) {
        let temperature = tau * self.potential;
        let warmer = temperature - self.state.temperature;
        self.state.enthalpy += self.state.heat_capacity * warmer;
        self.state.temperature = temperature;
    }

    /// R/c_p.
    #[inline(always)]
    fn kappa(&self) -> L {
        self.state.gas_constant / self.state.heat_capacity
    }
}

/// θ held to what gas can be: an empty zone holds what the integration error has left in it.
#[inline(always)]
fn bounded<L: Lane>(potential: L) -> L {
    potential.at_least(L::splat(COLDEST)).at_most(L::splat(HOTTEST))
}

/// From `a` to `b` by `share`.
#[inline(always)]
fn between<L: Lane>(a: L, b: L, share: L) -> L {
    a + share * (b - a)
}

/// `rate` where the mask holds.
#[inline(always)]
fn only<L: Lane>(mask: L::Mask, rate: L) -> L {
    L::select(mask, rate, L::zero())
}

/// θ of a zone, its shares, from what it holds; where it is empty they pass over into those of the whole.
#[inline(always)]
fn held<L: Lane>(mass: L, content: L, floor: L, whole: L) -> L {
    (content + floor * whole) / (mass + floor)
}

impl<L: Lane> Zones<L> {
    /// From the state; of the cylinder as one, `mixed` need only know mass and shares.
    #[allow(clippy::too_many_arguments, reason = "one kernel, all of it needed, inlined once")]
    #[inline(always)]
    pub(super) fn of(
        gas: &Gas<L>,
        layout: &Layout,
        figures: &Figures<L>,
        apart: L::Mask,
        y: &[L],
        mixed: &Contents<L>,
        volume: L,
    ) -> Self {
        let (zero, floor) = (L::zero(), figures.zone_floor);
        let at = layout.zones();
        let [mass, burned, content] = three(y, at + ZONE_MASS);
        let old_content = y[at + ZONE_OLD_POTENTIAL];
        let (old, whole_old) = (y[layout.zone_old()], y[layout.cylinder_old()]);
        let [total, energy, all_burned] = three(y, Layout::CYLINDER);
        let mean = (content + old_content) / total;
        let new_mass = mass.at_least(zero).at_most(total);
        let old_mass = total - new_mass;
        let (b, o) = (mixed.shares.burned, mixed.shares.old);
        let mut new = Zone::empty(new_mass);
        new.potential = bounded(held(new_mass, content, floor, mean));
        new.burned = held(new_mass, burned, floor, b);
        new.old = held(new_mass, old, floor, o);
        let mut residual = Zone::empty(old_mass);
        residual.potential = bounded(held(old_mass, old_content, floor, mean));
        residual.burned = held(old_mass, all_burned - burned, floor, b);
        residual.old = held(old_mass, whole_old - old, floor, o);
        // one τ for both: m u(τθ) summed is the cylinder's energy
        let mut tau = gas.at(b).near_energy(energy / total) / mean;
        let mut step = zero;
        for _ in 0..NEWTON_STEPS {
            new.state = gas.at(new.burned).state(tau * new.potential);
            residual.state = gas.at(residual.burned).state(tau * residual.potential);
            let excess = new.energy() + residual.energy() - energy;
            step = excess / (new.energy_slope() + residual.energy_slope());
            tau -= step;
        }
        let converged = step.abs().le(tau.scale(LAST_STEP));
        let tau = L::select(converged, tau, L::splat(f64::NAN));
        new.warm(tau);
        residual.warm(tau);
        let of_new = new.mass * new.state.specific_pressure_volume();
        let of_both = of_new + residual.mass * residual.state.specific_pressure_volume();
        let pressure = of_both / volume;
        new.density = pressure / new.state.specific_pressure_volume();
        residual.density = pressure / residual.state.specific_pressure_volume();
        Self { apart, new, residual, per_tau: L::one() / tau, share: of_new / of_both, pressure }
    }

    /// The cylinder as the rest of the engine sees it: the mean of both zones where there are two.
    #[inline(always)]
    pub(super) fn mixed(&self, one: &Contents<L>) -> Contents<L> {
        let share = self.residual.mass / one.mass;
        let (state, spv) = self.blend(share);
        let (apart, of) = (self.apart, &one.state);
        Contents {
            pressure: L::select(apart, self.pressure, one.pressure),
            mass: one.mass,
            state: GasState {
                temperature: L::select(apart, spv / state.gas_constant, of.temperature),
                gas_constant: L::select(apart, state.gas_constant, of.gas_constant),
                heat_capacity: L::select(apart, state.heat_capacity, of.heat_capacity),
                enthalpy: L::select(apart, state.enthalpy, of.enthalpy),
            },
            shares: one.shares,
        }
    }

    /// Both zones together, `share` of the mass old; and R T of them.
    #[inline(always)]
    fn blend(&self, share: L) -> (GasState<L>, L) {
        let (a, b) = (&self.new.state, &self.residual.state);
        let spv = between(a.specific_pressure_volume(), b.specific_pressure_volume(), share);
        let gas_constant = between(a.gas_constant, b.gas_constant, share);
        let state = GasState {
            temperature: spv / gas_constant,
            gas_constant,
            heat_capacity: between(a.heat_capacity, b.heat_capacity, share),
            enthalpy: between(a.enthalpy, b.enthalpy, share),
        };
        (state, spv)
    }

    /// The old zone's share of the mass of what blows back into the transfers.
    ///
    /// The old gas takes the share (1 − χ)⁴ of its volume: it still stands at the windows.
    #[inline(always)]
    pub(super) fn old_in_backflow(&self) -> L {
        let w = (L::one() - self.share).squared().squared();
        let old = w * self.residual.density;
        old / (old + (L::one() - w) * self.new.density)
    }

    /// The gas that blows back into the transfers, `old_share` of its mass old, and its temperature.
    #[inline(always)]
    pub(super) fn backflow(&self, old_share: L, one: &Place<L>, temperature: L) -> (Place<L>, L) {
        let (apart, at, shares) = (self.apart, &one.upstream, &one.shares);
        let (state, spv) = self.blend(old_share);
        let burned = between(self.new.burned, self.residual.burned, old_share);
        let old = between(self.new.old, self.residual.old, old_share);
        let kappa = state.gas_constant / state.heat_capacity;
        let place = Place {
            upstream: Upstream {
                pressure: at.pressure,
                specific_pressure_volume: L::select(apart, spv, at.specific_pressure_volume),
                kappa: L::select(apart, kappa, at.kappa),
            },
            enthalpy: L::select(apart, state.enthalpy, one.enthalpy),
            shares: Shares {
                burned: L::select(apart, burned, shares.burned),
                old: L::select(apart, old, shares.old),
                hot: shares.hot,
                late: shares.late,
            },
        };
        (place, L::select(apart, state.temperature, temperature))
    }

    /// What comes in through the transfers; `rest` [K] is the temperature of the crankcase outside the slugs.
    #[inline(always)]
    pub(super) fn entering(
        &self,
        transfers: &[TransferStreams<L>],
        slugs: &[Slug<L>],
        rest: &GasState<L>,
    ) -> Entering<L> {
        let mut stream = Stream::none();
        let (mut heat, mut pressure_volume) = (L::zero(), L::zero());
        for (t, slug) in transfers.iter().zip(slugs) {
            let slug = &slug.contents.state;
            stream = stream.with(&t.from_slug).with(&t.from_rest);
            heat += t.from_slug.mass * slug.temperature + t.from_rest.mass * rest.temperature;
            pressure_volume += t.from_slug.mass * slug.specific_pressure_volume()
                + t.from_rest.mass * rest.specific_pressure_volume();
        }
        let volume = pressure_volume / self.pressure;
        let comes = stream.mass.gt(L::zero());
        let density = L::select(comes, stream.mass / volume, self.new.density);
        Entering { stream, heat, volume, density }
    }

    /// What would leave by the curve's `curve` = 1 − η′ at χ, and by the short circuit σ.
    ///
    /// A curve that gives the exhaust more new gas than a mixture gives it the rest by the short circuit.
    #[inline(always)]
    pub(super) fn leaving(&self, curve: L, short_circuit: L, entering: &Entering<L>) -> Leaving<L> {
        let (zero, one) = (L::zero(), L::one());
        let chi = self.share.at_least(zero).at_most(one);
        let beyond = (curve - chi).at_least(zero);
        let own = L::select(beyond.gt(zero), beyond / (one - chi), zero);
        let sigma = one - (one - short_circuit) * (one - own);
        let new = curve.at_most(chi);
        let (a, b) = (new * self.new.density, (one - new) * self.residual.density);
        let density = a + b;
        Leaving {
            new,
            direct: sigma * entering.volume,
            density,
            kappa: (a * self.new.kappa() + b * self.residual.kappa()) / density,
        }
    }

    /// Flow [kg/s] with its parts where K = C_d A √p ψ says what the opening passes, ṁ = K√ρ.
    ///
    /// ρ = ρ_r + φ_d(ρ_in − ρ_r) and φ_d = q√ρ/K together are a quadratic equation in √ρ.
    #[inline(always)]
    pub(super) fn parts(&self, k: L, leaving: &Leaving<L>, entering: &Entering<L>) -> Parts<L> {
        let (zero, one) = (L::zero(), L::one());
        let (rho, rho_in, q) = (leaving.density, entering.density, leaving.direct);
        let root_in = rho_in.sqrt();
        let alone = (q * root_in).ge(k);
        let c = q * (rho_in - rho) / k;
        let root = (c.squared() + rho.scale(4.0)).sqrt();
        let mixed = L::select(c.gt(zero), (c + root).scale(0.5), rho.scale(2.0) / (root - c));
        let z = L::select(alone, root_in, mixed);
        let share = L::select(alone, one, q * z / k);
        let volume = k / z;
        let rest = (one - share) * volume;
        Parts {
            new: rest * leaving.new * self.new.density,
            residual: rest * (one - leaving.new) * self.residual.density,
            direct: share * rho_in * volume,
            returning: zero,
        }
    }

    /// The same where pipes say what leaves: shares of its mass, with the volume flow `volume` [m³/s] of
    /// the last step.
    #[inline(always)]
    pub(super) fn mass_shares(
        &self,
        volume: L,
        leaving: &Leaving<L>,
        entering: &Entering<L>,
    ) -> Parts<L> {
        let (zero, one) = (L::zero(), L::one());
        let outward = volume.gt(zero);
        let share = L::select(outward, leaving.direct / volume, zero).at_most(one);
        let density = leaving.density + share * (entering.density - leaving.density);
        let rest = (one - share) / density;
        Parts {
            new: rest * leaving.new * self.new.density,
            residual: rest * (one - leaving.new) * self.residual.density,
            direct: share * entering.density / density,
            returning: zero,
        }
    }

    /// Density of what leaves in these mass shares [kg/m³].
    #[inline(always)]
    pub(super) fn leaving_density(&self, shares: &Parts<L>, entering: &Entering<L>) -> L {
        let volume = shares.new / self.new.density
            + shares.residual / self.residual.density
            + shares.direct / entering.density;
        L::one() / volume
    }

    /// What the parts are as a stream.
    #[inline(always)]
    pub(super) fn stream(&self, parts: &Parts<L>, entering: &Entering<L>) -> Stream<L> {
        let (a, b) = (&self.new, &self.residual);
        let straight = entering.straight();
        let Parts { new, residual, direct, .. } = *parts;
        Stream {
            mass: new + residual + direct,
            enthalpy: new * a.state.enthalpy
                + residual * b.state.enthalpy
                + direct * straight.enthalpy,
            burned: new * a.burned + residual * b.burned + direct * straight.burned,
            old: new * a.old + residual * b.old + direct * straight.old,
            hot: L::zero(),
            late: L::zero(),
        }
    }

    /// The parts with no more of a zone than there is and comes in: what is beyond leaves from the other.
    #[inline(always)]
    pub(super) fn hold(
        &self,
        spare: &Spare<L>,
        parts: &Parts<L>,
        entering: &Entering<L>,
    ) -> Parts<L> {
        let zero = L::zero();
        let direct = parts.direct.at_most(entering.stream.mass);
        let own = parts.new + (parts.direct - direct);
        let too_much = (parts.residual - spare.residual).at_least(zero);
        let limit = spare.new + entering.stream.mass - direct;
        let of_new = (own - limit).at_least(zero);
        Parts {
            new: own - of_new + too_much,
            residual: parts.residual - too_much + of_new,
            direct,
            returning: parts.returning,
        }
    }
}

/// A stream per mass.
#[derive(Debug, Clone, Copy)]
struct Straight<L: Lane> {
    enthalpy: L,
    burned: L,
    old: L,
    temperature: L,
}

impl<L: Lane> Entering<L> {
    /// Per mass; zero where nothing comes in.
    #[inline(always)]
    fn straight(&self) -> Straight<L> {
        let s = &self.stream;
        let comes = s.mass.gt(L::zero());
        Straight {
            enthalpy: only(comes, s.enthalpy / s.mass),
            burned: only(comes, s.burned / s.mass),
            old: only(comes, s.old / s.mass),
            temperature: only(comes, self.heat / s.mass),
        }
    }
}

/// Rates of what a zone holds, per second.
#[derive(Clone, Copy)]
struct Rates<L: Lane> {
    mass: L,
    burned: L,
    old: L,
    potential: L,
}

impl<L: Lane> Rates<L> {
    #[inline(always)]
    fn none() -> Self {
        let zero = L::zero();
        Self { mass: zero, burned: zero, old: zero, potential: zero }
    }

    /// `mass` goes out of a zone as it is.
    #[inline(always)]
    fn lose(&mut self, mass: L, zone: &Zone<L>) {
        self.mass -= mass;
        self.burned -= mass * zone.burned;
        self.old -= mass * zone.old;
        self.potential -= mass * zone.potential;
    }
}

impl<L: Lane> Zones<L> {
    /// Books everything that enters and leaves the zones. The old zone's mass and shares are the rest of the
    /// cylinder's; its Θ has a rate of its own.
    #[allow(clippy::too_many_arguments, reason = "one booking of all that passes the zones")]
    #[inline(always)]
    pub(super) fn book(
        &self,
        layout: &Layout,
        figures: &Figures<L>,
        inside: &Inside<L>,
        flows: &Flows<L>,
        transfers: &[TransferStreams<L>],
        dy: &mut [L],
    ) {
        let zero = L::zero();
        let (mut new, mut old) = (Rates::none(), Rates::none());
        let Some((entering, parts)) = &flows.zones else { return };
        // in through the transfers, some of it straight out
        let straight = entering.straight();
        let s = &entering.stream;
        new.mass += s.mass - parts.direct;
        new.burned += s.burned - parts.direct * straight.burned;
        new.old += s.old - parts.direct * straight.old;
        new.potential += (entering.heat - parts.direct * straight.temperature) * self.per_tau;
        // out through the exhaust, back into the transfers
        let mut back = zero;
        for t in transfers {
            back += t.reverse.mass;
        }
        let back_old = back * inside.back_old;
        new.lose(parts.new + (back - back_old), &self.new);
        old.lose(parts.residual + back_old, &self.residual);
        // back through the exhaust: burned gas to the old zone, the rest to the new one
        let returns = flows.exhaust.mass.lt(zero);
        let mass = only(returns, -flows.exhaust.mass);
        let burned = only(returns, -flows.exhaust.burned);
        let per_tau = parts.returning * self.per_tau;
        new.mass += mass - burned;
        new.old += only(returns, -flows.exhaust.old) - burned;
        new.potential += (mass - burned) * per_tau;
        old.potential += burned * per_tau;
        // past the rings: out as it is mixed, in to the new zone
        if flows.leaky {
            let past = flows.blow_by.mass;
            let out = past.at_least(zero);
            let share = self.new.mass / inside.cylinder.mass;
            new.lose(out * share, &self.new);
            old.lose(out * (L::one() - share), &self.residual);
            let comes = past.lt(zero);
            let warm = inside.case.rest.state.temperature * self.per_tau;
            new.mass += only(comes, -past);
            new.burned += only(comes, -flows.blow_by.burned);
            new.old += only(comes, -flows.blow_by.old);
            new.potential += only(comes, -past) * warm;
        }
        // equal volumes change places
        let volume = figures.zone_exchange * entering.volume * self.share * (L::one() - self.share);
        let (to_old, to_new) = (volume * self.new.density, volume * self.residual.density);
        new.lose(to_old, &self.new);
        new.lose(-to_new, &self.residual);
        old.lose(to_new, &self.residual);
        old.lose(-to_old, &self.new);
        let [heat_new, heat_old] = flows.zone_heat;
        new.potential -= heat_new / self.new.state.heat_capacity * self.per_tau;
        old.potential -= heat_old / self.residual.state.heat_capacity * self.per_tau;
        let per_radian = figures.time_per_radian;
        let (apart, at) = (self.apart, layout.zones());
        dy[at + ZONE_MASS] = only(apart, new.mass * per_radian);
        dy[at + ZONE_BURNED] = only(apart, new.burned * per_radian);
        dy[at + ZONE_POTENTIAL] = only(apart, new.potential * per_radian);
        dy[at + ZONE_OLD_POTENTIAL] = only(apart, old.potential * per_radian);
        dy[layout.zone_old()] = only(apart, new.old * per_radian);
    }

    /// One zone as if it filled the cylinder.
    #[inline(always)]
    pub(super) fn contents(&self, zone: &Zone<L>, volume: L) -> Contents<L> {
        let zero = L::zero();
        Contents {
            pressure: self.pressure,
            mass: zone.density * volume,
            state: zone.state,
            shares: Shares { burned: zone.burned, old: zone.old, hot: zero, late: zero },
        }
    }
}
