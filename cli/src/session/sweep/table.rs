//! A results file read row by row.

use std::fs::File;
use std::io::{BufReader, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use serde_json::Value;

use super::job::Objective;
use super::row::{Outcome, case_of, cells};
use super::store::Lines;
use crate::files::{self, Failure};

/// What stands above the rows.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Header {
    /// All of it, the line of column names included.
    pub(crate) text: String,
    /// Column names.
    pub(crate) columns: Vec<String>,
    /// What the sweep tells of itself.
    pub(crate) about: Value,
    /// Which shard it is.
    pub(crate) shard: super::Shard,
}

impl Header {
    /// What a line of the head says, `# key = …`; of program 0.3.0 the version of the model is 1.
    pub(crate) fn line(&self, key: &str) -> &str {
        let head = format!("# {key} = ");
        let said = self.text.lines().find_map(|l| l.strip_prefix(&head));
        said.unwrap_or(if key == "model" { "1" } else { "" })
    }

    /// Place of a column.
    pub(crate) fn place(&self, key: &str) -> Option<usize> {
        self.columns.iter().position(|c| c == key)
    }

    /// Text that the sweep tells of itself.
    pub(crate) fn word(&self, key: &str) -> &str {
        self.about[key].as_str().unwrap_or_default()
    }

    /// A count that the sweep tells of itself.
    pub(crate) fn count(&self, key: &str) -> u64 {
        self.about[key].as_u64().unwrap_or_default()
    }

    /// Texts in a list that the sweep tells of itself.
    pub(crate) fn words(&self, key: &str) -> Vec<String> {
        let items = self.about[key].as_array().into_iter().flatten();
        items.filter_map(|v| v.as_str().map(str::to_owned)).collect()
    }

    /// First number of each axis, which stands for it.
    pub(crate) fn axes(&self) -> Vec<String> {
        let axes = self.about["axes"].as_array().into_iter().flatten();
        axes.filter_map(|a| a[0].as_str().map(str::to_owned)).collect()
    }

    /// What a varied number is in the base engine.
    pub(crate) fn present(&self, path: &str) -> Option<f64> {
        let place = self.words("paths").iter().position(|p| p == path)?;
        self.about["present"][place].as_f64()
    }

    /// What is better.
    pub(crate) fn objectives(&self) -> Vec<Objective> {
        let all = self.about["objectives"].as_array().into_iter().flatten();
        all.filter_map(|o| {
            Some(Objective { key: o[0].as_str()?.to_owned(), rising: o[1].as_bool()? })
        })
        .collect()
    }

    /// The place of a column, or a failure that names the nearest one.
    pub(crate) fn find(&self, flag: &'static str, key: &str) -> Result<usize, Failure> {
        self.place(key).ok_or_else(|| {
            let near = self
                .columns
                .iter()
                .map(|c| (strsim::jaro_winkler(c, key), c))
                .filter(|(s, _)| *s > 0.75)
                .max_by(|a, b| a.0.total_cmp(&b.0));
            let remedy = match near {
                Some((_, near)) => format!("no such column; did you mean {near}?"),
                None => format!("no such column; there are {}", self.columns.join(", ")),
            };
            Failure::Argument { flag, value: key.to_owned(), remedy }
        })
    }
}

/// One row.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Row {
    /// Its cells.
    pub(crate) cells: Vec<String>,
    /// Its case.
    pub(crate) case: u64,
    /// Where it stands in the file [bytes].
    pub(crate) place: u64,
}

impl Row {
    /// A cell as a number; none where it is empty or no number.
    pub(crate) fn number(&self, place: usize) -> Option<f64> {
        self.cells.get(place)?.parse().ok()
    }
}

/// A line as it stands, with its case; none for the case where it is damaged.
type Line = (Vec<u8>, Option<u64>);

/// A results file open for reading.
pub(crate) struct Table {
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

impl Table {
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
    pub(super) fn next_line(&mut self) -> Result<Option<Line>, Failure> {
        let fail = |source| Failure::Read { path: self.path.clone(), source };
        let line = self.lines.next().map_err(fail)?.map(|l| (l.to_vec(), case_of(l)));
        Ok(line.map(|(text, case)| (text, case.filter(|_| self.lines.whole))))
    }

    /// Number of the line just read.
    pub(super) fn line_number(&self) -> u64 {
        self.lines.number
    }

    /// Its file.
    pub(crate) fn path(&self) -> &Path {
        &self.path
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
