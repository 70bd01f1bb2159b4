//! Quantities against crank angle over one settled cycle.

use crate::portable;

/// Quantities over one cycle, from exhaust opening to exhaust opening: arrays of one length, a row an angle.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Trace {
    /// Crank angle after top dead centre of the traced cycle, rising [rad].
    pub angle: Vec<f64>,
    /// Time since exhaust opening [s].
    pub time: Vec<f64>,
    /// Way of the piston from top dead centre [m].
    pub piston_drop: Vec<f64>,
    /// Gas in the cylinder.
    pub cylinder: VolumeTrace,
    /// Gas in the crankcase.
    pub crankcase: VolumeTrace,
    /// Temperature of the crankcase without the slugs of gas that stand in its transfer ducts [K].
    pub crankcase_rest_temperature: Vec<f64>,
    /// Exhaust windows; out of the cylinder is positive.
    pub exhaust: OpeningTrace,
    /// Pressure behind the exhaust windows [Pa].
    pub exhaust_pressure: Vec<f64>,
    /// Flow of enthalpy through the exhaust windows [W].
    pub exhaust_enthalpy_flow: Vec<f64>,
    /// Flow out of the exhaust system's outlet [kg/s].
    pub outlet_mass_flow: Vec<f64>,
    /// Transfer windows of all groups together; into the cylinder is positive.
    pub transfer: OpeningTrace,
    /// Intake; into the crankcase is positive.
    pub intake: OpeningTrace,
    /// Flow past the rings, cylinder to crankcase [kg/s].
    pub blow_by_mass_flow: Vec<f64>,
    /// Flow out of the crankcase's leak [kg/s].
    pub crankcase_leak_mass_flow: Vec<f64>,
    /// Gas burned in a second [kg/s].
    pub burn_rate: Vec<f64>,
    /// Each group of transfer ducts.
    pub groups: Vec<GroupTrace>,
    /// Petals of each stage of a reed valve.
    pub reed: Vec<ReedTrace>,
    /// Angles of the events [rad after top dead centre of the traced cycle], in order of angle.
    pub events: Vec<(TraceEvent, f64)>,
    /// What the volumes and then the pipes hold where the cycle starts, in the model's own order; empty
    /// without pipes. The same engine can go on from it at another speed, and without its pipes.
    pub start: Vec<f64>,
    /// Gas in the pipes, one for each side of the engine that has some.
    pub pipes: Vec<PipeTrace>,
}

/// Gas in a volume over a cycle.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct VolumeTrace {
    /// V [m³].
    pub volume: Vec<f64>,
    /// p, absolute [Pa].
    pub pressure: Vec<f64>,
    /// T, the mean of the gas [K].
    pub temperature: Vec<f64>,
    /// Burned fraction.
    pub burned_fraction: Vec<f64>,
    /// m [kg].
    pub mass: Vec<f64>,
    /// Heat from the gas to the walls in a second [W].
    pub wall_heat: Vec<f64>,
}

/// Flow through an opening over a cycle.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct OpeningTrace {
    /// Open area [m²].
    pub area: Vec<f64>,
    /// ṁ [kg/s].
    pub mass_flow: Vec<f64>,
    /// Burned gas in it [kg/s].
    pub burned_mass_flow: Vec<f64>,
}

/// One group of transfer ducts over a cycle.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GroupTrace {
    /// The group's name in the engine file.
    pub name: String,
    /// Open area of its windows [m²].
    pub area: Vec<f64>,
    /// ṁ, into the cylinder [kg/s].
    pub mass_flow: Vec<f64>,
    /// Volume of the slug of gas from the cylinder, over that of the duct.
    pub slug_volume_ratio: Vec<f64>,
    /// Temperature of the slug [K].
    pub slug_temperature: Vec<f64>,
}

/// Petals of one stage of a reed valve over a cycle.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ReedTrace {
    /// The stage's name in the engine file.
    pub name: String,
    /// Lift of the tip, between seat and stop [m].
    pub lift: Vec<f64>,
    /// Its velocity, off the seat [m/s].
    pub velocity: Vec<f64>,
}

/// Something that happens at an angle of the cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TraceEvent {
    /// The exhaust opens.
    ExhaustOpens,
    /// The last exhaust window closes.
    ExhaustCloses,
    /// The first transfer window opens.
    TransferOpens,
    /// The last transfer window closes.
    TransferCloses,
    /// The inlet opens.
    InletOpens,
    /// The inlet closes.
    InletCloses,
    /// Burning starts.
    BurnStarts,
    /// Burning ends.
    BurnEnds,
    /// Bottom dead centre.
    BottomDeadCentre,
    /// Top dead centre.
    TopDeadCentre,
    /// The flow through the transfers turns into the cylinder after it had been out of it.
    FlowTurnsForward,
    /// The cylinder falls below crankcase pressure while the transfers are open.
    CylinderFallsBelowCrankcase,
}

impl TraceEvent {
    /// What happens.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::ExhaustOpens => "exhaust opens",
            Self::ExhaustCloses => "exhaust closes",
            Self::TransferOpens => "transfer opens",
            Self::TransferCloses => "transfer closes",
            Self::InletOpens => "inlet opens",
            Self::InletCloses => "inlet closes",
            Self::BurnStarts => "burn starts",
            Self::BurnEnds => "burn ends",
            Self::BottomDeadCentre => "bottom dead centre",
            Self::TopDeadCentre => "top dead centre",
            Self::FlowTurnsForward => "flow turns forward",
            Self::CylinderFallsBelowCrankcase => "cylinder falls below crankcase",
        }
    }
}

/// Gas in a cell at an angle.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PipeGas {
    /// p [Pa].
    pub pressure: f64,
    /// u, away from the engine [m/s].
    pub velocity: f64,
    /// T [K].
    pub temperature: f64,
    /// Burned fraction.
    pub burned: f64,
    /// Speed of sound [m/s].
    pub sound: f64,
}

/// Gas in the pipes of one side over place and angle.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PipeTrace {
    /// Which side, `exhaust` or `inlet`.
    pub side: String,
    /// Middle of each cell, from the engine [m]; volumes between pipes take no length.
    pub places: Vec<f64>,
    /// Diameter of each cell [m].
    pub diameters: Vec<f64>,
    /// Where each pipe ends, from the engine [m].
    pub ends: Vec<f64>,
    /// What the pieces are called and where each begins, from the engine [m].
    pub marks: Vec<(String, f64)>,
    /// Angle of each row [rad after top dead centre of the traced cycle].
    pub angle: Vec<f64>,
    /// Gas of every cell, row for row.
    pub gas: Vec<PipeGas>,
    /// Pressure at the face of the port [Pa], a number for each row.
    pub port_pressure: Vec<f64>,
    /// Velocity next to the port, away from the engine [m/s].
    pub port_velocity: Vec<f64>,
}

/// Pressure waves of which gas in motion is made up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WavePair {
    /// Absolute pressure of the wave that runs away from the engine, by itself [Pa].
    pub out: f64,
    /// The same of the one that comes back.
    pub back: f64,
}

impl PipeGas {
    /// Splits the gas into waves about the pressure at rest `p0` [Pa]: simple waves of finite amplitude
    /// in gas of one entropy, X = (p/p₀)^((γ−1)/2γ), X = X₊ + X₋ − 1, u = 2a₀/(γ−1)·(X₊ − X₋);
    /// S. Earnshaw, Phil. Trans. 150 (1860) 133 (from memory). γ is 1.35.
    #[must_use]
    pub fn waves(&self, p0: f64) -> WavePair {
        const GAMMA: f64 = 1.35;
        let power = (GAMMA - 1.0) / (2.0 * GAMMA);
        let x = portable::pow(self.pressure / p0, power);
        let still = self.sound / x;
        let half = 0.5 * (x + 1.0);
        let lean = 0.25 * (GAMMA - 1.0) * self.velocity / still;
        let wave = |x: f64| p0 * portable::pow(x.max(0.0), 1.0 / power);
        WavePair { out: wave(half + lean), back: wave(half - lean) }
    }
}

impl PipeTrace {
    /// Gas of all cells in a row.
    #[must_use]
    pub fn row(&self, row: usize) -> &[PipeGas] {
        let n = self.places.len();
        &self.gas[row * n..(row + 1) * n]
    }

    /// Index of the cell nearest to a place [m].
    #[must_use]
    pub fn cell_at(&self, place: f64) -> usize {
        let apart = |x: &f64| (x - place).abs();
        let nearest =
            self.places.iter().enumerate().min_by(|a, b| apart(a.1).total_cmp(&apart(b.1)));
        nearest.map_or(0, |(i, _)| i)
    }
}

impl Trace {
    /// Rows.
    #[must_use]
    pub fn len(&self) -> usize {
        self.angle.len()
    }

    /// True without rows.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.angle.is_empty()
    }

    /// The angle of an event [rad after top dead centre of the traced cycle]; none where it does not happen.
    #[must_use]
    pub fn event(&self, event: TraceEvent) -> Option<f64> {
        self.events.iter().find(|(e, _)| *e == event).map(|(_, angle)| *angle)
    }
}
