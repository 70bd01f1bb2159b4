//! One row as text: numbers that read back to the same bits, and a check sum at its end.

use std::io::Write;

use freshcharge_sim::cycle::CycleError;
use freshcharge_sim::result::Point;
use freshcharge_sim::sweep::Build;

use super::job::Job;
use crate::present::rows::Outcome;
use crate::present::rows::text::{check_sum, number, words};

/// What one case came to.
pub(crate) enum Result {
    /// A cycle, settled or not.
    Point(Box<Point>),
    /// Refused.
    Refused(String),
    /// Not computed.
    Faulty(String),
    /// Geometry only.
    Geometry,
}

impl From<std::result::Result<Point, CycleError>> for Result {
    fn from(result: std::result::Result<Point, CycleError>) -> Self {
        match result {
            Ok(point) => Self::Point(Box::new(point)),
            Err(error) => Self::Faulty(error.to_string()),
        }
    }
}

impl Result {
    pub(crate) fn outcome(&self) -> Outcome {
        match self {
            Self::Point(point) if point.standstill.is_some() => Outcome::WouldNotRun,
            Self::Point(point) if point.verdict.turns() == Some(1) => Outcome::Settled,
            Self::Point(point) if point.verdict.settled() => Outcome::Repeats,
            Self::Point(_) => Outcome::NotSettled,
            Self::Refused(_) => Outcome::Refused,
            Self::Faulty(_) => Outcome::Faulty,
            Self::Geometry => Outcome::Geometry,
        }
    }
}

/// Writes the row of a case.
pub(crate) fn write(out: &mut Vec<u8>, job: &Job, case: u64, build: &Build, result: &Result) {
    let start = out.len();
    let speeds = &job.sweep.plan().speeds;
    let rpm = speeds.get((case % job.sweep.rows()) as usize).copied();
    // memory takes every byte
    let _ = write!(out, "{case}");
    for value in &build.values {
        out.push(b',');
        number(out, *value);
    }
    out.push(b',');
    number(out, rpm);
    out.push(b',');
    out.extend_from_slice(result.outcome().word().as_bytes());
    out.push(b',');
    match result {
        Result::Refused(why) | Result::Faulty(why) => words(out, why),
        Result::Point(point) => {
            if let Some(why) = &point.standstill {
                words(out, &why.to_string());
            }
        }
        Result::Geometry => {}
    }
    for value in &build.figures {
        out.push(b',');
        number(out, *value);
    }
    for column in &job.results {
        out.push(b',');
        if let Result::Point(point) = result {
            number(out, (column.value)(point));
        }
    }
    let sum = check_sum(&out[start..]);
    let _ = writeln!(out, ",{sum:08x}");
}
