//! From the text of a rig file to its values, each with its place, and every fault of form.

use std::collections::BTreeMap;
use std::ops::Range;

use freshcharge_sim::pipe::Schedule;
use freshcharge_sim::scenario::keys::Unit;
use freshcharge_sim::scenario::{Fault, FaultKind, parse_quantity};
use freshcharge_sim::units::ICE_POINT;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::keys::{Key, Kind, TOP};

/// A value in SI.
#[derive(Debug, Clone)]
enum Value {
    Number(f64),
    Numbers(Vec<f64>),
    Schedule(Schedule),
    Text(String),
    Flag(bool),
}

/// One table of the file.
#[derive(Debug, Clone)]
pub(super) struct Table {
    /// Its path.
    pub(super) path: String,
    span: Range<usize>,
    keys: &'static [Key],
    values: BTreeMap<&'static str, (Value, Range<usize>)>,
    /// Keys that are there but cannot be read.
    faulty: Vec<&'static str>,
    children: BTreeMap<&'static str, Vec<Table>>,
}

/// The text with the faults found in it so far.
pub(super) struct Reading<'a> {
    text: &'a str,
    /// Every fault.
    pub(super) faults: Vec<Fault>,
}

impl<'a> Reading<'a> {
    /// Reads a file; none where it is not TOML.
    pub(super) fn read(text: &'a str) -> (Self, Option<Table>) {
        let mut reading = Self { text, faults: Vec::new() };
        let (root, errors) = DeTable::parse_recoverable(text);
        if let Some(error) = errors.first() {
            let span = error.span().unwrap_or(0..0);
            let message = crate::faults::syntax_remedy(text, error).replace('`', "\"");
            let remedy = if message.starts_with("write ") {
                message
            } else {
                format!(
                    "cannot be read as TOML: {message}; write key = value, words and units in quotes"
                )
            };
            reading.fault(FaultKind::Syntax, &span, "", remedy);
            return (reading, None);
        }
        let table = reading.table("", root.get_ref(), 0..0, TOP);
        (reading, Some(table))
    }

    /// Adds a fault at given bytes.
    pub(super) fn fault(
        &mut self,
        kind: FaultKind,
        span: &Range<usize>,
        key: &str,
        remedy: impl Into<String>,
    ) {
        let mut start = span.start.min(self.text.len());
        while !self.text.is_char_boundary(start) {
            start -= 1;
        }
        let before = &self.text[..start];
        let line = before.matches('\n').count() + 1;
        let column = before[before.rfind('\n').map_or(0, |i| i + 1)..].chars().count() + 1;
        let found = self.text.get(span.clone()).unwrap_or_default();
        let found = if kind == FaultKind::Missing || found.contains('\n') { "" } else { found };
        self.faults.push(Fault {
            kind,
            span: span.clone(),
            line,
            column,
            key: key.to_owned(),
            found: found.chars().take(60).collect(),
            remedy: remedy.into(),
        });
    }

    fn table(
        &mut self,
        path: &str,
        from: &DeTable,
        span: Range<usize>,
        keys: &'static [Key],
    ) -> Table {
        let mut table = Table {
            path: path.to_owned(),
            span,
            keys,
            values: BTreeMap::new(),
            faulty: Vec::new(),
            children: BTreeMap::new(),
        };
        for (name, value) in from {
            let here = joined(path, name.get_ref());
            let Some(key) = keys.iter().find(|k| k.name == name.get_ref().as_ref()) else {
                let remedy = unknown(name.get_ref(), keys);
                self.fault(FaultKind::Unknown, &name.span(), &here, remedy);
                continue;
            };
            if let Kind::Tables(inner) = key.kind {
                let children = self.tables(&here, key, inner, value);
                table.children.insert(key.name, children);
                continue;
            }
            match read(key, value) {
                Ok(read) => {
                    table.values.insert(key.name, (read, value.span()));
                }
                Err((kind, span, remedy)) => {
                    self.fault(kind, &span, &here, remedy);
                    table.faulty.push(key.name);
                }
            }
        }
        table
    }

    fn tables(
        &mut self,
        path: &str,
        key: &Key,
        keys: &'static [Key],
        value: &Spanned<DeValue>,
    ) -> Vec<Table> {
        let DeValue::Array(items) = value.get_ref() else {
            let remedy = format!("write [[{}]] in double brackets for each", path_name(path));
            self.fault(FaultKind::WrongKind, &value.span(), path, remedy);
            return Vec::new();
        };
        let mut children = Vec::new();
        for (index, item) in items.iter().enumerate() {
            let here = format!("{path}[{index}]");
            if let DeValue::Table(table) = item.get_ref() {
                children.push(self.table(&here, table, item.span(), keys));
            } else {
                let remedy = format!("write [[{}]] with its keys below: {}", key.name, key.meaning);
                self.fault(FaultKind::WrongKind, &item.span(), &here, remedy);
            }
        }
        children
    }

    /// A number that must be there; NaN, with a fault, where it is not.
    pub(super) fn needed(&mut self, table: &Table, name: &str) -> f64 {
        match table.number(name) {
            Some(value) => value,
            None => {
                self.missing(table, name);
                f64::NAN
            }
        }
    }

    /// Words that must be there; empty, with a fault, where they are not.
    pub(super) fn needed_text(&mut self, table: &Table, name: &str) -> String {
        match table.text(name) {
            Some(text) => text.to_owned(),
            None => {
                self.missing(table, name);
                String::new()
            }
        }
    }

    fn missing(&mut self, table: &Table, name: &str) {
        if table.faulty.contains(&name) {
            return;
        }
        let meaning = table.keys.iter().find(|k| k.name == name).map_or("", |k| k.meaning);
        let span = table.span.start..table.span.start;
        let remedy = format!("missing: {meaning}");
        self.fault(FaultKind::Missing, &span, &joined(&table.path, name), remedy);
    }
}

impl Table {
    /// A number in SI.
    pub(super) fn number(&self, name: &str) -> Option<f64> {
        match self.values.get(name) {
            Some((Value::Number(value), _)) => Some(*value),
            _ => None,
        }
    }

    /// A list of numbers in SI.
    pub(super) fn numbers(&self, name: &str) -> Option<&[f64]> {
        match self.values.get(name) {
            Some((Value::Numbers(values), _)) => Some(values),
            _ => None,
        }
    }

    /// A schedule; always open where it is left out.
    pub(super) fn schedule(&self, name: &str) -> Schedule {
        match self.values.get(name) {
            Some((Value::Schedule(schedule), _)) => schedule.clone(),
            _ => Schedule::default(),
        }
    }

    /// Words.
    pub(super) fn text(&self, name: &str) -> Option<&str> {
        match self.values.get(name) {
            Some((Value::Text(text), _)) => Some(text),
            _ => None,
        }
    }

    /// A truth; false where it is left out.
    pub(super) fn flag(&self, name: &str) -> bool {
        matches!(self.values.get(name), Some((Value::Flag(true), _)))
    }

    /// Whether the file gives a key, rightly or wrongly.
    pub(super) fn gives(&self, name: &str) -> bool {
        self.values.contains_key(name) || self.faulty.contains(&name)
    }

    /// Tables in it.
    pub(super) fn children(&self, name: &str) -> &[Table] {
        self.children.get(name).map_or(&[], Vec::as_slice)
    }

    /// Bytes of a value, else of the table's header.
    pub(super) fn span(&self, name: &str) -> Range<usize> {
        let header = self.span.start..self.span.start;
        self.values.get(name).map_or(header, |v| v.1.clone())
    }
}

/// Path of something in a table.
pub(super) fn joined(path: &str, name: &str) -> String {
    if path.is_empty() { name.to_owned() } else { format!("{path}.{name}") }
}

/// Path without its numbers.
fn path_name(path: &str) -> String {
    let mut out = String::new();
    let mut inside = false;
    for c in path.chars() {
        match c {
            '[' => inside = true,
            ']' => inside = false,
            _ if inside => {}
            _ => out.push(c),
        }
    }
    out
}

fn unknown(name: &str, keys: &[Key]) -> String {
    let near = keys
        .iter()
        .map(|k| (strsim::damerau_levenshtein(name, k.name), k.name))
        .min()
        .filter(|(distance, _)| *distance <= 3);
    if let Some((_, near)) = near {
        return format!("there is no such key here; did you mean {near}?");
    }
    let names: Vec<&str> = keys.iter().map(|k| k.name).collect();
    format!("there is no such key here; there are {}", names.join(", "))
}

type Refusal = (FaultKind, Range<usize>, String);

fn read(key: &Key, value: &Spanned<DeValue>) -> Result<Value, Refusal> {
    let wrong = |remedy: &str| (FaultKind::WrongKind, value.span(), remedy.to_owned());
    match (key.kind, value.get_ref()) {
        (Kind::Number { unit, symbol, factor, low, high }, _) => {
            let limits = Limits { symbol, low, high, meaning: key.meaning };
            let written = number(value, unit, &limits)?;
            let offset = if unit == Unit::Celsius { ICE_POINT } else { 0.0 };
            Ok(Value::Number(written * factor + offset))
        }
        (Kind::Numbers { symbol, factor, low, high }, DeValue::Array(items)) => {
            let limits = Limits { symbol, low, high, meaning: key.meaning };
            let values: Result<Vec<f64>, _> =
                items.iter().map(|i| number(i, Unit::One, &limits).map(|v| v * factor)).collect();
            values.map(Value::Numbers)
        }
        (Kind::Numbers { .. }, _) => Err(wrong("write a list in brackets, such as [0.5, 1.0]")),
        (Kind::Schedule, _) => schedule(value).map(Value::Schedule),
        (Kind::Text, DeValue::String(text)) => Ok(Value::Text(text.to_string())),
        (Kind::Choice(choices), DeValue::String(text)) if choices.contains(&text.as_ref()) => {
            Ok(Value::Text(text.to_string()))
        }
        (Kind::Choice(choices), _) => {
            Err(wrong(&format!("write one of \"{}\"", choices.join("\", \""))))
        }
        (Kind::Flag, DeValue::Boolean(flag)) => Ok(Value::Flag(*flag)),
        (Kind::Flag, _) => Err(wrong("write true or false, without quotes")),
        (Kind::Text | Kind::Tables(_), _) => Err(wrong("write words in quotes")),
    }
}

struct Limits {
    symbol: &'static str,
    low: f64,
    high: f64,
    meaning: &'static str,
}

fn number(value: &Spanned<DeValue>, unit: Unit, limits: &Limits) -> Result<f64, Refusal> {
    let wrong = |remedy: String| (FaultKind::WrongKind, value.span(), remedy);
    let space = if limits.symbol.is_empty() { "" } else { " in " };
    let written = match value.get_ref() {
        DeValue::Float(number) => number.as_str().replace('_', "").parse().ok(),
        DeValue::Integer(number) if number.radix() == 10 => {
            number.as_str().replace('_', "").parse().ok()
        }
        DeValue::String(text) => Some(parse_quantity(text, unit).map_err(wrong)?),
        _ => None,
    };
    let written = written.filter(|v: &f64| v.is_finite()).ok_or_else(|| {
        wrong(format!("write a number{space}{} ({})", limits.symbol, limits.meaning))
    })?;
    if (limits.low..=limits.high).contains(&written) {
        return Ok(written);
    }
    let gap = if limits.symbol.is_empty() { "" } else { " " };
    let remedy = format!(
        "must lie between {} and {}{gap}{} ({})",
        limits.low, limits.high, limits.symbol, limits.meaning
    );
    Err((FaultKind::OutOfRange, value.span(), remedy))
}

fn schedule(value: &Spanned<DeValue>) -> Result<Schedule, Refusal> {
    let remedy = "write pairs of time in ms and open share, such as [[0.0, 0.0], [0.5, 1.0]]";
    let wrong = |span: Range<usize>, remedy: &str| (FaultKind::WrongKind, span, remedy.to_owned());
    let DeValue::Array(rows) = value.get_ref() else { return Err(wrong(value.span(), remedy)) };
    let time = Limits { symbol: "ms", low: 0.0, high: 1e5, meaning: "time" };
    let share = Limits { symbol: "", low: 0.0, high: 1.0, meaning: "open share" };
    let mut points: Vec<(f64, f64)> = Vec::new();
    for row in rows {
        let DeValue::Array(pair) = row.get_ref() else { return Err(wrong(row.span(), remedy)) };
        let pair: Vec<_> = pair.iter().collect();
        let [at, open] = pair[..] else { return Err(wrong(row.span(), remedy)) };
        let point = (1e-3 * number(at, Unit::One, &time)?, number(open, Unit::One, &share)?);
        if points.last().is_some_and(|last| point.0 <= last.0) {
            return Err(wrong(row.span(), "times must rise"));
        }
        points.push(point);
    }
    if points.is_empty() {
        return Err(wrong(value.span(), remedy));
    }
    Ok(Schedule::new(points))
}
