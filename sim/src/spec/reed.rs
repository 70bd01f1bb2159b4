//! Reed block: petals, the windows they cover, the stop.

/// What petals are made of: modulus of elasticity, density and a bending stress that lasts. All values
/// are from memory of handbooks and data sheets (spring strip: EN 10088-1 and EN 10132-4; glass cloth in
/// epoxy: grade G-10; carbon cloth in epoxy, 0/90°); laminates differ by a quarter between makers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PetalMaterial {
    /// Hardened spring strip.
    Steel,
    /// Glass cloth in epoxy.
    Glass,
    /// Carbon cloth in epoxy.
    Carbon,
}

impl PetalMaterial {
    /// E [Pa].
    #[must_use]
    pub fn modulus(self) -> f64 {
        match self {
            Self::Steel => 206e9,
            Self::Glass => 19e9,
            Self::Carbon => 55e9,
        }
    }

    /// ρ [kg/m³].
    #[must_use]
    pub fn density(self) -> f64 {
        match self {
            Self::Steel => 7800.0,
            Self::Glass => 1850.0,
            Self::Carbon => 1550.0,
        }
    }

    /// Bending stress between nothing and which a petal swings for ever [Pa].
    #[must_use]
    pub fn fatigue_stress(self) -> f64 {
        match self {
            Self::Steel => 600e6,
            Self::Glass => 90e6,
            Self::Carbon => 250e6,
        }
    }
}

/// A petal: a strip of even thickness, held along one edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Petal {
    /// Free length from the edge that holds it to its tip L [m].
    pub length: f64,
    /// Width b [m].
    pub width: f64,
    /// Thickness t [m].
    pub thickness: f64,
    /// Modulus of elasticity E [Pa].
    pub modulus: f64,
    /// Density ρ [kg/m³].
    pub density: f64,
    /// Natural frequency as measured [Hz]; it takes the place of the modulus.
    pub measured_frequency: Option<f64>,
    /// Damping of its free vibration over critical damping ζ.
    pub damping: f64,
    /// Share of its speed with which it leaves seat or stop.
    pub restitution: f64,
    /// Bending stress that lasts [Pa].
    pub fatigue_stress: f64,
}

/// Petals of one kind, side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct ReedStage {
    /// What it is called.
    pub name: String,
    /// How many petals.
    pub petals: f64,
    /// Each of them.
    pub petal: Petal,
    /// Length of the window under a petal, along the petal [m].
    pub window_length: f64,
    /// Its width, ribs left out [m].
    pub window_width: f64,
    /// Distance from the window's end to the petal's tip [m].
    pub overlap: f64,
    /// Lift of the tip at the stop [m].
    pub stop: f64,
}

/// A reed block.
#[derive(Debug, Clone, PartialEq)]
pub struct Reed {
    /// Its stages, side by side.
    pub stages: Vec<ReedStage>,
    /// Frequency of a petal on its seat or stop over that of free vibration.
    pub contact: f64,
}

impl Reed {
    /// The contact that stands where a file says nothing.
    #[must_use]
    pub fn new(stages: Vec<ReedStage>) -> Self {
        Self { stages, contact: CONTACT }
    }
}

/// Frequency of a petal's fourth bending mode over its first: (10.9955/1.8751)².
pub const CONTACT: f64 = 34.386_2;
