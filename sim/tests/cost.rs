//! The cost model against counted work: steps do not depend on the machine.

use std::sync::Arc;

use freshcharge_sim::cycle::cost::expected;
use freshcharge_sim::cycle::{Chain, Settings, solve};
use freshcharge_sim::model::Engine;
use freshcharge_sim::scenario;

fn engine(text: &str) -> Engine {
    let scenario = scenario::read(text).expect("a shipped scenario");
    Engine::new(&scenario.spec).expect("an engine")
}

/// Share by which the number of cycles differs from point to point.
const NEAR: f64 = 0.45;

#[test]
fn foreseen_steps_are_near_those_taken() {
    let tuned = engine(include_str!("../../scenarios/tuned-pipe.toml"));
    let boxed = engine(include_str!("../../scenarios/box-silencer.toml"));
    for (engine, speeds) in [(tuned, [6000.0, 12_000.0]), (boxed, [3000.0, 8000.0])] {
        for rpm in speeds {
            let model = Arc::new(engine.at_speed(rpm).expect("a speed it can run at"));
            let mut chain = Some(Chain { index: 0, models: vec![Ok(Arc::clone(&model))] });
            let mut taken = 0.0;
            solve(&Settings::default(), &mut || chain.take(), &mut |_, _, point| {
                taken = point.expect("a point").work.steps as f64;
            });
            let cost = expected(&model, false);
            let foreseen = cost.steps.expect("steps of pipes");
            println!("{rpm}: {foreseen:.0} foreseen, {taken} taken, {:.3} s", cost.seconds);
            assert!((foreseen / taken - 1.0).abs() < NEAR, "{rpm}: {foreseen} and {taken}");
        }
    }
}

#[test]
fn neighbours_and_pipes_count() {
    let text = include_str!("../../scenarios/tuned-pipe.toml");
    let model = engine(text).at_speed(9000.0).expect("a speed");
    assert!(expected(&model, true).seconds < expected(&model, false).seconds);
    let plain =
        engine(include_str!("../../scenarios/touring.toml")).at_speed(6000.0).expect("a speed");
    assert!(expected(&plain, false).seconds < 0.1 * expected(&model, true).seconds);
}
