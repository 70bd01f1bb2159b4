//! Anderson acceleration of a fixed-point iteration z ← G(z).
//!
//! D. G. Anderson, *Iterative procedures for nonlinear integral equations*, J. ACM 12 (1965)
//! 547–560; least squares by modified Gram–Schmidt with the oldest differences dropped when they
//! are nearly dependent (H. F. Walker and P. Ni, SIAM J. Numer. Anal. 49 (2011) 1715–1735). Written
//! out here because general matrix libraries choose their kernels by processor, and with them bits.

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

    /// Weights γ that bring ‖residual − Σ γ·difference‖ to its least, newest differences first in
    /// rank; dependent ones get zero.
    fn weights(&self, residual: &[f64]) -> Vec<f64> {
        let count = self.residual_differences.len();
        let mut basis: Vec<(usize, Vec<f64>)> = Vec::new();
        let mut triangle = vec![vec![0.0; count]; count];
        for index in (0..count).rev() {
            let mut column = self.residual_differences[index].clone();
            let size = norm(&column);
            for (slot, (_, q)) in basis.iter().enumerate() {
                let along = dot(q, &column);
                triangle[slot][basis.len()] = along;
                axpy(&mut column, -along, q);
            }
            let left = norm(&column);
            if left > INDEPENDENT * size && left > 0.0 {
                triangle[basis.len()][basis.len()] = left;
                for value in &mut column {
                    *value /= left;
                }
                basis.push((index, column));
            }
        }
        let mut rest = residual.to_vec();
        let mut along = Vec::with_capacity(basis.len());
        for (_, q) in &basis {
            let part = dot(q, &rest);
            axpy(&mut rest, -part, q);
            along.push(part);
        }
        let mut weights = vec![0.0; count];
        let mut solution = vec![0.0; basis.len()];
        for row in (0..basis.len()).rev() {
            let mut sum = along[row];
            for column in row + 1..basis.len() {
                sum -= triangle[row][column] * solution[column];
            }
            solution[row] = sum / triangle[row][row];
            weights[basis[row].0] = solution[row];
        }
        weights
    }
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
    }
}
