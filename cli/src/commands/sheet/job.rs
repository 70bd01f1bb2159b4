//! The job file: what was planned, and readings as they come.

use std::path::{Component, Path, PathBuf};

use freshcharge_sim::forms::job as written;
use serde::{Serialize, Serializer};

use super::{LAND_OFFSET, TOP_FACE};
use crate::commands::goals::{Choice, GoalsFile};
use crate::files::{self, Failure};

/// A job: what was planned, and readings as they come.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Job {
    /// Engine file, relative to the job file.
    pub(crate) engine: PathBuf,
    /// Version of the model that the plan was made with; files that name none are of program 0.3.0.
    pub(crate) model: u8,
    /// What will stand between cases, cylinder and head.
    pub(crate) stack: Choice,
    /// What is cut.
    #[serde(rename = "cut")]
    pub(crate) cuts: Vec<JobCut>,
    /// Goals, shelf and operations of the plan.
    pub(crate) plan: GoalsFile,
}

impl Job {
    /// A job as its file has it.
    pub(crate) fn from_file(job: written::Job) -> Self {
        let written::Stack { base, spacer, head } = job.stack;
        let cut = |c: written::Cut| JobCut {
            name: c.name,
            path: c.path,
            what: c.what,
            from: c.from,
            to: c.to,
            tolerance: c.tolerance,
            reading: c.reading,
            reading_error: c.reading_error,
        };
        Self {
            engine: job.engine.into(),
            model: job.model,
            stack: Choice { base, spacer, head },
            cuts: job.cuts.into_iter().map(cut).collect(),
            plan: job.plan.into(),
        }
    }
}

/// One edge or face to be cut.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct JobCut {
    /// Short name, for readings on the command line.
    pub(crate) name: String,
    /// Key of the engine file it changes.
    pub(crate) path: String,
    /// What it is.
    pub(crate) what: String,
    /// Where it stood.
    pub(crate) from: f64,
    /// Where it shall stand.
    pub(crate) to: f64,
    /// How exactly.
    pub(crate) tolerance: f64,
    /// What was read last; empty until there is one.
    #[serde(serialize_with = "write")]
    pub(crate) reading: Option<f64>,
    /// Error of that reading, ±.
    #[serde(serialize_with = "write")]
    pub(crate) reading_error: Option<f64>,
}

impl JobCut {
    /// Unit of its sizes.
    pub(crate) fn unit(&self) -> &'static str {
        if self.path.ends_with("cm3") { "cm³" } else { "mm" }
    }

    /// Which way its size goes as metal comes off.
    pub(crate) fn direction(&self) -> f64 {
        (self.to - self.from).signum()
    }
}

#[allow(clippy::ref_option, reason = "serde hands the field over like this")]
fn write<S: Serializer>(value: &Option<f64>, output: S) -> Result<S::Ok, S::Error> {
    match value {
        Some(number) => output.serialize_f64(*number),
        None => output.serialize_str(""),
    }
}

/// Gives every cut a name that can be guessed: roof, width, `top_face`, `head_step`, bowl; with the
/// window's number where there are several.
pub(crate) fn name(cuts: &mut [JobCut]) {
    let ports: Vec<(String, bool)> = cuts.iter().map(|c| short(&c.path)).collect();
    for (i, cut) in cuts.iter_mut().enumerate() {
        let (word, numbered) = &ports[i];
        let alike = ports.iter().filter(|(other, _)| other == word).count();
        cut.name = if alike > 1 && *numbered {
            let before = ports[..i].iter().filter(|(other, _)| other == word).count();
            format!("{word}{}", before + 1)
        } else {
            word.clone()
        };
    }
}

/// Name of what is cut, and whether there may be several of it.
fn short(path: &str) -> (String, bool) {
    let word = match path {
        TOP_FACE => "top_face",
        LAND_OFFSET => "head_step",
        p if p.ends_with("volume_cm3") => "bowl",
        p if p.ends_with(".chord_mm") => return ("width".to_owned(), true),
        p if p.ends_with(".roof_depth_mm") => return ("roof".to_owned(), true),
        _ => path,
    };
    (word.to_owned(), false)
}

/// Writes a job file into a folder, unless one with readings is there.
pub(super) fn save(folder: &Path, engine: &Path, mut job: Job) -> Result<(), Failure> {
    let path = folder.join("job.toml");
    job.engine = relative(folder, engine);
    name(&mut job.cuts);
    let text = toml::to_string(&job).map_err(|e| Failure::Job(e.to_string()))?;
    let mut lines = vec![HEAD.to_owned()];
    let mut cuts = job.cuts.iter();
    for line in text.lines() {
        match line {
            "reading = \"\"" => {
                let unit = cuts.next().map_or("mm", JobCut::unit);
                lines.push(format!(
                    "{line} # {unit}, as the sheet says it is measured: reading = 31.2"
                ));
            }
            "reading_error = \"\"" => {
                lines.push(format!("{line} # ± of that reading; the usual one where it is empty"))
            }
            _ => lines.push(line.to_owned()),
        }
    }
    files::write(&path, format!("{}\n", lines.join("\n")).as_bytes())
}

/// Refuses a folder whose job file has readings: they would be lost.
pub(super) fn spare(folder: &Path) -> Result<(), Failure> {
    let path = folder.join("job.toml");
    let old = std::fs::read_to_string(&path).ok().and_then(|t| written::read(&t).ok());
    let old = old.map(|(job, _)| Job::from_file(job));
    if old.is_some_and(|job| job.cuts.iter().any(|c| c.reading.is_some())) {
        return Err(Failure::Argument {
            flag: "--sheet",
            value: folder.display().to_string(),
            remedy:
                "job.toml in this folder has readings, which would be lost: choose another folder"
                    .to_owned(),
        });
    }
    Ok(())
}

const HEAD: &str = "# Job file: enter what you read at each cut as you go, then freshcharge recheck it; or give readings on the\n# command line by the cut's name: freshcharge recheck job.toml roof=32.5\n# The engine file is found from where this file lies: move both together.";

/// The way to a file from a folder; the file's whole path where there is none.
fn relative(folder: &Path, file: &Path) -> PathBuf {
    let whole = |path: &Path| path.canonicalize().or_else(|_| std::path::absolute(path));
    let (Ok(folder), Ok(file)) = (whole(folder), whole(file)) else { return file.to_owned() };
    let (from, to): (Vec<Component>, Vec<Component>) =
        (folder.components().collect(), file.components().collect());
    let shared = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
    if shared == 0 {
        return file;
    }
    let up = from[shared..].iter().map(|_| Component::ParentDir);
    up.chain(to[shared..].iter().copied()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_engine_is_found_from_where_the_job_lies() {
        let here = tempfile::tempdir().unwrap();
        let (engine, job) = (here.path().join("engine.toml"), here.path().join("bench/job"));
        std::fs::write(&engine, "").unwrap();
        std::fs::create_dir_all(&job).unwrap();
        assert_eq!(relative(&job, &engine), Path::new("../../engine.toml"));
        assert_eq!(relative(here.path(), &engine), Path::new("engine.toml"));
    }
}
