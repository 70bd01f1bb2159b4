//! Versions of the model: presets of choices, so that results of one never pass for those of another.

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
    pub const TWO: Self = Self { number: 2, zones: Zones::One };
    /// What an engine file without a version gets.
    pub const NEWEST: Self = Self::TWO;
    /// Every version, oldest first.
    pub const ALL: &[Self] = &[Self::ONE, Self::TWO];

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
