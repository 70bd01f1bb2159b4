//! `freshcharge trends`: charts of a sweep.

use std::path::{Path, PathBuf};

use crate::Outcome;
use crate::args::TrendsArgs;
use crate::present::DrawError;
use crate::present::charts::sweep::{self, Choice};
use crate::present::rows::Header;
use crate::session::charts;
use crate::session::files::{self, Failure};
use crate::session::sweep::ResultsFile;

/// The usual charts of a sweep; gives the names of what was written.
pub(crate) fn write_usual(results: &Path, out: &Path) -> Result<Vec<String>, Failure> {
    charts::write(out, &charts::of_sweep(results)?)
}

/// `freshcharge trends`.
pub(crate) fn run(args: &TrendsArgs) -> Result<Outcome, Failure> {
    let folder =
        if args.results.is_dir() { args.results.clone() } else { args.results.with_file_name("") };
    let out: PathBuf = args.out.clone().unwrap_or_else(|| folder.join("charts"));
    let mut table = ResultsFile::open(&args.results)?;
    let header = table.header.clone();
    let fix: Vec<(String, f64)> =
        args.fix.iter().map(|text| fixed(text, &header)).collect::<Result<_, _>>()?;
    let asked = args.x.is_some() || args.y.is_some() || args.map.is_some() || args.by.is_some();
    let written = if asked || !fix.is_empty() {
        let choice = Choice {
            x: args.x.as_deref(),
            y: args.y.as_deref(),
            by: args.by.as_deref(),
            map: args.map.as_deref(),
            fix: &fix,
        };
        charts::write(&out, &sweep::chosen(&choice, &header, table.rows())?)?
    } else {
        write_usual(&args.results, &out)?
    };
    table.warn();
    if written.is_empty() {
        let why = "no settled row lies where this chart would be; use --fix to choose other values";
        return Err(DrawError::Picture { what: "the chart".to_owned(), why: why.to_owned() }.into());
    }
    files::print(&format!("Charts: {}\n", written.join(", ")))?;
    Ok(Outcome::Done)
}

/// COLUMN=VALUE.
fn fixed(text: &str, header: &Header) -> Result<(String, f64), Failure> {
    let parts = text.split_once('=');
    let number = parts.and_then(|(key, value)| Some((key.trim(), value.trim().parse().ok()?)));
    let Some((key, value)) = number else {
        let remedy = "write COLUMN=NUMBER, such as rpm=6000".to_owned();
        return Err(Failure::Argument { flag: "--fix", value: text.to_owned(), remedy });
    };
    header.find("--fix", key)?;
    Ok((key.to_owned(), value))
}
