//! Job files: what was planned, and readings as they come.

use std::fmt::Write as _;

use super::document::Document;
use super::fault::{Faults, displayable};
use super::goals::{GoalsFile, IN_JOB, Written, quoted_text};
use super::keys::Unit::{Millimetre as Mm, One};
use super::keys::{Form, Key, Section, number, text};
use super::place::Place;

/// Largest number that a job holds, whatever its unit.
const ANY: f64 = 1e6;

const TOP: &[Key] = &[text("engine", "the engine file that was planned from").required()];
const STACK: &[Key] = &[
    number("base", Mm, 0.0, 60.0, "base gasket in mm").required(),
    number("spacer", Mm, 0.0, 60.0, "spacer in mm, 0 for none").required(),
    number("head", Mm, 0.0, 60.0, "head gasket in mm").required(),
];
const CUT: &[Key] = &[
    text("path", "the key of the engine file that it changes").required(),
    text("what", "what is cut").required(),
    number("from", One, -ANY, ANY, "where it stood").required(),
    number("to", One, -ANY, ANY, "where it shall stand").required(),
    number("tolerance", One, 0.0, ANY, "how exactly").required(),
    number("reading", One, -ANY, ANY, "what was read last, in the unit of the cut"),
    number("reading_error", One, 0.0, ANY, "error of that reading, ±"),
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
    Ok((Job { engine, stack, cuts, plan }, written))
}

impl Job {
    /// As a file writes it.
    #[must_use]
    pub fn write(&self) -> String {
        let Stack { base, spacer, head } = self.stack;
        let mut out = format!(
            "engine = {}\n\n[stack]\nbase = {base:?}\nspacer = {spacer:?}\nhead = {head:?}\n",
            quoted_text(&self.engine)
        );
        for cut in &self.cuts {
            let Cut { path, what, from, to, tolerance, .. } = cut;
            // writing to a String cannot fail
            let _ = write!(
                out,
                "\n[[cut]]\npath = {}\nwhat = {}\nfrom = {from:?}\nto = {to:?}\ntolerance = {tolerance:?}\n",
                quoted_text(path),
                quoted_text(what)
            );
            for (key, value) in [("reading", cut.reading), ("reading_error", cut.reading_error)] {
                if let Some(value) = value {
                    let _ = writeln!(out, "{key} = {value:?}");
                }
            }
        }
        out.push('\n');
        self.plan.write(&mut out, "plan.");
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_job_that_is_written_is_read_as_it_was() {
        let goals = Written::read(include_str!("../../../scenarios/goals.toml"));
        assert!(goals.faults.is_empty(), "{}", goals.faults);
        let cut = Cut {
            path: "exhaust.window[0].roof_depth_mm".to_owned(),
            what: "roof \"A\" \\ 1".to_owned(),
            from: 33.1,
            to: 32.05,
            tolerance: 0.1,
            reading: Some(32.5),
            reading_error: None,
        };
        let job = Job {
            engine: "C:\\engines\\a.toml".to_owned(),
            stack: Stack { base: 0.4, spacer: 0.0, head: 0.5 },
            cuts: vec![cut],
            plan: goals.file,
        };
        let (again, written) = read(&job.write()).unwrap();
        assert!(written.faults.is_empty(), "{}", written.faults);
        assert_eq!(again, job);
    }
}
