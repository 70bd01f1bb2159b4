//! What is wrong with a file, said so that it can be mended.

use std::fmt;
use std::ops::{Deref, Range};

/// Faults that a report shows; the rest are counted.
pub const SHOWN: usize = 50;
/// Faults that are kept, so that a file of nothing but faults costs no more than this; the rest are counted.
const KEPT: usize = 1000;
/// Width of a quotation from a file [characters].
const WIDTH: usize = 60;

/// What sort of fault it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum FaultKind {
    /// The text is not TOML.
    Syntax,
    /// A key or table is given twice.
    Twice,
    /// There is no such key or table.
    Unknown,
    /// A required key or table is not there.
    Missing,
    /// Of another kind than the key wants, or in a unit that it cannot have.
    WrongKind,
    /// Outside the limits of its key.
    OutOfRange,
    /// Two entries contradict each other.
    Contradiction,
    /// Each entry may be, but not this engine.
    Implausible,
}

/// One fault: where, which key, what was found, what would be right.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// What sort of fault it is.
    pub kind: FaultKind,
    /// Bytes of the file it concerns, a byte order mark not counted.
    pub span: Range<usize>,
    /// Line, from 1.
    pub line: usize,
    /// Column, from 1.
    pub column: usize,
    /// Path of the key or table.
    pub key: String,
    /// What stands there; empty where something is missing.
    pub found: String,
    /// What to write instead.
    pub remedy: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}", self.line)?;
        if !self.key.is_empty() {
            write!(f, ", {}", quoted(&self.key))?;
        }
        if !self.found.is_empty() {
            write!(f, " = {}", self.found)?;
        }
        write!(f, ": {}", self.remedy)
    }
}

/// Every fault of a file, by line: the first thousand found, and how many more there are.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Faults {
    list: Vec<Fault>,
    more: usize,
}

impl Faults {
    /// How many faults there are, those that are not kept included.
    #[must_use]
    pub fn count(&self) -> usize {
        self.list.len() + self.more
    }

    /// Adds what `fault` gives while faults are kept; else counts it.
    pub fn add_with(&mut self, fault: impl FnOnce() -> Fault) {
        if self.list.len() < KEPT {
            self.list.push(fault());
        } else {
            self.more += 1;
        }
    }

    /// Adds a fault.
    pub fn add(&mut self, fault: Fault) {
        self.add_with(|| fault);
    }

    /// Adds all of another's.
    pub fn extend(&mut self, other: Self) {
        self.more += other.more;
        other.list.into_iter().for_each(|f| self.add(f));
    }

    /// Keeps only some of them.
    pub fn retain(&mut self, keep: impl FnMut(&Fault) -> bool) {
        self.list.retain(keep);
    }

    /// In order of line and column.
    #[must_use]
    pub fn in_order(mut self) -> Self {
        self.list.sort_by_key(|f| (f.line, f.column));
        self
    }

    /// Nothing where there is no fault.
    ///
    /// # Errors
    /// These faults in order, where there are any.
    pub fn none_or(self) -> Result<(), Self> {
        if self.is_empty() { Ok(()) } else { Err(self.in_order()) }
    }
}

impl Deref for Faults {
    type Target = [Fault];

    fn deref(&self) -> &[Fault] {
        &self.list
    }
}

impl From<Vec<Fault>> for Faults {
    fn from(list: Vec<Fault>) -> Self {
        let mut faults = Self::default();
        list.into_iter().for_each(|f| faults.add(f));
        faults
    }
}

impl From<Fault> for Faults {
    fn from(fault: Fault) -> Self {
        Self { list: vec![fault], more: 0 }
    }
}

impl IntoIterator for Faults {
    type Item = Fault;
    type IntoIter = std::vec::IntoIter<Fault>;

    fn into_iter(self) -> Self::IntoIter {
        self.list.into_iter()
    }
}

impl<'a> IntoIterator for &'a Faults {
    type Item = &'a Fault;
    type IntoIter = std::slice::Iter<'a, Fault>;

    fn into_iter(self) -> Self::IntoIter {
        self.list.iter()
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for fault in self.iter().take(SHOWN) {
            writeln!(f, "{fault}")?;
        }
        let more = self.count().saturating_sub(SHOWN);
        if more > 0 { writeln!(f, "and {more} more faults") } else { Ok(()) }
    }
}

impl std::error::Error for Faults {}

/// Whether a character turns the direction of what follows it.
fn turns(c: char) -> bool {
    matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}' | '\u{61c}')
}

/// Words that are only text wherever they are shown: without control characters, which move a terminal's
/// cursor, and without marks that turn the direction of what follows.
#[must_use]
pub fn displayable(words: &str) -> String {
    let shown = |c: char| if c.is_control() { ' ' } else { c };
    words.chars().filter(|c| !turns(*c)).map(shown).collect()
}

/// Words of a file as a report quotes them: in one short line, as text alone.
#[must_use]
pub fn quoted(words: &str) -> String {
    let mut out = String::new();
    let mut width = 0;
    for (index, word) in words.split_whitespace().enumerate() {
        for c in (index > 0).then_some(' ').into_iter().chain(word.chars()).filter(|c| !turns(*c)) {
            if width == WIDTH {
                let end = out.char_indices().nth(WIDTH - 3).map_or(out.len(), |(at, _)| at);
                out.truncate(end);
                out.push_str("...");
                return out;
            }
            out.push(if c.is_control() { ' ' } else { c });
            width += 1;
        }
    }
    out
}

/// Where the lines of a text begin, for places by line and column.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Lines(Vec<usize>);

impl Lines {
    pub(super) fn of(text: &str) -> Self {
        let ends = text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(at, _)| at + 1);
        Self(std::iter::once(0).chain(ends).collect())
    }

    /// Line and column of a byte offset, both from 1.
    pub(super) fn position(&self, text: &str, offset: usize) -> (usize, usize) {
        let mut offset = offset.min(text.len());
        while !text.is_char_boundary(offset) {
            offset -= 1;
        }
        let line = self.0.partition_point(|start| *start <= offset).max(1);
        let start = self.0.get(line - 1).copied().unwrap_or(0);
        // in a line longer than anybody writes bytes tell the place as well as characters
        let before = &text[start..offset];
        let column = if before.len() > 4000 { before.len() } else { before.chars().count() };
        (line, column + 1)
    }

    /// A line without its end.
    pub(super) fn line<'t>(&self, text: &'t str, line: usize) -> &'t str {
        let start = self.0.get(line - 1).copied().unwrap_or(text.len());
        let end = self.0.get(line).map_or(text.len(), |e| e - 1);
        text.get(start..end).unwrap_or_default().trim_end_matches('\r')
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quotations_are_short_and_text_alone() {
        assert_eq!(quoted("a \u{1b}[31m\tb\u{202e}c"), "a  [31m bc");
        assert_eq!(quoted(&"x".repeat(60)).len(), 60);
        let long = quoted(&"é ".repeat(1000));
        assert_eq!(long.chars().count(), 60);
        assert!(long.ends_with("..."));
    }

    #[test]
    fn faults_beyond_what_is_kept_are_counted() {
        let fault = |line| Fault {
            kind: FaultKind::Unknown,
            span: 0..0,
            line,
            column: 1,
            key: "k".to_owned(),
            found: String::new(),
            remedy: "r".to_owned(),
        };
        let mut faults = Faults::default();
        (0..5000).for_each(|i| faults.add_with(|| fault(5000 - i)));
        assert_eq!((faults.len(), faults.count()), (KEPT, 5000));
        let said = faults.in_order().to_string();
        assert!(said.starts_with("line 4001, k: r\n"), "{said}");
        assert!(said.ends_with("and 4950 more faults\n"), "{said}");
    }

    #[test]
    fn places_are_by_line_and_character() {
        let text = "a\r\né=1\n\nlast";
        let lines = Lines::of(text);
        assert_eq!(lines.position(text, 0), (1, 1));
        assert_eq!(lines.position(text, 5), (2, 2));
        assert_eq!(lines.position(text, 99), (4, 5));
        assert_eq!(
            (lines.line(text, 1), lines.line(text, 3), lines.line(text, 4)),
            ("a", "", "last")
        );
    }
}
