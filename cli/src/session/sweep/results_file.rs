//! A results file read row by row.

use std::fs::File;
use std::io::{BufReader, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use serde_json::Value;

use super::store::Lines;
use crate::present::rows::text::{case_of, cells};
use crate::present::rows::{Header, Outcome, Row};
use crate::session::files::{self, Failure};

/// A line as it stands, with its case; none for the case where it is damaged.
type Line = (Vec<u8>, Option<u64>);

/// A results file open for reading.
pub(crate) struct ResultsFile {
    /// What stands above the rows.
    pub(crate) header: Header,
    outcome: usize,
    lines: Lines<BufReader<File>>,
    path: PathBuf,
    /// Rows that were damaged and left out.
    pub(crate) damaged: u64,
}

/// The results file that a folder or path means.
fn file_of(path: &Path) -> PathBuf {
    if path.is_dir() { path.join("results.csv") } else { path.to_owned() }
}

impl ResultsFile {
    /// Opens results: a file, or a folder with `results.csv`.
    pub(crate) fn open(path: &Path) -> Result<Self, Failure> {
        let path = file_of(path);
        if !path.exists() && path.with_file_name("").is_dir() {
            let shards = super::merge::shard_files(&path.with_file_name(""))?;
            if !shards.is_empty() {
                let why = "there are only shards here; join them with `freshcharge merge` first";
                return Err(Failure::Results { path, why: why.to_owned() });
            }
        }
        let fail = |source| Failure::Read { path: path.clone(), source };
        let file = File::open(&path).map_err(fail)?;
        let mut lines = Lines::new(BufReader::with_capacity(1 << 20, file));
        let mut text = String::new();
        let mut about = Value::Null;
        let mut shard = super::Shard::WHOLE;
        let columns: Vec<String> = loop {
            let line = lines.next().map_err(fail)?;
            let line = line.map(|l| String::from_utf8_lossy(l).into_owned());
            let known =
                |l: &String| text.is_empty() != l.starts_with("# freshcharge sweep results");
            let Some(line) = line.filter(|l| !known(l) && text.len() < 10_000_000) else {
                let why = "this is no results file of a sweep".to_owned();
                return Err(Failure::Results { path: path.clone(), why });
            };
            text.push_str(&line);
            text.push('\n');
            if let Some(json) = line.strip_prefix("# about = ") {
                about = serde_json::from_str(json).unwrap_or_default();
            } else if let Some(number) = line.strip_prefix("# shard = ") {
                shard = number.parse().unwrap_or(shard);
            } else if !line.starts_with('#') {
                break line.split(',').map(str::to_owned).collect();
            }
        };
        let outcome = columns.iter().position(|c| c == "outcome").unwrap_or_default();
        let header = Header { text, columns, about, shard };
        Ok(Self { header, outcome, lines, path, damaged: 0 })
    }

    /// The next good row.
    pub(crate) fn next(&mut self) -> Result<Option<Row>, Failure> {
        let path = &self.path;
        loop {
            let fail = |source| Failure::Read { path: path.clone(), source };
            let Some(line) = self.lines.next().map_err(fail)? else { return Ok(None) };
            let text = String::from_utf8_lossy(line);
            if let Some(case) = case_of(line) {
                return Ok(Some(Row { cells: cells(&text), case, place: self.lines.start }));
            }
            self.damaged += 1;
        }
    }

    /// The next line.
    pub(crate) fn next_line(&mut self) -> Result<Option<Line>, Failure> {
        let fail = |source| Failure::Read { path: self.path.clone(), source };
        let line = self.lines.next().map_err(fail)?.map(|l| (l.to_vec(), case_of(l)));
        Ok(line.map(|(text, case)| (text, case.filter(|_| self.lines.whole))))
    }

    /// Number of the line just read.
    pub(crate) fn line_number(&self) -> u64 {
        self.lines.number
    }

    /// Its file.
    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    /// The rows that are left, each with what became of it.
    pub(crate) fn rows(&mut self) -> impl Iterator<Item = Result<(Row, Option<Outcome>), Failure>> {
        std::iter::from_fn(|| {
            let row = self.next().transpose()?;
            Some(row.map(|row| {
                let outcome = self.outcome(&row);
                (row, outcome)
            }))
        })
    }

    /// What became of a row.
    pub(crate) fn outcome(&self, row: &Row) -> Option<Outcome> {
        row.cells.get(self.outcome).and_then(|w| Outcome::called(w))
    }

    /// Reads the row at a place again.
    pub(crate) fn row_at(&self, place: u64) -> Result<Option<Row>, Failure> {
        let fail = |source| Failure::Read { path: self.path.clone(), source };
        let mut file = File::open(&self.path).map_err(fail)?;
        file.seek(SeekFrom::Start(place)).map_err(fail)?;
        let mut lines = Lines::new(BufReader::new(file));
        let Some(line) = lines.next().map_err(fail)? else { return Ok(None) };
        let case = case_of(line);
        let text = String::from_utf8_lossy(line);
        Ok(case.map(|case| Row { cells: cells(&text), case, place }))
    }

    /// Says how many rows were left out.
    pub(crate) fn warn(&self) {
        if self.damaged > 0 {
            files::say(&format!(
                "{} damaged rows of {} were left out; `freshcharge sweep ... --repair` computes them anew.\n",
                self.damaged,
                self.path.display()
            ));
        }
    }
}
