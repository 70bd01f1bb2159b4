//! `--model`, which every command takes that reads an engine.

use freshcharge_sim::spec::ModelVersion;

use crate::args::Command;
use crate::session::files::Failure;
use crate::session::version;

/// Takes note of `--model`.
pub(super) fn choose(number: u8, command: &Command) -> Result<(), Failure> {
    let refused = |remedy: String| {
        Err(Failure::Argument { flag: "--model", value: number.to_string(), remedy })
    };
    if reads_no_engine(command) {
        return refused("this command computes no engine; leave it out".to_owned());
    }
    let Some(chosen) = ModelVersion::numbered(f64::from(number)) else {
        let known: Vec<String> = ModelVersion::ALL.iter().map(|v| v.number().to_string()).collect();
        return refused(format!("there are the versions {}", known.join(" and ")));
    };
    version::ask_for(chosen);
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
