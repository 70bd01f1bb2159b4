//! One part in several states: fitted when something was measured, and fitted to run.

use super::Scenario;
use super::change::{indexed, list, number, write};
use crate::forms::document::{Document, Slot, Value};

pub(super) const GASKETS: &str = "stack.base_gaskets_mm";
pub(super) const SPACERS: &str = "stack.spacers_mm";
pub(super) const HEAD_GASKETS: &str = "stack.head_gaskets_mm";
pub(super) const GASKETS_THEN: &str = "stack.measured.base_gaskets_mm";
pub(super) const SPACERS_THEN: &str = "stack.measured.spacers_mm";
/// Head gasket with which the clearance volume was buretted.
const HEAD_THEN: &str = "head.assembled.head_gasket_mm";
const ASSEMBLED: &str = "head.assembled";

/// Keys of the measured state, with the key of the state to run that stands for them where they are
/// not given.
const AS_TO_RUN: &[(&str, &str)] = &[
    (GASKETS_THEN, GASKETS),
    (SPACERS_THEN, SPACERS),
    ("stack.measured.stroke_mm", "crank_train.stroke_mm"),
    ("stack.measured.rod_mm", "crank_train.rod_mm"),
    ("stack.measured.compression_height_mm", "piston.compression_height_mm"),
];

/// The key of the state to run that stands for one number of the measured state.
pub(super) fn stands_for(path: &str) -> Option<&'static str> {
    AS_TO_RUN.iter().find(|(then, _)| *then == path).map(|(_, now)| *now)
}

/// Numbers of the piston that follow from the bore where they are not given.
fn from_bore(document: &Document) -> [(&'static str, f64); 2] {
    let bore = number(document, "crank_train.bore_mm").unwrap_or(f64::NAN);
    [("piston.compression_height_mm", 0.55 * bore), ("piston.skirt_length_mm", bore)]
}

/// Writes down the measured state where the file leaves it to be as the state to run, so that changes of
/// parts do not move it. Gives the paths written.
pub(super) fn keep_measured_state(document: &mut Document) -> Vec<&'static str> {
    let mut written = Vec::new();
    for (path, value) in from_bore(document) {
        if value.is_finite() && !document.gives(path) {
            write(document, path, Value::Number(value), true);
            written.push(path);
        }
    }
    let derived = written.clone();
    for (then, now) in AS_TO_RUN {
        if !document.gives(then) {
            let value = document.entry(now).map(|e| e.value.clone());
            write(document, then, value.unwrap_or_else(|| Value::Numbers(Vec::new())), true);
            written.push(then);
        }
        // what follows from a default was never read, in this state or in that
        if derived.contains(now) && written.contains(then) {
            document.stand_in(then);
        }
    }
    derived.iter().for_each(|path| document.stand_in(path));
    if document.has(ASSEMBLED) && !document.gives(HEAD_THEN) {
        let total = list(document, HEAD_GASKETS).iter().sum();
        write(document, HEAD_THEN, Value::Number(total), true);
        written.push(HEAD_THEN);
    }
    written
}

/// Whether a key of the measured state says what would stand for it anyway.
fn says_the_same(document: &Document, path: &str) -> bool {
    let Some(value) = document.entry(path).map(|e| &e.value) else { return false };
    if path == HEAD_THEN {
        return *value == Value::Number(list(document, HEAD_GASKETS).iter().sum());
    }
    if let Some((_, derived)) = from_bore(document).iter().find(|(p, _)| *p == path) {
        return *value == Value::Number(*derived);
    }
    let now = stands_for(path).and_then(|now| document.entry(now)).map(|e| &e.value);
    match (now, value) {
        (Some(now), then) => now == then,
        (None, Value::Numbers(then)) => then.is_empty(),
        _ => false,
    }
}

/// Takes out again what was only written down and has not come to differ: a change elsewhere leaves the
/// file's own words as they are, and with them what is known of its readings.
pub(super) fn let_go(document: &mut Document, written: &[&'static str]) {
    // measured before derived: a measured height may stand on a derived one
    for path in written.iter().rev() {
        if says_the_same(document, path) {
            document.put(path, Slot::Absent);
        }
    }
}

/// Leaves every part that is the same in both states to be read once.
pub(super) fn read_once(document: &mut Document) {
    for path in AS_TO_RUN.iter().map(|(then, _)| *then).chain([HEAD_THEN]) {
        if says_the_same(document, path) {
            document.put(path, Slot::Absent);
        }
    }
}

/// The parts of an engine that were fitted in several states, told apart by their readings: a part that
/// has the same size in two states is the same part, read once.
#[derive(Debug)]
pub struct Parts {
    document: Document,
}

impl Parts {
    /// Whether a path is the size of a part that may stand in several states.
    #[must_use]
    pub fn concerns(path: &str) -> bool {
        let key = indexed(path).map_or(path, |(list, _)| list);
        let by_name = |name: &str| AS_TO_RUN.iter().any(|(then, _)| then.ends_with(name));
        [HEAD_GASKETS, HEAD_THEN].contains(&key)
            || AS_TO_RUN.iter().any(|(_, now)| *now == key)
            || key.rsplit_once(".measured.").is_some_and(|(_, name)| by_name(name))
    }

    /// Where else the part at `path` was read, in states after this one, with the number that stands
    /// there in the key's unit.
    #[must_use]
    pub fn elsewhere(&self, path: &str) -> Vec<(String, f64)> {
        let (places, here) = self.places(path);
        let after = places.iter().skip(here.map_or(places.len(), |i| i + 1));
        after.filter_map(|place| self.same(path, place)).collect()
    }

    /// Where the part at `path` was read in a state before this one, the state to run being the first.
    #[must_use]
    pub fn first(&self, path: &str) -> Option<String> {
        let (places, here) = self.places(path);
        places.iter().take(here?).find_map(|place| self.same(path, place)).map(|(path, _)| path)
    }

    /// Keys of one kind of part by state, and which of them `path` is.
    fn places(&self, path: &str) -> (Vec<String>, Option<usize>) {
        let key = indexed(path).map_or(path, |(list, _)| list);
        let places = if key == HEAD_GASKETS || key == HEAD_THEN {
            vec![HEAD_GASKETS.to_owned(), HEAD_THEN.to_owned()]
        } else {
            let name = key.rsplit_once('.').map_or(key, |p| p.1);
            let of_name =
                |(then, _): &&(&str, &str)| then.rsplit_once('.').is_some_and(|p| p.1 == name);
            let Some((then, now)) = AS_TO_RUN.iter().find(of_name) else {
                return (Vec::new(), None);
            };
            let tables = self.document.tables().map(|(path, _)| path);
            let windows = tables.filter(|t| t.ends_with("].measured"));
            let windows = windows.map(|table| format!("{table}.{name}"));
            [*now, *then].map(str::to_owned).into_iter().chain(windows).collect()
        };
        let here = places.iter().position(|place| place == key);
        (places, here)
    }

    /// The same part at another key, by its size, and by its turn among parts of that size.
    fn same(&self, path: &str, place: &str) -> Option<(String, f64)> {
        let document = &self.document;
        if let (Some((from, index)), Some(Value::Number(then))) =
            (indexed(path).filter(|p| p.0 == HEAD_GASKETS), self.value(place))
        {
            let gaskets = list(document, from);
            let alone = gaskets.iter().position(|g| g == then) == Some(index);
            let all = *then == gaskets.iter().sum::<f64>();
            return (alone || all).then(|| (place.to_owned(), *then));
        }
        if path == HEAD_THEN {
            let then = number(document, path)?;
            let gaskets = list(document, place);
            let one = gaskets.iter().position(|g| *g == then);
            let all = !gaskets.is_empty() && gaskets.iter().sum::<f64>() == then;
            let index = one.or(all.then_some(0))?;
            return Some((format!("{place}[{index}]"), gaskets[index]));
        }
        match (indexed(path), self.value(place)?) {
            (Some((from, index)), Value::Numbers(there)) => {
                let here = list(document, from);
                let size = *here.get(index)?;
                let turn = here[..index].iter().filter(|v| **v == size).count();
                let equal = there.iter().enumerate().filter(|(_, v)| **v == size);
                let (index, size) = equal.skip(turn).map(|(i, v)| (i, *v)).next()?;
                Some((format!("{place}[{index}]"), size))
            }
            (None, Value::Number(there)) => {
                (number(document, path) == Some(*there)).then(|| (place.to_owned(), *there))
            }
            _ => None,
        }
    }

    fn value(&self, path: &str) -> Option<&Value> {
        self.document.entry(path).map(|e| &e.value)
    }
}

/// The stacks of an engine, thicknesses in mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Stacks {
    /// Base gaskets and spacers to run.
    pub base: [Vec<f64>; 2],
    /// Base gaskets and spacers with which depths and deck were measured.
    pub base_then: [Vec<f64>; 2],
    /// Head gaskets to run, together.
    pub head: f64,
    /// Head gaskets with which the clearance volume was buretted, together; none where the head's
    /// volume was measured by itself.
    pub head_then: Option<f64>,
    /// Keys of the measured stack that the file leaves to follow the stack to run.
    pub follow: Vec<&'static str>,
}

impl Stacks {
    /// Base gaskets and spacers together: to run, and when depths and deck were measured [mm].
    #[must_use]
    pub fn totals(&self) -> [f64; 2] {
        [&self.base, &self.base_then].map(|s| s.iter().flatten().sum())
    }

    /// Whether the base stack as measured follows the one to run, wholly or in part.
    #[must_use]
    pub fn base_follows(&self) -> bool {
        self.follow.iter().any(|key| *key != HEAD_THEN)
    }

    /// Whether the head gasket as buretted follows the one to run.
    #[must_use]
    pub fn head_follows(&self) -> bool {
        self.follow.contains(&HEAD_THEN)
    }
}

impl Scenario {
    /// The parts that were fitted in several states.
    #[must_use]
    pub fn parts(&self) -> Parts {
        let mut document = self.document.clone();
        keep_measured_state(&mut document);
        Parts { document }
    }

    /// The stack to run, and the stack that the readings were taken with.
    #[must_use]
    pub fn stacks(&self) -> Stacks {
        let given = &self.document;
        let document = self.parts().document;
        let of = |path: &str| list(&document, path).to_vec();
        let assembled = given.has(ASSEMBLED);
        let keys = [GASKETS_THEN, SPACERS_THEN, HEAD_THEN].into_iter();
        Stacks {
            base: [of(GASKETS), of(SPACERS)],
            base_then: [of(GASKETS_THEN), of(SPACERS_THEN)],
            head: of(HEAD_GASKETS).iter().sum(),
            head_then: number(&document, HEAD_THEN).filter(|_| assembled),
            follow: keys.filter(|k| !given.gives(k) && (*k != HEAD_THEN || assembled)).collect(),
        }
    }
}
