//! Rows of a sweep's results: what stands above them, what one tells, and what they tell together.

pub(crate) mod analysis;
mod shard;
pub(crate) mod text;

use serde_json::Value;

pub(crate) use shard::Shard;

use super::DrawError;

/// What became of a case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Outcome {
    /// The cycle repeats.
    Settled,
    /// The engine would not run: nothing is delivered.
    WouldNotRun,
    /// The state repeats only after several turns; the row tells their mean.
    Repeats,
    /// It still changes after the allowed cycles; the row tells its last one.
    NotSettled,
    /// A constraint refused it before it was simulated.
    Refused,
    /// It could not be computed.
    Faulty,
    /// Only its geometry was asked for.
    Geometry,
}

/// Every outcome with its word in a row.
pub(crate) const OUTCOMES: [(Outcome, &str); 7] = [
    (Outcome::Settled, "settled"),
    (Outcome::WouldNotRun, "would_not_run"),
    (Outcome::Repeats, "repeats"),
    (Outcome::NotSettled, "not_settled"),
    (Outcome::Refused, "refused"),
    (Outcome::Faulty, "faulty"),
    (Outcome::Geometry, "geometry"),
];

impl Outcome {
    /// The outcome with this word.
    pub(crate) fn called(word: &str) -> Option<Self> {
        OUTCOMES.iter().find(|(_, w)| *w == word).map(|(o, _)| *o)
    }

    /// Its word.
    pub(crate) fn word(self) -> &'static str {
        OUTCOMES.iter().find(|(o, _)| *o == self).map_or("", |(_, w)| w)
    }
}

pub(crate) use freshcharge_sim::sweep::Objective;

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
    pub(crate) shard: Shard,
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
    pub(crate) fn find(&self, flag: &'static str, key: &str) -> Result<usize, DrawError> {
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
            DrawError::Choice { flag, value: key.to_owned(), remedy }
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
