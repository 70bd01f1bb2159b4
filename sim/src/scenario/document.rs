//! An engine file as written: every key with its value, its place and its tolerance.

use std::collections::BTreeMap;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::fault::{Fault, position};
use super::keys::{Fallback, Key, Kind, SECTIONS, Section, Unit, section_at};
use super::quantity;

/// A value as written, numbers in the key's unit.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// One number.
    Number(f64),
    /// A list of numbers.
    Numbers(Vec<f64>),
    /// Rows of numbers.
    Rows(Vec<Vec<f64>>),
    /// Values over speed.
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
    /// Half-width it was given with, in the key's unit.
    pub tolerance: Option<f64>,
    /// Bytes of the value.
    pub span: Range<usize>,
}

/// The whole file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Document {
    /// Keys by path, such as `transfer[0].window[1].chord_mm`.
    pub entries: BTreeMap<String, Entry>,
    /// Bytes of each table's header.
    pub tables: BTreeMap<String, Range<usize>>,
    /// The text.
    pub text: String,
}

/// Path with every index replaced by `[]`.
#[must_use]
pub fn general(path: &str) -> String {
    let mut out = String::new();
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

fn joined(path: &str, name: &str) -> String {
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
    /// Reads a file. Returns what could be read and every fault found.
    #[must_use]
    pub fn read(text: &str) -> (Self, Vec<Fault>) {
        // a byte order mark is no part of the text
        let clean = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut reading = Reading {
            document: Self { text: clean.to_owned(), ..Self::default() },
            faults: Vec::new(),
        };
        let (root, errors) = DeTable::parse_recoverable(clean);
        for error in errors {
            reading.syntax(&error);
        }
        if reading.faults.is_empty() {
            reading.table("", root.get_ref(), root.span());
            reading.missing();
        }
        (reading.document, reading.faults)
    }

    /// Where a fault at `path` is to be shown: the value, else its table's header.
    #[must_use]
    pub fn fault(&self, path: &str, remedy: impl Into<String>) -> Fault {
        let (span, found) = match self.entries.get(path) {
            Some(entry) => (entry.span.clone(), self.snippet(&entry.span)),
            None => (self.header(path), String::new()),
        };
        let (line, column) = position(&self.text, span.start);
        Fault { span, line, column, key: path.to_owned(), found, remedy: remedy.into() }
    }

    fn snippet(&self, span: &Range<usize>) -> String {
        let text = self.text.get(span.clone()).unwrap_or_default();
        let line: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
        if line.chars().count() > 60 {
            line.chars().take(57).collect::<String>() + "..."
        } else {
            line
        }
    }

    /// Header of the innermost table on the path that the file has.
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
}

struct Reading {
    document: Document,
    faults: Vec<Fault>,
}

impl Reading {
    fn fault(&mut self, span: Range<usize>, key: &str, remedy: String) {
        let found = self.document.snippet(&span);
        let (line, column) = position(&self.document.text, span.start);
        self.faults.push(Fault { span, line, column, key: key.to_owned(), found, remedy });
    }

    fn syntax(&mut self, error: &toml::de::Error) {
        let span = error.span().unwrap_or(0..0);
        let (line, column) = position(&self.document.text, span.start);
        let content = self.document.text.lines().nth(line - 1).unwrap_or_default().trim();
        let key = content.split('=').next().unwrap_or_default().trim().to_owned();
        let value = content.split_once('=').map(|(_, v)| v.trim()).unwrap_or_default();
        let (message, found) = (error.message().to_owned(), value.to_owned());
        let starts_as_number = value.starts_with(|c: char| c.is_ascii_digit() || c == '-');
        let comma = starts_as_number && value.contains(',') && !value.contains('[');
        let remedy = if comma {
            format!("write decimals with a point: {}", value.replace(',', "."))
        } else if starts_as_number && value.contains(|c: char| c.is_ascii_alphabetic()) {
            format!("a number with a unit goes in quotes: \"{value}\"")
        } else if message.contains("duplicate") {
            "given twice; keep one".to_owned()
        } else {
            format!("cannot be read as TOML: {message}")
        };
        self.faults.push(Fault { span, line, column, key, found, remedy });
    }

    fn table(&mut self, path: &str, table: &DeTable, span: Range<usize>) {
        self.document.tables.insert(path.to_owned(), span);
        let section = section_at(&general(path));
        for (name, value) in table {
            let here = joined(path, name.get_ref());
            if let Some(key) = section.and_then(|s| s.key(name.get_ref())) {
                self.key(&here, key, value);
            } else if section_at(&general(&here)).is_some() {
                self.child(&here, value);
            } else if section_at(&format!("{}[]", general(&here))).is_some() {
                self.children(&here, value);
            } else {
                let remedy = unknown(path, name.get_ref(), section);
                let span = name.span();
                let (line, column) = position(&self.document.text, span.start);
                let found = self.document.snippet(&value.span());
                self.faults.push(Fault { span, line, column, key: here, found, remedy });
            }
        }
    }

    fn child(&mut self, path: &str, value: &Spanned<DeValue>) {
        match value.get_ref() {
            DeValue::Table(table) => self.table(path, table, value.span()),
            _ => self.fault(
                value.span(),
                path,
                format!("this is a table: write [{path}] with its keys"),
            ),
        }
    }

    fn children(&mut self, path: &str, value: &Spanned<DeValue>) {
        let wanted = format!(
            "this is a list of tables: write [[{}]] for each",
            general(path).replace("[]", "")
        );
        let DeValue::Array(array) = value.get_ref() else {
            self.fault(value.span(), path, wanted);
            return;
        };
        for (index, item) in array.iter().enumerate() {
            match item.get_ref() {
                DeValue::Table(table) => {
                    self.table(&format!("{path}[{index}]"), table, item.span());
                }
                _ => self.fault(item.span(), path, wanted.clone()),
            }
        }
    }

    fn key(&mut self, path: &str, key: &Key, value: &Spanned<DeValue>) {
        match convert(key, value) {
            Ok((converted, tolerance)) => {
                let entry = Entry { value: converted, tolerance, span: value.span() };
                self.document.entries.insert(path.to_owned(), entry);
            }
            Err(remedy) => self.fault(value.span(), path, remedy),
        }
    }

    /// Required tables and keys that are not there.
    fn missing(&mut self) {
        for section in SECTIONS.iter().filter(|s| s.required) {
            for parent in self.parents(section.path) {
                let array = section.path.ends_with("[]");
                let here = if array { format!("{parent}[0]") } else { parent.clone() };
                if !self.document.has(&here) {
                    let brackets = if array { ("[[", "]]") } else { ("[", "]") };
                    let name = general(&parent).replace("[]", "");
                    let remedy = format!(
                        "missing: add {}{name}{} ({})",
                        brackets.0, brackets.1, section.meaning
                    );
                    self.faults.push(self.document.fault(&parent, remedy));
                }
            }
        }
        let tables: Vec<String> = self.document.tables.keys().cloned().collect();
        for path in tables {
            let Some(section) = section_at(&general(&path)) else { continue };
            for key in section.keys.iter().filter(|k| k.fallback == Fallback::Required) {
                let here = joined(&path, key.name);
                let meant = format!("did you mean {}?", key.name);
                let parent = |f: &Fault| f.key.rsplit_once('.').map_or("", |(p, _)| p) == path;
                let faulty = self
                    .faults
                    .iter()
                    .any(|f| f.key == here || (parent(f) && f.remedy.ends_with(&meant)));
                if !self.document.entries.contains_key(&here) && !faulty {
                    let how =
                        if key.how.is_empty() { String::new() } else { format!(" {}", key.how) };
                    let remedy = format!("missing: {}{how}", key.meaning);
                    self.faults.push(self.document.fault(&here, remedy));
                }
            }
        }
    }

    /// Concrete paths at which a table of this general path belongs, the last index left off.
    fn parents(&self, general_path: &str) -> Vec<String> {
        let stem = general_path.strip_suffix("[]").unwrap_or(general_path);
        let Some((parent, name)) = stem.rsplit_once('.') else { return vec![stem.to_owned()] };
        let tables = self.document.tables.keys();
        let here = tables.filter(|t| general(t) == parent).map(|t| joined(t, name));
        here.collect()
    }
}

fn unknown(path: &str, name: &str, section: Option<&'static Section>) -> String {
    let prefix = if path.is_empty() { String::new() } else { format!("{}.", general(path)) };
    let children = SECTIONS.iter().filter_map(|s| {
        let rest = s.path.strip_prefix(&prefix)?;
        let rest = rest.strip_suffix("[]").unwrap_or(rest);
        (!rest.is_empty() && !rest.contains('.') && !rest.contains('[')).then_some(rest)
    });
    let keys = section.into_iter().flat_map(|s| s.keys.iter().map(|k| k.name));
    let all: Vec<&str> = keys.chain(children).collect();
    let nearest = all
        .iter()
        .map(|known| (strsim::jaro_winkler(known, name), *known))
        .max_by(|a, b| a.0.total_cmp(&b.0));
    match nearest {
        Some((likeness, known)) if likeness > 0.7 => {
            format!("not a known key here; did you mean {known}?")
        }
        _ => format!("not a known key here; known are {}", all.join(", ")),
    }
}

/// Reads a value as the key wants it.
fn convert(key: &Key, value: &Spanned<DeValue>) -> Result<(Value, Option<f64>), String> {
    match key.kind {
        Kind::Number(unit, low, high) => {
            let q = quantity(value.get_ref(), unit)?;
            within(q.value, unit, low, high)?;
            Ok((Value::Number(q.value), q.tolerance))
        }
        Kind::Numbers(unit, low, high) => {
            Ok((Value::Numbers(numbers(value.get_ref(), unit, low, high)?), None))
        }
        Kind::Rows(low, high) => {
            let DeValue::Array(rows) = value.get_ref() else {
                return Err("write rows of numbers: [[..], [..]]".to_owned());
            };
            let rows: Result<Vec<_>, _> =
                rows.iter().map(|r| numbers(r.get_ref(), Unit::One, low, high)).collect();
            Ok((Value::Rows(rows?), None))
        }
        Kind::OverSpeed(unit, low, high) => over_speed(value.get_ref(), unit, low, high),
        Kind::Text => match value.get_ref() {
            DeValue::String(text) => Ok((Value::Text(text.to_string()), None)),
            _ => Err("write words in quotes".to_owned()),
        },
        Kind::Choice(choices) => match value.get_ref() {
            DeValue::String(text) if choices.contains(&text.as_ref()) => {
                Ok((Value::Text(text.to_string()), None))
            }
            _ => Err(format!("write one of \"{}\"", choices.join("\", \""))),
        },
        Kind::Flag => match value.get_ref() {
            DeValue::Boolean(flag) => Ok((Value::Flag(*flag), None)),
            _ => Err("write true or false".to_owned()),
        },
        Kind::Speeds => speeds(value.get_ref()),
    }
}

fn over_speed(
    value: &DeValue,
    unit: Unit,
    low: f64,
    high: f64,
) -> Result<(Value, Option<f64>), String> {
    let DeValue::Table(table) = value else {
        let q = quantity(value, unit)?;
        within(q.value, unit, low, high)?;
        return Ok((Value::Number(q.value), q.tolerance));
    };
    let part = |name: &str| table.iter().find(|(k, _)| k.get_ref() == name).map(|(_, v)| v);
    let shape = "write a number or { rpm = [..], value = [..] }".to_owned();
    let (Some(rpm), Some(values)) = (part("rpm"), part("value")) else { return Err(shape) };
    if table.len() != 2 {
        return Err(shape);
    }
    let rpm = numbers(rpm.get_ref(), Unit::One, 0.0, 50_000.0)?;
    let values = numbers(values.get_ref(), unit, low, high)?;
    let rising = rpm.windows(2).all(|w| w[1] > w[0]);
    if rpm.is_empty() || rpm.len() != values.len() || !rising {
        return Err("rpm must rise and have as many numbers as value".to_owned());
    }
    Ok((Value::OverSpeed(rpm, values), None))
}

fn speeds(value: &DeValue) -> Result<(Value, Option<f64>), String> {
    match value {
        DeValue::String(text) => {
            let speeds = super::parse_speeds(text)?;
            Ok((Value::Numbers(speeds), None))
        }
        _ => Ok((Value::Numbers(numbers(value, Unit::One, 100.0, 30_000.0)?), None)),
    }
}

fn numbers(value: &DeValue, unit: Unit, low: f64, high: f64) -> Result<Vec<f64>, String> {
    let DeValue::Array(items) = value else {
        return Err("write a list of numbers in brackets, such as [0.4]".to_owned());
    };
    items
        .iter()
        .map(|item| {
            let q = quantity(item.get_ref(), unit)?;
            within(q.value, unit, low, high)?;
            Ok(q.value)
        })
        .collect()
}

fn quantity(value: &DeValue, unit: Unit) -> Result<quantity::Quantity, String> {
    let plain = |text: &str| {
        let digits = text.replace('_', "");
        match digits.parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(quantity::Quantity { value, tolerance: None }),
            _ => Err("write a finite number".to_owned()),
        }
    };
    match value {
        DeValue::Float(number) => plain(number.as_str()),
        DeValue::Integer(number) if number.radix() == 10 => plain(number.as_str()),
        DeValue::String(text) => quantity::parse(text, unit),
        _ => Err("write a number, or a quoted number with its unit such as \"1.57 in\"".to_owned()),
    }
}

fn within(value: f64, unit: Unit, low: f64, high: f64) -> Result<(), String> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    let symbol = unit.symbol();
    let space = if symbol.is_empty() { "" } else { " " };
    Err(format!("must lie between {low} and {high}{space}{symbol}"))
}
