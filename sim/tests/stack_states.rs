//! The stack that is fitted, the stack the readings were taken with, and the errors of both.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::forms::engine::{self as scenario, HANDLES, Scenario};
use freshcharge_sim::workshop::{Facts, counterpart, measured, spread};

const TOURING: &str = include_str!("../../scenarios/touring.toml");
const REED: &str = include_str!("../../scenarios/reed.toml");
const UTILITY: &str = include_str!("../../scenarios/utility.toml");

fn read(text: &str) -> Scenario {
    scenario::read(text).unwrap_or_else(|faults| panic!("{faults:#?}"))
}

/// The same file with the measured stack and the buretted head gasket left to follow.
fn following(text: &str) -> String {
    let (before, after) = text.split_once("[stack.measured]\n").unwrap();
    let keep = |line: &&str| {
        !["base_gaskets_mm", "spacers_mm", "head_gasket_mm"].iter().any(|k| line.starts_with(k))
    };
    let after: Vec<&str> = after.lines().filter(keep).collect();
    format!("{before}[stack.measured]\n{}\n", after.join("\n"))
}

fn both(text: &str) -> [Scenario; 2] {
    [read(text), read(&following(text))]
}

/// Values and ± of every fact.
fn facts(scenario: &Scenario) -> Vec<(String, f64, f64)> {
    let found = Facts::of_scenario(scenario, &[6000.0]);
    let spreads = spread(scenario, &measured(scenario, true), &|changed| {
        let other = Facts::of_scenario(changed, &[6000.0]);
        found.0.iter().map(|f| other.get(&f.key).unwrap_or(f64::NAN)).collect()
    });
    found.0.iter().zip(spreads).map(|(f, s)| (f.key.clone(), f.value, s.half_width)).collect()
}

#[test]
fn the_measured_stack_written_down_is_the_one_that_follows() {
    for text in [TOURING, REED, UTILITY] {
        let [written, follows] = both(text);
        assert_eq!(written.spec, follows.spec);
        assert!(written.stacks().follow.is_empty());
        assert!(follows.stacks().base_follows());
        assert_eq!(facts(&written), facts(&follows));
        let contributions = measured(&written, true);
        assert_eq!(contributions, measured(&follows, true));
        assert!(contributions.iter().all(|c| !c.path.starts_with("stack.measured.base")));
        // drawn anew, a part that was read once moves what was measured with it in both files
        let path = ["stack.base_gaskets_mm[0]".to_owned()];
        let thicker = |s: &Scenario| s.rereader(&path).unwrap().with(&[0.47]).unwrap().spec;
        assert_eq!(thicker(&written), thicker(&follows));
        assert_eq!(thicker(&written).exhaust, written.spec.exhaust);
        assert!((thicker(&written).stack.deck - written.spec.stack.deck).abs() < 1e-15);
    }
}

#[test]
fn a_stack_edited_in_the_file_moves_the_deck_where_the_measured_one_is_written() {
    let edited = |text: &str| text.replace("[stack]\n", "[stack]\nspacers_mm = [1.0]\n");
    let deck = |text: &str| read(text).spec.stack.deck;
    assert!((deck(&edited(TOURING)) - deck(TOURING) - 1e-3).abs() < 1e-15);
    // left to follow, it counts as there when the deck was measured, and the file says so itself
    let follows = following(TOURING);
    assert!((deck(&edited(&follows)) - deck(&follows)).abs() < 1e-15);
    let stacks = read(&edited(&follows)).stacks();
    assert_eq!(stacks.totals(), [1.4, 1.4]);
    assert_eq!(
        stacks.follow,
        [
            "stack.measured.base_gaskets_mm",
            "stack.measured.spacers_mm",
            "head.assembled.head_gasket_mm"
        ]
    );
}

/// Changes that are changes of parts: what was measured then and what is fitted now are two parts with an
/// error each, so that ± of what depends on their difference grows with reason.
fn another_part(path: &str) -> bool {
    ["stack.", "crank_train.", "piston.compression_height_mm", "head.assembled.head_gasket_mm"]
        .iter()
        .any(|start| path.starts_with(start))
}

#[test]
fn a_change_elsewhere_leaves_every_other_plus_and_minus_as_it_was() {
    let (mut tried, mut differ) = (0, Vec::new());
    for text in [TOURING, REED] {
        for base in both(text) {
            let (before, errors) = (facts(&base), measured(&base, true));
            for path in base.document.numbers() {
                let Some(value) = base.value(&path) else { continue };
                let Ok(changed) = base.with(&path, value * 1.001 + 1e-4) else { continue };
                tried += 1;
                if another_part(&path) {
                    continue;
                }
                let paths = |e: &[freshcharge_sim::workshop::Contribution]| -> Vec<String> {
                    e.iter().map(|c| c.path.clone()).collect()
                };
                assert_eq!(paths(&measured(&changed, true)), paths(&errors), "{path}");
                for error in &errors {
                    let pairs = [&base, &changed].map(|s| counterpart(s, &error.path, 0.01));
                    assert_eq!(pairs[0], pairs[1], "{path}: {}", error.path);
                }
                for (a, b) in before.iter().zip(&facts(&changed)) {
                    let same = a.0 == b.0 && a.1.to_bits() == b.1.to_bits();
                    let differs = a.2.to_bits() != b.2.to_bits();
                    if same && differs && !moves_slopes(&path, &a.0) && !breaks_a_tie(&path, &a.0) {
                        differ.push(format!("{path}: {} {} {}", a.0, a.2, b.2));
                    }
                }
            }
        }
    }
    assert!(tried > 100, "{tried}");
    assert!(differ.is_empty(), "{differ:#?}");
}

/// The least or highest of several that were equal: once one of them is moved aside, the reading of the
/// other alone decides, where before the nearer of both did.
fn breaks_a_tie(path: &str, fact: &str) -> bool {
    let of = |part: &str, end: &str| path.starts_with(part) && fact.ends_with(end);
    of("piston.ring_pegs_deg", "ring_end_margin_deg")
        || of("stud_hole[", "stud_metal_mm")
        || (path.ends_with("centre_deg") && fact.ends_with("bridge_mm"))
        || (path.contains("window[") && path.ends_with("roof_depth_mm") && first_to_open(fact))
}

/// What hangs on the transfer window that opens first.
fn first_to_open(fact: &str) -> bool {
    fact.contains("transfer") || fact.contains("blowdown")
}

/// Quantities that stand still while their slopes move: where in the cycle squish is fastest is found by
/// its value, into which land and band enter; the floor's corners stand just below the area at mid-angle.
fn moves_slopes(path: &str, fact: &str) -> bool {
    (path.starts_with("head.") && fact.starts_with("squish_peak"))
        || (path.ends_with("floor_radius_mm") && fact.contains("mid_angle"))
}

#[test]
fn plus_and_minus_of_the_transfer_timing_stay_with_any_set() {
    let of = |s: &Scenario| facts(s).iter().find(|f| f.0 == "transfer_duration_deg").unwrap().2;
    for base in both(TOURING) {
        let before = of(&base);
        assert!((0.5..0.65).contains(&before), "{before}");
        for (path, value) in [
            ("combustion.start_deg_btdc", 14.0),
            ("exhaust.window.chord_mm", 36.0),
            ("head.land_offset_mm", 0.5),
            ("carburettor.bore_mm", 24.0),
            ("crankcase.volume_cm3", 400.0),
            ("stack.head_total_mm", 0.8),
        ] {
            let after = of(&base.with(path, value).unwrap());
            assert_eq!(before.to_bits(), after.to_bits(), "{path}: {before} {after}");
        }
        // with a spacer the crank meets the edge higher, where it moves the piston faster: a millimetre of
        // error is fewer degrees, and nothing is added to it
        let spacer = of(&base.with("stack.base_total_mm", 1.4).unwrap());
        assert!((0.93..1.0).contains(&(spacer / before)), "{before} {spacer}");
    }
}

#[test]
fn parts_are_the_same_by_size_and_by_turn() {
    let text = TOURING
        .replace("[stack]\nbase_gaskets_mm = [0.4]", "[stack]\nbase_gaskets_mm = [0.5, 0.4, 0.4]")
        .replace(
            "deck_mm = 0.3\nbase_gaskets_mm = [0.4]",
            "deck_mm = 0.3\nbase_gaskets_mm = [0.4, 0.3]",
        );
    let scenario = read(&text);
    let elsewhere = |path: &str| counterpart(&scenario, path, 0.05);
    assert_eq!(elsewhere("stack.base_gaskets_mm[0]"), []);
    assert_eq!(
        elsewhere("stack.base_gaskets_mm[1]"),
        [("stack.measured.base_gaskets_mm[0]".to_owned(), 0.45)]
    );
    assert_eq!(elsewhere("stack.base_gaskets_mm[2]"), []);
    // a gasket that is no longer there was read too, and once
    let errors = measured(&scenario, true);
    let of = |path: &str| errors.iter().filter(|c| c.path == path).count();
    assert_eq!(of("stack.measured.base_gaskets_mm[1]"), 1);
    assert_eq!(of("stack.measured.base_gaskets_mm[0]"), 0);
    // a tolerance written at either place is the part's
    let stated =
        text.replace("base_gaskets_mm = [0.4, 0.3]", "base_gaskets_mm = [\"0.4 ± 0.01\", 0.3]");
    let errors = measured(&read(&stated), true);
    let part = errors.iter().find(|c| c.path == "stack.base_gaskets_mm[1]").unwrap();
    assert!(part.stated && (part.half_width - 0.01).abs() < 1e-12);
}

#[test]
fn the_measured_total_moves_what_was_measured_and_not_what_is_fitted() {
    assert!(HANDLES.iter().any(|h| h.path == "stack.measured.base_total_mm"));
    for base in both(TOURING) {
        assert_eq!(base.value("stack.measured.base_total_mm"), Some(0.4));
        let other = base.with("stack.measured.base_total_mm", 1.4).unwrap();
        assert_eq!(other.stacks().totals(), [0.4, 1.4]);
        assert!((other.spec.stack.deck - base.spec.stack.deck + 1e-3).abs() < 1e-15);
        let thinner = base.with("stack.measured.base_total_mm", 0.1).unwrap();
        assert_eq!(thinner.stacks().base_then, [vec![0.1], vec![]]);
    }
}
