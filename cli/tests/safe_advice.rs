//! Advice that could ruin an engine: what a limit forbids no gain makes worth it, in any command.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod common;

use std::path::Path;
use std::process::{Command, Output};

fn freshcharge(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_freshcharge"))
        .current_dir(common::root())
        .args(args)
        .output()
        .unwrap()
}

/// Standard output in one line.
fn said(args: &[&str]) -> String {
    let out = freshcharge(args);
    String::from_utf8(out.stdout).unwrap().split_whitespace().collect::<Vec<_>>().join(" ")
}

const TOURING: &str = "scenarios/touring.toml";
/// Leaves 0.30 mm of squish where the engine has 1.20.
const SKIM: &str = "stack.top_face_cut_mm=0.9";

#[test]
fn no_gain_makes_a_broken_limit_worth_it() {
    let run = said(&["run", TOURING, "--set", SKIM, "--rpm", "7000"]);
    let (_, last) = run.rsplit_once("Do not build it with").unwrap();
    assert!(last.contains("squish") && last.contains("at least 1"), "{last}");
    assert!(!run.contains("worth it"), "{run}");
    let compare = said(&["compare", TOURING, "--set", SKIM, "--rpm", "7000"]);
    assert!(compare.contains("Do not build the second"), "{compare}");
    assert!(!compare.contains("worth it"), "{compare}");
    // a change that breaks nothing is still worth it
    let fine = said(&["run", TOURING, "--set", "carburettor.bore_mm=24", "--rpm", "7000"]);
    assert!(fine.contains("worth it") && !fine.contains("Do not"), "{fine}");
}

#[test]
fn of_two_ways_the_one_that_breaks_a_limit_is_not_advised() {
    let (roof, chord) = ("exhaust.window.roof_depth_mm=32.6", "exhaust.window.chord_mm=37.5");
    let weighed = said(&["compare", TOURING, "--set", roof, "--or", chord, "--rpm", "7000"]);
    let (_, last) = weighed.rsplit_once("Rather").unwrap();
    let (advised, not) = last.split_once("; not").unwrap();
    assert!(advised.contains("roof_depth_mm") && not.contains("chord_mm"), "{last}");
    // the same width on a road engine breaks nothing
    let road = ["compare", TOURING, "--set", roof, "--or", chord, "--rpm", "7000", "--use", "road"];
    assert!(!said(&road).contains("; not exhaust.window.chord_mm"), "{}", said(&road));
}

#[test]
fn a_skim_of_the_head_is_advised_only_as_far_as_the_squish_land() {
    let line = ["check", TOURING, "--set", "stack.base_total_mm=1.4", "--ask", "squish"];
    let answer = said(&line);
    assert!(answer.contains("gives at most 0.40 mm"), "{answer}");
    let little = ["check", TOURING, "--set", "stack.base_total_mm=0.7", "--ask", "squish"];
    assert!(said(&little).contains("or off the head's joint face"), "{}", said(&little));
}

/// Goals in power alone, with a top face that may be cut.
const POWER_ALONE: &str = "[goals]\n\"power_kw@8000\" = { least = 6.2 }\n\n[shelf]\nbase_gaskets_mm = [0.4]\nspacers_mm = [0]\nhead_gaskets_mm = [0.2]\n\n[operations]\ntop_face = { most_mm = 1.0, tolerance_mm = 0.02 }\n";

#[test]
fn a_plan_that_breaks_a_limit_nobody_named_says_so_first_last_and_on_the_sheet() {
    let folder = tempfile::tempdir().unwrap();
    let goals = folder.path().join("goals.toml");
    std::fs::write(&goals, POWER_ALONE).unwrap();
    let sheet = folder.path().join("job");
    let (goals, job) = (goals.to_str().unwrap(), sheet.to_str().unwrap());
    let plan = said(&["plan", TOURING, goals, "--sheet", job]);
    let told: Vec<_> = plan.match_indices("must NOT be built as it stands").collect();
    assert_eq!(told.len(), 2, "{plan}");
    assert!(told[0].0 < 120, "{plan}");
    assert!(plan.contains("squish"), "{plan}");
    let written = std::fs::read_to_string(sheet.join("cut-sheet.md")).unwrap();
    assert!(written.contains("WARNING"), "{written}");
}

fn bytes(path: &Path) -> Vec<u8> {
    std::fs::read(path).unwrap()
}

#[test]
fn a_report_and_a_new_file_never_replace_an_engine_for_good() {
    let folder = tempfile::tempdir().unwrap();
    let engine = folder.path().join("mine.toml");
    std::fs::copy(common::root().join(TOURING), &engine).unwrap();
    let (good, path) = (bytes(&engine), engine.to_str().unwrap());
    let out = freshcharge(&["report", path, "--rpm", "7000", "-o", path]);
    assert_eq!(out.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&out.stderr).contains("would be lost"));
    assert_eq!(freshcharge(&["report", "--write-template", path]).status.code(), Some(2));
    assert_eq!(bytes(&engine), good);
    assert_eq!(freshcharge(&["new", "--template", "--force", path]).status.code(), Some(0));
    assert_ne!(bytes(&engine), good);
    assert_eq!(bytes(&folder.path().join("mine.toml.before")), good);
}
