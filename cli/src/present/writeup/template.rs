//! Templates: which sections a write-up has, in which order, under which headings, with which words.

use std::collections::BTreeMap;
use std::path::Path;

use freshcharge_sim::forms::Faults;
use freshcharge_sim::forms::template::{TemplateFile, braces};

use super::{Block, Section};
use crate::files::{self, Failure};

/// The template that comes with the program.
pub(crate) const SHIPPED: &str = include_str!("../../../data/report.toml");

/// Sections that a template may move but not leave out: whoever cuts metal must read them.
const NEVER_LEFT_OUT: &[&str] = &["cautions", "model"];

/// A template with its text, for messages.
pub(crate) struct Template {
    text: String,
    name: String,
    file: TemplateFile,
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
        match TemplateFile::read(&text) {
            Ok(file) => Ok(Self { text, name, file }),
            Err(faults) => Err(refused(&name, &text, &faults)),
        }
    }

    /// Refuses what no write-up can follow, before anything is computed.
    pub(crate) fn check(&self, sections: &[&str], names: &[&str]) -> Result<(), Failure> {
        let checked = self.file.check(sections, names);
        checked.map_err(|faults| refused(&self.name, &self.text, &faults))
    }

    /// Sections in the template's order with its words.
    pub(crate) fn tell<'a>(&self, sections: &'a [Section], names: &Names) -> Written<'a> {
        let fill = |text: &String| filled(text, names);
        let ours = TemplateFile::read(SHIPPED).ok();
        let shipped = |key: &str| -> (String, Vec<String>) {
            let parts = ours.iter().flat_map(|f| &f.parts);
            let mut own = parts.filter(|p| p.show.as_deref() == Some(key));
            let part = own.next();
            let heading = part.and_then(|p| p.heading.as_ref()).map(fill);
            let text = part.and_then(|p| p.text.as_ref()).map(fill);
            (heading.unwrap_or_default(), paragraphs(&text.unwrap_or_default()))
        };
        let find = |key: &str| sections.iter().find(|s| s.key == key && !s.blocks.is_empty());
        let mut told: Vec<Told<'a>> = Vec::new();
        for part in &self.file.parts {
            let section = part.show.as_ref().map(|s| find(s));
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
        let style = self.file.style.clone();
        let style = style.or_else(|| ours.as_ref().and_then(|f| f.style.clone()));
        Written { title: fill(&self.file.title), style: style.unwrap_or_default(), told }
    }
}

fn refused(name: &str, text: &str, faults: &Faults) -> Failure {
    Failure::Faults(format!(
        "{}freshcharge report --write-template FILE writes a template to begin with.\n",
        crate::faults::report(Path::new(name), text, faults)
    ))
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
