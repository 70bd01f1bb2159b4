//! From text to the file as written, with every fault of form.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::document::{Document, Entry, general, joined};
use super::fault::{Fault, FaultKind, position};
use super::keys::{Fallback, Key, Presence, SECTIONS, Section, section_at};
use super::value;

impl Document {
    /// Reads a file. Returns what could be read and every fault found.
    #[must_use]
    pub fn read(text: &str) -> (Self, Vec<Fault>) {
        let clean = text.strip_prefix('\u{feff}').unwrap_or(text);
        let document = Self { text: clean.into(), ..Self::default() };
        let mut reading = Reading { document, faults: Vec::new(), slips: Vec::new() };
        let (root, errors) = DeTable::parse_recoverable(clean);
        for error in errors {
            reading.syntax(&error);
        }
        // past a slip within one line the rest can still be judged; past anything else it cannot
        if reading.slips.len() == reading.faults.len() {
            reading.table("", root.get_ref(), root.span());
            reading.missing();
        }
        (reading.document, reading.faults)
    }

    /// Whether everything from here on is worth judging: no fault of form makes it unreadable.
    pub(super) fn readable(&self) -> bool {
        self.has("")
    }
}

struct Reading {
    document: Document,
    faults: Vec<Fault>,
    /// Lines with a slip that spoils only its own line, with the key there.
    slips: Vec<(usize, String)>,
}

impl Reading {
    fn fault(&mut self, kind: FaultKind, span: Range<usize>, key: &str, remedy: impl Into<String>) {
        self.faults.push(self.document.fault_at(kind, span, key, remedy));
    }

    fn syntax(&mut self, error: &toml::de::Error) {
        let span = error.span().unwrap_or(0..0);
        let (line, column) = position(&self.document.text, span.start);
        let content = self.document.text.lines().nth(line - 1).unwrap_or_default();
        let (name, written) = content.split_once('=').unwrap_or((content, ""));
        let (name, written) = (name.trim().to_owned(), without_comment(written).trim().to_owned());
        if self.faults.iter().any(|f| f.line == line) {
            return;
        }
        let known = slip(error.message(), &written);
        if known.is_some() {
            self.slips.push((line, name.clone()));
        }
        let (kind, remedy) = known.unwrap_or_else(|| {
            let message = error.message().replace('`', "\"");
            (FaultKind::Syntax, format!("cannot be read as TOML: {message}"))
        });
        self.faults.push(Fault { kind, span, line, column, key: name, found: written, remedy });
    }

    fn slipped(&self, line: usize) -> bool {
        self.slips.iter().any(|s| s.0 == line)
    }

    fn table(&mut self, path: &str, table: &DeTable, span: Range<usize>) {
        self.document.tables.insert(path.to_owned(), span);
        let section = section_at(&general(path));
        for (name, value) in table {
            let here = joined(path, name.get_ref());
            let line = position(&self.document.text, name.span().start).0;
            if let Some(key) = section.and_then(|s| s.key(name.get_ref())) {
                if self.slipped(line) {
                    self.document.faulty.insert(here);
                } else {
                    self.key(&here, key, value);
                }
            } else if section_at(&general(&here)).is_some() {
                self.child(&here, value);
            } else if section_at(&format!("{}[]", general(&here))).is_some() {
                self.children(&here, value);
            } else if !self.slipped(line) {
                let remedy = unknown(path, name.get_ref(), section);
                let found = match value.get_ref() {
                    DeValue::Table(_) => String::new(),
                    _ => self.document.snippet(&value.span()),
                };
                let fault = self.document.fault_at(FaultKind::Unknown, name.span(), &here, remedy);
                self.faults.push(Fault { found, ..fault });
            }
        }
    }

    fn child(&mut self, path: &str, value: &Spanned<DeValue>) {
        match value.get_ref() {
            DeValue::Table(table) => self.table(path, table, value.span()),
            DeValue::Array(_) if self.document.snippet(&value.span()).starts_with("[[") => {
                let remedy = format!("there is only one: write [{path}] in single brackets");
                self.fault(FaultKind::WrongKind, value.span(), path, remedy);
            }
            _ => {
                let remedy = format!("this is a table: write [{path}] with its keys below");
                self.fault(FaultKind::WrongKind, value.span(), path, remedy);
            }
        }
    }

    fn children(&mut self, path: &str, value: &Spanned<DeValue>) {
        let name = general(path).replace("[]", "");
        let wanted = format!("there may be several: write [[{name}]] in double brackets for each");
        let DeValue::Array(array) = value.get_ref() else {
            self.fault(FaultKind::WrongKind, value.span(), path, wanted);
            return;
        };
        for (index, item) in array.iter().enumerate() {
            match item.get_ref() {
                DeValue::Table(table) => {
                    self.table(&format!("{path}[{index}]"), table, item.span());
                }
                _ => self.fault(FaultKind::WrongKind, item.span(), path, wanted.clone()),
            }
        }
    }

    fn key(&mut self, path: &str, key: &Key, written: &Spanned<DeValue>) {
        match value::read(key, written) {
            Ok((value, tolerances)) => {
                for (index, half_width) in tolerances {
                    let number = index.map_or(path.to_owned(), |i| format!("{path}[{i}]"));
                    self.document.tolerances.insert(number, half_width);
                }
                let entry = Entry { value, span: written.span(), changed: false };
                self.document.entries.insert(path.to_owned(), entry);
            }
            Err(refusal) => {
                let span = refusal.span.unwrap_or(written.span());
                self.fault(refusal.kind, span, path, refusal.remedy);
                self.document.faulty.insert(path.to_owned());
            }
        }
    }

    /// Required tables and keys that are not there.
    fn missing(&mut self) {
        for section in SECTIONS.iter().filter(|s| s.presence == Presence::Required) {
            for parent in self.parents(section.path) {
                let array = section.path.ends_with("[]");
                let here = if array { format!("{parent}[0]") } else { parent.clone() };
                let named_wrongly = self.faults.iter().any(|f| f.key == parent);
                if !self.document.has(&here) && !named_wrongly {
                    let (open, close) = if array { ("[[", "]]") } else { ("[", "]") };
                    let name = general(&parent).replace("[]", "");
                    let what = section.meaning.trim_end_matches('.');
                    let remedy = format!("missing: add {open}{name}{close} ({what})");
                    self.faults.push(self.document.fault(FaultKind::Missing, &parent, remedy));
                }
            }
        }
        let tables: Vec<String> = self.document.tables.keys().cloned().collect();
        for path in tables {
            let Some(section) = section_at(&general(&path)) else { continue };
            self.missing_keys(&path, section);
            self.either(&path, section);
        }
    }

    fn missing_keys(&mut self, path: &str, section: &Section) {
        for key in section.keys.iter().filter(|k| k.fallback == Fallback::Required) {
            let here = joined(path, key.name);
            if !self.known(&here) && !self.misspelt(path, key.name) {
                let how = key.measuring();
                let space = if how.is_empty() { "" } else { " " };
                let remedy = format!("missing: {}{space}{how}", key.meaning);
                self.faults.push(self.document.fault(FaultKind::Missing, &here, remedy));
            }
        }
    }

    /// Keys and tables that stand for each other: none where one is required, or too many.
    fn either(&mut self, path: &str, section: &Section) {
        for either in section.either {
            let full: Vec<String> = either.names.iter().map(|n| joined(path, n)).collect();
            let given: Vec<&String> =
                full.iter().filter(|p| self.known(p) || self.document.has(p)).collect();
            let as_table = section.key(either.names[0]).is_none();
            let names: Vec<String> = if as_table {
                full.iter().map(|p| format!("[{p}]")).collect()
            } else {
                either.names.iter().map(|n| (*n).to_owned()).collect()
            };
            let all = names.join(" or ");
            let misspelt = either.names.iter().any(|n| self.misspelt(path, n));
            if either.required && given.is_empty() && !misspelt {
                let remedy = format!("missing: give {all}");
                self.faults.push(self.document.fault(FaultKind::Missing, path, remedy));
            } else if either.exclusive && given.len() > 1 {
                let last = given[given.len() - 1].clone();
                let remedy = format!("give only one of {all}");
                self.faults.push(self.document.fault(FaultKind::Contradiction, &last, remedy));
            }
        }
    }

    /// Whether the file gives this key, rightly or wrongly.
    fn known(&self, path: &str) -> bool {
        self.document.gives(path)
            || self.document.faulty.contains(path)
            || path.rsplit('.').next().is_some_and(|n| self.slips.iter().any(|s| s.1 == n))
    }

    /// Whether an unknown key of this table was meant to be this one: one mistake, one fault.
    fn misspelt(&self, path: &str, name: &str) -> bool {
        let meant = format!("did you mean {name}?");
        self.faults.iter().any(|f| {
            f.kind == FaultKind::Unknown
                && f.remedy.ends_with(&meant)
                && f.key.rsplit_once('.').map_or("", |k| k.0) == path
        })
    }

    /// Concrete paths at which a table of this general path belongs, the last index left off.
    fn parents(&self, general_path: &str) -> Vec<String> {
        let stem = general_path.strip_suffix("[]").unwrap_or(general_path);
        let Some((parent, name)) = stem.rsplit_once('.') else { return vec![stem.to_owned()] };
        let tables = self.document.tables.keys();
        tables.filter(|t| general(t) == parent).map(|t| joined(t, name)).collect()
    }
}

/// A slip that spoils nothing but its own line: its kind and what to write instead.
fn slip(message: &str, written: &str) -> Option<(FaultKind, String)> {
    if message.contains("duplicate") {
        return Some((FaultKind::Twice, "given twice; keep one of them".to_owned()));
    }
    let number = written.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c));
    let digits = |s: &str| !s.is_empty() && s.chars().all(|c| c.is_ascii_digit());
    if number {
        let (before, after) = written.split_once(',').unwrap_or((written, ""));
        if digits(before.trim_start_matches(['+', '-'])) && digits(after) {
            let remedy = format!("write decimals with a point: {before}.{after}");
            return Some((FaultKind::Syntax, remedy));
        }
        let unit = written.contains(|c: char| c.is_alphabetic() || c == '"' || c == '±');
        if unit && !written.contains(['[', '{', '=']) {
            let quoted = written.replace('"', " in");
            let remedy = format!("a number with its unit goes in quotes: \"{quoted}\"");
            return Some((FaultKind::Syntax, remedy));
        }
    }
    None
}

fn without_comment(line: &str) -> &str {
    line.split_once('#').map_or(line, |(before, _)| before)
}

/// What to say of a key or table that is not known.
fn unknown(path: &str, name: &str, section: Option<&'static Section>) -> String {
    let prefix = if path.is_empty() { String::new() } else { format!("{}.", general(path)) };
    let children = SECTIONS.iter().filter_map(|s| {
        let rest = s.path.strip_prefix(&prefix)?;
        let rest = rest.strip_suffix("[]").unwrap_or(rest);
        (!rest.is_empty() && !rest.contains('.') && !rest.contains('[')).then_some(rest)
    });
    let keys = section.into_iter().flat_map(|s| s.keys.iter().map(|k| k.name));
    let all: Vec<&str> = keys.chain(children).collect();
    let (likeness, known) = nearest(name, all.iter().copied()).unwrap_or((0.0, ""));
    let homes: Vec<String> = SECTIONS
        .iter()
        .filter(|s| s.key(name).is_some())
        .map(|s| if s.path.is_empty() { "the top".to_owned() } else { format!("[{}]", s.path) })
        .collect();
    if likeness < 0.9 && (1..=4).contains(&homes.len()) {
        return format!("does not belong here but in {}", homes.join(" or "));
    }
    if likeness > 0.75 {
        return format!("not a known key here; did you mean {known}?");
    }
    format!("not a known key here; known are {}", all.join(", "))
}

/// The name most like `name`, with its likeness from 0 to 1.
pub(super) fn nearest<'a>(
    name: &str,
    known: impl Iterator<Item = &'a str>,
) -> Option<(f64, &'a str)> {
    known
        .map(|k| (strsim::jaro_winkler(k, name), k))
        .max_by(|a, b| a.0.total_cmp(&b.0).then_with(|| b.1.cmp(a.1)))
}
