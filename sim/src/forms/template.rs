//! Templates of write-ups: title, style, which sections in which order, under which headings, with which
//! words.

use super::document::{Document, Entry};
use super::fault::{FaultKind, Faults, quoted};
use super::keys::{Form, Key, Section, text};
use super::nearest::or_nearest;
use super::place::Place;

const TOP: &[Key] = &[
    text("title", "title of the whole").required(),
    text("style", "style of the page").or_else("the shipped one"),
];
const PART: &[Key] = &[
    text("show", "the section to show here"),
    text("heading", "its heading").or_else("the shipped one"),
    text("text", "paragraphs before what it holds").or_else("the shipped ones"),
];

/// Every table of a template.
pub const FORM: &Form = &Form {
    name: "template",
    tolerances: false,
    sections: &[
        Section::of("", "The write-up.", TOP).required(),
        Section::of("section[]", "A section, or words of your own.", PART).optional(),
    ],
};

/// A section that a template shows, or words alone.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Which section; none for words alone.
    pub show: Option<String>,
    /// Its heading; the shipped one when left out.
    pub heading: Option<String>,
    /// Its words; the shipped ones when left out.
    pub text: Option<String>,
}

/// A template as written, with the faults of its form.
#[derive(Debug, Clone, PartialEq)]
pub struct TemplateFile {
    /// Title of the whole.
    pub title: String,
    /// Style of the page; the shipped one when left out.
    pub style: Option<String>,
    /// Its sections in order.
    pub parts: Vec<Part>,
    document: Document,
    faults: Faults,
}

/// What a style may not hold, in lower case, with the reason. Cautions must be seen by whoever cuts metal, so
/// that nothing may be laid over them, moved away or overruled.
const REFUSED: &[(&str, &str)] = &[
    ("<", "a style has no <, which could end it"),
    ("\\", "a style has no \\, which could spell what is refused"),
    ("@import", "a page asks for nothing, so that its style cannot import"),
    ("url(", "a page asks for nothing, so that its style has no url()"),
    ("!", "a style has no !important, which could overrule that cautions are shown"),
    ("@layer", "a style has no @layer, which could overrule that cautions are shown"),
];
/// Words that no style holds, for the same reason.
const REFUSED_WORDS: &[&str] = &[
    "position",
    "z-index",
    "transform",
    "translate",
    "scale",
    "rotate",
    "inset",
    "clip",
    "clip-path",
    "mask",
    "filter",
    "backdrop-filter",
    "mix-blend-mode",
    "content-visibility",
    "grid-area",
    "offset",
    "animation",
    "zoom",
];
/// Elements that a style does not reach.
const REFUSED_ELEMENTS: &[&str] = &["#cautions", "#model"];

impl TemplateFile {
    /// Reads a template. Faults of form are kept, so that those of sense can be told with them.
    ///
    /// # Errors
    /// Every fault found where the text cannot be read.
    pub fn read(text: &str) -> Result<Self, Faults> {
        let (document, faults) = Document::read(text, FORM);
        if !document.readable() {
            return Err(faults.in_order());
        }
        let own = |place: &Place, key: &str| place.words(key).map(str::to_owned);
        let top = Place::at(&document, "");
        let (title, style) = (top.text("title"), own(&top, "style"));
        let part = |p: &Place| Part {
            show: own(p, "show"),
            heading: own(p, "heading"),
            text: own(p, "text"),
        };
        let parts = Place::all(&document, "section").iter().map(part).collect();
        Ok(Self { title, style, parts, document, faults })
    }

    /// Refuses what no write-up can follow: sections and names that there are none of, a style that would
    /// end, ask for something or hide the cautions.
    ///
    /// # Errors
    /// Every fault of form and sense, in order of line.
    pub fn check(&self, sections: &[&str], names: &[&str]) -> Result<(), Faults> {
        let mut check = Check { document: &self.document, faults: self.faults.clone() };
        check.names(&Place::at(&self.document, ""), "title", names);
        for part in Place::all(&self.document, "section") {
            if let Some(show) = part.words("show").filter(|s| !sections.contains(s)) {
                let remedy = or_nearest("no such section", show, sections.iter());
                check.fault(FaultKind::Unknown, &part.key("show"), &remedy);
            }
            for key in ["heading", "text"] {
                check.names(&part, key, names);
            }
            if !part.tries("show") && !part.tries("text") {
                let key = if part.gives("heading") { "heading" } else { "show" };
                let remedy = "a section with neither show nor text says nothing";
                check.fault(FaultKind::Missing, &part.key(key), remedy);
            }
        }
        if let (Some(entry), Some(style)) = (self.document.entry("style"), &self.style) {
            check.style(entry, style);
        }
        check.faults.none_or()
    }
}

struct Check<'a> {
    document: &'a Document,
    faults: Faults,
}

impl Check<'_> {
    fn fault(&mut self, kind: FaultKind, path: &str, remedy: &str) {
        let document = self.document;
        self.faults.add_with(|| document.fault(kind, path, remedy));
    }

    fn names(&mut self, place: &Place, key: &str, names: &[&str]) {
        let Some(entry) = place.entry(key) else { return };
        let document = self.document;
        // lines are those of the text as it was typed
        for (at, name) in braces(&document.text[entry.span.clone()]) {
            if !names.contains(&name) {
                let start = entry.span.start + at;
                let span = start..start + name.len() + 1;
                self.faults.add_with(|| {
                    let why = format!("there is no {{{}}}", quoted(name));
                    let remedy = or_nearest(&why, name, names.iter());
                    let remedy = format!("{remedy} A brace itself is written twice, {{{{");
                    document.fault_at(FaultKind::Unknown, span, &place.key(key), remedy)
                });
            }
        }
    }

    fn style(&mut self, entry: &Entry, style: &str) {
        let document = self.document;
        let typed = document.text[entry.span.clone()].to_ascii_lowercase();
        // what was typed as an escape is shown where the style begins
        let mut refuse = |what: &str, remedy: String| {
            let start = entry.span.start + typed.find(what).unwrap_or(0);
            let span = start..start + what.len();
            self.faults
                .add_with(|| document.fault_at(FaultKind::Implausible, span, "style", remedy));
        };
        let lower = style.to_ascii_lowercase();
        for (what, why) in REFUSED.iter().filter(|(what, _)| lower.contains(what)) {
            refuse(what, (*why).to_owned());
        }
        for element in REFUSED_ELEMENTS.iter().filter(|e| lower.contains(**e)) {
            refuse(
                element,
                format!("{element} is shown as it is: whoever cuts metal must read it"),
            );
        }
        let part = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
        let words: Vec<&str> = lower.split(|c| !part(c)).collect();
        for word in REFUSED_WORDS.iter().filter(|w| words.contains(*w)) {
            refuse(word, format!("a style has no {word}, which could hide cautions or cover them"));
        }
        let negative =
            |value: &str| value.contains('-') || value.contains("calc") || value.contains("var");
        for declaration in lower.split([';', '{', '}']) {
            if let Some((name, value)) = declaration.split_once(':')
                && name.trim().starts_with("margin")
                && negative(value)
            {
                let remedy =
                    "a margin is a plain length above zero, so that nothing is drawn over cautions";
                refuse(name.trim(), remedy.to_owned());
                break;
            }
        }
    }
}

/// Names in single braces with their places.
#[must_use]
pub fn braces(text: &str) -> Vec<(usize, &str)> {
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

#[cfg(test)]
mod tests {
    use super::*;

    fn said(text: &str) -> String {
        let file = TemplateFile::read(text);
        file.and_then(|f| f.check(&["engine", "cautions"], &["power"])).unwrap_err().to_string()
    }

    #[test]
    fn names_stand_in_single_braces() {
        assert_eq!(braces("{{ {one} {two"), [(3, "one"), (9, "two")]);
    }

    #[test]
    fn what_cannot_be_followed_is_told_with_its_line() {
        for (text, line, words) in [
            ("title = \"x\"\nstyle = \"a{}</style>\"\n", 2, "a style has no <"),
            ("title = \"x\"\nstyle = \"\"\"\n\n@import 'x';\"\"\"\n", 4, "a page asks for nothing"),
            ("title = \"x\"\n[[section]]\nshow = \"engin\"\n", 3, "did you mean engine?"),
            (
                "title = \"x\"\n[[section]]\ntext = \"\"\"\none\ntwo {powr}\n\"\"\"\n",
                5,
                "there is no {powr}; did you mean power?",
            ),
            ("title = \"x\"\n[[section]]\nheading = \"h\"\n", 3, "a section with neither"),
            ("title = \"x\"\nstlye = \"\"\n", 2, "did you mean style?"),
        ] {
            let said = said(text);
            assert!(said.starts_with(&format!("line {line},")) && said.contains(words), "{said}");
        }
    }

    #[test]
    fn no_style_hides_the_cautions() {
        for style in [
            "#cautions{display:none}",
            "section{display:none !important}",
            "#results{position:fixed;inset:0}",
            "h1{margin-top:-900px}",
            "body{transform:scale(0)}",
            "body{clip-path:circle(0)}",
            "@layer a{section{display:none}}",
            "body{f\\\\69lter:opacity(0)}",
            "\\u0023cautions{color:white}",
            "body{\\u0070osition:fixed}",
        ] {
            let said = said(&format!("title = \"x\"\nstyle = \"{style}\"\n"));
            assert!(said.starts_with("line 2, style"), "{style}: {said}");
        }
        let shipped = include_str!("../../../cli/data/report.toml");
        let shipped = TemplateFile::read(shipped).unwrap();
        let faults = shipped.check(&["engine"], &["engine", "use"]).unwrap_err();
        assert!(!faults.iter().any(|f| f.key == "style"), "{faults}");
    }
}
