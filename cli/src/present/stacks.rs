//! Which stack the readings were taken with, and which is fitted.

use freshcharge_sim::scenario::{Scenario, Stacks};

use super::tables::layout::wrapped;

/// Difference of thickness that counts [mm].
const SAME: f64 = 1e-9;

/// One line on both stacks, and, where the file leaves the measured one to follow, what to write.
pub(crate) fn line(scenario: &Scenario) -> String {
    let stacks = scenario.stacks();
    let [base, then] = stacks.totals();
    let (head, head_then) = (stacks.head, stacks.head_then.unwrap_or(stacks.head));
    let words = if (base - then).abs() < SAME && (head - head_then).abs() < SAME {
        format!("Stack: base {base:.2}, head gasket {head:.2} mm, as when the readings were taken.")
    } else {
        format!(
            "Stack: measured with base {then:.2}, head {head_then:.2} mm; fitted {base:.2} ({:+.2}), {head:.2} ({:+.2}).",
            base - then,
            head - head_then
        )
    };
    if stacks.follow.is_empty() {
        return format!("{words}\n");
    }
    let note = format!(
        "{} not in the file, so what was measured follows whatever is fitted: changing [stack] in the file moves no timing and no volume. If you measured with what is fitted now, write: {}.",
        keys(&stacks.follow),
        lines(&stacks).join(", ")
    );
    format!("{words}\n{}\n", wrapped(&note))
}

/// Keys in a row with their verb.
fn keys(keys: &[&str]) -> String {
    match keys {
        [one] => format!("{one} is"),
        [before @ .., last] => format!("{} and {last} are", before.join(", ")),
        [] => String::new(),
    }
}

/// What to write for the keys that follow, with the table each belongs to.
fn lines(stacks: &Stacks) -> Vec<String> {
    let line = |key: &&str| {
        let (table, name) = key.rsplit_once('.').unwrap_or(("", key));
        format!("{name} = {} under [{table}]", value(stacks, key))
    };
    stacks.follow.iter().map(line).collect()
}

/// What stands for a key of the measured stack, as TOML.
fn value(stacks: &Stacks, key: &str) -> String {
    match key.rsplit_once('.').map_or(key, |p| p.1) {
        "base_gaskets_mm" => format!("{:?}", stacks.base_then[0]),
        "spacers_mm" => format!("{:?}", stacks.base_then[1]),
        _ => format!("{}", stacks.head_then.unwrap_or(stacks.head)),
    }
}

/// Warns where two builds differ in the fitted stack and a measured stack that follows hides the effect;
/// empty where nothing is hidden.
pub(crate) fn hidden(before: &Scenario, after: &Scenario) -> String {
    let (a, b) = (before.stacks(), after.stacks());
    let ([base_a, then_a], [base_b, then_b]) = (a.totals(), b.totals());
    let mut text = String::new();
    if (base_a - base_b).abs() > SAME
        && (then_a - then_b).abs() > SAME
        && (a.base_follows() || b.base_follows())
    {
        let under = [
            format!("base_gaskets_mm = {:?}", a.base_then[0]),
            format!("spacers_mm = {:?}", a.base_then[1]),
        ];
        text.push_str(&warning(
            &format!("the fitted base stacks differ by {:+.2} mm (stack.base_gaskets_mm, stack.spacers_mm), but no timing moves with it", base_b - base_a),
            "stack.measured.base_gaskets_mm and stack.measured.spacers_mm",
            [a.base_follows(), b.base_follows()],
            ("stack.measured", &under),
        ));
    }
    let then = [&a, &b].map(|s| s.head_then);
    if let [Some(then_a), Some(then_b)] = then
        && (a.head - b.head).abs() > SAME
        && (then_a - then_b).abs() > SAME
        && (a.head_follows() || b.head_follows())
    {
        text.push_str(&warning(
            &format!("the fitted head gaskets differ by {:+.2} mm (stack.head_gaskets_mm), but the clearance volume does not move with it", b.head - a.head),
            "head.assembled.head_gasket_mm",
            [a.head_follows(), b.head_follows()],
            ("head.assembled", &[format!("head_gasket_mm = {then_a}")]),
        ));
    }
    text
}

fn warning(
    what: &str,
    keys: &str,
    follows: [bool; 2],
    (table, lines): (&str, &[String]),
) -> String {
    let files = match follows {
        [true, true] => "both files",
        [true, false] => "the first file",
        _ => "the second file",
    };
    let (verb, these) =
        if lines.len() == 1 { ("is", "this line") } else { ("are", "these two lines") };
    let words = format!(
        "Warning: {what}, because {keys} {verb} not given in {files}: its readings count as taken with whatever is fitted. If both builds rest on readings taken with the stack of the first, write {these} under [{table}] in {files}:"
    );
    format!("\n{}\n  {}\n", wrapped(&words), lines.join("\n  "))
}
