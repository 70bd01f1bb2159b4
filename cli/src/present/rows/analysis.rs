//! Which number matters, and how far results scatter: from the rows of a sweep, speed by speed.

use std::collections::BTreeMap;

use freshcharge_sim::sweep::{indices, rank_correlation};

use super::{Header, Objective, Outcome, Row};

/// Most rows of one speed that are kept; of more, every n-th.
const KEPT: u64 = 200_000;

/// Values of one result at one speed, with what was varied.
#[derive(Debug, Clone, Default)]
pub(crate) struct Cloud {
    /// Varied numbers, row by row for each path.
    pub(crate) varied: Vec<Vec<f64>>,
    /// The result.
    pub(crate) result: Vec<f64>,
    /// Whole blocks made for Sobol indices.
    pub(crate) blocks: Vec<Vec<f64>>,
}

/// How much a number matters.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Influence {
    /// Its path.
    pub(crate) path: String,
    /// Rank correlation with the result; none where it does not vary.
    pub(crate) rank: Option<f64>,
    /// Sobol indices (first, total), where the sample was made for them.
    pub(crate) sobol: Option<(f64, f64)>,
}

impl Influence {
    /// What numbers are ordered by.
    pub(crate) fn weight(&self) -> f64 {
        self.sobol.map_or_else(|| self.rank.map_or(0.0, f64::abs), |s| s.1)
    }
}

/// Gathers clouds of several results while rows go by.
pub(crate) struct Gathering {
    paths: Vec<(String, usize)>,
    keys: Vec<(String, usize)>,
    rpm: Option<usize>,
    rows: u64,
    /// Sampled points, and members of a block; zero where there are no blocks.
    points: u64,
    block: u64,
    stride: u64,
    group: Option<u64>,
    open: BTreeMap<(usize, u64), (u64, Vec<f64>)>,
    clouds: BTreeMap<(usize, u64), Cloud>,
}

impl Gathering {
    /// For these results.
    pub(crate) fn new(header: &Header, keys: &[String]) -> Self {
        let place = |key: &String| Some((key.clone(), header.place(key)?));
        let rows = header.count("rows_of_combination").max(1);
        let sampled = header.words("sampled").len() as u64;
        let block = if header.word("design") == "indices" { sampled + 2 } else { 0 };
        Self {
            paths: header.words("paths").iter().filter_map(place).collect(),
            keys: keys.iter().filter_map(place).collect(),
            rpm: header.place("rpm"),
            rows,
            points: header.count("points").max(1),
            block,
            stride: (header.count("cases") / rows).div_ceil(KEPT).max(1),
            group: None,
            open: BTreeMap::new(),
            clouds: BTreeMap::new(),
        }
    }

    /// Takes a row.
    pub(crate) fn row(&mut self, row: &Row, outcome: Option<Outcome>) {
        if !matches!(outcome, Some(Outcome::Settled | Outcome::Repeats | Outcome::Geometry)) {
            return;
        }
        let combination = row.case / self.rows;
        let speed = self.rpm.and_then(|p| row.number(p)).unwrap_or(0.0) as u64;
        let (group, point) = (combination / self.points, combination % self.points);
        for (which, (_, place)) in self.keys.iter().enumerate() {
            let Some(value) = row.number(*place) else { continue };
            let key = (which, speed);
            if self.block > 0 && *self.group.get_or_insert(group) == group {
                let (block, member) = (point / self.block, point % self.block);
                let (number, values) = self.open.entry(key).or_default();
                if *number != block {
                    (*number, *values) = (block, Vec::new());
                }
                // a block with a hole never fills
                if values.len() as u64 == member {
                    values.push(value);
                }
                if values.len() as u64 == self.block {
                    let whole = std::mem::take(values);
                    self.clouds.entry(key).or_default().blocks.push(whole);
                }
                // points with one number exchanged are not independent of the first two
                if member > 1 {
                    continue;
                }
            }
            if !combination.is_multiple_of(self.stride) {
                continue;
            }
            let cloud = self.clouds.entry(key).or_default();
            cloud.varied.resize(self.paths.len(), Vec::new());
            for (column, (_, place)) in cloud.varied.iter_mut().zip(&self.paths) {
                column.push(row.number(*place).unwrap_or(f64::NAN));
            }
            cloud.result.push(value);
        }
    }

    /// Clouds of a result by speed.
    pub(crate) fn of(&self, key: &str) -> Vec<(u64, &Cloud)> {
        let Some(which) = self.keys.iter().position(|(k, _)| k == key) else { return Vec::new() };
        let all = self.clouds.range((which, 0)..=(which, u64::MAX));
        all.map(|((_, speed), cloud)| (*speed, cloud)).collect()
    }

    /// Influence of every varied number on a cloud, the greatest first.
    pub(crate) fn influences(&self, header: &Header, cloud: &Cloud) -> Vec<Influence> {
        let sampled = header.words("sampled");
        let sobol = indices(&cloud.blocks).unwrap_or_default();
        let mut all: Vec<Influence> = self
            .paths
            .iter()
            .zip(&cloud.varied)
            .map(|((path, _), x)| {
                let place = sampled.iter().position(|s| s == path);
                let sobol = place.and_then(|p| sobol.get(p)).map(|s| (s.first, s.total));
                Influence { path: path.clone(), rank: rank_correlation(x, &cloud.result), sobol }
            })
            .collect();
        all.sort_by(|a, b| b.weight().total_cmp(&a.weight()).then(a.path.cmp(&b.path)));
        all
    }
}

/// Middle and ends of the central 95 %.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spread {
    /// Median.
    pub(crate) middle: f64,
    /// 2.5 % lie below.
    pub(crate) low: f64,
    /// 2.5 % lie above.
    pub(crate) high: f64,
}

/// Spread of some values; none where there are fewer than ten.
pub(crate) fn spread(values: &[f64]) -> Option<Spread> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let at = |share: f64| {
        let place = share * (sorted.len() - 1) as f64;
        let below = place.floor() as usize;
        let above = (below + 1).min(sorted.len() - 1);
        sorted[below] + (place - below as f64) * (sorted[above] - sorted[below])
    };
    (sorted.len() >= 10).then(|| Spread { middle: at(0.5), low: at(0.025), high: at(0.975) })
}

/// Results of a sampled sweep with ± and the two numbers that matter most, in words.
pub(crate) fn tolerances(header: &Header, gathering: &Gathering) -> String {
    let mut out = String::new();
    for Objective { key, .. } in &header.objectives() {
        for (speed, cloud) in gathering.of(key) {
            let Some(spread) = spread(&cloud.result) else { continue };
            let at = if speed > 0 { format!(" at {speed}/min") } else { String::new() };
            let half = 0.5 * (spread.high - spread.low);
            let influences = gathering.influences(header, cloud);
            let named: Vec<String> = influences.iter().take(2).map(named).collect();
            out.push_str(&format!(
                "{key}{at}: {:.4} ± {half:.4} (95 % of {} builds lie from {:.4} to {:.4}); most of it from {}.\n",
                spread.middle,
                cloud.result.len(),
                spread.low,
                spread.high,
                named.join(" and "),
            ));
        }
    }
    if out.is_empty() {
        out.push_str("There are too few settled rows for a spread; ten are needed at a speed.\n");
    }
    out
}

fn named(influence: &Influence) -> String {
    match (influence.sobol, influence.rank) {
        (Some((_, total)), _) => format!("{} ({:.0} %)", influence.path, 100.0 * total),
        (None, Some(rank)) => format!("{} (rank correlation {rank:+.2})", influence.path),
        (None, None) => influence.path.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_central_95_percent_of_even_steps() {
        let values: Vec<f64> = (0..=1000).map(f64::from).collect();
        let found = spread(&values).unwrap();
        assert_eq!((found.low, found.middle, found.high), (25.0, 500.0, 975.0));
        assert_eq!(spread(&values[..9]), None);
    }
}
