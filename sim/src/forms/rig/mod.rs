//! Rig files: pipes, vessels and what joins them. The rig as meant: SI, complete, every name resolved.

mod convert;
mod keys;

pub use convert::read;

use crate::pipe::ends::Outside;
use crate::pipe::{Schedule, Section, Side, State, Wall};

/// The gas of a rig.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum GasChoice {
    /// Constant heat capacity.
    Perfect {
        /// γ.
        gamma: f64,
        /// R [J/(kg K)].
        gas_constant: f64,
    },
    /// Fresh charge and burned gas.
    Mixtures {
        /// Air over stoichiometric air.
        lambda: f64,
    },
}

/// A vessel, a junction or a reservoir.
#[derive(Debug, Clone, PartialEq)]
pub struct NodeSpec {
    /// Its name.
    pub name: String,
    /// Volume [m³]; none for a reservoir.
    pub volume: Option<f64>,
    /// Gas in it at the start.
    pub state: Outside,
}

/// What stands at an end of a pipe.
#[derive(Debug, Clone, PartialEq)]
pub enum EndSpec {
    /// A wall.
    Closed,
    /// The pipe goes on for ever.
    Endless,
    /// An opening to a node.
    Opening {
        /// Which node.
        node: usize,
        /// C_d A [m²], infinite where unthrottled.
        area: f64,
        /// How far open.
        schedule: Schedule,
    },
    /// An end of another pipe.
    Jump {
        /// Which pipe.
        pipe: usize,
        /// Which end.
        side: Side,
    },
}

/// Gas in part of a pipe at the start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Filling {
    /// A uniform state.
    Even(State),
    /// A simple wave in the shape of a raised cosine.
    Pulse {
        /// Peak pressure [Pa].
        peak: f64,
        /// +1 along the pipe, −1 against it.
        direction: f64,
    },
}

/// A pipe.
#[derive(Debug, Clone, PartialEq)]
pub struct PipeSpec {
    /// Its name.
    pub name: String,
    /// Cell size [m].
    pub cell: f64,
    /// Its pieces.
    pub sections: Vec<Section>,
    /// Their walls.
    pub walls: Vec<Wall>,
    /// What stands at both ends.
    pub ends: [EndSpec; 2],
    /// Gas in it at the start.
    pub state: State,
    /// Gas in parts of it, from, to [m].
    pub fillings: Vec<(f64, f64, Filling)>,
}

/// An opening between two nodes.
#[derive(Debug, Clone, PartialEq)]
pub struct OrificeSpec {
    /// From node.
    pub from: usize,
    /// To node.
    pub to: usize,
    /// C_d A [m²].
    pub area: f64,
    /// How far open.
    pub schedule: Schedule,
}

/// Where a history is taken.
#[derive(Debug, Clone, PartialEq)]
pub struct StationSpec {
    /// Its name.
    pub name: String,
    /// Which pipe.
    pub pipe: usize,
    /// Place along it [m].
    pub at: f64,
}

/// A whole rig.
#[derive(Debug, Clone, PartialEq)]
pub struct RigSpec {
    /// Its name.
    pub name: String,
    /// The gas.
    pub gas: GasChoice,
    /// How long it runs [s].
    pub end: f64,
    /// Courant number.
    pub courant: f64,
    /// Vessels, junctions, reservoirs.
    pub nodes: Vec<NodeSpec>,
    /// Pipes.
    pub pipes: Vec<PipeSpec>,
    /// Orifices.
    pub orifices: Vec<OrificeSpec>,
    /// Stations.
    pub stations: Vec<StationSpec>,
    /// Times of profiles [s].
    pub profiles: Vec<f64>,
    /// Samples of histories.
    pub samples: usize,
    /// Rows of the maps.
    pub map_rows: usize,
}
