//! From text to the file as written, with every fault of form.

use std::borrow::Cow;
use std::collections::HashSet;
use std::ops::Range;
use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::document::{Document, Entry, Slot, general, joined};
use super::fault::{Fault, FaultKind, Faults, quoted};
use super::keys::{Fallback, Form, Key, Presence, Section};
use super::nearest::or_nearest;
use super::value;

impl Document {
    /// Reads a file of a kind. Returns what could be read and every fault found.
    #[must_use]
    pub fn read(text: &str, form: &'static Form) -> (Self, Faults) {
        let clean = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut reading = Reading {
            document: Self::new(clean, form),
            faults: Faults::default(),
            judged: HashSet::new(),
            slips: HashSet::new(),
            names: HashSet::new(),
        };
        let (root, errors) = DeTable::parse_recoverable(clean);
        // past a slip within one line the rest can still be judged; past anything else it cannot, and what
        // follows is its echo
        if errors.iter().all(|error| reading.syntax(error)) {
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
    faults: Faults,
    /// Lines with a fault of syntax.
    judged: HashSet<usize>,
    /// Those whose fault spoils only its own line.
    slips: HashSet<usize>,
    /// Keys in such lines.
    names: HashSet<String>,
}

impl Reading {
    fn fault(&mut self, kind: FaultKind, span: Range<usize>, key: &str, remedy: impl Into<String>) {
        self.faults.add_with(|| self.document.fault_at(kind, span, key, remedy));
    }

    /// Tells a fault of syntax; whether it spoils nothing but its own line.
    fn syntax(&mut self, error: &toml::de::Error) -> bool {
        let span = error.span().unwrap_or(0..0);
        let line = self.document.position(span.start).0;
        if !self.judged.insert(line) {
            return true;
        }
        let (name, written) = split_line(self.document.line(line));
        if let Some((kind, remedy)) = slip(error.message(), written) {
            self.slips.insert(line);
            if !self.names.contains(name) {
                self.names.insert(name.to_owned());
            }
            let fault = || Fault {
                found: quoted(written),
                ..self.document.fault_at(kind, span, name, remedy)
            };
            self.faults.add_with(fault);
            return true;
        }
        let (span, remedy) = match self.open_bracket(span.start) {
            Some(start) => (start..start + 1, "this bracket is not closed".to_owned()),
            None => {
                let message = error.message().replace('`', "\"");
                (span, format!("cannot be read as TOML: {message}"))
            }
        };
        let line = self.document.position(span.start).0;
        let (name, written) = split_line(self.document.line(line));
        let fault = self.document.fault_at(FaultKind::Syntax, span, name, remedy);
        self.faults.add(Fault { found: quoted(written), ..fault });
        false
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
        self.slips.contains(&line)
    }

    fn section(&self, path: &str) -> Option<&'static Section> {
        self.document.form().section(path)
    }

    fn table(&mut self, path: &str, table: &DeTable, span: Range<usize>) {
        self.document.add_table(path, span);
        let section = self.section(&general(path));
        let mut free = 0;
        for (name, value) in table {
            let here = joined(path, name.get_ref());
            let line = self.document.position(name.span().start).0;
            // a name in quotes may hold what paths are written with
            let plain = !name.get_ref().contains(['.', '[', ']']);
            if let Some(key) = section.and_then(|s| s.key(name.get_ref())) {
                if self.slipped(line) {
                    self.document.put(&here, Slot::Faulty);
                } else {
                    self.key(&here, key, value);
                }
            } else if plain && self.section(&general(&here)).is_some() {
                self.child(&here, value);
            } else if plain && self.section(&format!("{}[]", general(&here))).is_some() {
                self.children(&here, value);
            } else if self.slipped(line) {
            } else if let Some(section) = section.filter(|s| s.free.is_some()) {
                free += 1;
                if free <= section.most {
                    self.free(path, name.get_ref(), section.free, value);
                } else if free == section.most + 1 {
                    let remedy = format!("there are more than {} of them", section.most);
                    self.fault(FaultKind::OutOfRange, name.span(), &here, remedy);
                }
            } else {
                self.unknown(path, name, section, value);
            }
        }
    }

    fn unknown(
        &mut self,
        path: &str,
        name: &Spanned<Cow<str>>,
        section: Option<&'static Section>,
        value: &Spanned<DeValue>,
    ) {
        let document = &self.document;
        self.faults.add_with(|| {
            let found = match value.get_ref() {
                DeValue::Table(_) => String::new(),
                _ => document.snippet(&value.span()),
            };
            let remedy = unknown(document.form(), path, name.get_ref(), section);
            let here = joined(path, name.get_ref());
            Fault { found, ..document.fault_at(FaultKind::Unknown, name.span(), &here, remedy) }
        });
    }

    /// A key of any name.
    fn free(&mut self, path: &str, name: &str, key: Option<&Key>, written: &Spanned<DeValue>) {
        let Some(key) = key else { return };
        match value::read(key, written) {
            Ok((value, _)) => {
                let entry = Entry { value, span: written.span(), changed: false, stands_in: false };
                self.document.put_free(path, name, entry);
            }
            Err(refusal) => {
                let span = refusal.span.unwrap_or(written.span());
                self.fault(refusal.kind, span, &joined(path, name), refusal.remedy);
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
        let most = self.section(&format!("{}[]", general(path))).map_or(usize::MAX, |s| s.most);
        if array.len() > most {
            let remedy = format!("there are {}, and at most {most} can be read", array.len());
            let span = array.first().map_or(value.span(), Spanned::span);
            self.fault(FaultKind::OutOfRange, span, path, remedy);
        }
        for (index, item) in array.iter().take(most).enumerate() {
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
            Ok((_, tolerances)) if !tolerances.is_empty() && !self.document.form().tolerances => {
                let remedy = "write the number without ±: it has no tolerance here";
                self.fault(FaultKind::WrongKind, written.span(), path, remedy);
                self.document.put(path, Slot::Faulty);
            }
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
        let form = self.document.form();
        for section in form.sections.iter().filter(|s| s.presence == Presence::Required) {
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
                        remedy = format!("missing: give {}", one_of(form, &parent, names));
                    }
                    self.faults.add(self.document.fault(FaultKind::Missing, &parent, remedy));
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
                self.faults.add(self.document.fault(FaultKind::Missing, &here, remedy));
            }
        }
    }

    /// Keys and tables that stand for each other: none where one is required, or too many.
    fn either(&mut self, path: &str, section: &Section) {
        for either in section.either {
            let full: Vec<String> = either.names.iter().map(|n| joined(path, n)).collect();
            let given: Vec<&String> =
                full.iter().filter(|p| self.known(p) || self.document.has(p)).collect();
            let all = one_of(self.document.form(), path, either.names.iter());
            let misspelt = either.names.iter().any(|n| self.misspelt(path, n));
            if either.required && given.is_empty() && !misspelt {
                let remedy = format!("missing: give {all}");
                self.faults.add(self.document.fault(FaultKind::Missing, path, remedy));
            } else if either.exclusive && given.len() > 1 {
                let last = given[given.len() - 1].clone();
                let remedy = format!("give only one of {all}");
                self.faults.add(self.document.fault(FaultKind::Contradiction, &last, remedy));
            }
        }
    }

    /// Whether the file gives this key, rightly or wrongly.
    fn known(&self, path: &str) -> bool {
        self.document.gives(path)
            || self.document.is_faulty(path)
            || path.rsplit('.').next().is_some_and(|n| self.names.contains(n))
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
fn one_of<'a>(form: &Form, path: &str, names: impl Iterator<Item = &'a &'static str>) -> String {
    let word = |name: &&str| {
        let full = joined(path, name);
        let table = form.section(&general(&full)).is_some();
        if table { format!("[{full}]") } else { (*name).to_owned() }
    };
    names.map(word).collect::<Vec<_>>().join(" or ")
}

/// What stands left and right of the equals sign of a line, a comment left off.
fn split_line(content: &str) -> (&str, &str) {
    let (name, written) = content.split_once('=').unwrap_or((content, ""));
    let written = written.split_once('#').map_or(written, |(before, _)| before);
    (name.trim(), written.trim())
}

/// A slip that spoils nothing but its own line: its kind and what to write instead.
fn slip(message: &str, written: &str) -> Option<(FaultKind, String)> {
    if message.contains("duplicate") {
        return Some((FaultKind::Twice, "given twice; keep one of them".to_owned()));
    }
    let digits = |s: &str| !s.is_empty() && s.chars().all(|c| c.is_ascii_digit());
    let (before, after) = written.split_once(',').unwrap_or((written, ""));
    if digits(before.trim_start_matches(['+', '-'])) && digits(after) {
        let remedy =
            format!("write decimals with a point: {}", quoted(&format!("{before}.{after}")));
        return Some((FaultKind::Syntax, remedy));
    }
    let in_list = written.starts_with('[') && written.ends_with(']') && !written.contains('"');
    let unquoted = message.contains("must be quoted") || message.contains("invalid");
    if in_list && unquoted && written.contains(char::is_alphabetic) {
        let inner = written.trim_matches(['[', ']']).replace(", ", "\", \"");
        let remedy = format!("numbers with a unit go in quotes: [\"{}\"]", quoted(&inner));
        return Some((FaultKind::Syntax, remedy));
    }
    if written.contains(['[', '{', '=']) {
        return None;
    }
    let number = written.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c));
    if number && written.contains(|c: char| c.is_alphabetic() || "\"±'+".contains(c)) {
        let inches = written.replace('"', " in");
        let remedy = format!("a number with its unit goes in quotes: \"{}\"", quoted(&inches));
        return Some((FaultKind::Syntax, remedy));
    }
    let bare = message.contains("must be quoted") || message.contains("invalid boolean");
    if bare && written.starts_with(char::is_alphabetic) {
        return Some((FaultKind::Syntax, format!("words go in quotes: \"{}\"", quoted(written))));
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
fn unknown(form: &Form, path: &str, name: &str, section: Option<&'static Section>) -> String {
    let prefix = if path.is_empty() { String::new() } else { format!("{}.", general(path)) };
    let children = form.sections.iter().filter_map(|s| {
        let rest = s.path.strip_prefix(&prefix)?;
        let rest = rest.strip_suffix("[]").unwrap_or(rest);
        (!rest.is_empty() && !rest.contains('.') && !rest.contains('[')).then_some(rest)
    });
    let keys = section.into_iter().flat_map(|s| s.keys.iter().map(|k| k.name));
    let all: Vec<&str> = keys.chain(children).collect();
    let likeness = all.iter().map(|k| strsim::jaro_winkler(k, name)).fold(0.0, f64::max);
    let homes: Vec<String> =
        form.sections.iter().filter(|s| s.key(name).is_some()).map(|s| header(s.path)).collect();
    if likeness < 0.9 && (1..=4).contains(&homes.len()) {
        return format!("does not belong here but in {}", homes.join(" or "));
    }
    or_nearest("not a known key here", name, all.iter())
}
