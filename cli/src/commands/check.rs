//! `freshcharge check`: what follows from the measurements, held against limits.

use std::fmt::Write as _;

use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::spec::{EngineSpec, PieceForm, Pipework};
use freshcharge_sim::studies::{Item, beside_a_cut, half_width};
use freshcharge_sim::units::{CM3, DEG, MM};
use freshcharge_sim::workshop::{self, Contribution, Fact, Facts, Section, Spread};
use serde_json::json;

use super::brief::{self, Bench};
use crate::Outcome;
use crate::args::CheckArgs;
use crate::export;
use crate::export::layout::{number, wrapped};
use crate::files::{self, Failure};
use crate::limits::{self, Judge, Limit, Standing};
use crate::present::stacks;
use crate::session::engine::{load, speeds_or, with_set};

/// A limit held against a fact.
pub(crate) struct Judged<'a> {
    pub(crate) limit: &'a Limit,
    pub(crate) fact: &'a Fact,
    pub(crate) standing: Standing,
    /// The fact with its error, as it was judged.
    pub(crate) item: Item,
}

/// Runs the command.
pub(crate) fn run(args: &CheckArgs) -> Result<Outcome, Failure> {
    let (base, hash) = load(&args.file)?;
    let scenario = with_set(base.clone(), &args.set)?;
    let speeds = speeds_or(args.rpm.as_deref(), &scenario.run_speeds)?;
    let limits = limits::load(args.limits.as_deref(), args.usage)?;
    let shown = few(&speeds);
    let facts = Facts::of_scenario(&scenario, &shown);
    let errors = workshop::measured(&scenario, true);
    let spreads = spreads(&scenario, &errors, &facts, &shown);
    let judged = judge(&limits, &scenario.spec, (&facts, &spreads), top(&shown));
    if args.json {
        files::print(&as_json(&scenario, &hash, &facts, &spreads, &judged))?;
        return Ok(Outcome::Done);
    }
    let before = (!args.set.is_empty()).then(|| {
        let facts = Facts::of_scenario(&base, &shown);
        (base, facts)
    });
    let bench = Bench {
        scenario: &scenario,
        before: before.as_ref().map(|(s, f)| (s, f)),
        facts: &facts,
        spreads: &spreads,
        errors: &errors,
        judged: &judged,
        speeds: &shown,
        usage: args.usage,
    };
    let mut text = format!("{}. {}", scenario.spec.name, stacks::line(&scenario));
    brief::rows(&mut text, &bench);
    if args.all {
        everything(&mut text, &bench);
    }
    touches(&mut text, &facts);
    for note in &scenario.notes {
        let _ = writeln!(text, "{}", wrapped(note));
    }
    brief::answer(&mut text, &bench, args.ask);
    files::print(&text)?;
    Ok(Outcome::Done)
}

/// What depends on speed is held against limits at the highest.
fn top(speeds: &[f64]) -> f64 {
    speeds.last().copied().unwrap_or(8000.0)
}

/// All that `--all` adds.
fn everything(text: &mut String, bench: &Bench) {
    let scenario = bench.scenario;
    tables(text, bench.facts, bench.spreads);
    let exhaust = &scenario.spec.exhaust;
    let exit = exhaust.exit_area.map(|area| (4.0 * area / std::f64::consts::PI).sqrt());
    let outward = "Exhaust pipe, from the casting's end outward";
    pipework(text, outward, exhaust.pipe.as_ref(), exit);
    let inward = "Inlet pipe, from the outside inward";
    pipework(text, inward, scenario.spec.inlet_pipe.as_ref(), None);
    verdicts(text, bench.judged, bench.usage.word());
    gains(text, scenario, bench.facts, bench.speeds);
    repeat_first(text, bench.facts, bench.spreads, bench.errors);
    let _ = writeln!(text, "{}\n", wrapped(&beside_a_cut()));
}

/// At most three of the speeds: lowest, middle, highest.
fn few(speeds: &[f64]) -> Vec<f64> {
    let n = speeds.len();
    if n <= 3 { speeds.to_vec() } else { vec![speeds[0], speeds[n / 2], speeds[n - 1]] }
}

/// ± of every fact.
pub(crate) fn spreads(
    scenario: &Scenario,
    errors: &[Contribution],
    facts: &Facts,
    speeds: &[f64],
) -> Vec<Spread> {
    let keys: Vec<&str> = facts.0.iter().map(|f| f.key.as_str()).collect();
    workshop::spread(scenario, errors, &|changed| {
        let found = Facts::of_scenario(changed, speeds);
        keys.iter().map(|k| found.get(k).unwrap_or(f64::NAN)).collect()
    })
}

/// Every limit that applies, those that are broken first, the most dangerous of them before the others.
pub(crate) fn judge<'a>(
    limits: &'a [Limit],
    spec: &EngineSpec,
    (facts, spreads): (&'a Facts, &[Spread]),
    rpm: f64,
) -> Vec<Judged<'a>> {
    let error_of = |fact: &Fact| {
        let place = facts.0.iter().position(|f| f.key == fact.key);
        place.and_then(|i| spreads.get(i)).map_or(0.0, |s| s.half_width)
    };
    let mut judged = Vec::new();
    for limit in limits.iter().filter(|l| l.applies(spec)) {
        for fact in limit.facts(facts, rpm) {
            let error = error_of(fact);
            let (standing, item) = (limit.stands(fact, error), limit.item(fact, error));
            judged.push(Judged { limit, fact, standing, item });
        }
    }
    judged.sort_by_key(|j| {
        let rank = match j.standing {
            Standing::Broken => 0,
            Standing::Near => 1,
            Standing::Met => 2,
        };
        (rank, std::cmp::Reverse(j.limit.danger))
    });
    judged
}

fn tables(text: &mut String, facts: &Facts, spreads: &[Spread]) {
    let mut section: Option<Section> = None;
    let bold = anstyle::Style::new().bold();
    for (fact, spread) in facts.0.iter().zip(spreads) {
        if section != Some(fact.section) {
            section = Some(fact.section);
            let _ = writeln!(text, "\n{bold}{}{bold:#}", fact.section.title());
        }
        let value = number(fact.value);
        let error = if spread.half_width > 0.0 {
            format!("± {}", half_width(spread.half_width))
        } else {
            String::new()
        };
        let _ = writeln!(text, "  {:<56} {value:>10} {:<8} {error}", fact.words, fact.unit);
    }
    text.push_str(
        "\n±: stated tolerances, and for the rest the usual error of such a measurement (common\npractice, no source), added in squares.\n",
    );
}

/// The pieces of a pipe with their places, and where it steps.
fn pipework(text: &mut String, title: &str, pipe: Option<&Pipework>, before: Option<f64>) {
    let Some(pipe) = pipe else { return };
    let bold = anstyle::Style::new().bold();
    let _ = writeln!(text, "\n{bold}{title}{bold:#}");
    let (mut begins, mut before) = (0.0, before);
    for (number, piece) in pipe.pieces.iter().enumerate() {
        let name = if piece.name.is_empty() {
            format!("piece {}", number + 1)
        } else {
            piece.name.clone()
        };
        match piece.form {
            PieceForm::Volume(volume) => {
                before = None;
                let _ = writeln!(text, "  {name:<24} volume of {:.0} cm³", volume / CM3);
            }
            PieceForm::Section { length, from, to, .. } => {
                let ends = begins + length;
                let angle = (0.5 * (to - from) / length).atan() / DEG;
                let form = if (to - from).abs() < 1e-9 {
                    "straight".to_owned()
                } else {
                    format!("{:.1}° each side", angle.abs())
                };
                let _ = writeln!(
                    text,
                    "  {name:<24} {:>5.0} to {:>5.0} mm, ⌀ {:.1} to {:.1} mm, {form}",
                    begins / MM,
                    ends / MM,
                    from / MM,
                    to / MM
                );
                if let Some(last) = before.filter(|d| (d - from).abs() > STEP) {
                    let _ = writeln!(
                        text,
                        "  {:<24} begins with a step from {:.1} to {:.1} mm: meant so?",
                        "",
                        last / MM,
                        from / MM
                    );
                }
                (begins, before) = (ends, Some(to));
            }
        }
    }
}

/// Difference of diameters that counts as a step [m].
const STEP: f64 = 0.5e-3;

fn verdicts(text: &mut String, judged: &[Judged], usage: &str) {
    let bold = anstyle::Style::new().bold();
    let _ = writeln!(text, "\n{bold}Held against limits for {usage} use{bold:#}");
    for j in judged {
        let word = match j.standing {
            Standing::Met => "met   ",
            Standing::Near => "near  ",
            Standing::Broken => "BROKEN",
        };
        let (value, bounds) = (number(j.fact.value), j.limit.bounds());
        let _ = writeln!(text, "  {word} {}: {value} {}; {bounds}", j.fact.words, j.fact.unit);
        if j.standing != Standing::Met {
            let _ = writeln!(
                text,
                "{}",
                indented(&format!("Source: {} ({}).", j.limit.source, j.limit.confidence))
            );
            if !j.limit.caution.is_empty() {
                let _ = writeln!(text, "{}", indented(&j.limit.caution));
            }
        }
    }
}

fn indented(words: &str) -> String {
    textwrap::fill(
        words,
        textwrap::Options::new(78).initial_indent("         ").subsequent_indent("         "),
    )
}

fn touches(text: &mut String, facts: &Facts) {
    if let Some(gap) = facts.get("squish_mm").filter(|g| *g <= 0.0) {
        let _ = writeln!(
            text,
            "\nThe piston touches the head by {:.2} mm. A head gasket thicker by {:.2} mm gives 1.00 mm of\nsquish; do not turn the engine over before.",
            -gap,
            1.0 - gap
        );
    }
}

/// What a tenth of a millimetre does: words and the path changed, with the change [mm].
const STEPS: &[(&str, &str, f64)] = &[
    ("0.1 mm more spacer", "stack.base_total_mm", 0.1),
    ("0.1 mm higher exhaust roof", "exhaust.window.roof_depth_mm", -0.1),
    ("0.1 mm wider exhaust chord", "exhaust.window.chord_mm", 0.1),
    ("0.1 mm off the top face", "stack.top_face_cut_mm", 0.1),
    ("0.1 mm more head gasket", "stack.head_total_mm", 0.1),
];

const WATCHED: &[(&str, &str)] = &[
    ("exhaust_duration_deg", "exhaust °"),
    ("transfer_duration_deg", "transfer °"),
    ("blowdown_deg", "blowd. °"),
    ("blowdown_angle_area_mm2deg", "mm²·°"),
    ("squish_mm", "squish mm"),
    ("geometric_ratio", "full CR"),
    ("trapped_ratio", "trap. CR"),
];

fn gains(text: &mut String, scenario: &Scenario, facts: &Facts, speeds: &[f64]) {
    let bold = anstyle::Style::new().bold();
    let _ = writeln!(text, "\n{bold}What a tenth of a millimetre does{bold:#}");
    let _ = write!(text, "  {:<28}", "");
    for (_, head) in WATCHED {
        let _ = write!(text, "{head:>11}");
    }
    text.push('\n');
    for (words, path, step) in STEPS {
        let Some(value) = scenario.value(path) else { continue };
        let Ok(changed) = scenario.with(path, value + step) else { continue };
        let after = Facts::of_scenario(&changed, speeds);
        let _ = write!(text, "  {words:<28}");
        for (key, _) in WATCHED {
            let change = after.get(key).zip(facts.get(key)).map_or(f64::NAN, |(a, b)| a - b);
            let change = if change.abs() < 5e-4 { "0".to_owned() } else { format!("{change:+.3}") };
            let _ = write!(text, "{change:>11}");
        }
        text.push('\n');
    }
}

fn repeat_first(text: &mut String, facts: &Facts, spreads: &[Spread], errors: &[Contribution]) {
    let bold = anstyle::Style::new().bold();
    let _ = writeln!(text, "\n{bold}Which measurement to repeat first{bold:#}");
    for key in ["blowdown_deg", "transfer_duration_deg", "squish_mm", "trapped_ratio"] {
        let Some(i) = facts.0.iter().position(|f| f.key == key) else { continue };
        let Some((path, share)) = spreads[i].shares.first() else { continue };
        let stated = errors.iter().any(|e| &e.path == path && e.stated);
        let whose = if stated { "stated" } else { "usual" };
        let width = errors.iter().find(|e| &e.path == path).map_or(0.0, |e| e.half_width);
        let _ = writeln!(
            text,
            "  {}: {path} (±{width} {whose}) makes {:.0} % of it",
            facts.0[i].words,
            100.0 * share
        );
    }
    text.push('\n');
}

fn as_json(
    scenario: &Scenario,
    hash: &str,
    facts: &Facts,
    spreads: &[Spread],
    judged: &[Judged],
) -> String {
    let facts: Vec<_> = facts
        .0
        .iter()
        .zip(spreads)
        .map(|(f, s)| {
            json!({
                "key": f.key, "words": f.words, "unit": f.unit, "value": f.value,
                "half_width": s.half_width,
                "largest_shares": s.shares.iter().take(3).collect::<Vec<_>>(),
            })
        })
        .collect();
    let judged: Vec<_> = judged
        .iter()
        .map(|j| {
            json!({
                "quantity": j.fact.key, "value": j.fact.value, "standing": j.standing,
                "least": j.limit.least, "most": j.limit.most, "source": j.limit.source,
                "confidence": j.limit.confidence, "caution": j.limit.caution,
            })
        })
        .collect();
    let value = json!({
        "engine": scenario.spec.name,
        "facts": facts,
        "limits": judged,
    });
    export::json::headed(hash, scenario.spec.model, value)
}
