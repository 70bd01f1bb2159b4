//! Flow through an opening between two quiescent gases.

use crate::lane::{Lane, Mask, exp, ln};

/// Gas upstream of an opening.
#[derive(Debug, Clone, Copy)]
pub struct Upstream<L: Lane> {
    /// Stagnation pressure p_u [Pa].
    pub pressure: L,
    /// R·T_u [J/kg].
    pub specific_pressure_volume: L,
    /// R/c_p of the gas at its temperature.
    pub kappa: L,
}

/// Critical pressure ratio (2/(γ+1))^{γ/(γ−1)} as a polynomial in κ − 0.24, κ = R/c_p = (γ−1)/γ.
/// Within 7e-8 for γ from 1.075 to 1.69; the flow function is flat there, so that its own error is
/// below 1e-14 (tested).
const CRITICAL: [f64; 6] = [
    0.542_890_347_579_961_7,
    -0.309_356_752_926_405,
    -0.215_847_972_204_345_43,
    -0.156_054_871_230_900_87,
    -0.120_757_472_540_378_83,
    -0.095_001_446_958_669_7,
];

/// Critical pressure ratio at κ = R/c_p.
#[inline(always)]
pub fn critical_ratio<L: Lane>(kappa: L) -> L {
    let z = kappa.plus(-0.24);
    let mut ratio = L::splat(CRITICAL[5]);
    for k in (0..5).rev() {
        ratio = ratio * z + L::splat(CRITICAL[k]);
    }
    ratio
}

/// Bound of the slope dψ/dΠ of the flow function where 1 − Π is `shortfall` [-]: √(2/s) next to Π = 1, a quarter
/// more inside a regularised layer of that width.
#[must_use]
pub fn steepest(shortfall: f64) -> f64 {
    1.25 * (2.0 / shortfall).sqrt()
}

/// Flow function ψ(Π) with Π = p_d/p_u ≤ 1, held at its value at the critical ratio when sonic.
///
/// ψ² = 2γ/(γ−1)·(Π^{2/γ} − Π^{(γ+1)/γ}); A. J. C. B. de Saint-Venant and L. Wantzel (1839);
/// Heywood (1988), App. C. For 1 − Π < ε it continues as ψ(1−ε)·(5s − s³)/4 with s = (1−Π)/ε, a
/// C¹ form whose slope stays finite where the flow reverses.
#[inline(always)]
pub fn flow_function<L: Lane>(ratio: L, kappa: L, epsilon: L) -> L {
    let (fall, near) = expansion(ratio, kappa, epsilon);
    (fall / kappa).sqrt() * near
}

/// ψ²·κ of the flow function outside the range next to 1, and the factor on ψ inside it.
#[inline(always)]
fn expansion<L: Lane>(ratio: L, kappa: L, epsilon: L) -> (L, L) {
    let shortfall = L::one() - ratio;
    let ratio = ratio.at_least(critical_ratio(kappa)).at_most(L::one() - epsilon);
    // a = Π^{1/γ}; then Π^{2/γ} − Π^{(γ+1)/γ} = a·(a − Π), and 2γ/(γ−1) = 2/κ
    let a = exp(ln(ratio) * (L::one() - kappa));
    let fall = a * (a - ratio).scale(2.0);
    let inside = shortfall.lt(epsilon);
    if !inside.any() {
        return (fall, L::one());
    }
    let s = shortfall / epsilon;
    let near = s * (L::splat(5.0) - s * s).scale(0.25);
    (fall, L::select(inside, near, L::one()))
}

/// Mass flow [kg/s] through the effective area `area` (C_d·A) [m²] toward `downstream` [Pa],
/// `downstream` ≤ upstream pressure.
///
/// ṁ = C_d A · p_u/√(R T_u) · ψ(p_d/p_u).
///
/// ```
/// # use freshcharge_sim::flow::{Upstream, mass_flow};
/// let air = Upstream { pressure: 5e5, specific_pressure_volume: 287.0 * 300.0, kappa: 0.4 / 1.4 };
/// let choked = mass_flow(1e-4, &air, 1e5, 2e-4);
/// // ψ* of γ = 1.4, the ideal-gas critical flow function of ISO 9300
/// let psi: f64 = choked * (287.0_f64 * 300.0).sqrt() / (1e-4 * 5e5);
/// assert!((psi - 0.684_731).abs() < 1e-6);
/// ```
#[inline(always)]
pub fn mass_flow<L: Lane>(area: L, from: &Upstream<L>, downstream: L, epsilon: L) -> L {
    area * flow_density(from, downstream, epsilon)
}

/// The same per effective area [kg/(s m²)].
#[inline(always)]
pub fn flow_density<L: Lane>(from: &Upstream<L>, downstream: L, epsilon: L) -> L {
    let (fall, near) = expansion(downstream / from.pressure, from.kappa, epsilon);
    // ψ/√(RT) under one root
    from.pressure * (fall / (from.kappa * from.specific_pressure_volume)).sqrt() * near
}

/// Two effective areas in series as one, 1/A² = 1/A₁² + 1/A₂²; zero when either is.
#[inline(always)]
pub fn in_series<L: Lane>(first: L, second: L) -> L {
    let sum = first.squared() + second.squared();
    L::select(sum.gt(L::zero()), first * second / sum.sqrt(), L::zero())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fitted_critical_ratio_does_not_show_in_the_flow() {
        for i in 0..=100 {
            let gamma = 1.08 + 0.6 * f64::from(i) / 100.0;
            let kappa = (gamma - 1.0) / gamma;
            let exact = (2.0 / (gamma + 1.0_f64)).powf(gamma / (gamma - 1.0));
            assert!((critical_ratio(kappa) - exact).abs() < 8e-8);
            let closed =
                gamma.sqrt() * (2.0 / (gamma + 1.0)).powf((gamma + 1.0) / (2.0 * (gamma - 1.0)));
            let psi = flow_function(0.2, kappa, 2e-4);
            assert!((psi / closed - 1.0).abs() < 2e-14, "{gamma} {psi} {closed}");
        }
    }

    #[test]
    fn the_regularised_form_joins_with_its_slope() {
        let (kappa, epsilon) = (0.4 / 1.4, 2e-4);
        let at = |shortfall: f64| flow_function(1.0 - shortfall, kappa, epsilon);
        let step = 1e-9;
        let inside = (at(epsilon - step) - at(epsilon - 2.0 * step)) / step;
        let outside = (at(epsilon + 2.0 * step) - at(epsilon + step)) / step;
        assert!((at(epsilon * (1.0 - 1e-12)) / at(epsilon * (1.0 + 1e-12)) - 1.0).abs() < 1e-9);
        assert!((inside / outside - 1.0).abs() < 2e-3, "{inside} {outside}");
    }
}
