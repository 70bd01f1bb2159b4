//! Sweep files: which numbers of an engine file vary, what is held, refused and told. As written; what it
//! means for an engine is worked out in `sweep`.

use super::document::Document;
use super::fault::Faults;
use super::keys::Unit::One;
use super::keys::{Form, Key, Kind, Section, choice, count, flag, list, number, text, words};

/// Largest number that may stand in a sweep file, whatever its unit.
const ANY: f64 = 1e12;
/// Largest whole number that is read without loss.
const WHOLE: f64 = 9_007_199_254_740_991.0;

const fn any(name: &'static str, meaning: &'static str) -> Key {
    number(name, One, -ANY, ANY, meaning)
}

const fn any_list(name: &'static str, meaning: &'static str) -> Key {
    list(name, One, -ANY, ANY, meaning)
}

const TOP: &[Key] = &[
    text("name", "name of the sweep").or_else("that of the file"),
    text("engine", "write engine = \"engine.toml\", the file to start from").required(),
    Key::of("rpm", Kind::Speeds, "speeds").or_else("those of the engine file"),
    flag("geometry_only", "whether nothing is simulated").or_flag(false),
    words("figures", "figures of a build that a row tells").or_else("the usual ones"),
    words("results", "results that a row tells; \"all\" for every one").or_else("the usual ones"),
];

const OBJECTIVES: &[Key] = &[
    words("most", "what shall be as great as can be"),
    words("least", "what shall be as small as can be"),
];

const AXIS: &[Key] = &[
    text("path", "the number to vary, by its path in the engine file"),
    any_list("values", "its values"),
    any("from", "first value of a range"),
    any("to", "last value of a range"),
    any("step", "step of a range"),
    count("count", 1.0, 1e6, "how many values a range has"),
    any_list("shelf", "pieces at hand; every sum of some of them is a value"),
    count("pieces", 0.0, 1000.0, "most pieces of the shelf together").or_else("all"),
    flag("relative", "whether values are added to what the engine file gives").or_flag(false),
];

const SAMPLE: &[Key] = &[
    choice("design", &["sobol", "latin-hypercube", "indices"], "how points are spread").required(),
    count("count", 1.0, WHOLE, "how many points").required(),
    count("seed", 0.0, WHOLE, "another seed, another set of points").or(0.0),
    flag("readings", "whether the numbers are readings that may be off").or_flag(false),
    flag("tolerances", "every number that the engine file gives with a tolerance").or_flag(false),
];

const OVER: &[Key] = &[
    text("path", "the number to vary, by its path in the engine file").required(),
    any("from", "lower end of its range"),
    any("to", "upper end of its range"),
    any("plus_minus", "half-width around what the engine file gives, instead"),
];

const HOLD: &[Key] = &[
    text("of", "the figure to hold").required(),
    text("by", "the number that is moved, by its path in the engine file").required(),
    any("at", "the value to hold").or_else("that of the engine file"),
    any_list("shelf", "values to choose the nearest from").or_else("any value"),
    count("pieces", 0.0, 1000.0, "most pieces of the shelf together").or_else("each by itself"),
];

const LIMIT: &[Key] = &[
    text("of", "the figure").required(),
    any("least", "refused below"),
    any("most", "refused above"),
];

const fn table(path: &'static str, meaning: &'static str, keys: &'static [Key]) -> Section {
    Section::of(path, meaning, keys).optional()
}

/// Every table of a sweep file.
pub const FORM: &Form = &Form {
    name: "sweep file",
    tolerances: false,
    sections: &[
        table("", "The sweep.", TOP).required(),
        table("objectives", "What is better.", OBJECTIVES),
        table("axis[]", "A number that varies, or several together.", AXIS),
        table("axis[].zip[]", "One of several numbers that vary together.", AXIS),
        table("sample", "Sampled numbers.", SAMPLE),
        table("sample.over[]", "A sampled number.", OVER),
        table("hold[]", "A number moved so that a figure keeps its value.", HOLD),
        table("limit[]", "Bounds of a figure.", LIMIT),
    ],
};

/// Whether the text is a sweep file and not an engine file.
#[must_use]
pub fn is_sweep(text: &str) -> bool {
    let plain = |line: &str, key: &str| {
        line.trim_start().strip_prefix(key).is_some_and(|r| r.trim_start().starts_with('='))
    };
    text.lines().take_while(|l| !l.trim_start().starts_with("[crank_train")).any(|l| {
        plain(l, "engine")
            || l.trim_start().starts_with("[[axis]]")
            || l.trim_start().starts_with("[sample]")
    })
}

/// A sweep file as written, with the faults of its form.
#[derive(Debug, Clone, PartialEq)]
pub struct SweepFile {
    /// The file as written.
    pub document: Document,
    /// The engine file to start from, relative to this one.
    pub engine: String,
    /// Faults of form, to be told with those of sense.
    pub faults: Faults,
}

impl SweepFile {
    /// Reads a sweep file. Faults of form are kept, so that those of sense can be told with them.
    ///
    /// # Errors
    /// Every fault found where the text cannot be read or names no engine file.
    pub fn read(text: &str) -> Result<Self, Faults> {
        let (document, faults) = Document::read(text, FORM);
        match document.text_at("engine").map(str::to_owned) {
            Some(engine) if document.readable() => Ok(Self { document, engine, faults }),
            _ => Err(faults.in_order()),
        }
    }

    /// A sweep of which no file says anything.
    #[must_use]
    pub fn empty() -> Self {
        let mut document = Document::new("", FORM);
        document.add_table("", 0..0);
        Self { document, engine: String::new(), faults: Faults::default() }
    }
}
