//! Every comparison of a test run, written down where an environment variable says so: what the page of checks
//! is made of.

use std::io::Write;
use std::sync::Mutex;

/// Names the file to which comparisons are appended.
pub const VARIABLE: &str = "FRESHCHARGE_CHECKS";

/// One comparison or one table read.
#[derive(Debug, Clone, PartialEq)]
pub enum Entry {
    /// A value held against its reference.
    Check {
        /// Test that did it.
        test: String,
        /// File it stands in.
        file: String,
        /// What was compared.
        what: String,
        /// Our value.
        value: f64,
        /// The reference.
        reference: f64,
        /// How far apart they may be.
        allowed: f64,
        /// Why that far.
        reason: String,
    },
    /// A table of published or independently computed numbers.
    Table {
        /// Test that read it.
        test: String,
        /// Its name.
        name: String,
        /// Where its numbers come from.
        source: String,
    },
}

/// What separates the parts of a line.
const PART: char = '\u{1f}';

fn plain(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

fn test_name() -> String {
    std::thread::current().name().unwrap_or("unnamed").to_owned()
}

impl Entry {
    /// A comparison by the test that is running.
    #[must_use]
    pub fn check(
        file: &str,
        what: &str,
        (value, reference): (f64, f64),
        allowed: f64,
        reason: &str,
    ) -> Self {
        let (file, what, reason) = (file.to_owned(), what.to_owned(), reason.to_owned());
        Self::Check { test: test_name(), file, what, value, reference, allowed, reason }
    }

    /// A table read by the test that is running.
    #[must_use]
    pub fn table(name: &str, source: &str) -> Self {
        Self::Table { test: test_name(), name: name.to_owned(), source: source.to_owned() }
    }

    /// As a line.
    #[must_use]
    pub fn line(&self) -> String {
        let parts = match self {
            Self::Check { test, file, what, value, reference, allowed, reason } => vec![
                "check".to_owned(),
                plain(test),
                plain(file),
                plain(what),
                format!("{value:e}"),
                format!("{reference:e}"),
                format!("{allowed:e}"),
                plain(reason),
            ],
            Self::Table { test, name, source } => {
                vec!["table".to_owned(), plain(test), plain(name), plain(source)]
            }
        };
        parts.join(&PART.to_string())
    }

    /// From a line.
    #[must_use]
    pub fn parse(line: &str) -> Option<Self> {
        let parts: Vec<&str> = line.split(PART).collect();
        match parts[..] {
            ["check", test, file, what, value, reference, allowed, reason] => Some(Self::Check {
                test: test.to_owned(),
                file: file.to_owned(),
                what: what.to_owned(),
                value: value.parse().ok()?,
                reference: reference.parse().ok()?,
                allowed: allowed.parse().ok()?,
                reason: reason.to_owned(),
            }),
            ["table", test, name, source] => Some(Self::Table {
                test: test.to_owned(),
                name: name.to_owned(),
                source: source.to_owned(),
            }),
            _ => None,
        }
    }

    /// Appends it, where [`VARIABLE`] names a file.
    pub(crate) fn write(&self) {
        static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());
        let Ok(path) = std::env::var(VARIABLE) else { return };
        let _held = ONE_AT_A_TIME.lock();
        let file = std::fs::OpenOptions::new().create(true).append(true).open(path);
        if let Ok(mut file) = file {
            // a comparison that is not written down still counts in its test
            let _ = file.write_all((self.line() + "\n").as_bytes());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_read_back() {
        let check = Entry::check("a.rs", "flow\nfunction", (1.0, 1.5), 1e-3, "printed digits");
        let table = Entry::table("t.csv", "A handbook, table 3");
        for entry in [check, table] {
            let back = Entry::parse(&entry.line()).unwrap();
            assert_eq!(back.line(), entry.line());
        }
        assert_eq!(Entry::parse("check"), None);
    }
}
