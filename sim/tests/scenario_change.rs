//! Engines changed number by number, as sweeps and plans do it.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::geometry;
use freshcharge_sim::scenario::keys::{Fallback, Kind, SECTIONS};
use freshcharge_sim::scenario::{self, FaultKind, HANDLES, Scenario};

const TOURING: &str = include_str!("../../scenarios/touring.toml");
const UTILITY: &str = include_str!("../../scenarios/utility.toml");

fn read(text: &str) -> Scenario {
    scenario::read(text).unwrap_or_else(|faults| panic!("{faults:#?}"))
}

#[test]
fn a_changed_number_is_the_same_as_a_changed_file() {
    let changed = read(TOURING).with("exhaust.window[0].roof_depth_mm", 32.6).unwrap();
    let written = read(&TOURING.replace("roof_depth_mm = 33.1", "roof_depth_mm = 32.6"));
    assert_eq!(changed.spec, written.spec);
    let changed = read(TOURING).with("combustion.start_deg_btdc", 12.5).unwrap();
    assert!((changed.spec.combustion.start.at(5000.0).to_degrees() + 12.5).abs() < 1e-12);
}

#[test]
fn groups_go_by_name_and_windows_without_number_are_all() {
    let base = read(TOURING);
    let named = base.with("transfer.main.window.roof_depth_mm", 41.5).unwrap();
    let numbered = base
        .with_all(&[
            ("transfer[0].window[0].roof_depth_mm", 41.5),
            ("transfer[0].window[1].roof_depth_mm", 41.5),
        ])
        .unwrap();
    assert_eq!(named.spec, numbered.spec);
    assert_eq!(base.paths("transfer.window.chord_mm").unwrap().len(), 3);
    assert_eq!(base.value("transfer.main.window.chord_mm"), Some(19.0));
    assert_eq!(base.value("transfer.window.chord_mm"), None, "main and boost differ");
    assert_eq!(base.value("fuel.lambda"), Some(0.9), "a default is a value");
}

/// The file says nothing of the state it was measured in, so that is the state it runs in. A gasket
/// more must still move the ports.
#[test]
fn readings_keep_the_state_they_were_taken_in() {
    let base = read(TOURING);
    let thicker = base.with("stack.base_gaskets_mm[0]", 1.4).unwrap();
    assert!((thicker.spec.stack.deck - base.spec.stack.deck - 1e-3).abs() < 1e-15);
    assert_eq!(thicker.spec.exhaust, base.spec.exhaust, "depths are the cylinder's own");
    let longer = base.with("crank_train.stroke_mm", 54.0).unwrap();
    assert!((longer.spec.stack.deck - base.spec.stack.deck + 1e-3).abs() < 1e-15);
    let gasket = base.with("stack.head_gaskets_mm[0]", 0.8).unwrap();
    let area = geometry::bore_area(&base.spec);
    let more = geometry::clearance_volume(&gasket.spec) - geometry::clearance_volume(&base.spec);
    assert!((more - area * 0.3e-3).abs() < 1e-15, "the burette read with the thinner gasket");
    let twice = thicker.with("stack.base_gaskets_mm[0]", 0.4).unwrap();
    assert_eq!(twice.spec, base.spec, "and back");
}

#[test]
fn the_base_total_holds_the_gaskets_and_sets_one_spacer() {
    let base = read(TOURING);
    assert!((base.value("stack.base_total_mm").unwrap() - 0.4).abs() < 1e-12);
    let raised = base.with("stack.base_total_mm", 1.9).unwrap();
    assert_eq!(raised.spec.stack.base_gaskets, base.spec.stack.base_gaskets);
    assert_eq!(raised.spec.stack.spacers.len(), 1);
    assert!((raised.spec.stack.base_total() - 1.9e-3).abs() < 1e-15);
    assert!((raised.value("stack.base_total_mm").unwrap() - 1.9).abs() < 1e-12);
    assert_eq!(raised.with("stack.base_total_mm", 0.4).unwrap().spec, base.spec);
    // below the gaskets' height one thinner gasket stands in place of everything
    let thin = base.with("stack.base_total_mm", 0.2).unwrap();
    assert!((thin.spec.stack.base_total() - 0.2e-3).abs() < 1e-12);
    assert!(thin.spec.stack.spacers.is_empty());
    assert!(base.with("stack.base_total_mm", -0.1).is_err());
    let thin = base.with("stack.head_total_mm", 0.2).unwrap();
    assert!((geometry::squish_gap(&thin.spec) - 0.9e-3).abs() < 1e-12);
}

#[test]
fn a_key_replaces_what_says_the_same() {
    let angle = TOURING.replace("roof_depth_mm = 33.1", "opens_deg_atdc = 98.0");
    let moved = read(&angle).with("exhaust.window[0].roof_depth_mm", 30.0).unwrap();
    assert!((moved.spec.exhaust.windows[0].roof_depth - 0.030).abs() < 1e-15);
    assert!(moved.notes.is_empty(), "{:?}", moved.notes);
    let back = moved.with("exhaust.window[0].opens_deg_atdc", 98.0).unwrap();
    let wanted = read(&angle).spec.exhaust.windows[0].roof_depth;
    assert!((back.spec.exhaust.windows[0].roof_depth - wanted).abs() < 1e-15);
    let table = include_str!("../../scenarios/broken/52-coefficient-and-table.toml").replacen(
        "discharge_coefficient = 0.78\n",
        "",
        1,
    );
    let faults = read(&table).with("exhaust.discharge_coefficient", 0.7).unwrap_err();
    assert!(faults[0].remedy.contains("[exhaust.discharge] instead"), "{}", faults[0]);
    let exit = read(TOURING).with("exhaust.duct_exit_area_mm2", 700.0).unwrap();
    assert!((exit.spec.exhaust.exit_area.unwrap() - 700e-6).abs() < 1e-15);
}

#[test]
fn what_cannot_be_set_says_why_and_what_is_near() {
    let base = read(TOURING);
    let refusal = |path: &str, value: f64| {
        let faults = base.with(path, value).unwrap_err();
        assert_eq!(faults.len(), 1, "{faults:?}");
        faults[0].clone()
    };
    let near = refusal("stack.spacer_mm[0]", 1.0);
    assert_eq!((near.kind, near.key.as_str()), (FaultKind::Unknown, "stack.spacer_mm[0]"));
    assert!(near.remedy.contains("stack.spacers_mm[0]"), "{near}");
    assert!(refusal("stack.base_totl_mm", 1.0).remedy.contains("stack.base_total_mm"));
    assert!(refusal("exhaust.window.roof_mm", 30.0).remedy.contains("roof_depth_mm"));
    assert!(refusal("stack.spacers_mm", 1.0).remedy.contains("stack.spacers_mm[0]"));
    assert!(refusal("exhaust.silencer.volume_cm3", 400.0).remedy.contains("no [exhaust.silencer]"));
    assert!(refusal("exhaust.window[3].chord_mm", 30.0).remedy.contains("no [exhaust.window[3]]"));
    assert!(refusal("heat.law", 1.0).remedy.contains("not a number"));
    let limit = refusal("exhaust.discharge_coefficient", 7.0);
    assert_eq!((limit.kind, limit.found.as_str()), (FaultKind::OutOfRange, "7"));
    let given = TOURING.lines().position(|l| l.starts_with("discharge_coefficient")).unwrap();
    assert_eq!(limit.line, given + 1, "shown where the file gives it");
    let wide = refusal("exhaust.window[0].chord_mm", 56.0);
    assert_eq!((wide.kind, wide.found.as_str()), (FaultKind::Implausible, "56"));
    assert!(refusal("crank_train.rod_mm", f64::NAN).remedy.contains("between"));
}

#[test]
fn a_touching_piston_may_be_read_but_not_run() {
    let touching = read(TOURING).with("head.land_offset_mm", -1.0).unwrap();
    assert!(geometry::squish_gap(&touching.spec) < 0.0);
    let faults = touching.faults_for_running();
    assert_eq!(faults.len(), 1);
    assert!(faults[0].remedy.contains("touches the head by 0.20 mm"), "{}", faults[0]);
    assert_eq!(faults[0].key, "stack.head_gaskets_mm");
    assert!(read(TOURING).faults_for_running().is_empty());
}

/// Every number of the table of keys can be read and set to itself without changing the engine.
#[test]
fn every_number_set_to_itself_changes_nothing() {
    for text in [TOURING, UTILITY] {
        let base = read(text);
        let mut count = 0;
        for (path, _) in base.document.entries() {
            let Some(value) = base.value(&path) else { continue };
            assert_eq!(base.with(&path, value).unwrap().spec, base.spec, "{path}");
            count += 1;
        }
        assert!(count > 30, "{count}");
        for handle in HANDLES {
            let value = base.value(handle.path).unwrap();
            let back = base.with(handle.path, value).unwrap();
            assert!((back.value(handle.path).unwrap() - value).abs() < 1e-12);
        }
    }
}

/// The table of keys is sound: limits in order, defaults inside them, every key explained.
#[test]
fn the_table_of_keys_is_sound() {
    let mut seen = std::collections::BTreeSet::new();
    for section in SECTIONS {
        assert!(seen.insert(section.path), "{} twice", section.path);
        for (i, key) in section.keys.iter().enumerate() {
            let name = format!("{}.{}", section.path, key.name);
            assert!(section.keys[..i].iter().all(|k| k.name != key.name), "{name} twice");
            assert!(key.meaning.ends_with('.'), "{name}: {}", key.meaning);
            if let Some((low, high)) = key.kind.limits() {
                assert!(low < high, "{name}");
                if let Fallback::Number(value) = key.fallback {
                    assert!((low..=high).contains(&value), "{name}");
                }
            }
            if let (Kind::Choice(choices), Fallback::Text(text)) = (key.kind, key.fallback) {
                assert!(choices.contains(&text), "{name}");
            }
            let measured = key.measuring();
            assert!(key.how.is_empty() || measured.contains('±'), "{name}: {measured}");
        }
        for either in section.either {
            for name in either.names {
                let table = format!("{}.{name}", section.path);
                let known = section.key(name).is_some() || SECTIONS.iter().any(|s| s.path == table);
                assert!(known, "{table}");
            }
        }
    }
}

#[test]
fn what_is_no_number_is_refused_for_every_path() {
    let scenario = scenario::read(include_str!("../../scenarios/touring.toml")).unwrap();
    for path in ["stack.base_total_mm", "stack.head_total_mm", "crank_train.stroke_mm"] {
        for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            let faults = scenario.with_all(&[(path, value)]).unwrap_err();
            let remedy = &faults[0].remedy;
            assert!(remedy.contains("finite") || remedy.contains("between"), "{path}: {remedy}");
        }
    }
}
