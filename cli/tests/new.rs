//! `freshcharge new` answered at its prompts, its file run and held against the schema; the schema
//! against every scenario, whole and broken.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod common;

use std::io::Write;
use std::process::{Command, Output, Stdio};

use common::{root, text};
use freshcharge_sim::scenario;

fn freshcharge(args: &[&str], input: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_freshcharge"))
        .args(args)
        .current_dir(root())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(input.as_bytes()).unwrap();
    child.wait_with_output().unwrap()
}

fn validator() -> jsonschema::Validator {
    let out = freshcharge(&["schema"], "");
    let schema: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    jsonschema::validator_for(&schema).unwrap()
}

fn as_json(toml: &str) -> Option<serde_json::Value> {
    let table: toml::Table = toml.parse().ok()?;
    Some(serde_json::to_value(table).unwrap())
}

#[test]
fn answers_at_the_prompts_make_a_file_that_runs_and_fits_the_schema() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bench engine.toml");
    let file = file.to_str().unwrap();
    // a rod too short is asked again; the roof is given by its angle
    let answers = "1\nBench engine\n54,2\n52\n20\n105.5\n\n0.4, 0.1\n\n0.25\n\n\n0.5\n\n\n\n\
                   13.1 cm3\n30.5\n34 mm ± 0.1\n96.5 deg\nrest\n";
    let out = freshcharge(&["new", file, "--ask"], answers);
    let said = text(&out.stderr);
    assert_eq!(out.status.code(), Some(0), "{said}");
    assert!(said.contains("the rod must be longer than the crank radius"), "{said}");
    let written = std::fs::read_to_string(file).unwrap();
    for line in ["bore_mm = 54.2", "opens_deg_atdc = 96.5", "base_gaskets_mm = [0.4, 0.1]"] {
        assert!(written.contains(line), "{line} in {written}");
    }
    assert!(written.contains("chord_mm = \"34 mm ± 0.1\""), "{written}");
    assert!(validator().is_valid(&as_json(&written).unwrap()));
    let out = freshcharge(&["run", file, "--rpm", "6000"], "");
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    // a second time it does not write over what is there
    assert_eq!(freshcharge(&["new", file, "--template"], "").status.code(), Some(2));
    assert_eq!(std::fs::read_to_string(file).unwrap(), written);
}

/// What a measuring hand writes into the unfinished file stays, and nothing is asked twice.
#[test]
fn an_unfinished_file_says_so_and_keeps_what_was_written_into_it() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("half.toml");
    let file = file.to_str().unwrap();
    let out =
        freshcharge(&["new", file, "--ask", "--intake", "reed"], "Half\n50\n50.6\n50.6\nyes\n");
    assert!(text(&out.stderr).contains("Is it the stroke again?"), "{}", text(&out.stderr));
    let half = std::fs::read_to_string(file).unwrap();
    assert!(half.starts_with("# NOT COMPLETE: 4 of 44 questions"), "{half}");
    assert!(half.contains("rod_mm = 50.6  # confirmed"), "{half}");
    // run and check say what to do, new does not write over it
    let out = freshcharge(&["run", file], "");
    assert_eq!(out.status.code(), Some(2));
    assert!(
        text(&out.stderr).contains("To go on: freshcharge new --continue"),
        "{}",
        text(&out.stderr)
    );
    let out = freshcharge(&["new", file, "--ask"], "");
    assert!(
        text(&out.stderr).contains("go on with freshcharge new --continue"),
        "{}",
        text(&out.stderr)
    );
    std::fs::write(file, half + "\n[combustion]\nefficiency = 0.85\n").unwrap();
    let out = freshcharge(&["new", "--continue", file], "52\n");
    let said = text(&out.stderr);
    assert!(said.contains("4 of 44 questions are answered"), "{said}");
    assert!(!said.contains("rod_mm ["), "{said}");
    let more = std::fs::read_to_string(file).unwrap();
    assert!(
        more.contains("skirt_length_mm = 52.0") && more.contains("efficiency = 0.85"),
        "{more}"
    );
    let out = freshcharge(&["new", "--continue", file], "rest\n");
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    let whole = std::fs::read_to_string(file).unwrap();
    assert!(whole.contains("efficiency = 0.85") && !whole.contains("NOT COMPLETE"), "{whole}");
    assert!(scenario::read(&whole).is_ok(), "{whole}");
}

#[test]
fn templates_of_every_kind_run_and_fit_the_schema() {
    for kind in ["crank-web", "disc-valve", "piston-port", "reed"] {
        let out = freshcharge(&["new", "-", "--template", "--intake", kind], "");
        let written = text(&out.stdout);
        assert!(validator().is_valid(&as_json(&written).unwrap()), "{kind}");
        let out = freshcharge(&["run", "-", "--rpm", "5000"], &written);
        assert_eq!(out.status.code(), Some(0), "{kind}: {}", text(&out.stderr));
    }
}

#[test]
fn the_schema_accepts_every_scenario_and_flags_what_form_can_tell() {
    let validator = validator();
    let files = |folder: &str| {
        let entries = std::fs::read_dir(root().join(folder)).unwrap();
        let mut files: Vec<_> = entries.map(|e| e.unwrap().path()).collect();
        files.retain(|f| f.extension().is_some_and(|e| e == "toml"));
        files.sort();
        files
    };
    for name in ["touring", "short-blowdown", "utility", "disc-valve", "reed"] {
        let text = std::fs::read_to_string(root().join(format!("scenarios/{name}.toml"))).unwrap();
        assert!(validator.is_valid(&as_json(&text).unwrap()), "{name}");
    }
    // of the broken files the schema flags those whose fault is one of form: an unknown key, a wrong
    // type, a value beyond its range, a missing key; a rod shorter than the crank it cannot know
    let (mut flagged, mut parsed) = (Vec::new(), 0);
    for file in files("scenarios/broken") {
        let text = std::fs::read_to_string(&file).unwrap();
        let Some(value) = as_json(&text) else { continue };
        parsed += 1;
        if !validator.is_valid(&value) {
            flagged.push(file.file_stem().unwrap().to_string_lossy().into_owned());
        }
    }
    assert!(parsed >= 30, "{parsed}");
    assert!(flagged.len() >= 15, "{flagged:?}");
    for fault in ["misspelt-key", "missing-key", "wrong-type", "out-of-range", "wrong-choice"] {
        assert!(flagged.iter().any(|f| f.contains(fault)), "{fault} among {flagged:?}");
    }
}
