//! The two mixtures of the model: fresh charge and its products, on a mass basis.

use super::species::{AR, CO, CO2, H2, H2O, ISO_OCTANE, N2, O2, Species};
use crate::units::MOLAR_GAS_CONSTANT;

/// Mole fractions of dry air before normalising (N₂, O₂, Ar).
const AIR: [(Species, f64); 3] = [(N2, 0.780_84), (O2, 0.209_46), (AR, 0.009_365)];
/// Carbon atoms in iso-octane.
const CARBON: f64 = 8.0;
/// Hydrogen atoms in iso-octane.
const HYDROGEN: f64 = 18.0;
/// (CO·H₂O)/(CO₂·H₂) by moles in rich products (Heywood 1988, sec. 4.9; from memory).
const WATER_GAS: f64 = 3.5;
/// Latent heat of iso-octane [J/kg] at 298 K, difference of the enthalpies of formation of gas and
/// liquid (Prosen and Rossini 1945: −224.0 and −259.2 kJ/mol; from memory).
pub const LATENT_HEAT: f64 = 35_200.0 / 0.114_232;

/// A mixture of fixed composition: gas constant and polynomials on a mass basis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mixture {
    /// Gas constant R [J/(kg K)].
    pub gas_constant: f64,
    /// c_p polynomial and enthalpy constant below 1000 K [J/kg, K].
    pub low: [f64; 6],
    /// The same above 1000 K.
    pub high: [f64; 6],
}

impl Mixture {
    /// From moles of each species; `weightless` gives the share of each species' moles that takes no
    /// room (liquid fuel carried along).
    fn from_moles(parts: &[(Species, f64, f64)]) -> Self {
        let mass: f64 = parts.iter().map(|(s, n, _)| s.molar_mass * n).sum();
        let mut mixture = Self { gas_constant: 0.0, low: [0.0; 6], high: [0.0; 6] };
        for (species, moles, liquid_share) in parts {
            let per_mass = MOLAR_GAS_CONSTANT * moles / mass;
            mixture.gas_constant += per_mass * (1.0 - liquid_share);
            for k in 0..6 {
                mixture.low[k] += per_mass * species.low[k];
                mixture.high[k] += per_mass * species.high[k];
            }
        }
        mixture
    }

    /// Dry air.
    #[must_use]
    pub fn dry_air() -> Self {
        Self::from_moles(&AIR.map(|(s, x)| (s, x, 0.0)))
    }

    /// Dry air with iso-octane at `lambda`; the share `1 − evaporated` of the fuel has mass and
    /// enthalpy but takes no room.
    #[must_use]
    pub fn fresh(lambda: f64, evaporated: f64) -> Self {
        let air = air_per_fuel(lambda);
        let [n2, o2, ar] = AIR.map(|(s, x)| (s, x * air, 0.0));
        Self::from_moles(&[n2, o2, ar, (ISO_OCTANE, 1.0, 1.0 - evaporated)])
    }

    /// Complete products of that charge; with λ < 1 CO, H₂, CO₂, H₂O at the water–gas ratio.
    #[must_use]
    pub fn burned(lambda: f64) -> Self {
        let air = air_per_fuel(lambda);
        let [n2, o2, ar] = AIR.map(|(s, x)| (s, x * air, 0.0));
        let oxygen = 2.0 * o2.1;
        if lambda >= 1.0 {
            let left = o2.1 - (CARBON + HYDROGEN / 4.0);
            return Self::from_moles(&[
                n2,
                ar,
                (O2, left, 0.0),
                (CO2, CARBON, 0.0),
                (H2O, HYDROGEN / 2.0, 0.0),
            ]);
        }
        let co = carbon_monoxide(oxygen);
        let co2 = CARBON - co;
        let h2o = oxygen - 2.0 * co2 - co;
        let h2 = HYDROGEN / 2.0 - h2o;
        Self::from_moles(&[n2, ar, (CO, co, 0.0), (CO2, co2, 0.0), (H2O, h2o, 0.0), (H2, h2, 0.0)])
    }

    fn range(&self, t: f64) -> &[f64; 6] {
        if t < 1000.0 { &self.low } else { &self.high }
    }

    /// Heat capacity at constant pressure [J/(kg K)] at `t` [K].
    #[must_use]
    pub fn heat_capacity(&self, t: f64) -> f64 {
        let c = self.range(t);
        c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * c[4])))
    }

    /// Specific enthalpy, formation included [J/kg] at `t` [K].
    #[must_use]
    pub fn enthalpy(&self, t: f64) -> f64 {
        let c = self.range(t);
        c[5] + t * (c[0] + t * (c[1] / 2.0 + t * (c[2] / 3.0 + t * (c[3] / 4.0 + t * c[4] / 5.0))))
    }
}

/// Moles of air per mole of fuel.
fn air_per_fuel(lambda: f64) -> f64 {
    let total: f64 = AIR.iter().map(|(_, x)| x).sum();
    // the air's mole fractions are used unnormalised, so its amount is per unit of their sum
    lambda * (CARBON + HYDROGEN / 4.0) / (AIR[1].1 / total) / total
}

/// Moles of CO per mole of fuel in rich products with `oxygen` atoms: the root of
/// c·H₂O = K·CO₂·H₂ with the balances put in, a quadratic.
fn carbon_monoxide(oxygen: f64) -> f64 {
    // H2O = w + c, CO2 = C − c, H2 = h − c
    let w = oxygen - 2.0 * CARBON;
    let h = HYDROGEN / 2.0 - w;
    let a = 1.0 - WATER_GAS;
    let b = w + WATER_GAS * (CARBON + h);
    let c = -WATER_GAS * CARBON * h;
    let root = (b * b - 4.0 * a * c).sqrt();
    // the root between 0 and both C and h
    (-b + root) / (2.0 * a)
}

/// Mass of air per mass of fuel at `lambda`.
#[must_use]
pub fn air_fuel_ratio(lambda: f64) -> f64 {
    let air: f64 = AIR.iter().map(|(s, x)| s.molar_mass * x).sum();
    air * air_per_fuel(lambda) / ISO_OCTANE.molar_mass
}
