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
    (
        "04-port-beyond-stroke",
        39,
        "exhaust.window[0].roof_depth_mm",
        "60.0",
        "the roof must lie between",
    ),
    ("05-negative-gasket", 18, "stack.base_gaskets_mm", "[-0.4]", "between 0 and 10 mm"),
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
    ("15-two-intakes", 86, "intake", "", "give exactly one of"),
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
