//! Power corrected to standard air.
//!
//! Factors multiply the measured power. ISO 1585:1992, naturally aspirated spark ignition; SAE J1349
//! (June 1990); DIN 70020. The validity limits and the DIN form are from memory.

use crate::portable;

/// Air at a test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TestAir {
    /// Barometric pressure [kPa].
    pub pressure: f64,
    /// Temperature [°C].
    pub temperature: f64,
    /// Pressure of the water vapour in it [kPa].
    pub vapour: f64,
}

/// A correction standard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standard {
    /// ISO 1585.
    Iso1585,
    /// SAE J1349.
    SaeJ1349,
    /// DIN 70020.
    Din70020,
}

impl Standard {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Iso1585, Self::SaeJ1349, Self::Din70020];

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Iso1585 => "ISO 1585",
            Self::SaeJ1349 => "SAE J1349",
            Self::Din70020 => "DIN 70020",
        }
    }
}

/// Saturation pressure of water vapour [kPa] at a temperature [°C]: Magnus form of O. A. Alduchov and
/// R. E. Eskridge, J. Appl. Meteorol. 35 (1996) 601–609 (coefficients from memory).
#[must_use]
pub fn saturation_pressure(celsius: f64) -> f64 {
    0.610_94 * portable::exp(17.625 * celsius / (celsius + 243.04))
}

/// Correction factor, and whether the test lies within what the standard allows.
#[must_use]
pub fn factor(standard: Standard, air: &TestAir) -> (f64, bool) {
    let dry = air.pressure - air.vapour;
    // the standards write T = t + 273
    let kelvin = air.temperature + 273.0;
    match standard {
        Standard::Iso1585 => {
            let alpha = portable::pow(99.0 / dry, 1.2) * portable::pow(kelvin / 298.0, 0.6);
            let within = (0.93..=1.07).contains(&alpha)
                && (288.0..=308.0).contains(&kelvin)
                && (80.0..=110.0).contains(&dry);
            (alpha, within)
        }
        Standard::SaeJ1349 => {
            let cf = 1.18 * (99.0 / dry) * (kelvin / 298.0).sqrt() - 0.18;
            let within = (15.0..=35.0).contains(&air.temperature) && (90.0..=105.0).contains(&dry);
            (cf, within)
        }
        // barometric pressure, not dry
        Standard::Din70020 => ((101.3 / air.pressure) * (kelvin / 293.0).sqrt(), true),
    }
}
