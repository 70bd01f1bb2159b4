//! What each check rests on.

/// What a reference rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// A named publication.
    Published,
    /// A library written by others.
    Library,
    /// A closed form, an elementary integral, a drawing: worked outside the engine.
    Exact,
    /// Common practice, no source.
    Practice,
    /// Another program or another way of our own, frozen numbers, invariants.
    Own,
}

impl Kind {
    /// All, in the order of the page.
    pub const ALL: [Self; 5] =
        [Self::Published, Self::Library, Self::Exact, Self::Practice, Self::Own];

    /// Its word in the table of sources.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Published => "published",
            Self::Library => "library",
            Self::Exact => "exact",
            Self::Practice => "practice",
            Self::Own => "own",
        }
    }

    /// Its heading.
    #[must_use]
    pub fn heading(self) -> &'static str {
        match self {
            Self::Published => "Against named publications",
            Self::Library => "Against libraries written by others",
            Self::Exact => "Against closed forms worked outside the engine",
            Self::Practice => "Against common practice, no source",
            Self::Own => "Against ourselves: a second model of our own, frozen results, invariants",
        }
    }
}

/// What one check rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Basis {
    /// What sort of thing.
    pub kind: Kind,
    /// Which, with edition, table and page where known.
    pub source: String,
}

/// The table of sources.
#[derive(Debug, Clone)]
pub struct Sources(Vec<(String, String, Basis)>);

impl Sources {
    /// The table of this crate.
    ///
    /// # Panics
    /// When the table has a row that is none.
    #[must_use]
    pub fn all() -> Self {
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .from_reader(include_str!("../../sources.csv").as_bytes());
        let row = |row: Result<csv::StringRecord, csv::Error>| {
            let row = row.unwrap_or_else(|error| panic!("sources.csv: {error}"));
            let kind = Kind::ALL.into_iter().find(|k| k.word() == &row[2]);
            let kind = kind.unwrap_or_else(|| panic!("sources.csv: {} is no kind", &row[2]));
            let source = row[3].to_owned();
            (row[0].to_owned(), row[1].to_owned(), Basis { kind, source })
        };
        Self(reader.records().map(row).collect())
    }

    /// What a check rests on: the row of its own words, else that of its test.
    #[must_use]
    pub fn of(&self, test: &str, what: &str) -> Option<&Basis> {
        let mut rows = self.0.iter().filter(|r| r.0 == test);
        let exact = rows.clone().find(|r| r.1 == what);
        exact.or_else(|| rows.find(|r| r.1.is_empty())).map(|r| &r.2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_names_a_test_that_is_there_and_says_enough() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
        let mut text = String::new();
        for file in std::fs::read_dir(folder).unwrap() {
            text.push_str(&std::fs::read_to_string(file.unwrap().path()).unwrap());
        }
        for (test, _, basis) in Sources::all().0 {
            assert!(text.contains(&format!("fn {test}()")), "{test}");
            assert!(basis.source.len() >= 10, "{test}");
        }
    }
}
