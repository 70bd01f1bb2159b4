//! What `freshcharge check` says first: a dozen lines, and a sentence that answers.

use std::fmt::Write as _;

use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::studies::{self, Item, Verdict, half_width, judge, number};
use freshcharge_sim::units::MM;
use freshcharge_sim::workshop::{Contribution, Facts, Spread};

use super::check::Judged;
use crate::args::Ask;
use crate::present::tables::layout::wrapped;
use crate::session::limits::Use;

/// An engine on the bench: what follows from its measurements, with the engine before a change.
pub(super) struct Bench<'a> {
    pub(super) scenario: &'a Scenario,
    /// Without the changes of `--set`, where there are any.
    pub(super) before: Option<(&'a Scenario, &'a Facts)>,
    pub(super) facts: &'a Facts,
    pub(super) spreads: &'a [Spread],
    pub(super) errors: &'a [Contribution],
    pub(super) judged: &'a [Judged<'a>],
    pub(super) speeds: &'a [f64],
    pub(super) usage: Use,
}

impl Bench<'_> {
    /// A fact with its half-width.
    fn fact(&self, key: &str) -> Option<(f64, f64)> {
        let i = self.facts.0.iter().position(|f| f.key == key)?;
        Some((self.facts.0[i].value, self.spreads.get(i).map_or(0.0, |s| s.half_width)))
    }

    fn before(&self, key: &str) -> Option<f64> {
        self.before.and_then(|(_, facts)| facts.get(key))
    }

    /// The limits on facts whose names begin so, as values to be judged.
    fn held(&self, key: &str) -> Vec<Item> {
        let of = self.judged.iter().filter(|j| j.limit.quantity.starts_with(key));
        of.map(|j| j.item.clone()).collect()
    }

    /// The verdict on the limits of such facts, in words.
    fn verdict(&self, key: &str) -> String {
        let items = self.held(key);
        judge(&items).sentence(&items)
    }
}

/// Rows of the summary: words, name of the fact, unit.
const ROWS: &[(&str, &str, &str)] = &[
    ("exhaust open", "exhaust_duration_deg", "°"),
    ("transfers open", "transfer_duration_deg", "°"),
    ("intake open", "intake_duration_deg", "°"),
    ("blowdown", "blowdown_deg", "°"),
    ("squish", "squish_mm", "mm"),
    ("compression, trapped", "trapped_ratio", ""),
    ("exhaust chord to bore", "exhaust_chord_to_bore", ""),
];

/// Timings, blowdown, squish, compression and chord to bore; beside the engine before a change.
pub(super) fn rows(text: &mut String, bench: &Bench) {
    if bench.before.is_some() {
        let _ = writeln!(text, "  {:<24}{:>8}{:>10}{:>10}", "", "before", "after", "change");
    }
    for (words, key, unit) in ROWS {
        let Some((value, error)) = bench.fact(key) else { continue };
        let error = format!("± {} {unit}", half_width(error)).trim_end().to_owned();
        match bench.before(key) {
            None => {
                let _ =
                    writeln!(text, "  {words:<24}{:>8} {error}{}", number(value), more(bench, key));
            }
            // an intake that stays as it is needs no row
            Some(old) if key.starts_with("intake") && (value - old).abs() < 5e-3 => {}
            Some(old) => {
                let _ = writeln!(
                    text,
                    "  {words:<24}{:>8}{:>10}{:>+10.2} {error}",
                    number(old),
                    number(value),
                    value - old
                );
            }
        }
    }
}

/// What else stands in a row.
fn more(bench: &Bench, key: &str) -> String {
    match key {
        "exhaust_duration_deg" => opens(bench, "exhaust_opens_deg_atdc"),
        "transfer_duration_deg" => opens(bench, "transfer_opens_deg_atdc"),
        "blowdown_deg" => format!(": {}", lasts(bench)),
        "trapped_ratio" => {
            let full = bench.facts.get("geometric_ratio").map(number);
            full.map_or(String::new(), |full| format!(", full-stroke {full}"))
        }
        _ => String::new(),
    }
}

fn opens(bench: &Bench, key: &str) -> String {
    let angle = bench.facts.get(key);
    angle.map_or(String::new(), |a| format!(", from {a:.1}° after top dead centre"))
}

/// The blowdown in time at each speed.
fn lasts(bench: &Bench) -> String {
    let at = |rpm: &f64| {
        let ms = bench.facts.get(&format!("blowdown_ms@{rpm:.0}"))?;
        Some(format!("{} ms at {rpm:.0}/min", number(ms)))
    };
    and(&bench.speeds.iter().filter_map(at).collect::<Vec<_>>())
}

/// A list in words.
pub(super) fn and(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
    }
}

/// The sentence that ends the answer.
pub(super) fn answer(text: &mut String, bench: &Bench, ask: Option<Ask>) {
    if matches!(ask, Some(Ask::Squish | Ask::Width | Ask::Spacer)) {
        let _ = writeln!(text, "{}", wrapped(&studies::beside_a_cut()));
    }
    if ask.is_some() {
        let items: Vec<Item> = bench.judged.iter().map(|j| j.item.clone()).collect();
        let verdict = judge(&items).sentence(&items);
        let words = format!("For {} use the engine {verdict}.", bench.usage.word());
        let _ = writeln!(text, "{}\n", wrapped(&words));
    }
    let sentence = match ask {
        None => Some(timings(bench)),
        Some(Ask::Squish) => squish(bench),
        Some(Ask::Compression) => compression(bench),
        Some(Ask::Spacer) => spacer(bench),
        Some(Ask::Width) => width(bench),
        Some(Ask::Shape) => shape(bench),
        Some(Ask::SquishVelocity) => squish_velocity(bench),
        Some(Ask::Clearance) => clearance(bench),
        Some(Ask::Blowdown) => blowdown(bench),
        Some(Ask::Accuracy) => accuracy(bench),
    };
    let none = || "This engine file does not say enough to answer that.".to_owned();
    let _ = writeln!(text, "{}", wrapped(&sentence.unwrap_or_else(none)));
}

/// A fact as the sentence tells it.
fn told(bench: &Bench, key: &str, unit: &str) -> String {
    bench.fact(key).map_or("unknown".to_owned(), |(value, error)| {
        format!("{} ± {}{unit}", number(value), half_width(error))
    })
}

/// The verdict on some limits in words: the most dangerous one that is broken, and how many more.
fn worst(items: &[Item]) -> String {
    let all = judge(items);
    let broken = all.reasons.iter().filter(|r| r.verdict == Verdict::BreaksLimit).count();
    match all.reasons.first() {
        Some(worst) if broken > 1 => {
            let worst = [items[worst.item].clone()];
            format!("{}, and {} more; see --all", judge(&worst).sentence(&worst), broken - 1)
        }
        _ => all.sentence(items),
    }
}

/// The verdict on the engine once it is cut or fitted as advised.
fn then(bench: &Bench, scenario: Option<Scenario>) -> String {
    let Some(scenario) = scenario else { return String::new() };
    let facts = Facts::of_scenario(&scenario, bench.speeds);
    let again = |j: &Judged| Item {
        value: facts.get(&j.fact.key).unwrap_or(j.item.value),
        ..j.item.clone()
    };
    let items: Vec<Item> = bench.judged.iter().map(again).collect();
    format!(" For {} use the engine then {}.", bench.usage.word(), worst(&items))
}

fn timings(bench: &Bench) -> String {
    let items: Vec<Item> = bench.judged.iter().map(|j| j.item.clone()).collect();
    let get = |key: &str| bench.facts.get(key).map_or("unknown".to_owned(), number);
    let sentence = worst(&items);
    let see = if sentence.ends_with("--all") { "" } else { "; see --all" };
    format!(
        "Exhaust {}°, transfers {}°, blowdown {}°: for {} use the engine {sentence}{see}.",
        get("exhaust_duration_deg"),
        get("transfer_duration_deg"),
        get("blowdown_deg"),
        bench.usage.word()
    )
}

fn squish(bench: &Bench) -> Option<String> {
    let (now, error) = bench.fact("squish_mm")?;
    let Some(wanted) = bench.before("squish_mm") else {
        return Some(format!(
            "The squish is {now:.2} ± {} mm; for {} use it {}.",
            half_width(error),
            bench.usage.word(),
            bench.verdict("squish_mm")
        ));
    };
    let off = now - wanted;
    let land = bench.scenario.value("head.land_offset_mm").unwrap_or(0.0);
    let head = if off <= land + 1e-6 {
        ", or off the head's joint face,".to_owned()
    } else if land > 5e-3 {
        format!(
            " (a flat skim of the head's joint face gives at most {land:.2} mm: there it meets the squish land)"
        )
    } else {
        String::new()
    };
    Some(if off > 5e-3 {
        format!(
            "Take {off:.2} mm off the cylinder's top face{head} to bring the squish back from {now:.2} to {wanted:.2} mm.{}",
            then(bench, skimmed(bench, off))
        )
    } else if off < -5e-3 {
        format!(
            "Nothing must come off: fit {:.2} mm more head gasket to bring the squish back from {now:.2} to {wanted:.2} mm.",
            -off
        )
    } else {
        format!("Nothing must come off: the squish is still {now:.2} mm.")
    })
}

/// The engine with so much more off its top face [mm].
fn skimmed(bench: &Bench, off: f64) -> Option<Scenario> {
    let path = "stack.top_face_cut_mm";
    bench.scenario.with(path, bench.scenario.value(path)? + off).ok()
}

fn compression(bench: &Bench) -> Option<String> {
    let old = bench.before("trapped_ratio").zip(bench.before("geometric_ratio"));
    let old =
        old.map_or(String::new(), |(t, g)| format!(" instead of {} and {}", number(t), number(g)));
    bench.fact("trapped_ratio")?;
    Some(format!(
        "The compression ratio is {} trapped, {} full-stroke{old}; for {} use it {}.",
        told(bench, "trapped_ratio", ""),
        told(bench, "geometric_ratio", ""),
        bench.usage.word(),
        bench.verdict("trapped_ratio")
    ))
}

fn spacer(bench: &Bench) -> Option<String> {
    let now = bench.fact("squish_mm")?.0;
    let wanted = bench.before("squish_mm").unwrap_or(now);
    let path = "stack.base_total_mm";
    let needed = bench.scenario.value(path)? + wanted - now;
    let held = bench.scenario.with(path, needed).ok();
    let Some(held) = held.filter(|_| needed > -1e-9) else {
        return Some(format!(
            "No base stack holds the squish of {wanted:.2} mm: it would have to be {needed:.2} mm thick."
        ));
    };
    let facts = Facts::of_scenario(&held, &[]);
    let get = |key: &str| facts.get(key).map_or("unknown".to_owned(), number);
    let fitted = bench.before.and_then(|(s, _)| s.value(path)).unwrap_or(needed);
    Some(format!(
        "Fit a base stack of {needed:.2} mm ({:+.2} mm) to hold the squish at {wanted:.2} mm: the exhaust is then open for {}°, the transfers for {}°, with {}° of blowdown.{}",
        needed - fitted,
        get("exhaust_duration_deg"),
        get("transfer_duration_deg"),
        get("blowdown_deg"),
        then(bench, Some(held))
    ))
}

fn width(bench: &Bench) -> Option<String> {
    let widest = bench.judged.iter().filter(|j| j.limit.quantity == "exhaust_chord_to_bore");
    let tightest = widest.min_by(|a, b| {
        let most = |j: &Judged| j.limit.most.unwrap_or(f64::INFINITY);
        most(a).total_cmp(&most(b))
    })?;
    let most = tightest.limit.most?;
    let bore = bench.scenario.spec.bore / MM;
    let chord = tightest.fact.value * bore;
    // no wider than the limit when read to a tenth
    let end = (most * bore * 10.0 + 1e-6).floor() / 10.0;
    let word = bench.usage.word();
    Some(if end > chord {
        format!(
            "Widen the exhaust no further than {end:.1} mm, {most} of the bore, for {word} use; at {chord:.2} mm ({}) it {}.",
            number(tightest.fact.value),
            bench.verdict("exhaust_chord_to_bore")
        )
    } else {
        format!(
            "Do not widen it: at {chord:.2} mm ({}) the exhaust {}.",
            number(tightest.fact.value),
            bench.verdict("exhaust_chord_to_bore")
        )
    })
}

fn shape(bench: &Bench) -> Option<String> {
    let key = "blowdown_shape_loss_percent";
    bench.fact(key)?;
    let area = bench.fact("exhaust_shape_loss_percent");
    let area = area.map_or(String::new(), |(value, error)| {
        format!(", and {} ± {} % of the window", number(value), half_width(error))
    });
    Some(format!(
        "Against a square window of the same height and chord, radii and arch take {} % of the blowdown angle-area{area}; they spare the rings.",
        told(bench, key, "")
    ))
}

fn squish_velocity(bench: &Bench) -> Option<String> {
    let rpm = bench.speeds.last()?;
    let key = format!("squish_velocity_m_per_s@{rpm:.0}");
    let (value, _) = bench.fact(&key)?;
    let items = bench.held("squish_velocity_m_per_s");
    let found = judge(&items);
    let side = match (found.verdict, items.first().map(|i| i.against)) {
        (Verdict::BreaksLimit, Some(studies::Against::Limit { most: Some(most), .. })) => {
            if value > most { "too high" } else { "too low" }
        }
        (Verdict::WithinReadings, _) => "at the edge of what is usual",
        _ => "neither too high nor too low",
    };
    Some(format!(
        "At {rpm:.0}/min the squish velocity of {} is {side}: it {}.",
        told(bench, &key, " m/s"),
        found.sentence(&items)
    ))
}

fn clearance(bench: &Bench) -> Option<String> {
    let (gap, error) = bench.fact("squish_mm")?;
    let rpm = bench.speeds.last()?;
    let speed = bench.facts.get(&format!("mean_piston_speed_m_per_s@{rpm:.0}"));
    let speed = speed.map_or(String::new(), |s| format!(" ({} m/s mean piston speed)", number(s)));
    let verdict = bench.verdict("squish_mm");
    Some(if gap <= 0.0 {
        format!("The piston hits the head: {:.2} mm of room are missing when cold.", -gap)
    } else {
        format!(
            "Cold and at rest the piston clears the head by {gap:.2} ± {} mm; stretch, slack and heat take from that up to {rpm:.0}/min{speed}, and for {} use it {verdict}.",
            half_width(error),
            bench.usage.word()
        )
    })
}

fn blowdown(bench: &Bench) -> Option<String> {
    let (value, _) = bench.fact("blowdown_deg")?;
    Some(format!("The blowdown of {}° lasts {}.", number(value), lasts(bench)))
}

fn accuracy(bench: &Bench) -> Option<String> {
    let i = bench.facts.0.iter().position(|f| f.key == "blowdown_deg")?;
    let (path, share) = bench.spreads.get(i)?.shares.first()?;
    let error = bench.errors.iter().find(|e| &e.path == path)?;
    Some(format!(
        "Measure {path} closer than ± {} first: it makes {:.0} % of the error of the blowdown, which is known to ± {}°, the squish to ± {} mm.",
        number(error.half_width),
        100.0 * share,
        half_width(bench.spreads[i].half_width),
        bench.fact("squish_mm").map_or(String::new(), |s| half_width(s.1))
    ))
}
