//! Carburettor, intake area, exhaust exit, transfer against exhaust.

use super::facts::{List, Section};
use crate::geometry::swept_volume;
use crate::spec::{Intake, Window};
use crate::units::MM;
use crate::window::Shape;

fn area(windows: &[Window]) -> f64 {
    windows.iter().filter_map(|w| Shape::of(w).ok()).map(|s| s.area()).sum()
}

pub(super) fn gather(list: &mut List, speeds: &[f64]) {
    let section = Section::Passages;
    let spec = list.spec;
    let exhaust = area(&spec.exhaust.windows);
    let transfers: f64 = spec.transfers.iter().map(|g| area(&g.windows)).sum();
    list.put(
        section,
        "transfer_to_exhaust_area",
        "transfer windows over exhaust windows",
        "–",
        transfers / exhaust,
    );
    if let Some(exit) = spec.exhaust.exit_area {
        list.put(
            section,
            "exit_to_window_area",
            "exhaust exit over exhaust windows",
            "–",
            exit / exhaust,
        );
    }
    let intake = match &spec.intake {
        Intake::Rotary { valve, .. } => valve.area,
        Intake::PistonPort { windows, .. } => area(windows),
    };
    list.put(section, "intake_area_mm2", "intake area, open", "mm²", intake * 1e6);
    let Some(carburettor) = spec.carburettor else { return };
    let venturi = std::f64::consts::FRAC_PI_4 * carburettor.venturi * carburettor.venturi;
    let swept = swept_volume(spec);
    list.put(
        section,
        "venturi_mm2_per_cm3",
        "venturi area over swept volume",
        "mm²/cm³",
        venturi / swept,
    );
    list.put(section, "intake_to_venturi_area", "intake over venturi area", "–", intake / venturi);
    for rpm in speeds {
        // D = K·√(V·N), V in litres
        let k = carburettor.venturi / MM / (swept * 1e3 * rpm).sqrt();
        let words = format!("carburettor constant K at {rpm:.0}/min (D = K·√(V·N), mm, litres)");
        list.put(section, format!("carburettor_k@{rpm:.0}"), words, "–", k);
    }
}
