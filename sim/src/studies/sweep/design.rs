//! Sampled numbers: which point of a box a number means.

use rand_pcg::Pcg64;
use rand_pcg::rand_core::{Rng, SeedableRng};

use super::plan::Varied;
use super::sobol::{DIMENSIONS, Sobol};

/// How points are placed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Design {
    /// Evenly, by a Sobol sequence.
    Sobol,
    /// One point in each of `count` strips of every number.
    LatinHypercube,
    /// For Sobol indices: two independent sets A and B of `count` points, and for each number the set
    /// A with that number from B. A block of numbers + 2 points belongs together.
    Indices,
}

/// Numbers sampled together.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// How.
    pub design: Design,
    /// Points; for [`Design::Indices`] blocks of points.
    pub count: u64,
    /// Seed.
    pub seed: u64,
    /// Whether the numbers are readings that may be off, so that what was measured in the present
    /// state moves with them; else they are choices, and readings keep their state.
    pub readings: bool,
    /// The numbers, each with two values: the ends of its range.
    pub over: Vec<Varied>,
}

/// Most points of a Latin hypercube, whose order is kept in memory.
const MOST_STRIPS: u64 = 1 << 20;
/// Most points of a Sobol sequence.
const MOST_POINTS: u64 = 1 << 32;

impl Sample {
    /// Points in all.
    #[must_use]
    pub fn points(&self) -> u128 {
        let count = u128::from(self.count);
        match self.design {
            Design::Sobol | Design::LatinHypercube => count,
            Design::Indices => count * (self.over.len() as u128 + 2),
        }
    }

    /// What keeps it from being drawn.
    pub(super) fn fault(&self) -> Option<(&'static str, String)> {
        let numbers = self.over.len();
        let most = match self.design {
            Design::LatinHypercube => usize::MAX,
            Design::Sobol => DIMENSIONS,
            Design::Indices => DIMENSIONS / 2,
        };
        if numbers == 0 || numbers > most {
            let remedy = format!("between 1 and {most} numbers can be sampled so, not {numbers}");
            return Some(("over", remedy));
        }
        let most = match self.design {
            Design::LatinHypercube => MOST_STRIPS,
            Design::Sobol | Design::Indices => MOST_POINTS,
        };
        if self.count == 0 || self.count > most {
            let remedy = format!("the count must lie between 1 and {most}, not {}", self.count);
            return Some(("count", remedy));
        }
        None
    }
}

/// A sample ready to be asked for its points.
#[derive(Debug, Clone)]
pub struct Sampled {
    sample: Sample,
    placed: Placed,
}

#[derive(Debug, Clone)]
enum Placed {
    Sobol(Sobol),
    /// Strip of each point, for each number.
    Strips(Vec<Vec<u32>>),
}

impl Sampled {
    /// Ready.
    #[must_use]
    pub fn new(sample: Sample) -> Self {
        let numbers = sample.over.len();
        let placed = match sample.design {
            Design::Sobol => Placed::Sobol(Sobol::new(numbers, sample.seed)),
            Design::Indices => Placed::Sobol(Sobol::new(2 * numbers, sample.seed)),
            Design::LatinHypercube => {
                Placed::Strips((0..numbers).map(|d| strips(&sample, d)).collect())
            }
        };
        Self { sample, placed }
    }

    /// Value of number `which` in point `index`.
    #[must_use]
    pub fn value(&self, index: u64, which: usize) -> f64 {
        let share = self.share(index, which);
        let ends = &self.sample.over[which].values;
        ends[0] + share * (ends[1] - ends[0])
    }

    /// The same between 0 and 1.
    fn share(&self, index: u64, which: usize) -> f64 {
        match &self.placed {
            Placed::Strips(strips) => {
                let strip = strips[which].get(index as usize).copied().unwrap_or_default();
                let mut random = stream(self.sample.seed, 2 * which + 1);
                random.advance(u128::from(index));
                let within = (random.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
                (f64::from(strip) + within) / self.sample.count as f64
            }
            Placed::Sobol(sobol) if self.sample.design == Design::Indices => {
                let numbers = self.sample.over.len();
                let (point, member) = split(index, numbers);
                let from_b = member == 1 || member == which + 2;
                sobol.at(point, if from_b { numbers + which } else { which })
            }
            Placed::Sobol(sobol) => sobol.at(index, which),
        }
    }
}

/// Block, and place in it: 0 is A, 1 is B, 2 + i is A with number i from B.
fn split(index: u64, numbers: usize) -> (u64, usize) {
    let block = numbers as u64 + 2;
    (index / block, (index % block) as usize)
}

fn stream(seed: u64, number: usize) -> Pcg64 {
    let mut random = Pcg64::seed_from_u64(seed);
    // a stream of its own for each number, far from all others
    random.advance((number as u128 + 1) << 64);
    random
}

/// A random order of the strips.
fn strips(sample: &Sample, which: usize) -> Vec<u32> {
    let mut random = stream(sample.seed, 2 * which);
    let mut order: Vec<u32> = (0..sample.count as u32).collect();
    for i in (1..order.len()).rev() {
        // a multiply and shift: bias below 2⁻⁴⁰ for a million strips
        let j = (u128::from(random.next_u64()) * (i as u128 + 1)) >> 64;
        order.swap(i, j as usize);
    }
    order
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(design: Design, count: u64, seed: u64) -> Sampled {
        let over = ["a", "b", "c"].map(|path| Varied::new(path, vec![-1.0, 3.0]));
        Sampled::new(Sample { design, count, seed, readings: false, over: over.to_vec() })
    }

    #[test]
    fn a_latin_hypercube_has_one_point_in_every_strip() {
        let drawn = sample(Design::LatinHypercube, 50, 11);
        for which in 0..3 {
            let mut seen = [0; 50];
            for i in 0..50 {
                let value = drawn.value(i, which);
                assert!((-1.0..3.0).contains(&value));
                seen[((value + 1.0) / 4.0 * 50.0) as usize] += 1;
            }
            assert!(seen.iter().all(|n| *n == 1));
        }
        let again = sample(Design::LatinHypercube, 50, 11);
        let other = sample(Design::LatinHypercube, 50, 12);
        assert_eq!(drawn.value(7, 2), again.value(7, 2));
        assert_ne!(drawn.value(7, 2), other.value(7, 2));
        assert_ne!(drawn.value(7, 1), drawn.value(7, 2));
    }

    #[test]
    fn blocks_for_indices_differ_in_one_number_from_the_first() {
        let drawn = sample(Design::Indices, 8, 3);
        for block in 0..8 {
            let point = |member: u64| [0, 1, 2].map(|d| drawn.value(block * 5 + member, d));
            let (a, b) = (point(0), point(1));
            for i in 0..3 {
                for d in 0..3 {
                    assert_eq!(point(2 + i)[d as usize], if d == i { b } else { a }[d as usize]);
                }
            }
        }
    }
}
