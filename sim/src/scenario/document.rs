//! An engine file as written: every key with its value, its place and its tolerance.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::sync::Arc;

use super::fault::{Fault, FaultKind, position};
use super::keys::{Key, Section, section_at};

/// A value as written, numbers in the key's unit.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// One number.
    Number(f64),
    /// A list of numbers.
    Numbers(Vec<f64>),
    /// Rows of numbers.
    Rows(Vec<Vec<f64>>),
    /// Values over speed: speeds, then values.
    OverSpeed(Vec<f64>, Vec<f64>),
    /// Words.
    Text(String),
    /// True or false.
    Flag(bool),
}

/// A key that the file gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Its value.
    pub value: Value,
    /// Bytes of the value as written.
    pub span: Range<usize>,
    /// Whether the value has been changed since it was written.
    pub changed: bool,
}

/// The whole file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Document {
    /// Keys by path, such as `transfer[0].window[1].chord_mm`.
    pub entries: BTreeMap<String, Entry>,
    /// Bytes of each table by path.
    pub tables: BTreeMap<String, Range<usize>>,
    /// Half-widths given with numbers, by path of the number, in the key's unit.
    pub tolerances: BTreeMap<String, f64>,
    /// The text, without a byte order mark.
    pub text: Arc<str>,
    /// Keys that the file gives with a fault: neither value nor default stands for them.
    pub(super) faulty: BTreeSet<String>,
}

/// Path with every index replaced by `[]`.
#[must_use]
pub fn general(path: &str) -> String {
    let mut out = String::with_capacity(path.len());
    let mut inside = false;
    for c in path.chars() {
        match c {
            '[' => {
                inside = true;
                out.push_str("[]");
            }
            ']' => inside = false,
            _ if inside => {}
            _ => out.push(c),
        }
    }
    out
}

/// Path of something called `name` in the table at `path`.
#[must_use]
pub(super) fn joined(path: &str, name: &str) -> String {
    if path.is_empty() { name.to_owned() } else { format!("{path}.{name}") }
}

/// The key at a path, with its table.
#[must_use]
pub fn key_at(path: &str) -> Option<(&'static Section, &'static Key)> {
    let general = general(path);
    let (section, name) = general.rsplit_once('.').unwrap_or(("", &general));
    let section = section_at(section)?;
    Some((section, section.key(name)?))
}

impl Document {
    /// A fault at `path`, shown at the value, else at its table's header.
    #[must_use]
    pub fn fault(&self, kind: FaultKind, path: &str, remedy: impl Into<String>) -> Fault {
        let (span, found) = match self.entries.get(path) {
            Some(entry) if entry.changed => (entry.span.clone(), shown(&entry.value)),
            Some(entry) => (entry.span.clone(), self.snippet(&entry.span)),
            None => (self.header(path), String::new()),
        };
        let (line, column) = position(&self.text, span.start);
        Fault { kind, span, line, column, key: path.to_owned(), found, remedy: remedy.into() }
    }

    /// A fault at given bytes.
    #[must_use]
    pub(super) fn fault_at(
        &self,
        kind: FaultKind,
        span: Range<usize>,
        key: &str,
        remedy: impl Into<String>,
    ) -> Fault {
        let found = self.snippet(&span);
        let (line, column) = position(&self.text, span.start);
        Fault { kind, span, line, column, key: key.to_owned(), found, remedy: remedy.into() }
    }

    /// What stands at some bytes, in one short line.
    pub(super) fn snippet(&self, span: &Range<usize>) -> String {
        let text = self.text.get(span.clone()).unwrap_or_default();
        let line: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
        if line.chars().count() > 60 {
            line.chars().take(57).collect::<String>() + "..."
        } else {
            line
        }
    }

    /// Start of the innermost table on the path that the file has.
    fn header(&self, path: &str) -> Range<usize> {
        let mut path = path;
        loop {
            if let Some(span) = self.tables.get(path) {
                return span.start..span.start;
            }
            match path.rsplit_once('.') {
                Some((parent, _)) => path = parent,
                None => return 0..0,
            }
        }
    }

    /// How many tables of an array there are.
    #[must_use]
    pub fn count(&self, path: &str) -> usize {
        (0..).take_while(|i| self.tables.contains_key(&format!("{path}[{i}]"))).count()
    }

    /// Whether the file has this table.
    #[must_use]
    pub fn has(&self, path: &str) -> bool {
        self.tables.contains_key(path)
    }

    /// Whether the file gives this key.
    #[must_use]
    pub fn gives(&self, path: &str) -> bool {
        self.entries.contains_key(path)
    }
}

/// A value that has been changed, as it would be written.
fn shown(value: &Value) -> String {
    match value {
        Value::Number(number) => format!("{number}"),
        Value::Numbers(numbers) => format!("{numbers:?}"),
        Value::Text(text) => format!("{text:?}"),
        Value::Flag(flag) => flag.to_string(),
        Value::Rows(_) | Value::OverSpeed(..) => String::new(),
    }
}
