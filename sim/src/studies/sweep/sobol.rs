//! A Sobol sequence: points that fill a box evenly, each by its number.
//!
//! Direction numbers: S. Joe and F. Y. Kuo, "Constructing Sobol sequences with better two-dimensional
//! projections", SIAM J. Sci. Comput. 30 (2008) 2635–2654, table new-joe-kuo-6.21201, its first
//! [`DIMENSIONS`] dimensions. Each dimension is shifted digit by digit (exclusive or with a seeded
//! number), which keeps the evenness and makes seeds differ.

use rand_pcg::Pcg64;
use rand_pcg::rand_core::{Rng, SeedableRng};

/// Most dimensions.
pub const DIMENSIONS: usize = 40;
/// Digits of a point; also the most points: 2³².
const DIGITS: u32 = 32;

/// Degree, inner coefficients of the polynomial, and first direction integers, from dimension 2 on.
const DIRECTIONS: &[(u32, u32, &[u32])] = &[
    (1, 0, &[1]),
    (2, 1, &[1, 3]),
    (3, 1, &[1, 3, 1]),
    (3, 2, &[1, 1, 1]),
    (4, 1, &[1, 1, 3, 3]),
    (4, 4, &[1, 3, 5, 13]),
    (5, 2, &[1, 1, 5, 5, 17]),
    (5, 4, &[1, 1, 5, 5, 5]),
    (5, 7, &[1, 1, 7, 11, 19]),
    (5, 11, &[1, 1, 5, 1, 1]),
    (5, 13, &[1, 1, 1, 3, 11]),
    (5, 14, &[1, 3, 5, 5, 31]),
    (6, 1, &[1, 3, 3, 9, 7, 49]),
    (6, 13, &[1, 1, 1, 15, 21, 21]),
    (6, 16, &[1, 3, 1, 13, 27, 49]),
    (6, 19, &[1, 1, 1, 15, 7, 5]),
    (6, 22, &[1, 3, 1, 15, 13, 25]),
    (6, 25, &[1, 1, 5, 5, 19, 61]),
    (7, 1, &[1, 3, 7, 11, 23, 15, 103]),
    (7, 4, &[1, 3, 7, 13, 13, 15, 69]),
    (7, 7, &[1, 1, 3, 13, 7, 35, 63]),
    (7, 8, &[1, 3, 5, 9, 1, 25, 53]),
    (7, 14, &[1, 3, 1, 13, 9, 35, 107]),
    (7, 19, &[1, 3, 1, 5, 27, 61, 31]),
    (7, 21, &[1, 1, 5, 11, 19, 41, 61]),
    (7, 28, &[1, 3, 5, 3, 3, 13, 69]),
    (7, 31, &[1, 1, 7, 13, 1, 19, 1]),
    (7, 32, &[1, 3, 7, 5, 13, 19, 59]),
    (7, 37, &[1, 1, 3, 9, 25, 29, 41]),
    (7, 41, &[1, 3, 5, 13, 23, 1, 55]),
    (7, 42, &[1, 3, 7, 3, 13, 59, 17]),
    (7, 50, &[1, 3, 1, 3, 5, 53, 69]),
    (7, 55, &[1, 1, 5, 5, 23, 33, 13]),
    (7, 56, &[1, 1, 7, 7, 1, 61, 123]),
    (7, 59, &[1, 1, 7, 9, 13, 61, 49]),
    (7, 62, &[1, 3, 3, 5, 3, 55, 33]),
    (8, 14, &[1, 3, 1, 15, 31, 13, 49, 245]),
    (8, 21, &[1, 3, 5, 15, 31, 59, 63, 97]),
    (8, 22, &[1, 3, 1, 11, 11, 11, 77, 249]),
];

/// A shifted Sobol sequence.
#[derive(Debug, Clone, PartialEq)]
pub struct Sobol {
    /// Direction numbers of each dimension, with its shift.
    dimensions: Vec<([u32; DIGITS as usize], u32)>,
}

impl Sobol {
    /// In `dimensions` (at most [`DIMENSIONS`]), shifted by `seed`; seed 0 is not shifted.
    #[must_use]
    pub fn new(dimensions: usize, seed: u64) -> Self {
        let mut random = Pcg64::seed_from_u64(seed);
        let mut shift = || if seed == 0 { 0 } else { random.next_u32() };
        let of = |d: usize| directions(d.checked_sub(1).and_then(|d| DIRECTIONS.get(d)));
        let dimensions = (0..dimensions.min(DIMENSIONS)).map(|d| (of(d), shift())).collect();
        Self { dimensions }
    }

    /// Coordinate of point `index` in `dimension`, within 0 and 1 and never either.
    #[must_use]
    pub fn at(&self, index: u64, dimension: usize) -> f64 {
        let Some((directions, shift)) = self.dimensions.get(dimension) else { return 0.5 };
        let mut digits = *shift;
        // Gray code: neighbours differ in one direction, and the first 2^k points are the same set
        let gray = index ^ (index >> 1);
        for (bit, direction) in directions.iter().enumerate() {
            if gray >> bit & 1 == 1 {
                digits ^= direction;
            }
        }
        (f64::from(digits) + 0.5) / 2.0_f64.powi(DIGITS as i32)
    }
}

/// Direction numbers of a dimension; of the first where there is no polynomial.
fn directions(of: Option<&(u32, u32, &[u32])>) -> [u32; DIGITS as usize] {
    let mut v = [0_u32; DIGITS as usize];
    let Some((degree, inner, first)) = of else {
        for (k, v) in v.iter_mut().enumerate() {
            *v = 1 << (DIGITS - 1 - k as u32);
        }
        return v;
    };
    let s = *degree as usize;
    for k in 0..DIGITS as usize {
        v[k] = match first.get(k) {
            Some(m) => m << (DIGITS - 1 - k as u32),
            None => {
                let before = v[k - s] ^ (v[k - s] >> s);
                (1..s).fold(before, |sum, j| {
                    if inner >> (s - 1 - j) & 1 == 1 { sum ^ v[k - j] } else { sum }
                })
            }
        };
    }
    v
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every elementary interval of each single dimension holds one point, and of each pair of the
    /// first dimensions its share.
    #[test]
    fn points_fill_every_strip_once() {
        for seed in [0, 7] {
            let sobol = Sobol::new(DIMENSIONS, seed);
            for d in 0..DIMENSIONS {
                let mut seen = vec![0; 1024];
                (0..1024).for_each(|i| seen[(sobol.at(i, d) * 1024.0) as usize] += 1);
                assert!(seen.iter().all(|n| *n == 1), "dimension {d}, seed {seed}");
            }
            let mut seen = vec![0; 1024];
            for i in 0..1024 {
                let (x, y) = (sobol.at(i, 0), sobol.at(i, 1));
                seen[(x * 32.0) as usize * 32 + (y * 32.0) as usize] += 1;
            }
            assert!(seen.iter().all(|n| *n == 1), "first pair, seed {seed}");
        }
    }

    /// Points of the published sequence: the first eight in three dimensions, worked by hand from the
    /// recurrence.
    #[test]
    fn first_points_are_the_published_ones() {
        let sobol = Sobol::new(3, 0);
        let wanted = [
            [0.0, 0.0, 0.0],
            [0.5, 0.5, 0.5],
            [0.75, 0.25, 0.25],
            [0.25, 0.75, 0.75],
            [0.375, 0.375, 0.625],
            [0.875, 0.875, 0.125],
            [0.625, 0.125, 0.875],
            [0.125, 0.625, 0.375],
        ];
        for (i, point) in wanted.iter().enumerate() {
            for (d, x) in point.iter().enumerate() {
                assert!((sobol.at(i as u64, d) - x).abs() < 1e-9, "point {i} dimension {d}");
            }
        }
    }
}
