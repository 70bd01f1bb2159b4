//! Whatever is written, the reader answers; what two entries say alike means the same engine.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::crank::Crank;
use freshcharge_sim::scenario::{self, FaultKind, Scenario};
use freshcharge_sim::units::DEG;
use proptest::prelude::*;

const FILES: [&str; 4] = [
    include_str!("../../scenarios/touring.toml"),
    include_str!("../../scenarios/short-blowdown.toml"),
    include_str!("../../scenarios/utility.toml"),
    include_str!("../../scenarios/disc-valve.toml"),
];
const TOURING: &str = FILES[0];

/// What people and accidents put into files.
const PIECES: [&str; 18] = [
    "nan",
    "-inf",
    "1e308",
    "-1e-308",
    "0",
    "\"",
    "'''",
    "[",
    "]]",
    "{",
    "=",
    "\u{feff}",
    "\r\n",
    "± 0.1",
    "\"5 in\"",
    "[[transfer]]",
    "é",
    "0x1F",
];

fn read(text: &str) -> Scenario {
    scenario::read(text).unwrap_or_else(|faults| panic!("{faults:#?}"))
}

/// Faults that can be shown: a line of the file, a key or a cause, and something to do about it.
fn well_formed(text: &str) {
    let lines = text.lines().count().max(1) + 1;
    match scenario::read(text) {
        Ok(scenario) => {
            // numbers only: a name may contain anything
            let shown = format!("{:?}", scenario.spec);
            let numbers: String = shown.split('"').step_by(2).collect();
            assert!(!numbers.contains("NaN") && !numbers.contains("inf"), "{shown}");
        }
        Err(faults) => {
            assert!(!faults.is_empty());
            for fault in &faults {
                assert!((1..=lines).contains(&fault.line), "{fault}");
                assert!(fault.column > 0 && !fault.remedy.is_empty(), "{fault}");
                assert!(!fault.remedy.contains("NaN"), "{fault}");
            }
            assert!(faults.windows(2).all(|w| w[0].line <= w[1].line));
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn pieces_put_anywhere_never_panic(
        file in 0..4_usize,
        places in prop::collection::vec((0..4000_usize, 0..PIECES.len()), 1..4),
    ) {
        let mut text = FILES[file].to_owned();
        for (at, piece) in places {
            let mut at = at % text.len();
            while !text.is_char_boundary(at) { at -= 1; }
            text.insert_str(at, PIECES[piece]);
        }
        well_formed(&text);
    }

    #[test]
    fn lines_lost_or_twice_never_panic(
        file in 0..4_usize,
        lost in prop::collection::vec(0..200_usize, 0..6),
        twice in 0..200_usize,
    ) {
        let mut lines: Vec<&str> = FILES[file].lines().collect();
        for line in lost {
            let at = line % lines.len();
            lines.remove(at);
        }
        let at = twice % lines.len();
        lines.insert(at, lines[at]);
        well_formed(&lines.join("\n"));
    }

    /// Any number at any key: an engine without a NaN, or faults that say why not.
    #[test]
    fn any_number_anywhere_is_an_engine_or_a_fault(
        file in 0..4_usize,
        key in 0..200_usize,
        value in prop_oneof![-1e3..1e3_f64, -5.0..5.0_f64, Just(0.0), Just(f64::MAX)],
    ) {
        let base = read(FILES[file]);
        let paths: Vec<String> = base.document.entries().map(|(path, _)| path).collect();
        let path = &paths[key % paths.len()];
        match base.with(path, value) {
            Ok(changed) => {
                let shown = format!("{:?}", changed.spec);
                prop_assert!(!shown.contains("NaN"), "{}", shown);
            }
            Err(faults) => prop_assert!(!faults.is_empty()),
        }
    }

    #[test]
    fn bytes_that_are_no_file_at_all_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        well_formed(&String::from_utf8_lossy(&bytes));
    }

    /// An edge by angle is the edge by depth, whatever the state, offset and chamfer.
    #[test]
    fn angle_and_depth_are_one(
        depth in 30.0..36.0_f64,
        spacer in 0.0..2.0_f64,
        offset in -1.5..1.5_f64,
        chamfer in 0.0..0.6_f64,
    ) {
        let text = TOURING
            .replace("rod_mm = 105.0", &format!("rod_mm = 105.0\npin_offset_mm = {offset}"))
            .replace("skirt_length_mm", &format!("crown_chamfer_mm = {chamfer}\nskirt_length_mm"))
            .replace("head_gaskets_mm", &format!("spacers_mm = [{spacer}]\nhead_gaskets_mm"));
        let by_depth = read(&text.replace("roof_depth_mm = 33.1", &format!("roof_depth_mm = {depth}")));
        let spec = &by_depth.spec;
        prop_assert!((spec.stack.deck - (0.3 + spacer) * 1e-3).abs() < 1e-12);
        let crank = Crank::new(0.026, 0.105, offset * 1e-3);
        // read with the measured stack, and again with the stack to run
        for (deck, state) in [(0.3, String::new()), (0.3 + spacer, format!("\n[exhaust.window.measured]\nspacers_mm = [{spacer}]"))] {
            let angle = crank.angle_down((depth - deck - chamfer) * 1e-3).unwrap() / DEG;
            let entry = format!("opens_deg_atdc = {angle:.15}");
            let by_angle = read(&text
                .replace("roof_depth_mm = 33.1", &entry)
                .replace("radial_deg = 0.0", &format!("radial_deg = 0.0{state}")));
            let other = &by_angle.spec.exhaust.windows[0];
            prop_assert!((other.roof_depth - spec.exhaust.windows[0].roof_depth).abs() < 1e-12);
        }
    }

    /// Deck shifts: a longer stroke lifts the crown by half of it, rod and compression height by all
    /// of it, base stack lowers it, a top-face cut lowers face and deck alike.
    #[test]
    fn deck_follows_the_stack(
        stroke in -2.0..2.0_f64, rod in -2.0..2.0_f64, height in -1.0..1.0_f64, cut in 0.0..1.0_f64,
    ) {
        let base = read(TOURING);
        let moved = base.with_all(&[
            ("crank_train.stroke_mm", 52.0 + stroke),
            ("crank_train.rod_mm", 105.0 + rod),
            ("piston.compression_height_mm", 32.0 + height),
            ("stack.base_total_mm", 4.4),
            ("stack.top_face_cut_mm", cut),
        ]).unwrap();
        let wanted = 0.3 + 4.0 - stroke / 2.0 - rod - height - cut;
        prop_assert!((moved.spec.stack.deck * 1e3 - wanted).abs() < 1e-9);
        let roof = |s: &Scenario| s.spec.exhaust.windows[0].roof_depth * 1e3;
        prop_assert!((roof(&moved) - (roof(&base) - cut)).abs() < 1e-9);
    }

    /// The three forms of the head's volume give each other exactly.
    #[test]
    fn head_forms_agree(
        gasket in 0.2..1.5_f64, deck in -0.5..0.8_f64, land in -0.5..1.5_f64, dome in 0.0..3.0_f64,
    ) {
        let area = std::f64::consts::FRAC_PI_4 * 5.55 * 5.55;
        let clearance = 13.2;
        let plane = clearance - area * (deck + gasket + land) / 10.0 + dome - 0.2;
        let joint = clearance - area * deck / 10.0
            - std::f64::consts::FRAC_PI_4 * 5.7 * 5.7 * gasket / 10.0 + 0.1 + dome;
        let text = TOURING
            .replace("head_gaskets_mm = [0.5]", &format!("head_gaskets_mm = [{gasket}]"))
            .replace("deck_mm = 0.3", &format!("deck_mm = {deck}"))
            .replace("land_offset_mm = 0.4", &format!("land_offset_mm = {land}"))
            .replace("dome_volume_cm3 = 2.6", &format!("dome_volume_cm3 = {dome}"));
        let forms = [
            "[head.assembled]\nvolume_cm3 = 13.2".to_owned(),
            format!("[head.squish_plane]\nvolume_cm3 = {plane}\ncrevices_cm3 = 0.2"),
            format!("[head.joint_plane]\nvolume_cm3 = {joint}\ngasket_hole_mm = 57.0\nspigot_volume_cm3 = 0.1"),
        ];
        prop_assume!(plane > 0.1 && joint > 0.1);
        for form in &forms {
            let spec = read(&text.replace("[head.assembled]\nvolume_cm3 = 13.2\nhead_gasket_mm = 0.5", form)).spec;
            let found = freshcharge_sim::geometry::clearance_volume(&spec) * 1e6;
            prop_assert!((found - clearance).abs() < 1e-9, "{form}: {found}");
        }
    }

    /// A crankcase measured at any piston position, ducts in or not, is one crankcase.
    #[test]
    fn crankcase_position_does_not_matter(drop in 0.0..52.0_f64, ducts in any::<bool>()) {
        let area = std::f64::consts::FRAC_PI_4 * 5.55 * 5.55;
        let without = if ducts { 0.0 } else { 43.0 };
        let volume = 430.0 - area * drop / 10.0 - without;
        let entry = format!("volume_cm3 = {volume}\npiston_drop_mm = {drop}\nincludes_ducts = {ducts}");
        let spec = read(&TOURING.replace("volume_cm3 = 430.0\nmeasured_at = \"top\"", &entry)).spec;
        prop_assert!((spec.crankcase.volume_at_tdc * 1e6 - 430.0).abs() < 1e-9);
    }
}

#[test]
fn an_arc_is_its_chord() {
    // practice: a chord of 36 mm in a bore of 55 mm is an arc of 39.246968 mm (exact)
    let text = TOURING
        .replace("bore_mm = 55.5", "bore_mm = 55.0")
        .replace("chord_mm = 35.0", "arc_mm = 39.246968");
    let chord = read(&text).spec.exhaust.windows[0].chord;
    assert!((chord - 0.036).abs() < 1e-9, "{chord}");
    let both = text.replace("arc_mm = 39.246968", "arc_mm = 39.6\nchord_mm = 36.0");
    let notes = read(&both).notes;
    assert!(notes.iter().any(|n| n.contains("arc_mm gives +0.7 %")), "{notes:?}");
    let absurd = both.replace("arc_mm = 39.6", "arc_mm = 46.0");
    assert_eq!(scenario::read(&absurd).unwrap_err()[0].kind, FaultKind::Contradiction);
}

#[test]
fn a_comma_between_digits_in_a_list_is_pointed_out() {
    let notes = read(&TOURING.replace("head_gaskets_mm = [0.5]", "head_gaskets_mm = [0,5]")).notes;
    assert!(notes.iter().any(|n| n.contains("write [0.5]")), "{notes:?}");
}

/// Units by their definitions: inch 25.4 mm (1959), pound-force per square inch 6894.757 Pa,
/// litre 1000 cm³, Fahrenheit and kelvin scales.
#[test]
fn quoted_quantities_are_converted() {
    let with = |from: &str, to: &str| {
        assert!(TOURING.contains(from), "{from}");
        read(&TOURING.replace(from, to)).spec
    };
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9 * b.abs(), "{a} {b}");
    near(with("rod_mm = 105.0", "rod_mm = \"4.125 in\"").crank_train.rod, 0.104_775);
    near(
        with("head_gaskets_mm = [0.5]", "head_gaskets_mm = [\"20 thou\"]").stack.head_gaskets[0],
        508e-6,
    );
    near(with("volume_cm3 = 430.0", "volume_cm3 = \"0.43 l\"").crankcase.volume_at_tdc, 430e-6);
    near(
        with("back_pressure_bar = 1.05", "back_pressure_bar = \"15 psi\"").exhaust.back_pressure,
        103_421.359_4,
    );
    near(
        with("wall_temperature_c = 95.0", "wall_temperature_c = \"203 F\"")
            .crankcase
            .wall_temperature,
        368.15,
    );
    near(
        with("wall_temperature_c = 95.0", "wall_temperature_c = \"368.15 K\"")
            .crankcase
            .wall_temperature,
        368.15,
    );
    near(
        with("gas_temperature_c = 450.0", "gas_temperature_c = 450").exhaust.outside_temperature,
        723.15,
    );
}

#[test]
fn tolerances_are_kept_in_si_for_lists_too() {
    let text = TOURING
        .replace("[stack]\nbase_gaskets_mm = [0.4]", "[stack]\nbase_gaskets_mm = [\"0.4 ± 0.05\"]")
        .replace("wall_temperature_c = 95.0", "wall_temperature_c = \"95 +- 5\"")
        .replace("centre_deg = 180.0", "centre_deg = \"180 +/- 1 deg\"");
    let tolerances = read(&text).tolerances;
    let of = |path: &str| tolerances.iter().find(|t| t.0 == path).unwrap().1;
    assert!((of("stack.base_gaskets_mm[0]") - 5e-5).abs() < 1e-15);
    assert!((of("crankcase.wall_temperature_c") - 5.0).abs() < 1e-12);
    assert!((of("transfer[1].window[0].centre_deg") - DEG).abs() < 1e-15);
    assert_eq!(tolerances.len(), 3);
}

#[test]
fn defaults_that_hold_are_listed_and_only_those() {
    let scenario = read(TOURING);
    let used = |key: &str| scenario.defaults.iter().find(|d| d.key == key);
    assert_eq!(used("fuel.lambda").unwrap().value, "0.9");
    assert_eq!(used("heat.law").unwrap().value, "annand");
    assert!(used("transfer[0].window[0].floor_depth_mm").is_some());
    assert!(
        used("crank_train.rod_mm").is_none() && used("exhaust.discharge_coefficient").is_none()
    );
    assert!(used("carburettor.throttle").is_some() && used("inlet_tract.inertive").is_none());
    assert!(used("exhaust.silencer.outlet_discharge_coefficient").is_none());
}

/// What a tuner measures in an hour; all else has defaults.
const SHORT: &str = r#"
name = "Short"
[crank_train]
bore_mm = 47
stroke_mm = 42
rod_mm = 85
[stack]
base_gaskets_mm = [0.5]
[stack.measured]
deck_mm = 0.2
[head.squish_plane]
volume_cm3 = 6.5
[[exhaust.window]]
chord_mm = 28
roof_depth_mm = 24.5
[[transfer]]
name = "main"
duct_volume_cm3 = 18
[[transfer.window]]
chord_mm = 20
opens_deg_atdc = 118
[crankcase]
volume_cm3 = 250
[intake.crank_web]
opens_deg_btdc = 110
closes_deg_atdc = 50
window_area_mm2 = 220
[head]
land_offset_mm = 0.8
"#;

#[test]
fn a_short_file_is_enough() {
    let scenario = read(SHORT);
    // one line says which version of the model it gets
    assert_eq!(scenario.notes.len(), 1, "{:?}", scenario.notes);
    assert!(scenario.notes[0].contains("version of the model"), "{:?}", scenario.notes);
    assert_eq!(scenario.run_speeds, [4000.0, 5000.0, 6000.0, 7000.0, 8000.0]);
    assert!(freshcharge_sim::model::Engine::new(&scenario.spec).is_ok());
    assert!(scenario.defaults.len() > 40, "{}", scenario.defaults.len());
}

/// Each line of a short file is needed: without it the report names what is missing.
#[test]
fn every_key_of_a_short_file_is_needed() {
    let needed = SHORT.lines().filter(|l| l.contains('=') && !l.starts_with("land_offset"));
    for line in needed {
        let name = line.split(' ').next().unwrap();
        let faults = scenario::read(&SHORT.replacen(&format!("{line}\n"), "", 1)).unwrap_err();
        let words = faults[0].to_string();
        assert_eq!(faults.len(), 1, "{name}: {faults:?}");
        assert!(words.contains(name) && words.contains("missing"), "{words}");
    }
}

#[test]
fn a_key_in_the_wrong_table_is_sent_home() {
    let text =
        FILES[2].replace("floor_depth_mm = 56.0", "floor_depth_mm = 56.0\nopens_deg_atdc = 100");
    let faults = scenario::read(&text).unwrap_err();
    assert!(
        faults[0].remedy.contains("in [[exhaust.window]] or [[transfer.window]]"),
        "{}",
        faults[0]
    );
}
