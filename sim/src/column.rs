//! A gas column in a duct with an opening at its end: inertia instead of bare-window flow.
//!
//! (L/A_d) dṁ/dt = p_from − p_to − Δp(ṁ), with Δp the pressure drop at which the opening passes ṁ by
//! the law of [`crate::flow`]: forward p_u − p_to, with p_u such that the opening passes ṁ from p_u;
//! in reverse −(p_to − p_d), with p_d such that it passes |ṁ| down to p_d. Where that drop is undefined
//! (at or above choked flow), or the opening is so small that the column would follow within a
//! microsecond, the flow relaxes to the quasi-steady one at the rate Λ: one continuous law.
//!
//! # Decisions
//!
//! - Forward flow behaves as one gas with the shares' mean 1/√(RT) and R/c_p, in the quasi-steady flow
//!   and in its inverse alike. The quasi-steady flow of a column has no regularised layer (in it the two
//!   rates would differ in sign). Within 2.5 % of choked reverse flow the law passes over to the
//!   relaxation, so that flow does not chatter along the choked limit while a window closes. Friction and
//!   entry losses count in the drop, not in the quasi-steady flow. A column stops when its last window
//!   shuts.

use crate::flow::{Upstream, mass_flow};
use crate::lane::{Lane, Mask, exp, ln};

/// Fastest relaxation Λ [1/s].
pub const FASTEST: f64 = 1e6;
/// Deficit below choking over which reverse flow passes over to the relaxation: 2.5 % of the flow. A
/// sharp limit would let the flow chatter along it while the window closes.
pub const CHOKING: f64 = 0.05;
/// Newton steps for the pressure behind a given reverse flow; from the start used they reach 1e-10.
const STEPS: u32 = 3;

/// A column and what stands at its ends.
#[derive(Debug, Clone, Copy)]
pub struct Column<L: Lane> {
    /// A_d/L [m].
    pub ease: L,
    /// Losses over the square of the mass flow and the density, forward and in reverse [1/m⁴].
    pub losses: (L, L),
    /// Effective area of the opening at its end [m²].
    pub area: L,
    /// Gas that flows forward.
    pub from: Upstream<L>,
    /// Gas that flows back.
    pub to: Upstream<L>,
    /// Fastest relaxation [1/s].
    pub fastest: L,
}

/// Pressure p_u from which the opening passes `flow` ≥ 0 to `downstream` [Pa].
///
/// With the static pressure in the opening given, the Mach number follows from a quadratic:
/// G = ṁ√(RT)/(A p) = √γ·M·√(1 + δM²), δ = (γ−1)/2; then p_u/p = (1 + δM²)^{γ/(γ−1)}. Beyond M = 1
/// the flow is choked and p_u follows from the critical flow function.
#[inline(always)]
pub fn upstream_pressure<L: Lane>(flow: L, area: L, gas: &Upstream<L>, downstream: L) -> L {
    let gamma = L::one() / (L::one() - gas.kappa);
    let delta = (gamma - L::one()).scale(0.5);
    let g = flow * gas.specific_pressure_volume.sqrt() / (area * downstream);
    let root = (L::one() + delta.scale(4.0) * g.squared() / gamma).sqrt();
    let mach2 = ((root - L::one()) / delta.scale(2.0)).at_most(L::one());
    let ratio = exp(ln(L::one() + delta * mach2) / gas.kappa);
    let sonic = (gamma * (L::one() + delta)).sqrt();
    // beyond choking the upstream pressure rises in proportion to the flow
    let beyond = (g / sonic).at_least(L::one());
    downstream * ratio * beyond
}

/// Pressure p_d down to which the opening passes `flow` > 0 from `gas`, and the deficit D by which the
/// flow lies below choking: at or above it, D ≤ 0, there is no such pressure.
///
/// With x = M², F = ṁ√(RT)/(A p_u): F² = γx(1 + δx)^{−(γ+1)/(γ−1)}. The deficit D = ln F*² − ln F² is
/// φ(y) = y − m·ln((1+δ)/(1+δe^{−y})), y = −ln x, m = (γ+1)/(γ−1); y ≈ √(D² + 2(1+δ)D) holds at both
/// ends and Newton does the rest.
#[inline(always)]
pub fn downstream_pressure<L: Lane>(flow: L, area: L, gas: &Upstream<L>) -> (L, L) {
    let gamma = L::one() / (L::one() - gas.kappa);
    let delta = (gamma - L::one()).scale(0.5);
    let m = (gamma + L::one()) / (gamma - L::one());
    let f = flow * gas.specific_pressure_volume.sqrt() / (area * gas.pressure);
    let log_one = ln(L::one() + delta);
    let sonic = ln(gamma) - m * log_one;
    let smallest = L::splat(1e-300);
    let deficit = sonic - ln((f * f).at_least(smallest));
    let d = deficit.at_least(L::splat(1e-6));
    let mut y = (d * d + (L::one() + delta).scale(2.0) * d).sqrt();
    for _ in 0..STEPS {
        let x = exp(-y);
        let part = delta * x;
        let phi = y - m * (log_one - ln(L::one() + part));
        let slope = L::one() - m * part / (L::one() + part);
        y -= (phi - d) / slope;
    }
    let ratio = exp(-(ln(L::one() + delta * exp(-y)) / gas.kappa));
    (gas.pressure * ratio, deficit)
}

/// Density of a gas at rest [kg/m³].
#[inline(always)]
fn density<L: Lane>(gas: &Upstream<L>) -> L {
    gas.pressure / gas.specific_pressure_volume
}

impl<L: Lane> Column<L> {
    /// dṁ/dt [kg/s²] at flow `flow` [kg/s], positive from `from` to `to`.
    #[inline(always)]
    pub fn acceleration(&self, flow: L) -> L {
        self.law(flow).0
    }

    /// Pressure lost by entry and friction, positive where the column moves forward [Pa].
    #[inline(always)]
    pub fn loss(&self, flow: L) -> L {
        L::select(
            flow.ge(L::zero()),
            self.losses.0 * flow.squared() / density(&self.from),
            -(self.losses.1 * flow.squared() / density(&self.to)),
        )
    }

    /// The same, and the quasi-steady flow [kg/s] that the column follows.
    #[inline(always)]
    pub fn law(&self, flow: L) -> (L, L) {
        // no regularised layer here: in it the quasi-steady flow would lie on the wrong side of the
        // column's, and the two rates would differ in sign
        let epsilon = L::splat(1e-12);
        let zero = L::zero();
        let (p_from, p_to) = (self.from.pressure, self.to.pressure);
        let forward_pressure = p_to.le(p_from);
        let quasi = L::select(
            forward_pressure,
            mass_flow(self.area, &self.from, p_to, epsilon),
            -mass_flow(self.area, &self.to, p_from, epsilon),
        );
        let moving_forward = flow.ge(zero);
        let size = flow.abs();
        let needed = upstream_pressure(size, self.area, &self.from, p_to);
        let drop_forward = p_from - needed;
        let (drop_reverse, deficit) = if moving_forward.not().any() {
            let (below, deficit) = downstream_pressure(size, self.area, &self.to);
            (p_from - below, deficit)
        } else {
            (zero, L::one())
        };
        let drive = L::select(moving_forward, drop_forward, drop_reverse) - self.loss(flow);
        let inertial = self.ease * drive;
        let relaxed = self.fastest * (quasi - flow);
        // the slower of the two, passing over to the relaxation where reverse flow comes close to choking
        let slower = L::select(inertial.abs().le(relaxed.abs()), inertial, relaxed);
        let u = deficit.scale(1.0 / CHOKING).at_least(zero).at_most(L::one());
        let below =
            L::select(moving_forward, L::one(), u.squared() * (L::splat(3.0) - u.scale(2.0)));
        (below * slower + (L::one() - below) * relaxed, quasi)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AIR: Upstream<f64> =
        Upstream { pressure: 2e5, specific_pressure_volume: 287.0 * 400.0, kappa: 0.4 / 1.4 };

    #[test]
    fn both_inversions_return_the_flow() {
        for i in 1..200 {
            // from a whisper to just below choking, and beyond
            let downstream = 2e5 * (1.0 - f64::from(i) / 220.0);
            let flow = mass_flow(1e-4, &AIR, downstream, 1e-9);
            let back = upstream_pressure(flow, 1e-4, &AIR, downstream);
            assert!((back / AIR.pressure - 1.0).abs() < 1e-9, "{downstream} {back}");
            if downstream > 0.5283 * 2e5 {
                let (p, deficit) = downstream_pressure(flow, 1e-4, &AIR);
                assert!(deficit > 0.0);
                assert!((p / downstream - 1.0).abs() < 1e-6, "{downstream} {p}");
            }
        }
        let choked = mass_flow(1e-4, &AIR, 1e4, 1e-9);
        assert!(downstream_pressure(choked * 1.01, 1e-4, &AIR).1 < 0.0);
    }
}
