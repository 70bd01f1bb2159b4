//! Invariants: a point is the same to the bit on every instruction set, in every company and order.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use std::collections::BTreeMap;
use std::sync::Arc;

use freshcharge_sim::cycle::{Chain, Settings, solve};
use freshcharge_sim::lane::InstructionSet;
use freshcharge_sim::model::{Engine, ModelError};
use freshcharge_sim::scenario::{self, Scenario};
use freshcharge_sim::spec::ModelVersion;

const TOURING: &str = include_str!("../../scenarios/touring.toml");
const UTILITY: &str = include_str!("../../scenarios/utility.toml");
const REED: &str = include_str!("../../scenarios/reed.toml");

/// The engine of a file by a version of the model.
fn read(text: &str, version: ModelVersion) -> Scenario {
    let scenario = scenario::read(text).unwrap_or_else(|f| panic!("{f:#?}"));
    scenario.with_model(version).unwrap()
}

/// Engines that differ in timing and spacer, with bare windows and with gas columns, and one with other
/// sub-models among them.
fn engines(version: ModelVersion) -> Vec<Engine> {
    let touring = read(TOURING, version);
    let mut engines: Vec<Engine> = (0..7)
        .map(|i| {
            let (spacer, roof) = (0.4 + 0.1 * f64::from(i), 33.4 - 0.15 * f64::from(i));
            let changes = [("stack.base_total_mm", spacer), ("exhaust.window.roof_depth_mm", roof)];
            let changed = touring.with_all(&changes).unwrap_or_else(|f| panic!("{f:#?}"));
            Engine::new(&changed.spec.with_bare_windows()).unwrap()
        })
        .collect();
    engines.insert(3, Engine::new(&touring.spec).unwrap());
    let utility = read(UTILITY, version);
    engines.insert(5, Engine::new(&utility.spec).unwrap());
    let reed = read(REED, version);
    engines.push(Engine::new(&reed.spec).unwrap());
    engines
}

/// Its speeds depend on its number; the third has a point that cannot be computed.
fn chain(engines: &[Engine], index: usize) -> Chain {
    let speed = |i: usize| 4000.0 + 700.0 * ((index + i) % 6) as f64;
    let mut models: Vec<_> =
        (0..1 + index % 3).map(|i| engines[index].at_speed(speed(i)).map(Arc::new)).collect();
    if index == 2 {
        models.insert(1, Err(ModelError::Groups { count: 9 }));
    }
    Chain { index, models }
}

/// All points in all their digits, signs of zeros included.
type Found = BTreeMap<(usize, usize), String>;

fn solved(engines: &[Engine], instructions: InstructionSet, order: &[usize]) -> Found {
    let mut found = Found::new();
    let mut waiting = order.iter();
    let settings = Settings { instructions, ..Settings::sweep() };
    solve(
        &settings,
        &mut || waiting.next().map(|index| chain(engines, *index)),
        &mut |chain, point, result| {
            let before = found.insert((chain, point), format!("{result:?}"));
            assert!(before.is_none(), "chain {chain} gave point {point} twice");
        },
    );
    found
}

#[test]
fn a_point_is_the_same_in_every_lane_company_and_order() {
    for version in ModelVersion::ALL {
        is_the_same_everywhere(&engines(*version));
    }
}

fn is_the_same_everywhere(engines: &[Engine]) {
    let mut alone = Found::new();
    for index in 0..engines.len() {
        alone.extend(solved(engines, InstructionSet::Baseline, &[index]));
    }
    assert!(alone.values().filter(|point| point.contains("Settled")).count() > 15, "{alone:#?}");
    let orders: [&[usize]; 4] = [
        &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9],
        &[9, 8, 7, 6, 5, 4, 3, 2, 1, 0],
        &[5, 3, 0, 6, 9, 1, 8, 2, 7, 4],
        &[4, 6, 1],
    ];
    for set in InstructionSet::available() {
        for order in orders {
            let together = solved(engines, set, order);
            for (place, point) in &together {
                assert_eq!(point, &alone[place], "{place:?} on {set:?} in {order:?}");
            }
            let wanted = alone.keys().filter(|(chain, _)| order.contains(chain)).count();
            assert_eq!(together.len(), wanted, "on {set:?} in {order:?}");
        }
    }
}
