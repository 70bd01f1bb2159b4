//! `freshcharge new`: asks for the measurements, or writes a commented template.

use std::fmt::Write as _;
use std::io::{BufRead, IsTerminal, Write as _};

use freshcharge_sim::scenario::keys::{Fallback, Key, Presence, SECTIONS, Section, section_at};
use freshcharge_sim::scenario::{self, Fault};

use super::run::UNMEASURED;
use crate::Outcome;
use crate::args::{Intake, NewArgs};
use crate::files::{self, Failure};

/// Where an entry's value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum From {
    /// Asked for; until answered, the starting value.
    Asked,
    /// Written as it stands.
    Fixed,
    /// The same as the entry at this path.
    Same(&'static str),
    /// The same with the other sign.
    Mirrored(&'static str),
}

/// One entry of the file to be.
struct Entry {
    /// Table header as it stands in the file; the entry's own where the header repeats.
    header: &'static str,
    /// Path of its table, indices included.
    table: &'static str,
    key: &'static str,
    start: &'static str,
    from: From,
}

const fn ask(
    header: &'static str,
    table: &'static str,
    key: &'static str,
    start: &'static str,
) -> Entry {
    Entry { header, table, key, start, from: From::Asked }
}

const fn set(
    header: &'static str,
    table: &'static str,
    key: &'static str,
    start: &'static str,
    from: From,
) -> Entry {
    Entry { header, table, key, start, from }
}

const RIGHT: &str = "transfer[0].window[0]";
const LEFT: &str = "transfer[0].window[1]";
const BOOST: &str = "transfer[1].window[0]";
const WINDOW: &str = "[[transfer.window]]";

/// What every engine has. Starting values are those of an invented single.
const COMMON: &[Entry] = &[
    ask("", "", "name", "\"My engine\""),
    set("", "", "model", "2", From::Fixed),
    ask("[crank_train]", "crank_train", "bore_mm", "54.0"),
    ask("[crank_train]", "crank_train", "stroke_mm", "52.0"),
    ask("[crank_train]", "crank_train", "rod_mm", "105.0"),
    ask("[piston]", "piston", "skirt_length_mm", "58.0"),
    ask("[stack]", "stack", "base_gaskets_mm", "[0.4]"),
    ask("[stack]", "stack", "spacers_mm", "[]"),
    ask("[stack]", "stack", "head_gaskets_mm", "[0.5]"),
    ask("[stack.measured]", "stack.measured", "deck_mm", "0.3"),
    ask("[head]", "head", "land_offset_mm", "0.4"),
    ask("[head]", "head", "squish_band_mm", "8.0"),
    ask("[head.assembled]", "head.assembled", "volume_cm3", "12.8"),
    ask("[exhaust]", "exhaust", "duct_exit_diameter_mm", "30.0"),
    ask("[[exhaust.window]]", "exhaust.window[0]", "chord_mm", "34.0"),
    ask("[[exhaust.window]]", "exhaust.window[0]", "roof_depth_mm", "33.0"),
    ask("[[exhaust.window]]", "exhaust.window[0]", "roof_radius_mm", "5.0"),
    ask("[[exhaust.window]]", "exhaust.window[0]", "roof_arch_mm", "1.0"),
    ask("[[exhaust.window]]", "exhaust.window[0]", "floor_radius_mm", "5.0"),
    set("[[transfer]]", "transfer[0]", "name", "\"main\"", From::Fixed),
    ask("[[transfer]]", "transfer[0]", "duct_volume_cm3", "34.0"),
    ask("[[transfer]]", "transfer[0]", "duct_length_mm", "75.0"),
    ask(WINDOW, RIGHT, "centre_deg", "78.0"),
    ask(WINDOW, RIGHT, "chord_mm", "18.5"),
    ask(WINDOW, RIGHT, "roof_depth_mm", "42.0"),
    ask(WINDOW, RIGHT, "roof_radius_mm", "3.0"),
    ask(WINDOW, RIGHT, "radial_deg", "25.0"),
    set(WINDOW, LEFT, "centre_deg", "", From::Mirrored(RIGHT)),
    set(WINDOW, LEFT, "chord_mm", "", From::Same(RIGHT)),
    set(WINDOW, LEFT, "roof_depth_mm", "", From::Same(RIGHT)),
    set(WINDOW, LEFT, "roof_radius_mm", "", From::Same(RIGHT)),
    set(WINDOW, LEFT, "radial_deg", "", From::Same(RIGHT)),
    set("[[transfer]]", "transfer[1]", "name", "\"boost\"", From::Fixed),
    ask("[[transfer]]", "transfer[1]", "duct_volume_cm3", "9.0"),
    ask("[[transfer]]", "transfer[1]", "duct_length_mm", "60.0"),
    set(WINDOW, BOOST, "centre_deg", "180.0", From::Fixed),
    ask(WINDOW, BOOST, "chord_mm", "14.0"),
    ask(WINDOW, BOOST, "roof_depth_mm", "42.2"),
    ask(WINDOW, BOOST, "axial_deg", "50.0"),
    ask("[crankcase]", "crankcase", "volume_cm3", "420.0"),
    ask("[crankcase]", "crankcase", "measured_at", "\"top\""),
];

const CRANK_WEB: &[Entry] = &[
    ask("[intake.crank_web]", "intake.crank_web", "opens_deg_btdc", "115.0"),
    ask("[intake.crank_web]", "intake.crank_web", "closes_deg_atdc", "52.0"),
    ask("[intake.crank_web]", "intake.crank_web", "ramp_deg", "22.0"),
    ask("[intake.crank_web]", "intake.crank_web", "window_area_mm2", "400.0"),
];

const DISC_VALVE: &[Entry] = &[
    ask("[intake.disc_valve]", "intake.disc_valve", "opens_deg_btdc", "138.0"),
    ask("[intake.disc_valve]", "intake.disc_valve", "closes_deg_atdc", "68.0"),
    ask("[intake.disc_valve]", "intake.disc_valve", "ramp_deg", "26.0"),
    ask("[intake.disc_valve]", "intake.disc_valve", "window_area_mm2", "560.0"),
];

const INLET: &str = "intake.piston_port.window[0]";
const INLET_HEADER: &str = "[[intake.piston_port.window]]";
const PISTON_PORT: &[Entry] = &[
    ask(INLET_HEADER, INLET, "centre_deg", "180.0"),
    ask(INLET_HEADER, INLET, "chord_mm", "28.0"),
    ask(INLET_HEADER, INLET, "roof_depth_mm", "80.0"),
    ask(INLET_HEADER, INLET, "floor_depth_mm", "97.0"),
    ask(INLET_HEADER, INLET, "roof_radius_mm", "4.0"),
    ask(INLET_HEADER, INLET, "floor_radius_mm", "4.0"),
];

const STAGE: &str = "intake.reed.stage[0]";
const STAGE_HEADER: &str = "[[intake.reed.stage]]";
const REED: &[Entry] = &[
    set(STAGE_HEADER, STAGE, "name", "\"main\"", From::Fixed),
    ask(STAGE_HEADER, STAGE, "petals", "6"),
    ask(STAGE_HEADER, STAGE, "material", "\"glass\""),
    ask(STAGE_HEADER, STAGE, "length_mm", "34.0"),
    ask(STAGE_HEADER, STAGE, "width_mm", "20.0"),
    ask(STAGE_HEADER, STAGE, "thickness_mm", "0.45"),
    ask(STAGE_HEADER, STAGE, "window_length_mm", "24.0"),
    ask(STAGE_HEADER, STAGE, "window_width_mm", "16.0"),
    ask(STAGE_HEADER, STAGE, "stop_mm", "8.0"),
];

const LAST: &[Entry] = &[
    ask("[carburettor]", "carburettor", "bore_mm", "22.0"),
    set("[run]", "run", "rpm", "\"3000:9000:1000\"", From::Fixed),
];

impl Entry {
    fn path(&self) -> String {
        if self.table.is_empty() {
            self.key.to_owned()
        } else {
            format!("{}.{}", self.table, self.key)
        }
    }

    fn known(&self) -> Option<&'static Key> {
        section_at(&scenario::general(self.table)).and_then(|s| s.key(self.key))
    }
}

/// The file in the making.
struct Sheet {
    entries: Vec<&'static Entry>,
    /// Key and TOML value as answered, by entry.
    answers: Vec<Option<(String, String)>>,
}

impl Sheet {
    fn new(intake: Intake) -> Self {
        let inlet = match intake {
            Intake::CrankWeb => CRANK_WEB,
            Intake::DiscValve => DISC_VALVE,
            Intake::PistonPort => PISTON_PORT,
            Intake::Reed => REED,
        };
        let entries: Vec<_> = COMMON
            .iter()
            // the crank web or disc covers an inlet, so the boost port has its own wall: every
            // kind may have one; a skirt-controlled inlet usually stands where it would
            .filter(|e| intake != Intake::PistonPort || !e.table.starts_with("transfer[1]"))
            .chain(inlet)
            .chain(LAST)
            .collect();
        let answers = vec![None; entries.len()];
        Self { entries, answers }
    }

    /// Key and value of an entry as they stand now.
    fn value(&self, index: usize) -> (String, String) {
        let entry = self.entries[index];
        if let Some(answer) = &self.answers[index] {
            return answer.clone();
        }
        let of = |table: &str| {
            let same = |e: &&Entry| e.table == table && e.key == entry.key;
            self.entries.iter().position(same).map(|i| self.value(i))
        };
        let own = || (entry.key.to_owned(), entry.start.to_owned());
        match entry.from {
            From::Asked | From::Fixed => own(),
            From::Same(table) => of(table).unwrap_or_else(own),
            From::Mirrored(table) => of(table).map_or_else(own, |(key, value)| {
                let other = value.strip_prefix('-').map_or(format!("-{value}"), str::to_owned);
                (key, other)
            }),
        }
    }

    /// The file; with everything that was not asked for as comments where `commented`.
    fn text(&self, commented: bool) -> String {
        let mut out = String::new();
        if commented {
            out.push_str(HEAD);
        }
        let mut last = "";
        for (i, entry) in self.entries.iter().enumerate() {
            if i == 0 || entry.table != self.entries[i - 1].table {
                if commented && i > 0 {
                    self.unasked(last, &mut out);
                }
                if !entry.header.is_empty() {
                    let _ = write!(out, "\n{}\n", entry.header);
                }
                last = entry.table;
            }
            let (key, value) = self.value(i);
            let _ = write!(out, "{key} = {value}");
            if commented {
                self.remark(i, &key, &mut out);
            }
            out.push('\n');
        }
        if commented {
            self.unasked(last, &mut out);
            self.other_tables(&mut out);
        }
        out
    }

    /// What an entry is, how it is measured, and whether it was.
    fn remark(&self, index: usize, key: &str, out: &mut String) {
        let entry = self.entries[index];
        let section = section_at(&scenario::general(entry.table));
        let Some(known) = section.and_then(|s| s.key(key)) else { return };
        let measured = self.answers[index].is_some() || entry.from != From::Asked;
        let missing = if measured { String::new() } else { format!("{UNMEASURED}. ") };
        let _ = write!(out, "  # {missing}{} {}", known.meaning, known.measuring());
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
        };
        // the second of two alike need not say it all again
        if table == LEFT || table == BOOST {
            return;
        }
        comments(section, &given, out);
    }

    /// Tables the file has nothing of, as comments.
    fn other_tables(&self, out: &mut String) {
        out.push_str("\n# What else an engine file may say. Take the # away where it applies.\n");
        for section in SECTIONS {
            let has = |e: &Entry| scenario::general(e.table) == section.path;
            let skip = section.path.is_empty()
                || section.path.contains("measured")
                || section.path.contains("discharge")
                || section.path.starts_with("intake")
                || section.presence == Presence::Required;
            if skip || self.entries.iter().any(|e| has(e)) {
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

/// Runs the command.
pub(crate) fn run(args: &NewArgs) -> Result<Outcome, Failure> {
    let to_output = args.file.as_os_str() == "-";
    if !to_output && args.file.exists() && !args.force {
        return Err(Failure::Argument {
            flag: "new",
            value: args.file.display().to_string(),
            remedy: "is already there; choose another name, or --force to write over it".to_owned(),
        });
    }
    let asks = !args.template && (args.ask || std::io::stdin().is_terminal());
    let mut input = std::io::stdin().lock();
    let intake = match args.intake {
        Some(intake) => intake,
        None if asks => ask_intake(&mut input),
        None => Intake::CrankWeb,
    };
    let mut sheet = Sheet::new(intake);
    if asks {
        interview(&mut sheet, &mut input);
    }
    let text = sheet.text(true);
    if to_output {
        return files::print(&text).map(|()| Outcome::Done);
    }
    files::write(&args.file, text.as_bytes())?;
    let missing = sheet.answers.iter().zip(&sheet.entries);
    let missing = missing.filter(|(a, e)| a.is_none() && e.from == From::Asked).count();
    let file = args.file.display();
    say(&format!(
        "Wrote {file}. {missing} values are not measured yet and marked so.\n\
         Next: freshcharge check {file}, then freshcharge run {file}\n"
    ));
    Ok(Outcome::Done)
}

fn say(words: &str) {
    let mut stream = anstream::stderr();
    // nobody is left to tell when standard error is closed
    let _ = stream.write_all(words.as_bytes()).and_then(|()| stream.flush());
}

/// The next line typed; none at the end of input.
fn line(input: &mut impl BufRead) -> Option<String> {
    let mut text = String::new();
    match input.read_line(&mut text) {
        Ok(0) | Err(_) => None,
        Ok(_) => Some(text.trim().to_owned()),
    }
}

fn ask_intake(input: &mut impl BufRead) -> Intake {
    loop {
        say("How is the inlet opened? 1 crank web, 2 disc valve, 3 piston port, 4 reed [1]> ");
        match line(input).as_deref() {
            None | Some("" | "1") => return Intake::CrankWeb,
            Some("2") => return Intake::DiscValve,
            Some("3") => return Intake::PistonPort,
            Some("4") => return Intake::Reed,
            Some(_) => say("Type 1, 2, 3 or 4.\n"),
        }
    }
}

/// Asks for every entry; what has been answered stays when the input ends.
fn interview(sheet: &mut Sheet, input: &mut impl BufRead) {
    say("Enter keeps the value shown and marks it as not measured; < goes back one question;\n\
         end of input (Ctrl-D) writes the file with what is there.\n");
    let mut at = 0;
    while at < sheet.entries.len() {
        let entry = sheet.entries[at];
        let Some(key) = entry.known().filter(|_| entry.from == From::Asked) else {
            at += 1;
            continue;
        };
        say(&question(entry, key, &sheet.value(at).1));
        match line(input).as_deref() {
            None => break,
            Some("") => at += 1,
            Some("<") => {
                let before = sheet.entries[..at].iter().rposition(|e| e.from == From::Asked);
                at = before.unwrap_or(at);
            }
            Some(answer) => {
                let old = sheet.answers[at].replace(typed(entry.key, answer));
                match objection(sheet, at) {
                    None => at += 1,
                    Some(fault) => {
                        say(&format!("  {}: {}\n", fault.found, fault.remedy));
                        sheet.answers[at] = old;
                    }
                }
            }
        }
    }
}

fn question(entry: &Entry, key: &Key, value: &str) -> String {
    let how = key.measuring();
    let how = if how.is_empty() { String::new() } else { format!("  {how}\n") };
    let place = if entry.table.is_empty() { "engine" } else { entry.table };
    let angle = if entry.key == "roof_depth_mm" && !entry.table.starts_with("intake") {
        "  Or the opening angle after top dead centre, as 98.5 deg.\n"
    } else {
        ""
    };
    format!("\n{}\n{how}{angle}{place}: {} [{value}]> ", key.meaning, key.name)
}

/// Key and TOML value of what was typed.
fn typed(key: &str, answer: &str) -> (String, String) {
    let bare = answer.trim_end_matches("deg").trim_end_matches('°').trim();
    if key == "roof_depth_mm" && bare.len() < answer.len() && bare.parse::<f64>().is_ok() {
        return ("opens_deg_atdc".to_owned(), bare.to_owned());
    }
    let quoted = answer.starts_with('"') || answer.starts_with('[') || answer.starts_with('{');
    let number = answer.parse::<f64>().is_ok();
    let list = key.ends_with("s_mm") && !answer.starts_with('[');
    let value = if list {
        format!("[{answer}]")
    } else if quoted || number || answer == "true" || answer == "false" {
        // TOML wants a digit before the point
        answer.strip_prefix('.').map_or_else(|| answer.to_owned(), |rest| format!("0.{rest}"))
    } else {
        toml_text(answer)
    };
    (key.to_owned(), value)
}

fn toml_text(words: &str) -> String {
    serde_json::to_string(words).unwrap_or_default()
}

/// What the reader has against the entry just answered.
fn objection(sheet: &Sheet, index: usize) -> Option<Fault> {
    let entry = sheet.entries[index];
    let (key, _) = sheet.value(index);
    let path = if entry.table.is_empty() { key } else { format!("{}.{key}", entry.table) };
    let faults = scenario::read(&sheet.text(false)).err()?;
    let here = |f: &Fault| f.key == path || f.key == entry.path();
    // a list's fault names its place in it
    let inside = |f: &Fault| f.key.starts_with(&format!("{path}["));
    // what cannot be read at all is this answer's fault: everything before it could be
    faults.into_iter().find(|f| here(f) || inside(f) || f.key.is_empty())
}
