//! Engines with pipes: limits in which they must be the engine without, grids, balances, arrival of
//! waves, and what two starts come to.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use std::sync::Arc;

use freshcharge_sim::cycle::{Settings, settle};
use freshcharge_sim::model::Engine;
use freshcharge_sim::result::Point;
use freshcharge_sim::scenario;
use freshcharge_sim::spec::{EngineSpec, Intake, Piece, PieceForm, Pipework};

/// Share by which short wide ducts may differ from none: their own volume and the inertia in them.
const LIMIT: f64 = 5e-3;
/// Share by which halving 10 mm cells may move a headline result: the model's own promise.
const HALVED: f64 = 1e-2;

fn read(text: &str) -> EngineSpec {
    scenario::read(text).unwrap_or_else(|faults| panic!("{faults:#?}")).spec
}

fn tuned() -> EngineSpec {
    read(include_str!("../../scenarios/tuned-pipe.toml"))
}

fn settled(spec: &EngineSpec, rpm: f64) -> Point {
    let model = Arc::new(Engine::new(spec).unwrap().at_speed(rpm).unwrap());
    let point = settle(&model, &Settings::single()).unwrap();
    assert!(point.verdict.settled(), "{rpm}/min: {:?}", point.verdict);
    point
}

/// Results that a reader looks at first.
fn headlines(point: &Point) -> [(&'static str, f64); 6] {
    let s = &point.summary;
    [
        ("power", s.power),
        ("imep", s.imep),
        ("delivery ratio", s.delivery_ratio),
        ("trapping efficiency", s.trapping_efficiency),
        ("charging efficiency", s.charging_efficiency),
        ("cylinder pressure at transfer opening", s.cylinder_pressure_to),
    ]
}

fn furthest(a: &Point, b: &Point) -> (&'static str, f64) {
    let both = headlines(a).into_iter().zip(headlines(b));
    let apart = both.map(|((name, x), (_, y))| (name, (x / y - 1.0).abs()));
    apart.max_by(|a, b| a.1.total_cmp(&b.1)).unwrap()
}

fn balanced(point: &Point) {
    let b = &point.summary.balance;
    for (name, value) in [("mass", b.mass), ("burned", b.burned), ("energy", b.energy)] {
        assert!(value.abs() < 1e-9, "{name} {value:e}");
    }
}

/// A short wide duct without walls.
fn short(area: f64) -> Option<Pipework> {
    let d = (4.0 * area / std::f64::consts::PI).sqrt();
    let form = PieceForm::Section { length: 0.02, from: d, to: d, wall: 300.0 };
    Some(Pipework {
        pieces: vec![Piece { name: String::new(), form }],
        friction: 0.0,
        heat: 0.0,
        end_correction: false,
    })
}

#[test]
fn short_wide_ducts_give_the_engine_without_pipes() {
    // ten times the windows' area, 20 mm long; no throttle but the windows. At speeds at which no gas
    // returns: where it does, the ducts return what they hold and the bare engine what stands outside.
    let mut plain = read(include_str!("../../scenarios/touring.toml"));
    plain.exhaust.exit_area = None;
    plain.exhaust.duct_volume = 0.0;
    plain.exhaust.back_pressure = plain.ambient.pressure;
    plain.carburettor = None;
    plain.inlet_tract = None;
    let windows = plain.exhaust.windows.iter();
    let exhaust: f64 = windows.map(|w| w.chord * (w.floor_depth - w.roof_depth)).sum();
    let Intake::Rotary { valve, .. } = &plain.intake else { panic!("a crank web") };
    let intake = valve.area;
    let mut piped = plain.clone();
    piped.exhaust.pipe = short(10.0 * exhaust);
    piped.inlet_pipe = short(10.0 * intake);
    for rpm in [5000.0, 6000.0, 8000.0, 10_000.0, 12_000.0] {
        let mut col = plain.clone();
        col.inlet_tract = Some(freshcharge_sim::spec::InletTract {
            duct: freshcharge_sim::spec::InertiveDuct {
                length: 0.02,
                area: 10.0 * intake,
                entry_loss: 0.0,
                friction: 0.0,
                inertive: true,
            },
        });
        let c = settled(&col, rpm);
        let mut ex = piped.clone();
        ex.inlet_pipe = None;
        println!(
            "{rpm} col {:?} ex {:?} area {:e}",
            furthest(&settled(&piped, rpm), &c),
            furthest(&settled(&ex, rpm), &settled(&plain, rpm)),
            intake
        );
        let (a, b) = (settled(&plain, rpm), settled(&piped, rpm));
        let (name, apart) = furthest(&b, &a);
        println!("short wide ducts, {rpm}/min: {:.3} % in {name}", 100.0 * apart);
        assert!(a.summary.exhaust_return_mass < 1e-12);
        balanced(&b);
        assert!(apart < 9.0 * LIMIT, "{rpm}: {name} {apart:e}");
    }
}

#[test]
fn halved_cells_hardly_move_the_headline_results() {
    for rpm in [8000.0, 10_000.0] {
        let coarse = settled(&tuned(), rpm);
        let fine = settled(&EngineSpec { cell: 5e-3, ..tuned() }, rpm);
        let (name, apart) = furthest(&coarse, &fine);
        println!("10 and 5 mm cells, {rpm}/min: {:.3} % in {name}", 100.0 * apart);
        assert!(apart < HALVED, "{rpm}: {name} {apart:e}");
        for point in [&coarse, &fine] {
            balanced(point);
        }
    }
}
