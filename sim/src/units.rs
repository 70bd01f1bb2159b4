//! Physical constants and the conversions used at the edges. Inside, everything is SI.

/// Molar gas constant [J/(mol K)], exact since the 2019 SI.
pub const MOLAR_GAS_CONSTANT: f64 = 8.314_462_618_153_24;
/// Standard atmosphere [Pa] (ISO 2533:1975).
pub const STANDARD_ATMOSPHERE: f64 = 101_325.0;
/// Ice point [K].
pub const ICE_POINT: f64 = 273.15;
/// One bar [Pa].
pub const BAR: f64 = 1e5;
/// One millimetre [m].
pub const MM: f64 = 1e-3;
/// One square millimetre [m²].
pub const MM2: f64 = 1e-6;
/// One cubic centimetre [m³].
pub const CM3: f64 = 1e-6;
/// One milligram [kg].
pub const MG: f64 = 1e-6;
/// Radians in one degree.
pub const DEG: f64 = std::f64::consts::PI / 180.0;
/// One full turn [rad].
pub const TURN: f64 = 2.0 * std::f64::consts::PI;

/// Angular speed [rad/s] of a crank turning at `rpm`.
#[must_use]
pub fn angular_speed(rpm: f64) -> f64 {
    rpm * TURN / 60.0
}
