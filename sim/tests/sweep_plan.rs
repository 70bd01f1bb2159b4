//! Plans: which case a number means, what is held, what is refused, what a faulty plan is told.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::geometry;
use freshcharge_sim::model::Timing;
use freshcharge_sim::scenario::{Scenario, read};
use freshcharge_sim::sweep::{
    Axis, Design, FIGURES, Hold, Limit, Place, Plan, Refusal, Sample, Sweep, Varied, figure,
};
use freshcharge_sim::units::{DEG, MM};

const ROOF: &str = "exhaust.window.roof_depth_mm";

fn engine(name: &str) -> Scenario {
    let path = format!("{}/../scenarios/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    read(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn axis(path: &str, values: &[f64]) -> Axis {
    Axis { numbers: vec![Varied::new(path, values.to_vec())] }
}

fn two_axes() -> Plan {
    let speeds = (0..20).map(|i| 3000.0 + 100.0 * f64::from(i)).collect();
    let axes = vec![
        axis("stack.base_total_mm", &[0.4, 0.9, 1.4]),
        axis("stack.head_total_mm", &[0.5, 0.7]),
    ];
    Plan { axes, speeds, ..Plan::default() }
}

#[test]
fn a_number_means_one_combination_and_the_last_axis_is_the_fastest() {
    let sweep = Sweep::new(&engine("touring"), two_axes()).unwrap();
    assert_eq!((sweep.combinations(), sweep.cases()), (6, 120));
    let values: Vec<_> = (0..6).map(|i| sweep.build(i).values).collect();
    assert_eq!(values[0], [Some(0.4), Some(0.5)]);
    assert_eq!(values[1], [Some(0.4), Some(0.7)]);
    assert_eq!(values[4], [Some(1.4), Some(0.5)]);
    for i in 0..6 {
        let spec = sweep.build(i).engine.unwrap();
        assert!((spec.stack.base_total() / MM - values[i as usize][0].unwrap()).abs() < 1e-12);
        assert!((spec.stack.head_total() / MM - values[i as usize][1].unwrap()).abs() < 1e-12);
    }
    assert_eq!(sweep.present(), [Some(0.4), Some(0.5)]);
}

#[test]
fn chains_hold_every_case_once_and_at_most_sixteen_speeds() {
    let sweep = Sweep::new(&engine("touring"), two_axes()).unwrap();
    assert_eq!((sweep.chains(), sweep.chains_of_one()), (12, 2));
    let mut next = 0;
    for chain in 0..sweep.chains() {
        let (combination, rows) = sweep.chain(chain);
        assert!(rows.clone().count() <= 16);
        assert_eq!(sweep.first_case(chain), next);
        assert_eq!(combination * sweep.rows() + rows.start, next);
        next += rows.end - rows.start;
    }
    assert_eq!(next, sweep.cases());
}

#[test]
fn numbers_zipped_together_change_together() {
    let numbers = vec![
        Varied::new(ROOF, vec![33.0, 32.5]),
        Varied::new("transfer.main.window.roof_depth_mm", vec![42.0, 41.5]),
    ];
    let plan = Plan { axes: vec![Axis { numbers }], ..Plan::default() };
    let sweep = Sweep::new(&engine("touring"), plan.clone()).unwrap();
    assert_eq!(sweep.cases(), 2);
    assert_eq!(sweep.build(1).values, [Some(32.5), Some(41.5)]);
    let mut uneven = plan;
    uneven.axes[0].numbers[1].values.push(41.0);
    let faults = Sweep::new(&engine("touring"), uneven).unwrap_err();
    assert!(faults[0].remedy.contains("2 and 3"), "{faults:?}");
}

#[test]
fn the_roof_moves_so_that_blowdown_stays() {
    let base = engine("short-blowdown");
    let blowdown = figure("blowdown_deg").unwrap();
    let before = (blowdown.value)(&base.spec).unwrap();
    let hold = Hold { of: blowdown, by: ROOF.to_owned(), at: None, shelf: Vec::new() };
    let plan = Plan {
        axes: vec![axis("stack.base_total_mm", &[0.4, 0.8, 1.6, 2.4])],
        holds: vec![hold],
        figures: vec![blowdown],
        ..Plan::default()
    };
    let sweep = Sweep::new(&base, plan).unwrap();
    let roofs: Vec<f64> = (0..4)
        .map(|i| {
            let build = sweep.build(i);
            assert!((build.figures[0].unwrap() - before).abs() < 1e-6, "{:?}", build.figures);
            build.values[1].unwrap()
        })
        .collect();
    // nothing moved where the stack is the present one, and always the same way after it
    assert_eq!(Some(roofs[0]), base.value(ROOF));
    let steps: Vec<f64> = roofs.windows(2).map(|w| w[1] - w[0]).collect();
    assert!(steps.iter().all(|s| s * steps[0] > 0.0), "{roofs:?}");
}

#[test]
fn the_head_gasket_on_the_shelf_that_keeps_squish_is_chosen() {
    let base = engine("touring");
    let squish = figure("squish_mm").unwrap();
    let present = (squish.value)(&base.spec).unwrap();
    let shelf = vec![0.2, 0.5, 0.8];
    let hold =
        Hold { of: squish, by: "stack.head_total_mm".into(), at: None, shelf: shelf.clone() };
    let bases = [0.1, 0.4, 0.6];
    let mut plan = Plan {
        axes: vec![axis("stack.spacers_mm[0]", &[0.0, 0.2, 0.35])],
        holds: vec![hold],
        figures: vec![squish],
        ..Plan::default()
    };
    let sweep = Sweep::new(&base, plan.clone()).unwrap();
    for i in 0..bases.len() as u64 {
        let build = sweep.build(i);
        let best = shelf
            .iter()
            .map(|g| {
                let spacer = build.values[0].unwrap();
                let changed = base
                    .with_all(&[("stack.spacers_mm[0]", spacer), ("stack.head_total_mm", *g)])
                    .unwrap();
                (geometry::squish_gap(&changed.spec) / MM - present).abs()
            })
            .fold(f64::INFINITY, f64::min);
        assert!(((build.figures[0].unwrap() - present).abs() - best).abs() < 1e-9);
    }
    assert_eq!(sweep.build(0).values[1], Some(0.5));
    // a squish of half a metre is beyond any gasket
    plan.holds[0].at = Some(500.0);
    plan.holds[0].shelf.clear();
    let refused = Sweep::new(&base, plan).unwrap().build(1);
    assert!(matches!(refused.engine, Err(Refusal::NotHeld { .. })), "{refused:?}");
    assert_eq!(refused.values[1], None);
}

#[test]
fn limits_refuse_by_name_and_what_cannot_be_is_said() {
    let squish = figure("squish_mm").unwrap();
    let plan = Plan {
        axes: vec![axis("stack.head_total_mm", &[0.0, 0.5, 9.0])],
        limits: vec![Limit { of: squish, least: Some(0.9), most: Some(2.0) }],
        figures: vec![squish],
        ..Plan::default()
    };
    let sweep = Sweep::new(&engine("touring"), plan.clone()).unwrap();
    let [thin, fits, thick] = [0, 1, 2].map(|i| sweep.build(i));
    assert!(matches!(thin.engine, Err(Refusal::Below { least: 0.9, .. })), "{thin:?}");
    assert!(thin.figures[0].is_some() && fits.engine.is_ok());
    assert_eq!(thick.engine.unwrap_err().constraint(), "squish_mm");
    // a roof above the piston's reach is no engine
    let plan = Plan { axes: vec![axis(ROOF, &[0.05])], limits: Vec::new(), ..plan };
    let never = Sweep::new(&engine("touring"), plan).unwrap().build(0);
    let refusal = never.engine.unwrap_err();
    assert!(matches!(refusal, Refusal::Impossible { .. }) && refusal.constraint().contains("roof"));
}

#[test]
fn a_faulty_plan_is_told_everything_at_once() {
    let sample = Sample {
        design: Design::Indices,
        count: 0,
        seed: 1,
        readings: false,
        over: vec![Varied::new("crank_train.rod_mm", vec![106.0, 104.0])],
    };
    let plan = Plan {
        axes: vec![axis("stack.base_totl_mm", &[1.0]), axis("exhaust.window.roof_dept_mm", &[])],
        sample: Some(sample),
        limits: vec![Limit { of: figure("squish_mm").unwrap(), least: None, most: None }],
        ..Plan::default()
    };
    let faults = Sweep::new(&engine("touring"), plan).unwrap_err();
    let said = |place: Place, words: &str| {
        assert!(
            faults.iter().any(|f| f.place == place && f.remedy.contains(words)),
            "{words}: {faults:#?}"
        );
    };
    said(Place::Axis(0, 0), "stack.base_total_mm");
    said(Place::Axis(1, 0), "exhaust.window.roof_depth_mm");
    said(Place::Axis(1, 0), "at least one value");
    said(Place::Sample(None), "not 0");
    said(Place::Sample(Some(0)), "rise");
    said(Place::Limit(0), "least, most or both");
}

#[test]
fn a_value_beyond_its_key_and_a_number_varied_twice_are_faults() {
    let plan = Plan {
        axes: vec![
            axis("stack.base_total_mm", &[-0.1, 0.4]),
            axis("crank_train.bore_mm", &[900.0]),
        ],
        ..Plan::default()
    };
    let faults = Sweep::new(&engine("touring"), plan).unwrap_err();
    assert_eq!(faults.len(), 2, "{faults:?}");
    assert!(faults[0].remedy.contains("must lie between"), "{faults:?}");
    let plan = Plan {
        axes: vec![axis(ROOF, &[33.0]), axis("exhaust.window[0].roof_depth_mm", &[33.0])],
        ..Plan::default()
    };
    let faults = Sweep::new(&engine("touring"), plan).unwrap_err();
    assert!(faults[0].remedy.contains("twice"), "{faults:?}");
}

#[test]
fn a_billion_billion_cases_are_refused_with_their_number() {
    let values: Vec<f64> = (0..10_000).map(|i| 0.4 + 1e-4 * f64::from(i)).collect();
    let mut plan = Plan {
        axes: vec![
            axis("stack.base_total_mm", &values),
            axis("stack.head_total_mm", &values),
            axis("fuel.lambda", &values[4000..]),
        ],
        ..Plan::default()
    };
    plan.axes[2].numbers[0].values.truncate(5000);
    plan.speeds = vec![4000.0, 5000.0];
    let faults = Sweep::new(&engine("touring"), plan.clone()).unwrap_err();
    assert!(faults[0].remedy.contains("1000000000000 cases"), "{faults:?}");
    // a product beyond 128 digits is no panic
    let paths = ["heat.head_area_ratio", "piston.dome_volume_cm3", "ambient.temperature_c"];
    for path in paths {
        plan.axes.push(axis(path, &[1.0; 100_000]));
    }
    for path in ["ambient.pressure_bar", "crankcase.volume_cm3", "combustion.efficiency"] {
        plan.axes.push(axis(path, &[1.0; 100_000]));
    }
    plan.sample = Some(Sample {
        design: Design::Sobol,
        count: 1 << 32,
        seed: 1,
        readings: false,
        over: vec![Varied::new("crank_train.rod_mm", vec![104.0, 106.0])],
    });
    let faults = Sweep::new(&engine("touring"), plan).unwrap_err();
    assert!(faults.iter().any(|f| f.remedy.contains("cases")), "{faults:?}");
}

#[test]
fn figures_agree_with_the_models_own_timing() {
    for name in ["touring", "short-blowdown", "utility", "disc-valve"] {
        let spec = engine(name).spec;
        let timing = Timing::of(&spec, &geometry::crank(&spec)).unwrap();
        let value = |key: &str| (figure(key).unwrap().value)(&spec).unwrap();
        let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{name}: {a} {b}");
        close(value("exhaust_opens_deg_atdc"), timing.exhaust_opens / DEG);
        close(value("exhaust_duration_deg"), (timing.exhaust_closes - timing.exhaust_opens) / DEG);
        close(value("transfer_opens_deg_atdc"), timing.transfer_opens / DEG);
        close(value("blowdown_deg"), (timing.transfer_opens - timing.exhaust_opens) / DEG);
        let (opens, closes) = timing.intake.unwrap();
        close(value("intake_duration_deg"), (closes - opens).rem_euclid(360.0 * DEG) / DEG);
    }
    let mut keys: Vec<_> = FIGURES.iter().map(|f| f.key).collect();
    keys.sort_unstable();
    keys.dedup();
    assert_eq!(keys.len(), FIGURES.len());
}

#[test]
fn changing_again_and_again_gives_the_same_engine_as_changing_once() {
    let base = engine("utility");
    let paths = [
        "stack.base_total_mm",
        "exhaust.window.roof_depth_mm",
        "combustion.efficiency",
        "fuel.lambda",
        "ambient.pressure_bar",
        "intake.piston_port.window[0].floor_depth_mm",
    ];
    let values: Vec<f64> = paths.iter().map(|p| base.value(p).unwrap() * 1.001).collect();
    let owned: Vec<String> = paths.iter().map(|p| (*p).to_owned()).collect();
    let changer = base.changer(&owned).unwrap();
    for n in 0..=paths.len() {
        // numbers behind the n-th keep their present value
        let mixed: Vec<f64> = (0..paths.len())
            .map(|i| if i < n { values[i] } else { base.value(paths[i]).unwrap() })
            .collect();
        let changes: Vec<_> = paths.iter().copied().zip(mixed.iter().copied()).collect();
        assert_eq!(changer.with(&mixed).unwrap().spec, base.with_all(&changes).unwrap().spec);
    }
}

#[test]
fn a_reading_that_is_off_moves_what_was_measured_with_it_and_a_choice_does_not() {
    let base = engine("touring");
    let squish = figure("squish_mm").unwrap();
    let of = |readings| {
        let over = vec![Varied::new("crank_train.rod_mm", vec![104.8, 105.2])];
        let sample = Sample { design: Design::Sobol, count: 8, seed: 1, readings, over };
        let plan = Plan { sample: Some(sample), figures: vec![squish], ..Plan::default() };
        let sweep = Sweep::new(&base, plan).unwrap();
        (0..8).map(|i| sweep.build(i)).collect::<Vec<_>>()
    };
    for build in of(true) {
        // the deck was measured with this very rod, however long that is
        assert!((build.figures[0].unwrap() - 1.2).abs() < 1e-9, "{build:?}");
    }
    for build in of(false) {
        // another rod lifts the crown by what it is longer
        let longer = build.values[0].unwrap() - 105.0;
        assert!((build.figures[0].unwrap() - (1.2 - longer)).abs() < 1e-9, "{build:?}");
    }
}

#[test]
fn windows_that_differ_cannot_be_moved_as_one() {
    let base = engine("touring").with("transfer[0].window[0].roof_depth_mm", 42.2).unwrap();
    let by = "transfer.main.window.roof_depth_mm".to_owned();
    let hold = Hold { of: figure("blowdown_deg").unwrap(), by, at: None, shelf: Vec::new() };
    let faults = Sweep::new(&base, Plan { holds: vec![hold], ..Plan::default() }).unwrap_err();
    assert!(faults[0].place == Place::Hold(0) && faults[0].remedy.contains("differ"), "{faults:?}");
}
