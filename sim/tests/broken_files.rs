//! Engine files with one mistake each: line, key, value and remedy of the report.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::scenario;

/// File, line, key, value found, words of the remedy.
const CASES: &[(&str, usize, &str, &str, &str)] = &[
    ("01-misspelt-key", 6, "crank_train.boer_mm", "55.5", "did you mean bore_mm?"),
    ("02-rod-shorter-than-crank", 8, "crank_train.rod_mm", "25.0", "longer than the crank radius"),
    (
        "03-transfer-before-exhaust",
        54,
        "transfer[0].window[0].roof_depth_mm",
        "31.0",
        "exhaust must open first",
    ),
    ("04-port-beyond-stroke", 39, "exhaust.window[0].roof_depth_mm", "60.0", "must pass it"),
    ("05-negative-gasket", 18, "stack.base_gaskets_mm", "-0.4", "between 0 and 10 mm"),
    ("06-not-a-number", 7, "crank_train.stroke_mm", "nan", "write a finite number"),
    (
        "07-chord-wider-than-bore",
        38,
        "exhaust.window[0].chord_mm",
        "56.0",
        "narrower than the bore",
    ),
    (
        "08-burn-after-exhaust-opening",
        97,
        "combustion.duration_deg",
        "125.0",
        "after the exhaust opens",
    ),
    ("09-wrong-type", 8, "crank_train.rod_mm", "\"long\"", "write a number"),
    ("10-missing-key", 21, "stack.measured.deck_mm", "", "missing: Crown edge below the top face"),
    ("11-unquoted-unit", 6, "bore_mm", "55.5 mm", "goes in quotes"),
    ("12-decimal-comma", 6, "bore_mm", "55,5", "decimals with a point: 55.5"),
    ("13-unknown-unit", 93, "carburettor.bore_mm", "22 parsec", "use one of mm, cm"),
    ("14-out-of-range", 31, "exhaust.discharge_coefficient", "7.8", "between 0.1 and 1.2"),
    ("15-two-intakes", 92, "intake.disc_valve", "", "give only one of"),
    (
        "16-floor-above-roof",
        40,
        "exhaust.window[0].floor_depth_mm",
        "30.0",
        "must lie below the roof",
    ),
    ("17-radius-too-large", 55, "transfer[0].window[0].roof_radius_mm", "12.0", "half the chord"),
    (
        "18-crankcase-too-small",
        81,
        "crankcase.volume_cm3",
        "120.0",
        "must hold more than the swept volume",
    ),
    ("19-duplicate-key", 8, "stroke_mm", "51.0", "given twice"),
    ("20-windows-overlap", 59, "transfer[0].window[1].centre_deg", "80.0", "cover each other"),
    ("21-wrong-choice", 104, "heat.law", "\"newton\"", "write one of \"annand\""),
    ("22-unknown-table", 92, "carburetor", "", "did you mean carburettor?"),
    (
        "23-skirt-never-opens",
        77,
        "intake.piston_port.window[0].floor_depth_mm",
        "40.0",
        "skirt never uncovers",
    ),
    ("24-falling-scavenging-curve", 104, "scavenging.law", "\"curve\"", "it must rise throughout"),
    (
        "25-depth-and-angle-contradict",
        39,
        "exhaust.window[0].roof_depth_mm",
        "33.1",
        "+5.36 mm, +11.94°",
    ),
    ("26-head-volumes-contradict", 24, "head", "", "13.20 cm³ and 19.30 cm³"),
    ("27-discharge-table-falls", 45, "exhaust.discharge.opening", "[0.2, 0.2, 1.0]", "must rise"),
    ("28-no-intake", 1, "intake", "", "missing: give [intake.crank_web] or"),
    (
        "29-silencer-without-outlet",
        39,
        "exhaust.silencer",
        "",
        "give outlet_area_mm2 or outlet_diameter_mm",
    ),
    ("30-single-brackets", 45, "transfer", "", "write [[transfer]] in double brackets"),
    ("31-key-in-wrong-table", 9, "crank_train.skirt_length_mm", "58.0", "but in [piston]"),
    (
        "32-burns-too-early",
        115,
        "combustion.start_deg_btdc",
        "89.0",
        "before the exhaust closes at 85.0°",
    ),
    ("33-length-for-a-volume", 48, "transfer[0].duct_volume_cm3", "34 mm", "use one of cm3"),
    (
        "34-offset-stops-the-crank",
        9,
        "crank_train.pin_offset_mm",
        "8.5",
        "smaller than rod less crank radius (8.00 mm)",
    ),
    ("35-window-without-width", 37, "exhaust.window[0]", "", "give chord_mm or arc_mm"),
    ("36-number-for-a-list", 18, "stack.base_gaskets_mm", "0.4", "in brackets, such as [0.4]"),
    ("37-one-peg-for-two-rings", 14, "piston.ring_pegs_deg", "[150.0]", "one for each ring"),
    (
        "38-gasket-hole-smaller-than-bore",
        29,
        "head.joint_plane.gasket_hole_mm",
        "52.0",
        "smaller than the bore (55.50 mm)",
    ),
    (
        "39-crown-opens-inlet",
        76,
        "intake.piston_port.window[0].roof_depth_mm",
        "39.0",
        "the roof must lie lower",
    ),
    ("40-arc-beyond-half-the-bore", 38, "exhaust.window[0].arc_mm", "90.0", "half round the bore"),
    ("41-two-groups-of-one-name", 67, "transfer[1].name", "\"main\"", "each needs its own"),
    ("42-bracket-left-open", 19, "head_gaskets_mm", "[0.5", "this bracket is not closed"),
    ("43-ramp-longer-than-open", 89, "intake.crank_web.ramp_deg", "89.0", "at most 83.5"),
    (
        "44-kelvin-for-celsius",
        84,
        "crankcase.wall_temperature_c",
        "368.0",
        "between -40 and 300 °C",
    ),
    (
        "45-transfer-beside-exhaust",
        52,
        "transfer[0].window[0].centre_deg",
        "55.0",
        "exhaust.window[0] cover each other",
    ),
    ("46-falling-speeds", 101, "run.rpm", "9000:3000:1000", "write 3000:9000:1000"),
    ("47-too-many-inches", 38, "exhaust.window[0].chord_mm", "35 in", "between 1 and 150 mm"),
    (
        "48-gudgeon-pin-below-skirt",
        11,
        "piston.compression_height_mm",
        "62.0",
        "below the skirt (58.00 mm long)",
    ),
    ("49-units-in-a-list", 18, "base_gaskets_mm", "[0.4 mm]", "in quotes: [\"0.4 mm\"]"),
    ("50-whole-engine-in-inches", 6, "bore_mm", "2.185\"", "in quotes: \"2.185 in\""),
    ("51-words-without-quotes", 82, "measured_at", "top", "words go in quotes: \"top\""),
    (
        "52-coefficient-and-table",
        45,
        "exhaust.discharge",
        "",
        "only one of discharge_coefficient or [exhaust.discharge]",
    ),
    (
        "53-pipe-section-of-nothing",
        62,
        "exhaust.pipe.section[3]",
        "",
        "give length_mm or volume_cm3",
    ),
    (
        "54-pipe-ends-in-a-volume",
        73,
        "exhaust.pipe.section[5].volume_cm3",
        "500.0",
        "ends with a section that has a length",
    ),
    (
        "55-silencer-behind-a-pipe",
        44,
        "exhaust.silencer.volume_cm3",
        "400.0",
        "the silencer is one of its sections",
    ),
    (
        "56-pipe-without-diameter",
        46,
        "exhaust.pipe.section[0].from_mm",
        "",
        "give the diameter where it begins",
    ),
    (
        "57-reed-window-wider-than-petal",
        99,
        "intake.reed.stage[0].window_width_mm",
        "22.0",
        "the petal must cover it",
    ),
    (
        "58-reed-window-longer-than-petal",
        98,
        "intake.reed.stage[0].window_length_mm",
        "35.5",
        "the petal is 36.00 mm long",
    ),
    ("59-half-a-petal", 93, "intake.reed.stage[0].petals", "6.5", "write a whole number"),
    (
        "60-reed-of-an-unknown-material",
        94,
        "intake.reed.stage[0].material",
        "titanium",
        "write one of \"steel\"",
    ),
    ("61-petal-bends-back", 100, "intake.reed.stage[0].stop_mm", "30.0", "0.7 of its length"),
    ("62-reed-without-petals", 88, "intake.reed.stage", "", "add [[intake.reed.stage]]"),
    (
        "63-transfer-at-the-exhaust",
        52,
        "transfer[0].window[0].centre_deg",
        "0.0",
        "write the direction of its middle as seen from above, 0 at the exhaust",
    ),
    ("64-ring-below-the-skirt", 13, "piston.ring_depths_mm", "[4.0, 48.0]", "below the skirt"),
    (
        "65-squish-fills-the-clearance",
        28,
        "head.assembled.volume_cm3",
        "13.2",
        "more than the whole clearance of 13.20 cm³",
    ),
    (
        "66-stud-holes-in-each-other",
        35,
        "stud_hole[1].centre_deg",
        "96.0",
        "runs into stud_hole[0]",
    ),
];

fn text(name: &str) -> String {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../scenarios/broken/");
    std::fs::read_to_string(format!("{folder}{name}.toml")).unwrap()
}

#[test]
fn every_broken_file_says_where_what_and_how_to_mend_it() {
    for (name, line, key, found, remedy) in CASES {
        let faults = scenario::read(&text(name)).expect_err(name);
        assert_eq!(faults.len(), 1, "{name}: {faults:#?}");
        let fault = &faults[0];
        assert_eq!((fault.line, fault.key.as_str()), (*line, *key), "{name}: {fault}");
        assert!(fault.found.contains(found), "{name}: {fault}");
        assert!(fault.remedy.contains(remedy), "{name}: {fault}");
    }
}

#[test]
fn every_broken_file_is_in_the_table() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../scenarios/broken/");
    for entry in std::fs::read_dir(folder).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        let stem = name.strip_suffix(".toml").unwrap();
        assert!(CASES.iter().any(|c| c.0 == stem), "{stem}");
    }
}

#[test]
fn several_mistakes_are_reported_together_in_order_of_line() {
    let mut broken = text("01-misspelt-key");
    broken = broken.replace("head_gaskets_mm = [0.5]", "head_gaskets_mm = [-0.5]");
    broken = broken.replace("window_area_mm2 = 420.0", "window_area_mm2 = \"many\"");
    let faults = scenario::read(&broken).unwrap_err();
    let keys: Vec<&str> = faults.iter().map(|f| f.key.as_str()).collect();
    let wanted =
        ["crank_train.boer_mm", "stack.head_gaskets_mm", "intake.crank_web.window_area_mm2"];
    assert_eq!(keys, wanted);
}

/// Slips of form, limits and plausibility do not hide each other, and a fault has no echo.
#[test]
fn faults_of_every_kind_are_reported_together() {
    use freshcharge_sim::scenario::FaultKind as Kind;
    let text = include_str!("../../scenarios/touring.toml")
        .replace("rod_mm = 105.0", "rod_mm = 105 mm")
        .replace("skirt_length_mm = 58.0", "skirt_length_mm = 30.0")
        .replace("deck_mm = 0.3\n", "deck_mm = 0.3\nrod = 105.0\n")
        .replace("land_offset_mm = 0.4", "land_offset_mm = 40")
        .replace("[carburettor]\nbore_mm = 22.0", "[carburettor]")
        .replace("centre_deg = -78.0", "centre_deg = 78.0")
        .replace("name = \"boost\"", "name = \"main\"");
    let faults = scenario::read(&text).unwrap_err();
    let found: Vec<(Kind, &str)> = faults.iter().map(|f| (f.kind, f.key.as_str())).collect();
    let wanted = [
        (Kind::Syntax, "rod_mm"),
        (Kind::Implausible, "piston.compression_height_mm"),
        (Kind::Unknown, "stack.measured.rod"),
        (Kind::OutOfRange, "head.land_offset_mm"),
        (Kind::Implausible, "transfer[1].name"),
        (Kind::Missing, "carburettor.bore_mm"),
    ];
    assert_eq!(found, wanted);
}

#[test]
fn a_fault_reads_as_one_sentence() {
    let faults = scenario::read(&text("02-rod-shorter-than-crank")).unwrap_err();
    assert_eq!(
        faults[0].to_string(),
        "line 8, crank_train.rod_mm = 25.0: the rod must be longer than the crank radius (26.00 mm); \
         check the distance between centres"
    );
}

/// The start of a file is the commonest file of all: it must say what is still to be measured.
#[test]
fn an_empty_file_names_every_table_it_needs() {
    let faults = scenario::read("").unwrap_err();
    let keys: Vec<&str> = faults.iter().map(|f| f.key.as_str()).collect();
    for needed in ["name", "crank_train", "stack", "head", "exhaust", "transfer", "crankcase"] {
        assert!(keys.contains(&needed), "{needed} in {keys:?}");
    }
}
