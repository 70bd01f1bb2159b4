//! The answer comes first, a sentence ends it, and its words say what the numbers say.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod common;

use common::{freshcharge, text};

/// What a command prints.
fn said(line: &str) -> String {
    let args: Vec<&str> = line.split_whitespace().collect();
    let out = freshcharge(&args);
    assert!(matches!(out.status.code(), Some(0 | 1)), "{line}: {}", text(&out.stderr));
    text(&out.stdout).to_owned()
}

fn json(line: &str) -> serde_json::Value {
    serde_json::from_str(&said(&format!("{line} --json"))).unwrap()
}

/// Limits that a check finds broken, in their order: quantity, danger being in the file only.
fn broken(line: &str) -> Vec<String> {
    let found = json(line);
    let limits = found["limits"].as_array().unwrap().iter();
    let broken = limits.filter(|l| l["standing"] == "broken");
    broken.map(|l| l["quantity"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn check_answers_in_a_dozen_lines_and_keeps_the_rest_for_all() {
    for line in [
        "check scenarios/touring.toml",
        "check scenarios/utility.toml --use utility",
        "check scenarios/short-blowdown.toml",
        "check scenarios/touring.toml --set stack.base_total_mm=1.4",
    ] {
        let brief = said(line);
        assert!(brief.lines().count() <= 12, "{line}: {} lines\n{brief}", brief.lines().count());
        for word in ["exhaust open", "transfers open", "blowdown", "squish", "compression", "chord"]
        {
            assert!(brief.contains(word), "{line}: no {word}\n{brief}");
        }
        let all = said(&format!("{line} --all"));
        assert!(all.lines().count() > 60 && all.contains("Held against limits"), "{all}");
    }
}

#[test]
fn a_calm_engine_breaks_no_limit_that_is_not_its_own() {
    // the touring single has more compression than air-cooled engines on pump fuel are given
    assert_eq!(broken("check scenarios/touring.toml"), ["trapped_ratio"]);
    // a ring end of the utility engine dips into the inlet window at bottom dead centre
    assert_eq!(broken("check scenarios/utility.toml --use utility"), ["ring_end_margin_deg"]);
}

#[test]
fn what_can_destroy_the_engine_is_told_first() {
    let line =
        "check scenarios/utility.toml --use utility --set stack.head_total_mm=0.1 --rpm 16000";
    let order = broken(line);
    let place = |key: &str| order.iter().position(|q| q.starts_with(key)).unwrap();
    // the piston on the head and a ring in a window before overspeed
    assert!(place("squish_mm") < place("mean_piston_speed"), "{order:?}");
    assert!(place("ring_end_margin") < place("mean_piston_speed"), "{order:?}");
    let brief = said(line).replace('\n', " ");
    let at = |word: &str| brief.find(word).unwrap_or_else(|| panic!("{word}: {brief}"));
    assert!(at("squish gap at the wall") < at("mean piston speed"), "{brief}");
}

#[test]
fn a_limit_within_the_error_of_the_readings_is_not_called_broken() {
    // squish of 0.97 mm is known to about 0.06 mm, and 1.0 mm is asked for
    let line = "check scenarios/touring.toml --set stack.head_total_mm=0.27";
    let found = json(line);
    let squish = found["facts"].as_array().unwrap().iter().find(|f| f["key"] == "squish_mm");
    let (value, error) = (&squish.unwrap()["value"], &squish.unwrap()["half_width"]);
    let (value, error) = (value.as_f64().unwrap(), error.as_f64().unwrap());
    assert!(value < 1.0 && value + error > 1.0, "{value} ± {error}");
    assert!(!broken(line).contains(&"squish_mm".to_owned()));
    let asked = said(&format!("{line} --ask clearance")).replace('\n', " ");
    assert!(asked.contains("within the error of your readings"), "{asked}");
}
