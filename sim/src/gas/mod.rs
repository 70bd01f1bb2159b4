//! The working gas: fresh charge and burned gas mixed by mass, thermally perfect.
//!
//! A state is told by its mass m, energy U and burned mass B; [`Blend`] gives the polynomials at a
//! burned fraction, [`Blend::temperature`] inverts the energy, [`GasState`] what follows.
//!
//! # Decisions
//!
//! - Fresh gas is dry air with iso-octane; the share of the fuel that has not evaporated before the
//!   crankcase has mass and the vapour's enthalpy but takes no room.

mod mixture;
pub mod species;

pub use mixture::{LATENT_HEAT, Mixture, air_fuel_ratio};

use crate::lane::{Lane, Mask as _};

/// Coefficients of the start of the inversion.
const START: usize = 5;
/// Joint of the two polynomial ranges [K].
const JOINT: f64 = 1000.0;

/// The fresh and burned mixtures as one set of coefficients: value at b = 0 and the difference to
/// b = 1.
#[derive(Debug, Clone, Copy)]
pub struct Gas<L: Lane> {
    fresh: Terms<L>,
    difference: Terms<L>,
}

/// Everything the properties need at one composition.
#[derive(Debug, Clone, Copy)]
struct Terms<L: Lane> {
    gas_constant: L,
    low: [L; 6],
    high: [L; 6],
    /// Internal energy at the joint [J/kg].
    joint_energy: L,
    /// Start of the inversion below the joint: T − 1000 K as a quintic of the energy less that at the
    /// joint [MJ/kg].
    start_low: [L; START],
    /// The same above.
    start_high: [L; START],
}

impl Terms<f64> {
    fn of(mixture: &Mixture) -> Self {
        let energy = |t: f64| mixture.enthalpy(t) - mixture.gas_constant * t;
        let joint = energy(JOINT);
        let start = |temperatures: [f64; START]| {
            through(temperatures.map(|t| ((energy(t) - joint) * 1e-6, t - JOINT)))
        };
        Self {
            gas_constant: mixture.gas_constant,
            low: mixture.low,
            high: mixture.high,
            joint_energy: joint,
            start_low: start([190.0, 290.0, 460.0, 700.0, 920.0]),
            start_high: start([1130.0, 1500.0, 2200.0, 3000.0, 3700.0]),
        }
    }

    fn minus(&self, other: &Self) -> Self {
        let less = |a: &[f64; 6], b: &[f64; 6]| std::array::from_fn(|k| a[k] - b[k]);
        let less_start = |a: &[f64; START], b: &[f64; START]| std::array::from_fn(|k| a[k] - b[k]);
        Self {
            gas_constant: self.gas_constant - other.gas_constant,
            low: less(&self.low, &other.low),
            high: less(&self.high, &other.high),
            joint_energy: self.joint_energy - other.joint_energy,
            start_low: less_start(&self.start_low, &other.start_low),
            start_high: less_start(&self.start_high, &other.start_high),
        }
    }
}

/// Quintic without constant term through five points: y/x interpolated by Newton's divided
/// differences and expanded.
fn through(points: [(f64, f64); START]) -> [f64; START] {
    let nodes = points.map(|(x, _)| x);
    let mut differences = points.map(|(x, y)| y / x);
    for order in 1..START {
        for i in (order..START).rev() {
            differences[i] = (differences[i] - differences[i - 1]) / (nodes[i] - nodes[i - order]);
        }
    }
    let mut out = [0.0; START];
    for i in (0..START).rev() {
        // out · (x − node) + difference
        for k in (1..START).rev() {
            out[k] = out[k - 1] - nodes[i] * out[k];
        }
        out[0] = differences[i] - nodes[i] * out[0];
    }
    out
}

impl Gas<f64> {
    /// From the two mixtures.
    #[must_use]
    pub fn new(fresh: &Mixture, burned: &Mixture) -> Self {
        let (fresh, burned) = (Terms::of(fresh), Terms::of(burned));
        Self { fresh, difference: burned.minus(&fresh) }
    }
}

impl<L: Lane> Gas<L> {
    /// The same gas in every lane.
    #[must_use]
    #[inline(always)]
    pub fn splat(from: &Gas<f64>) -> Self {
        Self { fresh: splat_terms(&from.fresh), difference: splat_terms(&from.difference) }
    }

    /// Sets one lane.
    pub fn set_lane(&mut self, lane: usize, from: &Gas<f64>) {
        set_terms(&mut self.fresh, lane, &from.fresh);
        set_terms(&mut self.difference, lane, &from.difference);
    }

    /// Properties at burned fraction `b`, held to [0, 1] here and only here.
    #[inline(always)]
    pub fn at(&self, b: L) -> Blend<'_, L> {
        let b = b.at_least(L::zero()).at_most(L::one());
        let gas_constant = self.fresh.gas_constant + b * self.difference.gas_constant;
        Blend { gas: self, b, gas_constant }
    }

    /// Specific enthalpies of the fresh and of the burned gas at `t` [J/kg].
    #[inline(always)]
    pub fn enthalpies(&self, t: L) -> (L, L) {
        let below = t.lt(L::splat(JOINT));
        let (first, change) = (&self.fresh, &self.difference);
        let fresh = enthalpy(&either(below, &first.low, &first.high), t);
        (fresh, fresh + enthalpy(&either(below, &change.low, &change.high), t))
    }

    /// Gas constants of the fresh and of the burned gas [J/(kg K)].
    #[inline(always)]
    pub fn gas_constants(&self) -> (L, L) {
        (self.fresh.gas_constant, self.fresh.gas_constant + self.difference.gas_constant)
    }
}

#[inline(always)]
fn splat_terms<L: Lane>(from: &Terms<f64>) -> Terms<L> {
    Terms {
        gas_constant: L::splat(from.gas_constant),
        low: from.low.map(L::splat),
        high: from.high.map(L::splat),
        joint_energy: L::splat(from.joint_energy),
        start_low: from.start_low.map(L::splat),
        start_high: from.start_high.map(L::splat),
    }
}

fn set_terms<L: Lane>(terms: &mut Terms<L>, lane: usize, from: &Terms<f64>) {
    terms.gas_constant.set_lane(lane, from.gas_constant);
    terms.joint_energy.set_lane(lane, from.joint_energy);
    for k in 0..6 {
        terms.low[k].set_lane(lane, from.low[k]);
        terms.high[k].set_lane(lane, from.high[k]);
    }
    for k in 0..START {
        terms.start_low[k].set_lane(lane, from.start_low[k]);
        terms.start_high[k].set_lane(lane, from.start_high[k]);
    }
}

#[inline(always)]
fn either<L: Lane, const N: usize>(mask: L::Mask, yes: &[L; N], no: &[L; N]) -> [L; N] {
    let mut out = *yes;
    for k in 0..N {
        out[k] = L::select(mask, yes[k], no[k]);
    }
    out
}

#[inline(always)]
fn heat_capacity<L: Lane>(c: &[L; 6], t: L) -> L {
    let t2 = t * t;
    (c[0] + t * c[1]) + t2 * ((c[2] + t * c[3]) + t2 * c[4])
}

#[inline(always)]
fn enthalpy<L: Lane>(c: &[L; 6], t: L) -> L {
    integral(
        &[c[5], c[0], c[1].scale(0.5), c[2].scale(1.0 / 3.0), c[3].scale(0.25), c[4].scale(0.2)],
        t,
    )
}

/// Polynomial of the fifth degree, paired up so that terms can be worked on at once.
#[inline(always)]
fn integral<L: Lane>(c: &[L; 6], t: L) -> L {
    let t2 = t * t;
    (c[0] + t * c[1]) + t2 * ((c[2] + t * c[3]) + t2 * (c[4] + t * c[5]))
}

/// The gas at one composition.
#[derive(Debug, Clone, Copy)]
pub struct Blend<'a, L: Lane> {
    gas: &'a Gas<L>,
    b: L,
    gas_constant: L,
}

/// Temperature and what follows from it.
#[derive(Debug, Clone, Copy)]
pub struct GasState<L: Lane> {
    /// T [K].
    pub temperature: L,
    /// R [J/(kg K)].
    pub gas_constant: L,
    /// c_p [J/(kg K)].
    pub heat_capacity: L,
    /// Specific enthalpy [J/kg].
    pub enthalpy: L,
}

impl<L: Lane> GasState<L> {
    /// γ = c_p/(c_p − R).
    #[inline(always)]
    pub fn gamma(&self) -> L {
        self.heat_capacity / (self.heat_capacity - self.gas_constant)
    }

    /// R·T [J/kg].
    #[inline(always)]
    pub fn specific_pressure_volume(&self) -> L {
        self.gas_constant * self.temperature
    }

    /// Specific internal energy [J/kg].
    #[inline(always)]
    pub fn energy(&self) -> L {
        self.enthalpy - self.gas_constant * self.temperature
    }
}

/// Newton steps of the inversion. The start is within 9 K of the root over 170 to 3800 K (tested), each
/// step squares the error times about 1.5e-4 per kelvin: two reach rounding.
const NEWTON_STEPS: u32 = 2;
/// The same from any temperature of gas in an engine.
const ENTHALPY_STEPS: u32 = 5;
/// Largest last step, relative, that counts as converged: its square is below rounding.
const LAST_STEP: f64 = 1e-6;

impl<L: Lane> Blend<'_, L> {
    /// Gas constant R [J/(kg K)].
    #[inline(always)]
    pub fn gas_constant(&self) -> L {
        self.gas_constant
    }

    /// Specific internal energy less that at the joint [J/kg].
    #[inline(always)]
    fn beyond_joint(&self, u: L) -> L {
        u - (self.gas.fresh.joint_energy + self.b * self.gas.difference.joint_energy)
    }

    #[inline(always)]
    fn blended<const N: usize>(&self, fresh: &[L; N], difference: &[L; N]) -> [L; N] {
        let mut out = *fresh;
        for k in 0..N {
            out[k] += self.b * difference[k];
        }
        out
    }

    /// Coefficients at this composition, of the range below the joint where `below`.
    #[inline(always)]
    fn coefficients<const N: usize>(
        &self,
        below: L::Mask,
        low: impl Fn(&Terms<L>) -> &[L; N],
        high: impl Fn(&Terms<L>) -> &[L; N],
    ) -> [L; N] {
        let (fresh, difference) = (&self.gas.fresh, &self.gas.difference);
        if L::WIDTH > 1 && !below.any() {
            return self.blended(high(fresh), high(difference));
        }
        if L::WIDTH > 1 && !below.not().any() {
            return self.blended(low(fresh), low(difference));
        }
        let mut out = either(below, low(fresh), high(fresh));
        let slope = either(below, low(difference), high(difference));
        for k in 0..N {
            out[k] += self.b * slope[k];
        }
        out
    }

    /// State at temperature `t` [K].
    #[inline(always)]
    pub fn state(&self, t: L) -> GasState<L> {
        let c = self.coefficients(t.lt(L::splat(JOINT)), |terms| &terms.low, |terms| &terms.high);
        GasState {
            temperature: t,
            gas_constant: self.gas_constant,
            heat_capacity: heat_capacity(&c, t),
            enthalpy: enthalpy(&c, t),
        }
    }

    /// First guess of the temperature where the energy lies `above` that of the joint [J/kg].
    #[inline(always)]
    fn start(&self, above: L, below: L::Mask) -> L {
        let c = self.coefficients(below, |terms| &terms.start_low, |terms| &terms.start_high);
        let x = above.scale(1e-6);
        let x2 = x * x;
        (x * ((c[0] + x * c[1]) + x2 * ((c[2] + x * c[3]) + x2 * c[4]))).plus(JOINT)
    }

    /// Temperature within 9 K of that with specific internal energy `u` [J/kg].
    #[inline(always)]
    pub fn near_energy(&self, u: L) -> L {
        let above = self.beyond_joint(u);
        self.start(above, above.lt(L::zero())).at_least(L::splat(50.0))
    }

    /// Temperature [K] at which the specific enthalpy is `h` [J/kg], from a temperature `near` it.
    #[inline(always)]
    pub fn from_enthalpy(&self, h: L, near: L) -> L {
        let mut t = near;
        for _ in 0..ENTHALPY_STEPS {
            let state = self.state(t);
            t -= (state.enthalpy - h) / state.heat_capacity;
        }
        t
    }

    /// State with specific internal energy `u` [J/kg]: Newton to rounding; NaN where it does not
    /// converge, so that the step is refused.
    #[inline(always)]
    pub fn from_energy(&self, u: L) -> GasState<L> {
        let above = self.beyond_joint(u);
        let below = above.lt(L::zero());
        let mut c = self.coefficients(below, |terms| &terms.low, |terms| &terms.high);
        let mut t = self.start(above, below).at_least(L::splat(50.0));
        let mut step = L::zero();
        // u(T): the enthalpy polynomial with R taken off the linear term
        let r = self.gas_constant;
        c[0] -= r;
        let energy = [
            c[5] - u,
            c[0],
            c[1].scale(0.5),
            c[2].scale(1.0 / 3.0),
            c[3].scale(0.25),
            c[4].scale(0.2),
        ];
        for _ in 0..NEWTON_STEPS {
            let excess = integral(&energy, t);
            step = excess / heat_capacity(&c, t);
            t -= step;
        }
        let cv = heat_capacity(&c, t);
        let converged = step.abs().le(t.scale(LAST_STEP));
        let temperature = L::select(converged, t, L::splat(f64::NAN));
        GasState {
            temperature,
            gas_constant: r,
            heat_capacity: cv + r,
            enthalpy: u + r * temperature,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gas(lambda: f64) -> Gas<f64> {
        Gas::new(&Mixture::fresh(lambda, 1.0), &Mixture::burned(lambda))
    }

    #[test]
    fn the_inversion_starts_close_and_ends_at_rounding() {
        let mut worst: f64 = 0.0;
        for lambda in [0.75, 0.9, 1.0, 1.2] {
            let gas = gas(lambda);
            for b in [0.0, 0.3, 0.7, 1.0] {
                let blend = gas.at(b);
                for i in 0..300 {
                    let t = 170.0 + 3630.0 * f64::from(i) / 299.0;
                    let state = blend.state(t);
                    let u = state.energy();
                    let above = blend.beyond_joint(u);
                    worst = worst.max((blend.start(above, above < 0.0) - t).abs());
                    let back = blend.from_energy(u).temperature;
                    // rounding of u, which formation enthalpy makes ten times c_v·T
                    assert!((back / t - 1.0).abs() < 2e-14, "{lambda} {b} {t} {back}");
                }
            }
        }
        assert!(worst < 9.0, "start off by {worst} K");
    }

    #[test]
    fn air_fuel_ratio_is_that_of_the_atom_balance() {
        // 15.1323 with CO2-bearing air, shared atom balance; ours has no CO2 in the air
        assert!((air_fuel_ratio(1.0) - 15.13).abs() < 0.01, "{}", air_fuel_ratio(1.0));
    }
}
