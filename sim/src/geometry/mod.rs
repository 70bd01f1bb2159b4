//! temp
use crate::spec::*;
pub fn squish_gap(s: &EngineSpec) -> f64 {
    s.stack.deck + s.stack.head_total() + s.head.land_offset
}
pub fn clearance_volume(s: &EngineSpec) -> f64 {
    let a = std::f64::consts::FRAC_PI_4 * s.bore * s.bore;
    match s.head.clearance {
        Clearance::Assembled {
            volume,
            deck,
            head_gasket,
        } => volume + a * (s.stack.deck - deck + s.stack.head_total() - head_gasket),
        Clearance::SquishPlane { volume, crevices } => {
            volume + a * squish_gap(s) - s.piston.dome_volume + crevices
        }
        Clearance::JointPlane {
            volume,
            gasket_hole_area,
            spigot_volume,
        } => {
            volume + a * s.stack.deck + gasket_hole_area * s.stack.head_total()
                - spigot_volume
                - s.piston.dome_volume
        }
    }
}
