//! `freshcharge angles`: timings from one convention into the others.

use std::fmt::Write as _;

use freshcharge_sim::geometry;
use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::studies::{Against, Item, Verdict, half_width, judge};
use freshcharge_sim::units::{DEG, MM};
use freshcharge_sim::workshop::{self, Facts};

use crate::Outcome;
use crate::args::AnglesArgs;
use crate::export::layout::wrapped;
use crate::files::{self, Failure};
use crate::session::engine::load;

/// Runs the command.
pub(crate) fn run(args: &AnglesArgs) -> Result<Outcome, Failure> {
    let engine = args.engine.as_deref().map(load).transpose()?;
    let mut text = String::from(
        "Symmetrical about bottom dead centre; atdc/btdc after/before top, bbdc/abdc before/after bottom.\n\n",
    );
    let mut told = Vec::new();
    for timing in &args.timing {
        let converted = workshop::convert(timing).map_err(|e| Failure::Argument {
            flag: "angles",
            value: timing.clone(),
            remedy: e.to_string(),
        })?;
        for c in converted {
            told.push((c.what.clone(), c.duration));
            let ms = args.rpm.map(|rpm| c.duration / (6.0 * rpm) * 1e3);
            let ms = ms.map_or(String::new(), |ms| format!(", {ms:.3} ms"));
            if c.what == "blowdown" {
                let _ =
                    writeln!(text, "{:<14} {:.2}°{ms}  (exhaust − transfer)/2", c.what, c.duration);
                continue;
            }
            let _ = write!(
                text,
                "{:<14} duration {:.2}°{ms}: opens {:.2}° atdc = {:.2}° bbdc, closes {:.2}° abdc = {:.2}° btdc",
                c.what, c.duration, c.opens_atdc, c.opens_bbdc, c.closes_abdc, c.closes_btdc
            );
            if let Some((scenario, _)) = &engine {
                let spec = &scenario.spec;
                let drop = geometry::crank(spec).at(c.opens_atdc * DEG).drop;
                let depth = drop + spec.stack.deck + spec.piston.crown_chamfer;
                let _ = write!(text, "; roof {:.2} mm below the top face", depth / MM);
            }
            text.push('\n');
        }
    }
    let own = engine.as_ref().map(|(scenario, _)| scenario);
    let _ = writeln!(text, "\n{}", wrapped(&answer(&told, own)));
    files::print(&text)?;
    Ok(Outcome::Done)
}

/// The timings in one sentence; beside those of an engine, and whether they can be its own.
fn answer(told: &[(String, f64)], engine: Option<&Scenario>) -> String {
    let list = |parts: Vec<String>| super::brief::and(&parts);
    let Some(scenario) = engine else {
        let parts = told.iter().map(|(what, duration)| format!("{what} {duration:.2}°"));
        return format!("That is {}.", list(parts.collect()));
    };
    let facts = Facts::of_scenario(scenario, &[]);
    let errors = workshop::measured(scenario, true);
    let spreads = super::check::spreads(scenario, &errors, &facts, &[]);
    let mut items = Vec::new();
    let mut parts = Vec::new();
    for (what, duration) in told {
        let key = if what == "blowdown" {
            "blowdown_deg".to_owned()
        } else {
            format!("{what}_duration_deg")
        };
        let Some(i) = facts.0.iter().position(|f| f.key == key) else { continue };
        let (own, error) = (facts.0[i].value, spreads[i].half_width);
        parts.push(format!("{what} {duration:.2}° against {own:.2} ± {}°", half_width(error)));
        // the published value as a band of the reading's error around the engine's own
        let against = Against::Limit { least: Some(*duration), most: Some(*duration), danger: 1 };
        items.push(Item { words: what.clone(), unit: "°".to_owned(), value: own, error, against });
    }
    if items.is_empty() {
        return answer(told, None);
    }
    let verdict = if judge(&items).verdict == Verdict::BreaksLimit {
        "The timings given are not this engine's as measured"
    } else {
        "The timings given are this engine's, within the error of your readings"
    };
    format!("{verdict}: {}.", list(parts))
}
