//! An engine that would not run says so first, in words, JSON and rows.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod common;

use common::{freshcharge, said, text};

const BACKED_UP: [&str; 5] =
    ["scenarios/touring.toml", "--rpm", "1000,5000", "--set", "exhaust.back_pressure_bar=1.8"];

#[test]
fn words_name_the_back_pressure() {
    let out = freshcharge(&[&["run"], &BACKED_UP[..]].concat());
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    let words = text(&out.stdout).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("At 1000/min the engine would not run: the back pressure is more than the crankcase overcomes"),
        "{words}"
    );
    assert!(!words.contains("Hot gas runs back"), "{words}");
    // no share of nothing
    assert!(words.contains("1000 -") && words.contains(" – "), "{words}");
}

#[test]
fn json_carries_the_outcome_and_no_share_of_nothing() {
    let out = freshcharge(&[&["run"], &BACKED_UP[..], &["--json"]].concat());
    let value: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    for point in value["points"].as_array().unwrap() {
        assert_eq!(point["outcome"], "would_not_run");
        assert!(point["would_not_run_because"].as_str().unwrap().starts_with("the back pressure"));
        assert!(point["trapping_efficiency"].is_null(), "{point}");
        assert_eq!(point["charging_efficiency"], 0.0);
        let scavenging = point["scavenging_efficiency"].as_f64().unwrap();
        assert!((0.0..=1.0).contains(&scavenging), "{scavenging}");
    }
}

#[test]
fn rows_carry_the_outcome_and_why() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("rows");
    let ran = freshcharge(&[
        "sweep",
        "scenarios/touring.toml",
        "--vary",
        "exhaust.back_pressure_bar=1.05,1.8",
        "--rpm",
        "5000",
        "--no-charts",
        "--out",
        out.to_str().unwrap(),
    ]);
    assert_eq!(ran.status.code(), Some(0), "{}", said(&ran));
    assert!(said(&ran).contains("1 settled, 1 would not run"), "{}", said(&ran));
    let rows = std::fs::read_dir(&out)
        .unwrap()
        .flatten()
        .filter_map(|f| std::fs::read_to_string(f.path()).ok())
        .find(|t| t.contains("would_not_run,"))
        .unwrap();
    assert!(rows.contains(",would_not_run,"), "{rows}");
    assert!(rows.contains("the back pressure is more than the crankcase overcomes"), "{rows}");
}
