//! One row as text: numbers that read back to the same bits, and a check sum at its end.

use std::io::Write;

use freshcharge_sim::cycle::CycleError;
use freshcharge_sim::result::Point;
use freshcharge_sim::sweep::Build;

use super::job::Job;

/// What became of a case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Outcome {
    /// The cycle repeats.
    Settled,
    /// The engine would not run: nothing is delivered.
    WouldNotRun,
    /// The state repeats only after several turns; the row tells their mean.
    Repeats,
    /// It still changes after the allowed cycles; the row tells its last one.
    NotSettled,
    /// A constraint refused it before it was simulated.
    Refused,
    /// It could not be computed.
    Faulty,
    /// Only its geometry was asked for.
    Geometry,
}

/// Every outcome with its word in a row.
pub(crate) const OUTCOMES: [(Outcome, &str); 7] = [
    (Outcome::Settled, "settled"),
    (Outcome::WouldNotRun, "would_not_run"),
    (Outcome::Repeats, "repeats"),
    (Outcome::NotSettled, "not_settled"),
    (Outcome::Refused, "refused"),
    (Outcome::Faulty, "faulty"),
    (Outcome::Geometry, "geometry"),
];

impl Outcome {
    /// The outcome with this word.
    pub(crate) fn called(word: &str) -> Option<Self> {
        OUTCOMES.iter().find(|(_, w)| *w == word).map(|(o, _)| *o)
    }

    /// Its word.
    pub(crate) fn word(self) -> &'static str {
        OUTCOMES.iter().find(|(o, _)| *o == self).map_or("", |(_, w)| w)
    }
}

/// What one case came to.
pub(super) enum Result {
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
    pub(super) fn outcome(&self) -> Outcome {
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

/// A number with its shortest digits; what there is not is an empty cell.
fn number(out: &mut Vec<u8>, value: Option<f64>) {
    if let Some(value) = value {
        if value.is_finite() {
            let mut buffer = ryu::Buffer::new();
            let text = buffer.format_finite(value);
            out.extend_from_slice(text.strip_suffix(".0").unwrap_or(text).as_bytes());
        } else {
            out.extend_from_slice(value.to_string().as_bytes());
        }
    }
}

/// Words in one line, quoted where a comma or a quote stands in them.
fn words(out: &mut Vec<u8>, text: &str) {
    let text = text.replace(['\n', '\r'], " ");
    if text.contains([',', '"']) {
        out.push(b'"');
        out.extend_from_slice(text.replace('"', "\"\"").as_bytes());
        out.push(b'"');
    } else {
        out.extend_from_slice(text.as_bytes());
    }
}

/// Writes the row of a case.
pub(super) fn write(out: &mut Vec<u8>, job: &Job, case: u64, build: &Build, result: &Result) {
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

/// CRC-32 (polynomial 04C11DB7 reflected, as in ISO 3309) of the bytes.
fn check_sum(bytes: &[u8]) -> u32 {
    crc32fast::hash(bytes)
}

/// The case number of a whole and undamaged line (without its line end).
pub(super) fn case_of(line: &[u8]) -> Option<u64> {
    let comma = line.len().checked_sub(9)?;
    let (row, sum) = line.split_at(comma);
    let sum = std::str::from_utf8(sum.strip_prefix(b",")?).ok()?;
    (u32::from_str_radix(sum, 16).ok()? == check_sum(row)).then_some(())?;
    let first = row.split(|b| *b == b',').next()?;
    std::str::from_utf8(first).ok()?.parse().ok()
}

/// Cells of a line.
pub(crate) fn cells(line: &str) -> Vec<String> {
    if !line.contains('"') {
        return line.split(',').map(str::to_owned).collect();
    }
    let mut cells = vec![String::new()];
    let mut quoted = false;
    let mut letters = line.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '"' if quoted && letters.peek() == Some(&'"') => {
                letters.next();
                if let Some(cell) = cells.last_mut() {
                    cell.push('"');
                }
            }
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(String::new()),
            other => {
                if let Some(cell) = cells.last_mut() {
                    cell.push(other);
                }
            }
        }
    }
    cells
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_check_sum_is_the_published_one_and_sees_one_digit() {
        // the check value of CRC-32 in every catalogue: nine digits give CBF43926
        assert_eq!(check_sum(b"123456789"), 0xCBF4_3926);
        let line =
            format!("17,0.5,3000,settled,,1.25,{:08x}", check_sum(b"17,0.5,3000,settled,,1.25"));
        assert_eq!(case_of(line.as_bytes()), Some(17));
        assert_eq!(case_of(line.replace("0.5", "0.6").as_bytes()), None);
        assert_eq!(case_of(&line.as_bytes()[..line.len() - 1]), None);
        assert_eq!(case_of(b""), None);
    }

    #[test]
    fn cells_read_back_as_written() {
        let mut out = Vec::new();
        words(&mut out, "a, \"b\"\nc");
        out.push(b',');
        number(&mut out, Some(0.1 + 0.2));
        out.push(b',');
        number(&mut out, None);
        out.push(b',');
        number(&mut out, Some(3000.0));
        let text = String::from_utf8(out).unwrap();
        assert_eq!(cells(&text), ["a, \"b\" c", "0.30000000000000004", "", "3000"]);
    }
}
