//! The bench's commands through the binary: plans against brute force, sheets read back and applied,
//! properties over many engines, and the questions a tuner asks.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod common;

use std::fmt::Write as _;

use common::{freshcharge, root, said as text_of, text};
use freshcharge_sim::scenario::{self, Scenario};
use freshcharge_sim::workshop::Facts;

fn touring() -> Scenario {
    let text = std::fs::read_to_string(root().join("scenarios/touring.toml")).unwrap();
    scenario::read(&text).unwrap()
}

/// Goals with roof and width free, six spacers, four base and five head gaskets.
const GOALS: &str = r#"
[goals]
transfer_duration_deg = [121.0, 124.0]
blowdown_angle_area_mm2deg = { least = 4000.0 }
squish_mm = { least = 1.0, most = 1.5 }
exhaust_chord_to_bore = { most = 0.66 }
[shelf]
base_gaskets_mm = [0.2, 0.3, 0.4, 0.5]
spacers_mm = [0.0, 0.5, 0.8, 1.0, 1.2, 1.5]
head_gaskets_mm = [0.2, 0.3, 0.5, 0.8, 1.0]
[operations]
roof = { most_mm = 2.0, tolerance_mm = 0.15, cost = 3.0, setup = 1.0 }
width = { most_mm = 3.0, tolerance_mm = 0.2, cost = 1.0, setup = 0.5 }
"#;

/// Worst value of a fact over the corners of the tolerances of what is cut, downwards and upwards.
fn corners(base: &Scenario, stack: (f64, f64), roof: f64, width: f64) -> Option<[Vec<f64>; 2]> {
    let keys = [
        "transfer_duration_deg",
        "blowdown_angle_area_mm2deg",
        "squish_mm",
        "exhaust_chord_to_bore",
    ];
    let mut low = vec![f64::INFINITY; keys.len()];
    let mut high = vec![f64::NEG_INFINITY; keys.len()];
    for roof_sign in [-1.0, 1.0] {
        for width_sign in [-1.0, 1.0] {
            let roof = if roof > 0.0 { roof + 0.15 * roof_sign } else { 0.0 };
            let width = if width > 0.0 { width + 0.2 * width_sign } else { 0.0 };
            let engine = base
                .with_all(&[
                    ("stack.base_total_mm", stack.0),
                    ("stack.head_total_mm", stack.1),
                    ("exhaust.window[0].roof_depth_mm", 33.1 - roof),
                    ("exhaust.window[0].chord_mm", 35.0 + width),
                ])
                .ok()?;
            let facts = Facts::of_scenario(&engine, &[]);
            for (i, key) in keys.iter().enumerate() {
                let value = facts.get(key)?;
                low[i] = low[i].min(value);
                high[i] = high[i].max(value);
            }
        }
    }
    Some([low, high])
}

fn holds(base: &Scenario, stack: (f64, f64), roof: f64, width: f64) -> bool {
    corners(base, stack, roof, width).is_some_and(|[low, high]| {
        low[0] >= 121.0 - 1e-6
            && high[0] <= 124.0 + 1e-6
            && low[1] >= 4000.0 - 1e-3
            && low[2] >= 1.0 - 1e-6
            && high[2] <= 1.5 + 1e-6
            && high[3] <= 0.66 + 1e-9
    })
}

#[test]
fn the_best_plan_is_the_one_brute_force_finds() {
    let folder = tempfile::tempdir().unwrap();
    let goals = folder.path().join("goals.toml");
    std::fs::write(&goals, GOALS).unwrap();
    let job = folder.path().join("job");
    let out = freshcharge(&[
        "plan",
        "scenarios/touring.toml",
        goals.to_str().unwrap(),
        "--sheet",
        job.to_str().unwrap(),
        "-q",
    ]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stdout));
    let job: toml::Table = std::fs::read_to_string(job.join("job.toml")).unwrap().parse().unwrap();
    let number = |v: &toml::Value| v.as_float().unwrap();
    let stack = &job["stack"];
    let found_stack = (number(&stack["base"]) + number(&stack["spacer"]), number(&stack["head"]));
    let (mut roof, mut width) = (0.0, 0.0);
    for cut in job["cut"].as_array().unwrap() {
        let amount = (number(&cut["to"]) - number(&cut["from"])).abs();
        if cut["path"].as_str().unwrap().contains("roof") { roof = amount } else { width = amount }
    }
    let base = touring();
    // it holds in every corner of its tolerances
    assert!(holds(&base, found_stack, roof, width), "{found_stack:?} {roof} {width}");
    let price = |stack: (f64, f64), roof: f64, width: f64| {
        let cuts = if roof > 0.0 { 1.0 + 3.0 * roof } else { 0.0 }
            + if width > 0.0 { 0.5 + width } else { 0.0 };
        cuts + 0.01 * ((stack.0 - 0.4).abs() + (stack.1 - 0.5).abs())
    };
    let best = price(found_stack, roof, width);
    // fine brute force: nothing on the grid is cheaper by more than the grid is wide
    let mut cheapest = f64::INFINITY;
    for base_total in
        [0.2, 0.3, 0.4, 0.5].iter().flat_map(|b| [0.0, 0.5, 0.8, 1.0, 1.2, 1.5].map(|s| b + s))
    {
        for head in [0.2, 0.3, 0.5, 0.8, 1.0] {
            let stack = (base_total, head);
            // most stacks already fail what cutting does not change
            let Some([low, high]) = corners(&base, stack, 0.0, 0.0) else { continue };
            if low[0] < 121.0 || high[0] > 124.0 || low[2] < 1.0 - 1e-9 || high[2] > 1.5 + 1e-9 {
                continue;
            }
            for r in 0..=80 {
                for w in 0..=60 {
                    let (roof, width) = (0.025 * f64::from(r), 0.05 * f64::from(w));
                    let cost = price(stack, roof, width);
                    if cost < cheapest.min(best) && holds(&base, stack, roof, width) {
                        cheapest = cost;
                    }
                }
            }
        }
    }
    assert!(best <= cheapest + 1e-9, "{best} against {cheapest}");
}

#[test]
fn an_impossible_goal_gets_its_least_relaxation() {
    let folder = tempfile::tempdir().unwrap();
    let goals = folder.path().join("goals.toml");
    // 30° of blowdown with at most 1 mm off the roof
    let text_of = GOALS
        .replace(
            "blowdown_angle_area_mm2deg = { least = 4000.0 }",
            "blowdown_deg = { least = 30.0 }",
        )
        .replace("roof = { most_mm = 2.0", "roof = { most_mm = 1.0");
    std::fs::write(&goals, text_of).unwrap();
    let out = freshcharge(&["plan", "scenarios/touring.toml", goals.to_str().unwrap(), "-q"]);
    let said = text(&out.stdout);
    assert_eq!(out.status.code(), Some(1), "{said}");
    assert!(said.contains("smallest relaxation"), "{said}");
    // brute force over stacks with the roof at its limit: the least miss, each goal in its own scale
    let base = touring();
    let mut least = f64::INFINITY;
    for base_total in
        [0.2, 0.3, 0.4, 0.5].iter().flat_map(|b| [0.0, 0.5, 0.8, 1.0, 1.2, 1.5].map(|s| b + s))
    {
        for head in [0.2, 0.3, 0.5, 0.8, 1.0] {
            for roof in [0.9, 0.95, 1.0] {
                // in the corner that leaves the roof lowest
                let engine = base
                    .with_all(&[
                        ("stack.base_total_mm", base_total),
                        ("stack.head_total_mm", head),
                        ("exhaust.window[0].roof_depth_mm", 33.1 - roof + 0.15),
                    ])
                    .unwrap();
                let facts = Facts::of_scenario(&engine, &[]);
                let get = |k: &str| facts.get(k).unwrap();
                let transfer = get("transfer_duration_deg");
                let squish = get("squish_mm");
                // squish is never relaxed: a stack without it is no plan
                if !(1.0 - 1e-9..=1.5 + 1e-9).contains(&squish) {
                    continue;
                }
                let misses = [
                    (121.0 - transfer) / 3.0,
                    (transfer - 124.0) / 3.0,
                    (30.0 - get("blowdown_deg")) / 1.5,
                ];
                least = least.min(misses.into_iter().fold(0.0, f64::max));
            }
        }
    }
    let wanted = format!("{:.1}", 30.0 - 1.5 * least);
    assert!(said.contains("blowdown_deg: at least "), "{said}");
    let told: f64 = said
        .split("blowdown_deg: at least ")
        .nth(1)
        .and_then(|rest| rest.split(' ').next())
        .unwrap()
        .parse()
        .unwrap();
    assert!((told - (30.0 - 1.5 * least)).abs() < 0.02, "{told} against {wanted}: {said}");
}

#[test]
fn a_sheet_read_back_and_applied_meets_its_goals() {
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join("job");
    let out = freshcharge(&[
        "plan",
        "scenarios/touring.toml",
        "scenarios/goals.toml",
        "--sheet",
        job.to_str().unwrap(),
        "-q",
    ]);
    assert_eq!(out.status.code(), Some(0));
    let sheet = std::fs::read_to_string(job.join("cut-sheet.md")).unwrap();
    // the final roof as a person would read it off the sheet
    let row = sheet.lines().find(|l| l.contains("exhaust, roof")).unwrap();
    let depth: f64 = row.split("**").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
    let part = |name: &str| -> f64 {
        let row = sheet.lines().find(|l| l.starts_with(&format!("| {name} |"))).unwrap();
        let cell = row.split('|').nth(3).unwrap().trim();
        cell.split(' ').next().unwrap().parse().unwrap_or(0.0)
    };
    let built = touring()
        .with_all(&[
            ("stack.base_total_mm", part("base gasket") + part("spacer")),
            ("stack.head_total_mm", part("head gasket")),
            ("exhaust.window[0].roof_depth_mm", depth),
        ])
        .unwrap();
    let facts = Facts::of_scenario(&built, &[]);
    let within = |key: &str, least: f64, most: f64| {
        let value = facts.get(key).unwrap();
        assert!((least..=most).contains(&value), "{key} = {value}");
    };
    within("transfer_duration_deg", 121.0, 124.0);
    within("blowdown_deg", 25.0, 90.0);
    within("squish_mm", 1.0 - 1e-9, 1.5 + 1e-9);
    within("trapped_ratio", 5.6, 99.0);
    // and recheck: on the mark, then too far
    let file = job.join("job.toml");
    let written = std::fs::read_to_string(&file).unwrap();
    let with = |reading: f64| {
        let text = written.replacen("reading = \"\"", &format!("reading = {reading}"), 1);
        assert_ne!(text, written);
        std::fs::write(&file, text).unwrap();
        let out = freshcharge(&["recheck", file.to_str().unwrap()]);
        (out.status.code(), text_of(&out))
    };
    let (code, said) = with(depth);
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("Stop here"), "{said}");
    let (code, said) = with(depth - 0.6);
    assert_eq!(code, Some(1), "{said}");
    assert!(said.contains("too far. STOP") && said.contains("Ways out"), "{said}");
}

#[test]
fn a_head_step_takes_squish_and_volume_and_comes_onto_the_sheet() {
    let folder = tempfile::tempdir().unwrap();
    let (goals, job) = (folder.path().join("goals.toml"), folder.path().join("job"));
    let wish = "[goals]\nsquish_mm = [0.95, 1.05]\n[shelf]\nbase_gaskets_mm = [0.4]\nspacers_mm = [0.0]\nhead_gaskets_mm = [0.5]\n[operations]\nhead_step = { most_mm = 1.0, tolerance_mm = 0.02 }\n";
    std::fs::write(&goals, wish).unwrap();
    let (goals, sheet) = (goals.to_str().unwrap(), job.to_str().unwrap());
    let out = freshcharge(&["plan", "scenarios/touring.toml", goals, "--sheet", sheet, "-q"]);
    assert_eq!(out.status.code(), Some(0), "{}", text_of(&out));
    let file = std::fs::read_to_string(job.join("job.toml")).unwrap();
    let number = |name: &str| -> f64 {
        let line = file.lines().find(|l| l.starts_with(&format!("{name} = "))).unwrap();
        line.rsplit(' ').next().unwrap().parse().unwrap()
    };
    assert!(file.contains("path = \"head.land_offset_mm\""), "{file}");
    let step = number("from") - number("to");
    let (before, said) = (Facts::of_scenario(&touring(), &[]), text_of(&out));
    // the land goes down by the step, and the volume above the piston by the bore's area times the step
    let squish = before.get("squish_mm").unwrap() - step;
    assert!((0.97 - 1e-6..=1.03 + 1e-6).contains(&squish), "{squish}: {said}");
    let markdown = std::fs::read_to_string(job.join("cut-sheet.md")).unwrap();
    let row = markdown
        .lines()
        .find(|l| l.starts_with("| clearance volume"))
        .unwrap_or_else(|| panic!("{markdown}"));
    let cells: Vec<f64> = row
        .split('|')
        .filter_map(|c| c.trim().split(' ').next().and_then(|n| n.parse().ok()))
        .collect();
    let taken = std::f64::consts::FRAC_PI_4 * 5.55 * 5.55 * step / 10.0;
    assert!((cells[0] - cells[1] - taken).abs() < 0.011, "{row} {taken}");
    let file = job.join("job.toml");
    let out = freshcharge(&["recheck", file.to_str().unwrap()]);
    let said = text_of(&out);
    assert!(said.contains("squish_mm") && !said.contains("MISSED"), "{said}");
}

#[test]
fn a_run_gives_plus_and_minus_when_asked() {
    let args = ["run", "scenarios/touring.toml", "--rpm", "4000,7000", "--plus-minus", "12"];
    let out = freshcharge(&[&args[..], &["--json", "-q"]].concat());
    assert_eq!(out.status.code(), Some(0), "{}", text_of(&out));
    let json: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let found = &json["plus_minus"];
    assert_eq!((found["sets"].as_u64(), found["left_out"].as_u64()), (Some(12), Some(0)));
    let points = found["two_standard_deviations"].as_array().unwrap();
    assert_eq!(points.len(), 2);
    for point in points {
        let width = point["charging_efficiency"].as_f64().unwrap();
        assert!((1e-4..0.2).contains(&width), "{point}");
    }
    // what twelve sets can tell from chance is little
    let least = found["rank_correlation_to_exceed"].as_f64().unwrap();
    assert!(least > 0.8, "{least}");
    for reading in found["matters_most"]["power_kw"].as_array().unwrap() {
        assert!(reading["rank_correlation"].as_f64().unwrap().abs() > least, "{reading}");
    }
    // the same draws again give the same digits
    let again = freshcharge(&[&args[..], &["--json", "-q"]].concat());
    assert_eq!(out.stdout, again.stdout);
    let out = freshcharge(&[&args[..4], &["--plus-minus", "3"]].concat());
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("between 8 and"), "{}", text(&out.stderr));
}

/// Engines made from a counter: every number moves on its own.
fn engines() -> impl Iterator<Item = Scenario> {
    let file = std::fs::read_to_string(root().join("scenarios/touring.toml")).unwrap();
    let share =
        |i: u32, k: u32| (f64::from(i) * 0.618_033_988_75 + f64::from(k) * 0.754_877_666).fract();
    (0..200).filter_map(move |i| {
        let base = scenario::read(&file).unwrap();
        let at = |k: u32, low: f64, high: f64| low + (high - low) * share(i * 7 + 1, k + i);
        base.with_all(&[
            ("crank_train.stroke_mm", at(1, 49.0, 55.0)),
            ("crank_train.rod_mm", at(2, 95.0, 115.0)),
            ("stack.measured.stroke_mm", at(1, 49.0, 55.0)),
            ("stack.measured.rod_mm", at(2, 95.0, 115.0)),
            ("stack.measured.deck_mm", at(3, 0.0, 1.0)),
            ("crank_train.pin_offset_mm", at(4, -1.0, 1.0)),
            ("exhaust.window[0].roof_depth_mm", at(5, 29.0, 34.0)),
            ("transfer.main.window.roof_depth_mm", at(6, 40.0, 43.0)),
            ("transfer.boost.window.roof_depth_mm", at(7, 40.5, 43.5)),
        ])
        .ok()
    })
}

#[test]
fn what_moves_together_and_what_does_not() {
    let mut tried = 0;
    for base in engines() {
        let before = Facts::of_scenario(&base, &[]);
        let t = 0.9;
        let total = base.value("stack.base_total_mm").unwrap();
        let depth = |path: &str| base.value(path).unwrap();
        // a spacer up and every roof down by the same restores every duration
        let restored = base.with_all(&[
            ("stack.base_total_mm", total + t),
            ("exhaust.window[0].roof_depth_mm", depth("exhaust.window[0].roof_depth_mm") + t),
            ("transfer.main.window.roof_depth_mm", depth("transfer.main.window.roof_depth_mm") + t),
            (
                "transfer.boost.window.roof_depth_mm",
                depth("transfer.boost.window.roof_depth_mm") + t,
            ),
            ("stack.top_face_cut_mm", 0.0),
        ]);
        let Ok(restored) = restored else { continue };
        let after = Facts::of_scenario(&restored, &[]);
        let cut = Facts::of_scenario(&base.with("stack.top_face_cut_mm", 0.2).unwrap(), &[]);
        for key in [
            "exhaust_duration_deg",
            "transfer_duration_deg",
            "transfer_boost_duration_deg",
            "blowdown_deg",
        ] {
            let old = before.get(key).unwrap();
            assert!((after.get(key).unwrap() - old).abs() < 1e-9, "{key}");
            // a cut of the top face changes no angle
            assert!((cut.get(key).unwrap() - old).abs() < 1e-9, "{key}");
        }
        let shallower = before.get("exhaust_roof_depth_mm").unwrap()
            - cut.get("exhaust_roof_depth_mm").unwrap();
        assert!((shallower - 0.2).abs() < 1e-9);
        // entered as the angle it opens at, the roof is where it was
        let angle = before.get("exhaust_opens_deg_atdc").unwrap();
        let entered = base.with("exhaust.window[0].opens_deg_atdc", angle).unwrap();
        let again = Facts::of_scenario(&entered, &[]);
        let (a, b) = (
            again.get("exhaust_roof_depth_mm").unwrap(),
            before.get("exhaust_roof_depth_mm").unwrap(),
        );
        assert!((a - b).abs() < 1e-9, "{a} {b}");
        tried += 1;
    }
    assert!(tried > 100, "{tried}");
}

#[test]
fn every_question_of_the_readme_has_a_command_that_answers_it() {
    let readme = std::fs::read_to_string(root().join("README.md")).unwrap();
    let table = readme.split("## Questions and the command that answers each").nth(1).unwrap();
    let table = table.split("\n## ").next().unwrap();
    let mut asked = 0;
    let mut failed = String::new();
    for row in table.lines().filter(|l| l.starts_with("| ")).skip(1) {
        let command = row.split('`').nth(1).unwrap();
        let args: Vec<&str> = command.split_whitespace().skip(1).collect();
        let out = freshcharge(&args);
        asked += 1;
        if !matches!(out.status.code(), Some(0 | 1)) || out.stdout.is_empty() {
            let _ = writeln!(failed, "{command}: {:?} {}", out.status.code(), text(&out.stderr));
        }
    }
    assert_eq!(asked, 27);
    assert!(failed.is_empty(), "{failed}");
}
