//! Deck, squish, clearance, compression; squish velocity and what else follows from speed.

use super::timing;
use super::{List, Section};
use crate::geometry::{
    bore_area, clearance_volume, crankcase_ratio, geometric_ratio, squish_gap, squish_velocity,
    swept_volume, trapped_ratio,
};
use crate::spec::EngineSpec;
use crate::units::{DEG, MM, angular_speed};

const CM3: f64 = 1e-6;

pub(super) fn gather(list: &mut List) {
    let section = Section::Stack;
    let spec = list.spec;
    let gap = squish_gap(spec);
    list.put(
        section,
        "base_stack_mm",
        "base gaskets and spacers",
        "mm",
        spec.stack.base_total() / MM,
    );
    list.put(section, "head_gaskets_total_mm", "head gaskets", "mm", spec.stack.head_total() / MM);
    list.put(
        section,
        "deck_mm",
        "deck: crown edge below top face at top dead centre",
        "mm",
        spec.stack.deck / MM,
    );
    list.put(section, "squish_mm", "squish gap at the wall", "mm", gap / MM);
    list.put(section, "swept_cm3", "swept volume", "cm³", swept_volume(spec) / CM3);
    list.put(section, "clearance_cm3", "clearance volume", "cm³", clearance_volume(spec) / CM3);
    list.put(
        section,
        "geometric_ratio",
        "full-stroke compression ratio",
        "–",
        geometric_ratio(spec),
    );
    if let Some((_, closes)) = timing::exhaust(list) {
        let ratio = trapped_ratio(spec, list.crank.at(closes).drop);
        list.put(
            section,
            "trapped_ratio",
            "trapped compression ratio, above exhaust closing",
            "–",
            ratio,
        );
    }
    list.put(
        section,
        "crankcase_ratio",
        "crankcase ratio, largest over smallest volume",
        "–",
        crankcase_ratio(spec),
    );
    if list.crank.pin_offset != 0.0 {
        let bottom = list.crank.bottom_angle() / DEG;
        list.put(
            section,
            "travel_mm",
            "piston travel (not twice the throw: pin offset)",
            "mm",
            list.crank.travel() / MM,
        );
        list.put(section, "bottom_dead_centre_deg", "bottom dead centre, after top", "°", bottom);
    }
}

/// Largest squish velocity and where it stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SquishPeak {
    /// [m/s].
    pub velocity: f64,
    /// Before top dead centre [rad].
    pub before_top: f64,
}

/// Largest ideal squish velocity on the way up [m/s]; none without a squish band or where the piston
/// touches.
#[must_use]
pub fn peak_squish(spec: &EngineSpec, rpm: f64) -> Option<SquishPeak> {
    let crank = crate::geometry::crank(spec);
    let gap = squish_gap(spec);
    let bowl = spec.bore - 2.0 * spec.head.squish_band;
    if gap <= 0.0 || spec.head.squish_band <= 0.0 || bowl <= 0.0 {
        return None;
    }
    let bowl_volume = clearance_volume(spec) - bore_area(spec) * gap;
    let omega = angular_speed(rpm);
    let velocity = |before: f64| {
        let here = crank.at(-before);
        squish_velocity(spec.bore, bowl, gap + here.drop, bowl_volume, here.slope * omega)
    };
    // one hump: golden-section search between top dead centre and 60° before it
    let (mut low, mut high) = (0.0, 60.0 * DEG);
    let share = 0.5 * (5.0_f64.sqrt() - 1.0);
    for _ in 0..60 {
        let (left, right) = (high - share * (high - low), low + share * (high - low));
        if velocity(left) < velocity(right) { low = left } else { high = right }
    }
    let before_top = 0.5 * (low + high);
    Some(SquishPeak { velocity: velocity(before_top), before_top })
}

/// Rod's shank assumed for its stretch [m²] and steel's modulus [Pa] (common practice, no source).
const SHANK: f64 = 60e-6;
const STEEL: f64 = 206e9;

pub(super) fn with_speed(list: &mut List, speeds: &[f64]) {
    let section = Section::Speed;
    let travel = list.crank.travel();
    for &rpm in speeds {
        let at = |name: &str| format!("{name}@{rpm:.0}");
        let words = |what: &str| format!("{what} at {rpm:.0}/min");
        let mean = 2.0 * travel * rpm / 60.0;
        list.put(section, at("mean_piston_speed_m_per_s"), words("mean piston speed"), "m/s", mean);
        let omega = angular_speed(rpm);
        let top = list.crank.at(0.0).curvature * omega * omega;
        list.put(
            section,
            at("top_acceleration_g"),
            words("acceleration at top dead centre"),
            "g",
            top / 9.80665,
        );
        if let Some(peak) = peak_squish(list.spec, rpm) {
            list.put(
                section,
                at("squish_velocity_m_per_s"),
                words("largest squish velocity"),
                "m/s",
                peak.velocity,
            );
            list.put(
                section,
                at("squish_peak_deg_btdc"),
                words("… before top dead centre"),
                "°",
                peak.before_top / DEG,
            );
        }
        if let Some(mass) = list.spec.piston.mass {
            let stretch = mass * top * list.crank.rod / (SHANK * STEEL);
            list.put(
                section,
                at("rod_stretch_mm"),
                words("rod stretch (60 mm² shank)"),
                "mm",
                stretch / MM,
            );
        }
    }
    for limit in [18.0, 20.0, 22.0] {
        let rpm = limit * 60.0 / (2.0 * travel);
        let key = format!("rpm_at_{limit:.0}_m_per_s");
        list.put(section, key, format!("speed at {limit:.0} m/s mean piston speed"), "1/min", rpm);
    }
}
