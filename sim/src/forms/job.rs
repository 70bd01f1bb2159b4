//! Job files: what was planned, and readings as they come.

use super::document::Document;
use super::fault::{Faults, displayable};
use super::goals::{GoalsFile, IN_JOB, Written};
use super::keys::Unit::{Millimetre as Mm, One};
use super::keys::{Form, Key, Kind, Section, count, number, text};
use super::place::Place;

/// Largest number that a job holds, whatever its unit.
const ANY: f64 = 1e6;

const TOP: &[Key] = &[
    text("engine", "the engine file that was planned from").required(),
    count("model", 1.0, 255.0, "version of the model that the plan was made with").or(1.0),
];
const STACK: &[Key] = &[
    number("base", Mm, 0.0, 60.0, "base gasket in mm").required(),
    number("spacer", Mm, 0.0, 60.0, "spacer in mm, 0 for none").required(),
    number("head", Mm, 0.0, 60.0, "head gasket in mm").required(),
];
const CUT: &[Key] = &[
    text("name", "short name, for readings on the command line").or_text(""),
    text("path", "the key of the engine file that it changes").required(),
    text("what", "what is cut").required(),
    number("from", One, -ANY, ANY, "where it stood").required(),
    number("to", One, -ANY, ANY, "where it shall stand").required(),
    number("tolerance", One, 0.0, ANY, "how exactly").required(),
    Key::of("reading", Kind::Reading(-ANY, ANY), "what was read last, in the unit of the cut"),
    Key::of("reading_error", Kind::Reading(0.0, ANY), "error of that reading, ±"),
];
/// Every table of a job file.
pub const FORM: &Form = &Form {
    name: "job file",
    tolerances: false,
    sections: &[
        Section::of("", "The job.", TOP).required(),
        Section::of("stack", "What will stand between cases, cylinder and head.", STACK).required(),
        Section::of("cut[]", "One edge or face to be cut.", CUT).optional(),
        IN_JOB[0],
        IN_JOB[1],
        IN_JOB[2],
        IN_JOB[3],
        IN_JOB[4],
        IN_JOB[5],
        IN_JOB[6],
        IN_JOB[7],
        IN_JOB[8],
    ],
};

/// What stands between cases, cylinder and head [mm].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stack {
    /// Base gasket.
    pub base: f64,
    /// Spacer.
    pub spacer: f64,
    /// Head gasket.
    pub head: f64,
}

/// One edge or face to be cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// Short name; empty where it is given none.
    pub name: String,
    /// Key of the engine file it changes.
    pub path: String,
    /// What it is.
    pub what: String,
    /// Where it stood.
    pub from: f64,
    /// Where it shall stand.
    pub to: f64,
    /// How exactly.
    pub tolerance: f64,
    /// What was read last; none until there is one.
    pub reading: Option<f64>,
    /// Error of that reading, ±.
    pub reading_error: Option<f64>,
}

/// A job.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Engine file, relative to the job file.
    pub engine: String,
    /// Version of the model that the plan was made with.
    pub model: u8,
    /// What will stand between cases, cylinder and head.
    pub stack: Stack,
    /// What is cut.
    pub cuts: Vec<Cut>,
    /// Goals, shelf and operations of the plan.
    pub plan: GoalsFile,
}

/// Reads a job file: the job, and its goals with every fault found so far.
///
/// # Errors
/// Every fault found where the text cannot be read or names no engine file.
pub fn read(text: &str) -> Result<(Job, Written), Faults> {
    let (document, faults) = Document::read(text, FORM);
    let Some(engine) = document.text_at("engine").map(str::to_owned) else {
        return Err(faults.in_order());
    };
    let written = Written::of(document, faults, "plan.");
    let document = written.document.clone();
    let stack = Place::at(&document, "stack");
    let thickness = |key: &str| stack.written(key).unwrap_or(0.0);
    let stack =
        Stack { base: thickness("base"), spacer: thickness("spacer"), head: thickness("head") };
    let mut cuts = Vec::new();
    for table in Place::all(&document, "cut") {
        cuts.push(Cut {
            name: table.text("name"),
            path: table.text("path"),
            what: displayable(&table.text("what")),
            from: table.written("from").unwrap_or(f64::NAN),
            to: table.written("to").unwrap_or(f64::NAN),
            tolerance: table.written("tolerance").unwrap_or(f64::NAN),
            reading: table.written("reading"),
            reading_error: table.written("reading_error"),
        });
    }
    let plan = written.file.clone();
    let model = Place::at(&document, "").written("model").unwrap_or(1.0) as u8;
    Ok((Job { engine, model, stack, cuts, plan }, written))
}
