//! Verification: the workshop arithmetic against a worked engine (bore 55.0, stroke 51.5, rod 103 mm,
//! invented; its numbers computed exactly and printed to the digits held here), and against rules of the
//! trade (common practice, no source).

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::geometry::{squish_velocity, swept_volume};
use freshcharge_sim::scenario::{self, Scenario};
use freshcharge_sim::units::{DEG, angular_speed};
use freshcharge_sim::workshop::{AngleError, Facts, convert, peak_squish};
use freshcharge_validation::Tolerance;

const WORKED: &str = r#"
name = "Worked engine"
[crank_train]
bore_mm = 55.0
stroke_mm = 51.5
rod_mm = 103.0
[piston]
skirt_length_mm = 60.0
[stack]
base_gaskets_mm = [0.5]
head_gaskets_mm = [0.5]
[stack.measured]
deck_mm = 0.30
[head]
land_offset_mm = 0.40
squish_band_mm = 8.054563
[head.assembled]
volume_cm3 = 12.5
[exhaust]
[[exhaust.window]]
chord_mm = 36.0
roof_depth_mm = 30.0
[[transfer]]
name = "main"
duct_volume_cm3 = 30.0
[[transfer.window]]
centre_deg = 75.0
chord_mm = 18.0
roof_depth_mm = 41.2
[[transfer.window]]
centre_deg = -75.0
chord_mm = 18.0
roof_depth_mm = 41.2
[[transfer]]
name = "boost"
duct_volume_cm3 = 8.0
[[transfer.window]]
centre_deg = 180.0
chord_mm = 14.0
roof_depth_mm = 41.7
[crankcase]
volume_cm3 = 420.0
[intake.crank_web]
opens_deg_btdc = 115.0
closes_deg_atdc = 50.0
window_area_mm2 = 400.0
"#;

fn worked() -> Scenario {
    scenario::read(WORKED).unwrap_or_else(|f| panic!("{f:#?}"))
}

fn facts(scenario: &Scenario) -> Facts {
    Facts::of_scenario(scenario, &[8000.0])
}

/// Half of the last printed digit, and a hair for numbers that end on it.
fn printed(digits: i32) -> Tolerance {
    Tolerance::absolute(0.52 * 10.0_f64.powi(-digits), "half of the last printed digit")
}

fn check(facts: &Facts, key: &str, digits: i32, value: f64) {
    printed(digits).check(key, facts.get(key).unwrap_or_else(|| panic!("{key}")), value);
}

#[test]
fn base_build() {
    let facts = facts(&worked());
    check(&facts, "exhaust_opens_deg_atdc", 6, 91.516904);
    check(&facts, "transfer_opens_deg_atdc", 6, 119.506626);
    check(&facts, "exhaust_duration_deg", 1, 177.0);
    check(&facts, "transfer_duration_deg", 1, 121.0);
    check(&facts, "trapped_ratio", 6, 6.644971);
    check(&facts, "geometric_ratio", 6, 10.788417);
    check(&facts, "crankcase_ratio", 6, 1.411078);
    check(&facts, "squish_mm", 2, 1.20);
    check(&facts, "swept_cm3", 6, 122.355216);
    check(&facts, "mean_piston_speed_m_per_s@8000", 6, 13.733333);
    check(&facts, "exhaust_arc_mm", 6, 39.246968);
    check(&facts, "blowdown_angle_area_mm2deg", 4, 5890.4704);
    check(&facts, "blowdown_ms@8000", 3, 0.583);
}

/// Spacer, exhaust and transfer gained, blowdown lost, squish, full and trapped ratio.
const SPACERS: [[f64; 7]; 3] = [
    [0.5, 2.24, 2.90, -0.33, 1.70, 9.94, 6.07],
    [1.0, 4.46, 5.74, -0.64, 2.20, 9.23, 5.58],
    [1.5, 6.67, 8.52, -0.93, 2.70, 8.62, 5.17],
];

#[test]
fn spacers() {
    let base = worked();
    let before = facts(&base);
    for [t, exhaust, transfer, blowdown, squish, full, trapped] in SPACERS {
        let after = facts(&base.with("stack.base_total_mm", 0.5 + t).unwrap());
        let gain = |key: &str| after.get(key).unwrap() - before.get(key).unwrap();
        printed(2).check("exhaust", gain("exhaust_duration_deg"), exhaust);
        printed(2).check("transfer", gain("transfer_duration_deg"), transfer);
        printed(2).check("blowdown", gain("blowdown_deg"), blowdown);
        check(&after, "squish_mm", 2, squish);
        check(&after, "geometric_ratio", 2, full);
        check(&after, "trapped_ratio", 2, trapped);
    }
}

#[test]
fn spacer_with_the_top_cut_and_the_roof_raised() {
    let cut =
        worked().with_all(&[("stack.base_total_mm", 2.0), ("stack.top_face_cut_mm", 1.7)]).unwrap();
    let after = facts(&cut);
    check(&after, "transfer_duration_deg", 1, 129.5);
    check(&after, "exhaust_duration_deg", 1, 183.6);
    check(&after, "blowdown_deg", 1, 27.1);
    check(&after, "squish_mm", 2, 1.00);
    check(&after, "geometric_ratio", 2, 11.18);
    check(&after, "trapped_ratio", 2, 6.57);
    let raised = facts(&cut.with("exhaust.window[0].roof_depth_mm", 29.4).unwrap());
    check(&raised, "exhaust_duration_deg", 1, 186.3);
    check(&raised, "blowdown_deg", 1, 28.4);
    check(&raised, "trapped_ratio", 2, 6.45);
}

#[test]
fn another_crank_and_another_rod() {
    let with = |path, value, total| {
        facts(&worked().with_all(&[(path, value), ("stack.base_total_mm", total)]).unwrap())
    };
    let crank = with("crank_train.stroke_mm", 53.5, 1.5);
    check(&crank, "transfer_duration_deg", 1, 130.3);
    check(&crank, "exhaust_duration_deg", 1, 182.5);
    let rod = with("crank_train.rod_mm", 105.0, 2.5);
    check(&rod, "transfer_duration_deg", 1, 120.7);
    check(&rod, "exhaust_duration_deg", 1, 176.7);
}

#[test]
fn chord_arc_and_shape() {
    let base = worked();
    let facts0 = facts(&base);
    check(&facts0, "exhaust_chord_to_bore", 3, 0.655);
    check(&facts0, "exhaust_arc_mm", 2, 39.25);
    let wide = facts(&base.with("exhaust.window[0].chord_mm", 38.5).unwrap());
    check(&wide, "exhaust_chord_to_bore", 3, 0.700);
    check(&wide, "exhaust_arc_mm", 2, 42.65);
    let area = |radius: f64, arch: f64| {
        let shaped = base.with_all(&[
            ("exhaust.window[0].roof_radius_mm", radius),
            ("exhaust.window[0].roof_arch_mm", arch),
        ]);
        facts(&shaped.unwrap()).get("blowdown_angle_area_mm2deg").unwrap()
    };
    for (radius, arch, value) in
        [(0.0, 0.0, 5890.0), (6.0, 0.0, 5505.0), (6.0, 1.0, 5357.0), (10.0, 2.0, 4777.0)]
    {
        Tolerance::absolute(0.52, "half of the last printed digit").check(
            "angle-area",
            area(radius, arch),
            value,
        );
    }
}

#[test]
fn raise_or_widen() {
    let shaped = worked()
        .with_all(&[
            ("exhaust.window[0].roof_radius_mm", 6.0),
            ("exhaust.window[0].roof_arch_mm", 1.0),
        ])
        .unwrap();
    let before = facts(&shaped);
    let share = |after: &Facts, key: &str| {
        100.0 * (after.get(key).unwrap() / before.get(key).unwrap() - 1.0)
    };
    let raised = facts(&shaped.with("exhaust.window[0].roof_depth_mm", 29.5).unwrap());
    let near = printed(1);
    near.check("raised, area", share(&raised, "blowdown_angle_area_mm2deg"), 9.2);
    printed(1).check("raised, ratio", share(&raised, "trapped_ratio"), -1.4);
    let wide = facts(&shaped.with("exhaust.window[0].chord_mm", 38.5).unwrap());
    near.check("widened, area", share(&wide, "blowdown_angle_area_mm2deg"), 7.2);
    assert_eq!(share(&wide, "trapped_ratio"), 0.0);
}

#[test]
fn reading_errors_volume_and_power() {
    let base = worked();
    let before = facts(&base);
    let shift = |path, value| facts(&base.with(path, value).unwrap());
    let deeper = shift("exhaust.window[0].roof_depth_mm", 30.1);
    let change = |f: &Facts, key: &str| (f.get(key).unwrap() - before.get(key).unwrap()).abs();
    printed(2).check("0.1 mm of exhaust", change(&deeper, "exhaust_duration_deg"), 0.45);
    let deeper = shift("transfer.main.window.roof_depth_mm", 41.3);
    printed(2).check("0.1 mm of transfer", change(&deeper, "transfer_main_duration_deg"), 0.59);
    // clearance wanted for a trapped ratio of 6.5: volume above exhaust closing over 5.5
    let wanted = |f: &Facts| {
        let clearance = f.get("clearance_cm3").unwrap();
        (f.get("trapped_ratio").unwrap() - 1.0) * clearance / 5.5
    };
    printed(2).check("volume wanted", wanted(&before), 12.83);
    let spaced = facts(&base.with("stack.base_total_mm", 2.0).unwrap());
    printed(2).check("after a spacer of 1.5", wanted(&spaced), 12.18);
    // 12 kW at 8500/min
    let bmep = 12e3 / (swept_volume(&base.spec) * 8500.0 / 60.0) / 1e5;
    printed(2).check("bmep", bmep, 6.92);
}

#[test]
fn squish_velocity_of_the_worked_engine() {
    // half of the bore's area is land: bowl diameter 55·√½; the printed figures keep the clearance
    // volume of 12.5 cm³ at every gap
    let bowl = 0.055 * 0.5_f64.sqrt();
    let crank = freshcharge_sim::geometry::crank(&worked().spec);
    let area = std::f64::consts::FRAC_PI_4 * 0.055 * 0.055;
    let peak = |gap: f64, clearance: f64| {
        (1..1200)
            .map(|i| {
                let here = crank.at(-0.05 * f64::from(i) * DEG);
                let speed = here.slope * angular_speed(9000.0);
                let volume = clearance - area * gap;
                squish_velocity(0.055, bowl, gap + here.drop, volume, speed)
            })
            .fold(0.0, f64::max)
    };
    for (gap, printed_value) in [(1.0e-3, 25.7), (1.2e-3, 21.9), (2.7e-3, 8.1)] {
        printed(1).check("largest squish velocity", peak(gap, 12.5e-6), printed_value);
    }
    // the program's own search finds the same peak
    let tight = worked().with("stack.head_total_mm", 0.3).unwrap();
    let own = peak_squish(&tight.spec, 9000.0).unwrap();
    let clearance = freshcharge_sim::geometry::clearance_volume(&tight.spec);
    Tolerance::relative(1e-5, "grid of a twentieth of a degree").check(
        "own peak",
        own.velocity,
        peak(0.001, clearance),
    );
    assert!((9.0..16.0).contains(&(own.before_top / DEG)), "{own:?}");
}

/// The worked engine's exhaust window as drawn in its areas: radii 6, arch 1 mm.
fn shaped() -> Scenario {
    worked()
        .with_all(&[
            ("exhaust.window[0].roof_radius_mm", 6.0),
            ("exhaust.window[0].roof_arch_mm", 1.0),
        ])
        .unwrap()
}

#[test]
fn speed_that_the_exhaust_supports_and_the_shortcut() {
    let facts = facts(&shaped());
    // references of 0.00014 and 0.00015 s·cm²/cm³ met by the full integral at 8531 and 7962/min
    let integral = facts.get("exhaust_specific_time_area_s_per_m@8000").unwrap() / 100.0;
    let near = Tolerance::relative(1e-3, "the printed speeds rest on a floor that is not told");
    near.check("0.00014", 8000.0 * integral / 0.000_14, 8531.0);
    near.check("0.00015", 8000.0 * integral / 0.000_15, 7962.0);
    // the shortcut overstates it by 12.7 %
    let shortcut = facts.get("exhaust_mid_angle_time_area_s_cm2_per_cm3@8000").unwrap();
    printed(1).check("shortcut", 100.0 * (shortcut / integral - 1.0), 12.7);
}

#[test]
fn compression_gauge_of_the_worked_engine() {
    // polytropic 1.2 to 1.3, gauge pressure over 1 bar: 8.7 to 10.7 for 6.64, 6.2 to 7.5 for 5.17
    let spaced = worked().with("stack.base_total_mm", 2.0).unwrap();
    for (engine, low, high) in [(worked(), 8.7, 10.7), (spaced, 6.2, 7.5)] {
        let ratio = facts(&engine).get("trapped_ratio").unwrap();
        printed(1).check("gauge, low", ratio.powf(1.2) - 1.0, low);
        printed(1).check("gauge, high", ratio.powf(1.3) - 1.0, high);
    }
}

/// A build of the worked engine as the emptying calculation sees it: deck [mm], exhaust roof [mm].
#[derive(Clone, Copy)]
struct Emptied {
    deck: f64,
    roof: f64,
}

const AS_BUILT: Emptied = Emptied { deck: 0.3, roof: 30.0 };

/// Pressure at transfer opening [bar] and degrees after it until 1.21 bar are reached: 4.2 bar and 1450 K at
/// the base build's exhaust opening, expanded isentropically to that of another, 12.5 cm³ of clearance,
/// 1.05 bar behind, C_d 0.78. γ and R are not told: γ = 1.3 is taken, and R = 292 J/(kg K) found from the
/// pressure at 5000/min; all other figures must follow.
fn emptied(build: Emptied, rpm: f64) -> (f64, f64) {
    use freshcharge_sim::flow::{Upstream, mass_flow};
    use freshcharge_sim::window::Shape;
    const GAMMA: f64 = 1.3;
    const R: f64 = 292.0;
    let engine = shaped().spec;
    let crank = freshcharge_sim::geometry::crank(&engine);
    let shape = Shape::of(&engine.exhaust.windows[0]).unwrap();
    let bore = freshcharge_sim::geometry::bore_area(&engine);
    let opens = |roof: f64, deck: f64| crank.angle_down((roof - deck) * 1e-3).unwrap();
    let volume = |theta: f64| 12.5e-6 + bore * crank.at(theta).drop;
    let (eo, to) = (opens(build.roof, build.deck), opens(41.2, build.deck));
    let expanded = volume(opens(AS_BUILT.roof, AS_BUILT.deck)) / volume(eo);
    let mut p = 4.2e5 * expanded.powf(GAMMA);
    let mut mass = p * volume(eo) / (R * 1450.0 * expanded.powf(GAMMA - 1.0));
    let step = (to - eo) / 2000.0;
    let (mut at_opening, mut theta) = (f64::NAN, eo);
    for i in 0.. {
        if i == 2000 {
            at_opening = p / 1e5;
        }
        if i >= 2000 && p <= 1.21e5 {
            break;
        }
        let area =
            shape.area_above(crank.at(theta + 0.5 * step).drop + (build.deck - build.roof) * 1e-3);
        let upstream = Upstream {
            pressure: p,
            specific_pressure_volume: p * volume(theta) / mass,
            kappa: (GAMMA - 1.0) / GAMMA,
        };
        let flow = mass_flow(0.78 * area, &upstream, 1.05e5, 2e-4);
        let left = mass - flow * step / angular_speed(rpm);
        // what stays expands isentropically
        p *= (left / mass * volume(theta) / volume(theta + step)).powf(GAMMA);
        (mass, theta) = (left, theta + step);
    }
    (at_opening, (theta - to) / DEG)
}

#[test]
fn emptying_of_the_worked_engine() {
    let two = printed(2);
    two.check("5000/min", emptied(AS_BUILT, 5000.0).0, 1.43);
    two.check("10 000/min", emptied(AS_BUILT, 10_000.0).0, 2.02);
    for (rpm, late) in [(5000.0, 3.5), (6000.0, 6.3), (8000.0, 11.3), (10_000.0, 15.8)] {
        printed(1).check("late angle", emptied(AS_BUILT, rpm).1, late);
    }
    let change = |build: Emptied, rpm| emptied(build, rpm).0 - emptied(AS_BUILT, rpm).0;
    let spaced = Emptied { deck: 1.8, ..AS_BUILT };
    two.check("spacer of 1.5 mm at 5000", change(spaced, 5000.0), 0.06);
    two.check("spacer of 1.5 mm at 10 000", change(spaced, 10_000.0), 0.09);
    let raised = Emptied { roof: 29.4, ..AS_BUILT };
    two.check("roof 0.6 mm up at 5000", change(raised, 5000.0), -0.10);
    two.check("roof 0.6 mm up at 10 000", change(raised, 10_000.0), -0.08);
}

#[test]
fn speed_that_the_transfers_support() {
    // 0.00008 s·cm²/cm³ at 11 677/min; how wide the windows are is not told: their width is found from it,
    // and 0.00010 must then come at 9342/min
    let area = |chord: f64| {
        let widths =
            [("transfer.main.window.chord_mm", chord), ("transfer.boost.window.chord_mm", chord)];
        let facts = facts(&worked().with_all(&widths).unwrap());
        facts.get("transfer_specific_time_area_s_per_m@8000").unwrap() / 100.0
    };
    let speed = |chord: f64, reference: f64| 8000.0 * area(chord) / reference;
    let (mut low, mut high) = (6.0, 30.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if speed(middle, 0.000_08) < 11_677.0 { low = middle } else { high = middle }
    }
    printed(0).check("0.00010", speed(low, 0.000_10), 9342.0);
}

#[test]
fn spacers_shorten_a_skirt_controlled_inlet() {
    // 0.5, 1.0, 1.5 mm of spacer take 2.2°, 4.4°, 6.6° off; where its floor lies is not told: it is found
    // from the middle figure, and the two others must follow
    let inlet = "[[intake.piston_port.window]]\ncentre_deg = 180.0\nchord_mm = 28.0\nroof_depth_mm = 72.0\nfloor_depth_mm = ";
    let at = WORKED.find("[[transfer]]\nname = \"boost\"").unwrap();
    let end = WORKED.find("[crankcase]").unwrap();
    let rotary = WORKED.find("[intake.crank_web]").unwrap();
    let engine = |floor: f64| {
        let file = format!("{}{}{inlet}{floor}\n", &WORKED[..at], &WORKED[end..rotary]);
        scenario::read(&file).unwrap_or_else(|f| panic!("{f:#?}"))
    };
    let loss = |floor: f64, t: f64| {
        let base = engine(floor);
        let after = facts(&base.with("stack.base_total_mm", 0.5 + t).unwrap());
        facts(&base).get("intake_duration_deg").unwrap() - after.get("intake_duration_deg").unwrap()
    };
    // a long inlet loses less for each millimetre
    let (mut low, mut high) = (80.0, 95.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if loss(middle, 1.0) > 4.4 { low = middle } else { high = middle }
    }
    let floor = 0.5 * (low + high);
    printed(1).check("1.0 mm", loss(floor, 1.0), 4.4);
    printed(1).check("0.5 mm", loss(floor, 0.5), 2.2);
    printed(1).check("1.5 mm", loss(floor, 1.5), 6.6);
}

#[test]
fn slopes_shares_and_milliseconds() {
    let crank = freshcharge_sim::geometry::crank(&worked().spec);
    for (angle, drop, slope, per_mm) in [(90.0, 29.02, 0.449, 4.45), (120.0, 41.07, 0.339, 5.89)] {
        let here = crank.at(angle * DEG);
        printed(2).check("drop", here.drop * 1e3, drop);
        printed(3).check("mm a degree", here.slope * 1e3 * DEG, slope);
        // a millimetre of height opens earlier and closes later
        let duration = 2.0 / (here.slope * 1e3 * DEG);
        printed(2).check("degrees of duration a mm", duration, per_mm);
    }
    for (chord, share) in [(36.0_f64, 71.4), (38.5, 77.5)] {
        printed(1).check("arc to bore", 100.0 * (chord / 55.0).asin(), share);
    }
    let ms = |degrees: f64, rpm: f64| degrees * DEG / angular_speed(rpm) * 1e3;
    printed(3).check("28° at 8000", ms(28.0, 8000.0), 0.583);
    printed(3).check("28° at 10 000", ms(28.0, 10_000.0), 0.467);
    let degrees = |ms: f64, rpm: f64| ms * 1e-3 * angular_speed(rpm) / DEG;
    for (rpm, wanted) in
        [(6000.0, [18.0, 21.6, 25.2]), (8000.0, [24.0, 28.8, 33.6]), (10_000.0, [30.0, 36.0, 42.0])]
    {
        for (time, wanted) in [0.5, 0.6, 0.7].into_iter().zip(wanted) {
            printed(1).check("degrees for a time", degrees(time, rpm), wanted);
        }
    }
    // the worked build's own blowdown, 27.99°
    let own = Facts::of_scenario(&worked(), &[8000.0, 10_000.0]);
    check(&own, "blowdown_ms@8000", 3, 0.583);
    check(&own, "blowdown_ms@10000", 3, 0.466);
    printed(2).check("18 kW at 10 500", 18e3 / (swept_volume(&worked().spec) * 175.0) / 1e5, 8.41);
}

#[test]
fn the_spacers_other_consequences() {
    let before = facts(&shaped());
    let of = |changes: &[(&str, f64)]| facts(&shaped().with_all(changes).unwrap());
    let spaced = of(&[("stack.base_total_mm", 1.5)]);
    let share =
        |f: &Facts, key: &str| 100.0 * (f.get(key).unwrap() / before.get(key).unwrap() - 1.0);
    printed(1).check("angle-area", share(&spaced, "blowdown_angle_area_mm2deg"), -2.8);
    check(&spaced, "clearance_cm3", 2, 14.88);
    let boost = |f: &Facts| f.get("transfer_boost_duration_deg").unwrap();
    printed(1).check("boost", boost(&spaced) - boost(&before), 5.9);
    // a thinner gasket is the same with the sign reversed
    let thin = of(&[("stack.base_total_mm", 0.2)]);
    check(&thin, "transfer_duration_deg", 1, 119.2);
    check(&thin, "exhaust_duration_deg", 1, 175.6);
    check(&thin, "squish_mm", 2, 0.90);
    check(&thin, "trapped_ratio", 2, 7.05);
    // the roof that restores the degrees, and the one that restores the angle-area
    for (key, roof) in [("blowdown_deg", 0.29), ("blowdown_angle_area_mm2deg", 0.16)] {
        let with = |by: f64| {
            let changes =
                [("stack.base_total_mm", 1.5), ("exhaust.window[0].roof_depth_mm", 30.0 - by)];
            of(&changes).get(key).unwrap() - before.get(key).unwrap()
        };
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..50 {
            let middle = 0.5 * (low + high);
            if with(middle) < 0.0 { low = middle } else { high = middle }
        }
        printed(2).check(key, low, roof);
    }
    let raised = of(&[("exhaust.window[0].roof_depth_mm", 29.0)]);
    printed(1).check("a millimetre of roof", share(&raised, "blowdown_angle_area_mm2deg"), 18.7);
    printed(1).check("and its compression", share(&raised, "trapped_ratio"), -2.9);
    let specific = before.get("blowdown_specific_time_area_s_per_m@8000").unwrap();
    printed(1).check("specific time-area, 1e-4 s/m", 1e4 * specific, 9.1);
    // 1.5 mm of spacer with 1.5 and 1.7 mm off the top face
    for (cut, ratio) in [(1.5, 6.36), (1.7, 6.57)] {
        let f = of(&[("stack.base_total_mm", 2.0), ("stack.top_face_cut_mm", cut)]);
        check(&f, "trapped_ratio", 2, ratio);
    }
    // an error of 0.15 cm³ in the clearance, in the ratios
    let more = of(&[("head.assembled.volume_cm3", 12.65)]);
    let lost = |key: &str| before.get(key).unwrap() - more.get(key).unwrap();
    printed(2).check("geometric", lost("geometric_ratio"), 0.12);
    printed(2).check("trapped", lost("trapped_ratio"), 0.07);
}

#[test]
fn metal_to_stud_holes_is_that_of_a_drawing() {
    // a hole of 8 mm on a circle of 80 mm, 45° from the exhaust: across the duct its axis stands
    // 40·sin 45° = 28.284 mm off, half the chord is 18.0, half the hole 4.0
    let hole = |centre: f64, distance: f64| {
        format!(
            "{WORKED}[[stud_hole]]\ncentre_deg = {centre}\ndistance_mm = {distance}\ndiameter_mm = 8.0\n"
        )
    };
    let metal = |file: &str| {
        let scenario = scenario::read(file).unwrap_or_else(|f| panic!("{f:#?}"));
        facts(&scenario).get("exhaust_stud_metal_mm").unwrap()
    };
    let near = Tolerance::absolute(1e-9, "rounding");
    let beside = 40.0 * 0.5_f64.sqrt() - 18.0 - 4.0;
    near.check("beside the duct", metal(&hole(45.0, 40.0)), beside);
    near.check("the other side", metal(&hole(-45.0, 40.0)), beside);
    // behind the bore the nearest point is the window's edge on the wall
    let edge = (18.0_f64, (27.5_f64 * 27.5 - 18.0 * 18.0).sqrt());
    near.check("behind", metal(&hole(180.0, 40.0)), 40.0 + edge.1 - 4.0);
    let at = (40.0 * 100.0_f64.to_radians().sin(), 40.0 * 100.0_f64.to_radians().cos());
    let gap = (at.0 - edge.0).hypot(at.1 - edge.1) - 4.0;
    near.check("aside", metal(&hole(100.0, 40.0)), gap);
    // a hole in the bore is refused
    let faults = scenario::read(&hole(45.0, 30.0)).unwrap_err();
    assert!(faults[0].key == "stud_hole[0].distance_mm", "{faults:?}");
}

#[test]
fn conventions() {
    let all = convert("91.5 atdc").unwrap();
    assert_eq!(
        (all[0].duration, all[0].opens_bbdc, all[0].closes_abdc, all[0].closes_btdc),
        (177.0, 88.5, 88.5, 91.5)
    );
    assert_eq!(convert("88.5 bbdc").unwrap()[0].duration, 177.0);
    for text in ["121/177", "177/121", "121/177/28"] {
        let all = convert(text).unwrap();
        assert_eq!((all[0].duration, all[1].duration, all[2].duration), (121.0, 177.0, 28.0));
    }
    let twice = convert("121/177/56").unwrap_err();
    assert_eq!(twice, AngleError::Blowdown { told: 56.0, is: 28.0, raw: true });
    assert!(twice.to_string().contains("raw difference"));
}

/// Rules of the trade: common practice, no source.
#[test]
fn rules_of_the_trade_hold_for_the_worked_engine_and_the_scenarios() {
    // a millimetre of spacer at a stroke of fifty-odd millimetres: about 4 to 6 degrees of transfer
    for text in [WORKED, include_str!("../../scenarios/touring.toml")] {
        let base = scenario::read(text).unwrap();
        let total = base.value("stack.base_total_mm").unwrap();
        let after = facts(&base.with("stack.base_total_mm", total + 1.0).unwrap());
        let gain = after.get("transfer_duration_deg").unwrap()
            - facts(&base).get("transfer_duration_deg").unwrap();
        assert!((4.0..=6.0).contains(&gain), "{gain}");
    }
    let touring = facts(&scenario::read(include_str!("../../scenarios/touring.toml")).unwrap());
    // unbridged 0.60 to 0.70, touring blowdown 21 to 26, squish about 1 to 1.5 mm
    assert!((0.60..=0.70).contains(&touring.get("exhaust_chord_to_bore").unwrap()));
    assert!((21.0..=26.0).contains(&touring.get("blowdown_deg").unwrap()));
    assert!((1.0..=1.5).contains(&touring.get("squish_mm").unwrap()));
    let utility = facts(&scenario::read(include_str!("../../scenarios/utility.toml")).unwrap());
    assert!((12.0..=20.0).contains(&utility.get("blowdown_deg").unwrap()));
}

#[test]
fn power_corrections_follow_the_worked_values() {
    use freshcharge_sim::workshop::{Standard, TestAir, factor};
    let table = freshcharge_validation::reference!("power_correction.csv");
    let near = Tolerance::relative(5e-9, "nine printed digits");
    for row in 0..table.len() {
        let air = TestAir {
            pressure: table.number(row, "p_kPa"),
            temperature: table.number(row, "t_C"),
            vapour: table.number(row, "e_kPa"),
        };
        let (iso, _) = factor(Standard::Iso1585, &air);
        near.check("ISO 1585", iso, table.number(row, "alpha_ISO1585"));
        let within = (0.93..=1.07).contains(&iso);
        assert_eq!(within, table.text(row, "within_0.93_1.07") == "yes");
        near.check("SAE J1349", factor(Standard::SaeJ1349, &air).0, table.number(row, "cf_J1349"));
        near.check(
            "DIN 70020",
            factor(Standard::Din70020, &air).0,
            table.number(row, "K_DIN70020_total_p"),
        );
    }
    assert!(table.len() >= 6);
}

/// Figures of a sweep and facts of the bench that go by one name are one quantity.
#[test]
fn sweeps_and_the_bench_mean_the_same_by_a_name() {
    use freshcharge_sim::sweep::FIGURES;
    let mut shared = 0;
    for text in [
        WORKED,
        include_str!("../../scenarios/touring.toml"),
        include_str!("../../scenarios/utility.toml"),
        include_str!("../../scenarios/disc-valve.toml"),
    ] {
        let scenario = scenario::read(text).unwrap();
        let facts = facts(&scenario);
        for figure in FIGURES {
            let (Some(fact), Some(value)) = (facts.get(figure.key), (figure.value)(&scenario.spec))
            else {
                continue;
            };
            Tolerance::relative(1e-9, "rounding").or_absolute(1e-9).check(figure.key, value, fact);
            shared += 1;
        }
    }
    assert!(shared >= 40, "{shared}");
}
