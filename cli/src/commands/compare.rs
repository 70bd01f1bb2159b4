//! `freshcharge compare`: two builds, what differs and what made the difference.

use std::fmt::Write as _;

use freshcharge_sim::cycle::{Settings, simulate};
use freshcharge_sim::result::COLUMNS;
use freshcharge_sim::scenario::{Scenario, Value, general};
use freshcharge_sim::studies::{Against, Item, Verdict, beside_a_cut, judge};
use freshcharge_sim::workshop::{self, Facts};
use rayon::prelude::*;

use super::check::spreads;
use super::variant;
use crate::Outcome;
use crate::args::CompareArgs;
use crate::present::stacks;
use crate::present::tables::layout::{number, wrapped};
use crate::session::engine::{load, with_set};
use crate::session::files::{self, Failure};

/// Simulated results that are compared.
const SIMULATED: &[&str] = &[
    "torque_nm",
    "power_kw",
    "bsfc_g_per_kwh",
    "delivery_ratio",
    "charging_efficiency",
    "cylinder_pressure_at_exhaust_opening_bar",
    "pressure_difference_at_transfer_opening_bar",
    "hot_backflow_mass_mg",
    "hot_backflow_penetration",
    "crankcase_burned_fraction",
    "exhaust_pulse_level_db",
    "exhaust_return_fresh_mg",
];

/// Runs the command.
pub(crate) fn run(args: &CompareArgs) -> Result<Outcome, Failure> {
    let (before, _) = load(&args.before)?;
    let (after, _) = load(args.after.as_ref().unwrap_or(&args.before))?;
    let after = with_set(after, &args.set)?;
    let second = args.after.as_ref().unwrap_or(&args.before);
    crate::session::version::same_model(
        [(&*args.before, &before), (&**second, &after)].into_iter(),
    )?;
    let speeds = [args.rpm];
    let mut text = format!("{}  →  {}\n", before.spec.name, after.spec.name);
    let (line_before, line_after) = (stacks::line(&before), stacks::line(&after));
    if line_before == line_after {
        text.push_str(&line_before);
    } else {
        let _ = write!(text, "Before: {line_before}After:  {line_after}");
    }
    text.push_str(&stacks::hidden(&before, &after));
    facts(&mut text, &before, &after, &speeds);
    let ends = [simulated(&before.spec, args.rpm), simulated(&after.spec, args.rpm)];
    results(&mut text, args.rpm, &ends);
    let most = account(&mut text, &before, &after, args.rpm, &ends);
    let geometry = variant::geometry(&after, args.usage, args.rpm)?;
    let _ = writeln!(text, "\n{}\n{}", wrapped(&geometry), wrapped(&beside_a_cut()));
    let changed = |to: &Scenario| differing(&before, to).0;
    let words = if args.other.is_empty() {
        variant::compared(
            (&before, &after),
            &changed(&after),
            most.as_ref(),
            (args.usage, args.rpm),
        )?
    } else {
        let other = with_set(before.clone(), &args.other)?;
        let sets = [changed(&after), changed(&other)];
        variant::weighed(&before, [&after, &other], [&sets[0], &sets[1]], (args.usage, args.rpm))?
    };
    let _ = writeln!(text, "\n{}", wrapped(&words));
    files::print(&text)?;
    Ok(if ends.iter().all(Option::is_some) { Outcome::Done } else { Outcome::Incomplete })
}

/// The compared results; none where the engine cannot be simulated or does not settle.
fn simulated(spec: &freshcharge_sim::spec::EngineSpec, rpm: f64) -> Option<Vec<f64>> {
    let point = simulate(spec, rpm, &Settings::single()).ok().filter(|p| p.usable())?;
    let value = |key: &&str| COLUMNS.iter().find(|c| c.key == *key).and_then(|c| (c.value)(&point));
    Some(SIMULATED.iter().map(|k| value(k).unwrap_or(f64::NAN)).collect())
}

fn facts(text: &mut String, before: &Scenario, after: &Scenario, speeds: &[f64]) {
    let (a, b) = (Facts::of_scenario(before, speeds), Facts::of_scenario(after, speeds));
    let wide = |s: &Scenario, f: &Facts| spreads(s, &workshop::measured(s, true), f, speeds);
    let (wide_a, wide_b) = (wide(before, &a), wide(after, &b));
    let _ = writeln!(text, "\n{:<58}{:>10}{:>10}{:>10}", "", "before", "after", "change");
    for (fact, spread) in a.0.iter().zip(&wide_a) {
        let Some(j) = b.0.iter().position(|f| f.key == fact.key) else { continue };
        let change = b.0[j].value - fact.value;
        if change.abs() < 1e-9 * fact.value.abs().max(1e-6) {
            continue;
        }
        let error = spread.half_width.hypot(wide_b[j].half_width);
        let sure = if told_apart(fact.value, b.0[j].value, error) {
            ""
        } else {
            "  within the error of your readings"
        };
        let _ = writeln!(
            text,
            "{:<58}{:>10}{:>10}{:>10} {}{sure}",
            shorten(&fact.words, 57),
            number(fact.value),
            number(b.0[j].value),
            format!("{}{}", if change > 0.0 { "+" } else { "" }, number(change)),
            fact.unit
        );
    }
}

/// Whether two values of a fact differ by more than the error of their difference.
fn told_apart(before: f64, after: f64, error: f64) -> bool {
    let against = Against::Base { value: before, more_is_better: true };
    let item = Item { words: String::new(), unit: String::new(), value: after, error, against };
    judge(&[item]).verdict != Verdict::WithinError
}

fn shorten(words: &str, most: usize) -> String {
    if words.chars().count() <= most {
        return words.to_owned();
    }
    words.chars().take(most - 1).collect::<String>() + "…"
}

fn results(text: &mut String, rpm: f64, ends: &[Option<Vec<f64>>; 2]) {
    let [Some(a), Some(b)] = ends else {
        text.push_str(
            "\nOne of the two cannot be simulated or does not settle at this speed; freshcharge run tells\nwhy. Choose another speed with --rpm.\n",
        );
        return;
    };
    let _ = writeln!(text, "\nSimulated at {rpm:.0}/min");
    for (i, key) in SIMULATED.iter().enumerate() {
        let title = COLUMNS.iter().find(|c| c.key == *key).map_or(*key, |c| c.title);
        let change = b[i] - a[i];
        if a[i] == 0.0 && b[i] == 0.0 {
            continue;
        }
        let sign = if change > 0.0 { "+" } else { "" };
        let _ = writeln!(
            text,
            "{:<58}{:>10}{:>10}{:>10}",
            shorten(title, 57),
            number(a[i]),
            number(b[i]),
            format!("{sign}{}", number(change))
        );
    }
}

/// Numbers that differ between two files, as path and both values.
pub(super) fn differing(
    before: &Scenario,
    after: &Scenario,
) -> (Vec<(String, f64, f64)>, Vec<String>) {
    let mut numbers = Vec::new();
    let mut others = Vec::new();
    for (path, entry) in after.document.entries().filter(|(_, e)| !e.stands_in) {
        let old = before.document.entry(&path).map(|e| &e.value);
        if old == Some(&entry.value) || path == "name" || path == "note" || path.starts_with("run.")
        {
            continue;
        }
        match (old, &entry.value) {
            (Some(Value::Number(a)), Value::Number(b)) => numbers.push((path, *a, *b)),
            (None, Value::Number(b)) => match before.value(&path) {
                Some(a) => numbers.push((path, a, *b)),
                None => others.push(path),
            },
            _ => others.push(path),
        }
    }
    for (path, _) in before.document.entries() {
        if !after.document.gives(&path) && path != "note" {
            others.push(path);
        }
    }
    // stacks are lists: their totals say what matters
    for (total, part) in [
        ("stack.base_total_mm", "stack.base_gaskets_mm stack.spacers_mm"),
        (
            "stack.measured.base_total_mm",
            "stack.measured.base_gaskets_mm stack.measured.spacers_mm",
        ),
        ("stack.head_total_mm", "stack.head_gaskets_mm"),
    ] {
        let (a, b) = (before.value(total), after.value(total));
        if let (Some(a), Some(b)) = (a, b) {
            others.retain(|o| !part.split(' ').any(|p| p == o));
            if (a - b).abs() > 1e-12 {
                numbers.push((total.to_owned(), a, b));
            }
        }
    }
    head_as_buretted(before, after, &mut numbers, &mut others);
    (numbers, others)
}

/// The head gasket of the buretting is what counts, written down or not.
fn head_as_buretted(
    before: &Scenario,
    after: &Scenario,
    numbers: &mut Vec<(String, f64, f64)>,
    others: &mut Vec<String>,
) {
    let path = "head.assembled.head_gasket_mm";
    if let (Some(a), Some(b)) = (before.stacks().head_then, after.stacks().head_then) {
        others.retain(|o| o != path);
        numbers.retain(|n| n.0 != path);
        if (a - b).abs() > 1e-12 {
            numbers.push((path.to_owned(), a, b));
        }
    }
}

/// Stacks that move together with what was measured with them are one change, not two that cancel.
const TOGETHER: [[&str; 2]; 2] = [
    ["stack.base_total_mm", "stack.measured.base_total_mm"],
    ["stack.head_total_mm", "head.assembled.head_gasket_mm"],
];

/// Changes by group, in words: what changes alike in all windows of a port is one change.
fn groups(numbers: &[(String, f64, f64)]) -> Vec<(String, Vec<(&str, f64)>)> {
    let mut groups: Vec<(String, Vec<(&str, f64)>)> = Vec::new();
    let change = |path: &str| numbers.iter().find(|n| n.0 == path);
    for (path, from, to) in numbers {
        let pair = TOGETHER.iter().find(|pair| pair.contains(&path.as_str())).and_then(|pair| {
            let (fitted, then) = (change(pair[0])?, change(pair[1])?);
            ((fitted.1, fitted.2) == (then.1, then.2)).then_some(pair)
        });
        let words = match pair {
            Some(pair) => format!("{} {from} → {to}, measured so too", pair[0]),
            None => format!("{} {from} → {to}", general(path).replace("[]", "")),
        };
        match groups.iter_mut().find(|g| g.0 == words) {
            Some(group) => group.1.push((path, *to)),
            None => groups.push((words, vec![(path, *to)])),
        }
    }
    groups
}

/// Results shown in the account of changes.
const ACCOUNT: [(usize, &str); 4] =
    [(0, "torque N·m"), (3, "delivery"), (6, "Δp(TO) bar"), (7, "backflow mg")];

fn account(
    text: &mut String,
    before: &Scenario,
    after: &Scenario,
    rpm: f64,
    ends: &[Option<Vec<f64>>; 2],
) -> Option<(String, f64)> {
    let (numbers, others) = differing(before, after);
    let [Some(a), Some(b)] = ends else { return None };
    let mut most: Option<(String, f64)> = None;
    let _ = writeln!(text, "\nOne change at a time, from the first build");
    let _ = write!(text, "{:<52}", "");
    for (_, head) in ACCOUNT {
        let _ = write!(text, "{head:>13}");
    }
    text.push('\n');
    let groups = groups(&numbers);
    let alone: Vec<Option<Vec<f64>>> = groups
        .par_iter()
        .map(|(_, changes)| simulated(&before.with_all(changes).ok()?.spec, rpm))
        .collect();
    let mut sums = [0.0; 4];
    for ((words, _), result) in groups.iter().zip(&alone) {
        let _ = write!(text, "{:<52}", shorten(words, 51));
        match result {
            None => text.push_str("    cannot be run alone"),
            Some(result) => {
                let torque = result[0] - a[0];
                if groups.len() > 1 && most.as_ref().is_none_or(|m| m.1.abs() < torque.abs()) {
                    most = Some((words.clone(), torque));
                }
                for (k, (i, _)) in ACCOUNT.iter().enumerate() {
                    let change = result[*i] - a[*i];
                    sums[k] += change;
                    let _ = write!(text, "{change:>+13.3}");
                }
            }
        }
        text.push('\n');
    }
    let _ = write!(text, "{:<52}", "together, less the sum of the above");
    for (k, (i, _)) in ACCOUNT.iter().enumerate() {
        let _ = write!(text, "{:>+13.3}", b[*i] - a[*i] - sums[k]);
    }
    text.push('\n');
    if !others.is_empty() {
        let names: Vec<String> = others.iter().map(|o| general(o)).collect();
        let _ = writeln!(text, "Also different, not taken one by one: {}.", names.join(", "));
    }
    most
}
