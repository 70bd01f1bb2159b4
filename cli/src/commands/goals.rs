//! Goals, shelf and operations of a plan, as a file.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use freshcharge_sim::forms::goals::{self as written, Written};
use freshcharge_sim::forms::{Faults, or_nearest};
use freshcharge_sim::geometry;
use freshcharge_sim::result::{COLUMNS, Point};
use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::spec::{Clearance, EngineSpec};
use freshcharge_sim::units::{CM3, MM};
use freshcharge_sim::workshop::{Facts, Goal, Operation};
use serde::Serialize;

use crate::faults;
use crate::files::{self, Failure};

/// A goals file.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct GoalsFile {
    /// Ranges by name of quantity.
    pub(crate) goals: BTreeMap<String, Range>,
    /// What lies on the shelf.
    pub(crate) shelf: Shelf,
    /// What may be cut, by name.
    pub(crate) operations: BTreeMap<String, Cut>,
}

/// `[least, most]`, or a table with either.
#[derive(Debug, Clone, Serialize)]
#[serde(untagged)]
pub(crate) enum Range {
    /// Both.
    Both([f64; 2]),
    /// Either.
    Either(Bounds),
}

/// Either bound.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Bounds {
    least: Option<f64>,
    most: Option<f64>,
}

impl Range {
    /// Both bounds.
    pub(crate) fn bounds(&self) -> (Option<f64>, Option<f64>) {
        match self {
            Self::Both([least, most]) => (Some(*least), Some(*most)),
            Self::Either(b) => (b.least, b.most),
        }
    }

    /// In words.
    pub(crate) fn words(&self) -> String {
        match self.bounds() {
            (Some(l), Some(m)) => format!("{l} to {m}"),
            (Some(l), None) => format!("at least {l}"),
            (None, Some(m)) => format!("at most {m}"),
            (None, None) => "any".to_owned(),
        }
    }
}

/// Gaskets and spacers at hand.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Shelf {
    /// Base gaskets; one is fitted.
    pub(crate) base_gaskets_mm: Vec<f64>,
    /// Spacers; one is fitted, 0 for none.
    pub(crate) spacers_mm: Vec<f64>,
    /// Head gaskets; one is fitted.
    pub(crate) head_gaskets_mm: Vec<f64>,
}

/// An operation that may be done.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Cut {
    pub(crate) most_mm: f64,
    pub(crate) tolerance_mm: f64,
    pub(crate) cost: f64,
    pub(crate) setup: f64,
}

/// Kinds of operation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Exhaust roof up.
    Roof,
    /// Exhaust windows wider.
    Width,
    /// Metal off the cylinder's top face.
    TopFace,
    /// A step turned round the head's joint face, so that the land stands that much deeper in the bore.
    HeadStep,
    /// Metal out of the head's bowl.
    Bowl,
}

impl Kind {
    pub(crate) const ALL: [(&'static str, Kind); 5] = [
        ("roof", Kind::Roof),
        ("width", Kind::Width),
        ("top_face", Kind::TopFace),
        ("head_step", Kind::HeadStep),
        ("bowl", Kind::Bowl),
    ];

    /// How exactly it is done by hand or on a lathe where nothing else is said, in its unit (common
    /// practice, no source).
    pub(crate) fn usual_tolerance(self) -> f64 {
        match self {
            Self::Roof => 0.15,
            Self::Width => 0.2,
            Self::TopFace | Self::HeadStep => 0.02,
            Self::Bowl => 0.1,
        }
    }

    /// Whether it changes the number at this path of the engine file.
    pub(crate) fn cuts(self, path: &str) -> bool {
        match self {
            Self::Roof => path.ends_with(".roof_depth_mm"),
            Self::Width => path.ends_with(".chord_mm"),
            Self::TopFace => path == "stack.top_face_cut_mm",
            Self::HeadStep => path == LAND_OFFSET,
            Self::Bowl => path.ends_with(".volume_cm3"),
        }
    }

    /// Unit of its amount.
    pub(crate) fn unit(self) -> &'static str {
        if self == Self::Bowl { "cm³" } else { "mm" }
    }

    /// What it is.
    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::Roof => "exhaust roof up",
            Self::Width => "exhaust chord wider",
            Self::TopFace => "off the top face",
            Self::HeadStep => "step at the head's joint face",
            Self::Bowl => "out of the bowl",
        }
    }
}

/// A goals file made ready for one engine.
#[derive(Debug, Clone)]
pub(crate) struct Goals {
    /// As written.
    pub(crate) file: GoalsFile,
    /// Names of the quantities, in order.
    pub(crate) keys: Vec<String>,
    /// Their ranges.
    pub(crate) goals: Vec<Goal>,
    /// Operations, in order of the file.
    pub(crate) kinds: Vec<Kind>,
    /// Their limits and costs.
    pub(crate) operations: Vec<Operation>,
    /// Speeds that the quantities speak of.
    pub(crate) speeds: Vec<f64>,
}

/// A stack from the shelf.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub(crate) struct Choice {
    /// Base gasket [mm].
    pub(crate) base: f64,
    /// Spacer [mm].
    pub(crate) spacer: f64,
    /// Head gasket [mm].
    pub(crate) head: f64,
}

impl From<written::GoalsFile> for GoalsFile {
    fn from(file: written::GoalsFile) -> Self {
        let range = |b: written::Bounds| match (b.least, b.most) {
            (Some(least), Some(most)) => Range::Both([least, most]),
            (least, most) => Range::Either(Bounds { least, most }),
        };
        let cut = |c: written::Cut| Cut {
            most_mm: c.most,
            tolerance_mm: c.tolerance,
            cost: c.cost,
            setup: c.setup,
        };
        Self {
            goals: file.goals.into_iter().map(|(key, bounds)| (key, range(bounds))).collect(),
            shelf: Shelf {
                base_gaskets_mm: file.shelf.base_gaskets,
                spacers_mm: file.shelf.spacers,
                head_gaskets_mm: file.shelf.head_gaskets,
            },
            operations: file.operations.into_iter().map(|(n, c)| (n.to_owned(), cut(c))).collect(),
        }
    }
}

impl Goals {
    /// Reads a goals file.
    pub(crate) fn read(path: &Path, scenario: &Scenario) -> Result<Self, Failure> {
        let text = files::read_text(path)?;
        let goals = Self::of(Written::read(&text), scenario);
        goals.map_err(|f| Failure::Faults(faults::report(path, &text, &f)))
    }

    /// Makes goals ready for an engine, or gives every fault of form and sense.
    pub(crate) fn of(mut written: Written, scenario: &Scenario) -> Result<Self, Faults> {
        let mut speeds: Vec<f64> = Vec::new();
        for (key, _) in written.file.goals.clone() {
            if let Some((_, rpm)) = key.split_once('@') {
                match rpm.parse::<f64>().ok().filter(|s| (100.0..=30_000.0).contains(s)) {
                    Some(rpm) => speeds.push(rpm),
                    None => written.goal_fault(
                        &key,
                        "write the speed between 100 and 30000 as a number after @, such as @8000",
                    ),
                }
            }
        }
        speeds.sort_by(f64::total_cmp);
        speeds.dedup();
        let facts = Facts::of_scenario(scenario, &speeds);
        let mut goals = Vec::new();
        for (key, written::Bounds { least, most }) in written.file.goals.clone() {
            if !written.has_fault(&key) && facts.get(&key).is_none() && simulated(&key).is_none() {
                written.goal_fault(&key, unknown(&key, &facts));
            }
            let scale = match (least, most) {
                (Some(l), Some(m)) if m > l => m - l,
                _ => 0.05 * least.or(most).map_or(1.0, f64::abs).max(0.02),
            };
            goals.push(Goal { least, most, scale, held: is_safety(&key) });
        }
        let Written { file, faults, .. } = written;
        faults.none_or()?;
        Ok(Self::ready(file.into(), goals, speeds))
    }

    /// Goals without a fault.
    fn ready(file: GoalsFile, goals: Vec<Goal>, speeds: Vec<f64>) -> Self {
        let (mut kinds, mut operations) = (Vec::new(), Vec::new());
        for (name, cut) in &file.operations {
            let Some((_, kind)) = Kind::ALL.iter().find(|(n, _)| n == name) else { continue };
            kinds.push(*kind);
            operations.push(Operation {
                most: cut.most_mm,
                tolerance: cut.tolerance_mm,
                cost: cut.cost,
                setup: cut.setup,
            });
        }
        let keys = file.goals.keys().cloned().collect();
        Self { file, keys, goals, kinds, operations, speeds }
    }

    /// Every stack of the shelf.
    pub(crate) fn choices(&self) -> Vec<Choice> {
        let shelf = &self.file.shelf;
        let mut choices = Vec::new();
        for &base in &shelf.base_gaskets_mm {
            for &spacer in &shelf.spacers_mm {
                for &head in &shelf.head_gaskets_mm {
                    choices.push(Choice { base, spacer, head });
                }
            }
        }
        // stacks of one height are one stack: keep the one with the fewest parts
        choices.sort_by_key(|c: &Choice| (c.spacer > 0.0, (1e4 * c.base) as i64));
        let height = |v: f64| (1e6 * v).round() as i64;
        let mut seen = BTreeSet::new();
        choices.retain(|c| seen.insert((height(c.base + c.spacer), height(c.head))));
        choices
    }

    /// Whether any goal needs the simulation.
    pub(crate) fn simulates(&self) -> bool {
        self.keys.iter().any(|k| simulated(k).is_some())
    }

    /// Goals in closed form only.
    pub(crate) fn closed(&self) -> Self {
        let keep: Vec<bool> = self.keys.iter().map(|k| simulated(k).is_none()).collect();
        let mut closed = self.clone();
        let mut flags = keep.iter();
        closed.keys.retain(|_| *flags.next().unwrap_or(&true));
        let mut flags = keep.iter();
        closed.goals.retain(|_| *flags.next().unwrap_or(&true));
        closed
    }

    /// The engine with a stack and cuts; none where it cannot be.
    pub(crate) fn engine(
        &self,
        scenario: &Scenario,
        choice: Choice,
        amounts: &[f64],
    ) -> Option<Scenario> {
        let mut changes = vec![
            ("stack.base_total_mm".to_owned(), choice.base + choice.spacer),
            ("stack.head_total_mm".to_owned(), choice.head),
        ];
        for (kind, amount) in self.kinds.iter().zip(amounts).filter(|(_, a)| **a != 0.0) {
            for (path, value) in cut(scenario, *kind, *amount)? {
                add(scenario, &mut changes, path, value);
            }
        }
        let changes: Vec<(&str, f64)> = changes.iter().map(|(p, v)| (p.as_str(), *v)).collect();
        scenario.with_all(&changes).ok()
    }

    /// The same without reading the file anew, for the search; the engine is not checked.
    pub(crate) fn spec(&self, scenario: &Scenario, choice: Choice, amounts: &[f64]) -> EngineSpec {
        let mut spec = scenario.spec.clone();
        let base = (choice.base + choice.spacer) * MM;
        spec.stack.deck += base - spec.stack.base_total();
        spec.stack.base_gaskets = vec![base];
        spec.stack.spacers.clear();
        spec.stack.head_gaskets = vec![choice.head * MM];
        for (kind, amount) in self.kinds.iter().zip(amounts) {
            let length = amount * MM;
            match kind {
                Kind::Roof => spec.exhaust.windows.iter_mut().for_each(|w| w.roof_depth -= length),
                Kind::Width => spec.exhaust.windows.iter_mut().for_each(|w| w.chord += length),
                Kind::TopFace => lower_face(&mut spec, length),
                Kind::HeadStep => {
                    spec.head.land_offset -= length;
                    let area = geometry::bore_area(&spec);
                    match &mut spec.head.clearance {
                        Clearance::Assembled { volume, .. } => *volume -= area * length,
                        Clearance::JointPlane { spigot_volume, .. } => {
                            *spigot_volume += area * length;
                        }
                        Clearance::SquishPlane { .. } => {}
                    }
                }
                Kind::Bowl => match &mut spec.head.clearance {
                    Clearance::Assembled { volume, .. }
                    | Clearance::SquishPlane { volume, .. }
                    | Clearance::JointPlane { volume, .. } => *volume += amount * 1e-6,
                },
            }
        }
        spec
    }

    /// Values of the goals' quantities of a specification, those that are simulated from `points`, one for
    /// each of [`Self::simulated_speeds`]; none where one cannot be had.
    pub(crate) fn values_of(
        &self,
        spec: &EngineSpec,
        points: &[Option<Point>],
    ) -> Option<Vec<f64>> {
        let facts = Facts::only(spec, &self.speeds, &self.keys);
        let speeds = self.simulated_speeds();
        let value = |key: &String| {
            let Some((column, rpm)) = simulated(key) else { return facts.get(key) };
            let place = speeds.iter().position(|s| *s == rpm)?;
            (column.value)(points.get(place)?.as_ref()?)
        };
        self.keys.iter().map(value).collect()
    }

    /// Speeds at which the goals need the simulation.
    pub(crate) fn simulated_speeds(&self) -> Vec<f64> {
        let mut speeds: Vec<f64> =
            self.keys.iter().filter_map(|k| simulated(k)).map(|s| s.1).collect();
        speeds.sort_by(f64::total_cmp);
        speeds.dedup();
        speeds
    }

    /// Names of the goals that are never relaxed.
    pub(crate) fn held(&self) -> Vec<&str> {
        let held = self.keys.iter().zip(&self.goals).filter(|(_, g)| g.held);
        held.map(|(k, _)| k.as_str()).collect()
    }
}

/// Cuts metal from the top face: the deck falls, and every depth below it.
fn lower_face(spec: &mut EngineSpec, by: f64) {
    spec.stack.deck -= by;
    let transfers = spec.transfers.iter_mut().flat_map(|g| &mut g.windows);
    let crown = spec.exhaust.windows.iter_mut().chain(transfers);
    for window in crown.chain(spec.intake.windows_mut()) {
        window.roof_depth -= by;
        window.floor_depth -= by;
    }
}

/// Changes of the engine file that an operation makes.
fn cut(scenario: &Scenario, kind: Kind, amount: f64) -> Option<Vec<(String, f64)>> {
    let off = scenario.value("stack.top_face_cut_mm").unwrap_or(0.0);
    let windows = scenario.spec.exhaust.windows.iter().enumerate();
    match kind {
        Kind::TopFace => Some(vec![("stack.top_face_cut_mm".to_owned(), off + amount)]),
        // the file's depths are from the face as it was measured
        Kind::Roof => Some(
            windows
                .map(|(i, w)| {
                    let depth = w.roof_depth / MM + off - amount;
                    (format!("exhaust.window[{i}].roof_depth_mm"), depth)
                })
                .collect(),
        ),
        Kind::Width => Some(
            windows
                .map(|(i, w)| (format!("exhaust.window[{i}].chord_mm"), w.chord / MM + amount))
                .collect(),
        ),
        Kind::HeadStep => {
            let offset = scenario.value(LAND_OFFSET)? - amount;
            Some(land_at(scenario, offset).into_iter().map(|(p, v)| (p.to_owned(), v)).collect())
        }
        Kind::Bowl => {
            let forms = ["head.assembled", "head.squish_plane", "head.joint_plane"];
            let path = format!("{}.volume_cm3", forms.iter().find(|f| scenario.document.has(f))?);
            let volume = scenario.value(&path)? + amount;
            Some(vec![(path, volume)])
        }
    }
}

/// Adds a change; where another changes the same number, both count.
pub(crate) fn add(scenario: &Scenario, changes: &mut Vec<(String, f64)>, path: String, value: f64) {
    match changes.iter_mut().find(|c| c.0 == path) {
        Some(other) => other.1 += value - scenario.value(&path).unwrap_or(0.0),
        None => changes.push((path, value)),
    }
}

/// Where the land stands from the head's joint plane.
pub(crate) const LAND_OFFSET: &str = "head.land_offset_mm";

/// Changes of the engine file that put the land at an offset by a step round the joint face: what then
/// enters the bore is taken from every form of the volume in which it counts.
pub(crate) fn land_at(scenario: &Scenario, offset: f64) -> Vec<(&'static str, f64)> {
    let deeper = scenario.value(LAND_OFFSET).unwrap_or(0.0) - offset;
    let taken = geometry::bore_area(&scenario.spec) * deeper * MM / CM3;
    let forms = [
        ("head.assembled", "head.assembled.volume_cm3", -taken),
        ("head.joint_plane", "head.joint_plane.spigot_volume_cm3", taken),
    ];
    let given = forms.into_iter().filter(|(form, ..)| scenario.document.has(form));
    let volumes = given.map(|(_, path, by)| (path, scenario.value(path).unwrap_or(0.0) + by));
    [(LAND_OFFSET, offset)].into_iter().chain(volumes).collect()
}

/// Whether missing a goal can ruin the engine: the piston against the head, a ring in a port, a skirt or
/// crown past an edge it has to cover, metal that is not there.
pub(crate) fn is_safety(key: &str) -> bool {
    let name = key.split('@').next().unwrap_or(key);
    const ENDS: [&str; 5] =
        ["_bridge_mm", "_stud_metal_mm", "_floor_margin_mm", "_chord_to_bore", "_cover_mm"];
    ["squish_mm", "ring_end_margin_deg"].contains(&name)
        || name.starts_with("skirt_")
        || ENDS.iter().any(|end| name.ends_with(end))
}

/// Column and speed of a simulated quantity.
pub(crate) fn simulated(key: &str) -> Option<(&'static freshcharge_sim::result::Column, f64)> {
    let (name, rpm) = key.split_once('@')?;
    let column = COLUMNS.iter().find(|c| c.key == name)?;
    Some((column, rpm.parse().ok()?))
}

fn unknown(key: &str, facts: &Facts) -> String {
    let name = key.split('@').next().unwrap_or(key);
    let known = facts.0.iter().map(|f| f.key.split('@').next().unwrap_or(&f.key).to_owned());
    let columns = COLUMNS.iter().map(|c| c.key.to_owned());
    format!(
        "{} (freshcharge check --json lists them; a simulated result needs a speed, as in {}@8000)",
        or_nearest("no such quantity", name, known.chain(columns)),
        COLUMNS[1].key
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use freshcharge_sim::scenario;

    #[test]
    fn the_quick_engine_is_the_one_the_file_would_give() {
        let text = include_str!("../../../scenarios/touring.toml");
        let scenario = scenario::read(text).unwrap();
        let mut written = Written::read(include_str!("../../../scenarios/goals.toml"));
        let cut = |most| written::Cut { most, tolerance: 0.0, cost: 1.0, setup: 0.0 };
        written.file.operations =
            [("roof", 1.0), ("width", 2.0), ("top_face", 1.0), ("head_step", 0.5), ("bowl", 2.0)]
                .map(|(n, m)| (n, cut(m)))
                .into();
        let goals = Goals::of(written, &scenario).unwrap();
        let choice = Choice { base: 0.3, spacer: 1.2, head: 0.8 };
        // in the order of their names
        let amounts = [1.1, 0.3, 0.7, 0.9, 0.4];
        let slow = Facts::of(&goals.engine(&scenario, choice, &amounts).unwrap().spec, &[7000.0]);
        let quick = Facts::of(&goals.spec(&scenario, choice, &amounts), &[7000.0]);
        for (a, b) in slow.0.iter().zip(&quick.0) {
            assert_eq!(a.key, b.key);
            assert!((a.value - b.value).abs() <= 1e-9 * a.value.abs().max(1e-3), "{a:?} {b:?}");
        }
    }
}
