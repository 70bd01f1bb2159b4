//! Engine files: units, entry forms, stacks, and what never happens.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::crank::Crank;
use freshcharge_sim::model::Engine;
use freshcharge_sim::scenario::{self, Scenario};
use freshcharge_sim::units::DEG;
use proptest::prelude::*;

const TOURING: &str = include_str!("../../scenarios/touring.toml");

fn read(text: &str) -> Scenario {
    scenario::read(text).unwrap_or_else(|faults| panic!("{faults:#?}"))
}

#[test]
fn line_ends_and_byte_order_mark_do_not_matter() {
    let windows = format!("\u{feff}{}", TOURING.replace('\n', "\r\n"));
    assert_eq!(read(&windows).spec, read(TOURING).spec);
}

#[test]
fn imperial_quantities_and_tolerances_are_understood() {
    let inches = TOURING.replace("bore_mm = 22.0", "bore_mm = \"0.866141732283 in\"");
    let there = read(&inches).spec.carburettor.unwrap().venturi;
    assert!((there - 0.022).abs() < 1e-12);
    let with = TOURING.replace("bore_mm = 55.5", "bore_mm = \"55.5 ± 0.02 mm\"");
    let scenario = read(&with);
    assert_eq!(scenario.tolerances.len(), 1);
    assert_eq!(scenario.tolerances[0].0, "crank_train.bore_mm");
    assert!((scenario.tolerances[0].1 - 0.02e-3).abs() < 1e-15);
}

/// Durations [deg] of the first exhaust and transfer window.
fn durations(scenario: &Scenario) -> (f64, f64) {
    let engine = Engine::new(&scenario.spec).unwrap();
    let t = engine.timing();
    let of = |opens: f64, closes: f64| (closes - opens) / DEG;
    (of(t.exhaust_opens, t.exhaust_closes), of(t.group_opens[0], t.group_closes[0]))
}

#[test]
fn an_edge_by_angle_is_the_edge_by_depth() {
    let spec = read(TOURING).spec;
    let crank = Crank::new(spec.crank_train.radius, spec.crank_train.rod, 0.0);
    let roof = spec.exhaust.windows[0].roof_depth;
    let angle = crank.angle_down(roof - spec.stack.deck).unwrap() / DEG;
    let entry = format!("opens_deg_atdc = {angle:.13}");
    let by_angle = TOURING.replace("roof_depth_mm = 33.1", &entry);
    let other = read(&by_angle).spec.exhaust.windows[0].roof_depth;
    assert!((other - roof).abs() < 1e-12, "{other} {roof}");
    let both =
        TOURING.replace("roof_depth_mm = 33.1", "roof_depth_mm = 33.1\nopens_deg_atdc = 98.5");
    let notes = read(&both).notes;
    assert!(notes.iter().any(|n| n.contains("disagree by")), "{notes:?}");
}

#[test]
fn an_angle_read_with_another_spacer_gives_the_depth_it_had() {
    let entry = "opens_deg_atdc = 95.0\n[exhaust.window.measured]\nbase_gaskets_mm = [0.4, 1.0]\n";
    let text = TOURING.replace("roof_depth_mm = 33.1\n", "");
    let text = text.replace("radial_deg = 0.0\n", entry);
    let roof = read(&text).spec.exhaust.windows[0].roof_depth;
    let spec = read(TOURING).spec;
    let crank = Crank::new(spec.crank_train.radius, spec.crank_train.rod, 0.0);
    // with the spacer the deck was 1.3 mm
    let wanted = crank.at(95.0 * DEG).drop + 0.0013;
    assert!((roof - wanted).abs() < 1e-12, "{roof} {wanted}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// A spacer raises every port; the roofs lowered by as much restore every duration.
    #[test]
    fn spacer_and_lower_roofs_cancel(spacer in 0.1_f64..2.0) {
        let base = read(TOURING);
        // measured with the old gasket, run with a thicker one
        let raised = read(TOURING).with("stack.base_gaskets_mm[0]", 0.4 + spacer).unwrap();
        prop_assert!(durations(&raised).0 > durations(&base).0);
        let lowered = raised
            .with("exhaust.window[0].roof_depth_mm", 33.1 + spacer)
            .and_then(|s| s.with("transfer[0].window[0].roof_depth_mm", 42.1 + spacer))
            .and_then(|s| s.with("transfer[0].window[1].roof_depth_mm", 42.1 + spacer))
            .unwrap();
        let (a, b) = (durations(&lowered), durations(&base));
        prop_assert!((a.0 - b.0).abs() < 1e-9 && (a.1 - b.1).abs() < 1e-9, "{:?} {:?}", a, b);
    }

    /// A cut of the top face changes depths and deck, and no angle.
    #[test]
    fn a_cut_top_face_moves_no_angle(cut in 0.0_f64..0.29) {
        let base = read(TOURING);
        let cut = base.with("stack.top_face_cut_mm", cut).unwrap();
        let (a, b) = (durations(&cut), durations(&base));
        prop_assert!((a.0 - b.0).abs() < 1e-9 && (a.1 - b.1).abs() < 1e-9);
    }

    /// Whatever bytes come, the reader answers and does not panic.
    #[test]
    fn mutilated_files_never_panic(at in 0..TOURING.len(), byte in 0_u8..=255, cut in 0..200_usize) {
        let mut bytes = TOURING.as_bytes().to_vec();
        bytes[at] = byte;
        let end = (at + cut).min(bytes.len());
        bytes.drain((at + 1).min(end)..end);
        let text = String::from_utf8_lossy(&bytes);
        if let Ok(scenario) = scenario::read(&text) {
            let _ = Engine::new(&scenario.spec);
        }
    }
}

#[test]
fn pipes_are_read_section_by_section() {
    let pipes = "[inlet_pipe]\nheat = 0.0\n[[inlet_pipe.section]]\nname = \"bell\"\nlength_mm = 60.0\nfrom_mm = 40.0\nto_mm = 28.0\n[[inlet_pipe.section]]\nlength_mm = \"2 in\"\n";
    let spec = read(&format!("{TOURING}\n{pipes}")).spec;
    let pieces = spec.inlet_pipe.as_ref().unwrap().pieces.iter().map(|p| p.form);
    let expected = [(0.06, 0.04, 0.028), (0.0508, 0.028, 0.028)];
    for (form, (length, from, to)) in pieces.zip(expected) {
        let freshcharge_sim::spec::PieceForm::Section { length: l, from: f, to: t, .. } = form
        else {
            panic!("{form:?}")
        };
        for (value, wanted) in [(l, length), (f, from), (t, to)] {
            assert!((value - wanted).abs() < 1e-12, "{value} {wanted}");
        }
    }
    assert!(spec.has_pipes() && !spec.without_pipes().has_pipes());
    assert_eq!(spec.cell, 0.01);
    assert!(Engine::new(&spec).unwrap().at_speed(6000.0).unwrap().pipes.is_some());
}
