//! A plan file, or an engine file with `--vary`, to a plan.

use std::ops::Range;
use std::path::{Path, PathBuf};

use freshcharge_sim::result::COLUMNS;
use freshcharge_sim::scenario::{self, Fault, FaultKind, Scenario};
use freshcharge_sim::sweep::{
    Axis, Design, FIGURES, Figure, Hold, Limit, Place, Plan, PlanFault, Sample, Varied, figure,
    range, shelf_sums, steps,
};
use serde::Deserialize;
use toml::Spanned;

use crate::files::{self, Failure};
use crate::present::rows::Objective;

type Words = Vec<Spanned<String>>;

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct PlanFile {
    name: Option<String>,
    engine: Option<Spanned<String>>,
    rpm: Option<Spanned<toml::Value>>,
    geometry_only: bool,
    figures: Words,
    results: Words,
    objectives: Goals,
    axis: Vec<Spanned<AxisTable>>,
    sample: Option<Spanned<SampleTable>>,
    hold: Vec<Spanned<HoldTable>>,
    limit: Vec<Spanned<LimitTable>>,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct Goals {
    most: Words,
    least: Words,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct AxisTable {
    path: Option<String>,
    values: Option<Vec<f64>>,
    from: Option<f64>,
    to: Option<f64>,
    step: Option<f64>,
    count: Option<usize>,
    shelf: Option<Vec<f64>>,
    pieces: Option<usize>,
    relative: bool,
    zip: Vec<AxisTable>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SampleTable {
    design: Spanned<String>,
    count: u64,
    #[serde(default)]
    seed: u64,
    #[serde(default)]
    readings: bool,
    /// Every number that the engine file gives with a tolerance.
    #[serde(default)]
    tolerances: bool,
    #[serde(default)]
    over: Vec<Spanned<RangeTable>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RangeTable {
    path: String,
    from: Option<f64>,
    to: Option<f64>,
    plus_minus: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct HoldTable {
    of: String,
    by: String,
    at: Option<f64>,
    #[serde(default)]
    shelf: Vec<f64>,
    /// Most pieces of the shelf together; each by itself when left out.
    pieces: Option<usize>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LimitTable {
    of: String,
    least: Option<f64>,
    most: Option<f64>,
}

/// What a sweep is to be.
pub(crate) struct Asked {
    /// Name of the plan.
    pub(crate) name: String,
    /// The engine it starts from.
    pub(crate) base: Scenario,
    /// SHA-256 of the engine file.
    pub(crate) engine_hash: String,
    /// The plan.
    pub(crate) plan: Plan,
    /// Keys of the results that a row tells.
    pub(crate) results: Vec<String>,
    /// What is better.
    pub(crate) objectives: Vec<Objective>,
    /// The plan file and where its parts stand, for faults that show later.
    pub(crate) source: Source,
}

/// A plan file's text with the places of its parts.
pub(crate) struct Source {
    path: PathBuf,
    text: String,
    axes: Vec<Range<usize>>,
    sample: Range<usize>,
    over: Vec<Range<usize>>,
    holds: Vec<Range<usize>>,
    limits: Vec<Range<usize>>,
    /// Axes from the command line come after those of the file.
    varied: Vec<String>,
}

impl Source {
    /// Faults of the plan with their lines.
    pub(crate) fn failure(&self, faults: Vec<PlanFault>) -> Failure {
        let mut shown = Vec::new();
        for PlanFault { place, key, remedy } in faults {
            let span = match place {
                Place::Whole => None,
                Place::Axis(a, _) => match self.axes.get(a) {
                    Some(span) => Some(span),
                    None => {
                        let value =
                            self.varied.get(a - self.axes.len()).cloned().unwrap_or_default();
                        return Failure::Argument { flag: "--vary", value, remedy };
                    }
                },
                Place::Sample(None) => Some(&self.sample),
                Place::Sample(Some(i)) => self.over.get(i).or(Some(&self.sample)),
                Place::Hold(i) => self.holds.get(i),
                Place::Limit(i) => self.limits.get(i),
            };
            shown.push(self.fault(span.cloned().unwrap_or(0..0), key, remedy));
        }
        Failure::Faults(crate::faults::report(&self.path, &self.text, &shown))
    }

    /// A fault in a part of the file: at the line that sets `key`, else at the part's first line.
    fn fault(&self, part: Range<usize>, key: &str, remedy: String) -> Fault {
        // a table's own span is its header; its keys follow until the next one
        let behind = self.text.get(part.end..).unwrap_or_default();
        let end = behind.find("\n[").map_or(self.text.len(), |i| part.end + i);
        let inside = self.text.get(part.start..end).unwrap_or_default();
        let mut start = part.start;
        let mut line = "";
        let mut at = part.start;
        for candidate in inside.split_inclusive('\n') {
            let indent = candidate.len() - candidate.trim_start().len();
            let word: String = candidate.trim_start().chars().take_while(|c| *c != '=').collect();
            if word.trim() == key {
                (start, line) = (at + indent, candidate.trim());
                break;
            }
            at += candidate.len();
        }
        let found = line.split_once('=').map_or("", |l| l.1.trim()).to_owned();
        fault_at(&self.text, start..start + line.len(), key, found, remedy)
    }
}

fn fault_at(
    text: &str,
    span: Range<usize>,
    key: &str,
    found: String,
    remedy: impl Into<String>,
) -> Fault {
    let before = text.get(..span.start).unwrap_or(text);
    let line = before.matches('\n').count() + 1;
    let column = before.rsplit('\n').next().map_or(0, |l| l.chars().count()) + 1;
    let (key, remedy) = (key.to_owned(), remedy.into());
    Fault { kind: FaultKind::Implausible, span, line, column, key, found, remedy }
}

/// Whether the text is a plan and not an engine.
fn is_plan(text: &str) -> bool {
    let plain = |line: &str, key: &str| {
        line.trim_start().strip_prefix(key).is_some_and(|r| r.trim_start().starts_with('='))
    };
    text.lines().take_while(|l| !l.trim_start().starts_with("[crank_train")).any(|l| {
        plain(l, "engine")
            || l.trim_start().starts_with("[[axis]]")
            || l.trim_start().starts_with("[sample]")
    })
}

/// Reads a plan file, or an engine file, with what the command line adds.
pub(crate) fn read(path: &Path, vary: &[String], rpm: Option<&str>) -> Result<Asked, Failure> {
    if path == Path::new("-") {
        let remedy = "a sweep reads a file, not standard input".to_owned();
        return Err(Failure::Argument { flag: "PLAN", value: "-".to_owned(), remedy });
    }
    let text = files::read_text(path)?;
    let (plan, engine) = if is_plan(&text) {
        let plan = parse(path, &text)?;
        let Some(engine) = &plan.engine else {
            let remedy = "missing: write engine = \"engine.toml\", the file to start from";
            let fault = fault_at(&text, 0..0, "engine", String::new(), remedy);
            return Err(Failure::Faults(crate::faults::report(path, &text, &[fault])));
        };
        let engine = path.with_file_name("").join(engine.get_ref());
        (plan, engine)
    } else {
        (PlanFile::default(), path.to_owned())
    };
    let (base, engine_hash) = crate::session::engine::load(&engine)?;
    Reading { path, text: &text, faults: Vec::new() }.asked(plan, base, engine_hash, vary, rpm)
}

fn parse(path: &Path, text: &str) -> Result<PlanFile, Failure> {
    toml::from_str(text).map_err(|error| {
        let span = error.span().unwrap_or(0..0);
        let remedy = crate::faults::syntax_remedy(text, &error);
        let key = unknown_key(&remedy).unwrap_or("the plan").to_owned();
        let fault = fault_at(text, span, &key, String::new(), nearest_key(&remedy));
        Failure::Faults(crate::faults::report(path, text, &[fault]))
    })
}

fn unknown_key(message: &str) -> Option<&str> {
    message.strip_prefix("unknown field `")?.split('`').next()
}

/// The message about a key that is not known, with the nearest known one first.
fn nearest_key(message: &str) -> String {
    let Some(key) = unknown_key(message) else { return message.to_owned() };
    let known: Vec<&str> = message.split('`').skip(3).step_by(2).collect();
    match likest(key, known.iter().copied()) {
        Some(near) => format!("not a known key here; did you mean {near}?"),
        None => format!("not a known key here; known are {}", known.join(", ")),
    }
}

fn likest<'a>(word: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let scored = known.map(|k| (strsim::jaro_winkler(word, k), k));
    scored.filter(|(s, _)| *s > 0.8).max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, k)| k)
}

/// A plan under conversion.
struct Reading<'a> {
    path: &'a Path,
    text: &'a str,
    faults: Vec<Fault>,
}

impl Reading<'_> {
    fn add(&mut self, span: Range<usize>, key: &str, remedy: impl Into<String>) {
        // a table's span starts at its header or its first key; show one line of it
        let text = self.text.get(span.clone()).unwrap_or_default();
        let length = text.lines().next().map_or(0, str::len);
        let span = span.start..span.start + length;
        self.faults.push(fault_at(self.text, span, key, String::new(), remedy));
    }

    fn asked(
        mut self,
        file: PlanFile,
        base: Scenario,
        engine_hash: String,
        vary: &[String],
        rpm: Option<&str>,
    ) -> Result<Asked, Failure> {
        let stem = self.path.file_stem().map_or_else(String::new, |s| s.to_string_lossy().into());
        let name = file.name.clone().unwrap_or(stem);
        let mut axes: Vec<Axis> = Vec::new();
        for table in &file.axis {
            axes.extend(self.axis(table, &base));
        }
        for text in vary {
            axes.push(varied(text)?);
        }
        let sample = file.sample.as_ref().and_then(|s| self.sample(s, &base));
        let holds: Vec<Hold> = file.hold.iter().filter_map(|h| self.hold(h)).collect();
        let limits: Vec<Limit> = file.limit.iter().filter_map(|l| self.limit(l)).collect();
        let mut figures: Vec<&'static Figure> =
            file.figures.iter().filter_map(|f| self.figure(f.span(), f.get_ref())).collect();
        if file.figures.is_empty() {
            figures.extend(FIGURES.iter().filter(|f| USUAL_FIGURES.contains(&f.key)));
        }
        let used: Vec<_> = holds.iter().map(|h| h.of).chain(limits.iter().map(|l| l.of)).collect();
        for of in used {
            if !figures.contains(&of) {
                figures.push(of);
            }
        }
        let speeds = self.speeds(&file, &base, rpm)?;
        let results = self.results(&file);
        let objectives = self.objectives(&file, &results, &figures);
        if !self.faults.is_empty() {
            self.faults.sort_by_key(|f| (f.line, f.column));
            let report = crate::faults::report(self.path, self.text, &self.faults);
            return Err(Failure::Faults(report));
        }
        let over = file.sample.iter().flat_map(|s| s.get_ref().over.iter().map(Spanned::span));
        let source = Source {
            path: self.path.to_owned(),
            text: self.text.to_owned(),
            axes: file.axis.iter().map(Spanned::span).collect(),
            sample: file.sample.as_ref().map_or(0..0, Spanned::span),
            over: over.collect(),
            holds: file.hold.iter().map(Spanned::span).collect(),
            limits: file.limit.iter().map(Spanned::span).collect(),
            varied: vary.to_vec(),
        };
        let plan = Plan { axes, sample, holds, limits, figures, speeds };
        Ok(Asked { name, base, engine_hash, plan, results, objectives, source })
    }

    fn speeds(
        &mut self,
        file: &PlanFile,
        base: &Scenario,
        rpm: Option<&str>,
    ) -> Result<Vec<f64>, Failure> {
        if file.geometry_only {
            return Ok(Vec::new());
        }
        if let Some(text) = rpm {
            let flag = "--rpm";
            return scenario::parse_speeds(text).map_err(|remedy| Failure::Argument {
                flag,
                value: text.to_owned(),
                remedy,
            });
        }
        let Some(given) = &file.rpm else { return Ok(base.run_speeds.clone()) };
        let text = match given.get_ref() {
            toml::Value::String(text) => text.clone(),
            toml::Value::Array(items) => {
                items.iter().map(ToString::to_string).collect::<Vec<_>>().join(",")
            }
            other => other.to_string(),
        };
        Ok(scenario::parse_speeds(&text).unwrap_or_else(|remedy| {
            self.add(given.span(), "rpm", remedy);
            Vec::new()
        }))
    }

    fn axis(&mut self, table: &Spanned<AxisTable>, base: &Scenario) -> Option<Axis> {
        let (span, table) = (table.span(), table.get_ref());
        let made = if table.zip.is_empty() {
            numbers(table, base).map(|v| vec![v])
        } else if table.path.is_some() || table.values.is_some() || table.from.is_some() {
            Err("an axis has either a path of its own or zip: put every number that goes with the others into zip, each with its path and values".to_owned())
        } else {
            table.zip.iter().map(|t| numbers(t, base)).collect()
        };
        match made {
            Ok(numbers) => Some(Axis { numbers }),
            Err(remedy) => {
                self.add(span, table.path.as_deref().unwrap_or("axis"), remedy);
                None
            }
        }
    }

    fn sample(&mut self, table: &Spanned<SampleTable>, base: &Scenario) -> Option<Sample> {
        let (span, table) = (table.span(), table.get_ref());
        let design = match table.design.get_ref().as_str() {
            "sobol" => Design::Sobol,
            "latin-hypercube" => Design::LatinHypercube,
            "indices" => Design::Indices,
            _ => {
                let remedy = "write \"sobol\", \"latin-hypercube\" or \"indices\"";
                self.add(table.design.span(), "design", remedy);
                return None;
            }
        };
        let mut over = Vec::new();
        for range in &table.over {
            let ends = ends(range.get_ref(), base);
            match ends {
                Ok((from, to)) => over.push(Varied::new(&range.get_ref().path, vec![from, to])),
                Err(remedy) => self.add(range.span(), &range.get_ref().path, remedy),
            }
        }
        if table.tolerances {
            let tolerances = base.document.tolerances.iter().filter(|(_, w)| **w > 0.0);
            for (path, width) in tolerances {
                if let Some(middle) = base.value(path) {
                    over.push(Varied::new(path, vec![middle - width, middle + width]));
                }
            }
            if over.is_empty() {
                let remedy = "no number of the engine file has a tolerance; write such as \"33.1 ± 0.1 mm\" there, or give ranges in [[sample.over]]";
                self.add(span, "tolerances", remedy);
                return None;
            }
        }
        let readings = table.readings || table.tolerances;
        Some(Sample { design, count: table.count, seed: table.seed, readings, over })
    }

    fn hold(&mut self, table: &Spanned<HoldTable>) -> Option<Hold> {
        let (span, table) = (table.span(), table.get_ref());
        let of = self.figure(span.clone(), &table.of)?;
        let shelf = match table.pieces {
            None => table.shelf.clone(),
            Some(most) => match shelf_sums(&table.shelf, most) {
                Ok(sums) => sums,
                Err(remedy) => {
                    self.add(span, "shelf", remedy);
                    return None;
                }
            },
        };
        Some(Hold { of, by: table.by.clone(), at: table.at, shelf })
    }

    fn limit(&mut self, table: &Spanned<LimitTable>) -> Option<Limit> {
        let (span, table) = (table.span(), table.get_ref());
        let of = self.figure(span, &table.of)?;
        Some(Limit { of, least: table.least, most: table.most })
    }

    fn figure(&mut self, span: Range<usize>, key: &str) -> Option<&'static Figure> {
        let found = figure(key);
        if found.is_none() {
            let known = || FIGURES.iter().map(|f| f.key);
            let remedy = match likest(key, known()) {
                Some(near) => format!("no figure of a build; did you mean {near}?"),
                None => format!(
                    "no figure of a build; known are {}",
                    known().collect::<Vec<_>>().join(", ")
                ),
            };
            self.add(span, key, remedy);
        }
        found
    }

    fn results(&mut self, file: &PlanFile) -> Vec<String> {
        let mut keys: Vec<String> = Vec::new();
        let known = || COLUMNS.iter().map(|c| c.key).filter(|k| !["rpm", "settled"].contains(k));
        for word in &file.results {
            let key = word.get_ref();
            if key == "all" {
                keys.extend(known().map(str::to_owned));
            } else if known().any(|k| k == key) {
                keys.push(key.clone());
            } else {
                let near = likest(key, known()).unwrap_or("power_kw");
                self.add(word.span(), key, format!("no result; did you mean {near}?"));
            }
        }
        if file.results.is_empty() {
            keys.extend(USUAL_RESULTS.iter().map(|k| (*k).to_owned()));
        }
        let goals = file.objectives.most.iter().chain(&file.objectives.least);
        keys.extend(goals.map(|g| g.get_ref().clone()).filter(|g| known().any(|k| k == g)));
        let mut seen = Vec::new();
        keys.retain(|k| !seen.contains(k) && (seen.push(k.clone()), true).1);
        keys
    }

    fn objectives(
        &mut self,
        file: &PlanFile,
        results: &[String],
        figures: &[&'static Figure],
    ) -> Vec<Objective> {
        let mut objectives = Vec::new();
        let most = file.objectives.most.iter().map(|g| (g, true));
        for (goal, rising) in most.chain(file.objectives.least.iter().map(|g| (g, false))) {
            let key = goal.get_ref();
            if results.contains(key) || figures.iter().any(|f| f.key == key) {
                objectives.push(Objective { key: key.clone(), rising });
            } else {
                let near = likest(key, COLUMNS.iter().map(|c| c.key)).unwrap_or("power_kw");
                self.add(goal.span(), key, format!("no result; did you mean {near}?"));
            }
        }
        if objectives.is_empty() && !file.geometry_only {
            objectives.push(Objective { key: results[0].clone(), rising: true });
        }
        objectives
    }
}

/// Figures of a row when the plan names none.
const USUAL_FIGURES: &[&str] = &[
    "squish_mm",
    "geometric_ratio",
    "trapped_ratio",
    "exhaust_duration_deg",
    "transfer_duration_deg",
    "blowdown_deg",
];

/// Results of a row when the plan names none.
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

/// One number of an axis with its values.
fn numbers(table: &AxisTable, base: &Scenario) -> Result<Varied, String> {
    let path = table.path.clone().ok_or("missing: write path = \"...\", the number to vary")?;
    let forms = [table.values.is_some(), table.from.is_some(), table.shelf.is_some()];
    if forms.iter().filter(|f| **f).count() != 1 {
        return Err("give one of values, from and to, or shelf".to_owned());
    }
    let mut values = match (&table.values, &table.shelf, table.from, table.to) {
        (Some(values), ..) => values.clone(),
        (_, Some(pieces), ..) => shelf_sums(pieces, table.pieces.unwrap_or(pieces.len()))?,
        (_, _, Some(from), Some(to)) => match (table.step, table.count) {
            (Some(step), None) => steps(from, to, step)?,
            (None, Some(count)) => range(from, to, count)?,
            _ => return Err("a range needs step or count, one of them".to_owned()),
        },
        _ => return Err("a range needs from and to".to_owned()),
    };
    if table.relative {
        base.paths(&path)?;
        let present = base.value(&path).ok_or_else(|| {
            "several numbers of this path differ, so that nothing can be relative to them"
                .to_owned()
        })?;
        for value in &mut values {
            *value = freshcharge_sim::sweep::snapped(*value + present);
        }
    }
    Ok(Varied { path, values })
}

/// Ends of a sampled range.
fn ends(table: &RangeTable, base: &Scenario) -> Result<(f64, f64), String> {
    match (table.from, table.to, table.plus_minus) {
        (Some(from), Some(to), None) => Ok((from, to)),
        (None, None, Some(width)) => {
            base.paths(&table.path)?;
            let middle = base.value(&table.path).ok_or("several numbers of this path differ")?;
            Ok((middle - width, middle + width))
        }
        _ => Err("give from and to, or plus_minus".to_owned()),
    }
}

/// An axis as written on the command line: PATH=from:to:step or PATH=a,b,c.
fn varied(text: &str) -> Result<Axis, Failure> {
    let fail = |remedy: String| Failure::Argument {
        flag: "--vary",
        value: text.to_owned(),
        remedy: format!(
            "{remedy}; write PATH=from:to:step or PATH=a,b,c, such as stack.base_total_mm=0.5:2.5:0.25"
        ),
    };
    let (path, values) = text.split_once('=').ok_or_else(|| fail("no =".to_owned()))?;
    let number = |part: &str| {
        let value = part.trim().parse::<f64>().ok().filter(|v| v.is_finite());
        value.ok_or_else(|| fail(format!("{:?} is not a number", part.trim())))
    };
    let values = match values.split(':').collect::<Vec<_>>()[..] {
        [list] => list.split(',').map(number).collect::<Result<Vec<_>, _>>()?,
        [from, to, step] => steps(number(from)?, number(to)?, number(step)?).map_err(fail)?,
        _ => return Err(fail("no range".to_owned())),
    };
    Ok(Axis { numbers: vec![Varied::new(path.trim(), values)] })
}
