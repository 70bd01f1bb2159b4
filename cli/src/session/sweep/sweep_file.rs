//! A sweep file, or an engine file with `--vary`, to what is to be swept.

use std::path::{Path, PathBuf};

use freshcharge_sim::forms::engine::{Scenario, parse_speeds};
use freshcharge_sim::forms::sweep::{SweepFile, is_sweep};
use freshcharge_sim::forms::{Faults, quoted};
use freshcharge_sim::sweep::{
    Axis, Objective, Place, Plan, PlanFault, Request, Varied, located, request, steps,
};

use crate::files::{self, Failure};

/// What a sweep is to be.
pub(crate) struct Asked {
    /// Its name.
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
    /// The file, for faults that show later.
    pub(crate) source: Source,
}

/// A sweep file with the axes that the command line adds.
pub(crate) struct Source {
    path: PathBuf,
    text: String,
    file: SweepFile,
    /// Axes from the command line come after those of the file.
    varied: Vec<String>,
}

impl Source {
    /// Faults of the plan with their lines.
    pub(crate) fn failure(&self, faults: &[PlanFault]) -> Failure {
        let own = self.file.document.count("axis");
        for fault in faults {
            if let Place::Axis(a, _) = fault.place
                && let Some(value) = a.checked_sub(own).and_then(|i| self.varied.get(i))
            {
                let (value, remedy) = (value.clone(), fault.remedy.clone());
                return Failure::Argument { flag: "--vary", value, remedy };
            }
        }
        self.faulty(&located(&self.file, faults))
    }

    fn faulty(&self, faults: &Faults) -> Failure {
        Failure::Faults(crate::faults::report(&self.path, &self.text, faults))
    }
}

/// Reads a sweep file, or an engine file, with what the command line adds.
pub(crate) fn read(path: &Path, vary: &[String], rpm: Option<&str>) -> Result<Asked, Failure> {
    if path == Path::new("-") {
        let remedy = "a sweep reads a file, not standard input".to_owned();
        return Err(Failure::Argument { flag: "PLAN", value: "-".to_owned(), remedy });
    }
    let text = files::read_text(path)?;
    let (file, engine) = if is_sweep(&text) {
        let file = SweepFile::read(&text)
            .map_err(|faults| Failure::Faults(crate::faults::report(path, &text, &faults)))?;
        let engine = path.with_file_name("").join(&file.engine);
        (file, engine)
    } else {
        (SweepFile::empty(), path.to_owned())
    };
    let (base, engine_hash) = crate::session::engine::load(&engine)?;
    let further = vary.iter().map(|text| varied(text)).collect::<Result<Vec<_>, _>>()?;
    let speeds = rpm.map(|text| {
        let value = text.to_owned();
        parse_speeds(text).map_err(|remedy| Failure::Argument { flag: "--rpm", value, remedy })
    });
    let speeds = speeds.transpose()?;
    let source = Source { path: path.to_owned(), text, file, varied: vary.to_vec() };
    let asked = request(&source.file, &base, &further, speeds.as_deref());
    let Request { name, plan, results, objectives } = asked.map_err(|f| source.faulty(&f))?;
    let stem = || path.file_stem().map_or_else(String::new, |s| s.to_string_lossy().into());
    let name = name.unwrap_or_else(stem);
    Ok(Asked { name, base, engine_hash, plan, results, objectives, source })
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
        value.ok_or_else(|| fail(format!("{:?} is not a number", quoted(part))))
    };
    let values = match values.split(':').collect::<Vec<_>>()[..] {
        [list] => list.split(',').map(number).collect::<Result<Vec<_>, _>>()?,
        [from, to, step] => steps(number(from)?, number(to)?, number(step)?).map_err(fail)?,
        _ => return Err(fail("no range".to_owned())),
    };
    Ok(Axis { numbers: vec![Varied::new(path.trim(), values)] })
}
