//! `freshcharge rig`: a rig of pipes and vessels.

use std::path::Path;

use freshcharge_sim::forms::rig::{self, RigSpec};
use freshcharge_sim::studies::rig::{self as study, Record};

use crate::Outcome;
use crate::args::RigArgs;
use crate::chart;
use crate::files::{self, Failure};
use crate::rig::words;

/// Runs the command.
pub(super) fn run(args: &RigArgs) -> Result<Outcome, Failure> {
    let text = files::read_text(&args.file)?;
    let spec = rig::read(&text)
        .map_err(|faults| Failure::Faults(crate::faults::report(&args.file, &text, &faults)))?;
    let network = study::network(&spec).map_err(|why| Failure::Engine {
        file: args.file.display().to_string(),
        why: why.to_string(),
    })?;
    let record = study::run(&spec, network);
    let printed = if args.csv { words::histories(&record) } else { words::summary(&spec, &record) };
    files::print(&printed)?;
    let mut written = Vec::new();
    if let Some(folder) = &args.out {
        written.extend(write_tables(folder, &spec, &record)?);
    }
    if let Some(folder) = &args.charts {
        written.extend(crate::session::charts::write(folder, &chart::of_rig(&spec, &record)?)?);
    }
    if !(args.quiet || args.csv || written.is_empty()) {
        files::print(&format!("\nWritten: {}\n", written.join(", ")))?;
    }
    Ok(if record.stop.is_none() { Outcome::Done } else { Outcome::Incomplete })
}

fn write_tables(folder: &Path, spec: &RigSpec, record: &Record) -> Result<Vec<String>, Failure> {
    files::make_folder(folder)?;
    let tables = [
        ("histories.csv", words::histories(record)),
        ("profiles.csv", words::profiles(spec, record, &record.profiles)),
        ("maps.csv", words::profiles(spec, record, &record.maps)),
    ];
    let mut written = Vec::new();
    for (name, text) in tables {
        let path = folder.join(name);
        files::write(&path, text.as_bytes())?;
        written.push(path.display().to_string());
    }
    Ok(written)
}
