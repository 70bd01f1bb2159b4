//! Ports: windows in the bore, ducts behind them, intake valves.

use super::pipes::{PieceForm, Pipework};
use super::reed::Reed;

/// A window in the bore. Depths are from the cylinder's present top face to the bore edge of any
/// chamfer.
#[derive(Debug, Clone, PartialEq)]
pub struct Window {
    /// Centre line round the bore [rad], zero at the exhaust side, positive clockwise seen from above.
    pub centre: f64,
    /// Width across the chord [m].
    pub chord: f64,
    /// Depth of the roof's highest point h [m].
    pub roof_depth: f64,
    /// Depth of the floor's lowest point [m].
    pub floor_depth: f64,
    /// Radius of the two upper corners [m].
    pub roof_radius: f64,
    /// Radius of the two lower corners [m].
    pub floor_radius: f64,
    /// Sagitta of a curved roof: how much lower it stands at the sides than at its middle [m].
    pub roof_arch: f64,
    /// Entry angle of the duct to the plane square to the bore axis, upward positive [rad].
    pub axial_angle: f64,
    /// Entry angle of the duct to the radius [rad].
    pub radial_angle: f64,
}

/// Discharge coefficient of a port.
#[derive(Debug, Clone, PartialEq)]
pub enum Discharge {
    /// One value for everything.
    Constant(f64),
    /// Tables over opening ratio and pressure ratio for each direction.
    Table(DischargeTable),
}

/// C_d over the opening ratio (open area over full area) and the pressure ratio (downstream over
/// upstream), bilinear between the points, constant beyond them.
#[derive(Debug, Clone, PartialEq)]
pub struct DischargeTable {
    /// Opening ratios, rising.
    pub opening: Vec<f64>,
    /// Pressure ratios, rising.
    pub pressure_ratio: Vec<f64>,
    /// Out of the cylinder (exhaust) or into it (transfer), or into the crankcase (intake):
    /// row for row of opening, one value for each pressure ratio.
    pub forward: Vec<f64>,
    /// The other way.
    pub reverse: Vec<f64>,
}

/// Exhaust port and what lies behind it.
#[derive(Debug, Clone, PartialEq)]
pub struct Exhaust {
    /// Windows.
    pub windows: Vec<Window>,
    /// Discharge coefficient of the windows.
    pub discharge: Discharge,
    /// Area of the duct where it leaves the casting, in series with the window [m²].
    pub exit_area: Option<f64>,
    /// Volume of the duct in the casting [m³].
    pub duct_volume: f64,
    /// Loss of a ledge at the joint for outward flow, velocity heads in the exit.
    pub ledge_loss_outward: f64,
    /// The same for inward flow.
    pub ledge_loss_inward: f64,
    /// Pressure behind the duct, or outside the silencer [Pa].
    pub back_pressure: f64,
    /// Temperature of the burned gas that stands behind the duct, or outside the silencer [K].
    pub outside_temperature: f64,
    /// A volume behind the duct.
    pub silencer: Option<Silencer>,
    /// Length of the duct in the casting [m], where it is a pipe.
    pub duct_length: Option<f64>,
    /// Pipes behind the casting, with waves in them.
    pub pipe: Option<Pipework>,
}

impl Exhaust {
    /// Diameter where the casting's duct leaves it [m]: as measured, else that of the pipe behind.
    #[must_use]
    pub fn duct_exit(&self) -> Option<f64> {
        let measured = self.exit_area.map(|a| (4.0 * a / std::f64::consts::PI).sqrt());
        let first = self.pipe.as_ref().and_then(|p| p.pieces.first()).map(|p| p.form);
        measured.or(match first {
            Some(PieceForm::Section { from, .. }) => Some(from),
            _ => None,
        })
    }

    /// Diameter at which a casting's duct of this length begins, so that a cone to its exit holds its
    /// volume [m]; none where it would have to be less than a third of the exit.
    #[must_use]
    pub fn duct_entry(&self, length: f64) -> Option<f64> {
        // V = πL/12·(d₁² + d₁d₂ + d₂²)
        let d2 = self.duct_exit()?;
        let sum = 12.0 * self.duct_volume / (std::f64::consts::PI * length);
        let d1 = 0.5 * ((4.0 * sum - 3.0 * d2 * d2).max(0.0).sqrt() - d2);
        (d1 > d2 / 3.0).then_some(d1)
    }
}

/// A silencer as one volume with an outlet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Silencer {
    /// Volume, that of the casting's duct not included [m³].
    pub volume: f64,
    /// Outlet area [m²].
    pub outlet_area: f64,
    /// Discharge coefficient of the outlet.
    pub outlet_discharge: f64,
    /// Heat transfer coefficient times wetted area [W/K].
    pub wall_conductance: f64,
    /// Wall temperature [K].
    pub wall_temperature: f64,
}

/// Length and area of a gas column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InertiveDuct {
    /// Length L [m].
    pub length: f64,
    /// Area A_d [m²].
    pub area: f64,
    /// Entry loss for forward flow ζ_e, velocity heads.
    pub entry_loss: f64,
    /// Fanning friction factor f.
    pub friction: f64,
    /// Whether the column's inertia is computed; false leaves a bare orifice.
    pub inertive: bool,
}

/// A transfer duct, or several alike, with the windows it feeds.
#[derive(Debug, Clone, PartialEq)]
pub struct TransferGroup {
    /// What the builder calls it ("main", "boost").
    pub name: String,
    /// Windows.
    pub windows: Vec<Window>,
    /// Discharge coefficient of the windows.
    pub discharge: Discharge,
    /// Volume of the ducts of this group together V_d [m³].
    pub duct_volume: f64,
    /// The column, where its length is known.
    pub duct: Option<InertiveDuct>,
    /// Heat transfer coefficient times wetted area of the returned slug's wall [W/K].
    pub wall_conductance: f64,
    /// Wall temperature [K].
    pub wall_temperature: f64,
}

/// Crank-web or disc valve: a cut-out passing a window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RotaryInlet {
    /// Where the window begins to open [rad after top dead centre], usually negative.
    pub opens: f64,
    /// Where it is closed again [rad after top dead centre].
    pub closes: f64,
    /// Angle over which the window goes from shut to open, its own width as seen from the shaft [rad].
    pub ramp: f64,
    /// Area when open [m²].
    pub area: f64,
}

/// Intake port or valve.
#[derive(Debug, Clone, PartialEq)]
pub enum Intake {
    /// The crank web or a disc is the valve.
    Rotary {
        /// Timing and area.
        valve: RotaryInlet,
        /// True for a separate disc, false for the crank web; changes words only.
        disc: bool,
        /// Discharge coefficient.
        discharge: Discharge,
    },
    /// The piston skirt uncovers windows.
    PistonPort {
        /// Windows.
        windows: Vec<Window>,
        /// Discharge coefficient.
        discharge: Discharge,
    },
    /// Petals lift where the crankcase draws.
    Reed {
        /// Petals and windows of the block.
        reed: Reed,
        /// Discharge coefficient of the block; its opening ratio is that over the area at the stop.
        discharge: Discharge,
        /// Windows in the bore behind the block, opened by the skirt; none where it leads straight into
        /// the crankcase.
        windows: Vec<Window>,
        /// Their discharge coefficient.
        window_discharge: f64,
    },
}

impl Intake {
    /// Discharge coefficient of the port or valve.
    #[must_use]
    pub fn discharge(&self) -> &Discharge {
        match self {
            Self::Rotary { discharge, .. }
            | Self::PistonPort { discharge, .. }
            | Self::Reed { discharge, .. } => discharge,
        }
    }

    /// Windows that the piston's skirt opens.
    #[must_use]
    pub fn windows(&self) -> &[Window] {
        match self {
            Self::Rotary { .. } => &[],
            Self::PistonPort { windows, .. } | Self::Reed { windows, .. } => windows,
        }
    }

    /// The same, to be changed.
    pub fn windows_mut(&mut self) -> &mut [Window] {
        match self {
            Self::Rotary { .. } => &mut [],
            Self::PistonPort { windows, .. } | Self::Reed { windows, .. } => windows,
        }
    }

    /// The reed block, where there is one.
    #[must_use]
    pub fn reed(&self) -> Option<&Reed> {
        match self {
            Self::Reed { reed, .. } => Some(reed),
            _ => None,
        }
    }
}

/// Inlet tract from carburettor to intake port.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InletTract {
    /// The column.
    pub duct: InertiveDuct,
}
