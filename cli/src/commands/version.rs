//! Which version of the model computes: the engine file's, or the one that the command line asks for.

use std::path::Path;
use std::sync::OnceLock;

use freshcharge_sim::scenario::{Faults, Scenario};
use freshcharge_sim::spec::ModelVersion;

use crate::args::Command;
use crate::files::Failure;

/// What `--model` asks for: set once before the command begins.
static ASKED: OnceLock<ModelVersion> = OnceLock::new();

/// Takes note of `--model`.
pub(super) fn choose(number: u8, command: &Command) -> Result<(), Failure> {
    let refused = |remedy: String| {
        Err(Failure::Argument { flag: "--model", value: number.to_string(), remedy })
    };
    if reads_no_engine(command) {
        return refused("this command computes no engine; leave it out".to_owned());
    }
    let Some(version) = ModelVersion::numbered(f64::from(number)) else {
        let known: Vec<String> = ModelVersion::ALL.iter().map(|v| v.number().to_string()).collect();
        return refused(format!("there are the versions {}", known.join(" and ")));
    };
    // a command is dispatched once
    ASKED.get_or_init(|| version);
    Ok(())
}

fn reads_no_engine(command: &Command) -> bool {
    matches!(
        command,
        Command::Limits
            | Command::Angles(_)
            | Command::Correct(_)
            | Command::New(_)
            | Command::Merge(_)
            | Command::Results(_)
            | Command::Trends(_)
            | Command::Rig(_)
            | Command::Schema
            | Command::Completions { .. }
            | Command::Man
    )
}

/// The engine with the version of the model that was asked for.
pub(super) fn as_asked(scenario: Scenario) -> Result<Scenario, Faults> {
    match ASKED.get() {
        None => Ok(scenario),
        Some(version) => scenario.with_model(*version),
    }
}

/// Refuses engines of different versions of the model: their results are not to be held against each
/// other.
pub(crate) fn same_model<'a>(
    mut engines: impl Iterator<Item = (&'a Path, &'a Scenario)>,
) -> Result<(), Failure> {
    let Some((first, base)) = engines.next() else { return Ok(()) };
    let number = |scenario: &Scenario| scenario.spec.model.number();
    for (file, scenario) in engines {
        if number(scenario) != number(base) {
            return Err(Failure::Faults(format!(
                "{} is computed by version {} of the model, {} by version {}. Results of two versions are never mixed: give both files the same model = N, or add --model N.\n",
                first.display(),
                number(base),
                file.display(),
                number(scenario)
            )));
        }
    }
    Ok(())
}
