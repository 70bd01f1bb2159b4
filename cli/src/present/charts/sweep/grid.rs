//! Results of a sweep over all its axes at once, for charts that let their axes be chosen.

use serde_json::{Value, json};

use super::map::near;
use super::slice::{Dimension, dimensions};
use super::{Seen, title, worth};
use crate::present::rows::{Header, Outcome, Row};

/// Most cells of all results together: a page has room for so many numbers.
const MOST: usize = 60_000;
/// Best cases told.
const BEST: usize = 5;
/// Results told of them.
const TOLD: usize = 3;
/// Colours of the scale.
const SHADES: usize = 20;

/// A value at one combination.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Spot {
    Unknown,
    Refused,
    Value(f64),
}

/// Results over every combination of what varies.
pub(crate) struct Grid {
    dimensions: Vec<Dimension>,
    /// Words, column and a value for each combination, the last dimension running fastest.
    results: Vec<(String, usize, Vec<Spot>)>,
    /// Columns of the best cases, and their rows.
    pub(crate) best: (Vec<String>, Vec<Vec<f64>>),
}

impl Grid {
    /// Reads results; none where nothing varies in steps or there is more than a page has room for.
    pub(crate) fn read<E>(
        header: &Header,
        rows: impl Iterator<Item = Result<Seen, E>>,
    ) -> Result<Option<Self>, E> {
        let dimensions = dimensions(header);
        let combinations: usize =
            dimensions.iter().fold(1, |n: usize, d| n.saturating_mul(d.values.len()));
        let keys: Vec<String> =
            worth(header).into_iter().take(MOST / combinations.max(1)).collect();
        if dimensions.is_empty() || keys.is_empty() {
            return Ok(None);
        }
        let column = |key: &String| {
            let place = header.place(key)?;
            Some((title(key), place, vec![Spot::Unknown; combinations]))
        };
        let results = keys.iter().filter_map(column).collect();
        let goal = header.objectives().into_iter().next();
        let shown = dimensions.iter().map(|d| d.key.clone()).chain(keys.into_iter().take(TOLD));
        let shown: Vec<(String, usize)> =
            shown.filter_map(|k| Some((title(&k), header.place(&k)?))).collect();
        let places: Vec<Option<usize>> = dimensions.iter().map(|d| header.place(&d.key)).collect();
        let heads = shown.iter().map(|s| s.0.clone()).collect();
        let mut grid = Self { dimensions, results, best: (heads, Vec::new()) };
        let mut first: Vec<(f64, Vec<f64>)> = Vec::new();
        for row in rows {
            let (row, outcome) = row?;
            grid.put(&places, &row, outcome);
            let good =
                matches!(outcome, Some(Outcome::Settled | Outcome::Repeats | Outcome::Geometry));
            let Some(goal) = goal.as_ref().filter(|_| good) else { continue };
            let Some(value) = header.place(&goal.key).and_then(|p| row.number(p)) else { continue };
            let rank = if goal.rising { -value } else { value };
            let at = first.partition_point(|f| f.0 <= rank);
            if at < BEST {
                let cells = shown.iter().map(|s| row.number(s.1).unwrap_or(f64::NAN)).collect();
                first.insert(at, (rank, cells));
                first.truncate(BEST);
            }
        }
        grid.best.1 = first.into_iter().map(|f| f.1).collect();
        Ok(Some(grid))
    }

    fn put(&mut self, places: &[Option<usize>], row: &Row, outcome: Option<Outcome>) {
        let mut at = 0;
        for (dimension, place) in self.dimensions.iter().zip(places) {
            let value = place.and_then(|p| row.number(p));
            let Some(step) = value.and_then(|v| near(&dimension.values, v)) else { return };
            at = at * dimension.values.len() + step;
        }
        for (_, column, spots) in &mut self.results {
            spots[at] = match outcome {
                Some(Outcome::Refused) => Spot::Refused,
                Some(Outcome::Settled | Outcome::Repeats | Outcome::Geometry) => {
                    row.number(*column).map_or(Spot::Unknown, Spot::Value)
                }
                _ => Spot::Unknown,
            };
        }
    }

    /// As data for a script; `chosen` is what a build has of a number that varies.
    pub(crate) fn data(&self, chosen: &dyn Fn(&str) -> Option<f64>) -> Value {
        let axes: Vec<Value> = self
            .dimensions
            .iter()
            .map(|d| {
                let place = |value: Option<f64>| value.and_then(|v| near(&d.values, v));
                json!({
                    "name": title(&d.key), "values": d.values,
                    "base": place(d.present), "chosen": place(chosen(&d.key)),
                })
            })
            .collect();
        let spot = |s: &Spot| match s {
            Spot::Unknown => Value::Null,
            Spot::Refused => json!("x"),
            Spot::Value(v) => format!("{v:.3e}").parse::<f64>().map_or(Value::Null, |v| json!(v)),
        };
        let results: Vec<Value> = self
            .results
            .iter()
            .map(|(name, _, spots)| json!({ "name": name, "z": spots.iter().map(spot).collect::<Vec<_>>() }))
            .collect();
        let shade = |i: usize| {
            let c = colorous::VIRIDIS.eval_continuous(i as f64 / (SHADES - 1) as f64);
            format!("#{:02x}{:02x}{:02x}", c.r, c.g, c.b)
        };
        let shades: Vec<String> = (0..SHADES).map(shade).collect();
        json!({ "axes": axes, "results": results, "shades": shades })
    }
}
