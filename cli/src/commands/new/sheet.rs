//! The file in the making: what has been answered, and its text for judging, for keeping and for use.

use std::fmt::Write as _;

use freshcharge_sim::scenario::keys::{Fallback, Key, Presence, SECTIONS, Section, section_at};
use freshcharge_sim::scenario::{self, Answers};

use super::template::{Entry, From, entries};
use crate::args::Intake;
use crate::session::engine::UNMEASURED;

/// What stands behind a value that is unusual and has been confirmed.
pub(super) const SURE: &str = "confirmed";

impl Entry {
    /// Path of its key.
    pub(super) fn path(&self) -> String {
        path_of(self.table, self.key)
    }

    pub(super) fn known(&self) -> Option<&'static Key> {
        section_at(&scenario::general(self.table)).and_then(|s| s.key(self.key))
    }

    pub(super) fn asked(&self) -> bool {
        matches!(self.from, From::Asked | From::Like(_))
    }
}

/// Path of a key in a table.
pub(super) fn path_of(table: &str, key: &str) -> String {
    if table.is_empty() { key.to_owned() } else { format!("{table}.{key}") }
}

/// What was answered.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Answer {
    /// The key it is written with: a roof's depth may be given as an angle.
    pub(super) key: String,
    /// As it stands in the file.
    pub(super) value: String,
    /// False where the value shown was kept.
    pub(super) measured: bool,
    /// Unusual, and confirmed.
    pub(super) sure: bool,
}

/// A key that someone has written into the unfinished file beside those asked for.
#[derive(Debug, Clone)]
pub(super) struct Extra {
    pub(super) table: String,
    pub(super) key: String,
    pub(super) value: String,
}

/// The file in the making.
pub(super) struct Sheet {
    pub(super) intake: Intake,
    pub(super) entries: Vec<&'static Entry>,
    /// By entry.
    pub(super) answers: Vec<Option<Answer>>,
    pub(super) extras: Vec<Extra>,
}

impl Sheet {
    pub(super) fn new(intake: Intake) -> Self {
        let entries = entries(intake);
        let answers = vec![None; entries.len()];
        Self { intake, entries, answers, extras: Vec::new() }
    }

    /// How many questions are answered, and how many there are.
    pub(super) fn progress(&self) -> (usize, usize) {
        let answered = self.answers.iter().filter(|a| a.is_some()).count();
        (answered, self.entries.iter().filter(|e| e.asked()).count())
    }

    /// Paths whose value was kept as shown or never asked for.
    pub(super) fn unmeasured(&self) -> Vec<String> {
        let open = |i: &usize| {
            let missing = self.answers[*i].as_ref().is_none_or(|a| !a.measured);
            self.entries[*i].asked() && missing
        };
        (0..self.entries.len()).filter(open).map(|i| self.entries[i].path()).collect()
    }

    /// The value that Enter keeps: what was answered before, else the starting value, brought into what
    /// is usual for the answers so far.
    pub(super) fn shown(&self, index: usize, judged: &Answers) -> Answer {
        if let Some(answer) = &self.answers[index] {
            return answer.clone();
        }
        let (key, mut value) = self.value(index);
        let entry = self.entries[index];
        let measured = matches!(entry.from, From::Like(_));
        if let (Some(usual), Ok(number)) = (judged.usual(&entry.path()), value.parse::<f64>())
            && !(usual.low..=usual.high).contains(&number)
        {
            value = format!("{:.1}", 0.5 * (usual.low + usual.high));
        }
        Answer { key, value, measured, sure: false }
    }

    /// Key and value of an entry as they stand now.
    pub(super) fn value(&self, index: usize) -> (String, String) {
        let entry = self.entries[index];
        if let Some(answer) = &self.answers[index] {
            return (answer.key.clone(), answer.value.clone());
        }
        let of =
            |path: &str| self.entries.iter().position(|e| e.path() == path).map(|i| self.value(i));
        let beside = |table: &str| of(&path_of(table, entry.key));
        let own = || (entry.key.to_owned(), entry.start.to_owned());
        match entry.from {
            From::Asked | From::Fixed => own(),
            From::Like(path) => of(path).map_or_else(own, |(_, value)| {
                let whole = !entry.known().is_some_and(super::parse::is_list);
                let value = if whole { super::parse::sum(&value) } else { value };
                (entry.key.to_owned(), value)
            }),
            From::Same(table) => beside(table).unwrap_or_else(own),
            From::Mirrored(table) => beside(table).map_or_else(own, |(key, value)| {
                let other = value.strip_prefix('-').map_or(format!("-{value}"), str::to_owned);
                (key, other)
            }),
        }
    }

    /// Whether an entry has a place in a file of the answers so far.
    fn answered(&self, index: usize) -> bool {
        let entry = self.entries[index];
        let any = |wanted: &dyn Fn(&Entry) -> bool| {
            let given = self.entries.iter().zip(&self.answers);
            given.filter(|(_, a)| a.is_some()).any(|(e, _)| wanted(e))
        };
        match entry.from {
            From::Asked | From::Like(_) => self.answers[index].is_some(),
            From::Fixed => any(&|e| e.table.starts_with(entry.table)),
            From::Same(table) | From::Mirrored(table) => {
                any(&|e| e.table == table && e.key == entry.key)
            }
        }
    }

    /// The answers so far as an engine file that need not be complete.
    pub(super) fn so_far(&self) -> String {
        let mut out = String::new();
        let mut last = "";
        for i in (0..self.entries.len()).filter(|i| self.answered(*i)) {
            let entry = self.entries[i];
            if entry.table != last {
                self.extras_of(last, &mut out);
                let _ = write!(out, "\n{}\n", entry.header);
                last = entry.table;
            }
            let (key, value) = self.value(i);
            let _ = write!(out, "{key} = {value}");
            if let Some(answer) = self.answers[i].as_ref() {
                out.push_str(if answer.sure {
                    "  # confirmed"
                } else if answer.measured {
                    ""
                } else {
                    "  # NOT MEASURED"
                });
            }
            out.push('\n');
        }
        self.extras_of(last, &mut out);
        self.other_extras(
            &|table| {
                (0..self.entries.len()).any(|i| self.answered(i) && self.entries[i].table == table)
            },
            &mut out,
        );
        out
    }

    /// The whole file, with everything that was not asked for as comments.
    pub(super) fn text(&self) -> String {
        let mut out = HEAD.to_owned();
        let mut last = "";
        for (i, entry) in self.entries.iter().enumerate() {
            if i == 0 || entry.table != self.entries[i - 1].table {
                if i > 0 {
                    self.unasked(last, &mut out);
                    self.extras_of(last, &mut out);
                }
                if !entry.header.is_empty() {
                    let _ = write!(out, "\n{}\n", entry.header);
                }
                last = entry.table;
            }
            let (key, value) = self.value(i);
            let _ = write!(out, "{key} = {value}");
            self.remark(i, &key, &mut out);
            out.push('\n');
        }
        self.unasked(last, &mut out);
        self.extras_of(last, &mut out);
        self.other_extras(&|table| self.entries.iter().any(|e| e.table == table), &mut out);
        self.other_tables(&mut out);
        out
    }

    /// What someone wrote into a table of the unfinished file.
    fn extras_of(&self, table: &str, out: &mut String) {
        for extra in self.extras.iter().filter(|e| e.table == table) {
            let _ = writeln!(out, "{} = {}", extra.key, extra.value);
        }
    }

    /// Tables that someone wrote into the unfinished file.
    fn other_extras(&self, there: &dyn Fn(&str) -> bool, out: &mut String) {
        let mut last = "";
        for extra in self.extras.iter().filter(|e| !there(&e.table)) {
            if extra.table != last {
                let general = scenario::general(&extra.table);
                let name = general.replace("[]", "");
                let array = general.ends_with("[]");
                let header = if array { format!("[[{name}]]") } else { format!("[{name}]") };
                let _ = write!(out, "\n{header}\n");
                last = &extra.table;
            }
            let _ = writeln!(out, "{} = {}", extra.key, extra.value);
        }
    }

    /// What an entry is, how it is measured, and whether it was.
    fn remark(&self, index: usize, key: &str, out: &mut String) {
        let entry = self.entries[index];
        let section = section_at(&scenario::general(entry.table));
        let Some(known) = section.and_then(|s| s.key(key)) else { return };
        let answer = self.answers[index].as_ref();
        let measured = !entry.asked() || answer.is_some_and(|a| a.measured);
        let sure = answer.is_some_and(|a| a.sure);
        let state = match (measured, sure) {
            (false, _) => format!("{UNMEASURED}. "),
            (true, true) => format!("{SURE}. "),
            (true, false) => String::new(),
        };
        let _ = write!(out, "  # {state}{} {}", known.meaning, known.measuring());
        while out.ends_with(' ') {
            out.pop();
        }
    }

    /// The keys of a table that have no entry, as comments.
    fn unasked(&self, table: &str, out: &mut String) {
        let Some(section) = section_at(&scenario::general(table)) else { return };
        let given = |key: &Key| {
            (0..self.entries.len())
                .any(|i| self.entries[i].table == table && self.value(i).0 == key.name)
                || self.extras.iter().any(|e| e.table == table && e.key == key.name)
        };
        // the second of two alike need not say it all again
        let before = self.entries.iter().take_while(|e| e.table != table);
        if table.contains(".window[")
            && before.clone().any(|e| e.table.starts_with("transfer[0].w"))
        {
            return;
        }
        comments(section, &given, out);
    }

    /// Tables the file has nothing of, as comments.
    fn other_tables(&self, out: &mut String) {
        out.push_str("\n# What else an engine file may say. Take the # away where it applies.\n");
        for section in SECTIONS {
            let has = |table: &str| scenario::general(table) == section.path;
            let skip = section.path.is_empty()
                || section.path.contains("measured")
                || section.path.contains("discharge")
                || section.path.starts_with("intake")
                || section.presence == Presence::Required;
            let given = self.entries.iter().any(|e| has(e.table))
                || self.extras.iter().any(|e| has(&e.table));
            if skip || given {
                continue;
            }
            let _ = write!(out, "\n# {}\n# [{}]\n", section.meaning, section.path);
            comments(section, &|_| false, out);
        }
    }
}

fn comments(section: &Section, given: &dyn Fn(&Key) -> bool, out: &mut String) {
    for key in section.keys.iter().filter(|k| !given(k)) {
        let value = match key.fallback {
            Fallback::Number(n) => format!("{n:?}"),
            Fallback::Text(t) => format!("{t:?}"),
            Fallback::Flag(f) => f.to_string(),
            Fallback::Derived(words) => format!("({words})"),
            Fallback::Required | Fallback::Optional => "…".to_owned(),
        };
        let _ = writeln!(out, "# {} = {value}  # {}", key.name, key.meaning);
    }
}

const HEAD: &str = "\
# Engine file. Depths are taken from the cylinder's top face to the bore edge of the chamfer; turn the
# crank slowly and use a positive stop to find top dead centre. A number may carry its unit and its
# tolerance in quotes: \"30.0 mm ± 0.1\". What stands behind a # is a remark, or a default.
";
