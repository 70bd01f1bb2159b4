//! Runs every check against the outside world and writes them down as a page and as CSV: what was compared,
//! with which source, how far apart the two are, how far they may be and why.
//!
//! `cargo run --release -p freshcharge-validation [FOLDER]`

use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

use freshcharge_validation::record::VARIABLE;
use freshcharge_validation::report::{self, Sources};

fn main() -> ExitCode {
    let folder =
        std::env::args().nth(1).map_or_else(|| PathBuf::from("target/validation"), PathBuf::from);
    match run(&folder) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("cannot write the page of checks to {}: {error}", folder.display());
            ExitCode::from(2)
        }
    }
}

fn run(folder: &Path) -> std::io::Result<bool> {
    std::fs::create_dir_all(folder)?;
    let log = std::path::absolute(folder.join("comparisons.log"))?;
    if log.exists() {
        std::fs::remove_file(&log)?;
    }
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    println!("Running the checks; this takes some minutes.");
    let held = Command::new(cargo)
        // in the profile of the tests, whose physics is compiled as for a release
        .args(["test", "-p", "freshcharge-validation", "--tests", "--no-fail-fast", "-q"])
        .env(VARIABLE, &log)
        .status()?
        .success();
    // tests that could not be built have written nothing
    let log = std::fs::read_to_string(&log).unwrap_or_default();
    let checks = report::gathered(&log, &Sources::all());
    std::fs::write(folder.join("index.html"), report::page(&checks, held))?;
    std::fs::write(folder.join("checks.csv"), report::as_csv(&checks))?;
    let (all, external, published) = report::counts(&checks);
    println!(
        "{external} checks against things outside the project, {published} of them with a named publication; {} against ourselves; {}.",
        all - external,
        if held { "all hold" } else { "NOT all hold" },
    );
    let told =
        |check: &report::Check| println!("  {:.1} % used: {}", 100.0 * check.used(), check.title());
    println!("The three with the least margin:");
    report::tightest(&checks, |_| true).into_iter().for_each(told);
    println!("and those whose tolerance is more than the digits of the reference:");
    report::tightest(&checks, |c| !c.to_the_digit()).into_iter().for_each(told);
    let unsorted: Vec<_> = checks.iter().filter(|c| c.basis.is_none()).collect();
    for check in &unsorted {
        eprintln!("validation/sources.csv does not say what rests under: {}", check.title());
    }
    println!("{}", folder.join("index.html").display());
    Ok(held && unsorted.is_empty())
}
