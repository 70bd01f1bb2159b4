//! Whether the first plans stay the first when the readings are wrong.

use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::workshop;
use rayon::prelude::*;

use super::Plan;
use super::search::solve_one;
use crate::commands::goals::{Choice, Goals};

/// Plans whose rank is tried against errors.
const TRIED: usize = 4;
/// Samples for that.
const SAMPLES: u32 = 24;

/// Term `index` of the Halton sequence in a base.
fn halton(index: u32, base: u32) -> f64 {
    let (mut i, mut share, mut value) = (index, 1.0, 0.0);
    while i > 0 {
        share /= f64::from(base);
        value += share * f64::from(i % base);
        i /= base;
    }
    value
}

const PRIMES: [u32; 24] =
    [2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83, 89];

/// In which share of samples of the measurements' errors each of the first plans stays the best; gives
/// words on the measurement that would settle a tie.
pub(super) fn try_ranks(scenario: &Scenario, goals: &Goals, plans: &mut [Plan]) -> Option<String> {
    let closed = goals.closed();
    let errors = workshop::measured(scenario, true);
    let count = plans.len().min(TRIED);
    if count < 2 {
        return None;
    }
    let choices: Vec<Choice> = plans[..count].iter().map(|p| p.choice).collect();
    let samples: Vec<(Vec<f64>, Vec<f64>)> = (1..=SAMPLES)
        .into_par_iter()
        .filter_map(|s| {
            let shares: Vec<f64> = (0..errors.len())
                .map(|i| {
                    // rotated so that many dimensions do not run alike
                    let turn = (i as f64 * 0.618_033_988_75).fract();
                    2.0 * (halton(s, PRIMES[i % PRIMES.len()]) + turn).fract() - 1.0
                })
                .collect();
            let mut changes = Vec::new();
            for (error, share) in errors.iter().zip(&shares) {
                let step = share * error.half_width;
                changes.push((error.path.clone(), scenario.value(&error.path)? + step));
                changes.extend(workshop::counterpart(scenario, &error.path, step));
            }
            let changes: Vec<(&str, f64)> = changes.iter().map(|(p, v)| (p.as_str(), *v)).collect();
            let engine = scenario.with_all(&changes).ok()?;
            let rank = |c: &Choice| {
                let plan = solve_one(&engine, &closed, *c);
                plan.map_or(f64::INFINITY, |p| 1e3 * p.solution.relaxation + p.cost(scenario))
            };
            Some((shares, choices.iter().map(rank).collect()))
        })
        .collect();
    if samples.is_empty() {
        return None;
    }
    for (k, plan) in plans[..count].iter_mut().enumerate() {
        let wins = samples.iter().filter(|(_, costs)| costs.iter().all(|c| costs[k] <= *c)).count();
        plan.stays_best = wins as f64 / samples.len() as f64;
    }
    // what goes together with the difference of the first two
    let difference: Vec<f64> = samples.iter().map(|(_, c)| c[0] - c[1]).collect();
    let strength = |i: usize| correlation(samples.iter().map(|s| s.0[i]), &difference).abs();
    let most = (0..errors.len()).max_by(|a, b| strength(*a).total_cmp(&strength(*b)))?;
    (plans[0].stays_best < 0.9 && strength(most) > 0.3).then(|| {
        format!(
            "The first two are close. Measuring {} again (±{} now) would settle it best.",
            errors[most].path, errors[most].half_width
        )
    })
}

fn correlation(a: impl Iterator<Item = f64> + Clone, b: &[f64]) -> f64 {
    let n = b.len() as f64;
    let (ma, mb) = (a.clone().sum::<f64>() / n, b.iter().sum::<f64>() / n);
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (x, y) in a.zip(b) {
        ab += (x - ma) * (y - mb);
        aa += (x - ma) * (x - ma);
        bb += (y - mb) * (y - mb);
    }
    if aa * bb > 0.0 && (aa * bb).is_finite() { ab / (aa * bb).sqrt() } else { 0.0 }
}
