//! Which rows a chart shows: what is drawn varies, all else stands still.

use crate::present::DrawError;
use crate::present::rows::{Header, Row};

/// Something that varies in steps: an axis, or speed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Dimension {
    /// Its column.
    pub(super) key: String,
    /// Its values, rising.
    pub(super) values: Vec<f64>,
    /// Its value in the base engine.
    pub(super) present: Option<f64>,
}

impl Dimension {
    /// The value nearest to the base engine's, else the middle one.
    fn usual(&self) -> Option<f64> {
        let Some(present) = self.present else {
            return self.values.get(self.values.len() / 2).copied();
        };
        let apart = |v: &f64| (v - present).abs();
        self.values.iter().copied().min_by(|a, b| apart(a).total_cmp(&apart(b)))
    }
}

fn numbers(value: &serde_json::Value) -> Vec<f64> {
    let mut all: Vec<f64> =
        value.as_array().into_iter().flatten().filter_map(|v| v.as_f64()).collect();
    all.sort_by(f64::total_cmp);
    all.dedup();
    all
}

/// Axes with at least two values, then speed.
pub(super) fn dimensions(header: &Header) -> Vec<Dimension> {
    let mut all: Vec<Dimension> = header
        .axes()
        .into_iter()
        .enumerate()
        .map(|(i, key)| {
            let values = numbers(&header.about["values"][i]);
            Dimension { present: header.present(&key), key, values }
        })
        .collect();
    let values = numbers(&header.about["speeds"]);
    all.push(Dimension { key: "rpm".to_owned(), values, present: None });
    all.retain(|d| d.values.len() > 1);
    all
}

/// The dimension of a column.
pub(super) fn dimension(
    header: &Header,
    flag: &'static str,
    key: &str,
) -> Result<Dimension, DrawError> {
    let all = dimensions(header);
    let known: Vec<String> = all.iter().map(|d| d.key.clone()).collect();
    all.into_iter().find(|d| d.key == key).ok_or_else(|| DrawError::Choice {
        flag,
        value: key.to_owned(),
        remedy: format!("does not vary in steps here; choose one of {}", known.join(", ")),
    })
}

/// Columns held at a value.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Slice {
    held: Vec<(usize, f64, String)>,
}

impl Slice {
    /// Everything but `free` stands still: where `fix` says, else at the base engine's nearest value.
    pub(super) fn new(header: &Header, free: &[&str], fix: &[(String, f64)]) -> Self {
        let mut held = Vec::new();
        for dimension in dimensions(header) {
            let fixed = fix.iter().find(|(key, _)| *key == dimension.key).map(|f| f.1);
            let value = fixed.or_else(|| dimension.usual());
            if let (Some(place), Some(value), false) =
                (header.place(&dimension.key), value, free.contains(&dimension.key.as_str()))
            {
                held.push((place, value, dimension.key));
            }
        }
        Self { held }
    }

    /// Whether it shows a row.
    pub(super) fn shows(&self, row: &Row) -> bool {
        self.held.iter().all(|(place, value, _)| {
            row.number(*place).is_some_and(|v| (v - value).abs() <= 1e-9 * value.abs().max(1.0))
        })
    }

    /// What stands still, in words.
    pub(super) fn words(&self) -> String {
        let one =
            |(_, value, key): &(usize, f64, String)| format!("{key} {}", super::short(*value));
        self.held.iter().map(one).collect::<Vec<_>>().join(", ")
    }
}

/// At most `most` of some values, evenly, the first and last among them.
pub(super) fn some(values: &[f64], most: usize) -> Vec<f64> {
    if values.len() <= most {
        return values.to_vec();
    }
    (0..most).map(|i| values[i * (values.len() - 1) / (most - 1)]).collect()
}
