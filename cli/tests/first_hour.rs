//! The tutorial does what it says: every command in it runs, in its order, and prints what is shown beneath it.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use std::path::Path;
use std::process::{Command, Stdio};

const PAGE: &str = include_str!("../../scenarios/first-hour.md");

/// Fenced blocks of the page with the word behind their fence.
fn blocks() -> Vec<(&'static str, &'static str)> {
    let parts: Vec<&str> = PAGE.split("```").collect();
    assert!(parts.len() % 2 == 1, "a fence is left open");
    parts.iter().skip(1).step_by(2).map(|block| block.split_once('\n').unwrap()).collect()
}

/// A copy of what a clone holds, as far as the page needs it.
fn clone() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let scenarios = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios");
    std::fs::create_dir(folder.path().join("scenarios")).unwrap();
    for name in ["touring.toml", "goals.toml"] {
        std::fs::copy(scenarios.join(name), folder.path().join("scenarios").join(name)).unwrap();
    }
    folder
}

#[test]
fn every_command_of_the_first_hour_runs() {
    let clone = clone();
    let (mut commands, mut shown, mut said) = (0, 0, String::new());
    for (kind, text) in blocks() {
        if kind == "text" {
            for line in text.lines() {
                assert!(said.contains(line), "{line:?} is not in what was printed:\n{said}");
                shown += 1;
            }
            continue;
        }
        assert_eq!(kind, "sh");
        said.clear();
        for line in text.lines() {
            let words: Vec<&str> = line.split_whitespace().collect();
            let program = match words[0] {
                "freshcharge" => env!("CARGO_BIN_EXE_freshcharge"),
                "cp" => "cp",
                other => panic!("{other} is no command of this page"),
            };
            let mut command = Command::new(program);
            command.args(&words[1..]).current_dir(clone.path()).stdin(Stdio::null());
            let out = command.output().unwrap();
            let [printed, messages] =
                [&out.stdout, &out.stderr].map(|b| String::from_utf8_lossy(b).into_owned());
            assert_eq!(out.status.code(), Some(0), "{line}\n{printed}\n{messages}");
            assert!(printed.len() + messages.len() > 10 || words[0] == "cp", "{line} says nothing");
            said += &printed;
            said += &messages;
            commands += 1;
        }
    }
    println!("{commands} commands, {shown} lines shown");
    assert!(commands >= 13 && shown >= 2);
    for made in ["charts", "job/job.toml", "results/first/results.csv", "build.html"] {
        assert!(clone.path().join(made).exists(), "{made}");
    }
}

#[test]
fn every_step_of_the_way_is_in_the_page() {
    for step in ["new", "check", "run", "explain", "target", "plan", "recheck", "sweep", "report"] {
        let command = format!("\nfreshcharge {step} ");
        assert!(PAGE.contains(&command), "{step}");
    }
}

/// A sweep into the folder of another is refused: whoever follows the page must not meet that.
#[test]
fn sweeps_that_are_shown_have_folders_of_their_own() {
    let readme = include_str!("../../README.md");
    let mut folders: Vec<&str> = [readme, PAGE]
        .iter()
        .flat_map(|page| page.lines().filter(|l| l.starts_with("freshcharge sweep ")))
        .filter_map(|line| line.split_once("--out ").map(|(_, rest)| rest.trim()))
        .collect();
    assert!(folders.len() >= 4, "{folders:?}");
    folders.sort_unstable();
    let count = folders.len();
    folders.dedup();
    assert_eq!(folders.len(), count, "{folders:?}");
}

#[test]
fn a_template_is_not_taken_for_a_measured_engine() {
    let clone = clone();
    let run = |line: &str| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_freshcharge"));
        command.args(line.split_whitespace()).current_dir(clone.path()).stdin(Stdio::null());
        String::from_utf8(command.output().unwrap().stderr).unwrap()
    };
    run("new n.toml");
    for command in ["run n.toml --rpm 6000 -q", "check n.toml", "explain n.toml --rpm 6000 --brief"]
    {
        let said = run(command);
        assert!(said.contains("values are marked NOT MEASURED"), "{command}: {said}");
    }
    assert_eq!(run("check scenarios/touring.toml"), "");
}
