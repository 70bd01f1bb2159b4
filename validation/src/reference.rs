//! Reference tables: comma-separated values under a header that names their source.

/// A table of published or independently computed numbers.
#[derive(Debug, Clone)]
pub struct Reference {
    /// The header's words.
    pub source: String,
    heads: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// Why a table cannot be used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReferenceError {
    /// No `#` lines at the top.
    #[error("{name}: the table does not say where its numbers come from")]
    NoSource {
        /// Which table.
        name: String,
    },
    /// Not readable as a table.
    #[error("{name}: {source}")]
    Format {
        /// Which table.
        name: String,
        /// Why.
        source: csv::Error,
    },
}

impl Reference {
    /// From the text of a table.
    ///
    /// # Errors
    /// When it names no source or is no table.
    pub fn parse(name: &str, text: &str) -> Result<Self, ReferenceError> {
        let source: Vec<&str> =
            text.lines().take_while(|l| l.starts_with('#')).map(|l| l[1..].trim()).collect();
        if source.join(" ").len() < 20 {
            return Err(ReferenceError::NoSource { name: name.to_owned() });
        }
        let fail = |source| ReferenceError::Format { name: name.to_owned(), source };
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .flexible(true)
            .from_reader(text.as_bytes());
        let heads = reader.headers().map_err(fail)?.iter().map(str::to_owned).collect();
        let rows: Result<Vec<Vec<String>>, _> =
            reader.records().map(|r| r.map(|r| r.iter().map(str::to_owned).collect())).collect();
        let source = source.join(" ");
        crate::record::Entry::table(name, &source).write();
        Ok(Self { source, heads, rows: rows.map_err(fail)? })
    }

    /// Number of rows.
    #[must_use]
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// True without rows.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Words of a cell.
    ///
    /// # Panics
    /// When there is no such column or row: a check must not pass by finding nothing.
    #[must_use]
    pub fn text(&self, row: usize, head: &str) -> &str {
        let column = self.heads.iter().position(|h| h == head);
        let column = column.unwrap_or_else(|| panic!("no column {head} among {:?}", self.heads));
        &self.rows[row][column]
    }

    /// Number in a cell; NaN where it is empty.
    ///
    /// # Panics
    /// When there is no such column or row.
    #[must_use]
    pub fn number(&self, row: usize, head: &str) -> f64 {
        self.text(row, head).trim().parse().unwrap_or(f64::NAN)
    }
}

/// Loads a table of this crate's data folder.
#[macro_export]
macro_rules! reference {
    ($name:literal) => {
        $crate::Reference::parse($name, include_str!(concat!("../data/", $name)))
            .expect("reference tables of this crate are readable")
    };
}
