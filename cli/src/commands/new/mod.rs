//! `freshcharge new`: asks for the measurements, or writes a commented template.

mod ask;
mod parse;
mod question;
mod resume;
mod sheet;
mod template;

use std::io::IsTerminal;
use std::path::Path;

use freshcharge_sim::scenario;
use freshcharge_sim::workshop::Facts;

use self::ask::{End, Interview, say};
use self::resume::Taken;
use self::sheet::Sheet;
use crate::Outcome;
use crate::args::{Intake, NewArgs};
use crate::session::files::{self, Failure};

/// Runs the command.
pub(crate) fn run(args: &NewArgs) -> Result<Outcome, Failure> {
    let to_output = args.file.as_os_str() == "-";
    let mut input = std::io::stdin().lock();
    if args.go_on {
        return match resume::take_up(&args.file)? {
            Taken::Complete => complete(&args.file),
            Taken::Sheet(mut sheet) => {
                let (answered, all) = sheet.progress();
                say(&format!("{answered} of {all} questions are answered; going on.\n"));
                asked(&mut sheet, &args.file, &mut input)
            }
        };
    }
    if !to_output && args.file.exists() && !args.force {
        return Err(taken(&args.file));
    }
    let asks = !args.template && (args.ask || std::io::stdin().is_terminal());
    let intake = match args.intake {
        Some(intake) => Some(intake),
        None if asks => ask::intake(&mut input),
        None => Some(Intake::CrankWeb),
    };
    let Some(intake) = intake else {
        say("\nNothing was answered, and nothing written.\n");
        return Ok(Outcome::Done);
    };
    if !to_output && args.file.exists() {
        // the answers to come replace it one by one: what stands there is kept beside
        let aside = files::put_aside(&args.file, "before")?;
        say(&format!("What stood in {} is kept as {}.\n", args.file.display(), aside.display()));
    }
    let mut sheet = Sheet::new(intake);
    if asks {
        return asked(&mut sheet, &args.file, &mut input);
    }
    let text = sheet.text();
    if to_output {
        return files::print(&text).map(|()| Outcome::Done);
    }
    files::write(&args.file, text.as_bytes())?;
    finish(&args.file, &text, &sheet.unmeasured());
    Ok(Outcome::Done)
}

fn taken(file: &Path) -> Failure {
    let unfinished =
        files::read_text(file).is_ok_and(|text| text.contains(crate::session::engine::INCOMPLETE));
    let remedy = if unfinished {
        format!(
            "holds answers that are not complete; go on with freshcharge new --continue {}",
            resume::shell_word(file)
        )
    } else {
        "is already there; choose another name, or --force to write over it".to_owned()
    };
    Failure::Argument { flag: "new", value: file.display().to_string(), remedy }
}

/// Asks, and writes the file when everything is answered.
fn asked(
    sheet: &mut Sheet,
    path: &Path,
    input: &mut impl std::io::BufRead,
) -> Result<Outcome, Failure> {
    let file = (path.as_os_str() != "-").then_some(path);
    if let Some(file) = file {
        tell_when_interrupted(file);
    }
    let end = Interview { sheet, file }.run(input)?;
    let Some(file) = file else {
        return files::print(&sheet.text()).map(|()| Outcome::Done);
    };
    match end {
        End::Left => say(&left(file)),
        End::Finished => {
            let text = sheet.text();
            files::write(file, text.as_bytes())?;
            finish(file, &text, &sheet.unmeasured());
        }
    }
    Ok(Outcome::Done)
}

/// What is said when the asking is left.
fn left(file: &Path) -> String {
    if file.exists() {
        let name = resume::shell_word(file);
        format!(
            "\nYour answers are kept in {name}. Go on with: freshcharge new --continue {name}\n"
        )
    } else {
        "\nNothing was answered, and nothing written.\n".to_owned()
    }
}

/// Ctrl-C loses nothing, since every answer is on disk; it says so.
fn tell_when_interrupted(file: &Path) {
    let file = file.to_owned();
    // without a handler an interrupt ends the program at once, and loses nothing either
    let _ = ctrlc::set_handler(move || {
        say(&left(&file));
        std::process::exit(130);
    });
}

/// The numbers that are looked at first.
const FIRST: &[(&str, &str, &str, usize)] = &[
    ("exhaust_duration_deg", "exhaust open", "°", 1),
    ("transfer_duration_deg", "transfers open", "°", 1),
    ("blowdown_deg", "blowdown", "°", 1),
    ("squish_mm", "squish gap", " mm", 2),
    ("geometric_ratio", "compression ratio over the full stroke", "", 2),
];

/// Five numbers, and what to do next.
fn finish(file: &Path, text: &str, unmeasured: &[String]) {
    let name = resume::shell_word(file);
    match scenario::read(text) {
        Err(faults) => {
            say(&crate::present::faults::report(file, text, &faults));
            say(&format!(
                "Wrote {name}. Next: mend what is named above, then freshcharge check {name}.\n"
            ));
        }
        Ok(scenario) => {
            let facts = Facts::of_scenario(&scenario, &[]);
            say(&format!("\n{name} is complete.\n"));
            for (key, words, unit, digits) in FIRST {
                if let Some(value) = facts.get(key) {
                    say(&format!("  {words:<40} {value:>7.digits$}{unit}\n"));
                }
            }
            say(&match unmeasured {
                [] => format!(
                    "Next: freshcharge check {name} holds these against limits and says which measurement to repeat first.\n"
                ),
                [first, ..] => format!(
                    "Next: measure what is marked NOT MEASURED in {name} ({} of the values, the first is {first}), then freshcharge check {name}.\n",
                    unmeasured.len()
                ),
            });
        }
    }
}

/// What is said of a file that has every answer.
fn complete(file: &Path) -> Result<Outcome, Failure> {
    let text = files::read_text(file)?;
    let marked: Vec<String> = text
        .lines()
        .filter(|line| line.contains(crate::session::engine::UNMEASURED))
        .filter_map(|line| line.split_once('=').map(|(key, _)| key.trim().to_owned()))
        .collect();
    say("There is nothing left to ask.\n");
    finish_complete(file, &text, &marked);
    Ok(Outcome::Done)
}

fn finish_complete(file: &Path, text: &str, marked: &[String]) {
    if scenario::read(text).is_ok() {
        finish(file, text, marked);
    } else {
        say(&format!(
            "It has faults; freshcharge check {} names them.\n",
            resume::shell_word(file)
        ));
    }
}
