//! A rig as meant: SI, complete, every name resolved.

use freshcharge_sim::pipe::ends::Outside;
use freshcharge_sim::pipe::{Schedule, Section, Side, State, Wall};

/// The gas of a rig.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum GasChoice {
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
pub(crate) struct NodeSpec {
    /// Its name.
    pub(crate) name: String,
    /// Volume [m³]; none for a reservoir.
    pub(crate) volume: Option<f64>,
    /// Gas in it at the start.
    pub(crate) state: Outside,
}

/// What stands at an end of a pipe.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum EndSpec {
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
pub(crate) enum Filling {
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
pub(crate) struct PipeSpec {
    /// Its name.
    pub(crate) name: String,
    /// Cell size [m].
    pub(crate) cell: f64,
    /// Its pieces.
    pub(crate) sections: Vec<Section>,
    /// Their walls.
    pub(crate) walls: Vec<Wall>,
    /// What stands at both ends.
    pub(crate) ends: [EndSpec; 2],
    /// Gas in it at the start.
    pub(crate) state: State,
    /// Gas in parts of it, from, to [m].
    pub(crate) fillings: Vec<(f64, f64, Filling)>,
}

/// An opening between two nodes.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct OrificeSpec {
    /// From node.
    pub(crate) from: usize,
    /// To node.
    pub(crate) to: usize,
    /// C_d A [m²].
    pub(crate) area: f64,
    /// How far open.
    pub(crate) schedule: Schedule,
}

/// Where a history is taken.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct StationSpec {
    /// Its name.
    pub(crate) name: String,
    /// Which pipe.
    pub(crate) pipe: usize,
    /// Place along it [m].
    pub(crate) at: f64,
}

/// A whole rig.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct RigSpec {
    /// Its name.
    pub(crate) name: String,
    /// The gas.
    pub(crate) gas: GasChoice,
    /// How long it runs [s].
    pub(crate) end: f64,
    /// Courant number.
    pub(crate) courant: f64,
    /// Vessels, junctions, reservoirs.
    pub(crate) nodes: Vec<NodeSpec>,
    /// Pipes.
    pub(crate) pipes: Vec<PipeSpec>,
    /// Orifices.
    pub(crate) orifices: Vec<OrificeSpec>,
    /// Stations.
    pub(crate) stations: Vec<StationSpec>,
    /// Times of profiles [s].
    pub(crate) profiles: Vec<f64>,
    /// Samples of histories.
    pub(crate) samples: usize,
    /// Rows of the maps.
    pub(crate) map_rows: usize,
}
