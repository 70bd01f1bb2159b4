//! Heads of columns: what each is, and the factor into the unit used here.

use super::Quantity;

/// Where a pressure was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// In the cylinder.
    Cylinder,
    /// In the crankcase.
    Crankcase,
    /// Behind the exhaust window.
    Exhaust,
}

impl Place {
    const ALL: [(&'static str, Self); 3] =
        [("cylinder", Self::Cylinder), ("crankcase", Self::Crankcase), ("exhaust", Self::Exhaust)];

    /// In a word.
    pub fn words(self) -> &'static str {
        match self {
            Self::Cylinder => "cylinder",
            Self::Crankcase => "crankcase",
            Self::Exhaust => "exhaust",
        }
    }
}

/// What a column is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Head {
    /// Speed [1/min].
    Speed,
    /// Crank angle [deg after top dead centre].
    Angle,
    /// Time that fuel was weighed over [s].
    Time,
    /// A quantity over speed, and the factor into its unit.
    Over(Quantity, f64),
    /// Fuel that was weighed, and the factor into grams.
    Weighed(f64),
    /// A pressure, the factor into bar, and whether it is over ambient.
    Pressure(Place, f64, bool),
}

/// Quantities over speed. The horsepower of 550 ft·lbf/s and the metric one of 75 kgf·m/s, the pound-force and
/// the inch are theirs by definition.
const HEADS: &[(&str, Head)] = &[
    ("power_kw", Head::Over(Quantity::Power, 1.0)),
    ("power_hp", Head::Over(Quantity::Power, 0.745_699_87)),
    ("power_ps", Head::Over(Quantity::Power, 0.735_498_75)),
    ("torque_nm", Head::Over(Quantity::Torque, 1.0)),
    ("torque_lbft", Head::Over(Quantity::Torque, 1.355_817_95)),
    ("fuel_g_per_min", Head::Over(Quantity::Fuel, 1.0)),
    ("fuel_kg_per_h", Head::Over(Quantity::Fuel, 1000.0 / 60.0)),
    ("fuel_g_per_kg_air", Head::Over(Quantity::FuelInAir, 1.0)),
    ("air_g_per_min", Head::Over(Quantity::Air, 1.0)),
    ("air_kg_per_h", Head::Over(Quantity::Air, 1000.0 / 60.0)),
    ("compression_gauge_bar", Head::Over(Quantity::Gauge, 1.0)),
    ("compression_gauge_psi", Head::Over(Quantity::Gauge, PSI)),
    ("compression_gauge_kpa", Head::Over(Quantity::Gauge, 1e-2)),
    ("fuel_g", Head::Weighed(1.0)),
];
const PSI: f64 = 0.068_947_572_93;
const UNITS: &[(&str, f64)] =
    &[("bar", 1.0), ("mbar", 1e-3), ("kpa", 1e-2), ("mpa", 10.0), ("pa", 1e-5), ("psi", PSI)];

impl Head {
    /// What a head says.
    pub(super) fn of(name: &str) -> Option<Self> {
        let name = name.trim().to_lowercase();
        match name.as_str() {
            "rpm" | "speed_rpm" => return Some(Self::Speed),
            "angle_deg" | "angle_deg_atdc" => return Some(Self::Angle),
            "time_s" => return Some(Self::Time),
            _ => {}
        }
        if let Some((_, head)) = HEADS.iter().find(|h| h.0 == name) {
            return Some(*head);
        }
        let (place, unit) = name.split_once("_pressure_")?;
        let (unit, gauge) = unit.strip_suffix("_gauge").map_or((unit, false), |u| (u, true));
        let (_, place) = Place::ALL.iter().find(|p| p.0 == place)?;
        let (_, factor) = UNITS.iter().find(|u| u.0 == unit)?;
        Some(Self::Pressure(*place, *factor, gauge))
    }
}

/// Heads of what is measured over speed.
pub(super) fn over_speed() -> Vec<String> {
    let plain = HEADS.iter().map(|h| h.0.to_owned());
    plain.map(|h| if h == "fuel_g" { "fuel_g with time_s".to_owned() } else { h }).collect()
}

/// Heads of what is measured over the crank angle.
pub(super) fn over_angle() -> Vec<String> {
    let units: Vec<&str> = UNITS.iter().map(|u| u.0).collect();
    Place::ALL.iter().map(|p| format!("{}_pressure_{}", p.0, units.join("|"))).collect()
}
