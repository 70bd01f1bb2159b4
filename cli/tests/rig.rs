//! `freshcharge rig` through the binary: text in, files out, exit code.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod common;

use std::io::Write;
use std::process::{Command, Output, Stdio};

use common::{root, text};

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

const TUBE: &str = r#"name = "tube"
gas = "perfect"
end_ms = 0.3
cell_mm = 10.0

[[pipe]]
name = "tube"
start = "closed"
finish = "closed"

[[pipe.section]]
length_mm = 1000
diameter_mm = 40
friction = "none"

[[pipe.fill]]
to_mm = 500
pressure_bar = 3.0
"#;

#[test]
fn every_rig_of_the_scenarios_runs() {
    let mut count = 0;
    for entry in std::fs::read_dir(root().join("scenarios/rigs")).unwrap() {
        let path = entry.unwrap().path();
        let out = freshcharge(&["rig", path.to_str().unwrap()], "");
        assert_eq!(out.status.code(), Some(0), "{}: {}", path.display(), text(&out.stderr));
        let said = text(&out.stdout);
        let lost = said.split("unaccounted for: ").nth(1).unwrap().split(' ').next().unwrap();
        assert!(lost.parse::<f64>().unwrap() < 1e-12, "{}: {said}", path.display());
        count += 1;
    }
    assert!(count >= 6, "{count}");
}

#[test]
fn a_shock_tube_gives_the_exact_pressure_between_its_waves() {
    let folder = tempfile::tempdir().unwrap();
    let charts = folder.path().join("charts");
    let args = [
        "rig",
        "-",
        "--out",
        folder.path().to_str().unwrap(),
        "--charts",
        charts.to_str().unwrap(),
    ];
    let out = freshcharge(&args, TUBE);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    let profiles = std::fs::read_to_string(folder.path().join("profiles.csv")).unwrap();
    let mut lines = profiles.lines();
    let heads = "time_ms,pipe,x_mm,pressure_bar,velocity_m_per_s,temperature_k,burned";
    assert_eq!(lines.next(), Some(heads));
    // between the waves of 3 bar against 1.01325 bar at one temperature
    let gas = |pressure| freshcharge_sim::pipe::riemann::Gas {
        density: pressure * 1e5 / (287.0 * 293.15),
        velocity: 0.0,
        pressure: pressure * 1e5,
        gamma: 1.4,
    };
    let exact = freshcharge_sim::pipe::riemann::Exact::new(gas(3.0), gas(1.01325)).unwrap();
    let row = lines.find(|l| l.split(',').nth(2).unwrap().starts_with("525")).unwrap();
    let pressure: f64 = row.split(',').nth(3).unwrap().parse().unwrap();
    assert!((pressure * 1e5 / exact.pressure - 1.0).abs() < 2e-3, "{pressure} {exact:?}");
    for name in ["map-tube-pressure.svg", "profile-tube-velocity-800.png"] {
        assert!(charts.join(name).exists(), "{name}");
    }
}

#[test]
fn a_faulty_file_gives_one_report_with_line_key_and_remedy() {
    let with = |from: &str, to: &str| TUBE.replacen(from, to, 1);
    let cases = [
        (with("finish = \"closed\"", "finish = \"shut\""), 9, "pipe[0].finish", "known are closed"),
        (
            with("diameter_mm = 40", "diametr_mm = 40"),
            13,
            "pipe[0].section[0].diametr_mm",
            "did you mean diameter_mm",
        ),
        (
            with("pressure_bar = 3.0", "pressure_bar = -3.0"),
            18,
            "pipe[0].fill[0].pressure_bar",
            "must lie between",
        ),
        (with("end_ms = 0.3", "end_ms = \"soon\""), 3, "end_ms", "write a number"),
        (with("end_ms = 0.3\n", ""), 1, "end_ms", "missing: how long it runs"),
        (with("gas = \"perfect\"", "gas = \"steam\""), 2, "gas", "\"mixtures\", \"perfect\""),
        (with("cell_mm = 10.0", "cell_mm = 10.0\nlambda = 0.9"), 5, "lambda", "leave it out"),
        (
            with("start = \"closed\"", "start = \"tube.finish\""),
            8,
            "pipe[0].start",
            "must name this one",
        ),
        (with("length_mm = 1000", "length_mm = 1000 mm"), 12, "", "goes in quotes"),
        (
            with("to_mm = 500", "to_mm = 500\nfrom_mm = 600"),
            17,
            "pipe[0].fill[0].to_mm",
            "must be more than",
        ),
    ];
    for (file, line, key, remedy) in cases {
        let out = freshcharge(&["rig", "-"], &file);
        let said = text(&out.stderr);
        assert_eq!(out.status.code(), Some(2), "{said}");
        assert!(out.stdout.is_empty());
        assert!(said.contains(&format!("standard input:{line}:")), "{line}: {said}");
        assert!(said.contains(key) && said.contains(remedy), "{key} {remedy}: {said}");
    }
}
