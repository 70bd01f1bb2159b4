//! Goals files: what an engine shall come to, what lies on the shelf, what may be cut. As written; whether
//! there are such quantities is found out where an engine is known.

use super::document::{Document, Value};
use super::fault::{FaultKind, Faults};
use super::keys::Unit::{CubicCentimetre as Cm3, Millimetre as Mm, One};
use super::keys::{Either, Form, Key, Section, list, number, range};
use super::place::Place;

/// Most thicknesses of a kind on a shelf.
const MOST_PIECES: usize = 100;
/// Most stacks that a shelf may make: each is searched by itself.
pub const MOST_STACKS: usize = 10_000;

const GOAL: &Key = &range("a quantity", "what it shall be");
const SHELF: &[Key] = &[
    list("base_gaskets_mm", Mm, 0.0, 30.0, "base gaskets at hand; one is fitted, 0 for none")
        .required(),
    list("spacers_mm", Mm, 0.0, 30.0, "spacers at hand; one is fitted, 0 for none").required(),
    list("head_gaskets_mm", Mm, 0.0, 30.0, "head gaskets at hand; one is fitted, 0 for none")
        .required(),
];
const COST: Key =
    number("cost", One, 0.0, 1e6, "how much one mm or cm³ of it weighs against the others").or(1.0);
const SETUP: Key = number("setup", One, 0.0, 1e6, "what doing it at all weighs").or(0.0);
const CUT: &[Key] = &[
    number("most_mm", Mm, 0.0, 100.0, "how far it may go").required(),
    number("tolerance_mm", Mm, 0.0, 10.0, "how exactly it can be done").or(0.0),
    COST,
    SETUP,
];
const BOWL: &[Key] = &[
    number("most_cm3", Cm3, 0.0, 1000.0, "how far it may go"),
    number("most_mm", Cm3, 0.0, 1000.0, "an older name of most_cm3"),
    number("tolerance_cm3", Cm3, 0.0, 100.0, "how exactly it can be done").or_else("0"),
    number("tolerance_mm", Cm3, 0.0, 100.0, "an older name of tolerance_cm3"),
    COST,
    SETUP,
];
const BOWL_FORMS: &[Either] = &[
    Either { names: &["most_cm3", "most_mm"], required: true, exclusive: true },
    Either { names: &["tolerance_cm3", "tolerance_mm"], required: false, exclusive: true },
];

const fn goals(path: &'static str) -> Section {
    Section::of(path, "Quantities with their ranges.", &[]).required().free(GOAL)
}

const fn shelf(path: &'static str) -> Section {
    Section::of(path, "What lies on the shelf.", SHELF).required()
}

const fn cut(path: &'static str, meaning: &'static str) -> Section {
    Section::of(path, meaning, CUT).optional()
}

const fn bowl(path: &'static str) -> Section {
    Section::of(path, "Metal out of the head's bowl.", BOWL).optional().either(BOWL_FORMS)
}

const fn operations(path: &'static str) -> Section {
    Section::of(path, "What may be cut.", &[]).optional()
}

const ROOF: &str = "Exhaust roof up.";
const WIDTH: &str = "Exhaust windows wider.";
const TOP_FACE: &str = "Metal off the cylinder's top face.";
const HEAD_STEP: &str = "A step round the head's joint face.";

/// Every table of a goals file.
pub const FORM: &Form = &Form {
    name: "goals file",
    tolerances: false,
    sections: &[
        Section::of("", "The goals.", &[]).required(),
        goals("goals"),
        shelf("shelf"),
        operations("operations"),
        cut("operations.roof", ROOF),
        cut("operations.width", WIDTH),
        cut("operations.top_face", TOP_FACE),
        cut("operations.head_step", HEAD_STEP),
        bowl("operations.bowl"),
    ],
};

/// The same tables as part of a job file.
pub(super) const IN_JOB: [Section; 9] = [
    Section::of("plan", "Goals, shelf and operations of the plan.", &[]).required(),
    goals("plan.goals"),
    shelf("plan.shelf"),
    operations("plan.operations"),
    cut("plan.operations.roof", ROOF),
    cut("plan.operations.width", WIDTH),
    cut("plan.operations.top_face", TOP_FACE),
    cut("plan.operations.head_step", HEAD_STEP),
    bowl("plan.operations.bowl"),
];

/// Operations by the names of their tables, in the order in which they are listed.
pub const OPERATIONS: [&str; 5] = ["bowl", "head_step", "roof", "top_face", "width"];

/// Least and most of a quantity, one of which may be left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Least.
    pub least: Option<f64>,
    /// Most.
    pub most: Option<f64>,
}

impl Bounds {
    /// In words.
    #[must_use]
    pub fn words(&self) -> String {
        match (self.least, self.most) {
            (Some(l), Some(m)) => format!("{l} to {m}"),
            (Some(l), None) => format!("at least {l}"),
            (None, Some(m)) => format!("at most {m}"),
            (None, None) => "any".to_owned(),
        }
    }
}

/// Gaskets and spacers at hand [mm]; one of each is fitted, 0 for none.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shelf {
    /// Base gaskets.
    pub base_gaskets: Vec<f64>,
    /// Spacers.
    pub spacers: Vec<f64>,
    /// Head gaskets.
    pub head_gaskets: Vec<f64>,
}

/// An operation that may be done [mm, of the bowl cm³].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cut {
    /// How far it may go.
    pub most: f64,
    /// How exactly it can be done.
    pub tolerance: f64,
    /// How much one mm or cm³ of it weighs.
    pub cost: f64,
    /// What doing it at all weighs.
    pub setup: f64,
}

/// A goals file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GoalsFile {
    /// Ranges by name of quantity, in order of the names.
    pub goals: Vec<(String, Bounds)>,
    /// What lies on the shelf.
    pub shelf: Shelf,
    /// What may be cut, by name.
    pub operations: Vec<(&'static str, Cut)>,
}

/// A goals file with its text, so that faults of sense are told with those of form.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    /// What it says.
    pub file: GoalsFile,
    /// As written.
    pub document: Document,
    /// Faults found so far.
    pub faults: Faults,
    /// Where its tables stand: empty, or `plan.` in a job file.
    pub prefix: &'static str,
}

impl Written {
    /// Reads a goals file.
    #[must_use]
    pub fn read(text: &str) -> Self {
        let (document, faults) = Document::read(text, FORM);
        Self::of(document, faults, "")
    }

    /// The goals of a document whose tables stand behind `prefix`.
    pub(super) fn of(document: Document, faults: Faults, prefix: &'static str) -> Self {
        let mut written = Self { file: GoalsFile::default(), document, faults, prefix };
        if written.document.readable() {
            written.file = written.understand();
        }
        written
    }

    /// Adds a fault at a path of a goals file.
    fn fault(&mut self, path: &str, remedy: impl Into<String>) {
        let path = format!("{}{path}", self.prefix);
        let document = &self.document;
        self.faults.add_with(|| document.fault(FaultKind::Implausible, &path, remedy));
    }

    /// Adds a fault at a path of the file.
    pub fn add(&mut self, path: &str, remedy: impl Into<String>) {
        let document = &self.document;
        self.faults.add_with(|| document.fault(FaultKind::Implausible, path, remedy));
    }

    /// Adds a fault at the range of a quantity.
    pub fn goal_fault(&mut self, quantity: &str, remedy: impl Into<String>) {
        let table = Place::at(&self.document, format!("{}goals", self.prefix));
        let entry = table.free().iter().find(|(name, _)| name == quantity);
        let span = entry.map_or(0..0, |(_, entry)| entry.span.clone());
        let path = table.key(quantity);
        let document = &self.document;
        self.faults.add_with(|| document.fault_at(FaultKind::Unknown, span, &path, remedy));
    }

    /// Whether a quantity has a fault already.
    #[must_use]
    pub fn has_fault(&self, quantity: &str) -> bool {
        let path = format!("{}goals.{quantity}", self.prefix);
        self.faults.iter().any(|f| f.key == path)
    }

    fn understand(&mut self) -> GoalsFile {
        let document = self.document.clone();
        let at = |path: &str| Place::at(&document, format!("{}{path}", self.prefix));
        let bounds = |value: &Value| match value {
            Value::Range(least, most) => Some(Bounds { least: *least, most: *most }),
            _ => None,
        };
        let goals = at("goals");
        let goals = goals.free().iter();
        let goals: Vec<_> =
            goals.filter_map(|(k, e)| Some((k.clone(), bounds(&e.value)?))).collect();
        let cut = |name: &'static str| {
            let table = at(&format!("operations.{name}"));
            let either = |a: &str, b: &str| table.written(a).or_else(|| table.written(b));
            table.is_there().then(|| Cut {
                most: either("most_mm", "most_cm3").unwrap_or(0.0),
                tolerance: either("tolerance_mm", "tolerance_cm3").unwrap_or(0.0),
                cost: table.written("cost").unwrap_or(1.0),
                setup: table.written("setup").unwrap_or(0.0),
            })
        };
        let operations: Vec<_> =
            OPERATIONS.iter().filter_map(|name| Some((*name, cut(name)?))).collect();
        let table = at("shelf");
        let of = |key: &str| table.list(key).map(<[f64]>::to_vec).unwrap_or_default();
        let shelf = Shelf {
            base_gaskets: of("base_gaskets_mm"),
            spacers: of("spacers_mm"),
            head_gaskets: of("head_gaskets_mm"),
        };
        let faulty = |key: &str| !table.tries(key) || table.is_faulty(key);
        let missing = SHELF.iter().any(|k| faulty(k.name));
        self.shelf(&shelf, missing);
        GoalsFile { goals, shelf, operations }
    }

    /// Faults of a shelf that has too little or too much on it.
    fn shelf(&mut self, shelf: &Shelf, missing: bool) {
        let kinds = [
            ("shelf.base_gaskets_mm", &shelf.base_gaskets),
            ("shelf.spacers_mm", &shelf.spacers),
            ("shelf.head_gaskets_mm", &shelf.head_gaskets),
        ];
        let mut small = !missing;
        for (path, list) in kinds {
            if list.is_empty() && self.document.gives(&format!("{}{path}", self.prefix)) {
                self.fault(path, "write the thicknesses at hand in mm, 0 for none");
                small = false;
            } else if list.len() > MOST_PIECES {
                let count = list.len();
                let remedy = format!(
                    "has {count} thicknesses; a shelf holds at most {MOST_PIECES} of a kind"
                );
                self.fault(path, remedy);
                small = false;
            }
        }
        let stacks: usize = kinds.iter().map(|k| k.1.len()).product();
        if small && stacks > MOST_STACKS {
            let remedy = format!(
                "base gaskets, spacers and head gaskets make {stacks} stacks, and at most {MOST_STACKS} are searched: leave out what comes near another"
            );
            self.fault("shelf.base_gaskets_mm", remedy);
        }
    }
}
