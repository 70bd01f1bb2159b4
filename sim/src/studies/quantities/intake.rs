//! Carburettor, intake area, exhaust exit, transfer against exhaust.

use super::{List, Section};
use crate::geometry::{reed, swept_volume};
use crate::spec::{Intake, Reed, ReedStage, Window};
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
        Intake::Reed { reed, .. } => reed.stages.iter().map(reed::area_at_stop).sum(),
    };
    list.put(section, "intake_area_mm2", "intake area, open", "mm²", intake * 1e6);
    if let Some(reed) = spec.intake.reed() {
        petals(list, reed, speeds);
        let behind = area(spec.intake.windows());
        if behind > 0.0 {
            let words = "reed: windows in the bore behind the block over its area at the stop";
            list.put(section, "reed_windows_to_passage", words, "–", behind / intake);
        }
    }
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
    if spec.intake.reed().is_some() {
        let words = "reed: area at the stop over that of the venturi";
        list.put(section, "reed_area_to_venturi", words, "–", intake / venturi);
    }
    for rpm in speeds {
        // D = K·√(V·N), V in litres
        let k = carburettor.venturi / MM / (swept * 1e3 * rpm).sqrt();
        let words = format!("carburettor constant K at {rpm:.0}/min (D = K·√(V·N), mm, litres)");
        list.put(section, format!("carburettor_k@{rpm:.0}"), words, "–", k);
    }
}

/// Petals by stage, and the weakest of all of them.
fn petals(list: &mut List, block: &Reed, speeds: &[f64]) {
    let section = Section::Passages;
    let stress = |s: &ReedStage| reed::root_stress(&s.petal) * s.stop;
    let fatigue = |s: &ReedStage| stress(s) / s.petal.fatigue_stress;
    let frequency = |s: &ReedStage| reed::natural_frequency(&s.petal);
    for stage in &block.stages {
        let name = stage.name.replace('-', "_").to_lowercase();
        let mut put = |what: &str, words: &str, unit, value| {
            let words = format!("reed {}: {words}", stage.name);
            list.put(section, format!("reed_{name}_{what}"), words, unit, value);
        };
        put("frequency_hz", "natural frequency", "Hz", frequency(stage));
        put("windows_mm2", "windows of the block", "mm²", reed::windows(stage) * 1e6);
        put("area_at_stop_mm2", "area at the stop", "mm²", reed::area_at_stop(stage) * 1e6);
        put("stress_at_stop_mpa", "root stress at the stop", "MPa", stress(stage) / 1e6);
    }
    if let Some(most) = block.stages.iter().map(fatigue).reduce(f64::max) {
        let words = "reed: root stress at the stop over the stress that lasts";
        list.put(section, "reed_stress_at_stop_to_fatigue", words, "–", most);
    }
    let Some(slowest) = block.stages.iter().map(frequency).reduce(f64::min) else { return };
    for rpm in speeds {
        let words = format!("reed: natural frequency over {rpm:.0}/min");
        let key = format!("reed_frequency_to_speed@{rpm:.0}");
        list.put(section, key, words, "–", slowest * 60.0 / rpm);
    }
}
