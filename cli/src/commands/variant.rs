//! A build beside the one before: what the difference is worth, in the sentence that ends the answer.

use std::fmt::Write as _;

use freshcharge_sim::inquiry;
use freshcharge_sim::result::Point;
use freshcharge_sim::scenario::{Scenario, general};
use freshcharge_sim::studies::{
    self, Against, Item, Peak, Verdict, difference, judge, number, peak,
};
use freshcharge_sim::workshop::{self, Facts};
use rayon::prelude::*;

use super::brief::and;
use super::check;
use crate::session::files::Failure;
use crate::session::limits;
use crate::session::limits::Use;
use freshcharge_sim::studies::run::Run;

/// Speeds at which a variant is judged; an engine with pipes takes long and is judged at one.
const MOST_SPEEDS: usize = 3;

/// A number that was changed: path, before, after.
pub(super) type Change = (String, f64, f64);

/// The numbers that `--set` changed.
pub(super) fn changes(before: &Scenario, after: &Scenario, set: &[String]) -> Vec<Change> {
    let paths = set.iter().filter_map(|s| s.split_once('=')).map(|(path, _)| path.trim());
    let change = |path: &str| Some((path.to_owned(), before.value(path)?, after.value(path)?));
    paths.filter_map(change).collect()
}

/// Changes in words.
pub(super) fn told(changes: &[Change]) -> String {
    let one = |(path, from, to): &Change| {
        format!("{} {} → {}", general(path).replace("[]", ""), plain(*from), plain(*to))
    };
    and(&changes.iter().map(one).collect::<Vec<_>>())
}

/// A number of the file without trailing zeros.
fn plain(value: f64) -> String {
    let rounded = (value * 1e6).round() / 1e6;
    format!("{rounded}")
}

/// Where power is highest, in one sentence.
pub(super) fn peak_words(points: &[&Point]) -> Option<String> {
    let mut powers: Vec<(f64, f64)> =
        points.iter().map(|p| (p.rpm, p.summary.power / 1e3)).collect();
    powers.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (first, last) = (*powers.first()?, *powers.last()?);
    Some(match peak(&powers) {
        None => {
            let torque = points.first()?.summary.torque;
            format!("At {:.0}/min it makes {:.2} kW and {torque:.2} N·m.", first.0, first.1)
        }
        Some(Peak::Inside { rpm, power }) => {
            format!(
                "Power peaks at about {:.0}/min with {power:.2} kW.",
                (rpm / 50.0).round() * 50.0
            )
        }
        Some(Peak::Rising) => format!(
            "Power is still rising at the end of the range: {:.2} kW at {:.0}/min; look further up with --rpm.",
            last.1, last.0
        ),
        Some(Peak::Falling) => format!(
            "Power falls from the start of the range: {:.2} kW at {:.0}/min is the most; look further down with --rpm.",
            first.1, first.0
        ),
    })
}

/// A run with `--set` beside the engine before: its torque over the speeds, and what the change is worth.
/// `carried` tells whether the changed numbers' errors can be followed.
pub(super) fn beside(
    before: &Scenario,
    run: &Run,
    set: &[String],
    (carried, usage): (bool, Use),
) -> Result<String, Failure> {
    let after = &run.scenario;
    let changes = changes(before, after, set);
    let points: Vec<&Point> =
        run.rows.iter().filter_map(|r| r.point()).filter(|p| p.verdict.settled()).collect();
    let old: Vec<Option<Point>> =
        points.par_iter().map(|p| inquiry::point(&before.spec, p.rpm).ok()).collect();
    let pairs: Vec<(&Point, Point)> =
        points.iter().copied().zip(old).filter_map(|(new, old)| Some((new, old?))).collect();
    let mut text = format!("\nBeside the engine without {}\n", told(&changes));
    let _ = writeln!(
        text,
        "speed   torque before   after   change   power before   after   change [N·m, kW]"
    );
    for (new, old) in &pairs {
        let (a, b) = (&old.summary, &new.summary);
        let _ = writeln!(
            text,
            "{:5.0} {:>15.2} {:>7.2} {:>+8.2} {:>14.2} {:>7.2} {:>+8.2}",
            new.rpm,
            a.torque,
            b.torque,
            b.torque - a.torque,
            a.power / 1e3,
            b.power / 1e3,
            (b.power - a.power) / 1e3
        );
    }
    let paths: Vec<String> =
        if carried { changes.iter().map(|c| c.0.clone()).collect() } else { Vec::new() };
    let judged: Vec<Item> = speeds(&pairs, after.spec.has_pipes())
        .par_iter()
        .filter_map(|rpm| {
            let mut item = difference(before, after, &paths, *rpm).ok()?.item();
            item.words = format!("torque at {rpm:.0}/min");
            Some(item)
        })
        .collect();
    let rpm = pairs.last().map_or(0.0, |(p, _)| p.rpm);
    let broken = newly_broken(before, after, usage, rpm)?;
    let words = worth(&changes, &judged, stands_in_the_way(&broken, usage));
    let _ = writeln!(text, "\n{}", crate::present::tables::layout::wrapped(&words));
    Ok(text)
}

/// Speeds at which a variant is judged.
fn speeds(pairs: &[(&Point, Point)], pipes: bool) -> Vec<f64> {
    let all: Vec<f64> = pairs.iter().map(|(p, _)| p.rpm).collect();
    if pipes {
        let power = |p: &&(&Point, Point)| p.1.summary.power;
        let best = pairs.iter().max_by(|a, b| power(a).total_cmp(&power(b)));
        return best.map(|(p, _)| p.rpm).into_iter().collect();
    }
    if all.len() <= MOST_SPEEDS {
        return all;
    }
    vec![all[0], all[all.len() / 2], all[all.len() - 1]]
}

/// What a change is worth, in a sentence that begins with what to do.
fn worth(changes: &[Change], judged: &[Item], in_the_way: Option<String>) -> String {
    if let Some(limit) = in_the_way {
        let torque = match judged {
            [] => String::new(),
            _ => format!(" Whatever it gives: {}.", judge(judged).values(judged)),
        };
        return format!("Do not build it with {}: {limit}.{torque}", told(changes));
    }
    if judged.is_empty() {
        return "What the change is worth cannot be told: one of the two does not settle."
            .to_owned();
    }
    let found = judge(judged);
    let sentence = found.sentence(judged);
    let lead = match changes {
        [(path, from, to)] => lead(path, (*from, *to), found.verdict),
        _ => told(changes),
    };
    format!("{lead}: {sentence}.")
}

/// What to do about one number.
fn lead(path: &str, (from, to): (f64, f64), verdict: Verdict) -> String {
    let passage = match path {
        "carburettor.bore_mm" => Some("carburettor"),
        "exhaust.duct_exit_diameter_mm" => Some("exhaust exit"),
        _ => None,
    };
    let (from, to, name) = (plain(from), plain(to), general(path).replace("[]", ""));
    match (passage.filter(|_| to > from), verdict) {
        (Some(passage), Verdict::WorthIt) => {
            format!("The {passage} of {from} mm is a limit, {to} mm gives more")
        }
        (Some(passage), _) => {
            format!("The {passage} of {from} mm is not the limit, {to} mm gives no more")
        }
        (None, Verdict::WorthIt) => format!("Take {name} = {to} rather than {from}"),
        (None, Verdict::Worse) => format!("Keep {name} = {from} rather than {to}"),
        (None, _) => format!("{name} = {to} or {from} makes no difference that can be told"),
    }
}

/// The sentence that ends a comparison: what torque does and which change makes most of it, with the
/// timings that moved.
pub(super) fn compared(
    (before, after): (&Scenario, &Scenario),
    changes: &[Change],
    most: Option<&(String, f64)>,
    (usage, rpm): (Use, f64),
) -> Result<String, Failure> {
    let paths: Vec<String> = changes.iter().map(|c| c.0.clone()).collect();
    let moved = moved(before, after);
    let Ok(found) = difference(before, after, &paths, rpm) else {
        return Ok(format!(
            "{moved} What that does to torque at {rpm:.0}/min cannot be simulated."
        )
        .trim()
        .to_owned());
    };
    let items = [found.item()];
    let broken = newly_broken(before, after, usage, rpm)?;
    if let Some(limit) = stands_in_the_way(&broken, usage) {
        let torque = judge(&items).values(&items);
        return Ok(format!(
            "{moved} Do not build the second: {limit}. Whatever it gives at {rpm:.0}/min: {torque}."
        )
        .trim()
        .to_owned());
    }
    let sentence = judge(&items).sentence(&items);
    let cause = most.map_or(String::new(), |(words, change)| {
        format!(", most of it from {words} ({change:+.2} N·m alone)")
    });
    Ok(format!("{moved} At {rpm:.0}/min the second build makes {sentence}{cause}.")
        .trim()
        .to_owned())
}

/// What the durations, the blowdown and the squish did, where they moved.
fn moved(before: &Scenario, after: &Scenario) -> String {
    let (a, b) = (Facts::of_scenario(before, &[]), Facts::of_scenario(after, &[]));
    let keys = [
        ("exhaust", "exhaust_duration_deg", "°"),
        ("transfers", "transfer_duration_deg", "°"),
        ("intake", "intake_duration_deg", "°"),
        ("blowdown", "blowdown_deg", "°"),
        ("squish", "squish_mm", " mm"),
    ];
    let moved = keys.iter().filter_map(|(words, key, unit)| {
        let change = b.get(key)? - a.get(key)?;
        (change.abs() > 5e-3).then(|| format!("{words} {change:+.2}{unit}"))
    });
    let moved: Vec<String> = moved.collect();
    if moved.is_empty() {
        return String::new();
    }
    format!("The change makes {}.", and(&moved))
}

/// Two variants of one engine weighed against each other.
pub(super) fn weighed(
    base: &Scenario,
    [first, second]: [&Scenario; 2],
    sets: [&[Change]; 2],
    (usage, rpm): (Use, f64),
) -> Result<String, Failure> {
    let broken = [newly_broken(base, first, usage, rpm)?, newly_broken(base, second, usage, rpm)?];
    let ways: Vec<String> = sets
        .iter()
        .zip(&broken)
        .filter_map(|(set, items)| {
            let limit = stands_in_the_way(items, usage)?;
            Some(format!("{}: {limit}", told(set)))
        })
        .collect();
    if !ways.is_empty() {
        let lead = match (broken[0].is_empty(), broken[1].is_empty()) {
            (true, _) => format!("Rather {}; not", told(sets[0])),
            (_, true) => format!("Rather {}; not", told(sets[1])),
            _ => "Neither".to_owned(),
        };
        return Ok(format!("{lead} {}.", ways.join("; ")));
    }
    let paths: Vec<String> = sets.iter().flat_map(|s| s.iter().map(|c| c.0.clone())).collect();
    let area = |s: &Scenario| {
        let value = Facts::of_scenario(s, &[]).get("blowdown_angle_area_mm2deg");
        value.map_or("unknown".to_owned(), number)
    };
    let areas = format!(
        "the blowdown angle-area is {} mm²·° with {} and {} with {} (now {})",
        area(first),
        told(sets[0]),
        area(second),
        told(sets[1]),
        area(base)
    );
    let Ok(found) = difference(first, second, &paths, rpm) else {
        return Ok(format!("Torque cannot be simulated at {rpm:.0}/min; {areas}."));
    };
    let (a, b) = (told(sets[0]), told(sets[1]));
    let torque = |p: &Point| number(p.summary.torque);
    let numbers = format!(
        "{} against {} N·m at {rpm:.0}/min (± {}), and {areas}",
        torque(&found.after),
        torque(&found.before),
        studies::half_width(found.error)
    );
    Ok(match found.judgement().verdict {
        Verdict::WorthIt => format!("Rather {b} than {a}: {numbers}."),
        Verdict::Worse => format!(
            "Rather {a} than {b}: {} against {} N·m at {rpm:.0}/min (± {}), and {areas}.",
            torque(&found.before),
            torque(&found.after),
            studies::half_width(found.error)
        ),
        verdict => format!("Neither {b} nor {a} is better, {}: {numbers}.", verdict.words()),
    })
}

/// Every limit of a use as it holds a build.
fn held(scenario: &Scenario, usage: Use, rpm: f64) -> Result<Vec<Item>, Failure> {
    let facts = Facts::of_scenario(scenario, &[rpm]);
    let errors = workshop::measured(scenario, true);
    let spreads = check::spreads(scenario, &errors, &facts, &[rpm]);
    let limits = limits::load(None, usage)?;
    let judged = check::judge(&limits, &scenario.spec, (&facts, &spreads), rpm);
    Ok(judged.into_iter().map(|j| j.item).collect())
}

/// Danger from which a limit outweighs any gain: what lies below is a guideline.
const CAN_HARM: u8 = 3;

/// Limits that can harm the engine and that a change breaks: not broken before, or further beyond now.
pub(super) fn newly_broken(
    before: &Scenario,
    after: &Scenario,
    usage: Use,
    rpm: f64,
) -> Result<Vec<Item>, Failure> {
    let (old, new) = (held(before, usage, rpm)?, held(after, usage, rpm)?);
    let beyond = |it: &Item| match it.against {
        Against::Limit { danger, .. } if danger >= CAN_HARM => {
            let found = judge(std::slice::from_ref(it));
            (found.verdict == Verdict::BreaksLimit).then(|| found.reasons[0].room)
        }
        _ => None,
    };
    let worse = |it: &&Item| {
        let Some(room) = beyond(it) else { return false };
        let twin = old.iter().find(|o| o.words == it.words && o.against == it.against);
        match twin.and_then(&beyond) {
            Some(was) => room < was - it.error.abs().max(1e-9),
            None => true,
        }
    };
    Ok(new.iter().filter(worse).cloned().collect())
}

/// What stands in the way of a change, whatever it gives; nothing where no limit that can harm is broken.
pub(super) fn stands_in_the_way(broken: &[Item], usage: Use) -> Option<String> {
    (!broken.is_empty())
        .then(|| format!("for {} use it {}", usage.word(), judge(broken).sentence(broken)))
}

/// The geometry of a build held against the limits of a use, in one sentence.
pub(super) fn geometry(scenario: &Scenario, usage: Use, rpm: f64) -> Result<String, Failure> {
    let items = held(scenario, usage, rpm)?;
    Ok(format!("For {} use the second build {}.", usage.word(), judge(&items).sentence(&items)))
}
