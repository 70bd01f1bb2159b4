//! What a network is made of besides its pipes: vessels, reservoirs, openings, orifices, and what they hold.

use crate::pipe::ends::Outside;
use crate::pipe::{PipeGas, Side};

/// Mass [kg], energy [J] and burned mass [kg], or their flows per second.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Content {
    /// Mass [kg].
    pub mass: f64,
    /// Energy, formation included [J].
    pub energy: f64,
    /// Burned mass [kg].
    pub burned: f64,
}

impl Content {
    /// Adds a multiple of another.
    pub fn add(&mut self, factor: f64, other: Self) {
        self.mass += factor * other.mass;
        self.energy += factor * other.energy;
        self.burned += factor * other.burned;
    }

    pub(super) fn times(self, factor: f64) -> Self {
        let mut out = Self::default();
        out.add(factor, self);
        out
    }
}

/// A volume without stored momentum: a vessel, or the junction of pipes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vessel {
    /// Volume [m³].
    pub volume: f64,
    /// What it holds.
    pub content: Content,
}

impl Vessel {
    /// A volume [m³] of gas at a pressure [Pa], temperature [K] and burned fraction.
    #[must_use]
    pub fn new(volume: f64, gas: &PipeGas, outside: &Outside) -> Self {
        let state = gas.state(outside.temperature, outside.burned);
        let mass = outside.pressure * volume / state.specific_pressure_volume();
        let content =
            Content { mass, energy: mass * state.energy(), burned: mass * outside.burned };
        Self { volume, content }
    }

    /// Its state, at rest.
    #[must_use]
    pub fn state(&self, gas: &PipeGas) -> Outside {
        let Content { mass, energy, burned } = self.content;
        let share = burned / mass;
        let state = gas.at_energy(energy / mass, share);
        Outside {
            pressure: mass * state.specific_pressure_volume() / self.volume,
            temperature: state.temperature,
            burned: share,
        }
    }
}

/// Surroundings that nothing changes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reservoir {
    /// Its state.
    pub state: Outside,
    /// What it has received.
    pub received: Content,
}

impl Reservoir {
    /// Of a state.
    #[must_use]
    pub fn new(state: Outside) -> Self {
        Self { state, received: Content::default() }
    }
}

/// A vessel or a reservoir, by number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Node {
    /// Vessel.
    Vessel(usize),
    /// Reservoir.
    Reservoir(usize),
}

/// How far an opening is open over time: straight between given times, held before and after.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Schedule {
    points: Vec<(f64, f64)>,
}

impl Schedule {
    /// From times [s], rising, and open shares.
    #[must_use]
    pub fn new(points: Vec<(f64, f64)>) -> Self {
        Self { points }
    }

    /// Open share at `time` [s]; 1 where nothing is given.
    #[must_use]
    pub fn at(&self, time: f64) -> f64 {
        let next = self.points.partition_point(|p| p.0 <= time);
        match (next.checked_sub(1).map(|i| self.points[i]), self.points.get(next)) {
            (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (time - a.0) / (b.0 - a.0),
            (Some(a), None) => a.1,
            (None, Some(b)) => b.1,
            (None, None) => 1.0,
        }
    }
}

/// An opening at the end of a pipe.
#[derive(Debug, Clone, PartialEq)]
pub struct Opening {
    /// What lies outside.
    pub to: Node,
    /// C_d A_t fully open [m²]; infinite where the pipe ends unthrottled.
    pub area: f64,
    /// How far it is open.
    pub schedule: Schedule,
}

/// What stands at an end of a pipe.
#[derive(Debug, Clone, PartialEq)]
pub enum End {
    /// A wall.
    Closed,
    /// The pipe goes on for ever.
    Through,
    /// An opening.
    Opening(Opening),
    /// An opening to a place that is told in the middle of each step, by number.
    Port(usize),
    /// A sudden change of area to an end of another pipe.
    Jump {
        /// The other pipe.
        pipe: usize,
        /// Which end of it.
        side: Side,
    },
}

/// An opening between two nodes.
#[derive(Debug, Clone, PartialEq)]
pub struct Orifice {
    /// Where a positive flow comes from.
    pub from: Node,
    /// Where it goes.
    pub to: Node,
    /// C_d A [m²].
    pub area: f64,
    /// How far it is open.
    pub schedule: Schedule,
}
