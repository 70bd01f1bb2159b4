//! Files that are all faults or all repetition end with a located message and a count. What is limited is
//! counted in faults, tables and numbers, never in time.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::forms::goals::Written;
use freshcharge_sim::forms::{Faults, SHOWN, limits, measured, rig};
use freshcharge_sim::scenario;

const TOURING: &str = include_str!("../../scenarios/touring.toml");
const PIPE: &str = include_str!("../../scenarios/tuned-pipe.toml");
const GOALS: &str = include_str!("../../scenarios/goals.toml");

/// Most that a report of any file may hold [bytes].
const REPORT: usize = 40_000;

fn short(faults: &Faults) -> String {
    let said = faults.to_string();
    assert!(faults.len() <= 1000, "{} are kept", faults.len());
    assert!(said.len() < REPORT, "{} bytes", said.len());
    assert!(said.lines().count() <= SHOWN + 1);
    said
}

#[test]
fn equal_and_unknown_keys_are_counted() {
    let text = format!("{}{TOURING}", "b = 1\n".repeat(100_000));
    let faults = scenario::read(&text).unwrap_err();
    assert!(short(&faults).starts_with("line 2, b = 1: given twice"));
    assert!(faults.count() >= 100_000, "{}", faults.count());
    let unknown: String = (0..50_000).map(|i| format!("bore{i}_mm = 39\n")).collect();
    let faults = scenario::read(&format!("{unknown}{TOURING}")).unwrap_err();
    short(&faults);
    assert_eq!(faults.count(), 50_000);
}

#[test]
fn tables_beyond_a_limit_are_one_fault() {
    let pieces = "[[exhaust.pipe.section]]\nlength_mm = 10\nfrom_mm = 30\n".repeat(10_000);
    let faults = scenario::read(&format!("{PIPE}\n{pieces}")).unwrap_err();
    let said = short(&faults);
    assert!(said.contains("and at most 200 can be read"), "{said}");
    // holes of one place are faults of their own, and come before the limit's
    let hole = "[[stud_hole]]\ncentre_deg = 45\ndistance_mm = 45\ndiameter_mm = 6\n";
    let faults = scenario::read(&format!("{TOURING}\n{}", hole.repeat(1000))).unwrap_err();
    short(&faults);
    let limit = |f: &&freshcharge_sim::forms::Fault| f.remedy.contains("at most 200 can be read");
    assert_eq!(faults.iter().filter(limit).count(), 1, "{faults}");
    let text: String = (0..5000).map(|i| format!("[[reservoir]]\nname = \"r{i}\"\n")).collect();
    let said = short(&rig::read(&text).unwrap_err());
    assert!(said.contains("there are 5000, and at most 200 can be read"), "{said}");
    let faults = limits::read(&"[[limit]]\nquantity = \"x\"\n".repeat(20_000)).unwrap_err();
    assert!(short(&faults).contains("there are 20000, and at most 1000 can be read"));
}

#[test]
fn shelves_have_limits() {
    let list = |count: usize| {
        let numbers: Vec<String> =
            (0..count).map(|i| format!("{:.5}", 0.1 + 0.001 * i as f64)).collect();
        numbers.join(", ")
    };
    let shelf = |count: usize, heads: usize| {
        let goals = GOALS.split("[shelf]").next().unwrap();
        let (list, heads) = (list(count), list(heads));
        format!(
            "{goals}[shelf]\nbase_gaskets_mm = [{list}]\nspacers_mm = [{list}]\nhead_gaskets_mm = [{heads}]\n"
        )
    };
    let said = |text: &str| short(&Written::read(text).faults.in_order());
    assert!(said(&shelf(20_000, 1)).contains("a list has at most 10000"));
    assert!(said(&shelf(300, 1)).contains("a shelf holds at most 100 of a kind"));
    assert!(said(&shelf(60, 60)).contains("make 216000 stacks, and at most 10000 are searched"));
    assert_eq!(said(&shelf(20, 20)), "");
}

#[test]
fn rows_of_nonsense_are_counted() {
    let faults = measured::read(&format!("rpm,power_kw\n{}", "6000,x\n".repeat(200_000)), 1.0);
    let faults = faults.unwrap_err();
    assert!(short(&faults).starts_with("line 2, power_kw = x: is no number"));
    assert_eq!(faults.count(), 200_000);
}

#[test]
fn quotations_are_at_most_a_screen_wide() {
    let long = "x".repeat(100_000);
    for text in [
        format!("{long} = 3\n{TOURING}"),
        format!("name = {long}\n"),
        TOURING.replacen("bore_mm = ", &format!("bore_mm = \"{long}\" #"), 1),
        TOURING.replacen("bore_mm = ", &format!("bore_mm = \"3 {long}\" #"), 1),
        "name = \"\u{1b}[31m\u{202e}\" x\n".to_owned(),
    ] {
        let faults = scenario::read(&text).unwrap_err();
        let said = short(&faults);
        let widest = said.lines().map(|l| l.chars().count()).max().unwrap();
        assert!(widest < 6000, "{widest}");
        assert!(!said.contains(&long[..200]));
        assert!(!said.contains(['\u{1b}', '\u{202e}']));
    }
}

#[test]
fn names_are_only_text() {
    let text = include_str!("../../scenarios/rigs/branched.toml");
    let first = text.lines().find(|l| l.starts_with("name")).unwrap();
    let named = text.replacen(first, "name = \"a\\u001b[31m\\u202eb\"", 1);
    assert_eq!(rig::read(&named).unwrap().name, "a [31mb");
}
