//! ± of simulated results: readings drawn within their errors, the same draws at every speed.
//!
//! # Decisions
//!
//! - A reading is named as one that matters only where Spearman's rank correlation exceeds the
//!   two-sided critical value of Student's t with n − 2 degrees of freedom, at a level of 5 % for the
//!   whole list, divided by readings times results (Bonferroni). With 64 sets and some 45 readings that
//!   is about 0.46. Student's t is too kind to few sets that far out, so below 48 sets the level is a
//!   quarter, and below twelve nothing is named; a test draws lists by chance and counts.

use std::sync::Arc;

use rayon::prelude::*;

use super::sweep::{Design, Sample, Sampled, Varied, critical_rank_correlation, rank_correlation};
use super::uncertainty::{self, Contribution};
use crate::cycle::{Chain, Settings, solve};
use crate::forms::engine::Scenario;
use crate::model::Engine;
use crate::result::{COLUMNS, Column};
use crate::spec::EngineSpec;

/// Results that get a ±, with the decimals they are shown to.
pub const SHOWN: &[(&str, usize)] = &[
    ("power_kw", 2),
    ("torque_nm", 2),
    ("delivery_ratio", 3),
    ("charging_efficiency", 3),
    ("cylinder_pressure_at_transfer_opening_bar", 3),
    ("crankcase_pressure_at_transfer_opening_bar", 3),
    ("hot_backflow_mass_mg", 3),
];

/// Fewest sets of which a spread can be told.
pub const FEWEST: u64 = 8;
/// Most.
pub const MOST: u64 = 1 << 16;
/// Probability with which the list of readings to repeat names any that does nothing.
pub const LEVEL: f64 = 0.05;
/// Seed of the draws; the same every time, so that two builds are held against each other alike.
const SEED: u64 = 1;

/// What the errors of the readings leave of a run.
#[derive(Debug)]
pub struct PlusMinus {
    /// Sets of readings drawn.
    pub sets: u64,
    /// Sets of which no engine could be made, or that did not settle somewhere.
    pub left_out: u64,
    /// Two standard deviations of each result shown, by speed.
    pub points: Vec<(f64, Vec<Option<f64>>)>,
    /// For each result shown the two readings that go with it most, and how closely (Spearman), at the speed
    /// where its ± is largest; only those that can be told from chance.
    pub matters: Vec<Vec<(Contribution, f64)>>,
    /// Results shown that vary over the sets.
    pub vary: Vec<bool>,
    /// Readings drawn.
    pub readings: usize,
    /// Rank correlation that must be exceeded: [`LEVEL`] shared by all readings and results.
    pub critical: f64,
}

fn columns() -> Vec<&'static Column> {
    SHOWN.iter().filter_map(|(key, _)| COLUMNS.iter().find(|c| c.key == *key)).collect()
}

/// Results shown of one set at every speed; none where it is no engine or did not settle.
type Outcome = Option<Vec<Vec<f64>>>;

/// Draws `sets` sets of readings within their errors and runs each at all speeds; `done` is called after
/// each set.
#[must_use]
pub fn of(scenario: &Scenario, speeds: &[f64], sets: u64, done: &(dyn Fn() + Sync)) -> PlusMinus {
    let errors = uncertainty::measured(scenario, true);
    let paths: Vec<String> = errors.iter().map(|e| e.path.clone()).collect();
    let over: Vec<Varied> = errors
        .iter()
        .map(|e| {
            let value = scenario.value(&e.path).unwrap_or(0.0);
            Varied::new(&e.path, vec![value - e.half_width, value + e.half_width])
        })
        .collect();
    let sampled = Sampled::new(Sample {
        design: Design::LatinHypercube,
        count: sets,
        seed: SEED,
        readings: true,
        over,
    });
    let changer = scenario.rereader(&paths).ok();
    let drawn: Vec<(Vec<f64>, Outcome)> = (0..sets)
        .into_par_iter()
        .map(|set| {
            let values: Vec<f64> = (0..errors.len()).map(|d| sampled.value(set, d)).collect();
            let engine = changer.as_ref().and_then(|c| c.with(&values).ok());
            let outcome = engine
                .filter(|e| e.faults_for_running().is_empty())
                .and_then(|e| results(&e.spec, speeds));
            done();
            (values, outcome)
        })
        .collect();
    summed_up(&errors, speeds, &drawn)
}

/// All speeds in a row, each from the one before.
fn results(spec: &EngineSpec, speeds: &[f64]) -> Outcome {
    let engine = Engine::new(spec).ok()?;
    let models = speeds.iter().map(|rpm| engine.at_speed(*rpm).map(Arc::new));
    let mut chain = Some(Chain { index: 0, models: models.collect() });
    let mut found: Vec<Option<Vec<f64>>> = vec![None; speeds.len()];
    let columns = columns();
    solve(&Settings::sweep(), &mut || chain.take(), &mut |_, i, result| {
        let point = result.ok().filter(|p| p.usable());
        found[i] = point.and_then(|p| columns.iter().map(|c| (c.value)(&p)).collect());
    });
    found.into_iter().collect()
}

fn summed_up(errors: &[Contribution], speeds: &[f64], drawn: &[(Vec<f64>, Outcome)]) -> PlusMinus {
    let good: Vec<(&Vec<f64>, &Vec<Vec<f64>>)> =
        drawn.iter().filter_map(|(v, o)| o.as_ref().map(|o| (v, o))).collect();
    let of = |speed: usize, result: usize| -> Vec<f64> {
        good.iter().map(|(_, o)| o[speed][result]).collect()
    };
    let points: Vec<(f64, Vec<Option<f64>>)> = speeds
        .iter()
        .enumerate()
        .map(|(i, rpm)| (*rpm, (0..SHOWN.len()).map(|r| two_deviations(&of(i, r))).collect()))
        .collect();
    let critical = to_exceed(good.len(), errors.len() * SHOWN.len());
    let matters = (0..SHOWN.len())
        .map(|r| {
            let width = |i: &usize| points[*i].1[r].unwrap_or(0.0);
            let widest = (0..speeds.len()).max_by(|a, b| width(a).total_cmp(&width(b)));
            let Some(results) = widest.map(|i| of(i, r)) else { return Vec::new() };
            let mut found: Vec<(Contribution, f64)> = errors
                .iter()
                .enumerate()
                .filter_map(|(d, error)| {
                    let readings: Vec<f64> = good.iter().map(|(v, _)| v[d]).collect();
                    Some((error.clone(), rank_correlation(&readings, &results)?))
                })
                .filter(|(_, correlation)| correlation.abs() > critical)
                .collect();
            found.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
            found.truncate(2);
            found
        })
        .collect();
    let sets = drawn.len() as u64;
    let varies = |r: usize| points.iter().any(|(_, widths)| widths[r].is_some_and(|w| w > 0.0));
    PlusMinus {
        sets,
        left_out: sets - good.len() as u64,
        vary: (0..SHOWN.len()).map(varies).collect(),
        points,
        matters,
        readings: errors.len(),
        critical,
    }
}

/// Rank correlation that must be exceeded for a reading to be named, one level being shared by all questions.
///
/// Student's t is too kind to few sets so far out: drawn by chance, lists of twelve sets named something
/// twice as often as stated. So below 48 sets the level is a quarter, and below twelve nothing is named.
fn to_exceed(sets: usize, questions: usize) -> f64 {
    let level = LEVEL / questions.max(1) as f64;
    match sets {
        0..12 => 1.0,
        12..48 => critical_rank_correlation(sets, 0.25 * level),
        _ => critical_rank_correlation(sets, level),
    }
}

/// Twice the standard deviation of a sample; none of fewer than [`FEWEST`].
fn two_deviations(values: &[f64]) -> Option<f64> {
    let n = values.len() as f64;
    if values.len() < FEWEST as usize {
        return None;
    }
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    Some(2.0 * (squares / (n - 1.0)).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers that have nothing to do with each other (SplitMix64).
    struct Chance(u64);

    impl Chance {
        fn next(&mut self) -> f64 {
            self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut z = self.0;
            z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
        }
    }

    #[test]
    fn readings_that_do_nothing_are_named_no_oftener_than_stated() {
        let text = include_str!("../../../scenarios/short-blowdown.toml");
        let scenario = crate::forms::engine::read(text).unwrap();
        let errors = uncertainty::measured(&scenario, true);
        let mut chance = Chance(1);
        for sets in [8, 12, 32, 64] {
            let mut named = 0;
            for _ in 0..400 {
                let drawn: Vec<(Vec<f64>, Outcome)> = (0..sets)
                    .map(|_| {
                        let values = errors.iter().map(|_| chance.next()).collect();
                        (values, Some(vec![SHOWN.iter().map(|_| chance.next()).collect()]))
                    })
                    .collect();
                let found = summed_up(&errors, &[5000.0], &drawn);
                named += usize::from(found.matters.iter().any(|m| !m.is_empty()));
            }
            // 20 of 400 are stated; three standard deviations of that count are 13
            assert!(named <= 33, "{named} of 400 lists with {sets} sets");
        }
    }

    #[test]
    fn a_single_error_comes_back_as_the_spread_it_makes() {
        let text = include_str!("../../../scenarios/short-blowdown.toml");
        let scenario = crate::forms::engine::read(text).unwrap();
        // stand-ins for simulated results: torque follows the first reading alone
        let errors = uncertainty::measured(&scenario, true);
        let drawn: Vec<(Vec<f64>, Outcome)> = (0..400)
            .map(|i| {
                let share = (f64::from(i) + 0.5) / 400.0;
                let mut values = vec![1.0; errors.len()];
                values[0] = share;
                (0..errors.len()).skip(1).for_each(|d| values[d] = f64::from(i * 7919 % 400));
                let row = (0..SHOWN.len()).map(|r| if r == 1 { share } else { 3.0 }).collect();
                (values, Some(vec![row]))
            })
            .collect();
        let found = summed_up(&errors, &[5000.0], &drawn);
        // an even spread over one has a standard deviation of 1/√12
        let width = found.points[0].1[1].unwrap();
        assert!((width - 2.0 / 12.0_f64.sqrt()).abs() < 2e-3, "{width}");
        assert_eq!(found.matters[1][0].0.path, errors[0].path);
        assert!((found.matters[1][0].1 - 1.0).abs() < 1e-12);
        assert_eq!(found.points[0].1[0], Some(0.0));
        assert!(found.matters[0].is_empty(), "what does not vary goes with nothing");
    }
}
