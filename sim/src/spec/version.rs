//! Versions of the model: presets of choices, so that results of one never pass for those of another.

use super::ScavengingLaw;

/// Zones of the gas in the cylinder from the first transfer opening to exhaust closing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Zones {
    /// One mixture at one temperature.
    One,
    /// New and old gas, each at its own temperature.
    Two,
}

/// A version of the model. The physics asks for its choices, only what tells of the model for its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ModelVersion {
    number: u8,
    /// Zones of the cylinder while gas is exchanged.
    pub zones: Zones,
}

impl ModelVersion {
    /// The engine of version 0.3.0 of the program.
    pub const ONE: Self = Self { number: 1, zones: Zones::One };
    /// New and old gas apart in the cylinder.
    pub const TWO: Self = Self { number: 2, zones: Zones::Two };
    /// What an engine file without a version gets: the newest that is trusted.
    pub const STANDARD: Self = Self::ONE;
    /// Every version, oldest first.
    pub const ALL: &[Self] = &[Self::ONE, Self::TWO];

    /// The scavenging law of an engine file that names none. With one zone perfect mixing; with two the
    /// curve η = 1 − exp(−S − 0.3863 S²) through 0.75 at S = 1, the middle of 0.70 to 0.80 for loop
    /// scavenging (from memory; one three-dimensional computation of a sane layout gave 0.42, 0.755, 0.90
    /// at S = 0.5, 1, 1.5).
    #[must_use]
    pub fn scavenging(self) -> ScavengingLaw {
        match self.zones {
            Zones::One => ScavengingLaw::PerfectMixing,
            Zones::Two => ScavengingLaw::Curve { k0: 0.0, k1: -1.0, k2: -0.3863 },
        }
    }

    /// The version with this number.
    #[must_use]
    pub fn numbered(number: f64) -> Option<Self> {
        Self::ALL.iter().copied().find(|version| f64::from(version.number) == number)
    }

    /// Its number.
    #[must_use]
    pub fn number(self) -> u8 {
        self.number
    }
}
