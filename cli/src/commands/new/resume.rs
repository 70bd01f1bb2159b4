//! An unfinished file: written after every answer, and taken up again.

use std::path::Path;

use freshcharge_sim::scenario::Document;

use super::sheet::{Answer, Extra, SURE, Sheet, path_of};
use crate::args::Intake;
use crate::files::{self, Failure};
use crate::session::engine::{INCOMPLETE, UNMEASURED};

/// Before the inlet's kind in the head of an unfinished file.
const INLET: &str = "# Inlet: ";

/// Word of an inlet in an unfinished file, as on the command line.
fn word(intake: Intake) -> &'static str {
    match intake {
        Intake::CrankWeb => "crank-web",
        Intake::DiscValve => "disc-valve",
        Intake::PistonPort => "piston-port",
        Intake::Reed => "reed",
    }
}

/// Keeps the answers so far: an engine file that says it is not complete.
pub(super) fn keep(sheet: &Sheet, path: &Path) -> Result<(), Failure> {
    let (answered, all) = sheet.progress();
    let text = format!(
        "{INCOMPLETE}: {answered} of {all} questions are answered. To go on: freshcharge new --continue {}\n{INLET}{}\n{}",
        shell_word(path),
        word(sheet.intake),
        sheet.so_far()
    );
    files::write(path, text.as_bytes())
}

/// A path as a shell takes it.
pub(super) fn shell_word(path: &Path) -> String {
    let path = path.display().to_string();
    let plain = |c: char| c.is_alphanumeric() || "/._-+".contains(c);
    if path.chars().all(plain) { path } else { format!("'{}'", path.replace('\'', r"'\''")) }
}

/// What an unfinished file holds.
pub(super) enum Taken {
    /// The answers in it.
    Sheet(Sheet),
    /// Nothing is to be asked: the file is complete.
    Complete,
}

/// Takes an unfinished file up again.
///
/// # Errors
/// Every fault of form in it, at its line.
pub(super) fn take_up(path: &Path) -> Result<Taken, Failure> {
    let text = files::read_text(path)?;
    if !text.contains(INCOMPLETE) {
        return Ok(Taken::Complete);
    }
    let judged = freshcharge_sim::scenario::Answers::read(&text);
    if !judged.faults().is_empty() {
        return Err(Failure::Faults(crate::faults::report(path, &text, judged.faults())));
    }
    let (document, _) = Document::read(&text, freshcharge_sim::scenario::keys::FORM);
    let mut sheet = Sheet::new(inlet(path, &text)?);
    let mut taken = Vec::new();
    for index in 0..sheet.entries.len() {
        let entry = sheet.entries[index];
        let angle = (entry.key == "roof_depth_mm").then_some("opens_deg_atdc");
        let names = [Some(entry.key), angle];
        for name in names.into_iter().flatten() {
            let key = path_of(entry.table, name);
            let Some(found) = document.entry(&key) else { continue };
            taken.push(key);
            if !entry.asked() || sheet.answers[index].is_some() {
                continue;
            }
            let rest = document.text[found.span.end..].lines().next().unwrap_or_default();
            sheet.answers[index] = Some(Answer {
                key: name.to_owned(),
                value: document.text[found.span.clone()].to_owned(),
                measured: !rest.contains(UNMEASURED),
                sure: rest.contains(SURE),
            });
        }
    }
    for (key, entry) in document.entries().filter(|(key, _)| !taken.contains(key)) {
        let (table, name) = key.rsplit_once('.').unwrap_or(("", &key));
        let value = document.text[entry.span.clone()].to_owned();
        sheet.extras.push(Extra { table: table.to_owned(), key: name.to_owned(), value });
    }
    Ok(Taken::Sheet(sheet))
}

fn inlet(path: &Path, text: &str) -> Result<Intake, Failure> {
    let named = text.lines().find_map(|l| l.strip_prefix(INLET)).unwrap_or_default().trim();
    let kinds = [Intake::CrankWeb, Intake::DiscValve, Intake::PistonPort, Intake::Reed];
    kinds.into_iter().find(|k| word(*k) == named).ok_or_else(|| Failure::Argument {
        flag: "--continue",
        value: path.display().to_string(),
        remedy: format!(
            "the line \"{INLET}…\" is gone; put it back, with one of crank-web, disc-valve, piston-port, reed"
        ),
    })
}
