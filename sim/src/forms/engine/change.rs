//! The same engine with a number of its file changed: what sweeps and plans are made of.
//!
//! # Decisions
//!
//! - Readings keep the state they were taken in: before a number of a file is changed by its path, the
//!   measured stack, where the file leaves it to be as the state to run, is written down. A floor that is
//!   not given lies at the crown's lowest place in the measured state.

use super::convert::{Known, MODEL, Touched};
use super::keys::{Fallback, Key, Kind, Presence, SECTIONS, section_at};
use super::states::{
    GASKETS, GASKETS_THEN, HEAD_GASKETS, Parts, SPACERS, SPACERS_THEN, keep_measured_state, let_go,
    read_once, stands_for,
};
use super::{Scenario, key_at, understand};
use crate::forms::document::{Document, Entry, Slot, Value, general, joined, numbered};
use crate::forms::fault::{Fault, FaultKind, Faults};
use crate::forms::nearest::nearest;
use crate::forms::value;
use crate::spec::{EngineSpec, ModelVersion};

/// A number that no key holds by itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Handle {
    /// Its path.
    pub path: &'static str,
    /// What it is, and what setting it holds.
    pub meaning: &'static str,
}

/// Every such number.
pub const HANDLES: &[Handle] = &[
    Handle {
        path: BASE_TOTAL,
        meaning: "Base gaskets and spacers together in the state to run. Setting it holds the base gaskets and puts one spacer in place of all, or, below their height, one thinner gasket in place of everything; depths, deck and angles keep the state they were measured in.",
    },
    Handle {
        path: BASE_TOTAL_THEN,
        meaning: "Base gaskets and spacers together when depths and deck were measured. Setting it holds the base gaskets of that moment and puts one spacer in place of all, or, below their height, one thinner gasket in place of everything; the stack to run stays.",
    },
    Handle {
        path: HEAD_TOTAL,
        meaning: "Head gaskets together in the state to run. Setting it puts one gasket in place of all.",
    },
];

const BASE_TOTAL: &str = "stack.base_total_mm";
const HEAD_TOTAL: &str = "stack.head_total_mm";
const BASE_TOTAL_THEN: &str = "stack.measured.base_total_mm";

impl Scenario {
    /// The same engine with one number of the file changed, in the key's unit.
    ///
    /// A path is a key's path, `stack.spacers_mm[0]` for one number of a list. Transfer groups go by
    /// number or name (`transfer.main.window[0].roof_depth_mm`); windows without a number are all
    /// windows of the port (`exhaust.window.roof_depth_mm`); [`HANDLES`] are further paths. A key
    /// replaces another that says the same (a depth an angle, an arc a chord). Readings keep the
    /// state they were taken in: a spacer more does not move what was measured without it.
    ///
    /// # Errors
    /// When there is no such number, it lies outside its limits, or the engine is no longer possible.
    pub fn with(&self, path: &str, value: f64) -> Result<Self, Faults> {
        self.with_all(&[(path, value)])
    }

    /// The same engine with several numbers changed, checked once at the end.
    ///
    /// # Errors
    /// As [`Self::with`].
    pub fn with_all(&self, changes: &[(&str, f64)]) -> Result<Self, Faults> {
        let mut document = self.document.clone();
        let kept = keep_measured_state(&mut document);
        for (path, value) in changes {
            target(&document, path)
                .map_err(|remedy| (FaultKind::Unknown, remedy))
                .and_then(|target| set(&mut document, &target, *value))
                .and_then(|()| {
                    let endless = (FaultKind::WrongKind, "write a finite number".to_owned());
                    if value.is_finite() { Ok(()) } else { Err(endless) }
                })
                .map_err(|(kind, remedy)| {
                    Faults::from(refused(&document, kind, path, *value, remedy))
                })?;
        }
        let mut changed = understand(document, Faults::default(), None)?;
        let_go(&mut changed.document, &kept);
        Ok(Self { defaults: self.defaults.clone(), ..changed })
    }

    /// The same engine computed by another version of the model.
    ///
    /// # Errors
    /// When that version cannot compute it.
    pub fn with_model(&self, version: ModelVersion) -> Result<Self, Faults> {
        let mut document = self.document.clone();
        write(&mut document, MODEL, Value::Number(f64::from(version.number())), true);
        let changed = understand(document, Faults::default(), None)?;
        Ok(Self { defaults: super::defaults(&changed.document), ..changed })
    }

    /// What a path stands at now, in its unit: as written, else its default. None for what the engine
    /// has not, or where several numbers differ.
    #[must_use]
    pub fn value(&self, path: &str) -> Option<f64> {
        let document = &self.document;
        let total = |key: &str| list(document, key).iter().sum::<f64>();
        match path {
            BASE_TOTAL => return Some(total(GASKETS) + total(SPACERS)),
            HEAD_TOTAL => return Some(total(HEAD_GASKETS)),
            BASE_TOTAL_THEN => {
                let then =
                    |then: &str, now: &str| total(if document.gives(then) { then } else { now });
                return Some(then(GASKETS_THEN, GASKETS) + then(SPACERS_THEN, SPACERS));
            }
            _ => {}
        }
        let mut values = resolve(document, path).ok()?.into_iter().map(|p| number(document, &p));
        let first = values.next()??;
        values.all(|v| v == Some(first)).then_some(first)
    }

    /// The numbers that a path means, by their full paths.
    ///
    /// # Errors
    /// What to write instead.
    pub fn paths(&self, path: &str) -> Result<Vec<String>, String> {
        if HANDLES.iter().any(|h| h.path == path) {
            return Ok(vec![path.to_owned()]);
        }
        resolve(&self.document, path)
    }
}

/// The same numbers of one engine changed again and again: what their paths mean is found out once.
#[derive(Debug, Clone)]
pub struct Changer {
    document: Document,
    /// The engine of the document.
    spec: EngineSpec,
    run_speeds: Vec<f64>,
    paths: Vec<String>,
    targets: Vec<Target>,
    touched: Touched,
}

impl Scenario {
    /// Prepares changes of these numbers, readings keeping the state they were taken in.
    ///
    /// # Errors
    /// The first path that means no number, by its place, and what to write instead.
    pub fn changer(&self, paths: &[String]) -> Result<Changer, (usize, String)> {
        let mut document = self.document.clone();
        keep_measured_state(&mut document);
        self.prepared(document, paths, true)
    }

    /// Prepares readings that may turn out otherwise: a part that was fitted in several states is read
    /// once, so that what was measured with it moves with it.
    ///
    /// # Errors
    /// As [`Self::changer`].
    pub fn rereader(&self, paths: &[String]) -> Result<Changer, (usize, String)> {
        let mut document = self.document.clone();
        read_once(&mut document);
        let parts = self.parts();
        let mut prepared = self.prepared(document, paths, false)?;
        for (own, path) in prepared.targets.iter_mut().zip(paths) {
            let (Target::Numbers(numbers), true) = (own, Parts::concerns(path)) else { continue };
            for (other, _) in parts.elsewhere(path) {
                let key = indexed(&other).map_or(&*other, |(list, _)| list);
                if prepared.document.gives(key)
                    && let Ok(Target::Numbers(same)) = target(&prepared.document, &other)
                {
                    numbers.extend(same);
                }
            }
        }
        let reached = prepared.targets.iter().flat_map(Target::reaches);
        prepared.touched = Touched::by(reached, false);
        Ok(prepared)
    }

    fn prepared(
        &self,
        document: Document,
        paths: &[String],
        kept: bool,
    ) -> Result<Changer, (usize, String)> {
        let found = paths.iter().enumerate();
        let targets: Result<Vec<Target>, _> =
            found.map(|(i, path)| target(&document, path).map_err(|remedy| (i, remedy))).collect();
        let targets = targets?;
        let touched = Touched::by(targets.iter().flat_map(Target::reaches), kept);
        let (spec, run_speeds) = (self.spec.clone(), self.run_speeds.clone());
        Ok(Changer { targets, touched, paths: paths.to_vec(), document, spec, run_speeds })
    }
}

impl Target {
    /// Full paths of the keys that setting it may write.
    fn reaches(&self) -> Vec<&str> {
        match self {
            Self::BaseTotal => vec![GASKETS, SPACERS],
            Self::BaseTotalThen => vec![GASKETS_THEN, SPACERS_THEN],
            Self::HeadTotal => vec![HEAD_GASKETS],
            Self::Numbers(numbers) => numbers
                .iter()
                .flat_map(|number| match number {
                    Number::Listed { list, .. } => vec![list.as_str()],
                    Number::Own { path, instead, .. } => {
                        let others = instead.iter().map(String::as_str);
                        others.chain([path.as_str()]).collect()
                    }
                })
                .collect(),
        }
    }
}

impl Changer {
    /// The same for another thread: it shares nothing that is counted.
    #[must_use]
    pub fn unshared(&self) -> Self {
        Self { document: self.document.unshared(), ..self.clone() }
    }

    /// The engine with one value for each path, as [`Scenario::with_all`] gives it; without the list
    /// of defaults.
    ///
    /// # Errors
    /// When a value lies outside its limits or the engine is no longer possible.
    pub fn with(&self, values: &[f64]) -> Result<Scenario, Faults> {
        let mut document = self.document.clone();
        for ((target, path), value) in self.targets.iter().zip(&self.paths).zip(values) {
            set(&mut document, target, *value).map_err(|(kind, remedy)| {
                Faults::from(refused(&document, kind, path, *value, remedy))
            })?;
        }
        let Self { spec, run_speeds, touched, .. } = self;
        let known = Known { spec, run_speeds, touched };
        understand(document, Faults::default(), Some(known))
    }

    /// Whether the number with this place may be `value` by itself.
    ///
    /// # Errors
    /// What would be right.
    pub fn may_be(&self, place: usize, value: f64) -> Result<(), String> {
        let mut document = self.document.clone();
        let target = self.targets.get(place);
        target.map_or(Ok(()), |t| set(&mut document, t, value)).map_err(|(_, remedy)| remedy)
    }
}

/// A change that cannot be made, shown at the key if the file has it.
fn refused(document: &Document, kind: FaultKind, path: &str, value: f64, remedy: String) -> Fault {
    let full = resolve(document, path).ok().and_then(|p| p.into_iter().next());
    let whole = full.as_deref().map_or(path, |p| indexed(p).map_or(p, |(list, _)| list));
    let fault = document.fault(kind, whole, remedy);
    Fault { key: path.to_owned(), found: format!("{value}"), ..fault }
}

/// Enters a value; `over` one that is there already, or not.
pub(super) fn write(document: &mut Document, path: &str, value: Value, over: bool) {
    let span = match document.entry(path) {
        Some(_) if !over => return,
        Some(entry) => entry.span.clone(),
        None => document.header(path),
    };
    document.put(path, Slot::Given(Entry { value, span, changed: true, stands_in: false }));
}

type Refused = (FaultKind, String);

/// What a path means in one engine file.
#[derive(Debug, Clone)]
enum Target {
    /// Base gaskets and spacers together.
    BaseTotal,
    /// The same when depths and deck were measured.
    BaseTotalThen,
    /// Head gaskets together.
    HeadTotal,
    /// Numbers that take the same value.
    Numbers(Vec<Number>),
}

/// A number by its full path.
#[derive(Debug, Clone)]
enum Number {
    /// One of a list.
    Listed { list: String, index: usize },
    /// A key, with the keys that it replaces.
    Own { path: String, key: &'static Key, instead: Vec<String> },
}

/// Finds out what a path means; else what to write instead.
fn target(document: &Document, path: &str) -> Result<Target, String> {
    match path {
        BASE_TOTAL => return Ok(Target::BaseTotal),
        BASE_TOTAL_THEN => return Ok(Target::BaseTotalThen),
        HEAD_TOTAL => return Ok(Target::HeadTotal),
        _ => {}
    }
    let number = |full: String| {
        if let Some((list, index)) = indexed(&full) {
            return Ok(Number::Listed { list: list.to_owned(), index });
        }
        let (section, key) =
            key_at(&full).ok_or_else(|| "no such number in an engine file".to_owned())?;
        let table = full.rsplit_once('.').map_or("", |p| p.0);
        let instead = section.alternatives(key.name).map(|o| joined(table, o)).collect();
        Ok(Number::Own { path: full, key, instead })
    };
    let numbers: Result<_, String> = resolve(document, path)?.into_iter().map(number).collect();
    numbers.map(Target::Numbers)
}

fn set(document: &mut Document, target: &Target, value: f64) -> Result<(), Refused> {
    match target {
        Target::BaseTotal => set_total(document, [GASKETS, SPACERS], value),
        Target::BaseTotalThen => set_total(document, [GASKETS_THEN, SPACERS_THEN], value),
        Target::HeadTotal => set_list(document, HEAD_GASKETS, vec![value]),
        Target::Numbers(numbers) => numbers.iter().try_for_each(|n| set_one(document, n, value)),
    }
}

/// Makes gaskets and spacers together as high as `value`.
fn set_total(
    document: &mut Document,
    [gaskets, spacers]: [&str; 2],
    value: f64,
) -> Result<(), Refused> {
    let spacer = value - list(document, gaskets).iter().sum::<f64>();
    // rounding of a sum of gaskets must not ask for a negative spacer
    let spacer = if spacer.abs() < 1e-9 { 0.0 } else { spacer };
    if spacer < 0.0 {
        // one thinner gasket, negative heights being refused as the gasket's own
        set_list(document, gaskets, vec![value])?;
    }
    set_list(document, spacers, if spacer > 0.0 { vec![spacer] } else { Vec::new() })
}

fn set_list(document: &mut Document, path: &str, values: Vec<f64>) -> Result<(), Refused> {
    if let Some((_, key)) = key_at(path) {
        for value in &values {
            value::within(key, *value).map_err(|r| (r.kind, r.remedy))?;
        }
    }
    write(document, path, Value::Numbers(values), true);
    Ok(())
}

/// Sets one number.
fn set_one(document: &mut Document, number: &Number, value: f64) -> Result<(), Refused> {
    match number {
        Number::Listed { list: whole, index } => {
            let mut values = list(document, whole).to_vec();
            if let Some(number) = values.get_mut(*index) {
                *number = value;
            } else {
                values.push(value);
            }
            set_list(document, whole, values)
        }
        Number::Own { path, key, instead } => {
            value::within(key, value).map_err(|r| (r.kind, r.remedy))?;
            for other in instead {
                document.put(other, Slot::Absent);
            }
            write(document, path, Value::Number(value), true);
            Ok(())
        }
    }
}

/// The list and index of a path such as `stack.spacers_mm[0]`.
pub(super) fn indexed(path: &str) -> Option<(&str, usize)> {
    let (list, index) = path.strip_suffix(']')?.rsplit_once('[')?;
    Some((list, index.parse().ok()?))
}

/// A list as written; empty where it is not given.
pub(super) fn list<'a>(document: &'a Document, path: &str) -> &'a [f64] {
    match document.entry(path).map(|e| &e.value) {
        Some(Value::Numbers(values)) => values,
        _ => &[],
    }
}

/// A number as written, else its default, in its unit.
pub(super) fn number(document: &Document, path: &str) -> Option<f64> {
    if let Some((whole, index)) = indexed(path) {
        return list(document, whole).get(index).copied();
    }
    match (document.entry(path).map(|e| &e.value), key_at(path)) {
        (Some(Value::Number(value)), _) => Some(*value),
        (None, Some((_, Key { fallback: Fallback::Number(value), .. }))) => Some(*value),
        (None, Some(_)) => stands_for(path).and_then(|now| number(document, now)),
        _ => None,
    }
}

/// Full paths of the numbers that a path means.
fn resolve(document: &Document, path: &str) -> Result<Vec<String>, String> {
    let mut paths = vec![String::new()];
    let mut parts = path.split('.').peekable();
    while let Some(part) = parts.next() {
        let here = joined(&paths[0], part);
        if !part.ends_with(']') && section_at(&(general(&here) + "[]")).is_some() {
            let group = parts.peek().and_then(|name| group_called(document, &here, name));
            if group.is_some() {
                parts.next();
            }
            paths = paths
                .iter()
                .flat_map(|p| {
                    let array = joined(p, part);
                    let all = 0..document.count(&array);
                    let chosen = all.filter(move |i| group.is_none_or(|g| g == *i));
                    chosen.map(move |i| numbered(&array, i))
                })
                .collect();
            if paths.is_empty() {
                return Err(format!("the engine has no {here}"));
            }
        } else {
            for p in &mut paths {
                *p = joined(p, part);
            }
        }
    }
    for p in &paths {
        settable(document, p).map_err(|remedy| remedy.unwrap_or_else(|| no_such(path)))?;
    }
    Ok(paths)
}

/// The table of an array whose name is `name`.
fn group_called(document: &Document, array: &str, name: &str) -> Option<usize> {
    (0..document.count(array)).find(|i| {
        let called = document.entry(&format!("{array}[{i}].name")).map(|e| &e.value);
        matches!(called, Some(Value::Text(text)) if text == name)
    })
}

/// Whether a full path is a number that this engine has; if not, why, where that is known.
fn settable(document: &Document, path: &str) -> Result<(), Option<String>> {
    let (key_path, index) = match indexed(path) {
        Some((list, index)) if key_at(list).is_some() => (list, Some(index)),
        _ => (path, None),
    };
    if path == MODEL {
        let why = "results of two versions of the model are never mixed; choose one with --model";
        return Err(Some(why.to_owned()));
    }
    let (section, key) = key_at(key_path).ok_or(None)?;
    let table = key_path.rsplit_once('.').map_or("", |p| p.0);
    if section.presence != Presence::Defaults && !document.has(table) {
        return Err(Some(format!("the engine has no [{table}]")));
    }
    let instead = section.alternatives(key.name).map(|o| joined(table, o));
    if let Some(other) = instead.into_iter().find(|o| document.has(o)) {
        return Err(Some(format!("the engine has [{other}] instead")));
    }
    match (key.kind, index) {
        (Kind::Number(..) | Kind::OverSpeed(..), None) => Ok(()),
        (Kind::Numbers(..), Some(i)) if i <= list(document, key_path).len() => Ok(()),
        (Kind::Numbers(..), Some(_)) => Err(Some(format!(
            "{key_path} has {} numbers; count from 0",
            list(document, key_path).len()
        ))),
        (Kind::Numbers(..), None) => {
            Err(Some(format!("{key_path} is a list; choose one of it, such as {key_path}[0]")))
        }
        _ => Err(Some(format!("{key_path} is not a number"))),
    }
}

/// The nearest paths that there are.
fn no_such(path: &str) -> String {
    let mut all: Vec<String> = HANDLES.iter().map(|h| h.path.to_owned()).collect();
    for section in SECTIONS {
        for key in section.keys {
            let suffix = match key.kind {
                Kind::Number(..) | Kind::OverSpeed(..) => "",
                Kind::Numbers(..) => "[0]",
                _ => continue,
            };
            let here = format!("{}{suffix}", joined(section.path, key.name));
            all.push(here.replace("[].", "."));
        }
    }
    let plain = general(path).replace("[]", "");
    let (table, name) = plain.rsplit_once('.').unwrap_or(("", &plain));
    let (likeness, known) = nearest(all.into_iter().map(|known| {
        let bare = known.trim_end_matches("[0]");
        let (its_table, its_name) = bare.rsplit_once('.').unwrap_or(("", bare));
        // half the weight to the table, half to the name: long equal tables must not decide
        let tables = strsim::jaro_winkler(its_table, table);
        (0.5 * (tables + strsim::jaro_winkler(its_name, name)), known)
    }));
    if likeness > 0.8 {
        format!("no such number in an engine file; did you mean {}?", known.join(" or "))
    } else {
        "no such number in an engine file".to_owned()
    }
}
