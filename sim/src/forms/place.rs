//! Looking up keys of one table, in SI, with their defaults.

use super::document::{Document, Entry, Slot, Table, Value, Words, general, joined, numbered};
use super::keys::{Fallback, Key, Section, Unit};
use crate::spec::SpeedTable;
use crate::units::{BAR, CM3, DEG, ICE_POINT, MM, MM2};

/// One number of a unit in SI.
fn to_si(unit: Unit, value: f64) -> f64 {
    match unit {
        Unit::Millimetre => value * MM,
        Unit::SquareMillimetre => value * MM2,
        Unit::CubicCentimetre => value * CM3,
        Unit::Degree => value * DEG,
        Unit::Bar => value * BAR,
        Unit::Celsius => value + ICE_POINT,
        Unit::Gram => value * 1e-3,
        Unit::Gigapascal => value * 1e9,
        Unit::Megapascal => value * 1e6,
        Unit::Millisecond => value * 1e-3,
        Unit::WattPerKelvin
        | Unit::Hertz
        | Unit::KilogramPerCubicMetre
        | Unit::MetrePerSecond
        | Unit::WattPerSquareMetre
        | Unit::One => value,
    }
}

/// A difference of a unit in SI.
pub(super) fn difference_to_si(unit: Unit, value: f64) -> f64 {
    to_si(unit, value) - to_si(unit, 0.0)
}

/// One table of the file, there or not.
#[derive(Debug)]
pub struct Place<'a> {
    table: Option<&'a Table>,
    section: Option<&'static Section>,
    /// Its path.
    pub path: String,
}

impl<'a> Place<'a> {
    /// The table at a path, without an index left off.
    pub fn at(document: &'a Document, path: impl Into<String>) -> Self {
        let path = path.into();
        let table = document.table(&path);
        let section = || document.form().section(&general(&path));
        let section = table.map_or_else(section, |t| Some(t.section));
        Self { table, section, path }
    }

    /// Path of one of its keys.
    pub fn key(&self, name: &str) -> String {
        joined(&self.path, name)
    }

    /// Tables of an array, in order of the file.
    pub fn all(document: &'a Document, array: &str) -> Vec<Self> {
        (0..document.count(array)).map(|i| Self::at(document, numbered(array, i))).collect()
    }

    /// Whether the file has this table.
    pub fn is_there(&self) -> bool {
        self.table.is_some()
    }

    /// Whether the file gives one of its keys.
    pub fn gives(&self, name: &str) -> bool {
        matches!(self.find(name), (Some(_), ..))
    }

    /// What the file gives for one of its keys, with its place.
    pub fn entry(&self, name: &str) -> Option<&'a Entry> {
        match self.table?.slot(name)? {
            (_, Slot::Given(entry)) => Some(entry),
            _ => None,
        }
    }

    /// Whether the file gives one of its keys, rightly or wrongly.
    pub fn tries(&self, name: &str) -> bool {
        self.gives(name) || self.find(name).2
    }

    /// Words that the file gives.
    pub fn words(&self, name: &str) -> Option<&'a str> {
        match self.find(name) {
            (Some(Value::Text(text)), ..) => Some(text),
            _ => None,
        }
    }

    /// A number as written, in the key's unit; the key's own where the file gives none.
    pub fn written(&self, name: &str) -> Option<f64> {
        match self.find(name) {
            (Some(Value::Number(value)), ..) => Some(*value),
            (None, Some(Key { fallback: Fallback::Number(value), .. }), false) => Some(*value),
            _ => None,
        }
    }

    /// A list as written, in the key's unit.
    pub fn list(&self, name: &str) -> Option<&'a [f64]> {
        match self.find(name) {
            (Some(Value::Numbers(values)), ..) => Some(values),
            _ => None,
        }
    }

    /// Words of a list, with their bytes.
    pub fn list_of_words(&self, name: &str) -> &'a [Words] {
        match self.find(name) {
            (Some(Value::Words(words)), ..) => words,
            _ => &[],
        }
    }

    /// Whether the file gives a key wrongly.
    pub fn is_faulty(&self, name: &str) -> bool {
        self.find(name).2
    }

    /// Keys of any name, in order of the file.
    pub fn free(&self) -> &'a [(String, Entry)] {
        self.table.map_or(&[], Table::free)
    }

    /// Value, key, and whether it is given with a fault.
    fn find(&self, name: &str) -> (Option<&'a Value>, Option<&'static Key>, bool) {
        match self.table.and_then(|t| t.slot(name)) {
            Some((key, Slot::Given(entry))) => (Some(&entry.value), Some(key), false),
            Some((key, slot)) => (None, Some(key), *slot == Slot::Faulty),
            None => (None, self.section.and_then(|s| s.key(name)), false),
        }
    }

    /// A number in SI; none when neither the file nor the table of keys gives one, not a number when
    /// the file gives it wrongly.
    pub fn maybe(&self, name: &str) -> Option<f64> {
        let (value, key, faulty) = self.find(name);
        let key = key?;
        match (value, key.fallback) {
            (Some(Value::Number(value)), _) => Some(to_si(key.kind.unit(), *value)),
            _ if faulty => Some(f64::NAN),
            (None, Fallback::Number(value)) => Some(to_si(key.kind.unit(), value)),
            _ => None,
        }
    }

    /// A number in SI; not a number when there is none.
    pub fn number(&self, name: &str) -> f64 {
        self.maybe(name).unwrap_or(f64::NAN)
    }

    /// A list of numbers in SI; a single not-a-number when the file gives it wrongly.
    pub fn numbers(&self, name: &str) -> Option<Vec<f64>> {
        match self.find(name) {
            (Some(Value::Numbers(values)), Some(key), _) => {
                Some(values.iter().map(|v| to_si(key.kind.unit(), *v)).collect())
            }
            (_, _, true) => Some(vec![f64::NAN]),
            _ => None,
        }
    }

    /// Rows of numbers as written.
    pub fn rows(&self, name: &str) -> Option<Vec<Vec<f64>>> {
        match self.find(name) {
            (Some(Value::Rows(rows)), ..) => Some(rows.clone()),
            _ => None,
        }
    }

    /// Words; the key's own where the file gives none.
    pub fn text(&self, name: &str) -> String {
        match self.find(name) {
            (Some(Value::Text(text)), ..) => text.clone(),
            (None, Some(Key { fallback: Fallback::Text(text), .. }), _) => (*text).to_owned(),
            _ => String::new(),
        }
    }

    /// A truth; the key's own where the file gives none.
    pub fn flag(&self, name: &str) -> bool {
        match self.find(name) {
            (Some(Value::Flag(flag)), ..) => *flag,
            (None, Some(Key { fallback: Fallback::Flag(flag), .. }), _) => *flag,
            _ => false,
        }
    }

    /// Values over speed, times `sign`.
    pub fn over_speed(&self, name: &str, sign: f64) -> SpeedTable {
        match self.find(name) {
            (Some(Value::OverSpeed(rpm, values)), Some(key), _) => SpeedTable {
                rpm: rpm.clone(),
                value: values.iter().map(|v| sign * to_si(key.kind.unit(), *v)).collect(),
            },
            _ => SpeedTable::constant(sign * self.number(name)),
        }
    }
}
