//! `freshcharge report`: a build up as one page that needs nothing else, and in Markdown.

mod against;
mod explore;
mod sections;

use std::path::Path;

use freshcharge_sim::workshop::Facts;

use crate::Outcome;
use crate::args::ReportArgs;
use crate::present::style;
use crate::present::tables::layout::number;
use crate::present::writeup::html::{self, Frame};
use crate::present::writeup::template::{Names, SHIPPED, Template};
use crate::session::engine::{load, speeds_or, start};
use crate::session::files::{self, Failure};
use crate::session::measured::{self, Measured};
use freshcharge_sim::studies::run::Run;

/// What a write-up is made from.
struct Material<'a> {
    args: &'a ReportArgs,
    /// The build, or the one before and the one after.
    runs: Vec<Run>,
    measured: Measured,
    /// The same builds at the speeds at which was measured, traced.
    beside: Vec<Run>,
}

impl Material<'_> {
    /// The build that is told of.
    fn last(&self) -> &Run {
        &self.runs[self.runs.len() - 1]
    }

    /// Highest speed computed [1/min].
    fn top(&self) -> f64 {
        self.last().rows.iter().map(|r| r.rpm).fold(0.0, f64::max)
    }
}

/// Whether two paths lead to one file.
fn same_file(a: &Path, b: &Path) -> bool {
    match (a.canonicalize(), b.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => a == b,
    }
}

/// Whether an engine file stands there.
fn is_engine(path: &Path) -> bool {
    files::read_text(path).is_ok_and(|text| freshcharge_sim::forms::engine::read(&text).is_ok())
}

/// Refuses to write over what somebody may still need.
fn there_already(flag: &'static str, path: &Path) -> Failure {
    let remedy = "this file is there already and would be lost; choose another name".to_owned();
    Failure::Argument { flag, value: path.display().to_string(), remedy }
}

/// Runs the command.
pub(crate) fn run(args: &ReportArgs) -> Result<Outcome, Failure> {
    if let Some(path) = &args.write_template {
        if is_engine(path) {
            return Err(there_already("--write-template", path));
        }
        files::write(path, SHIPPED.as_bytes())?;
        files::print(&format!("{}\n", path.display()))?;
        if args.files.is_empty() {
            return Ok(Outcome::Done);
        }
    }
    let inputs = args.files.iter().chain(&args.measured).chain(&args.template).chain(&args.sweep);
    if inputs.into_iter().any(|input| same_file(input, &args.out)) {
        return Err(there_already("--out", &args.out));
    }
    let template = crate::session::writeup::template(args.template.as_deref())?;
    let material = gather(args, &template)?;
    let sections = sections::all(&material)?;
    let names = names(&material);
    let written = template.tell(&sections, &names);
    let style = format!("{}{}{}", style::css(), explore::STYLE, written.style);
    let frame = Frame {
        policy: &explore::policy(),
        style: &style,
        script: &explore::script(),
        title: &written.title,
    };
    let page = html::page(&frame, &written.told);
    files::write(&args.out, page.as_bytes())?;
    files::print(&format!("{} ({} kB)\n", args.out.display(), page.len() / 1000))?;
    if let Some(folder) = &args.markdown {
        let pictures = crate::session::writeup::write_markdown(
            folder,
            "build.md",
            &written.title,
            &written.told,
        )?;
        let file = folder.join("build.md");
        files::print(&format!("{} with {pictures} pictures\n", file.display()))?;
    }
    Ok(if material.runs.iter().all(freshcharge_sim::studies::run::Run::complete) {
        Outcome::Done
    } else {
        Outcome::Incomplete
    })
}

/// Reads everything, refuses what is wrong before the first cycle is computed, and computes.
fn gather<'a>(args: &'a ReportArgs, template: &Template) -> Result<Material<'a>, Failure> {
    let engines = args.files.iter().map(|f| load(f)).collect::<Result<Vec<_>, _>>()?;
    crate::session::version::same_model(
        args.files.iter().zip(&engines).map(|(file, e)| (&**file, &e.0)),
    )?;
    let known: Vec<String> = facts_named(engines.iter().map(|e| &e.0.spec))
        .into_iter()
        .map(|(name, _)| name)
        .chain(WORDS.iter().map(|w| (*w).to_owned()))
        .collect();
    let known: Vec<&str> = known.iter().map(String::as_str).collect();
    template.check(sections::KEYS, &known).map_err(Failure::Faults)?;
    // pressures over ambient are those of the build that is told of
    let measured = match engines.last() {
        Some((scenario, _)) => measured::read_all(&args.measured, &scenario.spec)?,
        None => Measured::default(),
    };
    let measured_at = against::speeds(&measured);
    let mut runs = Vec::new();
    let mut beside = Vec::new();
    let mut speeds: Option<Vec<f64>> = None;
    for (file, (scenario, hash)) in args.files.iter().zip(engines) {
        let these = speeds_or(args.rpm.as_deref(), &scenario.run_speeds)?;
        let these = speeds.get_or_insert(these).clone();
        let again = (scenario.clone(), hash.clone());
        runs.push(start(file, scenario, hash, &these, true, args.quiet)?);
        if !measured_at.is_empty() {
            beside.push(start(file, again.0, again.1, &measured_at, true, args.quiet)?);
        }
    }
    Ok(Material { args, runs, measured, beside })
}

/// Words and results that templates may name; those of the first of two builds with `base.` before them.
const WORDS: &[&str] = &[
    "engine",
    "use",
    "version",
    "file",
    "sha256",
    "peak_power_kw",
    "peak_power_rpm",
    "peak_torque_nm",
    "peak_torque_rpm",
    "base.engine",
    "base.file",
    "base.sha256",
    "base.peak_power_kw",
    "base.peak_power_rpm",
    "base.peak_torque_nm",
    "base.peak_torque_rpm",
];

/// Facts of the last engine by name, and of the first of two.
fn facts_named<'a>(
    specs: impl DoubleEndedIterator<Item = &'a freshcharge_sim::spec::EngineSpec>,
) -> Vec<(String, String)> {
    let prefixes = ["", "base."];
    let named = specs.rev().zip(prefixes).flat_map(|(spec, prefix)| {
        let facts = Facts::of(spec, &[]).0.into_iter();
        facts.map(move |f| (format!("{prefix}{}", f.key), number(f.value)))
    });
    named.collect()
}

/// What stands for every name.
fn names(material: &Material) -> Names {
    let specs = material.runs.iter().map(|r| &r.scenario.spec);
    let mut names: Names = facts_named(specs).into_iter().collect();
    let args = material.args;
    names.insert("use".to_owned(), args.usage.word().to_owned());
    names.insert("version".to_owned(), env!("CARGO_PKG_VERSION").to_owned());
    for (run, prefix) in material.runs.iter().rev().zip(["", "base."]) {
        let mut put = |name: &str, value: String| names.insert(format!("{prefix}{name}"), value);
        put("engine", run.scenario.spec.name.clone());
        put("file", run.file.clone());
        put("sha256", run.hash.clone());
        for (key, name) in [("power_kw", "peak_power"), ("torque_nm", "peak_torque")] {
            let Some((rpm, value)) = sections::peak(run, key) else { continue };
            let unit = key.rsplit('_').next().unwrap_or_default();
            put(&format!("{name}_{unit}"), format!("{value:.2}"));
            put(&format!("{name}_rpm"), format!("{rpm:.0}"));
        }
    }
    names
}
