//! One value of the file as its key wants it.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeArray, DeValue};

use super::document::Value;
use super::fault::FaultKind;
use super::keys::{Fallback, Key, Kind, MOST_NUMBERS, Unit, UsualError};
use super::quantity::{self, Quantity};
use super::speeds::parse_speeds;

/// A value with the half-width of each of its numbers that has one.
pub(super) type Read = (Value, Vec<(Option<usize>, f64)>);

/// Why a value is refused.
pub(super) struct Refusal {
    pub(super) kind: FaultKind,
    pub(super) remedy: String,
    /// Bytes of the offending part; none for the whole value.
    pub(super) span: Option<Range<usize>>,
}

impl Refusal {
    fn wrong(remedy: impl Into<String>) -> Self {
        Self { kind: FaultKind::WrongKind, remedy: remedy.into(), span: None }
    }

    fn at(self, span: Range<usize>) -> Self {
        Self { span: self.span.or(Some(span)), ..self }
    }
}

/// Reads a value as the key wants it.
pub(super) fn read(key: &Key, value: &Spanned<DeValue>) -> Result<Read, Refusal> {
    let inner = value.get_ref();
    match key.kind {
        Kind::Number(..) => number(key, inner),
        Kind::Numbers(unit, ..) => {
            let (values, tolerances) = numbers(key, unit, inner)?;
            Ok((Value::Numbers(values), tolerances))
        }
        Kind::Rows(..) => rows(key, inner),
        Kind::Schedule => schedule(key, inner),
        Kind::Range => range(inner),
        Kind::Count(..) => count(key, inner),
        Kind::Reading(..) => reading(key, inner),
        Kind::Words => words(inner, None),
        Kind::Choices(choices) => words(inner, Some(choices)),
        Kind::OverSpeed(..) => over_speed(key, inner),
        Kind::Text => match inner {
            DeValue::String(text) => plain(Value::Text(text.to_string())),
            _ => Err(Refusal::wrong("write words in quotes")),
        },
        Kind::Choice(choices) => match inner {
            DeValue::String(text) if choices.contains(&text.as_ref()) => {
                plain(Value::Text(text.to_string()))
            }
            _ => Err(Refusal::wrong(format!("write one of \"{}\"", choices.join("\", \"")))),
        },
        Kind::Flag => match inner {
            DeValue::Boolean(flag) => plain(Value::Flag(*flag)),
            _ => Err(Refusal::wrong("write true or false, without quotes")),
        },
        Kind::Speeds => speeds(inner),
    }
}

fn plain(value: Value) -> Result<Read, Refusal> {
    Ok((value, Vec::new()))
}

fn number(key: &Key, value: &DeValue) -> Result<Read, Refusal> {
    let q = quantity(value, key.kind.unit())?;
    within(key, q.value)?;
    Ok((Value::Number(q.value), q.tolerance.map(|t| (None, t)).into_iter().collect()))
}

type List = (Vec<f64>, Vec<(Option<usize>, f64)>);

fn numbers(key: &Key, unit: Unit, value: &DeValue) -> Result<List, Refusal> {
    let DeValue::Array(items) = value else {
        return Err(Refusal::wrong(
            "write a list of numbers in brackets, such as [0.4] or [0.4, 0.2]",
        ));
    };
    not_too_many(items)?;
    let (mut values, mut tolerances) = (Vec::new(), Vec::new());
    for (i, item) in items.iter().enumerate() {
        let q = quantity(item.get_ref(), unit).map_err(|r| r.at(item.span()))?;
        within(key, q.value).map_err(|r| r.at(item.span()))?;
        values.push(q.value);
        tolerances.extend(q.tolerance.map(|t| (Some(i), t)));
    }
    Ok((values, tolerances))
}

fn rows(key: &Key, value: &DeValue) -> Result<Read, Refusal> {
    let DeValue::Array(rows) = value else {
        return Err(Refusal::wrong("write rows of numbers: [[0.7, 0.8], [0.6, 0.7]]"));
    };
    not_too_many(rows)?;
    let rows: Result<Vec<_>, _> = rows
        .iter()
        .map(|r| numbers(key, Unit::One, r.get_ref()).map(|l| l.0).map_err(|e| e.at(r.span())))
        .collect();
    plain(Value::Rows(rows?))
}

fn over_speed(key: &Key, value: &DeValue) -> Result<Read, Refusal> {
    let DeValue::Table(table) = value else { return number(key, value) };
    let part = |name: &str| table.iter().find(|(k, _)| k.get_ref() == name).map(|(_, v)| v);
    let (Some(rpm), Some(values), 2) = (part("rpm"), part("value"), table.len()) else {
        return Err(Refusal::wrong("write a number or { rpm = [..], value = [..] }"));
    };
    let speeds =
        Key { kind: Kind::Numbers(Unit::One, 0.0, 50_000.0), meaning: "Speeds in 1/min.", ..*key };
    let (rpm, _) = numbers(&speeds, Unit::One, rpm.get_ref())?;
    let (values, _) = numbers(key, key.kind.unit(), values.get_ref())?;
    if rpm.is_empty() || rpm.len() != values.len() || !rising(&rpm) {
        return Err(Refusal::wrong("rpm must rise and have as many numbers as value"));
    }
    plain(Value::OverSpeed(rpm, values))
}

fn speeds(value: &DeValue) -> Result<Read, Refusal> {
    if let DeValue::String(text) = value {
        return parse_speeds(text).map(|s| (Value::Numbers(s), Vec::new())).map_err(Refusal::wrong);
    }
    let key = Key {
        kind: Kind::Numbers(Unit::One, 100.0, 30_000.0),
        meaning: "Speeds in 1/min.",
        ..PLAIN
    };
    let (speeds, _) = numbers(&key, Unit::One, value).map_err(|mut r| {
        if r.span.is_none() {
            r.remedy = "write a list such as [4000, 6000] or \"3000:9000:500\"".to_owned();
        }
        r
    })?;
    if speeds.is_empty() {
        return Err(Refusal::wrong("give at least one speed"));
    }
    plain(Value::Numbers(speeds))
}

/// A key of which nothing is said.
const PLAIN: Key = Key {
    name: "",
    kind: Kind::Text,
    fallback: Fallback::Optional,
    meaning: "",
    each: "",
    how: "",
    usual_error: UsualError::Unknown,
};

fn not_too_many(items: &DeArray) -> Result<(), Refusal> {
    if items.len() <= MOST_NUMBERS {
        return Ok(());
    }
    let remedy = format!("has {} entries; a list has at most {MOST_NUMBERS}", items.len());
    Err(Refusal { kind: FaultKind::OutOfRange, remedy, span: None })
}

/// Pairs of a time in ms that rises and a share.
fn schedule(key: &Key, value: &DeValue) -> Result<Read, Refusal> {
    let remedy = "write pairs of time in ms and open share, such as [[0.0, 0.0], [0.5, 1.0]]";
    let DeValue::Array(items) = value else { return Err(Refusal::wrong(remedy)) };
    not_too_many(items)?;
    let of = |kind, meaning| Key { kind, meaning, ..*key };
    let time = of(Kind::Number(Unit::Millisecond, 0.0, 1e5), "time");
    let share = of(Kind::Number(Unit::One, 0.0, 1.0), "open share");
    let mut rows: Vec<Vec<f64>> = Vec::new();
    for item in items {
        let wrong = |remedy: &str| Refusal::wrong(remedy).at(item.span());
        let DeValue::Array(pair) = item.get_ref() else { return Err(wrong(remedy)) };
        let (Some(at), Some(open), 2) = (pair.first(), pair.get(1), pair.len()) else {
            return Err(wrong(remedy));
        };
        let part = |key: &Key, part: &Spanned<DeValue>| {
            let q = quantity(part.get_ref(), key.kind.unit()).map_err(|r| r.at(part.span()))?;
            within(key, q.value).map_err(|r| r.at(part.span()))?;
            Ok(q.value)
        };
        let point = vec![part(&time, at)?, part(&share, open)?];
        if rows.last().is_some_and(|last| point[0] <= last[0]) {
            return Err(wrong("times must rise"));
        }
        rows.push(point);
    }
    if rows.is_empty() { Err(Refusal::wrong(remedy)) } else { plain(Value::Rows(rows)) }
}

/// Least and most.
fn range(value: &DeValue) -> Result<Read, Refusal> {
    const REMEDY: &str = "write [least, most], or { least = … } or { most = … }";
    let bound = |part: &Spanned<DeValue>| {
        let q = quantity(part.get_ref(), Unit::One).map_err(|r| r.at(part.span()))?;
        Ok::<f64, Refusal>(q.value)
    };
    let (least, most) = match value {
        DeValue::Array(items) if items.len() == 2 => {
            (items.first().map(bound).transpose()?, items.get(1).map(bound).transpose()?)
        }
        DeValue::Table(table) => {
            let of = |name: &str| table.iter().find(|(k, _)| k.get_ref() == name).map(|(_, v)| v);
            let (least, most) = (of("least"), of("most"));
            let known = usize::from(least.is_some()) + usize::from(most.is_some());
            if known == 0 || known < table.len() {
                return Err(Refusal::wrong(REMEDY));
            }
            (least.map(bound).transpose()?, most.map(bound).transpose()?)
        }
        _ => return Err(Refusal::wrong(REMEDY)),
    };
    if least.zip(most).is_some_and(|(l, m)| l > m) {
        let kind = FaultKind::Contradiction;
        let remedy = "the least is greater than the most".to_owned();
        return Err(Refusal { kind, remedy, span: None });
    }
    plain(Value::Range(least, most))
}

fn count(key: &Key, value: &DeValue) -> Result<Read, Refusal> {
    let whole = || Refusal::wrong("write a whole number, without quotes");
    let DeValue::Integer(number) = value else { return Err(whole()) };
    let value = quantity(value, Unit::One).map_err(|_| whole())?.value;
    if number.radix() != 10 {
        return Err(whole());
    }
    within(key, value)?;
    plain(Value::Number(value))
}

/// A number, with a point or a comma, or nothing yet.
fn reading(key: &Key, value: &DeValue) -> Result<Read, Refusal> {
    let wrong = || {
        Refusal::wrong(
            "write a number with a decimal point and without quotes, or leave \"\" until there is one",
        )
    };
    let value = match value {
        DeValue::String(text) if text.trim().is_empty() => {
            return plain(Value::Text(String::new()));
        }
        DeValue::String(text) => {
            let number = text.trim().replace(',', ".").parse::<f64>().ok();
            number.filter(|v| v.is_finite()).ok_or_else(wrong)?
        }
        other => quantity(other, Unit::One).map_err(|_| wrong())?.value,
    };
    within(key, value)?;
    plain(Value::Number(value))
}

fn words(value: &DeValue, choices: Option<&[&str]>) -> Result<Read, Refusal> {
    let DeValue::Array(items) = value else {
        return Err(Refusal::wrong("write a list of words in brackets: [\"one\", \"another\"]"));
    };
    not_too_many(items)?;
    let mut words = Vec::new();
    for item in items {
        match (item.get_ref(), choices) {
            (DeValue::String(text), Some(choices)) if !choices.contains(&text.as_ref()) => {
                let remedy = format!("write only \"{}\" here", choices.join("\", \""));
                return Err(Refusal::wrong(remedy).at(item.span()));
            }
            (DeValue::String(text), _) => words.push((text.to_string(), item.span())),
            _ => return Err(Refusal::wrong("write words in quotes").at(item.span())),
        }
    }
    plain(Value::Words(words))
}

/// Whether each number is greater than the one before.
pub(super) fn rising(values: &[f64]) -> bool {
    values.windows(2).all(|w| w[1] > w[0])
}

fn quantity(value: &DeValue, unit: Unit) -> Result<Quantity, Refusal> {
    let bare = |text: &str| {
        let digits = text.replace('_', "");
        match digits.parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(Quantity { value, tolerance: None }),
            _ => Err(Refusal::wrong("write a finite number")),
        }
    };
    match value {
        DeValue::Float(number) => bare(number.as_str()),
        DeValue::Integer(number) if number.radix() == 10 => bare(number.as_str()),
        DeValue::Integer(_) => Err(Refusal::wrong("write a decimal number")),
        DeValue::String(text) => quantity::parse(text, unit).map_err(Refusal::wrong),
        DeValue::Array(_) => Err(Refusal::wrong("write one number, without brackets")),
        _ => Err(Refusal::wrong(quantity::wanted(unit))),
    }
}

/// Whether a number lies between the limits of its key.
pub(super) fn within(key: &Key, value: f64) -> Result<(), Refusal> {
    let Some((low, high)) = key.kind.limits() else { return Ok(()) };
    if (low..=high).contains(&value) {
        return Ok(());
    }
    let symbol = key.kind.unit().symbol();
    let space = if symbol.is_empty() { "" } else { " " };
    let meaning = key.meaning.trim_end_matches('.');
    let remedy = format!("must lie between {low} and {high}{space}{symbol} ({meaning})");
    Err(Refusal { kind: FaultKind::OutOfRange, remedy, span: None })
}
