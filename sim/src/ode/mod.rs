//! The integrator. It knows no gas: a system, a state, a step.
//!
//! States carried inside the error norm come first, passive ones after them; quadratures stand
//! apart and are summed with the same weights.

pub mod tableau;

use crate::lane::{Lane, Mask, pow};
use tableau::{DENSE, ERROR, NODES, ORDER, STAGES, WEIGHTS};

/// A system of ordinary differential equations.
pub trait System<L: Lane> {
    /// Rates of the states and of the quadratures at `t`. `observed` at the ends of a step, where
    /// the system may note what it saw.
    fn rates(&mut self, t: L, y: &[L], dy: &mut [L], dq: &mut [L], observed: bool);
    /// Says that the rates just asked for were those at the start of a step, and in which lanes they
    /// are used.
    fn started(&mut self, _lanes: L::Mask) {}
    /// Whether any lane needs the quadratures.
    fn sums(&self) -> bool {
        true
    }
}

/// One lane's part of a [`Stepper`] between steps: state, quadratures and their rates.
#[derive(Debug, Clone)]
pub struct Lifted {
    numbers: [Vec<f64>; 4],
    stale: bool,
}

/// Numbers worked on at once: all arrays are filled up to a multiple of it, so that no rest is left.
const BLOCK: usize = 4;

/// Work memory of one integration: all arrays have the layout of the state, filled up with zeros to
/// whole blocks.
#[derive(Debug, Clone)]
pub struct Stepper<L: Lane> {
    /// State at the start of the step.
    pub y: Vec<L>,
    /// State at its end.
    pub y_end: Vec<L>,
    /// Quadratures at the start of the step.
    pub q: Vec<L>,
    /// Quadratures at its end.
    pub q_end: Vec<L>,
    /// Stage rates.
    pub k: [Vec<L>; STAGES],
    /// Stage rates of the quadratures.
    k_q: [Vec<L>; STAGES],
    stage: Vec<L>,
    /// Lanes whose first stage has to be evaluated.
    stale: L::Mask,
    /// States, and quadratures.
    count: [usize; 2],
    normed: usize,
    stages: usize,
}

impl<L: Lane> Stepper<L> {
    /// For `states` states, the first `normed` of which count in the error, and `quadratures`.
    #[must_use]
    pub fn new(states: usize, normed: usize, quadratures: usize) -> Self {
        let zeros = |n: usize| vec![L::zero(); n.next_multiple_of(BLOCK)];
        Self {
            y: zeros(states),
            y_end: zeros(states),
            q: zeros(quadratures),
            q_end: zeros(quadratures),
            k: std::array::from_fn(|_| zeros(states)),
            k_q: std::array::from_fn(|_| zeros(quadratures)),
            stage: zeros(states),
            stale: L::mask_from_fn(|_| true),
            count: [states, quadratures],
            normed,
            stages: std::hint::black_box(STAGES),
        }
    }

    /// Has the first stage evaluated again before the next step in the lanes of `mask`: where the state
    /// has been set or the right-hand side has jumped.
    #[inline(always)]
    pub fn restart(&mut self, mask: L::Mask) {
        self.stale = self.stale.or(mask);
    }

    /// Tries a step of `h` from `t`: fills `y_end` and `q_end`, returns the error norm per lane, at
    /// most 1 for an acceptable step. `scale` gives the size of each normed state below which the
    /// tolerance is absolute.
    #[allow(clippy::needless_range_loop, reason = "a stage has its place in several arrays")]
    #[inline(always)]
    pub fn attempt(
        &mut self,
        system: &mut impl System<L>,
        t: L,
        h: L,
        tolerance: L,
        scale: &[L],
    ) -> L {
        let [states, sums] = self.count;
        let stale = self.stale;
        self.stale = L::mask_from_fn(|_| false);
        // the count is read at run time so that the loop, and the right-hand side in it, is not
        // unrolled: six copies would not fit the instruction cache
        for stage in usize::from(!stale.any())..self.stages {
            // the first stage is worked out in the place of the second
            let place = stage.max(1);
            let (done, rest) = self.k.split_at_mut(place);
            let last = stage + 1 == STAGES;
            let target = if last { &mut self.y_end } else { &mut self.stage };
            if stage == 0 {
                target.copy_from_slice(&self.y);
            } else {
                combine(target, &self.y, h, stage, done);
            }
            let at = t + h.scale(NODES[stage]);
            let (rates, flows) = (&mut rest[0], &mut self.k_q[place]);
            let observed = last || stage == 0;
            system.rates(at, &target[..states], &mut rates[..states], &mut flows[..sums], observed);
            if stage == 0 {
                blend(stale, rates, &mut done[0]);
                let (first, second) = self.k_q.split_at_mut(1);
                blend(stale, &second[0], &mut first[0]);
                system.started(stale);
            }
        }
        if system.sums() {
            combine(&mut self.q_end, &self.q, h, STAGES - 1, &self.k_q);
        }
        self.error(h, tolerance, scale)
    }

    #[inline(always)]
    fn error(&mut self, h: L, tolerance: L, scale: &[L]) -> L {
        let squares = blocks_mut(&mut self.stage);
        let (before, after) = (blocks(&self.y), blocks(&self.y_end));
        let k: [&[[L; BLOCK]]; STAGES] = std::array::from_fn(|stage| blocks(&self.k[stage]));
        let count = self.normed.div_ceil(BLOCK);
        for b in 0..count {
            for i in 0..BLOCK {
                let mut estimate = k[0][b][i].scale(ERROR[0]);
                for stage in 2..STAGES {
                    estimate += k[stage][b][i].scale(ERROR[stage]);
                }
                let floor = scale[(b * BLOCK + i).min(scale.len() - 1)];
                let (before, after) = (before[b][i].abs(), after[b][i].abs());
                let size = L::select(before.lt(after), after, before) + floor;
                squares[b][i] = (h * estimate / size).squared();
            }
        }
        let mut sum = L::zero();
        for square in &self.stage[..self.normed] {
            sum += *square;
        }
        (sum.scale(1.0 / self.normed as f64)).sqrt() / tolerance
    }

    /// Takes over the step in the lanes of `mask`: the end becomes the start, the last stage the
    /// first.
    #[inline(always)]
    pub fn accept(&mut self, mask: L::Mask) {
        if !mask.not().any() {
            std::mem::swap(&mut self.y, &mut self.y_end);
            std::mem::swap(&mut self.q, &mut self.q_end);
            self.k.swap(0, STAGES - 1);
            self.k_q.swap(0, STAGES - 1);
            return;
        }
        blend(mask, &self.y_end, &mut self.y);
        blend(mask, &self.q_end, &mut self.q);
        for k in [&mut self.k, &mut self.k_q] {
            let [first, .., last] = k;
            blend(mask, last, first);
        }
    }

    /// What a lane needs to go on in another lane.
    #[must_use]
    pub fn lift(&self, lane: usize) -> Lifted {
        let of = |numbers: &[L]| numbers.iter().map(|number| number.lane(lane)).collect();
        let numbers = [of(&self.y), of(&self.q), of(&self.k[0]), of(&self.k_q[0])];
        Lifted { numbers, stale: self.stale.lane(lane) }
    }

    /// Goes on in `lane` with what has been lifted elsewhere.
    pub fn put(&mut self, lane: usize, lifted: &Lifted) {
        let places = [&mut self.y, &mut self.q, &mut self.k[0], &mut self.k_q[0]];
        for (places, numbers) in places.into_iter().zip(&lifted.numbers) {
            for (place, number) in places.iter_mut().zip(numbers) {
                place.set_lane(lane, *number);
            }
        }
        let stale = self.stale;
        self.stale = L::mask_from_fn(|i| if i == lane { lifted.stale } else { stale.lane(i) });
    }

    /// State `index` of `lane` inside the step just tried, at the share `s` of its length `h`; to be
    /// asked before the step is accepted.
    #[must_use]
    pub fn dense(&self, index: usize, lane: usize, h: f64, s: f64) -> f64 {
        let y0 = self.y[index].lane(lane);
        let y1 = self.y_end[index].lane(lane);
        let rise = y1 - y0;
        let k = |stage: usize| self.k[stage][index].lane(lane);
        let bend = h * k(0) - rise;
        let twist = rise - h * k(6) - bend;
        let quartic: f64 = h * (0..STAGES).map(|j| DENSE[j] * k(j)).sum::<f64>();
        let r = 1.0 - s;
        y0 + s * (rise + r * (bend + s * (twist + r * quartic)))
    }
}

/// `target = y + h·Σ weights·k` with the weights of `stage`, the sum taken in the order of the stages.
#[inline(always)]
fn combine<L: Lane>(target: &mut [L], y: &[L], h: L, stage: usize, k: &[Vec<L>]) {
    match stage {
        1 => combine_stages::<L, 1>(target, y, h, k),
        2 => combine_stages::<L, 2>(target, y, h, k),
        3 => combine_stages::<L, 3>(target, y, h, k),
        4 => combine_stages::<L, 4>(target, y, h, k),
        5 => combine_stages::<L, 5>(target, y, h, k),
        _ => combine_stages::<L, 6>(target, y, h, k),
    }
}

/// The same for a stage known to the compiler, one pass over the state.
#[inline(always)]
fn combine_stages<L: Lane, const STAGE: usize>(target: &mut [L], y: &[L], h: L, k: &[Vec<L>]) {
    let target = blocks_mut(target);
    let n = target.len();
    let y = &blocks(y)[..n];
    let rates: [&[[L; BLOCK]]; STAGE] = std::array::from_fn(|stage| &blocks(&k[stage])[..n]);
    for b in 0..n {
        for i in 0..BLOCK {
            let mut sum = rates[0][b][i].scale(WEIGHTS[STAGE][0]);
            for stage in 1..STAGE {
                // b₂ is zero: no work for nothing
                if WEIGHTS[STAGE][stage] != 0.0 {
                    sum += rates[stage][b][i].scale(WEIGHTS[STAGE][stage]);
                }
            }
            target[b][i] = y[b][i] + h * sum;
        }
    }
}

#[inline(always)]
fn blocks<L>(numbers: &[L]) -> &[[L; BLOCK]] {
    numbers.as_chunks().0
}

#[inline(always)]
fn blocks_mut<L>(numbers: &mut [L]) -> &mut [[L; BLOCK]] {
    numbers.as_chunks_mut().0
}

#[inline(always)]
fn blend<L: Lane>(mask: L::Mask, from: &[L], into: &mut [L]) {
    for (into, from) in blocks_mut(into).iter_mut().zip(blocks(from)) {
        for i in 0..BLOCK {
            into[i] = L::select(mask, from[i], into[i]);
        }
    }
}

/// Largest growth of the step from one to the next.
const LARGEST_GROWTH: f64 = 5.0;
/// Smallest shrinking.
const LARGEST_CUT: f64 = 0.2;
/// Safety on the optimal step.
const SAFETY: f64 = 0.9;
/// Weight of the previous error (Hairer, Nørsett and Wanner 1993, sec. IV.2, β for order 5).
const MEMORY: f64 = 0.04;

/// Step size control of one lane (proportional–integral).
#[derive(Debug, Clone, Copy)]
pub struct StepControl {
    previous_error: f64,
    rejected: bool,
}

impl Default for StepControl {
    fn default() -> Self {
        Self { previous_error: 1e-4, rejected: false }
    }
}

impl StepControl {
    /// Factor for the next step after one with this error norm; `None` when the step is refused, with
    /// the factor for the new try inside `Err`.
    ///
    /// # Errors
    /// The step is refused when the norm is above 1 or not a number.
    pub fn judge(&mut self, error: f64) -> Result<f64, f64> {
        let exponent = 1.0 / ORDER - 0.75 * MEMORY;
        let floor = 1e-10;
        if error <= 1.0 {
            let e = if error < floor { floor } else { error };
            let mut factor = SAFETY * pow(e, -exponent) * pow(self.previous_error, MEMORY);
            factor = factor.clamp(LARGEST_CUT, LARGEST_GROWTH);
            if self.rejected {
                factor = factor.min(1.0);
            }
            self.previous_error = if e < 1e-4 { 1e-4 } else { e };
            self.rejected = false;
            Ok(factor)
        } else {
            self.rejected = true;
            // also for NaN
            let factor = if error < 1e10 { SAFETY * pow(error, -1.0 / ORDER) } else { LARGEST_CUT };
            Err(factor.clamp(LARGEST_CUT, 1.0))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Oscillator;
    impl System<f64> for Oscillator {
        fn rates(&mut self, _t: f64, y: &[f64], dy: &mut [f64], dq: &mut [f64], _observed: bool) {
            dy[0] = y[1];
            dy[1] = -y[0];
            dq[0] = y[0] * y[0];
        }
    }

    fn end_error(steps: u32) -> (f64, f64, f64) {
        let mut stepper = Stepper::<f64>::new(2, 2, 1);
        stepper.y[..2].copy_from_slice(&[0.0, 1.0]);
        let h = 3.0 / f64::from(steps);
        let mut dense: f64 = 0.0;
        for i in 0..steps {
            let t = h * f64::from(i);
            stepper.attempt(&mut Oscillator, t, h, 1e-8, &[1.0, 1.0]);
            dense = dense.max((stepper.dense(0, 0, h, 0.6) - (t + 0.6 * h).sin()).abs());
            stepper.accept(true);
        }
        let square = 1.5 - 6.0_f64.sin() / 4.0;
        ((stepper.y[0] - 3.0_f64.sin()).abs(), (stepper.q[0] - square).abs(), dense)
    }

    #[test]
    fn observed_order_is_the_declared_one() {
        let (coarse, fine) = (end_error(20), end_error(40));
        let order = |a: f64, b: f64| (a / b).log2();
        assert!(order(coarse.0, fine.0) > ORDER - 0.2, "{coarse:?} {fine:?}");
        assert!(order(coarse.1, fine.1) > ORDER - 0.2, "{coarse:?} {fine:?}");
        // dense output is of fourth degree
        assert!(order(coarse.2, fine.2) > 4.5, "{coarse:?} {fine:?}");
    }

    #[test]
    fn a_step_with_no_error_number_is_refused() {
        assert!(StepControl::default().judge(f64::NAN).is_err());
        assert!(StepControl::default().judge(1.5).is_err());
        assert!(StepControl::default().judge(0.5).is_ok());
    }
}
