//! `freshcharge explain`: why gas flows back, how much blowdown is enough, and the cheapest way there.

mod pipe;

use std::fmt::Write as _;
use std::sync::Arc;

use freshcharge_sim::cycle::{Settings, settle_traced};
use freshcharge_sim::inquiry::{
    self, Doubt, Emptying, Lever, Reached, Required, Slack, apply, counterfactual, doubts,
    emptying, reach, required, slack,
};
use freshcharge_sim::model::Engine;
use freshcharge_sim::result::{Point, Summary, Trace};
use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::studies::{Against, Item, StudyError, Verdict, beside_a_cut, judge};
use freshcharge_sim::units::{BAR, DEG, MG, MM};
use freshcharge_sim::workshop::Facts;
use rayon::prelude::*;

use crate::Outcome;
use crate::args::ExplainArgs;
use crate::chart;
use crate::export::layout::wrapped;
use crate::files::{self, Failure};
use crate::progress::Progress;
use crate::session::engine::{load, speeds_or};

/// A traced point with its engine.
struct Here {
    point: Point,
    trace: Trace,
    emptying: Emptying,
}

/// Runs the command.
pub(crate) fn run(args: &ExplainArgs) -> Result<Outcome, Failure> {
    let (scenario, _) = load(&args.file)?;
    let faults = scenario.faults_for_running();
    if !faults.is_empty() {
        let text = &scenario.document.text;
        return Err(Failure::Faults(crate::faults::report(&args.file, text, &faults)));
    }
    let speeds = speeds_or(args.speeds.as_deref(), &scenario.run_speeds)?;
    if let Some(hours) = args.hours.as_ref().filter(|h| h.len() != speeds.len()) {
        return Err(Failure::Argument {
            flag: "--hours",
            value: format!("{hours:?}"),
            remedy: format!("write {} numbers, one for each speed", speeds.len()),
        });
    }
    let fail = |why: String| Failure::Engine { file: args.file.display().to_string(), why };
    let here = trace(&scenario, args.rpm).map_err(fail)?;
    let held = counterfactual(&scenario.spec, args.rpm).map_err(|e| fail(e.to_string()))?;
    let mut text = format!("{} at {:.0}/min\n\n", scenario.spec.name, args.rpm);
    cause(&mut text, &here);
    numbers(&mut text, &scenario, &here);
    pipe::pays_of(&mut text, &scenario, &here);
    consequence(&mut text, &scenario, &here, &held);
    petals(&mut text, &here);
    soot(&mut text, &scenario, &speeds, args.hours.as_deref());
    let mut need = None;
    if !args.brief {
        let progress = Progress::new(speeds.len() + Lever::ALL.len() + 1, args.quiet);
        let needs = table(&mut text, &scenario, &speeds, &progress);
        levers(&mut text, &scenario, args.rpm, &speeds, &progress);
        let sure = doubts(&scenario, args.rpm);
        need = needs.iter().find(|n| (n.rpm - args.rpm).abs() < 0.5).cloned();
        progress.advance();
        how_sure(&mut text, &scenario, args.rpm, &sure);
        if let Some(folder) = &args.charts {
            let mut required = chart::required::chart(&scenario.spec.name, &needs)?;
            required.svg = chart::page::cautioned(&required.svg);
            let mut charts = vec![required];
            if args.maps {
                charts.extend(chart::maps::charts(&scenario, &speeds, args.quiet)?);
            }
            let written = crate::session::charts::write(folder, &charts)?;
            let _ = writeln!(text, "\nCharts: {}", written.join(", "));
        }
    }
    let _ = writeln!(text, "\n{}\n{}", wrapped(&limits(&scenario)), wrapped(&beside_a_cut()));
    let _ = writeln!(text, "\n{}", wrapped(&answer(&here, &held, need.as_ref())));
    files::print(&text)?;
    Ok(Outcome::Done)
}

/// What the numbers do not know.
fn limits(scenario: &Scenario) -> String {
    let waves = if scenario.spec.exhaust.pipe.is_some() {
        "waves in the exhaust as its pipes make them"
    } else {
        "no waves in the exhaust: a pipe that pulls needs less blowdown, a silencer that holds back needs more"
    };
    LIMITS.replace("{waves}", waves)
}

/// Share of the charge below which backflow costs nothing worth a cut, as in the blowdown required (b).
const HARMLESS: f64 = 0.01;

/// The sentence that answers: whether gas comes back and how far, what that costs, and the blowdown needed.
fn answer(here: &Here, held: &Point, need: Option<&Required>) -> String {
    let s = &here.point.summary;
    let rpm = here.point.rpm;
    if s.hot_backflow_mass <= 1e-9 {
        return format!("At {rpm:.0}/min nothing hot flows back: the blowdown is enough.");
    }
    let charge = [s.charging_efficiency, held.summary.charging_efficiency];
    let item = Item {
        words: "charging efficiency".to_owned(),
        unit: "–".to_owned(),
        value: charge[0],
        error: HARMLESS * charge[1],
        against: Against::Base { value: charge[1], more_is_better: true },
    };
    let harmful = judge(&[item]).verdict == Verdict::Worse;
    let cost = format!("{:.2} %", 100.0 * (1.0 - charge[0] / charge[1]));
    let cost = if harmful {
        format!("it costs {cost} of the charge, which is worth curing")
    } else {
        format!("it costs {cost} of the charge, which is within the error and not worth a cut")
    };
    let reach = s.hot_backflow_penetration;
    let depth = if reach > 1.0 {
        "reaches the crankcase: look for soot and varnish below the piston".to_owned()
    } else {
        format!(
            "fills {:.0} % of a transfer duct at most, so that no hot gas reaches the crankcase",
            100.0 * reach
        )
    };
    let back = format!(
        "At {rpm:.0}/min {:.2} mg of hot gas flow back, which {depth}; {cost}",
        s.hot_backflow_mass / MG
    );
    let Some(need) = need else { return format!("{back}.") };
    let there = need.actual;
    let needed = match (need.harmless, need.best_torque) {
        (Some(b), Some(c)) => {
            format!("{b:.1}° cost less than 1 % of the charge and {c:.1}° give most torque")
        }
        (Some(b), None) => format!("{b:.1}° cost less than 1 % of the charge"),
        (None, Some(c)) => {
            format!("no roof keeps the cost below 1 %, and {c:.1}° give most torque")
        }
        (None, None) => "no roof tried keeps the cost below 1 % of the charge".to_owned(),
    };
    let verdict = match need.harmless {
        Some(b) if there >= b => "the blowdown is enough".to_owned(),
        Some(b) => format!("the blowdown is {:.1}° too short", b - there),
        None => "the blowdown is too short".to_owned(),
    };
    format!("{back}. At this speed {needed}; there are {there:.1}°: {verdict}.")
}

fn late(s: &Summary) -> String {
    s.late_angle.map_or("not at all".to_owned(), |a| format!("{:.1}°", a / DEG))
}

/// When the petals of a reed valve open and shut, and what they are against the crank.
fn petals(text: &mut String, here: &Here) {
    if here.point.reed.is_empty() {
        return;
    }
    text.push_str("\nPetals of the reed valve\n");
    for (stage, petals) in here.point.reed.iter().zip(&here.trace.reed) {
        let lifts = &petals.lift;
        let off = |lift: f64| lift > 0.02 * stage.stop;
        let turns = |rises: bool| {
            let step = move |i: &usize| off(lifts[*i]) == rises && off(lifts[*i - 1]) != rises;
            let angle = |i: usize| here.trace.angle[i] / DEG % 360.0;
            let places = (1..lifts.len()).filter(step).map(|i| format!("{:.0}°", angle(i)));
            places.collect::<Vec<_>>().join(", ")
        };
        let per_turn = stage.frequency * 60.0 / here.point.rpm;
        let words = format!(
            "{}: off the seat at {} and back on it at {} after top dead centre, {:.0}° in all; furthest lift {:.2} mm of {:.2} mm. It meets its stop with {:.1} m/s and its seat with {:.1} m/s. Bending stress at the clamp {:.0} MPa, {:.0} % of what lasts. Its own frequency, {:.0} Hz, is {per_turn:.1} times the crank's: it swings back of itself within {:.0}° of crank.",
            stage.name,
            turns(true),
            turns(false),
            stage.open / DEG,
            stage.lift / MM,
            stage.stop / MM,
            stage.stop_speed,
            stage.seat_speed,
            stage.root_stress / 1e6,
            100.0 * stage.fatigue_share,
            stage.frequency,
            180.0 / per_turn
        );
        let _ = writeln!(text, "{}", wrapped(&words));
    }
    let s = &here.point.summary;
    if let Some(back) = s.reed_backflow_mass {
        let words = format!(
            "{:.2} mg flow back out past the petals before they are shut, {:.1} % of what is delivered. Much of it: the petals are slow for this speed; none at all with a low lift: they are stiffer than the engine needs.",
            back / MG,
            100.0 * back / s.delivered_fresh
        );
        let _ = writeln!(text, "{}", wrapped(&words));
    }
}

const LIMITS: &str = "Limits: given scavenging, discharge coefficients and burning, {waves}.";

fn trace(scenario: &Scenario, rpm: f64) -> Result<Here, String> {
    let model =
        Engine::new(&scenario.spec).and_then(|e| e.at_speed(rpm)).map_err(|e| e.to_string())?;
    let model = Arc::new(model);
    let (point, trace) = settle_traced(&model, &Settings::single()).map_err(|e| e.to_string())?;
    if let Some(why) = &point.standstill {
        return Err(format!("the engine would not run at {rpm:.0}/min: {why}"));
    }
    if !point.verdict.settled() {
        return Err(format!("did not settle at {rpm:.0}/min; choose another speed"));
    }
    let emptying = emptying(&scenario.spec, &model, &point, &trace);
    Ok(Here { point, trace, emptying })
}

/// In plain words.
fn cause(text: &mut String, here: &Here) {
    let (s, e) = (&here.point.summary, &here.emptying);
    let (cylinder, case) = (s.cylinder_pressure_to / BAR, s.crankcase_pressure_to / BAR);
    let words = if cylinder <= case {
        format!(
            "Blowdown is enough: when the transfers open the cylinder stands at {cylinder:.2} bar, {:.2} bar below the crankcase. Nothing flows back.",
            case - cylinder
        )
    } else {
        let late = s
            .late_angle
            .map_or("not before they close".to_owned(), |l| format!("{:.1}° later", l / DEG));
        format!(
            "Hot gas runs back at this speed: the transfers open on {cylinder:.2} bar in the cylinder and {case:.2} bar in the crankcase, so flow through them starts in reverse. The cylinder falls below the crankcase {late}. There are {:.2} ms between the openings; to fall from {:.2} bar the cylinder would need several times its time scale of {:.2} ms.",
            e.time_ms,
            s.cylinder_pressure_eo / BAR,
            e.time_scale_ms
        )
    };
    let _ = writeln!(text, "{}\n", wrapped(&words));
}

fn numbers(text: &mut String, scenario: &Scenario, here: &Here) {
    let (s, e) = (&here.point.summary, &here.emptying);
    let facts = Facts::of_scenario(scenario, &[]);
    let rpm = here.point.rpm;
    let combustion = &scenario.spec.combustion;
    let end = (combustion.start.at(rpm) + combustion.duration.at(rpm)) / DEG;
    let opens = facts.get("exhaust_opens_deg_atdc").unwrap_or(f64::NAN);
    let ratio = facts.get("trapped_ratio").unwrap_or(f64::NAN);
    let lines = [
        format!(
            "at exhaust opening     {:.2} bar, {:.0} K in the cylinder",
            s.cylinder_pressure_eo / BAR,
            s.cylinder_temperature_eo
        ),
        format!(
            "  because of           {:.1} mg trapped ({:.0} % fresh), trapped ratio {ratio:.2}, burning until {end:.0}°, {:.0}° before it",
            s.trapped_mass / MG,
            100.0 * s.scavenging_efficiency,
            opens - end
        ),
        format!(
            "blowdown               {:.1}° = {:.3} ms, choked for {:.1}°, then not",
            e.angle_deg, e.time_ms, e.choked_deg
        ),
        format!(
            "  it took off          {:.0} % of the mass, {:.0} % of what sonic flow through this window could have",
            100.0 * e.share_left,
            100.0 * e.of_sonic
        ),
        format!(
            "  time scale           V/(C_d·A·a) = {:.3} ms: the blowdown lasts {:.1} of them",
            e.time_scale_ms,
            e.time_ms / e.time_scale_ms
        ),
        format!(
            "at transfer opening    {:.2} bar, {:.0} K in the cylinder",
            s.cylinder_pressure_to / BAR,
            s.cylinder_temperature_to
        ),
        format!(
            "  crankcase            {:.2} bar, {:.0} K: {:.2} bar built from its lowest, {:.2} bar",
            s.crankcase_pressure_to / BAR,
            s.crankcase_temperature_to,
            e.crankcase_rise_bar,
            e.crankcase_lowest_bar
        ),
    ];
    for line in lines {
        let _ = writeln!(text, "{line}");
    }
    let _ = here.trace;
}

fn consequence(text: &mut String, scenario: &Scenario, here: &Here, held: &Point) {
    let s = &here.point.summary;
    text.push('\n');
    for (group, spec) in here.point.groups.iter().zip(&scenario.spec.transfers) {
        if group.hot_mass <= 1e-9 {
            let _ = writeln!(text, "transfer {:<13} no hot backflow", group.name);
            continue;
        }
        let length = spec.duct.map(|d| d.length);
        let depth = length.map_or(String::new(), |l| {
            format!(", soot line at most {:.0} mm from the window", group.hot_depth * l / MM)
        });
        let _ = writeln!(
            text,
            "transfer {:<13} {:.2} mg back ({:.2} mg burned) over {:.1}°, {:.0} % of the duct filled{depth}",
            group.name,
            group.hot_mass / MG,
            group.hot_burned / MG,
            group.hot_duration / DEG,
            100.0 * group.penetration
        );
    }
    let b = s.crankcase_burned_fraction;
    // rounding may leave a trace below zero
    let some = |share: f64| (100.0 * share).max(0.0);
    let _ = writeln!(
        text,
        "burned in the crankcase {:.3} % of its charge: {:.3} by hot backflow, {:.3} by late backflow, {:.3} by blow-by",
        100.0 * b,
        some(s.crankcase_burned_hot),
        some(s.crankcase_burned_late),
        some(s.crankcase_burned_blow_by)
    );
    let h = &held.summary;
    let _ = writeln!(
        text,
        "what backflow costs    charging efficiency {:.4} instead of {:.4} ({:+.2} %), torque {:.2} instead of {:.2} N·m,\n                       crankcase {:.0} instead of {:.0} K (against the same engine with reverse flow held back)",
        s.charging_efficiency,
        h.charging_efficiency,
        100.0 * (s.charging_efficiency / h.charging_efficiency - 1.0),
        s.torque,
        h.torque,
        s.crankcase_temperature_to,
        h.crankcase_temperature_to
    );
}

/// The soot line over the speeds, weighted by running time.
fn soot(text: &mut String, scenario: &Scenario, speeds: &[f64], hours: Option<&[f64]>) {
    let Some(hours) = hours else { return };
    let points: Vec<Option<Point>> =
        speeds.par_iter().map(|rpm| inquiry::point(&scenario.spec, *rpm).ok()).collect();
    let total: f64 = hours.iter().sum();
    let _ = writeln!(text, "\nSoot line weighted by running time, to hold against a strip-down:");
    for (g, spec) in scenario.spec.transfers.iter().enumerate() {
        let Some(duct) = spec.duct else { continue };
        let mut sum = 0.0;
        let mut deepest: f64 = 0.0;
        for ((point, rpm), hours) in points.iter().zip(speeds).zip(hours) {
            let Some(point) = point else { continue };
            let depth = point.groups[g].hot_depth * duct.length / MM;
            // each cycle leaves its mark
            sum += depth * hours * rpm;
            deepest = deepest.max(depth);
        }
        let cycles: f64 = speeds.iter().zip(hours).map(|(r, h)| r * h).sum();
        let _ = writeln!(
            text,
            "  transfer {}: {:.0} mm from the window on average over {total} h, {deepest:.0} mm at most",
            spec.name,
            sum / cycles
        );
    }
}

#[allow(clippy::too_many_lines, reason = "one table, row by row")]
fn table(
    text: &mut String,
    scenario: &Scenario,
    speeds: &[f64],
    progress: &Progress,
) -> Vec<Required> {
    let found: Vec<Result<Required, StudyError>> = speeds
        .par_iter()
        .map(|rpm| {
            let found = required(scenario, *rpm);
            progress.advance();
            found
        })
        .collect();
    let _ = writeln!(text, "\nBlowdown required, by the exhaust roof, everything else held");
    let _ = writeln!(
        text,
        "speed   there is   (a) pressures equal     (b) costs under 1 %   (c) most torque"
    );
    let mut needs = Vec::new();
    for (rpm, found) in speeds.iter().zip(found) {
        match found {
            Err(why) => {
                let _ = writeln!(text, "{rpm:5.0}   cannot be told: {why}");
            }
            Ok(r) => {
                let degrees = |v: Option<f64>| v.map_or("none".to_owned(), |v| format!("{v:.1}°"));
                let equal = match (r.equal, r.nearest_miss, r.roof) {
                    (Some(v), _, Some(roof)) => format!("{v:.1}° (roof {roof:+.2} mm)"),
                    (None, Some(miss), _) => format!("none ({miss:.2} bar left)"),
                    _ => "less than tried".to_owned(),
                };
                let _ = writeln!(
                    text,
                    "{rpm:5.0}   {:7.1}°   {equal:<23} {:<21} {}",
                    r.actual,
                    degrees(r.harmless),
                    degrees(r.best_torque)
                );
                needs.push(r);
            }
        }
    }
    let starts = needs
        .windows(2)
        .find(|w| w[0].roof.is_some_and(|r| r <= 0.0) && w[1].roof.is_none_or(|r| r > 0.0));
    let words = match (needs.first(), starts) {
        (Some(first), _) if first.roof.is_none_or(|r| r > 0.0) => {
            format!(
                "This engine blows back at every speed looked at, from {:.0}/min on.",
                first.rpm
            )
        }
        (_, Some(pair)) => {
            format!(
                "This engine starts to blow back between {:.0} and {:.0}/min.",
                pair[0].rpm, pair[1].rpm
            )
        }
        _ => "This engine blows back at none of these speeds.".to_owned(),
    };
    let _ = writeln!(
        text,
        "{}",
        wrapped(&format!(
            "{words} (a) is the upper bound, (b) and (c) are the advice; more blowdown than (c) gives torque away. Common practice, no source: 21 to 26° touring, 25 to 29° fast road, 29 to 34° race."
        ))
    );
    needs
}

/// What a lever's answer costs.
struct Cost {
    lever: Lever,
    reached: Reached,
    /// Trapped ratio, charging low and high, mean torque, bsfc, fresh lost, pulse level: changes.
    changes: Option<[f64; 7]>,
    chord_to_bore: f64,
    /// What rounding and the discharge coefficient leave.
    slack: Option<Slack>,
}

#[allow(clippy::too_many_lines, reason = "one table, row by row")]
fn levers(text: &mut String, scenario: &Scenario, rpm: f64, speeds: &[f64], progress: &Progress) {
    let (low, high) =
        (speeds.first().copied().unwrap_or(rpm), speeds.last().copied().unwrap_or(rpm));
    let band = [low, rpm, high];
    let points = |s: &Scenario| -> Option<Vec<Point>> {
        band.iter().map(|r| inquiry::point(&s.spec, *r).ok()).collect()
    };
    let base = points(scenario);
    let ratio = |s: &Scenario| Facts::of_scenario(s, &[]).get("trapped_ratio").unwrap_or(f64::NAN);
    let mut costs: Vec<Cost> = Lever::ALL
        .par_iter()
        .map(|lever| {
            let reached = reach(scenario, *lever, rpm).unwrap_or_else(|why| Reached::Never {
                most: 0.0,
                left: f64::NAN,
                why: why.into(),
            });
            let moved = match &reached {
                Reached::At(amount) => apply(scenario, *lever, *amount).ok(),
                _ => None,
            };
            let changes = moved.as_ref().and_then(|m| {
                let (before, after) = (base.as_ref()?, points(m)?);
                let gain = |i: usize, f: &dyn Fn(&Point) -> f64| f(&after[i]) - f(&before[i]);
                let torque = |p: &Point| p.summary.torque;
                let mean = (0..3).map(|i| gain(i, &torque)).sum::<f64>() / 3.0;
                let kwh = 3.6e6 * 1e3;
                Some([
                    ratio(m) - ratio(scenario),
                    gain(0, &|p| p.summary.charging_efficiency),
                    gain(2, &|p| p.summary.charging_efficiency),
                    mean,
                    gain(1, &|p| p.summary.bsfc.unwrap_or(f64::NAN) * kwh),
                    gain(1, &|p| p.summary.fresh_lost / (p.summary.power * 60.0 / p.rpm) * kwh),
                    gain(1, &|p| p.summary.exhaust_pulse_level),
                ])
            });
            let wide = moved.as_ref().map_or(&scenario.spec, |m| &m.spec);
            let chord = wide.exhaust.windows.iter().map(|w| w.chord).fold(0.0, f64::max);
            let slack = match &reached {
                Reached::At(amount) => slack(scenario, *lever, *amount, rpm).ok(),
                _ => None,
            };
            progress.advance();
            Cost { slack, lever: *lever, reached, changes, chord_to_bore: chord / wide.bore }
        })
        .collect();
    // what keeps most torque over the band comes first
    let key = |c: &Cost| c.changes.map_or(f64::INFINITY, |x| -x[3]);
    costs.sort_by(|a, b| key(a).total_cmp(&key(b)));
    let _ = writeln!(
        text,
        "\nLevers that make the pressures equal at {rpm:.0}/min, by what they leave of the torque"
    );
    for cost in &costs {
        one_lever(text, cost, band);
    }
    let _ = writeln!(
        text,
        "{}",
        wrapped(
            "By hand nothing is cut closer than about 0.15 mm (0.5° to 0.7°). Widening costs no compression but ring life; raising cannot be undone; lower transfers need another cylinder or a thinner base."
        )
    );
}

fn one_lever(text: &mut String, cost: &Cost, band: [f64; 3]) {
    let words = cost.lever.words();
    match (&cost.reached, cost.changes) {
        (Reached::Already, _) => {
            let _ = writeln!(text, "  {words}: nothing needed");
        }
        (Reached::Never { most, left, why }, _) => {
            let _ = writeln!(
                text,
                "  {words}: none; at its most, {most:.2} {}, {:.2} bar are left ({why})",
                cost.lever.unit(),
                left / BAR
            );
        }
        (Reached::At(amount), None) => {
            let _ = writeln!(
                text,
                "  {words}: {amount:.2} {} (its cost cannot be simulated)",
                cost.lever.unit()
            );
        }
        (Reached::At(amount), Some([ratio, ce_low, ce_high, torque, bsfc, lost, pulse])) => {
            let _ = writeln!(
                text,
                "  {words}: {amount:.2} {}\n      torque {torque:+.2} N·m over the band, charging efficiency {ce_low:+.3} at {:.0} and {ce_high:+.3} at {:.0}/min,\n      trapped ratio {ratio:+.2}, bsfc {bsfc:+.0} g/kWh, fresh charge lost {lost:+.0} g/kWh, pulse {pulse:+.1} dB, chord to bore {:.2}",
                cost.lever.unit(),
                band[0],
                band[2],
                cost.chord_to_bore
            );
            if let Some(slack) = &cost.slack {
                let show = |v: Option<f64>| v.map_or("none".to_owned(), |v| format!("{v:.2}"));
                let _ = writeln!(
                    text,
                    "      rounded to a tenth it leaves {:+.3} or {:+.3} bar; with discharge coefficients 0.65 to 0.90 it is {} to {} {}",
                    slack.rounded[0] / BAR,
                    slack.rounded[1] / BAR,
                    show(slack.coefficient[0]),
                    show(slack.coefficient[1]),
                    cost.lever.unit()
                );
                if let Some(half) = &slack.half_degrees {
                    let _ = writeln!(
                        text,
                        "      set by the disc with the {} opening at {:.1}° or {:.1}° it leaves {:+.3} or {:+.3} bar",
                        half.edge,
                        half.angle[0],
                        half.angle[1],
                        half.left[0] / BAR,
                        half.left[1] / BAR
                    );
                }
            }
        }
    }
}

fn how_sure(text: &mut String, scenario: &Scenario, rpm: f64, sure: &[Doubt]) {
    let answer = match reach(scenario, Lever::Roof, rpm) {
        Ok(Reached::At(roof)) => format!("{roof:.2} mm of roof"),
        Ok(Reached::Already) => "no roof at all".to_owned(),
        _ => "no roof that is enough".to_owned(),
    };
    let _ =
        writeln!(text, "\nHow sure: for equal pressures at {rpm:.0}/min it takes {answer}; with");
    let mut all: Vec<f64> = Vec::new();
    for doubt in sure {
        let show = |v: Option<f64>| v.map_or("none".to_owned(), |v| format!("{v:.2}"));
        let _ = writeln!(
            text,
            "  {:<62} {} to {} mm",
            doubt.words,
            show(doubt.roof[0]),
            show(doubt.roof[1])
        );
        all.extend(doubt.roof.iter().flatten());
    }
    if let (Some(low), Some(high)) =
        (all.iter().copied().reduce(f64::min), all.iter().copied().reduce(f64::max))
    {
        let _ = writeln!(text, "  taken one at a time, between {low:.2} and {high:.2} mm of roof");
    }
}
