//! States that repeat only after several turns.
//!
//! An engine that fires better on every other turn, or a petal that bounces differently each time, has no state
//! that repeats after one turn for an accelerated search to find. Plain cycles then show what it does.

use crate::result::Point;

/// Plain cycles made after the search has given up.
pub(super) const PLAIN_CYCLES: u32 = 60;
/// Cycles from which a search has given up rather than been cut short.
pub(super) const GIVEN_UP: u32 = 50;
/// Change from one turn to the next, over that which counts as repeating, from which turns differ.
const DISTINCT: f64 = 10.0;
/// Most turns after which a state is looked for.
pub(super) const MOST_TURNS: usize = 6;

/// The last plain cycles: vectors at their ends, and their points.
#[derive(Debug, Clone, Default)]
pub(super) struct Turns {
    ends: Vec<Vec<f64>>,
    points: Vec<Point>,
}

impl Turns {
    /// The point of the last cycle noted.
    pub(super) fn last(mut self) -> Option<Point> {
        self.points.pop()
    }

    /// Takes note of a cycle that ended in `end`. Where the state is within `enough` of that of two or more turns
    /// ago, by `change`, gives how many, how near, and the points in between.
    pub(super) fn add(
        &mut self,
        end: Vec<f64>,
        point: Point,
        enough: f64,
        change: impl Fn(&[f64], &[f64]) -> f64,
    ) -> Option<(u32, f64, Vec<Point>)> {
        if self.ends.len() > MOST_TURNS {
            self.ends.remove(0);
            self.points.remove(0);
        }
        self.ends.push(end);
        self.points.push(point);
        let last = self.ends.len() - 1;
        let apart = |turns: usize| change(&self.ends[last - turns], &self.ends[last]);
        let found = (2..=MOST_TURNS.min(last)).find(|turns| apart(*turns) <= enough)?;
        // a state that creeps to one that repeats every turn comes near to itself after any number of them
        if apart(1) <= DISTINCT * enough {
            return None;
        }
        let part = |turns: &usize| found % turns == 0 && apart(*turns) <= DISTINCT * enough;
        let turns = (2..found).find(part).unwrap_or(found);
        Some((turns as u32, apart(turns), self.points[last + 1 - turns..].to_vec()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::result::{Summary, Verdict, WorkCounts};

    fn point(power: f64) -> Point {
        Point {
            rpm: 1000.0,
            verdict: Verdict::Settled { cycles: 1, residual: 0.0 },
            standstill: None,
            summary: Summary {
                power,
                delivery_ratio: 0.5 * power,
                charging_efficiency: 0.25 * power,
                ..Summary::default()
            },
            groups: Vec::new(),
            reed: Vec::new(),
            work: WorkCounts::default(),
        }
    }

    #[test]
    fn a_map_of_period_three_is_recognised_and_averaged() {
        // z <- r z (1 - z) at r = 3.84: the window of period three (May, Nature 261 (1976) 459)
        let mut z = 0.3_f64;
        let mut turns = Turns::default();
        let apart = |a: &[f64], b: &[f64]| (a[0] - b[0]).abs();
        for _ in 0..500 {
            z = 3.84 * z * (1.0 - z);
            if let Some((count, near, points)) = turns.add(vec![z], point(z), 1e-9, apart) {
                assert_eq!(count, 3);
                assert!(near <= 1e-8);
                assert_eq!(points.len(), 3);
                let mean =
                    Point::mean(&points, Verdict::Repeats { turns: 3, cycles: 9, residual: near });
                let powers = points.iter().map(|p| p.summary.power).sum::<f64>() / 3.0;
                assert!((mean.summary.power - powers).abs() < 1e-15);
                assert!((mean.summary.trapping_efficiency.unwrap() - 0.5).abs() < 1e-12);
                assert_eq!(mean.outcome(), "repeats_every_3_turns");
                return;
            }
        }
        unreachable!("it repeats");
    }

    #[test]
    fn chaos_repeats_never() {
        let mut z = 0.3_f64;
        let mut turns = Turns::default();
        for _ in 0..500 {
            z = 3.9 * z * (1.0 - z);
            let found = turns.add(vec![z], point(z), 1e-9, |a, b| (a[0] - b[0]).abs());
            assert!(found.is_none());
        }
    }
}
