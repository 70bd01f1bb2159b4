//! The engine as meant: complete, in SI, checked. What a scenario file turns into, and all that
//! the model is built from.
//!
//! Lengths in m, areas in m², volumes in m³, pressures in Pa absolute, temperatures in K, angles in
//! radians after top dead centre unless a name says otherwise.

mod parts;
mod pipes;
mod ports;
mod reed;
mod version;

pub use parts::{
    Ambient, Carburettor, Clearance, Combustion, CrankTrain, Crankcase, Friction, Fuel, Head, Heat,
    HeatLaw, Leaks, Piston, ScavengingLaw, SpeedTable, Stack, StudHole, WallTemperatures,
};
pub use pipes::{Piece, PieceForm, Pipework};
pub use ports::{
    Discharge, DischargeTable, Exhaust, InertiveDuct, InletTract, Intake, RotaryInlet, Silencer,
    TransferGroup, Window,
};
pub use reed::{CONTACT, Petal, PetalMaterial, Reed, ReedStage};
pub use version::{ModelVersion, Zones};

/// A compression gauge with a check valve, which holds the highest pressure it has seen, and the state of
/// the engine it is screwed into.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gauge {
    /// Volume between the plug's thread and the check valve [m³].
    pub volume: f64,
    /// Effective leak area past the rings [m²].
    pub leak: f64,
    /// Temperature of all walls, and of the gas in the exhaust [K].
    pub temperature: f64,
}

/// A complete engine.
#[derive(Debug, Clone, PartialEq)]
pub struct EngineSpec {
    /// What its builder calls it.
    pub name: String,
    /// Version of the model that computes it.
    pub model: ModelVersion,
    /// Crank and connecting rod.
    pub crank_train: CrankTrain,
    /// Bore [m].
    pub bore: f64,
    /// Piston.
    pub piston: Piston,
    /// Base stack, deck and head gasket in the state to run.
    pub stack: Stack,
    /// Cylinder head.
    pub head: Head,
    /// Holes for the cylinder's studs.
    pub stud_holes: Vec<StudHole>,
    /// Exhaust port, its duct and what lies behind.
    pub exhaust: Exhaust,
    /// Transfer ducts, each with the windows it feeds.
    pub transfers: Vec<TransferGroup>,
    /// Crankcase.
    pub crankcase: Crankcase,
    /// Intake port or valve.
    pub intake: Intake,
    /// Carburettor, in series with the intake.
    pub carburettor: Option<Carburettor>,
    /// Tract from carburettor to intake port.
    pub inlet_tract: Option<InletTract>,
    /// Pipes from the outside to the intake port, with waves in them.
    pub inlet_pipe: Option<Pipework>,
    /// Burning.
    pub combustion: Combustion,
    /// Heat to the walls.
    pub heat: Heat,
    /// Mechanical losses.
    pub friction: Friction,
    /// Leaks.
    pub leaks: Leaks,
    /// What leaves through the exhaust while fresh charge comes in.
    pub scavenging: ScavengingLaw,
    /// C_m: residual entrained by the new zone over what comes in, by volume; with two zones only.
    pub zone_exchange: f64,
    /// Surroundings.
    pub ambient: Ambient,
    /// Fuel and mixture.
    pub fuel: Fuel,
    /// Cell size of pipes [m].
    pub cell: f64,
}

impl EngineSpec {
    /// The same engine with bare windows: no gas column has inertia.
    #[must_use]
    pub fn with_bare_windows(&self) -> Self {
        let mut bare = self.clone();
        for duct in bare.transfers.iter_mut().filter_map(|g| g.duct.as_mut()) {
            duct.inertive = false;
        }
        if let Some(tract) = &mut bare.inlet_tract {
            tract.duct.inertive = false;
        }
        bare
    }

    /// Whether it has pipes with waves in them.
    #[must_use]
    pub fn has_pipes(&self) -> bool {
        self.exhaust.pipe.is_some() || self.inlet_pipe.is_some()
    }

    /// Length of all its pipes [m].
    #[must_use]
    pub fn pipe_length(&self) -> f64 {
        [&self.exhaust.pipe, &self.inlet_pipe].into_iter().flatten().map(Pipework::length).sum()
    }

    /// Pressure about which the waves of a side swing: that of its surroundings [Pa].
    #[must_use]
    pub fn rest_pressure(&self, side: &str) -> f64 {
        if side == "exhaust" { self.exhaust.back_pressure } else { self.ambient.pressure }
    }

    /// The engine turned over by hand or starter with a compression gauge in its plug hole: no burning, no
    /// waves, no gas inertia, throttle open, everything at one temperature. The gauge's volume up to its
    /// check valve adds to the clearance.
    #[must_use]
    pub fn motored(&self, gauge: &Gauge) -> Self {
        let mut spec = self.without_pipes().with_bare_windows();
        spec.combustion.efficiency = 0.0;
        let (Clearance::Assembled { volume, .. }
        | Clearance::SquishPlane { volume, .. }
        | Clearance::JointPlane { volume, .. }) = &mut spec.head.clearance;
        *volume += gauge.volume;
        spec.leaks.blow_by = gauge.leak;
        let t = gauge.temperature;
        spec.heat.walls = WallTemperatures { head: t, piston: t, liner: t };
        spec.crankcase.wall_temperature = t;
        spec.exhaust.outside_temperature = t;
        if let Some(silencer) = &mut spec.exhaust.silencer {
            silencer.wall_temperature = t;
        }
        for group in &mut spec.transfers {
            group.wall_temperature = t;
        }
        if let Some(carburettor) = &mut spec.carburettor {
            carburettor.throttle = 1.0;
        }
        spec
    }

    /// The same engine without waves: the exhaust opens into its outside, the inlet into the
    /// carburettor.
    #[must_use]
    pub fn without_pipes(&self) -> Self {
        let mut plain = self.clone();
        plain.exhaust.pipe = None;
        plain.inlet_pipe = None;
        plain
    }
}
