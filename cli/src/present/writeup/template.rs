//! Templates: which sections a write-up has, in which order, under which headings, with which words.

use std::collections::BTreeMap;
use std::ops::Range;
use std::path::Path;

use serde::Deserialize;
use toml::Spanned;

use super::{Block, Section};
use crate::files::{self, Failure};

/// The template that comes with the program.
pub(crate) const SHIPPED: &str = include_str!("../../../data/report.toml");

/// Sections that a template may move but not leave out: whoever cuts metal must read them.
const NEVER_LEFT_OUT: &[&str] = &["cautions", "model"];

/// A template as written.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    title: Spanned<String>,
    #[serde(default)]
    style: Option<Spanned<String>>,
    #[serde(default)]
    section: Vec<Part>,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct Part {
    #[serde(default)]
    show: Option<Spanned<String>>,
    #[serde(default)]
    heading: Option<Spanned<String>>,
    #[serde(default)]
    text: Option<Spanned<String>>,
}

/// A template with its text, for messages.
pub(crate) struct Template {
    text: String,
    name: String,
    file: File,
}

/// What a template makes of sections.
pub(crate) struct Written<'a> {
    /// Title of the whole.
    pub(crate) title: String,
    /// Style of the page.
    pub(crate) style: String,
    /// The sections.
    pub(crate) told: Vec<Told<'a>>,
}

/// A section with what the template says of it.
pub(crate) struct Told<'a> {
    /// By which it is known; empty for words alone.
    pub(crate) key: &'static str,
    /// Its heading; may be empty.
    pub(crate) heading: String,
    /// Paragraphs before the blocks.
    pub(crate) texts: Vec<String>,
    /// What it holds.
    pub(crate) blocks: &'a [Block],
}

/// Names that texts may hold in braces, with what is written for them.
pub(crate) type Names = BTreeMap<String, String>;

impl Template {
    /// The shipped template, or the one of a file.
    pub(crate) fn load(path: Option<&Path>) -> Result<Self, Failure> {
        let (text, name) = match path {
            Some(path) => (files::read_text(path)?, path.display().to_string()),
            None => (SHIPPED.to_owned(), "the shipped template".to_owned()),
        };
        let file: File = toml::from_str(&text).map_err(|error| {
            let line = error.span().map_or(1, |s| line_at(&text, s.start));
            Failure::Faults(format!(
                "{name}:{line}: {}\nA template has title, style, and [[section]] tables with show, heading and text; freshcharge report --write-template FILE writes one to begin with. Nothing was written.\n",
                crate::faults::syntax_remedy(&text, &error)
            ))
        })?;
        Ok(Self { text, name, file })
    }

    /// Refuses what no write-up can follow, before anything is computed: sections and names that there are
    /// none of, a style that would end or ask for something.
    pub(crate) fn check(&self, sections: &[&str], names: &[&str]) -> Result<(), Failure> {
        let mut faults = Vec::new();
        for part in &self.file.section {
            if let Some(show) =
                part.show.as_ref().filter(|s| !sections.contains(&s.as_ref().as_str()))
            {
                let there = format!("there are {}", sections.join(", "));
                let why = format!("no section {:?}; {there}", show.as_ref());
                faults.push(self.fault(show.span().start, &why));
            }
            for text in [&part.heading, &part.text].into_iter().flatten() {
                self.check_names(text, names, &mut faults);
            }
            if part.show.is_none() && part.text.is_none() {
                let at = part.heading.as_ref().map_or(0, |h| h.span().start);
                faults.push(self.fault(at, "a section with neither show nor text says nothing"));
            }
        }
        self.check_names(&self.file.title, names, &mut faults);
        if let Some(style) = &self.file.style {
            self.check_style(style, &mut faults);
        }
        if faults.is_empty() {
            return Ok(());
        }
        Err(Failure::Faults(format!("{}\nNothing was written.\n", faults.join("\n"))))
    }

    fn fault(&self, at: usize, why: &str) -> String {
        format!("{}:{}: {why}", self.name, line_at(&self.text, at))
    }

    fn check_names(&self, value: &Spanned<String>, names: &[&str], faults: &mut Vec<String>) {
        // lines are those of the text as it was typed
        let Range { start, end } = value.span();
        for (at, name) in braces(&self.text[start..end]) {
            if !names.contains(&name) {
                let near = names.iter().max_by(|a, b| {
                    strsim::jaro_winkler(name, a).total_cmp(&strsim::jaro_winkler(name, b))
                });
                let why = format!(
                    "there is no {{{name}}}; the nearest is {{{}}}. There are {}. A brace itself is written twice, {{{{",
                    near.unwrap_or(&""),
                    names.join(", ")
                );
                faults.push(self.fault(start + at, &why));
            }
        }
    }

    fn check_style(&self, style: &Spanned<String>, faults: &mut Vec<String>) {
        let Range { start, end } = style.span();
        let lower = self.text[start..end].to_ascii_lowercase();
        for (what, why) in [
            ("<", "a style has no <, which could end it"),
            ("@import", "a page asks for nothing, so that its style cannot import"),
            ("url(", "a page asks for nothing, so that its style has no url()"),
        ] {
            if let Some(at) = lower.find(what) {
                faults.push(self.fault(start + at, why));
            }
        }
    }

    /// Sections in the template's order with its words.
    pub(crate) fn tell<'a>(&self, sections: &'a [Section], names: &Names) -> Written<'a> {
        let fill = |text: &Spanned<String>| filled(text.as_ref(), names);
        let shipped = |key: &str| -> (String, Vec<String>) {
            let file: Option<File> = toml::from_str(SHIPPED).ok();
            let parts = file.into_iter().flat_map(|f| f.section);
            let mut own = parts.filter(|p| p.show.as_ref().is_some_and(|s| s.as_ref() == key));
            let part = own.next();
            let heading = part.as_ref().and_then(|p| p.heading.as_ref()).map(fill);
            let text = part.as_ref().and_then(|p| p.text.as_ref()).map(fill);
            (heading.unwrap_or_default(), paragraphs(&text.unwrap_or_default()))
        };
        let find = |key: &str| sections.iter().find(|s| s.key == key && !s.blocks.is_empty());
        let mut told: Vec<Told<'a>> = Vec::new();
        for part in &self.file.section {
            let section = part.show.as_ref().map(|s| find(s.as_ref()));
            // sections whose data are not there leave no trace
            if section.is_some_and(|s| s.is_none()) {
                continue;
            }
            let section = section.flatten();
            let (heading, texts) = section.map(|s| shipped(s.key)).unwrap_or_default();
            told.push(Told {
                key: section.map_or("", |s| s.key),
                heading: part.heading.as_ref().map_or(heading, fill),
                texts: part.text.as_ref().map_or(texts, |t| paragraphs(&fill(t))),
                blocks: section.map_or(&[], |s| &s.blocks),
            });
        }
        for key in NEVER_LEFT_OUT {
            if let Some(section) = find(key).filter(|s| !told.iter().any(|t| t.key == s.key)) {
                let (heading, texts) = shipped(key);
                told.push(Told { key: section.key, heading, texts, blocks: &section.blocks });
            }
        }
        let style = self.file.style.as_ref().map(|s| s.as_ref().clone());
        let style = style.or_else(|| {
            let file: File = toml::from_str(SHIPPED).ok()?;
            file.style.map(Spanned::into_inner)
        });
        Written { title: fill(&self.file.title), style: style.unwrap_or_default(), told }
    }
}

fn line_at(text: &str, at: usize) -> usize {
    1 + text.get(..at).unwrap_or(text).matches('\n').count()
}

/// Names in single braces with their places.
fn braces(text: &str) -> Vec<(usize, &str)> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(open) = text[at..].find('{').map(|i| at + i) {
        if text[open + 1..].starts_with('{') {
            at = open + 2;
            continue;
        }
        let Some(close) = text[open..].find('}').map(|i| open + i) else {
            found.push((open, text[open + 1..].lines().next().unwrap_or_default()));
            break;
        };
        found.push((open, &text[open + 1..close]));
        at = close + 1;
    }
    found
}

/// A text with what stands for its names, and double braces single.
fn filled(text: &str, names: &Names) -> String {
    let mut out = String::new();
    let mut rest = 0;
    for (at, name) in braces(text) {
        out.push_str(&single(&text[rest..at]));
        // a name without data in this build, such as those of a first build where there is one alone
        out.push_str(names.get(name).map_or("–", String::as_str));
        rest = (at + name.len() + 2).min(text.len());
    }
    out.push_str(&single(&text[rest..]));
    out
}

fn single(text: &str) -> String {
    text.replace("{{", "{").replace("}}", "}")
}

fn paragraphs(text: &str) -> Vec<String> {
    let parts = text.split("\n\n").map(|p| p.split_whitespace().collect::<Vec<_>>().join(" "));
    parts.filter(|p| !p.is_empty()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_in_braces_are_filled_and_double_braces_are_single() {
        let names = Names::from([("a".to_owned(), "<{b}>".to_owned())]);
        assert_eq!(filled("x {a} y {{a}} {a}", &names), "x <{b}> y {a} <{b}>");
        assert_eq!(braces("{{ {one} {two"), [(3, "one"), (9, "two")]);
    }

    #[test]
    fn what_cannot_be_followed_is_told_with_its_line() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("own.toml");
        for (text, words) in [
            ("title = \"x\"\nstyle = \"a{}</style>\"\n", ":2: a style has no <"),
            (
                "title = \"x\"\nstyle = \"\"\"\n\n@import 'x';\"\"\"\n",
                ":4: a page asks for nothing",
            ),
            (
                "title = \"x\"\n[[section]]\nshow = \"engin\"\n",
                ":3: no section \"engin\"; there are engine",
            ),
            (
                "title = \"x\"\n[[section]]\ntext = \"\"\"\none\ntwo {powr}\n\"\"\"\n",
                ":5: there is no {powr}; the nearest is {power}. There are power",
            ),
            ("title = \"x\"\n[[section]]\nheading = \"h\"\n", ":3: a section with neither"),
            ("title = \"x\"\nstlye = \"\"\n", ":2: unknown field `stlye`"),
        ] {
            std::fs::write(&path, text).unwrap();
            let template = Template::load(Some(&path));
            let said = template.and_then(|t| t.check(&["engine"], &["power"])).unwrap_err();
            assert!(said.to_string().contains(words), "{said}");
        }
    }

    #[test]
    fn a_template_orders_renames_and_cannot_drop_the_cautions() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("own.toml");
        let own = "title = \"Mine: {a}\"\n[[section]]\nshow = \"model\"\nheading = \"Faith\"\n[[section]]\nheading = \"Thanks\"\ntext = \"To all.\\n\\nTo {a}.\"\n";
        std::fs::write(&path, own).unwrap();
        let template = Template::load(Some(&path)).unwrap();
        let section = |key| Section { key, blocks: vec![Block::Words(key.to_owned())] };
        let sections = [section("engine"), section("cautions"), section("model")];
        let names = Names::from([("a".to_owned(), "A".to_owned())]);
        let written = template.tell(&sections, &names);
        assert_eq!(written.title, "Mine: A");
        let heads: Vec<&str> = written.told.iter().map(|t| t.heading.as_str()).collect();
        assert_eq!(heads, ["Faith", "Thanks", "Cautions"]);
        assert_eq!(written.told[1].texts, ["To all.", "To A."]);
    }
}
