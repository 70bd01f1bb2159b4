//! Which version of the model computes: the engine file's, or the one that the command line asks for.

use std::path::Path;
use std::sync::OnceLock;

use freshcharge_sim::forms::Faults;
use freshcharge_sim::forms::engine::Scenario;
use freshcharge_sim::spec::ModelVersion;

use super::files::Failure;

/// What `--model` asks for: set once before the command begins.
static ASKED: OnceLock<ModelVersion> = OnceLock::new();

/// From now on this version computes, whatever engine files say.
pub(crate) fn ask_for(version: ModelVersion) {
    // a command is dispatched once
    ASKED.get_or_init(|| version);
}

/// The engine with the version of the model that was asked for.
pub(crate) fn as_asked(scenario: Scenario) -> Result<Scenario, Faults> {
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
