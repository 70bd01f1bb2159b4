//! A file as written: every key with its value, its place and its tolerance.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

use super::fault::{Fault, FaultKind, Lines, quoted};
use super::keys::{Form, Key, Section};

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
    /// Least and most, either of which may be left out.
    Range(Option<f64>, Option<f64>),
    /// Words.
    Text(String),
    /// A list of words, each with its bytes.
    Words(Vec<Words>),
    /// True or false.
    Flag(bool),
}

/// Words of a list, with their bytes.
pub type Words = (String, Range<usize>);

/// A key that the file gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Its value.
    pub value: Value,
    /// Bytes of the value as written.
    pub span: Range<usize>,
    /// Whether the value has been changed since it was written.
    pub changed: bool,
    /// Whether it only stands in for a default, so that nobody has read it.
    pub stands_in: bool,
}

/// What a file has for one key.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Slot {
    /// Nothing.
    Absent,
    /// Something that cannot be read: neither it nor a default stands for the key.
    Faulty,
    /// A value.
    Given(Entry),
}

/// One table of the file.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Table {
    /// Bytes of its header.
    pub(super) span: Range<usize>,
    pub(super) section: &'static Section,
    /// One for each key of the section.
    slots: Vec<Slot>,
    /// Keys of other names, where the section has such, in order of the file.
    free: Vec<(String, Entry)>,
}

impl Table {
    pub(super) fn slot(&self, name: &str) -> Option<(&'static Key, &Slot)> {
        let index = self.section.keys.iter().position(|k| k.name == name)?;
        Some((&self.section.keys[index], &self.slots[index]))
    }

    /// Keys of any name, in order of the file.
    pub(super) fn free(&self) -> &[(String, Entry)] {
        &self.free
    }
}

/// The whole file. A copy shares every table that is not changed.
#[derive(Debug, Clone, PartialEq)]
pub struct Document {
    /// What kind of file it is.
    form: &'static Form,
    lines: Arc<Lines>,
    /// The text, without a byte order mark.
    pub text: Arc<str>,
    /// Half-widths given with numbers, by path of the number, in the key's unit.
    pub tolerances: Arc<BTreeMap<String, f64>>,
    tables: BTreeMap<Arc<str>, Arc<Table>>,
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
    if path.is_empty() {
        return name.to_owned();
    }
    [path, ".", name].concat()
}

/// Path of the table with a number in an array of tables.
#[must_use]
pub(super) fn numbered(array: &str, index: usize) -> String {
    let digits = index.to_string();
    [array, "[", &digits, "]"].concat()
}

/// Table and name of a path.
fn split(path: &str) -> (&str, &str) {
    path.rsplit_once('.').unwrap_or(("", path))
}

impl Document {
    /// A file of which nothing has been read yet.
    pub(super) fn new(text: &str, form: &'static Form) -> Self {
        Self {
            form,
            lines: Arc::new(Lines::of(text)),
            text: text.into(),
            tolerances: Arc::default(),
            tables: BTreeMap::new(),
        }
    }

    /// What kind of file it is.
    #[must_use]
    pub fn form(&self) -> &'static Form {
        self.form
    }

    /// What the file gives for a key.
    #[must_use]
    pub fn entry(&self, path: &str) -> Option<&Entry> {
        match self.slot(path)? {
            Slot::Given(entry) => Some(entry),
            Slot::Absent | Slot::Faulty => None,
        }
    }

    /// Words that the file gives for a key.
    #[must_use]
    pub fn text_at(&self, path: &str) -> Option<&str> {
        match &self.entry(path)?.value {
            Value::Text(text) => Some(text),
            _ => None,
        }
    }

    /// Every key that the file gives, by path.
    pub fn entries(&self) -> impl Iterator<Item = (String, &Entry)> {
        self.entries_where(|_| true)
    }

    /// Every key that the file gives with a value that `wanted` accepts, by path.
    pub(super) fn entries_where(
        &self,
        wanted: impl Fn(&Value) -> bool + Copy,
    ) -> impl Iterator<Item = (String, &Entry)> {
        self.tables.iter().flat_map(move |(path, table)| {
            let keys = table.section.keys.iter().zip(&table.slots);
            keys.filter_map(move |(key, slot)| match slot {
                Slot::Given(entry) if wanted(&entry.value) => Some((joined(path, key.name), entry)),
                _ => None,
            })
        })
    }

    /// Path of every single number that the file gives: keys with one number, and each number of a
    /// list as `key[0]`; without defaults that were written down.
    #[must_use]
    pub fn numbers(&self) -> Vec<String> {
        let mut paths = Vec::new();
        for (path, entry) in self.entries().filter(|(_, e)| !e.stands_in) {
            match &entry.value {
                Value::Number(_) => paths.push(path),
                Value::Numbers(list) => {
                    paths.extend((0..list.len()).map(|i| format!("{path}[{i}]")));
                }
                _ => {}
            }
        }
        paths
    }

    fn slot(&self, path: &str) -> Option<&Slot> {
        let (table, name) = split(path);
        self.tables.get(table)?.slot(name).map(|(_, slot)| slot)
    }

    pub(super) fn is_faulty(&self, path: &str) -> bool {
        matches!(self.slot(path), Some(Slot::Faulty))
    }

    pub(super) fn table(&self, path: &str) -> Option<&Table> {
        self.tables.get(path).map(Arc::as_ref)
    }

    pub(super) fn tables(&self) -> impl Iterator<Item = (&str, &Table)> {
        self.tables.iter().map(|(path, table)| (path.as_ref(), table.as_ref()))
    }

    pub(super) fn add_table(&mut self, path: &str, span: Range<usize>) {
        if let Some(section) = self.form.section(&general(path)) {
            let slots = vec![Slot::Absent; section.keys.len()];
            let table = Table { span, section, slots, free: Vec::new() };
            self.tables.insert(path.into(), Arc::new(table));
        }
    }

    /// Puts something at a known key; a table that is not there is added.
    pub(super) fn put(&mut self, path: &str, slot: Slot) {
        let (table, name) = split(path);
        if !self.tables.contains_key(table) {
            self.add_table(table, 0..0);
        }
        if let Some(table) = self.tables.get_mut(table)
            && let Some(index) = table.section.keys.iter().position(|k| k.name == name)
        {
            Arc::make_mut(table).slots[index] = slot;
        }
    }

    /// Adds a key of any name to a table that may have such.
    pub(super) fn put_free(&mut self, table: &str, name: &str, entry: Entry) {
        if let Some(table) = self.tables.get_mut(table) {
            Arc::make_mut(table).free.push((name.to_owned(), entry));
        }
    }

    /// Marks a value as one that stands in for a default.
    pub(super) fn stand_in(&mut self, path: &str) {
        if let Some(entry) = self.entry(path) {
            self.put(path, Slot::Given(Entry { stands_in: true, ..entry.clone() }));
        }
    }

    /// A fault at `path`, shown at the value, else at its table's header.
    #[must_use]
    pub fn fault(&self, kind: FaultKind, path: &str, remedy: impl Into<String>) -> Fault {
        let (span, found) = match self.entry(path) {
            Some(entry) if entry.changed => (entry.span.clone(), shown(&entry.value)),
            Some(entry) => (entry.span.clone(), self.snippet(&entry.span)),
            None => (self.header(path), String::new()),
        };
        let (line, column) = self.position(span.start);
        Fault { kind, span, line, column, key: path.to_owned(), found, remedy: remedy.into() }
    }

    /// A fault at given bytes.
    #[must_use]
    pub fn fault_at(
        &self,
        kind: FaultKind,
        span: Range<usize>,
        key: &str,
        remedy: impl Into<String>,
    ) -> Fault {
        let found = self.snippet(&span);
        let (line, column) = self.position(span.start);
        Fault { kind, span, line, column, key: key.to_owned(), found, remedy: remedy.into() }
    }

    /// Line and column of a byte, both from 1.
    pub(super) fn position(&self, offset: usize) -> (usize, usize) {
        self.lines.position(&self.text, offset)
    }

    /// A line without its end.
    pub(super) fn line(&self, line: usize) -> &str {
        self.lines.line(&self.text, line)
    }

    /// What stands at some bytes, in one short line.
    pub(super) fn snippet(&self, span: &Range<usize>) -> String {
        quoted(self.text.get(span.clone()).unwrap_or_default())
    }

    /// Start of the innermost table on the path that the file has.
    pub(super) fn header(&self, path: &str) -> Range<usize> {
        let mut path = path;
        loop {
            if let Some(table) = self.tables.get(path) {
                return table.span.start..table.span.start;
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
        (0..).take_while(|i| self.has(&numbered(path, *i))).count()
    }

    /// Whether the file has this table.
    #[must_use]
    pub fn has(&self, path: &str) -> bool {
        self.tables.contains_key(path)
    }

    /// The same, sharing nothing with this one: threads that copy one document again and again would wait for
    /// each other's counting.
    pub(super) fn unshared(&self) -> Self {
        let own = |(path, table): (&Arc<str>, &Arc<Table>)| {
            (Arc::from(path.as_ref()), Arc::new(table.as_ref().clone()))
        };
        Self {
            form: self.form,
            lines: Arc::new(self.lines.as_ref().clone()),
            text: Arc::from(self.text.as_ref()),
            tolerances: Arc::new(self.tolerances.as_ref().clone()),
            tables: self.tables.iter().map(own).collect(),
        }
    }

    /// Whether the file gives this key.
    #[must_use]
    pub fn gives(&self, path: &str) -> bool {
        self.entry(path).is_some()
    }
}

/// A value that has been changed, as it would be written.
fn shown(value: &Value) -> String {
    match value {
        Value::Number(number) => format!("{number}"),
        Value::Numbers(numbers) => format!("{numbers:?}"),
        Value::Text(text) => format!("{text:?}"),
        Value::Flag(flag) => flag.to_string(),
        Value::Rows(_) | Value::OverSpeed(..) | Value::Range(..) | Value::Words(_) => String::new(),
    }
}
