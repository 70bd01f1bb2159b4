//! A write-up as sections of blocks, to be told as a page or in Markdown.

pub(crate) mod html;
pub(crate) mod markdown;
pub(crate) mod template;

/// A part of a write-up under its own heading.
pub(crate) struct Section {
    /// By which a template knows it.
    pub(crate) key: &'static str,
    /// What it holds.
    pub(crate) blocks: Vec<Block>,
}

/// A piece of a section. Every text in it is only text.
pub(crate) enum Block {
    /// A paragraph.
    Words(String),
    /// A paragraph beside the point.
    Note(String),
    /// A heading below the section's own.
    Heading(String),
    /// Something to type.
    Command(String),
    /// Points one after another.
    List(Vec<String>),
    /// A table.
    Table(Table),
    /// A picture.
    Picture(Picture),
    /// What answers on a screen: markup of ours, with nothing of it in print or in Markdown.
    Live(String),
}

/// A table with a head.
pub(crate) struct Table {
    /// Heads of the columns.
    pub(crate) head: Vec<String>,
    /// Rows.
    pub(crate) rows: Vec<Row>,
    /// Whether its cells are words rather than numbers.
    pub(crate) wordy: bool,
    /// The column that matters most.
    pub(crate) loud: Option<usize>,
}

/// A row of a table.
pub(crate) struct Row {
    /// Cells, one a column.
    pub(crate) cells: Vec<String>,
    /// Whether it must be seen.
    pub(crate) strong: bool,
}

/// A picture with its name.
pub(crate) struct Picture {
    /// File name without ending.
    pub(crate) name: String,
    /// What it shows.
    pub(crate) words: String,
    /// The picture.
    pub(crate) svg: String,
    /// Whether a page shows it.
    pub(crate) on_page: bool,
    /// Whether a post shows it.
    pub(crate) in_post: bool,
}

impl Table {
    /// A table of numbers.
    pub(crate) fn new<H: Into<String>>(head: impl IntoIterator<Item = H>) -> Self {
        let head = head.into_iter().map(Into::into).collect();
        Self { head, rows: Vec::new(), wordy: false, loud: None }
    }

    /// A table of words, from rows that are there.
    pub(crate) fn wordy(head: &[&str], rows: Vec<Vec<String>>) -> Self {
        let rows = rows.into_iter().map(|cells| Row { cells, strong: false }).collect();
        Self { head: head.iter().map(|h| (*h).to_owned()).collect(), rows, wordy: true, loud: None }
    }

    /// Adds a row.
    pub(crate) fn row(&mut self, cells: Vec<String>, strong: bool) {
        self.rows.push(Row { cells, strong });
    }
}

impl Picture {
    /// A picture for page and post, named after its file.
    pub(crate) fn new(name: &str, words: String, svg: String) -> Self {
        Self { name: name.to_owned(), words, svg, on_page: true, in_post: true }
    }
}
