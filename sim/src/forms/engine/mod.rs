//! Engine files: text in, a checked specification or every fault out.

mod answers;
mod change;
mod convert;
pub mod keys;
mod rules;
mod states;
mod write;

pub use super::document::{Document, Entry, Value, general};
pub use super::fault::{Fault, FaultKind, Faults};
pub use super::speeds::parse_speeds;
pub use answers::{Answers, Doubt, Usual};
pub use change::{Changer, HANDLES, Handle};
pub use rules::{Implausible, check, check_for_running};
pub use states::{Parts, Stacks};
pub use write::rewritten;

use super::document::joined;
use super::quantity;
use crate::spec::EngineSpec;
use keys::{Fallback, Presence};

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
    /// Half-width of every number that was given with one, in SI, by path.
    pub tolerances: Vec<(String, f64)>,
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
/// ```
/// let faults = freshcharge_sim::forms::engine::read("name = \"Nothing yet\"\nbore = 39.0 mm\n").unwrap_err();
/// assert_eq!(faults[0].line, 1);
/// assert!(faults.iter().any(|f| f.line == 2 && f.remedy.contains("in quotes")));
/// ```
///
/// # Errors
/// Every fault found, in order of line.
pub fn read(text: &str) -> Result<Scenario, Faults> {
    let (document, faults) = Document::read(text, keys::FORM);
    if !document.readable() {
        return Err(faults.in_order());
    }
    let defaults = defaults(&document);
    understand(document, faults, None).map(|scenario| Scenario { defaults, ..scenario })
}

/// The engine that a file means, unless the file or the engine has a fault; without its defaults.
fn understand(
    document: Document,
    mut faults: Faults,
    known: Option<convert::Known>,
) -> Result<Scenario, Faults> {
    let mut conversion = convert::Conversion::new(&document, known);
    let spec = conversion.spec();
    let run_speeds = conversion.run_speeds();
    let convert::Conversion { faults: found, notes, .. } = conversion;
    faults.extend(found);
    let placed = |path: &str| place_known(&document, path);
    faults.extend(implausible(&document, rules::check_placed(&spec, &placed)));
    faults.none_or()?;
    let tolerances = tolerances(&document);
    Ok(Scenario { spec, run_speeds, defaults: Vec::new(), notes, tolerances, document })
}

/// Reads a quoted quantity such as "1.57 in" into a number in `unit`.
///
/// # Errors
/// What to write instead.
pub fn parse_quantity(text: &str, unit: keys::Unit) -> Result<f64, String> {
    quantity::parse(text, unit).map(|q| q.value)
}

/// Whether the file says where round the bore a window lies; an exhaust window that says nothing lies at 0.
fn place_known(document: &Document, window: &str) -> bool {
    window.starts_with("exhaust") || document.gives(&joined(window, "centre_deg"))
}

/// Implausibilities at the lines of the file.
fn implausible(document: &Document, found: Vec<Implausible>) -> Faults {
    let fault = |i: Implausible| {
        document.fault(FaultKind::Implausible, &written_as(document, &i.key), i.remedy)
    };
    let mut faults = Faults::default();
    found.into_iter().for_each(|i| faults.add_with(|| fault(i)));
    faults
}

/// The key by which the file says what `key` says.
fn written_as(document: &Document, key: &str) -> String {
    if document.gives(key) {
        return key.to_owned();
    }
    let (table, name) = key.rsplit_once('.').unwrap_or(("", key));
    let section = keys::section_at(&general(table));
    let alternatives = section.into_iter().flat_map(|s| s.alternatives(name));
    // a floor that is not given lies at the crown's lowest place: the roof is what can be wrong
    let roof = (name == "floor_depth_mm").then_some(["roof_depth_mm", "opens_deg_atdc"]);
    alternatives
        .chain(roof.into_iter().flatten())
        .map(|other| joined(table, other))
        .find(|path| document.gives(path))
        .unwrap_or_else(|| key.to_owned())
}

impl Scenario {
    /// What keeps this engine from running: a piston that touches the head is a state that may be
    /// checked and planned from, but not simulated.
    #[must_use]
    pub fn faults_for_running(&self) -> Faults {
        implausible(&self.document, check_for_running(&self.spec))
    }
}

/// The key at a path, with its table.
#[must_use]
pub fn key_at(path: &str) -> Option<(&'static keys::Section, &'static keys::Key)> {
    let general = general(path);
    let (section, name) = general.rsplit_once('.').unwrap_or(("", &general));
    let section = keys::section_at(section)?;
    Some((section, section.key(name)?))
}

/// Half-widths in SI.
fn tolerances(document: &Document) -> Vec<(String, f64)> {
    let unit = |path: &str| {
        let key = path.strip_suffix(']').and_then(|p| p.rsplit_once('[')).map_or(path, |p| p.0);
        key_at(key).map_or(keys::Unit::One, |(_, key)| key.kind.unit())
    };
    let half_widths = document.tolerances.iter();
    half_widths.map(|(p, w)| (p.clone(), convert::difference_to_si(unit(p), *w))).collect()
}

/// Keys with a fallback that the file does not give, in tables that it has or may leave out.
fn defaults(document: &Document) -> Vec<DefaultUsed> {
    let mut used = Vec::new();
    for section in keys::SECTIONS {
        let tables = document.tables().filter(|(_, t)| t.section.path == section.path);
        let mut places: Vec<&str> = tables.map(|(path, _)| path).collect();
        if places.is_empty() && section.presence == Presence::Defaults {
            places.push(section.path);
        }
        for place in places {
            for key in section.keys {
                let value = match key.fallback {
                    Fallback::Number(n) => format!("{n}"),
                    Fallback::Text(t) | Fallback::Derived(t) => t.to_owned(),
                    Fallback::Flag(f) => f.to_string(),
                    Fallback::Required | Fallback::Optional => continue,
                };
                let instead = || {
                    let mut others = section.alternatives(key.name).map(|o| joined(place, o));
                    others.any(|o| document.gives(&o) || document.has(&o))
                };
                let path = joined(place, key.name);
                if !document.gives(&path) && !instead() {
                    used.push(DefaultUsed { key: path, value, meaning: key.meaning });
                }
            }
        }
    }
    used
}
