//! Anderson acceleration of a fixed-point iteration z ← G(z).
//!
//! D. G. Anderson, *Iterative procedures for nonlinear integral equations*, J. ACM 12 (1965)
//! 547–560; least squares by modified Gram–Schmidt with the oldest differences dropped when they
//! are nearly dependent (H. F. Walker and P. Ni, SIAM J. Numer. Anal. 49 (2011) 1715–1735). Written
//! out here because general matrix libraries choose their kernels by processor, and with them bits.
//!
//! # Decisions
//!
//! - Between two stable states lies a third that cycles lead away from, and the acceleration finds it as
//!   readily as either. There 1 − J has a negative determinant; the differences that this method
//!   remembers show its sign (`leads_away`). Such a state is not settled; plain cycles take over, and
//!   where they do not get away from it in the cycles allowed the point says so. Which of two stable
//!   states a search comes to it cannot know to be a choice.

/// History of one iteration.
#[derive(Debug, Clone, Default)]
pub(super) struct Anderson {
    memory: usize,
    previous: Option<(Vec<f64>, Vec<f64>)>,
    residual_differences: Vec<Vec<f64>>,
    image_differences: Vec<Vec<f64>>,
}

/// Smallest share of a column that must be new for it to be kept: what is newer than that in a
/// difference taken far from the fixed point is curvature of the map (of 10⁻⁴ to 3·10⁻² this took the
/// fewest cycles on the shipped engines).
const INDEPENDENT: f64 = 1e-2;

impl Anderson {
    /// Remembering at most `memory` differences.
    #[must_use]
    pub(super) fn new(memory: usize) -> Self {
        Self { memory, ..Self::default() }
    }

    /// Forgets everything.
    pub(super) fn clear(&mut self) {
        self.previous = None;
        self.residual_differences.clear();
        self.image_differences.clear();
    }

    /// How many differences it goes by.
    pub(super) fn differences(&self) -> usize {
        self.residual_differences.len()
    }

    /// The next iterate after `image` = G(`z`).
    #[must_use]
    pub(super) fn next(&mut self, z: &[f64], image: &[f64]) -> Vec<f64> {
        let residual: Vec<f64> = image.iter().zip(z).map(|(g, z)| g - z).collect();
        if let Some((old_residual, old_image)) = self.previous.take() {
            if self.residual_differences.len() == self.memory {
                self.residual_differences.remove(0);
                self.image_differences.remove(0);
            }
            self.residual_differences.push(minus(&residual, &old_residual));
            self.image_differences.push(minus(image, &old_image));
        }
        let weights = self.weights(&residual);
        let mut next = image.to_vec();
        for (weight, difference) in weights.iter().zip(&self.image_differences) {
            for (value, d) in next.iter_mut().zip(difference) {
                *value -= weight * d;
            }
        }
        self.previous = Some((residual, image.to_vec()));
        next
    }

    /// Whether the map leads away from the fixed point it is near, as far as the differences show: an odd
    /// number of its real eigenvalues lies above 1 where det(1 − J) < 0, and 1 − J takes a difference of
    /// iterates to the residuals' with its sign turned. Between two stable fixed points lies one like that,
    /// and an accelerated search finds it as readily as either.
    #[must_use]
    pub(super) fn leads_away(&self) -> bool {
        let both = self.image_differences.iter().zip(&self.residual_differences);
        let iterates: Vec<_> = both.map(|(image, residual)| minus(image, residual)).collect();
        let basis = Basis::new(&iterates);
        let turned = |q: &Vec<f64>| {
            basis.of.iter().map(|at| -dot(q, &self.residual_differences[*at])).collect()
        };
        negative_determinant(basis.vectors.iter().map(turned).collect())
    }

    /// Weights γ that bring ‖residual − Σ γ·difference‖ to its least, newest differences first in
    /// rank; dependent ones get zero.
    fn weights(&self, residual: &[f64]) -> Vec<f64> {
        let basis = Basis::new(&self.residual_differences);
        let mut rest = residual.to_vec();
        let mut along = Vec::with_capacity(basis.of.len());
        for q in &basis.vectors {
            let part = dot(q, &rest);
            axpy(&mut rest, -part, q);
            along.push(part);
        }
        let mut weights = vec![0.0; self.residual_differences.len()];
        for (row, at) in basis.of.iter().enumerate().rev() {
            let later = row + 1..basis.of.len();
            let sum = later.fold(along[row], |sum, column| {
                sum - basis.columns[column][row] * weights[basis.of[column]]
            });
            weights[*at] = sum / basis.columns[row][row];
        }
        weights
    }
}

/// Orthonormal basis of columns, the newest first; dependent ones are left out.
#[derive(Default)]
struct Basis {
    /// Its vectors.
    vectors: Vec<Vec<f64>>,
    /// Index of the column that each stands for.
    of: Vec<usize>,
    /// Coefficients of each of those columns in the vectors.
    columns: Vec<Vec<f64>>,
}

impl Basis {
    fn new(columns: &[Vec<f64>]) -> Self {
        let mut basis = Self::default();
        for (index, column) in columns.iter().enumerate().rev() {
            let (mut rest, mut coefficients) = (column.clone(), Vec::new());
            for q in &basis.vectors {
                let along = dot(q, &rest);
                axpy(&mut rest, -along, q);
                coefficients.push(along);
            }
            let left = norm(&rest);
            if left > INDEPENDENT * norm(column) && left > 0.0 {
                rest.iter_mut().for_each(|value| *value /= left);
                coefficients.push(left);
                basis.vectors.push(rest);
                basis.of.push(index);
                basis.columns.push(coefficients);
            }
        }
        basis
    }
}

/// Whether the determinant of a square matrix is negative, by elimination with the largest pivot of a column.
fn negative_determinant(mut rows: Vec<Vec<f64>>) -> bool {
    let (count, mut negative) = (rows.len(), false);
    for k in 0..count {
        let size = |row: &usize| rows[*row][k].abs();
        let Some(pivot) = (k..count).max_by(|a, b| size(a).total_cmp(&size(b))) else { break };
        negative ^= (pivot != k) ^ (rows[pivot][k] < 0.0);
        rows.swap(k, pivot);
        let (done, left) = rows.split_at_mut(k + 1);
        for row in left {
            let factor = row[k] / done[k][k];
            axpy(row, -factor, &done[k]);
        }
    }
    negative
}

pub(super) fn minus(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a - b).collect()
}

pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn norm(a: &[f64]) -> f64 {
    dot(a, a).sqrt()
}

fn axpy(a: &mut [f64], factor: f64, b: &[f64]) {
    for (a, b) in a.iter_mut().zip(b) {
        *a += factor * b;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_linear_map_is_solved_in_as_many_steps_as_unknowns() {
        let map = |z: &[f64]| {
            vec![
                0.9 * z[0] + 0.05 * z[1] + 1.0,
                0.02 * z[0] + 0.7 * z[1] - 0.3,
                0.1 * z[1] - 0.5 * z[2] + 2.0,
            ]
        };
        let mut anderson = Anderson::new(5);
        let mut z = vec![0.0; 3];
        for _ in 0..5 {
            let image = map(&z);
            z = anderson.next(&z, &image);
        }
        let error = norm(&minus(&map(&z), &z));
        assert!(error < 1e-9, "{error}");
        assert!(!anderson.leads_away());
    }

    #[test]
    fn a_fixed_point_that_cycles_run_away_from_is_known() {
        // stable at ±1 in the first unknown and not at 0 between them; the second turns about, the third
        // changes its sign each time
        let map = |z: &[f64]| {
            let x = z[0] + 0.1 * (z[0] - z[0] * z[0] * z[0]);
            vec![x, 0.5 * z[1] - 0.7 * z[2] + 0.1 * z[0], 0.7 * z[1] + 0.5 * z[2], -0.9 * z[3]]
        };
        for (start, fixed) in [(0.2, 0.0), (1.3, 1.0), (-1.2, -1.0)] {
            let mut anderson = Anderson::new(8);
            let mut z = vec![start, 0.3, -0.2, 0.4];
            for _ in 0..8 {
                let image = map(&z);
                z = anderson.next(&z, &image);
            }
            assert!((z[0] - fixed).abs() < 0.02, "{start}: {z:?}");
            assert_eq!(anderson.leads_away(), fixed == 0.0, "{start}: {z:?}");
        }
    }
}
