//! The gas in pipes: the two mixtures of the engine, or a perfect gas for textbook cases.

use crate::gas::{Gas, GasState};
use crate::lane::{Lane, Pack};

/// Cells worked on at once.
pub(super) const WIDTH: usize = 8;
/// Numbers of as many cells.
pub(super) type Cells = Pack<WIDTH>;

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
    /// Specific internal energy [J/kg] and volume [m³/kg] at a density and a pressure.
    fn energy(&self, density: L, pressure: L, burned: L) -> (L, L);
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
    fn energy(&self, density: L, pressure: L, _burned: L) -> (L, L) {
        let volume = L::one() / density;
        (pressure.scale(1.0 / (self.gamma - 1.0)) * volume, volume)
    }
}

impl<L: Lane> Properties<L> for Gas<L> {
    #[inline(always)]
    fn at_energy(&self, energy: L, burned: L) -> GasState<L> {
        self.at(burned).from_energy(energy)
    }

    #[inline(always)]
    fn energy(&self, density: L, pressure: L, burned: L) -> (L, L) {
        let blend = self.at(burned);
        let over = L::one() / (density * blend.gas_constant());
        (blend.state(pressure * over).energy(), over * blend.gas_constant())
    }
}

/// The gas of a network of pipes.
#[derive(Debug, Clone)]
pub enum PipeGas {
    /// Constant heat capacity; the burned fraction is carried but changes nothing.
    Perfect(PerfectGas),
    /// Fresh charge and burned gas.
    Mixtures(Box<Mixtures>),
}

/// The two mixtures, for one cell and for several at once.
#[derive(Debug, Clone)]
pub struct Mixtures {
    pub(super) one: Gas<f64>,
    pub(super) several: Gas<Cells>,
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
        Self::Mixtures(Box::new(Mixtures { one: *gas, several: Gas::splat(gas) }))
    }

    /// State at a temperature [K] and burned fraction.
    #[must_use]
    pub fn state(&self, temperature: f64, burned: f64) -> GasState<f64> {
        match self {
            Self::Perfect(gas) => gas.at(temperature),
            Self::Mixtures(gas) => gas.one.at(burned).state(temperature),
        }
    }

    /// State at a specific internal energy [J/kg] and burned fraction.
    #[must_use]
    pub fn at_energy(&self, energy: f64, burned: f64) -> GasState<f64> {
        match self {
            Self::Perfect(gas) => gas.at_energy(energy, burned),
            Self::Mixtures(gas) => gas.one.at_energy(energy, burned),
        }
    }
}
