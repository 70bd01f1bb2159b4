//! Engine files: text in, a checked specification or every fault out. The only module that knows TOML.

mod convert;
mod document;
mod fault;
pub mod keys;
mod quantity;
mod rules;

pub use document::{Document, Entry, Value, general, key_at};
pub use fault::Fault;

use crate::spec::EngineSpec;
use document::Document as Written;
use keys::Fallback;

/// An engine file understood.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// The engine as meant.
    pub spec: EngineSpec,
    /// Speeds to run at when nothing else is asked [1/min].
    pub run_speeds: Vec<f64>,
    /// Keys that were not given, with what stands in for them.
    pub defaults: Vec<DefaultUsed>,
    /// Things worth saying that are no faults.
    pub notes: Vec<String>,
    /// The file as written.
    pub document: Document,
}

/// A key that was not given.
#[derive(Debug, Clone, PartialEq)]
pub struct DefaultUsed {
    /// Its path.
    pub key: String,
    /// What stands in for it, in words.
    pub value: String,
    /// What it is.
    pub meaning: &'static str,
}

/// Reads an engine file.
///
/// # Errors
/// Every fault found, in order of line.
pub fn read(text: &str) -> Result<Scenario, Vec<Fault>> {
    let (document, mut faults) = Written::read(text);
    if faults.is_empty() {
        match understand(document) {
            Ok(scenario) => return Ok(scenario),
            Err(found) => faults = found,
        }
    }
    faults.sort_by_key(|f| (f.line, f.column));
    Err(faults)
}

fn understand(document: Document) -> Result<Scenario, Vec<Fault>> {
    let mut conversion = convert::Conversion::new(&document);
    let spec = conversion.spec();
    rules::check(&mut conversion, &spec);
    let (run_speeds, notes) = (conversion.run_speeds(), conversion.notes.clone());
    if conversion.faults.is_empty() {
        let defaults = defaults(&document);
        Ok(Scenario { spec, run_speeds, defaults, notes, document })
    } else {
        Err(conversion.faults)
    }
}

impl Scenario {
    /// The same engine with one number of the file changed, in the key's unit. `path` is the path of a
    /// number, `name[index]` for one of a list.
    ///
    /// # Errors
    /// When there is no such number or the engine is no longer possible.
    pub fn with(&self, path: &str, value: f64) -> Result<Self, Vec<Fault>> {
        let mut document = self.document.clone();
        if let Err(remedy) = set(&mut document, path, value) {
            return Err(vec![document.fault(path, remedy)]);
        }
        understand(document)
    }
}

/// Sets a number of the file.
fn set(document: &mut Document, path: &str, value: f64) -> Result<(), String> {
    if let Some(Entry { value: Value::Number(number), .. }) = document.entries.get_mut(path) {
        *number = value;
        return Ok(());
    }
    if let Some((list, index)) = path.strip_suffix(']').and_then(|p| p.rsplit_once('[')) {
        let numbers = document.entries.get_mut(list).map(|e| &mut e.value);
        let index = index.parse::<usize>().ok();
        if let (Some(Value::Numbers(numbers)), Some(index)) = (numbers, index)
            && let Some(number) = numbers.get_mut(index)
        {
            *number = value;
            return Ok(());
        }
    }
    match key_at(path) {
        Some((_, key))
            if matches!(key.kind, keys::Kind::Number(..) | keys::Kind::OverSpeed(..)) =>
        {
            let entry = Entry { value: Value::Number(value), tolerance: None, span: 0..0 };
            document.entries.insert(path.to_owned(), entry);
            Ok(())
        }
        _ => Err("no such number in the engine file".to_owned()),
    }
}

/// Keys with a fallback that the file does not give, in tables that it has or may leave out.
fn defaults(document: &Document) -> Vec<DefaultUsed> {
    let mut used = Vec::new();
    for section in keys::SECTIONS {
        let present: Vec<&String> =
            document.tables.keys().filter(|t| general(t) == section.path).collect();
        let top_level = !section.path.contains('.') && !section.path.contains('[');
        let optional = present.is_empty()
            && top_level
            && !matches!(section.path, "carburettor" | "inlet_tract" | "intake" | "run");
        let places: Vec<String> = if optional {
            vec![section.path.to_owned()]
        } else {
            present.into_iter().cloned().collect()
        };
        for place in places {
            for key in section.keys {
                let path = if place.is_empty() {
                    key.name.to_owned()
                } else {
                    format!("{place}.{}", key.name)
                };
                let value = match key.fallback {
                    Fallback::Number(n) => format!("{n}"),
                    Fallback::Text(t) | Fallback::Derived(t) => t.to_owned(),
                    Fallback::Flag(f) => f.to_string(),
                    Fallback::Required | Fallback::Optional => continue,
                };
                if !document.entries.contains_key(&path) {
                    used.push(DefaultUsed { key: path, value, meaning: key.meaning });
                }
            }
        }
    }
    used
}

/// Speeds from `"from:to:step"` or `"a,b,c"` [1/min].
///
/// # Errors
/// What to write instead.
pub fn parse_speeds(text: &str) -> Result<Vec<f64>, String> {
    let number =
        |part: &str| {
            part.trim().parse::<f64>().ok().filter(|v| (100.0..=30_000.0).contains(v)).ok_or_else(
                || format!("{:?} is not a speed between 100 and 30000/min", part.trim()),
            )
        };
    if !text.contains(':') {
        return text.split(',').map(number).collect();
    }
    let parts: Vec<&str> = text.split(':').collect();
    let [from, to, step] = parts[..] else {
        return Err("write speeds as from:to:step, such as 3000:9000:500".to_owned());
    };
    let (from, to) = (number(from)?, number(to)?);
    let step: f64 = step
        .trim()
        .parse()
        .ok()
        .filter(|s: &f64| *s > 0.0)
        .ok_or_else(|| format!("{:?} is not a step above zero", step.trim()))?;
    if to < from {
        return Err(format!("the speeds fall: write {to}:{from}:{step}"));
    }
    let count = ((to - from) / step + 1e-9).floor() as usize + 1;
    if count > 10_000 {
        return Err(format!("{count} speeds are too many; use a larger step"));
    }
    Ok((0..count).map(|i| from + step * i as f64).collect())
}
