//! Everything that is not a port: crank train, piston, stack, head, crankcase, burning, heat.

/// Crank throw and connecting rod. Kinematics stand in [`crate::crank`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrankTrain {
    /// Crank radius r, half the file's stroke [m].
    pub radius: f64,
    /// Rod length between centres l [m].
    pub rod: f64,
    /// Pin offset e [m], positive toward the side the crank pin moves to first after top dead
    /// centre.
    pub pin_offset: f64,
}

/// Piston.
#[derive(Debug, Clone, PartialEq)]
pub struct Piston {
    /// Gudgeon pin centre to crown edge k [m].
    pub compression_height: f64,
    /// Crown edge to lower skirt edge H [m].
    pub skirt_length: f64,
    /// Depth of each ring's upper face below the crown edge [m].
    pub ring_depths: Vec<f64>,
    /// Position of each ring's peg round the bore [rad], zero at the exhaust centre line.
    pub ring_pegs: Vec<f64>,
    /// Volume of the crown above its edge [m³].
    pub dome_volume: f64,
    /// Height of the chamfer on the crown edge [m]; it lets ports open by so much earlier.
    pub crown_chamfer: f64,
    /// Mass of piston, pin and rings [kg], for inertia forces only.
    pub mass: Option<f64>,
}

/// What stands between crankcase and cylinder, and between cylinder and head, in the state to run.
#[derive(Debug, Clone, PartialEq)]
pub struct Stack {
    /// Compressed thickness of each base gasket [m].
    pub base_gaskets: Vec<f64>,
    /// Thickness of each spacer under the cylinder [m].
    pub spacers: Vec<f64>,
    /// Compressed thickness of each head gasket [m].
    pub head_gaskets: Vec<f64>,
    /// Distance of the crown edge below the cylinder's (present) top face at top dead centre δ [m].
    pub deck: f64,
}

impl Stack {
    /// Base gaskets and spacers together [m].
    #[must_use]
    pub fn base_total(&self) -> f64 {
        self.base_gaskets.iter().chain(&self.spacers).sum()
    }

    /// Head gaskets together t_g [m].
    #[must_use]
    pub fn head_total(&self) -> f64 {
        self.head_gaskets.iter().sum()
    }
}

/// Clearance volume, in the form in which it was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Clearance {
    /// Burette with everything assembled: the clearance volume itself [m³], with the deck and the
    /// head gasket [m] at that moment.
    Assembled {
        /// V_c [m³].
        volume: f64,
        /// δ then [m].
        deck: f64,
        /// t_g then [m].
        head_gasket: f64,
    },
    /// Bowl volume above the squish plane [m³]: V_c = V + A·z − V_dome + crevices.
    SquishPlane {
        /// Bowl volume [m³].
        volume: f64,
        /// Ring crevices, plug thread and the like [m³].
        crevices: f64,
    },
    /// Head volume above its joint plane [m³]: V_c = V + A·δ + A_hole·t_g − V_spigot − V_dome.
    JointPlane {
        /// Head volume [m³].
        volume: f64,
        /// Area of the hole in the head gasket [m²].
        gasket_hole_area: f64,
        /// Volume of the head's spigot that enters the bore [m³].
        spigot_volume: f64,
    },
}

/// Cylinder head.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Head {
    /// Clearance volume as measured.
    pub clearance: Clearance,
    /// Height of the squish land above the head's joint plane [m]; negative when it enters the bore.
    pub land_offset: f64,
    /// Width of the squish band [m].
    pub squish_band: f64,
    /// Angle of the squish land to the crown [rad].
    pub land_angle: f64,
}

/// Crankcase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crankcase {
    /// Volume with the piston at top dead centre, transfer ducts included [m³].
    pub volume_at_tdc: f64,
    /// Heat transfer coefficient times wetted area [W/K].
    pub wall_conductance: f64,
    /// Wall temperature [K].
    pub wall_temperature: f64,
}

/// Carburettor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Carburettor {
    /// Bore at the venturi [m].
    pub venturi: f64,
    /// Open share of the venturi's area, 0 to 1.
    pub throttle: f64,
    /// Discharge coefficient.
    pub discharge: f64,
}

/// A number that may depend on speed: linear between the points, constant beyond them.
#[derive(Debug, Clone, PartialEq)]
pub struct SpeedTable {
    /// Speeds [1/min], rising.
    pub rpm: Vec<f64>,
    /// Values, one for each speed.
    pub value: Vec<f64>,
}

impl SpeedTable {
    /// The same value at every speed.
    #[must_use]
    pub fn constant(value: f64) -> Self {
        Self { rpm: vec![0.0], value: vec![value] }
    }

    /// The value at `rpm`.
    #[must_use]
    pub fn at(&self, rpm: f64) -> f64 {
        let above = self.rpm.partition_point(|&r| r <= rpm);
        if above == 0 {
            return self.value[0];
        }
        if above == self.rpm.len() {
            return self.value[above - 1];
        }
        let (r0, r1) = (self.rpm[above - 1], self.rpm[above]);
        let share = (rpm - r0) / (r1 - r0);
        self.value[above - 1] + share * (self.value[above] - self.value[above - 1])
    }
}

/// Burning: x_b(y) = (1 − e^{−a y^{m+1}})/(1 − e^{−a}).
#[derive(Debug, Clone, PartialEq)]
pub struct Combustion {
    /// Start of burning [rad after top dead centre], negative before it.
    pub start: SpeedTable,
    /// Duration [rad].
    pub duration: SpeedTable,
    /// Wiebe form exponent m.
    pub form: f64,
    /// Wiebe a.
    pub completeness: f64,
    /// Share of the fresh charge that burns at all η_c.
    pub efficiency: f64,
}

/// Which correlation gives the gas-to-wall heat flow in the cylinder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum HeatLaw {
    /// q = a·(k/B)·Re^0.7·(T − T_w) + c·(T⁴ − T_w⁴), Re with the mean piston speed.
    Annand {
        /// Convective coefficient a.
        convective: f64,
        /// Radiative coefficient c [W/(m² K⁴)].
        radiative: f64,
    },
    /// h = 3.26·B^−0.2·p^0.8·T^−0.55·w^0.8 (p in kPa), w = C₁·c_m + C₂·…(p − p_motored).
    Woschni {
        /// Multiplies the whole coefficient.
        scale: f64,
    },
    /// No heat to the walls.
    Adiabatic,
}

/// Wall temperatures of the combustion space [K].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WallTemperatures {
    /// Cylinder head.
    pub head: f64,
    /// Piston crown.
    pub piston: f64,
    /// Liner.
    pub liner: f64,
}

/// Heat to the walls of the cylinder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heat {
    /// Correlation.
    pub law: HeatLaw,
    /// Wall temperatures.
    pub walls: WallTemperatures,
    /// Head surface over bore area.
    pub head_area_ratio: f64,
    /// Crown surface over bore area.
    pub crown_area_ratio: f64,
}

/// Friction mean effective pressure c₀ + c₁·mean piston speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Friction {
    /// c₀ [Pa].
    pub constant: f64,
    /// c₁ [Pa/(m/s)].
    pub per_piston_speed: f64,
}

/// Leak areas (effective, discharge coefficient included) [m²].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leaks {
    /// Past the rings, cylinder to crankcase.
    pub blow_by: f64,
    /// Crankcase to the surroundings.
    pub crankcase: f64,
}

/// What leaves through the exhaust during scavenging.
#[derive(Debug, Clone, PartialEq)]
pub enum ScavengingLaw {
    /// The cylinder's own mixture leaves.
    PerfectMixing,
    /// Only burned gas leaves while there is any.
    PerfectDisplacement,
    /// Displacement up to a purity, then mixing; a share of the fresh inflow leaves directly.
    TwoPart {
        /// Purity reached by displacement alone, 0 to 1.
        displaced: f64,
        /// Share of the fresh inflow that goes straight to the exhaust, 0 to 1.
        short_circuit: f64,
    },
    /// Measured curve η = 1 − exp(k₀ + k₁S + k₂S²), by volume at equal density.
    Curve {
        /// k₀.
        k0: f64,
        /// k₁.
        k1: f64,
        /// k₂.
        k2: f64,
    },
    /// Measured table of η over S, by volume at equal density; starts at (0, 0), strictly rising.
    Table {
        /// Scavenge ratios S.
        ratio: Vec<f64>,
        /// Scavenging efficiencies η.
        efficiency: Vec<f64>,
    },
}

/// Surroundings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ambient {
    /// Pressure [Pa].
    pub pressure: f64,
    /// Temperature [K].
    pub temperature: f64,
    /// Relative humidity, 0 to 1: for power corrections only, the model's air is dry.
    pub relative_humidity: f64,
}

/// Fuel (iso-octane) and mixture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fuel {
    /// Air–fuel ratio over the stoichiometric one λ.
    pub lambda: f64,
    /// Share of the fuel evaporated before the crankcase, 0 to 1.
    pub evaporated_share: f64,
    /// Whether evaporation takes its latent heat from the entering mixture.
    pub latent_cooling: bool,
}

/// A hole along the cylinder for a stud.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StudHole {
    /// Direction from the bore's axis, 0 at the exhaust, clockwise from above [rad].
    pub centre: f64,
    /// Distance of its axis from the bore's [m].
    pub distance: f64,
    /// Diameter [m].
    pub diameter: f64,
}
