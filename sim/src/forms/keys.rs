//! Keys and tables of a file: what a key is, its unit and range, its default, how it is measured.

/// Unit a bare number is taken in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Millimetres.
    Millimetre,
    /// Square millimetres.
    SquareMillimetre,
    /// Cubic centimetres.
    CubicCentimetre,
    /// Degrees of crank angle, or of arc.
    Degree,
    /// Bar, absolute.
    Bar,
    /// Degrees Celsius.
    Celsius,
    /// Grams.
    Gram,
    /// Watts per kelvin.
    WattPerKelvin,
    /// Hertz.
    Hertz,
    /// Gigapascals.
    Gigapascal,
    /// Megapascals.
    Megapascal,
    /// Kilograms per cubic metre.
    KilogramPerCubicMetre,
    /// Milliseconds.
    Millisecond,
    /// Metres per second.
    MetrePerSecond,
    /// Watts per square metre.
    WattPerSquareMetre,
    /// A plain number.
    One,
}

/// What a key holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Kind {
    /// One number between two limits, in the unit.
    Number(Unit, f64, f64),
    /// A list of numbers, each between the limits.
    Numbers(Unit, f64, f64),
    /// Rows of numbers.
    Rows(f64, f64),
    /// Pairs of a time in ms that rises and a share between 0 and 1.
    Schedule,
    /// `[least, most]`, or a table with either.
    Range,
    /// A whole number between two limits.
    Count(f64, f64),
    /// A number between two limits, or the empty text until there is one.
    Reading(f64, f64),
    /// A list of words.
    Words,
    /// A list of some of these words.
    Choices(&'static [&'static str]),
    /// A number, or a table `{ rpm = [..], value = [..] }`.
    OverSpeed(Unit, f64, f64),
    /// Words.
    Text,
    /// One of these words.
    Choice(&'static [&'static str]),
    /// True or false.
    Flag,
    /// Speeds: a list, or `"from:to:step"`.
    Speeds,
}

impl Kind {
    /// Unit of its numbers; [`Unit::One`] where it holds none.
    #[must_use]
    pub fn unit(self) -> Unit {
        match self {
            Self::Number(unit, ..) | Self::Numbers(unit, ..) | Self::OverSpeed(unit, ..) => unit,
            _ => Unit::One,
        }
    }

    /// Least and greatest number, in the unit.
    #[must_use]
    pub fn limits(self) -> Option<(f64, f64)> {
        match self {
            Self::Number(_, low, high)
            | Self::Numbers(_, low, high)
            | Self::OverSpeed(_, low, high)
            | Self::Count(low, high)
            | Self::Reading(low, high)
            | Self::Rows(low, high) => Some((low, high)),
            _ => None,
        }
    }
}

/// What stands in for a key that is not given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fallback {
    /// Nothing: the key must be given.
    Required,
    /// Nothing: it may be left out.
    Optional,
    /// This number, in the key's unit.
    Number(f64),
    /// These words.
    Text(&'static str),
    /// This truth.
    Flag(bool),
    /// What the words say; worked out from other keys.
    Derived(&'static str),
}

/// Error usual when a key is measured, as a half-width.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum UsualError {
    /// Not measured, or not known.
    Unknown,
    /// In the key's unit.
    Absolute(f64),
    /// As a share of the value.
    Share(f64),
}

/// One key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Key {
    /// Name in its table.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// What stands in for it.
    pub fallback: Fallback,
    /// What it is.
    pub meaning: &'static str,
    /// How it is measured and with which instrument; empty where it is a choice.
    pub how: &'static str,
    /// The usual error of doing so (common practice, no source).
    pub usual_error: UsualError,
    /// What one number of a list is called; empty for other kinds.
    pub each: &'static str,
}

/// Whether a file has a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Presence {
    /// Every engine file has it.
    Required,
    /// Left out, it is as if it stood there empty: its defaults hold.
    Defaults,
    /// Left out, the engine does not have the part.
    Optional,
}

/// Keys or tables of one table that say the same in different ways.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Either {
    /// Their names, the one that counts first.
    pub names: &'static [&'static str],
    /// Whether one of them must be given.
    pub required: bool,
    /// Whether more than one is a fault; else they are compared.
    pub exclusive: bool,
}

/// One table of the file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// Path, `[]` where it repeats; empty for the top.
    pub path: &'static str,
    /// Whether an engine file has it.
    pub presence: Presence,
    /// What it describes.
    pub meaning: &'static str,
    /// Its keys.
    pub keys: &'static [Key],
    /// What keys of any other name hold, where they may have any.
    pub free: Option<&'static Key>,
    /// Those that stand for each other.
    pub either: &'static [Either],
    /// How many there may be where it repeats, and keys of any name.
    pub most: usize,
}

/// Most tables of one kind where nothing else is said: more than anybody writes by hand.
pub const MOST_TABLES: usize = 200;
/// Most numbers, words or rows of a list.
pub const MOST_NUMBERS: usize = 10_000;

/// A kind of file: its tables in the order in which a workshop fills them in.
#[derive(Debug, PartialEq)]
pub struct Form {
    /// What such a file is called: `engine file`.
    pub name: &'static str,
    /// Whether its numbers may be given with a tolerance.
    pub tolerances: bool,
    /// Its tables.
    pub sections: &'static [Section],
}

impl Form {
    /// The table at a path, indices replaced by `[]`.
    #[must_use]
    pub fn section(&self, path: &str) -> Option<&'static Section> {
        self.sections.iter().find(|s| s.path == path)
    }
}

impl Section {
    /// A table that may be left out and then is as if it stood there empty.
    pub(super) const fn of(
        path: &'static str,
        meaning: &'static str,
        keys: &'static [Key],
    ) -> Self {
        let presence = Presence::Defaults;
        Self { path, presence, meaning, keys, free: None, either: &[], most: MOST_TABLES }
    }
    pub(super) const fn required(self) -> Self {
        Self { presence: Presence::Required, ..self }
    }
    pub(super) const fn optional(self) -> Self {
        Self { presence: Presence::Optional, ..self }
    }
    pub(super) const fn either(self, either: &'static [Either]) -> Self {
        Self { either, ..self }
    }
    pub(super) const fn free(self, key: &'static Key) -> Self {
        Self { free: Some(key), ..self }
    }
    pub(super) const fn at_most(self, most: usize) -> Self {
        Self { most, ..self }
    }

    /// The key called `name`.
    #[must_use]
    pub fn key(&self, name: &str) -> Option<&'static Key> {
        self.keys.iter().find(|k| k.name == name)
    }

    /// The other names for what the key called `name` says.
    pub fn alternatives(&self, name: &str) -> impl Iterator<Item = &'static str> {
        let group = self.either.iter().find(|e| e.names.contains(&name));
        let names = group.map_or(&[] as &[_], |e| e.names);
        let name = name.to_owned();
        names.iter().copied().filter(move |n| *n != name)
    }
}

impl Key {
    /// How it is measured, with the usual error: `Caliper; ±0.1 mm.` Empty where it is a choice.
    #[must_use]
    pub fn measuring(&self) -> String {
        let how = self.how;
        let symbol = match self.kind.unit() {
            Unit::Degree => "°".to_owned(),
            Unit::One => String::new(),
            unit => format!(" {}", unit.symbol()),
        };
        match self.usual_error {
            UsualError::Absolute(e) => format!("{how}; ±{e}{symbol}."),
            UsualError::Share(e) => format!("{how}; ±{} %.", 100.0 * e),
            UsualError::Unknown if how.is_empty() => String::new(),
            UsualError::Unknown => format!("{how}."),
        }
    }

    pub(super) const fn of(name: &'static str, kind: Kind, meaning: &'static str) -> Self {
        Self {
            name,
            kind,
            fallback: Fallback::Optional,
            meaning,
            how: "",
            usual_error: UsualError::Unknown,
            each: "",
        }
    }
    pub(super) const fn each(self, each: &'static str) -> Self {
        Self { each, ..self }
    }
    pub(super) const fn required(self) -> Self {
        Self { fallback: Fallback::Required, ..self }
    }
    pub(super) const fn or(self, value: f64) -> Self {
        Self { fallback: Fallback::Number(value), ..self }
    }
    pub(super) const fn or_flag(self, value: bool) -> Self {
        Self { fallback: Fallback::Flag(value), ..self }
    }
    pub(super) const fn or_text(self, value: &'static str) -> Self {
        Self { fallback: Fallback::Text(value), ..self }
    }
    pub(super) const fn or_else(self, words: &'static str) -> Self {
        Self { fallback: Fallback::Derived(words), ..self }
    }
    pub(super) const fn how(self, how: &'static str, error: f64) -> Self {
        Self { how, usual_error: UsualError::Absolute(error), ..self }
    }
    pub(super) const fn how_share(self, how: &'static str, share: f64) -> Self {
        Self { how, usual_error: UsualError::Share(share), ..self }
    }
}

pub(super) const fn number(
    name: &'static str,
    unit: Unit,
    low: f64,
    high: f64,
    meaning: &'static str,
) -> Key {
    Key::of(name, Kind::Number(unit, low, high), meaning)
}

pub(super) const fn list(
    name: &'static str,
    unit: Unit,
    low: f64,
    high: f64,
    meaning: &'static str,
) -> Key {
    Key::of(name, Kind::Numbers(unit, low, high), meaning)
}

pub(super) const fn over_speed(
    name: &'static str,
    unit: Unit,
    low: f64,
    high: f64,
    meaning: &'static str,
) -> Key {
    Key::of(name, Kind::OverSpeed(unit, low, high), meaning)
}

pub(super) const fn text(name: &'static str, meaning: &'static str) -> Key {
    Key::of(name, Kind::Text, meaning)
}

pub(super) const fn flag(name: &'static str, meaning: &'static str) -> Key {
    Key::of(name, Kind::Flag, meaning)
}

pub(super) const fn choice(
    name: &'static str,
    choices: &'static [&'static str],
    meaning: &'static str,
) -> Key {
    Key::of(name, Kind::Choice(choices), meaning)
}

pub(super) const fn schedule(name: &'static str, meaning: &'static str) -> Key {
    Key::of(name, Kind::Schedule, meaning)
}

pub(super) const fn count(name: &'static str, low: f64, high: f64, meaning: &'static str) -> Key {
    Key::of(name, Kind::Count(low, high), meaning)
}

pub(super) const fn words(name: &'static str, meaning: &'static str) -> Key {
    Key::of(name, Kind::Words, meaning)
}

pub(super) const fn range(name: &'static str, meaning: &'static str) -> Key {
    Key::of(name, Kind::Range, meaning)
}
