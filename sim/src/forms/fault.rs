//! What is wrong with an engine file, said so that it can be mended.

use std::fmt;
use std::ops::Range;

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
            write!(f, ", {}", self.key)?;
        }
        if !self.found.is_empty() {
            write!(f, " = {}", self.found)?;
        }
        write!(f, ": {}", self.remedy)
    }
}

/// Line and column of a byte offset, both from 1.
#[must_use]
pub(super) fn position(text: &str, offset: usize) -> (usize, usize) {
    let mut offset = offset.min(text.len());
    while !text.is_char_boundary(offset) {
        offset -= 1;
    }
    let before = &text[..offset];
    let line = before.matches('\n').count() + 1;
    let start = before.rfind('\n').map_or(0, |i| i + 1);
    (line, before[start..].chars().count() + 1)
}
