//! Verification: engines with a new and an old zone of the cylinder against the second model.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use std::sync::Arc;

use freshcharge_sim::cycle::{Settings, settle};
use freshcharge_sim::model::Engine;
use freshcharge_sim::result::{COLUMNS, Point};
use freshcharge_sim::scenario;
use freshcharge_validation::{Reference, Tolerance, reference};

const TOURING: &str = include_str!("../../scenarios/touring.toml");
const SHORT: &str = include_str!("../../scenarios/short-blowdown.toml");
const DISC: &str = include_str!("../../scenarios/disc-valve.toml");

/// The engine file of a row: the scenario in two zones, with the row's law instead of its own.
fn engine_file(table: &Reference, row: usize) -> String {
    let name = table.text(row, "scenario");
    let base = match name.split(' ').next().unwrap() {
        "touring" => TOURING,
        "short-blowdown" => SHORT,
        "disc-valve" => DISC,
        other => panic!("{other}"),
    };
    let mut section = "";
    let mut kept: String = String::new();
    for line in base.lines() {
        if line.starts_with('[') {
            section = line;
        }
        let version = section.is_empty() && line.starts_with("model");
        if !version && section != "[scavenging]" {
            let line = if name.contains("back 1.4") {
                line.replace("back_pressure_bar = 1.05", "back_pressure_bar = 1.4")
            } else {
                line.to_owned()
            };
            kept.push_str(&line);
            kept.push('\n');
        }
    }
    let law = match table.text(row, "law") {
        "default" => String::new(),
        "mixing" => "law = \"perfect-mixing\"\n".to_owned(),
        "displacement" => "law = \"perfect-displacement\"\n".to_owned(),
        other => {
            let displaced = other.strip_prefix("two-part ").unwrap();
            let short = table.number(row, "sigma");
            format!("law = \"two-part\"\ndisplaced = {displaced}\nshort_circuit = {short}\n")
        }
    };
    let exchange = table.number(row, "c_m");
    format!("model = 2\n{kept}\n[scavenging]\n{law}zone_exchange = {exchange:?}\n")
}

fn settled(text: &str, bare: bool, rpm: f64) -> Point {
    let mut spec = scenario::read(text).unwrap_or_else(|faults| panic!("{faults:#?}")).spec;
    if bare {
        spec = spec.with_bare_windows();
    }
    let model = Engine::new(&spec).unwrap().at_speed(rpm).unwrap();
    let point = settle(&Arc::new(model), &Settings::single()).unwrap();
    assert!(point.verdict.settled(), "{:?}", point.verdict);
    point
}

#[test]
fn the_second_model_gives_the_same_numbers_in_two_zones() {
    let table = reference!("two_zones_engine.csv");
    let near = Tolerance::relative(
        1e-3,
        "demanded; seen 8e-4 in 0.03 mg of backflow, 4e-4 in backflow, 3e-5 else",
    )
    .or_absolute(1e-9);
    let mut last: Option<(Vec<String>, Point)> = None;
    let (mut engines, mut compared) = (0, 0);
    for row in 0..table.len() {
        let heads = ["scenario", "law", "sigma", "c_m", "rpm"];
        let case = heads.map(|head| table.text(row, head).to_owned()).to_vec();
        if last.as_ref().is_none_or(|(known, _)| *known != case) {
            let bare = case[0].contains("bare");
            let point = settled(&engine_file(&table, row), bare, table.number(row, "rpm"));
            last = Some((case.clone(), point));
            engines += 1;
        }
        let point = &last.as_ref().unwrap().1;
        let key = table.text(row, "quantity");
        // the zones' own shares are not among the results
        let Some(column) = COLUMNS.iter().find(|c| c.key == key) else { continue };
        let what = format!("{} {key}", case.join(" "));
        near.check(&what, (column.value)(point).unwrap_or(f64::NAN), table.number(row, "value"));
        compared += 1;
    }
    assert_eq!((engines, compared % engines), (20, 0));
    assert!(compared >= 30 * engines, "{compared} of {}", table.len());
}
