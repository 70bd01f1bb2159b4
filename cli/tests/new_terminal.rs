//! `freshcharge new` at a terminal: an engine asked for with slips, left in the middle, taken up again,
//! run, and held against a calculation by hand.

#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod common;

use std::process::Command;

use common::{freshcharge, text};
use rexpect::session::{PtySession, spawn_command};

/// A terminal in which the program runs.
fn terminal(args: &[&str]) -> PtySession {
    let mut command = Command::new(env!("CARGO_BIN_EXE_freshcharge"));
    command.args(args).env("NO_COLOR", "1");
    spawn_command(command, Some(60_000)).unwrap()
}

/// Waits for a key's prompt, types the answer, and waits for what is said of it.
fn answer(session: &mut PtySession, key: &str, typed: &str, said: &str) {
    session.exp_string(&format!("{key} [")).unwrap();
    session.exp_string("]> ").unwrap();
    session.send_line(typed).unwrap();
    session.exp_string(&as_read(said)).unwrap();
}

/// Words as the terminal's reader gives them: one character a byte.
fn as_read(words: &str) -> String {
    words.bytes().map(char::from).collect()
}

const FIRST: &[(&str, &str, &str)] = &[
    ("name", "Reed 100", "Reed 100."),
    ("crank_train.bore_mm", "50,0", "50 mm."),
    ("crank_train.stroke_mm", "50,6", "50.6 mm, which makes 99.4 cm³"),
    ("crank_train.rod_mm", "50,6", "Is it the stroke again?"),
    ("crank_train.rod_mm", "102", "a rod 2.02 times the stroke"),
    ("piston.skirt_length_mm", "52", "52 mm."),
    ("stack.measured.base_gaskets_mm", "0,5", "one gasket, 0.50 mm."),
    ("stack.measured.spacers_mm", "none", "no spacer."),
    ("stack.measured.deck_mm", "5", "0.5 mm would be usual."),
    ("stack.measured.deck_mm", "0,2 mm", "0.2 mm."),
    ("stack.base_gaskets_mm", "0,5 0,3", "two gaskets, 0.50 and 0.30 mm, 0.80 mm together."),
    ("stack.spacers_mm", "", "no spacer."),
    ("stack.head_gaskets_mm", "0.3 mm", "one gasket, 0.30 mm."),
    ("head.land_offset_mm", "0,6", "a squish gap of 1.40 mm"),
    ("head.squish_band_mm", "8,5", "8.5 mm."),
    ("head.assembled.head_gasket_mm", "", "0.3 mm."),
    ("head.assembled.volume_cm3", "9,2", "which makes a compression ratio"),
    ("exhaust.duct_exit_diameter_mm", "31", "31 mm."),
    ("exhaust.window[0].chord_mm", "33", "0.66 times the bore"),
    ("exhaust.window[0].roof_depth_mm", "27,6", "which makes a duration"),
    ("exhaust.window[0].roof_radius_mm", "5,0", "5 mm."),
];

const REST: &[(&str, &str, &str)] = &[
    ("exhaust.window[0].roof_arch_mm", "1", "1 mm."),
    ("exhaust.window[0].floor_radius_mm", "7", "7 mm."),
    ("transfer[0].duct_volume_cm3", "34", "34 cm³."),
    ("transfer[0].duct_length_mm", "66", "66 mm."),
    ("transfer[0].window[0].centre_deg", "0", "0° is unusual"),
    ("transfer[0].window[0].centre_deg", "70", "70°."),
    ("transfer[0].window[0].chord_mm", "17", "0.34 times the bore"),
    ("transfer[0].window[0].roof_depth_mm", "38,6", "which makes a duration"),
    ("transfer[0].window[0].roof_radius_mm", "3,0", "3 mm."),
    ("transfer[0].window[0].radial_deg", "25", "25°."),
    ("transfer[1].duct_volume_cm3", "back", "Angle of the duct to the radius"),
    ("transfer[0].window[0].radial_deg", "20", "20°."),
    ("transfer[1].duct_volume_cm3", "14", "14 cm³."),
    ("transfer[1].duct_length_mm", "60", "60 mm."),
    ("transfer[1].window[0].chord_mm", "14", "0.28 times the bore"),
    ("transfer[1].window[0].roof_depth_mm", "38.8", "which makes a duration"),
    ("transfer[1].window[0].axial_deg", "50", "50°."),
    ("crankcase.measured_at", "t", "top."),
    ("crankcase.volume_cm3", "380", "a crankcase ratio of 1.35"),
    ("intake.reed.stage[0].petals", "6", "6."),
    ("intake.reed.stage[0].material", "carbon", "carbon."),
    ("intake.reed.stage[0].length_mm", "36", "36 mm."),
    ("intake.reed.stage[0].width_mm", "21", "21 mm."),
    ("intake.reed.stage[0].thickness_mm", "0,38", "a petal of"),
    ("intake.reed.stage[0].window_length_mm", "26", "26 mm."),
    ("intake.reed.stage[0].window_width_mm", "17", "17 mm."),
    ("intake.reed.stage[0].stop_mm", "8", "8 mm."),
    ("carburettor.bore_mm", "28", "28 mm."),
];

/// Duration in degrees of a roof so far below the crown's edge at top dead centre: the law of cosines in
/// the triangle of crank centre, crank pin and gudgeon pin.
fn duration(drop: f64, stroke: f64, rod: f64) -> f64 {
    let r = stroke / 2.0;
    let pin = r + rod - drop;
    let cosine = (r * r + pin * pin - rod * rod) / (2.0 * r * pin);
    2.0 * (180.0 - cosine.acos().to_degrees())
}

#[test]
fn an_engine_asked_for_at_a_terminal_runs_and_agrees_with_a_hand_calculation() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("reed.toml");
    let file = path.to_str().unwrap();
    let mut session = terminal(&["new", file]);
    session.exp_string("4 reed [1]> ").unwrap();
    session.send_line("4").unwrap();
    for (key, typed, said) in FIRST {
        answer(&mut session, key, typed, said);
    }
    // leaves in the middle of a question
    session.exp_string("roof_arch_mm [").unwrap();
    session.send_control('c').unwrap();
    session.exp_string("Your answers are kept in").unwrap();
    session.exp_eof().unwrap();
    let half = std::fs::read_to_string(&path).unwrap();
    assert!(half.starts_with("# NOT COMPLETE: 19 of 44"), "{half}");

    let mut session = terminal(&["new", "--continue", file]);
    session.exp_string("19 of 44 questions are answered").unwrap();
    for (key, typed, said) in REST {
        answer(&mut session, key, typed, said);
    }
    let ending = session.exp_eof().unwrap();
    for words in [
        "exhaust open",
        "transfers open",
        "blowdown",
        "squish gap",
        "1.40 mm",
        "Next: freshcharge check",
    ] {
        assert!(ending.contains(words), "{words} in {ending}");
    }

    let out = freshcharge(&["run", file, "--rpm", "6000"]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    assert_eq!(text(&out.stderr).matches("NOT MEASURED").count(), 0, "{}", text(&out.stderr));

    // two gaskets of 0.8 mm where one of 0.5 mm was measured: deck and every edge move by 0.3 mm
    let deck = 0.2 + 0.3;
    let exhaust = duration(27.6 - deck, 50.6, 102.0);
    let transfer = duration(38.6 - deck, 50.6, 102.0);
    let area = std::f64::consts::FRAC_PI_4 * 5.0 * 5.0;
    let clearance = 9.2 + area * 0.03;
    let ratio = (area * 5.06 + clearance) / clearance;
    let out = freshcharge(&["check", file, "--json"]);
    let value: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let fact = |key: &str| {
        let facts = value["facts"].as_array().unwrap();
        facts.iter().find(|f| f["key"] == key).unwrap()["value"].as_f64().unwrap()
    };
    for (key, by_hand) in [
        ("exhaust_duration_deg", exhaust),
        ("transfer_duration_deg", transfer),
        ("blowdown_deg", (exhaust - transfer) / 2.0),
        ("squish_mm", deck + 0.3 + 0.6),
        ("geometric_ratio", ratio),
    ] {
        assert!((fact(key) - by_hand).abs() < 1e-6, "{key}: {} by hand {by_hand}", fact(key));
    }
}
