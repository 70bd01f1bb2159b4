//! Which stack is fitted, with which the readings were taken, and what errors of readings leave.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod common;

use common::{freshcharge, root, said, text};

/// Two files in a folder of their own.
fn files(before: &str, after: &str) -> (tempfile::TempDir, [String; 2]) {
    let folder = tempfile::tempdir().unwrap();
    let paths = [("before.toml", before), ("after.toml", after)].map(|(name, text)| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    });
    (folder, paths)
}

fn touring() -> String {
    std::fs::read_to_string(root().join("scenarios/touring.toml")).unwrap()
}

/// A spacer added by hand to what is fitted.
fn spaced(text: &str) -> String {
    text.replace("[stack]\n", "[stack]\nspacers_mm = [1.0]\n")
}

/// The measured stack left to follow.
fn following(text: &str) -> String {
    text.replace("deck_mm = 0.3\nbase_gaskets_mm = [0.4]\nspacers_mm = []\n", "deck_mm = 0.3\n")
        .replace("head_gasket_mm = 0.5\n", "")
}

fn line<'a>(text: &'a str, start: &str) -> &'a str {
    text.lines()
        .find(|l| l.trim_start().starts_with(start))
        .unwrap_or_else(|| panic!("{start}: {text}"))
}

/// Last number of a line that is one, before its unit.
fn numbers(line: &str) -> Vec<f64> {
    line.split_whitespace().filter_map(|w| w.parse().ok()).collect()
}

#[test]
fn two_files_that_differ_in_the_fitted_stack_show_what_it_does() {
    let base = touring();
    let (_folder, [before, after]) = files(&base, &spaced(&base));
    let out = freshcharge(&["compare", &before, &after]);
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    let shown = text(&out.stdout);
    assert!(!shown.contains("Warning"), "{shown}");
    let stack = line(&shown, "After:");
    assert!(stack.contains("measured with base 0.40"), "{stack}");
    assert!(stack.contains("fitted 1.40 (+1.00)"), "{stack}");
    assert!(line(&shown, "Before:").contains("as when the readings were taken"), "{shown}");
    // one millimetre lifts a roof at depth h by what the crank needs for it: some five degrees of duration
    let change = *numbers(line(&shown, "transfer main duration")).get(2).unwrap();
    assert!((4.0..8.0).contains(&change), "{shown}");
    let torque = numbers(line(&shown, "torque [N·m]"));
    assert!(torque[2] < -0.1, "{shown}");
    // the account of one change at a time leaves nothing over
    let alone = numbers(line(&shown, "stack.base_total_mm"));
    let rest = numbers(line(&shown, "together, less"));
    assert!((alone[alone.len() - 4] - torque[2]).abs() < 0.01, "{shown}");
    assert!(rest.iter().all(|r| r.abs() < 1e-3), "{shown}");
    // the same as the change made by hand on one file
    let set = freshcharge(&["compare", &before, "--set", "stack.base_total_mm=1.4"]);
    let rows = |t: &str| -> Vec<String> {
        t.lines()
            .filter(|l| l.contains("duration") || l.contains("torque"))
            .map(str::to_owned)
            .collect()
    };
    assert_eq!(rows(&text(&set.stdout)), rows(&shown));
}

#[test]
fn a_measured_stack_left_to_follow_is_told_with_what_to_write() {
    let base = following(&touring());
    let (_folder, [before, after]) = files(&base, &spaced(&base));
    let shown = text(&freshcharge(&["compare", &before, &after]).stdout);
    let words = shown.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in [
        "Warning: the fitted base stacks differ by +1.00 mm (stack.base_gaskets_mm, stack.spacers_mm), but no timing moves with it",
        "because stack.measured.base_gaskets_mm and stack.measured.spacers_mm are not given in both files",
        "write these two lines under [stack.measured] in both files:",
    ] {
        assert!(words.contains(part), "{part}: {shown}");
    }
    assert!(shown.contains("\n  base_gaskets_mm = [0.4]\n  spacers_mm = []\n"), "{shown}");
    // one change, not two that cancel
    assert!(line(&shown, "stack.base_total_mm").contains("measured so too"), "{shown}");
    assert!(!shown.contains("-0.408"), "{shown}");
    // doing what it says shows the effect
    let lines = "deck_mm = 0.3\nbase_gaskets_mm = [0.4]\nspacers_mm = []\n";
    let mended = |t: &str| t.replace("deck_mm = 0.3\n", lines);
    let (_folder, [before, after]) = files(&mended(&base), &mended(&spaced(&base)));
    let shown = text(&freshcharge(&["compare", &before, &after]).stdout);
    assert!(!shown.contains("Warning"), "{shown}");
    assert!(numbers(line(&shown, "transfer main duration"))[2] > 4.0, "{shown}");
}

#[test]
fn a_head_gasket_left_to_follow_is_told_too() {
    let base = following(&touring());
    let thicker = base.replace("head_gaskets_mm = [0.5]", "head_gaskets_mm = [0.8]");
    let (_folder, [before, after]) = files(&base, &thicker);
    let shown = text(&freshcharge(&["compare", &before, &after]).stdout);
    let words = shown.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("but the clearance volume does not move with it, because head.assembled.head_gasket_mm is not given in both files"), "{shown}");
    assert!(
        words
            .contains("write this line under [head.assembled] in both files: head_gasket_mm = 0.5"),
        "{shown}"
    );
}

#[test]
fn check_and_run_say_in_one_line_which_stack_is_which() {
    let same = "Stack: base 0.40, head gasket 0.50 mm, as when the readings were taken.";
    let other = "Stack: measured with base 0.40, head 0.50 mm; fitted 1.40 (+1.00), 0.50 (+0.00).";
    let (_folder, [plain, spacer]) = files(&touring(), &spaced(&touring()));
    for (file, wanted) in [(&plain, same), (&spacer, other)] {
        for command in [&["check", file][..], &["run", file, "--rpm", "6000"]] {
            let shown = text(&freshcharge(command).stdout);
            assert_eq!(shown.lines().filter(|l| l.ends_with(wanted)).count(), 1, "{shown}");
            assert!(!shown.contains("not in the file, so what was measured"), "{shown}");
        }
    }
    let (_folder, [follows, _]) = files(&following(&touring()), "");
    for command in [&["check", &follows][..], &["run", &follows, "--rpm", "6000"]] {
        let shown = text(&freshcharge(command).stdout);
        let words = shown.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains("stack.measured.base_gaskets_mm, stack.measured.spacers_mm and head.assembled.head_gasket_mm are not in the file"), "{shown}");
        assert!(words.contains("base_gaskets_mm = [0.4] under [stack.measured], spacers_mm = [] under [stack.measured], head_gasket_mm = 0.5 under [head.assembled]"), "{shown}");
    }
}

/// The same file with a spacer in the stack to run, wherever the table stands.
fn spacer_fitted(text: &str) -> String {
    let (before, stack) = text.split_once("\n[stack]\n").unwrap();
    format!("{before}\n[stack]\n{}", stack.replacen("spacers_mm = []", "spacers_mm = [1.0]", 1))
}

#[test]
fn a_new_file_says_with_which_stack_it_was_measured() {
    for kind in ["crank-web", "disc-valve", "piston-port", "reed"] {
        let written = text(&freshcharge(&["new", "-", "--template", "--intake", kind]).stdout);
        let table: toml::Table = written.parse().unwrap();
        let measured = &table["stack"]["measured"];
        assert_eq!(measured["base_gaskets_mm"], table["stack"]["base_gaskets_mm"], "{written}");
        assert_eq!(measured["spacers_mm"], table["stack"]["spacers_mm"], "{written}");
        assert_eq!(table["head"]["assembled"]["head_gasket_mm"].as_float(), Some(0.5), "{written}");
        let (_folder, [before, after]) = files(&written, &spacer_fitted(&written));
        let shown = text(&freshcharge(&["compare", &before, &after, "--rpm", "6000"]).stdout);
        assert!(numbers(line(&shown, "transfer main duration"))[2] > 4.0, "{kind}: {shown}");
    }
}

#[test]
fn check_keeps_its_plus_and_minus_with_any_set() {
    let of = |set: &[&str]| {
        let args = [&["check", "scenarios/touring.toml", "--all"][..], set].concat();
        let shown = text(&freshcharge(&args).stdout);
        let row = line(&shown, "transfers, first to open: duration ").to_owned();
        let advice = shown
            .lines()
            .filter(|l| l.contains("makes") && l.contains("transfers"))
            .map(str::to_owned);
        (row, advice.collect::<Vec<_>>())
    };
    let plain = of(&[]);
    assert!(
        plain.0.contains("± 0.57") && plain.1[0].contains("stack.measured.deck_mm"),
        "{plain:?}"
    );
    for set in ["combustion.start_deg_btdc=14", "carburettor.bore_mm=24", "head.land_offset_mm=0.5"]
    {
        assert_eq!(of(&["--set", set]), plain, "{set}");
    }
}

#[test]
fn plus_minus_without_a_number_draws_64_sets_and_names_nothing_that_does_nothing() {
    let args = ["run", "scenarios/touring.toml", "--rpm", "6000", "--json", "-q", "--plus-minus"];
    let out = freshcharge(&args);
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    let json: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let found = &json["plus_minus"];
    assert_eq!(found["sets"].as_u64(), Some(64));
    let least = found["rank_correlation_to_exceed"].as_f64().unwrap();
    assert!((0.4..0.55).contains(&least), "{least}");
    let mut named = 0;
    for (result, list) in found["matters_most"].as_object().unwrap() {
        for reading in list.as_array().unwrap() {
            named += 1;
            let path = reading["path"].as_str().unwrap();
            // studs, pegs and ring faces have no part in the gas
            for idle in ["stud_hole", "ring_pegs", "ring_depths", "land_angle"] {
                assert!(!path.contains(idle), "{result}: {path}");
            }
            assert!(reading["rank_correlation"].as_f64().unwrap().abs() > least, "{reading}");
        }
    }
    assert!(named > 3, "{found}");
    // few sets tell little, and say so
    let out =
        freshcharge(&["run", "scenarios/touring.toml", "--rpm", "6000", "--plus-minus", "12"]);
    let shown = text(&out.stdout);
    assert!(shown.contains("no single reading can be told from chance"), "{shown}");
    let words = shown.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("A reading is named only where its rank correlation is above 0.9"),
        "{shown}"
    );
    assert!(words.contains("two-sided"), "{shown}");
    assert!(!shown.contains("floor_radius_mm (±"), "{shown}");
}
