//! Asking: one question after another, each answer judged at once, kept on disk, and taken back where wanted.

use std::io::{BufRead, Write as _};
use std::path::Path;

use freshcharge_sim::scenario::{Answers, Fault};

use super::parse::{self, Typed};
use super::sheet::{Answer, Sheet, path_of};
use super::{question, resume};
use crate::args::Intake;
use crate::session::files::Failure;

/// How the asking ended.
pub(super) enum End {
    /// Every question is answered.
    Finished,
    /// Left before that.
    Left,
}

pub(super) fn say(words: &str) {
    let mut stream = anstream::stderr();
    // nobody is left to tell when standard error is closed
    let _ = stream.write_all(words.as_bytes()).and_then(|()| stream.flush());
}

/// The next line typed; none at the end of input.
fn line(input: &mut impl BufRead) -> Option<String> {
    let mut text = Vec::new();
    match input.read_until(b'\n', &mut text) {
        Ok(0) | Err(_) => None,
        Ok(_) => Some(String::from_utf8_lossy(&text).trim().to_owned()),
    }
}

/// Asks for the kind of inlet; none when the asking is left.
pub(super) fn intake(input: &mut impl BufRead) -> Option<Intake> {
    loop {
        say("How is the inlet opened? 1 crank web, 2 disc valve, 3 piston port, 4 reed [1]> ");
        match line(input)?.to_lowercase().as_str() {
            "" | "1" | "crank web" => return Some(Intake::CrankWeb),
            "2" | "disc valve" => return Some(Intake::DiscValve),
            "3" | "piston port" => return Some(Intake::PistonPort),
            "4" | "reed" => return Some(Intake::Reed),
            "quit" => return None,
            _ => say("Type 1, 2, 3 or 4.\n"),
        }
    }
}

const OPENING: &str = "\
Enter keeps the value in brackets and marks it as not measured. back goes back one question. quit, Ctrl-C\n\
or Ctrl-D leave; every answer is on disk as soon as it is given, and new --continue takes it up again.\n\
rest keeps the value in brackets for all that is left. A comma may stand for the decimal point.\n";

/// An answer that was doubted, waiting to be confirmed.
struct Doubted {
    index: usize,
    answer: Answer,
}

/// One asking.
pub(super) struct Interview<'a> {
    pub(super) sheet: &'a mut Sheet,
    /// Where the answers are kept; none when the file goes to standard output.
    pub(super) file: Option<&'a Path>,
}

impl Interview<'_> {
    /// Asks for every entry that has no answer yet, then for those that no longer fit.
    ///
    /// # Errors
    /// The answers cannot be kept on disk.
    pub(super) fn run(&mut self, input: &mut impl BufRead) -> Result<End, Failure> {
        say(OPENING);
        let mut doubted: Option<Doubted> = None;
        let mut next = self.open(0);
        while let Some(at) = next {
            self.pose(at);
            match line(input).as_deref() {
                None | Some("quit") => return Ok(End::Left),
                Some("rest") => {
                    self.keep_rest()?;
                    return Ok(End::Finished);
                }
                Some("back" | "<") => {
                    doubted = None;
                    next = self.before(at).or(Some(at));
                }
                Some(typed) => {
                    let answer = self.understand(at, typed, doubted.as_ref());
                    if self.take(at, answer, &mut doubted)? {
                        next = self.open(at + 1).or_else(|| self.open(0)).or_else(|| self.unfit());
                    }
                }
            }
        }
        Ok(End::Finished)
    }

    /// First entry from `from` on that has no answer.
    fn open(&self, from: usize) -> Option<usize> {
        let sheet = &self.sheet;
        (from..sheet.entries.len())
            .find(|i| sheet.entries[*i].asked() && sheet.answers[*i].is_none())
    }

    /// The question before.
    fn before(&self, at: usize) -> Option<usize> {
        self.sheet.entries[..at].iter().rposition(|e| e.asked())
    }

    /// First answer that does not fit the others any more: an earlier one has been changed since.
    fn unfit(&self) -> Option<usize> {
        let judged = Answers::read(&self.sheet.so_far());
        let answers = self.sheet.answers.iter().zip(&self.sheet.entries).enumerate();
        for (i, (answer, entry)) in answers {
            let Some(answer) = answer else { continue };
            let path = path_of(entry.table, &answer.key);
            let wrong = judged.faults().iter().find(|f| f.key == path || f.key == entry.path());
            let doubt = judged.doubt(&path).filter(|_| !answer.sure);
            let why = wrong.map(|f| f.remedy.clone()).or(doubt.map(|d| d.to_string()));
            if let Some(why) = why {
                say(&format!(
                    "\nAn earlier answer does not fit the others any more.\n  {path}: {why}\n"
                ));
                return Some(i);
            }
        }
        None
    }

    fn pose(&self, at: usize) {
        let sheet = &self.sheet;
        let entry = sheet.entries[at];
        let Some(key) = entry.known() else { return };
        let judged = Answers::read(&sheet.so_far());
        let number = sheet.entries[..=at].iter().filter(|e| e.asked()).count();
        let usual = judged.usual(&entry.path());
        let words = question::words(entry, key, usual.as_ref(), (number, sheet.progress().1));
        let shown = sheet.shown(at, &judged);
        let value = if parse::is_list(key) && shown.value == "[]" {
            "none".to_owned()
        } else {
            shown.value.trim_matches(['[', ']', '"']).to_owned()
        };
        let name = path_of(entry.table, &shown.key);
        say(&format!("{words}{name} [{value}]> "));
    }

    /// What was typed as an answer; the reason where it cannot be read.
    fn understand(
        &self,
        at: usize,
        typed: &str,
        doubted: Option<&Doubted>,
    ) -> Result<(Answer, String), String> {
        let entry = self.sheet.entries[at];
        let waiting = doubted.filter(|d| d.index == at);
        if let Some(waiting) =
            waiting.filter(|_| ["yes", "y"].contains(&typed.to_lowercase().as_str()))
        {
            return Ok((waiting.answer.clone(), waiting.answer.value.clone()));
        }
        if typed.is_empty() {
            let judged = Answers::read(&self.sheet.so_far());
            let shown = self.sheet.shown(at, &judged);
            let state = if shown.measured { "" } else { ", not measured" };
            let read = entry.known().and_then(|key| parse::typed(key, &shown.value).ok());
            let read = read.filter(|_| shown.key == entry.key);
            let read = read.map_or_else(|| shown.value.clone(), |r| r.words);
            let words = format!("{read}{state}");
            return Ok((shown, words));
        }
        let key = entry.known().ok_or("this key is not known")?;
        let angle = parse::angle(typed)
            .filter(|_| entry.key == "roof_depth_mm" && !entry.table.starts_with("intake"));
        let (name, read) = match angle {
            Some(angle) => {
                let words = format!("opens {angle}° after top dead centre");
                ("opens_deg_atdc", Typed { value: angle, words })
            }
            None => (entry.key, parse::typed(key, typed)?),
        };
        let answer =
            Answer { key: name.to_owned(), value: read.value, measured: true, sure: false };
        Ok((answer, read.words))
    }

    /// Judges an answer and keeps it; whether it was taken.
    fn take(
        &mut self,
        at: usize,
        answer: Result<(Answer, String), String>,
        doubted: &mut Option<Doubted>,
    ) -> Result<bool, Failure> {
        let (mut answer, words) = match answer {
            Ok(answer) => answer,
            Err(why) => {
                say(&format!("  Not understood: {why}.\n"));
                return Ok(false);
            }
        };
        let path = path_of(self.sheet.entries[at].table, &answer.key);
        let old = self.sheet.answers[at].take();
        let before = Answers::read(&self.sheet.so_far());
        self.sheet.answers[at] = Some(answer.clone());
        let after = Answers::read(&self.sheet.so_far());
        if let Some(fault) = news(&before, &after) {
            say(&format!("  That cannot be: {}.\n", impossible(fault, &path)));
            self.sheet.answers[at] = old;
            return Ok(false);
        }
        let again = doubted.take().is_some_and(|d| {
            d.index == at && d.answer.key == answer.key && d.answer.value == answer.value
        });
        if let Some(doubt) = after.doubt(&path).filter(|_| !answer.sure) {
            if !again {
                say(&format!(
                    "  {doubt}\n  Type what is right; yes, or the same again, keeps it; back returns to the question before.\n"
                ));
                self.sheet.answers[at] = old;
                *doubted = Some(Doubted { index: at, answer });
                return Ok(false);
            }
            answer.sure = true;
        }
        let makes = after.makes(&path).map_or(String::new(), |m| format!(", which makes {m}"));
        let sure = if answer.sure { ", confirmed" } else { "" };
        say(&format!("  {words}{makes}{sure}.\n"));
        self.sheet.answers[at] = Some(answer);
        self.keep()?;
        Ok(true)
    }

    fn keep(&self) -> Result<(), Failure> {
        self.file.map_or(Ok(()), |file| resume::keep(self.sheet, file))
    }

    /// Keeps what would be shown for everything that is left.
    fn keep_rest(&mut self) -> Result<(), Failure> {
        while let Some(at) = self.open(0) {
            let judged = Answers::read(&self.sheet.so_far());
            self.sheet.answers[at] = Some(self.sheet.shown(at, &judged));
        }
        self.keep()
    }
}

/// The first fault that an answer has brought.
fn news<'a>(before: &Answers, after: &'a Answers) -> Option<&'a Fault> {
    let known = |f: &Fault| before.faults().iter().any(|b| b.key == f.key && b.remedy == f.remedy);
    after.faults().iter().find(|f| !known(f))
}

/// A fault in words; the key it turns on where it is another one.
fn impossible(fault: &Fault, path: &str) -> String {
    let own = fault.key == path || fault.key.starts_with(&format!("{path}["));
    if own || fault.key.is_empty() {
        fault.remedy.clone()
    } else {
        format!("{}: {}", fault.key, fault.remedy)
    }
}
