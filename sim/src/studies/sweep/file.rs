//! From a sweep file and an engine to a plan, with every fault of both form and sense.

use super::values::{range, shelf_sums, snapped, steps};
use super::{
    Axis, Design, FIGURES, Figure, Hold, Limit, Place, Plan, PlanFault, Sample, Varied, figure,
};
use crate::forms::engine::Scenario;
use crate::forms::sweep::SweepFile;
use crate::forms::{FaultKind, Faults, Place as Table, Words, or_nearest};
use crate::result::COLUMNS;

/// A result or figure, and which way is better.
#[derive(Debug, Clone, PartialEq)]
pub struct Objective {
    /// Its key.
    pub key: String,
    /// Whether more is better.
    pub rising: bool,
}

impl Objective {
    /// Whether `a` is better than `b`.
    #[must_use]
    pub fn better(&self, a: f64, b: f64) -> bool {
        if self.rising { a > b } else { a < b }
    }
}

/// What a sweep file asks for.
#[derive(Debug, Clone, PartialEq)]
pub struct Request {
    /// Name that the file gives the sweep.
    pub name: Option<String>,
    /// The plan.
    pub plan: Plan,
    /// Keys of the results that a row tells.
    pub results: Vec<String>,
    /// What is better.
    pub objectives: Vec<Objective>,
}

/// Figures of a row when the file names none.
const USUAL_FIGURES: &[&str] = &[
    "squish_mm",
    "geometric_ratio",
    "trapped_ratio",
    "exhaust_duration_deg",
    "transfer_duration_deg",
    "blowdown_deg",
];

/// Results of a row when the file names none.
const USUAL_RESULTS: &[&str] = &[
    "power_kw",
    "torque_nm",
    "delivery_ratio",
    "trapping_efficiency",
    "charging_efficiency",
    "cylinder_pressure_at_transfer_opening_bar",
    "crankcase_pressure_at_transfer_opening_bar",
    "late_angle_deg",
    "hot_backflow_mass_mg",
    "hot_backflow_penetration",
    "peak_pressure_bar",
    "cycles",
    "residual",
];

/// What a sweep file asks for of an engine, with further axes behind its own and other speeds where they are
/// given.
///
/// # Errors
/// Every fault found, in order of line.
pub fn request(
    file: &SweepFile,
    base: &Scenario,
    further: &[Axis],
    speeds: Option<&[f64]>,
) -> Result<Request, Faults> {
    let mut reading = Reading { file, base, faults: file.faults.clone() };
    let top = Table::at(&file.document, "");
    let mut axes: Vec<Axis> = Vec::new();
    for table in Table::all(&file.document, "axis") {
        axes.extend(reading.axis(&table));
    }
    axes.extend_from_slice(further);
    let sample = reading.sample();
    let holds = Table::all(&file.document, "hold");
    let holds: Vec<Hold> = holds.iter().filter_map(|h| reading.hold(h)).collect();
    let limits = Table::all(&file.document, "limit");
    let limits: Vec<Limit> = limits.iter().filter_map(|l| reading.limit(l)).collect();
    let figures = reading.figures(&top, &holds, &limits);
    let geometry_only = top.flag("geometry_only");
    let speeds = match speeds {
        _ if geometry_only => Vec::new(),
        Some(speeds) => speeds.to_vec(),
        None => top.numbers("rpm").unwrap_or_else(|| base.run_speeds.clone()),
    };
    let results = reading.results(&top);
    let objectives = reading.objectives(&results, &figures, geometry_only);
    reading.faults.none_or()?;
    let name = top.words("name").map(crate::forms::displayable);
    let plan = Plan { axes, sample, holds, limits, figures, speeds };
    Ok(Request { name, plan, results, objectives })
}

/// Faults of a plan at the lines of its file; axes beyond the file's own are left out.
#[must_use]
pub fn located(file: &SweepFile, faults: &[PlanFault]) -> Faults {
    let own = file.document.count("axis");
    let mut located = Faults::default();
    for PlanFault { place, key, remedy } in faults {
        let table = match place {
            Place::Whole => String::new(),
            Place::Axis(a, _) if *a >= own => continue,
            Place::Axis(a, n) => {
                let zip = format!("axis[{a}].zip[{n}]");
                if file.document.has(&zip) { zip } else { format!("axis[{a}]") }
            }
            Place::Sample(Some(i)) if file.document.has(&format!("sample.over[{i}]")) => {
                format!("sample.over[{i}]")
            }
            Place::Sample(_) => "sample".to_owned(),
            Place::Hold(i) => format!("hold[{i}]"),
            Place::Limit(i) => format!("limit[{i}]"),
        };
        let path = if table.is_empty() { (*key).to_owned() } else { format!("{table}.{key}") };
        located.add_with(|| file.document.fault(FaultKind::Implausible, &path, remedy.clone()));
    }
    located.in_order()
}

struct Reading<'a> {
    file: &'a SweepFile,
    base: &'a Scenario,
    faults: Faults,
}

impl<'a> Reading<'a> {
    fn fault(&mut self, table: &Table, key: &str, remedy: impl Into<String>) {
        let document = &self.file.document;
        self.faults
            .add_with(|| document.fault(FaultKind::Implausible, &table.key(key), remedy.into()));
    }

    /// A fault at one word of a list.
    fn word(&mut self, (word, span): &Words, remedy: String) {
        let document = &self.file.document;
        self.faults.add_with(|| document.fault_at(FaultKind::Unknown, span.clone(), word, remedy));
    }

    fn axis(&mut self, table: &Table<'a>) -> Option<Axis> {
        let zip = Table::all(&self.file.document, &table.key("zip"));
        if zip.is_empty() {
            return Some(Axis { numbers: vec![self.numbers(table)?] });
        }
        if ["path", "values", "from"].iter().any(|k| table.tries(k)) {
            self.fault(table, "path", "an axis has either a path of its own or zip: put every number that goes with the others into zip, each with its path and values");
            return None;
        }
        let numbers: Vec<_> = zip.iter().map(|t| self.numbers(t)).collect();
        numbers.into_iter().collect::<Option<Vec<_>>>().map(|numbers| Axis { numbers })
    }

    /// One number of an axis with its values.
    fn numbers(&mut self, table: &Table<'a>) -> Option<Varied> {
        if !table.tries("path") {
            self.fault(table, "path", "missing: write path = \"...\", the number to vary");
        }
        let forms = ["values", "from", "shelf"].map(|k| table.tries(k));
        if forms.iter().filter(|f| **f).count() != 1 {
            self.fault(table, "values", "give one of values, from and to, or shelf");
            return None;
        }
        let values = match (table.list("values"), table.list("shelf")) {
            (Some(values), _) => Ok(values.to_vec()),
            (_, Some(pieces)) => {
                let most = table.written("pieces").map_or(pieces.len(), |n| n as usize);
                shelf_sums(pieces, most).map_err(|remedy| ("shelf", remedy))
            }
            _ if !forms[1] || table.is_faulty("from") => return None,
            _ => self.ranged(table)?,
        };
        let path = table.words("path");
        let mut values = match values {
            Ok(values) => values,
            Err((key, remedy)) => {
                self.fault(table, key, remedy);
                return None;
            }
        };
        let path = path?.to_owned();
        if table.flag("relative") {
            let present = self.base.paths(&path).and_then(|_| {
                self.base.value(&path).ok_or_else(|| {
                    "several numbers of this path differ, so that nothing can be relative to them"
                        .to_owned()
                })
            });
            match present {
                Ok(present) => values.iter_mut().for_each(|v| *v = snapped(*v + present)),
                Err(remedy) => {
                    self.fault(table, "path", remedy);
                    return None;
                }
            }
        }
        Some(Varied { path, values })
    }

    /// Values of a range; none where one of its keys has a fault already.
    fn ranged(&self, table: &Table<'a>) -> Option<Result<Vec<f64>, (&'static str, String)>> {
        if ["from", "to", "step", "count"].iter().any(|k| table.is_faulty(k)) {
            return None;
        }
        let ends = table.written("from").zip(table.written("to"));
        let Some((from, to)) = ends else {
            return Some(Err(("from", "a range needs from and to".to_owned())));
        };
        let values = match (table.written("step"), table.written("count")) {
            (Some(step), None) => steps(from, to, step),
            (None, Some(count)) => range(from, to, count as usize),
            _ => Err("a range needs step or count, one of them".to_owned()),
        };
        Some(values.map_err(|remedy| ("from", remedy)))
    }

    fn sample(&mut self) -> Option<Sample> {
        let table = Table::at(&self.file.document, "sample");
        if !table.is_there() {
            return None;
        }
        let mut over = Vec::new();
        for range in Table::all(&self.file.document, "sample.over") {
            let Some(path) = range.words("path") else { continue };
            match self.ends(&range, path) {
                Some(Ok((from, to))) => over.push(Varied::new(path, vec![from, to])),
                Some(Err(remedy)) => self.fault(&range, "path", remedy),
                None => {}
            }
        }
        if table.flag("tolerances") {
            let tolerances = self.base.document.tolerances.iter().filter(|(_, w)| **w > 0.0);
            for (path, width) in tolerances {
                if let Some(middle) = self.base.value(path) {
                    over.push(Varied::new(path, vec![middle - width, middle + width]));
                }
            }
            if over.is_empty() {
                let remedy = "no number of the engine file has a tolerance; write such as \"33.1 ± 0.1 mm\" there, or give ranges in [[sample.over]]";
                self.fault(&table, "tolerances", remedy);
            }
        }
        let design = match table.words("design")? {
            "sobol" => Design::Sobol,
            "latin-hypercube" => Design::LatinHypercube,
            _ => Design::Indices,
        };
        Some(Sample {
            design,
            count: table.written("count")? as u64,
            seed: table.written("seed").unwrap_or(0.0) as u64,
            readings: table.flag("readings") || table.flag("tolerances"),
            over,
        })
    }

    /// Ends of a sampled range; none where one of its keys has a fault already.
    fn ends(&self, table: &Table<'a>, path: &str) -> Option<Result<(f64, f64), String>> {
        if ["from", "to", "plus_minus"].iter().any(|k| table.is_faulty(k)) {
            return None;
        }
        let of = |key: &str| table.written(key);
        Some(match (of("from"), of("to"), of("plus_minus")) {
            (Some(from), Some(to), None) => Ok((from, to)),
            (None, None, Some(width)) => self.base.paths(path).and_then(|_| {
                let middle = self.base.value(path);
                let middle =
                    middle.ok_or_else(|| "several numbers of this path differ".to_owned())?;
                Ok((middle - width, middle + width))
            }),
            _ => Err("give from and to, or plus_minus".to_owned()),
        })
    }

    fn hold(&mut self, table: &Table<'a>) -> Option<Hold> {
        let of = self.figure(table);
        let shelf = match (table.list("shelf"), table.written("pieces")) {
            (None, _) => Vec::new(),
            (Some(shelf), None) => shelf.to_vec(),
            (Some(shelf), Some(most)) => match shelf_sums(shelf, most as usize) {
                Ok(sums) => sums,
                Err(remedy) => {
                    self.fault(table, "shelf", remedy);
                    return None;
                }
            },
        };
        let by = table.words("by")?.to_owned();
        Some(Hold { of: of?, by, at: table.written("at"), shelf })
    }

    fn limit(&mut self, table: &Table<'a>) -> Option<Limit> {
        let of = self.figure(table)?;
        Some(Limit { of, least: table.written("least"), most: table.written("most") })
    }

    /// The figure that a table is of.
    fn figure(&mut self, table: &Table<'a>) -> Option<&'static Figure> {
        let key = table.words("of")?;
        let found = figure(key);
        if found.is_none() {
            self.fault(table, "of", no_figure(key));
        }
        found
    }

    fn figures(&mut self, top: &Table, holds: &[Hold], limits: &[Limit]) -> Vec<&'static Figure> {
        let mut figures: Vec<&'static Figure> = Vec::new();
        let listed = top.list_of_words("figures");
        for word in listed {
            match figure(&word.0) {
                Some(found) => figures.push(found),
                None => self.word(word, no_figure(&word.0)),
            }
        }
        if listed.is_empty() {
            figures.extend(FIGURES.iter().filter(|f| USUAL_FIGURES.contains(&f.key)));
        }
        for of in holds.iter().map(|h| h.of).chain(limits.iter().map(|l| l.of)) {
            if !figures.contains(&of) {
                figures.push(of);
            }
        }
        figures
    }

    fn results(&mut self, top: &Table) -> Vec<String> {
        let mut keys: Vec<String> = Vec::new();
        let mut add = |key: &str| {
            if !keys.iter().any(|k| k == key) {
                keys.push(key.to_owned());
            }
        };
        let listed = top.list_of_words("results");
        for word in listed {
            match word.0.as_str() {
                "all" => results_known().for_each(&mut add),
                key if results_known().any(|k| k == key) => add(key),
                key => self.word(word, or_nearest("no result", key, results_known())),
            }
        }
        if listed.is_empty() {
            USUAL_RESULTS.iter().for_each(|k| add(k));
        }
        let goals = Table::at(&self.file.document, "objectives");
        for (goal, _) in goals.list_of_words("most").iter().chain(goals.list_of_words("least")) {
            if results_known().any(|k| k == goal) {
                add(goal);
            }
        }
        keys
    }

    fn objectives(
        &mut self,
        results: &[String],
        figures: &[&'static Figure],
        geometry_only: bool,
    ) -> Vec<Objective> {
        let goals = Table::at(&self.file.document, "objectives");
        let mut objectives = Vec::new();
        for (key, rising) in [("most", true), ("least", false)] {
            for word in goals.list_of_words(key) {
                let goal = &word.0;
                if results.contains(goal) || figures.iter().any(|f| f.key == *goal) {
                    objectives.push(Objective { key: goal.clone(), rising });
                } else {
                    let known = COLUMNS.iter().map(|c| c.key);
                    self.word(word, or_nearest("no result", goal, known));
                }
            }
        }
        if let Some(first) = results.first().filter(|_| objectives.is_empty() && !geometry_only) {
            objectives.push(Objective { key: first.clone(), rising: true });
        }
        objectives
    }
}

/// Results that a row may tell.
fn results_known() -> impl Iterator<Item = &'static str> {
    COLUMNS.iter().map(|c| c.key).filter(|k| !["rpm", "settled"].contains(k))
}

fn no_figure(key: &str) -> String {
    or_nearest("no figure of a build", key, FIGURES.iter().map(|f| f.key))
}
