//! From an engine specification and a speed to numbers, tables and events: the only translation of
//! its kind.

mod build;
mod events;
mod initial;
mod pipework;

use std::sync::Arc;

use crate::network::Case;
pub use events::{Event, EventKind, Timing};
pub use pipework::{Chain, Part, Piped, Pipes};

/// Longest chain of transfer groups the engine computes.
pub use crate::network::{MAX_GROUPS, MAX_STAGES};

/// Everything about an engine that does not depend on speed, built once.
#[derive(Debug, Clone)]
pub struct Engine {
    spec: crate::spec::EngineSpec,
    tables: Arc<crate::network::CaseTables>,
    timing: Timing,
    clearance: f64,
    gas: crate::gas::Gas<f64>,
    fresh: crate::gas::Mixture,
    burned: crate::gas::Mixture,
    leaving: crate::engine::scavenging::LeavingForm,
    pipes: Option<Arc<Pipes>>,
}

/// One engine at one speed, ready to run.
#[derive(Debug, Clone)]
pub struct Model {
    /// Numbers and tables for a lane.
    pub case: Case,
    /// Events of one cycle in order of angle, the last being the end of the cycle.
    pub events: Vec<Event>,
    /// Angles that define results.
    pub timing: Timing,
    /// Size of each normed state below which the tolerance is absolute.
    pub scale: Vec<f64>,
    /// State to begin with when there is no neighbour.
    pub cold_start: Vec<f64>,
    /// Constants that results need.
    pub reference: Reference,
    /// The counterfactual: reverse flow through the transfers held at zero from their opening until the
    /// cylinder first falls below crankcase pressure.
    pub reverse_held: bool,
    /// Pipes with waves in them.
    pub pipes: Option<Arc<Pipes>>,
}

impl Model {
    /// The counterfactual that tells what backflow costs.
    #[must_use]
    pub fn with_reverse_held(&self) -> Self {
        Self { reverse_held: true, ..self.clone() }
    }
}

/// Constants that results need.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// Speed [1/min].
    pub rpm: f64,
    /// ω [rad/s].
    pub angular_speed: f64,
    /// Swept volume V_s by the true travel [m³].
    pub swept: f64,
    /// ρ₀V_s with dry air at ambient state [kg].
    pub mass: f64,
    /// Air share of the fresh mixture α.
    pub air_share: f64,
    /// Friction mean effective pressure [Pa].
    pub fmep: f64,
    /// Heat released per mass of fresh gas burned, at 298.15 K [J/kg].
    pub heat_per_mass: f64,
    /// Names of the transfer groups.
    pub group_names: Vec<String>,
    /// Duct volume of each group [m³].
    pub duct_volumes: Vec<f64>,
    /// Mass that fills each group's duct at ambient state [kg].
    pub duct_masses: Vec<f64>,
    /// Stages of petals.
    pub stages: Vec<StageReference>,
    /// Ambient temperature [K].
    pub ambient_temperature: f64,
    /// Ambient pressure [Pa].
    pub ambient_pressure: f64,
}

/// Constants that results of a stage of petals need.
#[derive(Debug, Clone, PartialEq)]
pub struct StageReference {
    /// Its name.
    pub name: String,
    /// Natural frequency [Hz].
    pub frequency: f64,
    /// Bending stress at the clamp over the tip's lift [Pa/m].
    pub stress_per_lift: f64,
    /// Bending stress that lasts [Pa].
    pub fatigue_stress: f64,
}

/// Why an engine cannot be simulated.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ModelError {
    /// A port never opens.
    #[error("the {port} never opens: its roof lies {beyond_mm:.2} mm beyond the piston's travel")]
    NeverOpens {
        /// Which.
        port: String,
        /// How far [mm].
        beyond_mm: f64,
    },
    /// A transfer window opens before the exhaust.
    #[error(
        "transfer group {group} opens {by_deg:.2}° before the exhaust; the exhaust must open first"
    )]
    TransferFirst {
        /// Which group.
        group: String,
        /// By how much [deg].
        by_deg: f64,
    },
    /// The piston touches the head.
    #[error(
        "squish gap {gap_mm:.2} mm: the piston touches the head by {by_mm:.2} mm; fit a head gasket thicker by more than that"
    )]
    Touches {
        /// Squish gap [mm], negative.
        gap_mm: f64,
        /// By how much it touches [mm].
        by_mm: f64,
    },
    /// Burning outside the closed period.
    #[error(
        "at {rpm:.0}/min burning lasts from {start_deg:.1}° to {end_deg:.1}° after top dead centre; the cylinder is closed from {closes_deg:.1}° to {opens_deg:.1}°"
    )]
    BurnsOpen {
        /// Speed [1/min].
        rpm: f64,
        /// Start [deg].
        start_deg: f64,
        /// End [deg].
        end_deg: f64,
        /// Exhaust closing [deg].
        closes_deg: f64,
        /// Exhaust opening [deg].
        opens_deg: f64,
    },
    /// A scavenging curve that cannot be used.
    #[error(transparent)]
    Scavenging(#[from] crate::engine::scavenging::CurveFault),
    /// A window that cannot be drawn.
    #[error("{port}: {fault}")]
    Window {
        /// Which port.
        port: String,
        /// What is wrong.
        fault: String,
    },
    /// Volumes that cannot be.
    #[error("{what} is {value_cm3:.3} cm³; it must be positive")]
    NoVolume {
        /// Which volume.
        what: &'static str,
        /// Its value [cm³].
        value_cm3: f64,
    },
    /// Pipes that cannot be cut into cells.
    #[error("pipes: {fault}")]
    Pipe {
        /// What is wrong.
        fault: String,
    },
    /// No or too many stages of petals.
    #[error("{count} stages of petals; between 1 and {MAX_STAGES} can be computed")]
    Stages {
        /// How many.
        count: usize,
    },
    /// No or too many transfer groups.
    #[error("{count} transfer groups; between 1 and {MAX_GROUPS} can be computed")]
    Groups {
        /// How many.
        count: usize,
    },
}
