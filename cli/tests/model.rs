//! Versions of the model through the binary: told wherever results go, never mixed.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use std::path::Path;
use std::process::{Command, Output, Stdio};

const MODEL: &str = "model = 1\n";

/// A folder with the touring single, and the same without a version of the model.
struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let engine = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios/touring.toml");
        let engine = std::fs::read_to_string(engine).unwrap();
        assert!(engine.contains(MODEL));
        let bench = Self { folder };
        bench.write("second.toml", &engine.replace(MODEL, "model = 2\n"));
        bench.write("unsaid.toml", &engine.replace(MODEL, ""));
        bench.write("first.toml", &engine);
        bench
    }

    fn write(&self, name: &str, text: &str) {
        std::fs::write(self.folder.path().join(name), text).unwrap();
    }

    fn run(&self, args: &[&str]) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_freshcharge"));
        command.args(args).current_dir(self.folder.path()).stdin(Stdio::null());
        command.output().unwrap()
    }

    /// What it prints where it succeeds.
    fn done(&self, args: &[&str]) -> String {
        let out = self.run(args);
        assert_eq!(out.status.code(), Some(0), "{args:?}: {}", text(&out.stderr));
        text(&out.stdout)
    }

    /// What it says where it refuses.
    fn refused(&self, args: &[&str]) -> String {
        let out = self.run(args);
        assert_eq!(out.status.code(), Some(2), "{args:?}: {}", text(&out.stdout));
        text(&out.stderr)
    }
}

fn text(bytes: &[u8]) -> String {
    let text = String::from_utf8_lossy(bytes);
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_run_says_which_model_it_is_and_takes_another_on_demand() {
    let bench = Bench::new();
    let points = |text: &str| {
        let value: serde_json::Value = serde_json::from_str(text).unwrap();
        (value["model"].clone(), value["points"].clone())
    };
    let of = |args: &[&str]| {
        points(&bench.done(&[&["run"], args, &["--rpm", "6000", "--json"]].concat()))
    };
    let (first, second) = (of(&["first.toml"]), of(&["second.toml"]));
    assert_eq!((&first.0, &second.0), (&1.into(), &2.into()));
    // the command line overrules the file, in both directions and to the last digit
    assert_eq!(of(&["second.toml", "--model", "1"]), first);
    assert_eq!(of(&["first.toml", "--model", "2"]), second);
    assert_eq!(of(&["unsaid.toml"]), first);
    assert_ne!(first.1, second.1);
}

#[test]
fn a_file_without_a_version_is_told_which_one_it_gets() {
    let bench = Bench::new();
    let said = "names no version of the model and gets version 1";
    let told = |args: &[&str]| bench.done(args).matches(said).count();
    assert_eq!(told(&["check", "unsaid.toml"]), 1);
    assert_eq!(told(&["check", "second.toml"]), 0);
    assert_eq!(told(&["check", "unsaid.toml", "--model", "1"]), 0);
    assert_eq!(told(&["run", "unsaid.toml", "--rpm", "6000"]), 1);
}

#[test]
fn versions_that_there_are_not_and_commands_without_an_engine_are_refused() {
    let bench = Bench::new();
    assert!(bench.refused(&["check", "second.toml", "--model", "7"]).contains("versions 1 and 2"));
    bench.write("half.toml", "model = 1.5\nname = \"x\"\n");
    assert!(bench.refused(&["check", "half.toml"]).contains("versions 1 and 2"));
    bench.write("wide.toml", "model = \"2 ± 1\"\nname = \"x\"\n");
    assert!(bench.refused(&["check", "wide.toml"]).contains("a version has no tolerance"));
    assert!(bench.refused(&["limits", "--model", "1"]).contains("computes no engine"));
    let set = bench.refused(&["check", "second.toml", "--set", "model=1"]);
    assert!(set.contains("choose one with --model"), "{set}");
    let out = ["sweep", "second.toml", "--vary", "model=1,2", "--rpm", "6000", "--out", "o"];
    let varied = bench.refused(&out);
    assert!(varied.contains("choose one with --model"), "{varied}");
}

#[test]
fn sweeps_carry_the_version_and_neither_resume_nor_merge_across_it() {
    let bench = Bench::new();
    let shard = |model: &'static str, shard: &'static str, out: &'static str| {
        let vary = ["sweep", "second.toml", "--vary", "stack.base_total_mm=0.4,0.8"];
        let rest = ["--rpm", "6000", "--quiet", "--model", model, "--out", out, "--shard", shard];
        [&vary[..], &rest[..]].concat()
    };
    bench.done(&shard("1", "1/2", "o"));
    let head = std::fs::read_to_string(bench.folder.path().join("o/results-1-of-2.csv")).unwrap();
    assert!(head.contains("\n# model = 1\n"), "{head}");
    let why = bench.refused(&shard("2", "1/2", "o"));
    assert!(why.contains("differs in the version of the model"), "{why}");
    bench.done(&shard("2", "2/2", "p"));
    let why = bench.refused(&["merge", "o", "p", "--out", "q"]);
    assert!(why.contains("results of two versions are never mixed"), "{why}");
    bench.done(&shard("1", "2/2", "o"));
    bench.done(&["merge", "o", "--out", "q"]);
    let json = bench.done(&["results", "q", "--json"]);
    let value: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(value["sweep"]["model"], 1);
}

#[test]
fn engines_of_two_versions_are_not_held_against_each_other() {
    let bench = Bench::new();
    let never = "Results of two versions are never mixed";
    let why = bench.refused(&["compare", "first.toml", "second.toml"]);
    assert!(why.contains(never), "{why}");
    let why = bench.refused(&["report", "first.toml", "second.toml", "-o", "build.html"]);
    assert!(why.contains(never), "{why}");
    let why = bench.refused(&["chart", "first.toml", "second.toml", "--rpm", "6000"]);
    assert!(why.contains(never), "{why}");
    bench.write("dyno.csv", "rpm,power_kw\n5000,6.0\n6000,7.5\n7000,8.0\n");
    let input = "friction.constant_bar=0.1:0.6";
    let fit = ["fit", "second.toml", "--measured", "dyno.csv", "--input", input];
    let why = bench.refused(&[&fit[..], &["--held-out", "first.toml", "dyno.csv"]].concat());
    assert!(why.contains(never), "{why}");
}

#[test]
fn a_job_is_rechecked_with_the_version_that_it_was_planned_with() {
    let bench = Bench::new();
    bench.write(
        "goals.toml",
        "[goals]\nsquish_mm = [1.0, 1.5]\n[shelf]\nbase_gaskets_mm = [0.2, 0.4]\nspacers_mm = [0.0, 0.5]\nhead_gaskets_mm = [0.3, 0.5, 0.8]\n",
    );
    bench.done(&["plan", "second.toml", "goals.toml", "--sheet", "job", "--model", "1"]);
    let job = std::fs::read_to_string(bench.folder.path().join("job/job.toml")).unwrap();
    assert!(job.contains("\nmodel = 1\n"), "{job}");
    bench.done(&["recheck", "job/job.toml", "--model", "1"]);
    let why = bench.refused(&["recheck", "job/job.toml"]);
    assert!(why.contains("made with version 1 of the model") && why.contains("--model 1"), "{why}");
    // a job of program 0.3.0 names none
    bench.write("job/job.toml", &job.replace("\nmodel = 1\n", "\n"));
    bench.done(&["recheck", "job/job.toml", "--model", "1"]);
    bench.refused(&["recheck", "job/job.toml", "--model", "2"]);
}
