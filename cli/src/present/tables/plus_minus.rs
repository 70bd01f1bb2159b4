//! ± of simulated results, as a table with words and as JSON.

use std::fmt::Write as _;

use freshcharge_sim::studies::plus_minus::{LEVEL, PlusMinus, SHOWN};
use serde_json::{Value, json};

use super::layout::wrapped;

/// Heads of their columns, two lines each.
const HEADS: &[[&str; 2]] = &[
    ["power", "kW"],
    ["torq.", "N·m"],
    ["deliv", "ratio"],
    ["charg", "eff."],
    ["p(TO)", "bar"],
    ["pc(TO)", "bar"],
    ["back", "mg"],
];

/// The table under a run's own.
pub(crate) fn words(found: &PlusMinus) -> String {
    let mut text = String::from("\n± of these results\n");
    for line in 0..2 {
        let _ = write!(text, "{:>6}", ["speed", "1/min"][line]);
        for head in HEADS {
            let _ = write!(text, "{:>9}", head[line]);
        }
        text.push('\n');
    }
    for (rpm, widths) in &found.points {
        let _ = write!(text, "{rpm:>6.0}");
        for (width, (_, digits)) in widths.iter().zip(SHOWN) {
            let cell = width.map_or("–".to_owned(), |w| format!("{w:.digits$}"));
            let _ = write!(text, "{cell:>9}");
        }
        text.push('\n');
    }
    let left = match found.left_out {
        0 => String::new(),
        n => format!(" {n} of them were left out: no engine that can run, or it did not settle."),
    };
    let _ = writeln!(
        text,
        "{}",
        wrapped(&format!(
            "± is two standard deviations over {} sets of readings, drawn evenly within the errors that the file states, else the usual ones; the same sets at every speed.{left} It says nothing of what the model itself leaves out.",
            found.sets
        ))
    );
    text.push_str(&to_repeat(found));
    text
}

/// Which readings can be told to matter, and by what test.
fn to_repeat(found: &PlusMinus) -> String {
    let mut text = String::from("Which measurements to repeat first:\n");
    for ((matters, (key, _)), varies) in found.matters.iter().zip(SHOWN).zip(&found.vary) {
        if !varies {
            continue;
        }
        if matters.is_empty() {
            let _ = writeln!(text, "  {key}: no single reading can be told from chance");
            continue;
        }
        let list: Vec<String> = matters
            .iter()
            .map(|(error, how)| {
                let whose = if error.stated { "stated" } else { "usual" };
                let width = error.half_width;
                format!("{} (±{width} {whose}, correlation {how:+.2})", error.path)
            })
            .collect();
        let _ = writeln!(text, "  {key}: {}", list.join(", "));
    }
    let _ = writeln!(
        text,
        "{}",
        wrapped(&format!(
            "A reading is named only where its rank correlation is above {:.2} in size: with {} sets, {} readings and {} results, readings that do nothing would put a name into this list in at most {:.0} of 100 such runs (Student's t of the rank correlation, two-sided, its level shared by all readings and results). More sets tell smaller influences.",
            found.critical,
            found.sets - found.left_out,
            found.readings,
            SHOWN.len(),
            100.0 * LEVEL
        ))
    );
    text
}

/// The same for JSON.
pub(crate) fn as_json(found: &PlusMinus) -> Value {
    let points: Vec<Value> = found
        .points
        .iter()
        .map(|(rpm, widths)| {
            let mut map = serde_json::Map::new();
            map.insert("rpm".to_owned(), json!(rpm));
            for (width, (key, _)) in widths.iter().zip(SHOWN) {
                map.insert((*key).to_owned(), json!(width));
            }
            Value::Object(map)
        })
        .collect();
    let matters: serde_json::Map<String, Value> = found
        .matters
        .iter()
        .zip(SHOWN)
        .map(|(matters, (key, _))| {
            let list: Vec<Value> = matters
                .iter()
                .map(|(e, how)| {
                    json!({ "path": e.path, "half_width": e.half_width, "stated": e.stated, "rank_correlation": how })
                })
                .collect();
            ((*key).to_owned(), Value::from(list))
        })
        .collect();
    json!({
        "sets": found.sets,
        "left_out": found.left_out,
        "two_standard_deviations": points,
        "matters_most": matters,
        "rank_correlation_to_exceed": found.critical,
        "level": LEVEL,
    })
}
