//! Answers judged against the answers before them, for whatever asks for measurements one by one: what
//! cannot be is a fault, what is unusual is a doubt that the person at the bench may confirm.
//!
//! What has not been answered yet is not a number, and no rule speaks where a number it needs is missing:
//! a doubt or a fault appears with the answer that completes it.

mod engine;
mod ports;
mod slip;

pub(super) use engine::{assembled, squish_band_volume};

use super::convert::Conversion;
use super::keys::Unit;
use super::{Document, FaultKind, Faults, Value, general, joined, key_at, place_known};
use crate::spec::EngineSpec;

/// What a measurement usually lies between, given those before it (common practice, no source).
#[derive(Debug, Clone, PartialEq)]
pub struct Usual {
    /// Least, in the key's unit.
    pub low: f64,
    /// Greatest, in the key's unit.
    pub high: f64,
    /// What it rests on, in words: `1.6 to 2.5 times the stroke`.
    pub why: String,
}

/// An answer outside what is usual.
#[derive(Debug, Clone, PartialEq)]
pub struct Doubt {
    /// Path of the key.
    pub key: String,
    /// The answer, in the key's unit.
    pub value: f64,
    /// What is usual.
    pub usual: Usual,
    /// What the answer would make, in words.
    pub makes: Option<String>,
    /// The slip that is likely, in words.
    pub slip: Option<String>,
}

impl std::fmt::Display for Doubt {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let unit = key_at(&self.key).map_or(Unit::One, |(_, key)| key.kind.unit());
        write!(f, "{} is unusual", with_unit(self.value, unit))?;
        if let Some(makes) = &self.makes {
            write!(f, ": it makes {makes}")?;
        }
        write!(f, ". Usual is {}", self.usual.words(unit))?;
        if let Some(slip) = &self.slip {
            write!(f, " {slip}")?;
        }
        Ok(())
    }
}

impl Usual {
    /// The range and what it rests on: `83 to 130 mm (1.6 to 2.5 times the stroke).`
    #[must_use]
    pub fn words(&self, unit: Unit) -> String {
        let spread = (self.high - self.low).abs();
        let digits = usize::from(spread < 30.0) + usize::from(spread < 3.0);
        let (low, high) = (self.low, self.high);
        let why = if self.why.is_empty() { String::new() } else { format!(" ({})", self.why) };
        format!("{low:.digits$} to {high:.digits$}{}{why}.", symbol(unit))
    }
}

/// A number with its unit, without digits that say nothing.
fn with_unit(value: f64, unit: Unit) -> String {
    let rounded = (value * 100.0).round() / 100.0;
    format!("{rounded}{}", symbol(unit))
}

/// What stands behind a number of a unit.
fn symbol(unit: Unit) -> String {
    match unit {
        Unit::One => String::new(),
        Unit::Degree => "°".to_owned(),
        unit => format!(" {}", unit.symbol()),
    }
}

/// An engine file in the making, which need not be complete.
#[derive(Debug)]
pub struct Answers {
    document: Document,
    spec: EngineSpec,
    faults: Faults,
}

impl Answers {
    /// Reads the answers so far, written as an engine file.
    ///
    /// ```
    /// use freshcharge_sim::scenario::Answers;
    /// let so_far = Answers::read("[crank_train]\nbore_mm = 54\nstroke_mm = 54\nrod_mm = 54\n");
    /// assert!(so_far.faults().is_empty());
    /// let doubt = so_far.doubt("crank_train.rod_mm").unwrap();
    /// assert!(doubt.to_string().contains("the stroke again"));
    /// ```
    #[must_use]
    pub fn read(text: &str) -> Self {
        let (document, mut faults) = Document::read(text, super::keys::FORM);
        let mut conversion = Conversion::new(&document, None);
        let spec = conversion.spec();
        faults.extend(std::mem::take(&mut conversion.faults));
        let placed = |path: &str| place_known(&document, path);
        let rules = super::rules::check_placed(&spec, &placed);
        faults.extend(super::implausible(&document, rules));
        faults.retain(|f| f.kind != FaultKind::Missing);
        Self { document, spec, faults: faults.in_order() }
    }

    /// What no engine can be; what is merely missing is left out.
    #[must_use]
    pub fn faults(&self) -> &Faults {
        &self.faults
    }

    /// What is usual for a key, given the answers; none where they do not tell.
    #[must_use]
    pub fn usual(&self, path: &str) -> Option<Usual> {
        let here = Here { spec: &self.spec, document: &self.document, path };
        let key = general(path);
        let rules = engine::RULES.iter().chain(ports::RULES);
        let rule = rules.clone().find(|r| r.keys.contains(&key.as_str()))?;
        let usual = (rule.usual)(&here)?;
        (usual.low.is_finite() && usual.high.is_finite()).then_some(usual)
    }

    /// What an answer makes together with those before it: a timing, a ratio, a gap, in words.
    #[must_use]
    pub fn makes(&self, path: &str) -> Option<String> {
        let here = Here { spec: &self.spec, document: &self.document, path };
        let key = general(path);
        let mut rules = engine::RULES.iter().chain(ports::RULES);
        let rule = rules.find(|r| r.keys.contains(&key.as_str()))?;
        (rule.makes)(&here).filter(|words| !words.contains("NaN") && !words.contains("inf"))
    }

    /// The doubt about an answer, if it is outside what is usual.
    #[must_use]
    pub fn doubt(&self, path: &str) -> Option<Doubt> {
        let usual = self.usual(path)?;
        // a hair outside is rounding of the range as it is shown
        let slack = 0.005 * (usual.high - usual.low);
        let outside = |v: &f64| !(usual.low - slack..=usual.high + slack).contains(v);
        let value = self.values(path).into_iter().find(outside)?;
        let here = Here { spec: &self.spec, document: &self.document, path };
        let slip = slip::likely(&here, value, &usual);
        Some(Doubt { key: path.to_owned(), value, makes: self.makes(path), usual, slip })
    }

    /// Numbers of an answer, a direction without its sign: both sides of the bore are alike.
    fn values(&self, path: &str) -> Vec<f64> {
        let values = match self.document.entry(path).map(|e| &e.value) {
            Some(Value::Number(value)) => vec![*value],
            Some(Value::Numbers(values)) => values.clone(),
            _ => Vec::new(),
        };
        let side = path.ends_with(".centre_deg");
        values.into_iter().map(|v| if side { v.abs() } else { v }).collect()
    }
}

/// Where a rule looks.
struct Here<'a> {
    spec: &'a EngineSpec,
    document: &'a Document,
    path: &'a str,
}

impl Here<'_> {
    /// Number between the brackets that come `nth` in the path.
    fn index(&self, nth: usize) -> usize {
        let part = self.path.split('[').nth(nth + 1).and_then(|p| p.split(']').next());
        part.and_then(|p| p.parse().ok()).unwrap_or(0)
    }

    /// A number as the file gives it, in its key's unit.
    fn number(&self, path: &str) -> Option<f64> {
        match self.document.entry(path)?.value {
            Value::Number(value) => Some(value),
            _ => None,
        }
    }

    fn text(&self, path: &str) -> Option<&str> {
        match &self.document.entry(path)?.value {
            Value::Text(text) => Some(text),
            _ => None,
        }
    }

    /// A key of the same table.
    fn beside(&self, name: &str) -> String {
        let table = self.path.rsplit_once('.').map_or("", |p| p.0);
        joined(table, name)
    }
}

/// What is usual for some keys, and what their answer makes.
struct Rule {
    /// General paths.
    keys: &'static [&'static str],
    usual: fn(&Here) -> Option<Usual>,
    makes: fn(&Here) -> Option<String>,
}

const fn rule(
    keys: &'static [&'static str],
    usual: fn(&Here) -> Option<Usual>,
    makes: fn(&Here) -> Option<String>,
) -> Rule {
    Rule { keys, usual, makes }
}

fn between(low: f64, high: f64, why: impl Into<String>) -> Option<Usual> {
    Some(Usual { low, high, why: why.into() })
}

/// Between two multiples of a length [m], in mm.
fn times(low: f64, high: f64, length: f64, what: &str) -> Option<Usual> {
    use crate::units::MM;
    between(low * length / MM, high * length / MM, format!("{low} to {high} times {what}"))
}

fn nothing(_: &Here) -> Option<String> {
    None
}
