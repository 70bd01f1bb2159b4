//! From text to the file as written, with every fault of form.

use std::ops::Range;
use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::document::{Document, Entry, Slot, general, joined};
use super::engine::keys::{Fallback, Key, Presence, SECTIONS, Section, section_at};
use super::fault::{Fault, FaultKind, position};
use super::value;

impl Document {
    /// Reads a file. Returns what could be read and every fault found.
    #[must_use]
    pub fn read(text: &str) -> (Self, Vec<Fault>) {
        let clean = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut document = Self::default();
        document.text = clean.into();
        let mut reading = Reading { document, faults: Vec::new(), slips: Vec::new() };
        let (root, errors) = DeTable::parse_recoverable(clean);
        for error in errors {
            reading.syntax(&error);
            // what follows a fault that spoils more than its line is its echo
            if reading.slips.len() < reading.faults.len() {
                break;
            }
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
        let line = position(&self.document.text, span.start).0;
        if self.faults.iter().any(|f| f.line == line) {
            return;
        }
        let (name, written) = self.split_line(line);
        if let Some((kind, remedy)) = slip(error.message(), &written) {
            self.slips.push((line, name.clone()));
            self.written_fault(kind, span, (name, written), remedy);
        } else if let Some(start) = self.open_bracket(span.start) {
            let (line, _) = position(&self.document.text, start);
            let remedy = "this bracket is not closed";
            let here = self.split_line(line);
            self.written_fault(FaultKind::Syntax, start..start + 1, here, remedy);
        } else {
            let message = error.message().replace('`', "\"");
            let remedy = format!("cannot be read as TOML: {message}");
            self.written_fault(FaultKind::Syntax, span, (name, written), remedy);
        }
    }

    fn written_fault(
        &mut self,
        kind: FaultKind,
        span: Range<usize>,
        (key, found): (String, String),
        remedy: impl Into<String>,
    ) {
        let fault = self.document.fault_at(kind, span, &key, remedy);
        self.faults.push(Fault { found, ..fault });
    }

    /// What stands left and right of the equals sign of a line, a comment left off.
    fn split_line(&self, line: usize) -> (String, String) {
        let content = self.document.text.lines().nth(line - 1).unwrap_or_default();
        let (name, written) = content.split_once('=').unwrap_or((content, ""));
        let written = written.split_once('#').map_or(written, |(before, _)| before);
        (name.trim().to_owned(), written.trim().to_owned())
    }

    /// Start of the last value before `offset` that opens more brackets than it closes.
    fn open_bracket(&self, offset: usize) -> Option<usize> {
        let before = self.document.text.get(..offset)?;
        let mut end = before.len();
        for line in before.rsplit('\n') {
            let start = end - line.len();
            end = start.saturating_sub(1);
            let Some((name, value)) = line.split_once('=') else { continue };
            let value = value.split_once('#').map_or(value, |(before, _)| before);
            if value.matches('[').count() > value.matches(']').count() {
                return Some(start + name.len() + 1 + value.find('[')?);
            }
        }
        None
    }

    fn slipped(&self, line: usize) -> bool {
        self.slips.iter().any(|s| s.0 == line)
    }

    fn table(&mut self, path: &str, table: &DeTable, span: Range<usize>) {
        self.document.add_table(path, span);
        let section = section_at(&general(path));
        for (name, value) in table {
            let here = joined(path, name.get_ref());
            let line = position(&self.document.text, name.span().start).0;
            if let Some(key) = section.and_then(|s| s.key(name.get_ref())) {
                if self.slipped(line) {
                    self.document.put(&here, Slot::Faulty);
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
                    Arc::make_mut(&mut self.document.tolerances).insert(number, half_width);
                }
                let entry = Entry { value, span: written.span(), changed: false, stands_in: false };
                self.document.put(path, Slot::Given(entry));
            }
            Err(refusal) => {
                let span = refusal.span.unwrap_or(written.span());
                self.fault(refusal.kind, span, path, refusal.remedy);
                self.document.put(path, Slot::Faulty);
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
                    let mut remedy = format!("missing: add {open}{name}{close} ({what})");
                    if section.keys.is_empty() {
                        let names = section.either.iter().flat_map(|e| e.names);
                        remedy = format!("missing: give {}", one_of(&parent, names));
                    }
                    self.faults.push(self.document.fault(FaultKind::Missing, &parent, remedy));
                }
            }
        }
        let tables: Vec<(String, &'static Section)> =
            self.document.tables().map(|(path, table)| (path.to_owned(), table.section)).collect();
        for (path, section) in tables {
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
            let all = one_of(path, either.names.iter());
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
            || self.document.is_faulty(path)
            || path.rsplit('.').next().is_some_and(|n| self.slips.iter().any(|s| s.1 == n))
    }

    /// Whether an unknown key of this table was meant to be this one: one mistake, one fault.
    fn misspelt(&self, path: &str, name: &str) -> bool {
        self.faults.iter().any(|f| {
            f.kind == FaultKind::Unknown
                && f.remedy
                    .split_once("did you mean ")
                    .is_some_and(|m| m.1.trim_end_matches('?').split(" or ").any(|m| m == name))
                && f.key.rsplit_once('.').map_or("", |k| k.0) == path
        })
    }

    /// Concrete paths at which a table of this general path belongs, the last index left off.
    fn parents(&self, general_path: &str) -> Vec<String> {
        let stem = general_path.strip_suffix("[]").unwrap_or(general_path);
        let Some((parent, name)) = stem.rsplit_once('.') else { return vec![stem.to_owned()] };
        let tables = self.document.tables().filter(|(_, t)| t.section.path == parent);
        tables.map(|(path, _)| joined(path, name)).collect()
    }
}

/// Names of one table in words, tables in brackets.
fn one_of<'a>(path: &str, names: impl Iterator<Item = &'a &'static str>) -> String {
    let word = |name: &&str| {
        let full = joined(path, name);
        if section_at(&general(&full)).is_some() { format!("[{full}]") } else { (*name).to_owned() }
    };
    names.map(word).collect::<Vec<_>>().join(" or ")
}

/// A slip that spoils nothing but its own line: its kind and what to write instead.
fn slip(message: &str, written: &str) -> Option<(FaultKind, String)> {
    if message.contains("duplicate") {
        return Some((FaultKind::Twice, "given twice; keep one of them".to_owned()));
    }
    let digits = |s: &str| !s.is_empty() && s.chars().all(|c| c.is_ascii_digit());
    let (before, after) = written.split_once(',').unwrap_or((written, ""));
    if digits(before.trim_start_matches(['+', '-'])) && digits(after) {
        let remedy = format!("write decimals with a point: {before}.{after}");
        return Some((FaultKind::Syntax, remedy));
    }
    let in_list = written.starts_with('[') && written.ends_with(']') && !written.contains('"');
    let unquoted = message.contains("must be quoted") || message.contains("invalid");
    if in_list && unquoted && written.contains(char::is_alphabetic) {
        let inner = written.trim_matches(['[', ']']).replace(", ", "\", \"");
        let remedy = format!("numbers with a unit go in quotes: [\"{inner}\"]");
        return Some((FaultKind::Syntax, remedy));
    }
    if written.contains(['[', '{', '=']) {
        return None;
    }
    let number = written.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c));
    if number && written.contains(|c: char| c.is_alphabetic() || "\"±'+".contains(c)) {
        let quoted = written.replace('"', " in");
        let remedy = format!("a number with its unit goes in quotes: \"{quoted}\"");
        return Some((FaultKind::Syntax, remedy));
    }
    let bare = message.contains("must be quoted") || message.contains("invalid boolean");
    if bare && written.starts_with(char::is_alphabetic) {
        return Some((FaultKind::Syntax, format!("words go in quotes: \"{written}\"")));
    }
    None
}

/// A table's header as it is written.
fn header(general_path: &str) -> String {
    let name = general_path.replace("[]", "");
    match general_path {
        "" => "the top of the file".to_owned(),
        path if path.ends_with("[]") => format!("[[{name}]]"),
        _ => format!("[{name}]"),
    }
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
    let (likeness, known) = nearest(all.iter().map(|k| (strsim::jaro_winkler(k, name), *k)));
    let homes: Vec<String> =
        SECTIONS.iter().filter(|s| s.key(name).is_some()).map(|s| header(s.path)).collect();
    if likeness < 0.9 && (1..=4).contains(&homes.len()) {
        return format!("does not belong here but in {}", homes.join(" or "));
    }
    if likeness > 0.75 {
        return format!("not a known key here; did you mean {}?", known.join(" or "));
    }
    format!("not a known key here; known are {}", all.join(", "))
}

/// Of names with their likeness, the greatest likeness and the names that come near it, at most three.
pub(super) fn nearest<T: AsRef<str>>(known: impl Iterator<Item = (f64, T)>) -> (f64, Vec<T>) {
    let mut known: Vec<_> = known.collect();
    known.sort_by(|a, b| b.0.total_cmp(&a.0));
    let best = known.first().map_or(0.0, |k| k.0);
    known.retain(|k| k.0 > best - 0.04);
    (best, known.into_iter().take(3).map(|k| k.1).collect())
}
