//! `freshcharge run` through the binary: text in, text out, exit code.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod common;

use common::{freshcharge, root, text};
use std::process::{Command, Stdio};

const KEYS: &[&str] = &[
    "rpm",
    "delivery_ratio",
    "trapping_efficiency",
    "charging_efficiency",
    "scavenging_efficiency",
    "cylinder_pressure_at_exhaust_opening_bar",
    "cylinder_pressure_at_transfer_opening_bar",
    "crankcase_pressure_at_transfer_opening_bar",
    "hot_backflow_mass_mg",
    "hot_backflow_duration_deg",
    "hot_backflow_penetration",
    "late_backflow_mass_mg",
    "imep_bar",
    "bmep_bar",
    "power_kw",
    "torque_nm",
    "settled",
    "cycles",
    "residual",
    "mass_balance",
    "energy_balance",
];

#[test]
fn json_carries_every_key_and_where_it_comes_from() {
    let out = freshcharge(&["run", "scenarios/touring.toml", "--rpm", "6000,8000", "--json"]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    let value: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!(value["schema_version"], 1);
    assert_eq!(value["input_sha256"].as_str().unwrap().len(), 64);
    let points = value["points"].as_array().unwrap();
    assert_eq!(points.len(), 2);
    for point in points {
        for key in KEYS {
            assert!(!point[key].is_null(), "{key}");
        }
        assert_eq!(point["settled"], true);
        assert!(point["mass_balance"].as_f64().unwrap().abs() <= 1e-11);
        assert!(point["energy_balance"].as_f64().unwrap().abs() <= 1e-11);
    }
}

#[test]
fn the_table_and_its_words_fit_eighty_columns() {
    let out = freshcharge(&["run", "scenarios/short-blowdown.toml", "--rpm", "4000:8000:2000"]);
    assert_eq!(out.status.code(), Some(0));
    let printed = text(&out.stdout);
    assert!(
        printed.contains("Hot gas runs back into the transfer ducts at every speed"),
        "{printed}"
    );
    let table: Vec<&str> = printed.lines().take_while(|l| !l.contains("Hot gas")).collect();
    assert!(table.len() > 6);
    for line in table {
        assert!(line.trim_end().chars().count() <= 80, "{line}");
    }
}

#[test]
fn charts_and_traces_are_written() {
    let folder = tempfile::tempdir().unwrap();
    let (charts, traces) = (folder.path().join("charts"), folder.path().join("traces"));
    let (charts_text, traces_text) = (charts.to_str().unwrap(), traces.to_str().unwrap());
    let out = freshcharge(&[
        "run",
        "scenarios/touring.toml",
        "--rpm",
        "6000,8000",
        "--charts",
        charts_text,
        "--trace",
        traces_text,
    ]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    let svg = std::fs::read_to_string(charts.join("blowdown-8000rpm.svg")).unwrap();
    for words in ["Touring single 126", "crank angle", "cylinder", "crankcase", "late by"] {
        assert!(svg.contains(words), "{words}");
    }
    let png = std::fs::read(charts.join("delivery-1600.png")).unwrap();
    assert_eq!(&png[..4], b"\x89PNG");
    let trace = std::fs::read_to_string(traces.join("trace-6000rpm.csv")).unwrap();
    assert!(trace.starts_with("angle_deg,time_ms,"));
    assert!(trace.lines().count() > 1440);
}

/// Left end and height of the words in a drawing.
fn place(svg: &str, words: &str) -> Option<(f64, f64)> {
    let (head, _) = svg.split_once(&format!(">\n{words}\n</text>"))?;
    let tag = &head[head.rfind("<text ")?..];
    let number = |key: &str| tag.split_once(key)?.1.split('"').next()?.parse().ok();
    Some((number(" x=\"")?, number(" y=\"")?))
}

#[test]
fn charts_of_pipes_show_what_belongs_to_their_side() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("piped.toml");
    let engine = std::fs::read_to_string(root().join("scenarios/box-silencer.toml")).unwrap();
    let inlet = "\n[inlet_pipe]\n[[inlet_pipe.section]]\nname = \"rubber\"\nlength_mm = 80\n\
                 from_mm = 26\nto_mm = 24\n";
    std::fs::write(&file, engine + inlet).unwrap();
    let charts = folder.path().join("charts");
    let (file, to) = (file.to_str().unwrap(), charts.to_str().unwrap());
    let out = freshcharge(&["run", file, "--rpm", "6000", "--charts", to]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    let drawn = |name: &str| std::fs::read_to_string(charts.join(format!("{name}-6000rpm.svg")));

    let port = drawn("inlet-port-pressure").unwrap();
    for words in ["crankcase", "IO", "IC", "BDC", "TDC"] {
        assert!(place(&port, words).is_some(), "{words}");
    }
    for words in ["cylinder", "EO", "TO", "TC", "EC"] {
        assert!(place(&port, words).is_none(), "{words}");
    }
    // nothing but fresh charge passes this inlet
    assert!(drawn("inlet-map-burned").is_err());
    let burned = drawn("exhaust-map-burned").unwrap();
    for words in ["0.00", "0.25", "0.50", "0.75", "1.00"] {
        assert!(place(&burned, words).is_some(), "{words}");
    }
    // standard atmosphere outside the carburettor, in the middle of the scale
    let map = drawn("inlet-map-pressure").unwrap();
    assert!(place(&map, "[bar abs.]").is_some());
    assert!(place(&map, "1.013").is_some());
    // the silencer's box takes no length: its tail begins where it does
    let (a, b) = (place(&burned, "box").unwrap(), place(&burned, "tail").unwrap());
    assert!(a.1 == b.1 && b.0 > a.0 + 40.0, "{a:?} {b:?}");
    assert!(drawn("exhaust-stations").unwrap().contains("tail after box"));
    // the axis stands 10 and 62 units of four pixels from the left edge
    let axis = 4.0 * (10.0 + 62.0) - 1.0;
    assert!(place(&burned, "EO").unwrap().0 > axis);
    assert!(drawn("blowdown").unwrap().contains("exhaust, at the port face"));
    assert!(drawn("exhaust-port-pressure").unwrap().contains(" mm from the port"));
}

#[test]
fn pieces_of_a_pipe_are_listed_and_a_step_among_them_is_pointed_at() {
    let check = |set: &[&str]| {
        let out = freshcharge(&[&["check", "scenarios/tuned-pipe.toml", "--all"], set].concat());
        assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
        text(&out.stdout).to_owned()
    };
    let plain = check(&[]);
    // half the widening from 42 to 68 mm over 150 mm: atan(13/150) = 4.95°
    assert!(plain.contains("230 to   380 mm, ⌀ 42.0 to 68.0 mm, 5.0° each side"), "{plain}");
    assert!(!plain.contains("step from"), "{plain}");
    let stepped = check(&["--set", "exhaust.pipe.section.header.from_mm=60"]);
    assert!(stepped.contains("begins with a step from 37.0 to 60.0 mm"), "{stepped}");
}

#[test]
fn a_pipe_that_opens_into_a_silencers_back_pressure_is_noted() {
    let run = |set: &[&str]| {
        let all = ["run", "scenarios/box-silencer.toml", "--rpm", "6000"];
        text(&freshcharge(&[&all[..], set].concat()).stdout).replace('\n', " ")
    };
    let note = "the exhaust pipe opens into exhaust.back_pressure_bar = 1.050 bar";
    assert!(!run(&[]).contains(note));
    let said = run(&["--set", "exhaust.back_pressure_bar=1.05"]);
    assert!(said.contains(note), "{said}");
}

#[test]
fn faults_are_told_with_file_line_and_remedy_and_exit_two() {
    let out = freshcharge(&["run", "scenarios/broken/12-decimal-comma.toml"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(out.stdout.is_empty());
    let said = text(&out.stderr);
    assert!(said.contains("12-decimal-comma.toml:6:13: bore_mm = 55,5"), "{said}");
    assert!(said.contains("write decimals with a point: 55.5"), "{said}");
    assert!(!said.contains('\u{1b}'), "no colour off a terminal");
}

#[test]
fn bad_speeds_and_missing_files_get_one_clear_line() {
    for (speeds, words) in [
        ("9000:3000:500", "write 3000:9000:500"),
        ("fast", "is not a speed"),
        ("3000:9000", "from:to:step"),
    ] {
        let out = freshcharge(&["run", "scenarios/touring.toml", "--rpm", speeds]);
        assert_eq!(out.status.code(), Some(2));
        assert!(text(&out.stderr).contains(words), "{}", text(&out.stderr));
    }
    let out = freshcharge(&["run", "no-such-engine.toml"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("no-such-engine.toml"));
}

#[test]
fn every_broken_file_exits_two_without_a_panic() {
    for entry in std::fs::read_dir(root().join("scenarios/broken")).unwrap() {
        let path = entry.unwrap().path();
        let out = freshcharge(&["run", path.to_str().unwrap()]);
        assert_eq!(out.status.code(), Some(2), "{}", path.display());
        assert!(!text(&out.stderr).contains("panicked"), "{}", path.display());
    }
}

#[test]
fn a_closed_pipe_is_success() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_freshcharge"))
        .args(["run", "scenarios/touring.toml", "--rpm", "6000", "--json"])
        .current_dir(root())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let out = child.wait_with_output().unwrap();
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    assert!(!text(&out.stderr).contains("panicked"));
}

#[test]
fn schema_completions_and_manual_are_printed() {
    let schema = freshcharge(&["schema"]);
    let value: serde_json::Value = serde_json::from_slice(&schema.stdout).unwrap();
    assert_eq!(value["properties"]["crank_train"]["required"][0], "bore_mm");
    let completions = freshcharge(&["completions", "bash"]);
    assert!(text(&completions.stdout).contains("_freshcharge"));
    let manual = freshcharge(&["man"]);
    assert!(text(&manual.stdout).contains(".TH freshcharge"));
}

#[test]
fn bare_windows_differ_from_columns_and_say_so() {
    let of = |more: &[&str]| -> serde_json::Value {
        let args = [&["run", "scenarios/touring.toml", "--rpm", "6000", "--json"], more].concat();
        serde_json::from_slice(&freshcharge(&args).stdout).unwrap()
    };
    let (columns, bare) = (of(&[]), of(&["--bare-windows"]));
    assert_eq!((&columns["bare_windows"], &bare["bare_windows"]), (&false.into(), &true.into()));
    let delivery = |v: &serde_json::Value| v["points"][0]["delivery_ratio"].as_f64().unwrap();
    assert!((delivery(&columns) - delivery(&bare)).abs() > 0.01);
}
