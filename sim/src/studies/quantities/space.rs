//! Floors and skirt at the dead centres.

use super::{List, Section};
use crate::spec::Window;
use crate::units::MM;

fn lowest(windows: &[Window]) -> Option<f64> {
    windows.iter().map(|w| w.floor_depth).max_by(f64::total_cmp)
}

pub(super) fn gather(list: &mut List) {
    let section = Section::DeadCentres;
    let spec = list.spec;
    let crown_at_bottom = spec.stack.deck + list.crank.travel();
    let skirt_at_top = spec.stack.deck + spec.piston.skirt_length;
    if let Some(floor) = lowest(&spec.exhaust.windows) {
        let words = "crown below the exhaust floor at bottom dead centre";
        list.put(section, "exhaust_floor_margin_mm", words, "mm", (crown_at_bottom - floor) / MM);
        let words = "skirt below the exhaust floor at top dead centre";
        list.put(section, "skirt_below_exhaust_floor_mm", words, "mm", (skirt_at_top - floor) / MM);
    }
    for group in &spec.transfers {
        let Some(floor) = lowest(&group.windows) else { continue };
        let key = group.name.replace([' ', '-'], "_").to_lowercase();
        let words = format!("crown below the {} transfer floor at bottom dead centre", group.name);
        let margin = (crown_at_bottom - floor) / MM;
        list.put(section, format!("transfer_{key}_floor_margin_mm"), words, "mm", margin);
    }
    let windows = spec.intake.windows();
    if !windows.is_empty() {
        let roof = windows.iter().map(|w| w.roof_depth).min_by(f64::total_cmp);
        let words =
            "crown edge above the intake roof at bottom dead centre (negative: the crown opens it)";
        if let Some(roof) = roof {
            list.put(section, "intake_roof_cover_mm", words, "mm", (roof - crown_at_bottom) / MM);
        }
    }
}
