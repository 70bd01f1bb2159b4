//! `freshcharge target`: what a wish for power takes, and what stands in its way.

use std::fmt::Write as _;

use freshcharge_sim::cycle::{Settings, simulate};
use freshcharge_sim::geometry::{crank, swept_volume};
use freshcharge_sim::result::Point;
use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::spec::Intake;
use freshcharge_sim::studies::{beside_a_cut, difference, judge};
use freshcharge_sim::units::MM;
use freshcharge_sim::workshop::Facts;
use rayon::prelude::*;

use crate::Outcome;
use crate::args::TargetArgs;
use crate::present::tables::layout::wrapped;
use crate::session::engine::load;
use crate::session::files::{self, Failure};
use crate::session::progress::Progress;

/// Rise of all ports together [mm] and of the exhaust roof by itself [mm], tried against each other.
const RISES: [f64; 5] = [-0.5, 0.0, 0.7, 1.4, 2.1];
const ROOFS: [f64; 4] = [0.0, 0.6, 1.2, 1.8];

/// A pair of timings and what it gives.
struct Pair {
    transfer: f64,
    exhaust: f64,
    blowdown: f64,
    low: f64,
    target: f64,
    top: f64,
    power: f64,
    difference: f64,
    engine: Scenario,
}

/// Runs the command.
pub(crate) fn run(args: &TargetArgs) -> Result<Outcome, Failure> {
    let (scenario, _) = load(&args.file)?;
    let ok = |v: f64, low: f64, high: f64| (low..=high).contains(&v);
    if !ok(args.power, 0.05, 200.0) || !ok(args.rpm, 500.0, 20_000.0) {
        return Err(Failure::Argument {
            flag: "--power, --rpm",
            value: format!("{} {}", args.power, args.rpm),
            remedy: "write brake power in kW between 0.05 and 200, and speed in 1/min between 500 and 20000".to_owned(),
        });
    }
    let now = point(&scenario, args.rpm);
    let mut text = format!("{}: {} kW at {:.0}/min\n\n", scenario.spec.name, args.power, args.rpm);
    let wanted = demand(&mut text, args, &scenario, now.as_ref());
    let pairs = pairs(&scenario, args);
    let best = table(&mut text, args, &pairs);
    let most = if best < args.power {
        limits(&mut text, args, &scenario, best)
    } else {
        text.push_str(&wanted.unwrap_or_default());
        None
    };
    let _ = writeln!(text, "\n{}", wrapped(&beside_a_cut()));
    let sentence = if best < args.power {
        out_of_reach(args, best, most.as_ref())
    } else {
        within_reach(args, &scenario, now.as_ref(), &pairs)
    };
    let _ = writeln!(text, "\n{}", wrapped(&sentence));
    files::print(&text)?;
    Ok(if best < args.power { Outcome::Incomplete } else { Outcome::Done })
}

fn point(scenario: &Scenario, rpm: f64) -> Option<Point> {
    let runs = scenario.faults_for_running().is_empty();
    runs.then(|| simulate(&scenario.spec, rpm, &Settings::single()).ok())?
}

/// What the wish takes: torque, bmep, charge, piston speed.
fn demand(
    text: &mut String,
    args: &TargetArgs,
    scenario: &Scenario,
    now: Option<&Point>,
) -> Option<String> {
    let spec = &scenario.spec;
    let swept = swept_volume(spec);
    let watts = args.power * 1e3;
    let bmep = watts / (swept * args.rpm / 60.0);
    let torque = watts / (args.rpm * std::f64::consts::TAU / 60.0);
    let piston = 2.0 * crank(spec).travel() * args.rpm / 60.0;
    let _ = writeln!(
        text,
        "It takes {torque:.2} N·m, {:.2} bar bmep, {piston:.1} m/s mean piston speed.",
        bmep / 1e5
    );
    if piston > 20.3 {
        let _ = writeln!(
            text,
            "{}",
            wrapped(
                "That is above 20.3 m/s (4000 ft/min; G. Jennings, Two-Stroke Tuner's Handbook, 1973): life falls fast there."
            )
        );
    }
    let class = match bmep / 1e5 {
        b if b < 5.0 => "industrial engines (3.5 to 5 bar)",
        b if b < 8.0 => "motorcycle engines (5 to 8 bar)",
        _ => "racing engines (10 to 12 bar), which need a tuned pipe",
    };
    let _ = writeln!(text, "Such bmep belongs to {class} (Blair 1990, from memory).");
    let now = now?;
    let s = &now.summary;
    let needed = (bmep + s.fmep) / (s.bmep + s.fmep) * s.charging_efficiency;
    let _ = writeln!(
        text,
        "This engine makes {:.2} kW there with a charging efficiency of {:.3}; the wish needs about {needed:.3}.",
        s.power / 1e3,
        s.charging_efficiency
    );
    let facts = Facts::of_scenario(scenario, &[args.rpm]);
    let at = |name: &str| facts.get(&format!("{name}@{:.0}", args.rpm));
    // the published references; that of rotary intakes from memory
    let intake = if matches!(spec.intake, Intake::Rotary { .. }) { 0.000_18 } else { 0.000_14 };
    for (port, least) in [("exhaust", 0.000_14), ("transfer", 0.000_08), ("intake", intake)] {
        let Some(area) = at(&format!("{port}_mid_angle_time_area_s_cm2_per_cm3")) else { continue };
        let supports = args.rpm * area / least;
        let _ = writeln!(
            text,
            "The {port} has {area:.2e} s·cm²/cm³ there, which the published reference ({least:.2e}, Jennings 1973) puts at {supports:.0}/min."
        );
    }
    Some(format!(
        "\n{}\n",
        wrapped(
            "Reach for it from below: fit the stack first, measure, run, then cut; freshcharge plan makes the cut sheet."
        )
    ))
}

/// Candidates: the whole cylinder raised, and the exhaust roof raised further.
fn pairs(scenario: &Scenario, args: &TargetArgs) -> Vec<Pair> {
    let grid: Vec<(f64, f64)> =
        RISES.iter().flat_map(|rise| ROOFS.iter().map(move |roof| (*rise, *roof))).collect();
    let progress = Progress::new(grid.len(), args.quiet);
    let base = scenario.value("stack.base_total_mm").unwrap_or(0.0);
    let head = scenario.value("stack.head_total_mm").unwrap_or(0.0);
    let off = scenario.value("stack.top_face_cut_mm").unwrap_or(0.0);
    grid.par_iter()
        .filter_map(|(rise, roof)| {
            let _done = scopeguard(&progress);
            // squish is held: what the stack adds, the top face loses
            let mut changes = vec![("stack.base_total_mm".to_owned(), base + rise)];
            if *rise >= 0.0 {
                changes.push(("stack.top_face_cut_mm".to_owned(), off + rise));
            } else {
                changes.push(("stack.head_total_mm".to_owned(), head - rise));
            }
            for (i, w) in scenario.spec.exhaust.windows.iter().enumerate() {
                let depth = w.roof_depth / MM + off - roof;
                changes.push((format!("exhaust.window[{i}].roof_depth_mm"), depth));
            }
            let changes: Vec<(&str, f64)> = changes.iter().map(|(p, v)| (p.as_str(), *v)).collect();
            let engine = scenario.with_all(&changes).ok()?;
            let facts = Facts::of_scenario(&engine, &[]);
            let at = |share: f64| point(&engine, share * args.rpm);
            let (low, target, top) = (at(0.6)?, at(1.0)?, at(1.15)?);
            Some(Pair {
                transfer: facts.get("transfer_duration_deg")?,
                exhaust: facts.get("exhaust_duration_deg")?,
                blowdown: facts.get("blowdown_deg")?,
                low: low.summary.torque,
                target: target.summary.torque,
                top: top.summary.torque,
                power: target.summary.power / 1e3,
                difference: (target.summary.cylinder_pressure_to
                    - target.summary.crankcase_pressure_to)
                    / 1e5,
                engine,
            })
        })
        .collect()
}

/// Advances the progress when a candidate is done, whatever becomes of it.
fn scopeguard(progress: &Progress) -> impl Drop + '_ {
    struct Guard<'a>(&'a Progress);
    impl Drop for Guard<'_> {
        fn drop(&mut self) {
            self.0.advance();
        }
    }
    Guard(progress)
}

/// Prints the candidates, those that reach the wish by torque below it; gives the most power found.
fn table(text: &mut String, args: &TargetArgs, pairs: &[Pair]) -> f64 {
    let mut order: Vec<&Pair> = pairs.iter().collect();
    order.sort_by(|a, b| {
        let reach = |p: &Pair| p.power >= args.power;
        reach(b).cmp(&reach(a)).then(if reach(a) {
            b.low.total_cmp(&a.low)
        } else {
            b.power.total_cmp(&a.power)
        })
    });
    let _ = writeln!(
        text,
        "\nCandidates (whole cylinder raised with squish held, exhaust roof raised further):\ntransfer exhaust blowdown   power   torque [N·m] at {:.0} / {:.0} / {:.0}   Δp at opening",
        0.6 * args.rpm,
        args.rpm,
        1.15 * args.rpm
    );
    for p in order.iter().take(8) {
        let mark = if p.power >= args.power { " *" } else { "" };
        let _ = writeln!(
            text,
            "{:7.1}° {:6.1}° {:7.1}° {:5.2} kW {:14.2} / {:.2} / {:.2} {:15.2} bar{mark}",
            p.transfer, p.exhaust, p.blowdown, p.power, p.low, p.target, p.top, p.difference
        );
    }
    let best = pairs.iter().map(|p| p.power).fold(0.0, f64::max);
    if best >= args.power {
        text.push_str("* reaches the wish; those that do are sorted by what they keep low down.\n");
    }
    best
}

/// The sentence that answers when no timing gives the wish.
fn out_of_reach(args: &TargetArgs, best: f64, most: Option<&(String, f64)>) -> String {
    let port = most.map_or(String::new(), |(words, gain)| {
        format!("; the {words} limits most: a tenth more of it gives {gain:+.3} kW")
    });
    format!(
        "{} kW at {:.0}/min is out of reach by timing alone, {best:.2} kW being the most found{port}.",
        args.power, args.rpm
    )
}

/// The sentence that answers when the wish can be had: with what, and how the transfers rise without loss of
/// blowdown.
fn within_reach(
    args: &TargetArgs,
    scenario: &Scenario,
    now: Option<&Point>,
    pairs: &[Pair],
) -> String {
    let power = now.map_or(0.0, |p| p.summary.power / 1e3);
    let reached = if power >= args.power {
        format!(
            "The engine makes {power:.2} kW at {:.0}/min as it stands, so that {} kW needs no cut",
            args.rpm, args.power
        )
    } else {
        let able = pairs.iter().filter(|p| p.power >= args.power);
        let best = able.max_by(|a, b| a.low.total_cmp(&b.low));
        best.map_or(String::new(), |p| {
            format!(
                "{} kW at {:.0}/min takes transfers of {:.1}° and an exhaust of {:.1}°, which give {:.2} kW",
                args.power, args.rpm, p.transfer, p.exhaust, p.power
            )
        })
    };
    let facts = Facts::of_scenario(scenario, &[]);
    let own = |key: &str| facts.get(key).unwrap_or(f64::NAN);
    let raised = pairs.iter().filter(|p| {
        p.transfer > own("transfer_duration_deg") + 0.5 && p.blowdown >= own("blowdown_deg") - 0.05
    });
    let Some(pair) = raised.max_by(|a, b| a.power.total_cmp(&b.power)) else {
        return format!("{reached}; no candidate raises the transfers and keeps the blowdown.");
    };
    let worth = difference(scenario, &pair.engine, &[], args.rpm).map_or(String::new(), |found| {
        let items = [found.item()];
        format!(", {}", judge(&items).sentence(&items))
    });
    format!(
        "{reached}. To raise the transfers without losing blowdown set transfers {:.1}° and exhaust {:.1}°, which leaves {:.1}° of blowdown{worth}.",
        pair.transfer, pair.exhaust, pair.blowdown
    )
}

/// What gives power when it is widened by a tenth: the first of them limits.
fn limits(
    text: &mut String,
    args: &TargetArgs,
    scenario: &Scenario,
    best: f64,
) -> Option<(String, f64)> {
    let _ = writeln!(
        text,
        "\n{}",
        wrapped(&format!(
            "{} kW is out of reach of this cylinder by timing alone: the most found is {best:.2} kW. What a tenth more of each passage would give at {:.0}/min:",
            args.power, args.rpm
        ))
    );
    let now = point(scenario, args.rpm)?;
    let mut gains: Vec<(String, f64)> = Vec::new();
    let mut wider = |words: &str, paths: &[String], share: f64| {
        let changes: Option<Vec<(String, f64)>> =
            paths.iter().map(|p| Some((p.clone(), share * scenario.value(p)?))).collect();
        let Some(changes) = changes.filter(|c| !c.is_empty()) else { return };
        let changes: Vec<(&str, f64)> = changes.iter().map(|(p, v)| (p.as_str(), *v)).collect();
        if let Some(p) = scenario.with_all(&changes).ok().and_then(|s| point(&s, args.rpm)) {
            gains.push((words.to_owned(), (p.summary.power - now.summary.power) / 1e3));
        }
    };
    let chords = |port: &str, count: usize| {
        (0..count).map(|i| format!("{port}.window[{i}].chord_mm")).collect::<Vec<_>>()
    };
    wider(
        "exhaust windows (chord): blowdown and exhaust",
        &chords("exhaust", scenario.spec.exhaust.windows.len()),
        1.1,
    );
    let transfers: Vec<String> = scenario
        .spec
        .transfers
        .iter()
        .enumerate()
        .flat_map(|(g, t)| chords(&format!("transfer[{g}]"), t.windows.len()))
        .collect();
    wider("transfer windows (chord)", &transfers, 1.1);
    for path in ["intake.crank_web.window_area_mm2", "intake.disc_valve.window_area_mm2"] {
        wider("intake window", &[path.to_owned()], 1.1);
    }
    wider("intake windows (chord)", &chords("intake.piston_port", 1), 1.1);
    wider("carburettor (bore 4.9 % wider)", &["carburettor.bore_mm".to_owned()], 1.1_f64.sqrt());
    // before a pipe a wider exit would only make a step
    let piped = scenario.spec.exhaust.pipe.is_some();
    if !piped {
        let exit = ["exhaust.duct_exit_diameter_mm".to_owned()];
        wider("exhaust exit (4.9 % wider)", &exit, 1.1_f64.sqrt());
    }
    gains.sort_by(|a, b| b.1.total_cmp(&a.1));
    for (words, gain) in &gains {
        let _ = writeln!(text, "  {words}: {gain:+.3} kW");
    }
    if let Some((words, _)) = gains.first().filter(|g| g.1 > 0.0) {
        let _ = writeln!(text, "The {words} limits most.");
    }
    let pipe = if piped {
        "The pipe is held as it is. Its length sets the speed at which it helps, its cones how much and how widely: `freshcharge sweep --vary exhaust.pipe.section.NAME.length_mm=…` tries others."
    } else {
        "A tuned pipe is the other way to more charge; this model has none behind the exhaust here."
    };
    let _ = writeln!(text, "{}", wrapped(pipe));
    gains.into_iter().next().filter(|g| g.1 > 0.0)
}
