//! The gas in pipes: the two mixtures of the engine, or a perfect gas for textbook cases.

use crate::gas::{Gas, GasState};
use crate::lane::Lane;

/// Most cells worked on at once.
pub(super) const WIDTH: usize = 8;

/// A gas of constant heat capacity, enthalpy c_p T.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PerfectGas {
    /// γ = c_p/c_v.
    pub gamma: f64,
    /// R [J/(kg K)].
    pub gas_constant: f64,
}

/// What a kernel asks of a gas.
pub(super) trait Properties<L: Lane> {
    /// State at a specific internal energy [J/kg].
    fn at_energy(&self, energy: L, burned: L) -> GasState<L>;
    /// Specific internal energy [J/kg] and volume [m³/kg] at densities, pressures and burned fractions:
    /// of two states at once, for which one division is enough.
    fn energies(&self, density: [L; 2], pressure: [L; 2], burned: [L; 2]) -> [(L, L); 2];
}

impl PerfectGas {
    fn heat_capacity(self) -> f64 {
        self.gamma / (self.gamma - 1.0) * self.gas_constant
    }

    #[inline(always)]
    fn at<L: Lane>(self, temperature: L) -> GasState<L> {
        let heat_capacity = L::splat(self.heat_capacity());
        GasState {
            temperature,
            gas_constant: L::splat(self.gas_constant),
            heat_capacity,
            enthalpy: heat_capacity * temperature,
        }
    }
}

impl<L: Lane> Properties<L> for PerfectGas {
    #[inline(always)]
    fn at_energy(&self, energy: L, _burned: L) -> GasState<L> {
        self.at(energy.scale((self.gamma - 1.0) / self.gas_constant))
    }

    #[inline(always)]
    fn energies(&self, density: [L; 2], pressure: [L; 2], _burned: [L; 2]) -> [(L, L); 2] {
        let [v, w] = inverses(density);
        let over = 1.0 / (self.gamma - 1.0);
        [(pressure[0].scale(over) * v, v), (pressure[1].scale(over) * w, w)]
    }
}

impl<L: Lane> Properties<L> for Gas<L> {
    #[inline(always)]
    fn at_energy(&self, energy: L, burned: L) -> GasState<L> {
        self.at(burned).from_energy(energy)
    }

    #[inline(always)]
    fn energies(&self, density: [L; 2], pressure: [L; 2], burned: [L; 2]) -> [(L, L); 2] {
        let [a, b] = [self.at(burned[0]), self.at(burned[1])];
        let (ra, rb) = (a.gas_constant(), b.gas_constant());
        let [va, vb] = inverses([density[0] * ra, density[1] * rb]);
        [
            (a.state(pressure[0] * va).energy(), va * ra),
            (b.state(pressure[1] * vb).energy(), vb * rb),
        ]
    }
}

/// One over each of two numbers, by one division.
#[inline(always)]
fn inverses<L: Lane>([a, b]: [L; 2]) -> [L; 2] {
    let over = L::one() / (a * b);
    [b * over, a * over]
}

/// The gas of a network of pipes.
#[derive(Debug, Clone)]
pub enum PipeGas {
    /// Constant heat capacity; the burned fraction is carried but changes nothing.
    Perfect(PerfectGas),
    /// Fresh charge and burned gas.
    Mixtures(Box<Gas<f64>>),
}

impl PipeGas {
    /// A perfect gas of γ and R [J/(kg K)].
    #[must_use]
    pub fn perfect(gamma: f64, gas_constant: f64) -> Self {
        Self::Perfect(PerfectGas { gamma, gas_constant })
    }

    /// Fresh charge and burned gas.
    #[must_use]
    pub fn mixtures(gas: &Gas<f64>) -> Self {
        Self::Mixtures(Box::new(*gas))
    }

    /// State at a temperature [K] and burned fraction.
    #[must_use]
    pub fn state(&self, temperature: f64, burned: f64) -> GasState<f64> {
        match self {
            Self::Perfect(gas) => gas.at(temperature),
            Self::Mixtures(gas) => gas.at(burned).state(temperature),
        }
    }

    /// R [J/(kg K)] at a burned fraction.
    #[must_use]
    pub fn gas_constant(&self, burned: f64) -> f64 {
        match self {
            Self::Perfect(gas) => gas.gas_constant,
            Self::Mixtures(gas) => gas.at(burned).gas_constant(),
        }
    }

    /// State at a specific internal energy [J/kg] and burned fraction.
    #[must_use]
    pub fn at_energy(&self, energy: f64, burned: f64) -> GasState<f64> {
        match self {
            Self::Perfect(gas) => gas.at_energy(energy, burned),
            Self::Mixtures(gas) => gas.at_energy(energy, burned),
        }
    }
}
