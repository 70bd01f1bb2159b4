//! Gas-to-wall heat flow in the cylinder.
//!
//! # Decisions
//!
//! - Annand: Sutherland's viscosity, k = c_p μ/0.7 with the mixture's c_p. Areas: head and crown as
//!   ratios of the bore area, liner π B (drop + deck).
//! - Woschni: 6.18 while gas is exchanged, 2.28 while closed; burning term 3.24e-3 from the start of
//!   burning, motored exponent 1.33, reference at exhaust closing.

use crate::lane::{Lane, exp, ln};

/// Gas state as the correlations see it.
#[derive(Debug, Clone, Copy)]
pub struct Exposure<L: Lane> {
    /// p [Pa].
    pub pressure: L,
    /// T [K].
    pub temperature: L,
    /// ρ [kg/m³].
    pub density: L,
    /// c_p [J/(kg K)].
    pub heat_capacity: L,
}

/// Prandtl number of combustion gas, taken as constant.
const PRANDTL: f64 = 0.7;

/// Dynamic viscosity of air [Pa s] at `t` [K].
///
/// Sutherland's law μ = 1.458·10⁻⁶ T^{3/2}/(T + 110.4), *U.S. Standard Atmosphere, 1976*, eq. 51.
#[inline(always)]
pub fn viscosity<L: Lane>(t: L) -> L {
    t * t.sqrt() / t.plus(110.4) * L::splat(1.458e-6)
}

/// Convective coefficient after Annand [W/(m² K)]: h = a·(k/B)·Re^0.7, Re = ρ·c_m·B/μ.
///
/// W. J. D. Annand, *Heat transfer in the cylinders of reciprocating internal combustion engines*,
/// Proc. Instn. Mech. Engrs. 177 (1963) 973–996. k = c_p μ/Pr with Pr = 0.7.
#[inline(always)]
pub fn annand<L: Lane>(gas: &Exposure<L>, coefficient: L, bore: L, piston_speed: L) -> L {
    let mu = viscosity(gas.temperature);
    let conductivity = gas.heat_capacity * mu.scale(1.0 / PRANDTL);
    let reynolds = gas.density * piston_speed * bore / mu;
    coefficient * conductivity / bore * exp(ln(reynolds).scale(0.7))
}

/// Coefficient after Woschni [W/(m² K)]: h = 3.26·B^−0.2·p^0.8·T^−0.55·w^0.8 with p in kPa.
///
/// G. Woschni, SAE 670931 (1967), in the form of Heywood (1988), eq. 12.19. `bore_power` is
/// B^−0.2, `gas_speed` w [m/s].
#[inline(always)]
pub fn woschni<L: Lane>(gas: &Exposure<L>, bore_power: L, gas_speed: L) -> L {
    let logarithm =
        ln(gas.pressure.scale(1e-3) * gas_speed).scale(0.8) - ln(gas.temperature).scale(0.55);
    bore_power.scale(3.26) * exp(logarithm)
}
