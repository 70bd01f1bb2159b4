//! Limits files: bounds of quantities, with where they come from.

use super::document::Document;
use super::fault::{FaultKind, Faults, displayable};
use super::keys::Unit::One;
use super::keys::{Form, Key, Kind, Section, choice, count, number, text};
use super::place::Place;

/// What an engine is for, as limits name it.
pub const USES: &[&str] = &["utility", "touring", "road", "race"];

/// Kinds of intake, as limits name them.
pub const INTAKES: &[&str] = &["piston-port", "rotary", "reed"];

/// Largest number that a limit may hold, whatever its unit.
const ANY: f64 = 1e12;

const LIMIT: &[Key] = &[
    text("quantity", "name of a quantity as freshcharge check --json gives it, with @ behind it where it depends on speed").required(),
    number("least", One, -ANY, ANY, "lower bound"),
    number("most", One, -ANY, ANY, "upper bound"),
    number("near", One, 0.0, ANY, "how close to a bound counts as near").or(0.0),
    Key::of("use", Kind::Choices(USES), "the uses it applies to").or_else("all"),
    choice("intake", INTAKES, "the kind of intake it applies to").or_else("all"),
    count("danger", 1.0, 5.0, "what breaking it can do: 5 destroys the engine at once, 1 costs power or is only unusual").or(3.0),
    text("source", "where it comes from").required(),
    text("confidence", "how far to trust it").required(),
    text("caution", "what to bear in mind when it is near or broken").or_text(""),
];

/// Every table of a limits file.
pub const FORM: &Form = &Form {
    name: "limits file",
    tolerances: false,
    sections: &[
        Section::of("", "The limits.", &[]).required(),
        Section::of("limit[]", "A limit.", LIMIT).required().at_most(1000),
    ],
};

/// One limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// Name of the quantity, ending with @ where it depends on speed.
    pub quantity: String,
    /// Lower bound.
    pub least: Option<f64>,
    /// Upper bound.
    pub most: Option<f64>,
    /// How close to a bound counts as near.
    pub near: f64,
    /// Uses it applies to; all when empty.
    pub uses: Vec<String>,
    /// Kind of intake it applies to; all when left out.
    pub intake: Option<String>,
    /// What breaking it can do: 5 destroys the engine at once, 1 costs power or is only unusual.
    pub danger: u8,
    /// Where it comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: String,
    /// What to bear in mind.
    pub caution: String,
}

/// Reads a limits file.
///
/// # Errors
/// Every fault found, in order of line.
pub fn read(text: &str) -> Result<Vec<Limit>, Faults> {
    let (document, mut faults) = Document::read(text, FORM);
    let mut limits = Vec::new();
    for table in Place::all(&document, "limit") {
        let (least, most) = (table.written("least"), table.written("most"));
        let mut fault = |key: &str, remedy: &str| {
            let path = table.key(key);
            faults.add_with(|| document.fault(FaultKind::Contradiction, &path, remedy));
        };
        if !table.tries("least") && !table.tries("most") {
            fault("least", "missing: a limit needs least, most or both");
        }
        if least.zip(most).is_some_and(|(l, m)| l > m) {
            fault("least", "lies above most");
        }
        limits.push(Limit {
            quantity: displayable(&table.text("quantity")),
            least,
            most,
            near: table.written("near").unwrap_or(0.0),
            uses: table.list_of_words("use").iter().map(|w| w.0.clone()).collect(),
            intake: table.words("intake").map(str::to_owned),
            danger: table.written("danger").unwrap_or(3.0) as u8,
            source: displayable(&table.text("source")),
            confidence: displayable(&table.text("confidence")),
            caution: displayable(&table.text("caution")),
        });
    }
    faults.none_or()?;
    Ok(limits)
}
