//! Engines with pipes: limits in which they must be the engine without, grids, balances, arrival of
//! waves, and what two starts come to.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use std::sync::Arc;

use freshcharge_sim::cycle::{Chain, Settings, settle, settle_traced, solve};
use freshcharge_sim::lane::InstructionSet;
use freshcharge_sim::model::Engine;
use freshcharge_sim::result::{PipeGas, PipeTrace, Point};
use freshcharge_sim::scenario;
use freshcharge_sim::spec::{
    EngineSpec, InertiveDuct, InletTract, Intake, Piece, PieceForm, Pipework,
};

/// Share by which short wide ducts may differ from none: their own volume and the inertia in them.
const LIMIT: f64 = 5e-3;
/// Share by which halving 10 mm cells may move a headline result: the model's own promise.
const HALVED: f64 = 1e-2;
/// Share by which two starts may differ in a headline result: what "settled" promises.
const AGREES: f64 = 1e-4;
/// Degrees by which a pulse may come earlier or later than its gas says: pulses are some tens of degrees long
/// and change their shape on the way (their fronts steepen and come earlier than the crests).
const ARRIVES: f64 = 3.0;
/// Share by which the speed of most power may leave 1/L: the gas is not of one temperature.
const FOLLOWS: f64 = 5e-2;

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
    // ten times the windows' area, 20 mm long; no throttle but the windows. The engine without pipes has the
    // inlet's 20 mm as a column, for at these speeds their inertia is worth up to 0.7 % of delivery. At
    // speeds at which no gas returns through the exhaust: where it does, the duct returns what it holds and
    // the bare engine what stands outside.
    let mut plain = read(include_str!("../../scenarios/touring.toml"));
    plain.exhaust.exit_area = None;
    plain.exhaust.duct_volume = 0.0;
    plain.exhaust.back_pressure = plain.ambient.pressure;
    plain.carburettor = None;
    let windows = plain.exhaust.windows.iter();
    let exhaust: f64 = windows.map(|w| w.chord * (w.floor_depth - w.roof_depth)).sum();
    let Intake::Rotary { valve, .. } = &plain.intake else { panic!("a crank web") };
    let intake = valve.area;
    let mut piped = plain.clone();
    plain.inlet_tract = Some(InletTract {
        duct: InertiveDuct {
            length: 0.02,
            area: 10.0 * intake,
            entry_loss: 0.0,
            friction: 0.0,
            inertive: true,
        },
    });
    piped.inlet_tract = None;
    piped.exhaust.pipe = short(10.0 * exhaust);
    piped.inlet_pipe = short(10.0 * intake);
    for rpm in [5000.0, 6000.0, 8000.0, 10_000.0, 12_000.0] {
        let (a, b) = (settled(&plain, rpm), settled(&piped, rpm));
        let (name, apart) = furthest(&b, &a);
        println!("short wide ducts, {rpm}/min: {:.3} % in {name}", 100.0 * apart);
        assert!(a.summary.exhaust_return_mass < 1e-12);
        balanced(&b);
        assert!(apart < LIMIT, "{rpm}: {name} {apart:e}");
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

#[test]
fn every_instruction_set_gives_the_same_bits() {
    // a coarse grid is enough to see a bit
    let spec = EngineSpec { cell: 30e-3, ..tuned() };
    let model = Arc::new(Engine::new(&spec).unwrap().at_speed(9000.0).unwrap());
    let on =
        |instructions| settle(&model, &Settings { instructions, ..Settings::single() }).unwrap();
    let sets = InstructionSet::available();
    let first = on(sets[0]);
    for set in &sets[1..] {
        assert_eq!(on(*set), first, "{set:?}");
    }
}

/// Points of a chain of speeds, each from the one before it.
fn chain(spec: &EngineSpec, speeds: &[f64]) -> Vec<Point> {
    let engine = Engine::new(spec).unwrap();
    let models = speeds.iter().map(|r| engine.at_speed(*r).map(Arc::new)).collect();
    let mut tasks = std::iter::once(Chain { index: 0, models });
    let mut points = Vec::new();
    solve(&Settings::single(), &mut || tasks.next(), &mut |_, _, point| {
        points.push(point.unwrap())
    });
    points
}

#[test]
fn every_speed_of_the_band_settles_and_two_starts_agree() {
    let scenario = scenario::read(include_str!("../../scenarios/tuned-pipe.toml")).unwrap();
    let up = scenario.run_speeds.clone();
    let down: Vec<f64> = up.iter().rev().copied().collect();
    let mut worst: (f64, f64) = (0.0, 0.0);
    let mut cycles = [0; 2];
    for warm in chain(&scenario.spec, &down) {
        assert!(warm.verdict.settled(), "{}/min: {:?}", warm.rpm, warm.verdict);
        let cold = settled(&scenario.spec, warm.rpm);
        let (name, apart) = furthest(&warm, &cold);
        assert!(apart < AGREES, "{}/min: {name} {apart:e}", warm.rpm);
        balanced(&warm);
        worst = if apart > worst.1 { (warm.rpm, apart) } else { worst };
        for (sum, point) in cycles.iter_mut().zip([&cold, &warm]) {
            *sum += point.verdict.cycles();
        }
    }
    let [cold, warm] = cycles.map(|sum| f64::from(sum) / down.len() as f64);
    println!("cycles on all grids: {cold:.1} from cold, {warm:.1} from a neighbour");
    println!("two starts, {} speeds: at most {:.1e}, at {}/min", down.len(), worst.1, worst.0);
}

/// Velocity and speed of sound at a place and angle, straight between the cells and rows.
fn between(pipe: &PipeTrace, x: f64, angle: f64) -> (f64, f64) {
    let share = |values: &[f64], at: f64| {
        let next = values.partition_point(|v| *v <= at).clamp(1, values.len() - 1);
        let (a, b) = (values[next - 1], values[next]);
        (next, ((at - a) / (b - a)).clamp(0.0, 1.0))
    };
    let (row, v) = share(&pipe.angles, angle);
    let (cell, u) = share(&pipe.places, x);
    let of = |value: fn(&PipeGas) -> f64| {
        let along = |row: usize| {
            (1.0 - u) * value(&pipe.row(row)[cell - 1]) + u * value(&pipe.row(row)[cell])
        };
        (1.0 - v) * along(row - 1) + v * along(row)
    };
    (of(|g| g.velocity), of(|g| g.sound))
}

/// Angle at which what leaves the port at `angle` is back from the open end, by ∫dx/(u ± a).
fn back_at(pipe: &PipeTrace, angle: f64, rpm: f64) -> f64 {
    const STEP: f64 = 0.05;
    let time = STEP / 6.0 / rpm;
    let (start, end) = (pipe.places[0], *pipe.ends.last().unwrap());
    let (mut x, mut at, mut out) = (start, angle, true);
    while out || x > start {
        let (u, a) = between(pipe, x, at);
        x += time * if out { u + a } else { u - a };
        at += STEP;
        out &= x < end;
        assert!(at < angle + 360.0);
    }
    at
}

/// Pressure of the wave toward the port at an angle, straight between the rows.
fn coming(pipe: &PipeTrace, angle: f64, outside: f64) -> f64 {
    let next = pipe.angles.partition_point(|v| *v <= angle).clamp(1, pipe.angles.len() - 1);
    let (a, b) = (pipe.angles[next - 1], pipe.angles[next]);
    let of = |row: usize| pipe.row(row)[0].waves(outside).back;
    of(next - 1) + (angle - a) / (b - a) * (of(next) - of(next - 1))
}

#[test]
fn a_pulse_comes_back_when_its_gas_says() {
    // a straight pipe, open at its end: a crest goes out, a trough comes back; length [m] and speed. The
    // whole upper half of the pulse is followed, for a crest may be flat: the lag is that at which what
    // comes back is most nearly its mirror image (largest cross-correlation).
    const CASES: [(f64, f64); 6] =
        [(0.5, 4e3), (0.7, 4e3), (0.9, 4e3), (0.7, 6e3), (0.5, 8e3), (0.9, 7e3)];
    for (length, rpm) in CASES {
        let mut spec = tuned();
        let form = PieceForm::Section { length, from: 0.037, to: 0.037, wall: 600.0 };
        spec.exhaust.pipe = Some(Pipework {
            pieces: vec![Piece { name: String::new(), form }],
            friction: 1.0,
            heat: 1.0,
            end_correction: true,
        });
        let model = Arc::new(Engine::new(&spec).unwrap().at_speed(rpm).unwrap());
        let (_, trace) = settle_traced(&model, &Settings::single()).unwrap();
        let pipe = &trace.pipes[0];
        let outside = spec.exhaust.back_pressure;
        let blowdown = trace.event("transfer opens").unwrap() + 20.0;
        let rows = (0..pipe.angles.len()).filter(|r| pipe.angles[*r] < blowdown);
        let out = rows.map(|r| (pipe.angles[r], pipe.row(r)[0].waves(outside).out - outside));
        let out: Vec<_> = out.collect();
        let crest = out.iter().map(|(_, p)| *p).fold(0.0, f64::max);
        let upper = out.into_iter().filter(|(_, p)| *p > 0.5 * crest);
        let pulse: Vec<_> = upper.map(|(angle, p)| (back_at(pipe, angle, rpm), p)).collect();
        let likeness = |lag: f64| -> f64 {
            let falls = |due: f64| outside - coming(pipe, due + lag, outside);
            pulse.iter().map(|(due, p)| p * falls(*due)).sum()
        };
        let lags = (-150..=150).map(|tenth| 0.1 * f64::from(tenth));
        let late = lags.max_by(|a, b| likeness(*a).total_cmp(&likeness(*b))).unwrap();
        let (first, last) = (pulse[0].0, pulse[pulse.len() - 1].0);
        println!(
            "{:.0} mm, {rpm}/min: due from {first:.1}° to {last:.1}°, {late:+.1}°",
            1e3 * length
        );
        assert!(late.abs() < ARRIVES, "{length} {rpm}: {late}");
    }
}

#[test]
fn the_band_moves_with_the_length_of_the_pipe() {
    let speeds: Vec<f64> = (0..7).map(|i| 8000.0 + 500.0 * f64::from(i)).collect();
    let mut products = Vec::new();
    for header in [0.17, 0.23, 0.29] {
        let mut spec = tuned();
        let pieces = &mut spec.exhaust.pipe.as_mut().unwrap().pieces;
        let mut length = spec.exhaust.duct_length.unwrap();
        for (index, piece) in pieces.iter_mut().enumerate() {
            let PieceForm::Section { length: own, .. } = &mut piece.form else { continue };
            if index == 0 {
                *own = header;
            }
            // to the middle of the baffle, the fifth piece
            length += [1.0, 1.0, 1.0, 1.0, 0.5, 0.0][index] * *own;
        }
        let power: Vec<f64> = chain(&spec, &speeds).iter().map(|p| p.summary.power).collect();
        let best = (1..speeds.len() - 1).max_by(|a, b| power[*a].total_cmp(&power[*b])).unwrap();
        let [a, b, c] = [power[best - 1], power[best], power[best + 1]];
        assert!(b > a && b > c, "{header}: no peak inside {power:?}");
        let peak = speeds[best] + 250.0 * (a - c) / (a - 2.0 * b + c);
        println!("{:.0} mm to the baffle: most power at {peak:.0}/min", 1e3 * length);
        products.push(peak * length);
    }
    for product in &products {
        let apart = product / products[1] - 1.0;
        assert!(apart.abs() < FOLLOWS, "{products:?}");
    }
}

#[test]
fn too_few_cycles_are_not_settled() {
    let spec = EngineSpec { cell: 30e-3, ..tuned() };
    let model = Arc::new(Engine::new(&spec).unwrap().at_speed(9000.0).unwrap());
    for cycles in [1, 3] {
        let point = settle(&model, &Settings { cycles, ..Settings::single() }).unwrap();
        assert!(!point.verdict.settled(), "{:?}", point.verdict);
        balanced(&point);
    }
}
