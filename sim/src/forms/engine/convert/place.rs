//! Looking up keys of one table, in SI, with their defaults.

use crate::forms::document::{Document, Slot, Table, Value, general, joined};
use crate::forms::engine::keys::{Fallback, Key, Section, Unit, section_at};
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
        Unit::WattPerKelvin | Unit::Hertz | Unit::KilogramPerCubicMetre | Unit::One => value,
    }
}

/// A difference of a unit in SI.
pub(in crate::forms::engine) fn difference_to_si(unit: Unit, value: f64) -> f64 {
    to_si(unit, value) - to_si(unit, 0.0)
}

/// The section that a table's path belongs to.
fn section_of(path: &str) -> Option<&'static Section> {
    if path.contains('[') { section_at(&general(path)) } else { section_at(path) }
}

/// One table of the file, there or not.
pub(super) struct Place<'a> {
    table: Option<&'a Table>,
    section: Option<&'static Section>,
    pub(super) path: String,
}

impl<'a> Place<'a> {
    pub(super) fn at(document: &'a Document, path: impl Into<String>) -> Self {
        let path = path.into();
        let table = document.table(&path);
        let section = table.map_or_else(|| section_of(&path), |t| Some(t.section));
        Self { table, section, path }
    }

    /// Path of one of its keys.
    pub(super) fn key(&self, name: &str) -> String {
        joined(&self.path, name)
    }

    /// Whether the file has this table.
    pub(super) fn is_there(&self) -> bool {
        self.table.is_some()
    }

    /// Whether the file gives one of its keys.
    pub(super) fn gives(&self, name: &str) -> bool {
        matches!(self.find(name), (Some(_), ..))
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
    pub(super) fn maybe(&self, name: &str) -> Option<f64> {
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
    pub(super) fn number(&self, name: &str) -> f64 {
        self.maybe(name).unwrap_or(f64::NAN)
    }

    /// A list of numbers in SI; a single not-a-number when the file gives it wrongly.
    pub(super) fn numbers(&self, name: &str) -> Option<Vec<f64>> {
        match self.find(name) {
            (Some(Value::Numbers(values)), Some(key), _) => {
                Some(values.iter().map(|v| to_si(key.kind.unit(), *v)).collect())
            }
            (_, _, true) => Some(vec![f64::NAN]),
            _ => None,
        }
    }

    pub(super) fn rows(&self, name: &str) -> Option<Vec<Vec<f64>>> {
        match self.find(name) {
            (Some(Value::Rows(rows)), ..) => Some(rows.clone()),
            _ => None,
        }
    }

    pub(super) fn text(&self, name: &str) -> String {
        match self.find(name) {
            (Some(Value::Text(text)), ..) => text.clone(),
            (None, Some(Key { fallback: Fallback::Text(text), .. }), _) => (*text).to_owned(),
            _ => String::new(),
        }
    }

    pub(super) fn flag(&self, name: &str) -> bool {
        match self.find(name) {
            (Some(Value::Flag(flag)), ..) => *flag,
            (None, Some(Key { fallback: Fallback::Flag(flag), .. }), _) => *flag,
            _ => false,
        }
    }

    /// Values over speed, times `sign`.
    pub(super) fn over_speed(&self, name: &str, sign: f64) -> SpeedTable {
        match self.find(name) {
            (Some(Value::OverSpeed(rpm, values)), Some(key), _) => SpeedTable {
                rpm: rpm.clone(),
                value: values.iter().map(|v| sign * to_si(key.kind.unit(), *v)).collect(),
            },
            _ => SpeedTable::constant(sign * self.number(name)),
        }
    }
}
