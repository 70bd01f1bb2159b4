//! Newton's method for the fixed point of a cycle map z ← G(z).
//!
//! The Jacobian of G(z) − z comes from cycles with one entry of z displaced, on the steps of the cycle
//! that they are compared with, and is kept up by Broyden's rank-one updates of its inverse
//! (C. G. Broyden, *A class of methods for solving nonlinear simultaneous equations*, Math. Comp. 19
//! (1965) 577–593). Written out here because general matrix libraries choose their kernels by
//! processor, and with them bits.
//!
//! # Decisions
//!
//! - Three plain cycles at a loose tolerance bring the state near. Then the third is repeated on its own
//!   steps with one entry of the state displaced each time (`probes` in `vector.rs` says which; the
//!   probing cycles run side by side in lanes, which they fill because all take the same steps), and
//!   Newton's method takes over at the final tolerance, its inverse kept up by Broyden's updates; a chain
//!   hands it to its next point. Where a change grows, the map is probed once more; where that does not
//!   help, Anderson's method goes on. The probing cycles follow the error rule of any cycle: steps left
//!   at the edge of stability would let a displacement grow.

use std::cell::RefCell;

use super::anderson::{dot, minus};
use crate::result::WorkCounts;

/// Smallest pivot, over one, of a Jacobian that says something.
const SMALLEST_PIVOT: f64 = 1e-9;
/// Smallest share of a step that an update must leave standing.
const SAFE_UPDATE: f64 = 0.1;

/// Cycles to be made with one entry displaced in each, and what comes of them.
pub(super) struct Probes {
    /// States at their start.
    pub(super) starts: Vec<Vec<f64>>,
    /// Ends of the steps that all of them take [rad].
    pub(super) grid: Vec<f64>,
    /// Vectors at their end; none where one has failed or not been made.
    pub(super) ends: RefCell<Vec<Option<Vec<f64>>>>,
    /// What they have cost.
    pub(super) work: RefCell<WorkCounts>,
}

impl Probes {
    /// From these states on these steps.
    pub(super) fn new(starts: Vec<Vec<f64>>, grid: Vec<f64>) -> Self {
        let ends = RefCell::new(vec![None; starts.len()]);
        Self { starts, grid, ends, work: RefCell::default() }
    }

    /// Takes note of the vector at the end of one.
    pub(super) fn ended(&self, index: usize, end: &[f64], work: &WorkCounts) {
        self.ends.borrow_mut()[index] = Some(end.to_vec());
        self.work.borrow_mut().add(work);
    }
}

/// The inverse Jacobian of G(z) − z, and the last iterate with what the map made of it.
#[derive(Debug, Clone)]
pub(super) struct Newton {
    inverse: Vec<Vec<f64>>,
    last: Option<(Vec<f64>, Vec<f64>)>,
}

impl Newton {
    /// From the columns ∂G/∂z; none when they do not tell all directions apart.
    pub(super) fn new(columns: &[Vec<f64>]) -> Option<Self> {
        let n = columns.len();
        let unit = |i: usize, j: usize| if i == j { 1.0 } else { 0.0 };
        // Gauss and Jordan, the identity beside the matrix turning into its inverse
        let entry =
            |i: usize, j: usize| if j < n { columns[j][i] - unit(i, j) } else { unit(i, j - n) };
        let mut rows: Vec<Vec<f64>> =
            (0..n).map(|i| (0..2 * n).map(|j| entry(i, j)).collect()).collect();
        for k in 0..n {
            let size = |i: &usize| rows[*i][k].abs();
            let pivot = (k..n).max_by(|a, b| size(a).total_cmp(&size(b)))?;
            // also refuses NaN
            if !(size(&pivot) > SMALLEST_PIVOT && size(&pivot).is_finite()) {
                return None;
            }
            rows.swap(k, pivot);
            let scale = 1.0 / rows[k][k];
            rows[k].iter_mut().for_each(|value| *value *= scale);
            let leading = rows[k].clone();
            for (_, row) in rows.iter_mut().enumerate().filter(|(i, _)| *i != k) {
                let factor = row[k];
                row.iter_mut().zip(&leading).for_each(|(value, lead)| *value -= factor * lead);
            }
        }
        Some(Self { inverse: rows.iter().map(|row| row[n..].to_vec()).collect(), last: None })
    }

    /// Says that the map is about to change: what it made of the last iterate tells nothing about the
    /// next.
    pub(super) fn map_changes(&mut self) {
        self.last = None;
    }

    /// The next iterate after `image` = G(`z`).
    pub(super) fn next(&mut self, z: &[f64], image: &[f64]) -> Vec<f64> {
        let defect = minus(image, z);
        if let Some((old_z, old_defect)) = self.last.take() {
            self.update(&minus(z, &old_z), &minus(&defect, &old_defect));
        }
        let next = self.inverse.iter().zip(z).map(|(row, z)| z - dot(row, &defect)).collect();
        self.last = Some((z.to_vec(), defect));
        next
    }

    /// Makes the inverse map `change` onto `step` and leaves it alone elsewhere as far as that goes.
    fn update(&mut self, step: &[f64], change: &[f64]) {
        let foreseen: Vec<f64> = self.inverse.iter().map(|row| dot(row, change)).collect();
        let along = dot(step, &foreseen);
        if along.abs() <= SAFE_UPDATE * dot(step, step) {
            return;
        }
        let mut transposed = vec![0.0; step.len()];
        for (share, row) in step.iter().zip(&self.inverse) {
            transposed.iter_mut().zip(row).for_each(|(sum, value)| *sum += share * value);
        }
        for ((row, step), foreseen) in self.inverse.iter_mut().zip(step).zip(&foreseen) {
            let factor = (step - foreseen) / along;
            row.iter_mut().zip(&transposed).for_each(|(value, t)| *value += factor * t);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A map that bends a little, and its fixed point by many plain cycles.
    fn map(z: &[f64]) -> Vec<f64> {
        vec![
            0.9 * z[0] + 0.05 * z[1] + 0.1 - 0.01 * z[0] * z[0],
            0.02 * z[0] + 0.7 * z[1] - 0.3,
            0.1 * z[1] - 0.5 * z[2] + 2.0 + 0.02 * z[0] * z[2],
        ]
    }

    fn worst(z: &[f64]) -> f64 {
        minus(&map(z), z).iter().fold(0.0, |worst: f64, d| worst.max(d.abs()))
    }

    #[test]
    fn displaced_images_give_a_step_that_converges() {
        let mut z = vec![0.5, -0.5, 1.0];
        let base = map(&z);
        let columns: Vec<Vec<f64>> = (0..3)
            .map(|j| {
                let mut displaced = z.clone();
                displaced[j] += 1e-4;
                minus(&map(&displaced), &base).iter().map(|d| d / 1e-4).collect()
            })
            .collect();
        let mut newton = Newton::new(&columns).expect("a regular map");
        for _ in 0..5 {
            let image = map(&z);
            z = newton.next(&z, &image);
        }
        assert!(worst(&z) < 1e-13, "{z:?}");
    }

    /// D. M. Gay, *Some convergence properties of Broyden's method*, SIAM J. Numer. Anal. 16 (1979)
    /// 623–630: a linear system of n unknowns is solved in at most 2n steps.
    #[test]
    fn updates_solve_a_linear_map_in_twice_as_many_steps_as_unknowns() {
        let linear = |z: &[f64]| vec![0.6 * z[0] + 0.3 * z[1] + 1.0, -0.2 * z[0] + 0.5 * z[1]];
        let mut newton = Newton::new(&[vec![0.0; 2], vec![0.0; 2]]).expect("minus one each");
        let mut z = vec![0.0; 2];
        for _ in 0..5 {
            let image = linear(&z);
            z = newton.next(&z, &image);
        }
        let left = minus(&linear(&z), &z);
        assert!(dot(&left, &left).sqrt() < 1e-12, "{left:?}");
    }

    #[test]
    fn a_direction_that_does_not_move_is_no_regular_map() {
        // G(z) = z in the second entry
        let columns = [vec![0.5, 0.0], vec![0.0, 1.0]];
        assert!(Newton::new(&columns).is_none());
        assert!(Newton::new(&[vec![f64::NAN]]).is_none());
    }
}
