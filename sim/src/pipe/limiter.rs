//! Slopes of the reconstruction.

use crate::lane::{Lane, Mask};

/// Products of neighbouring changes below this count as none: so the common denominator of four of
/// them cannot underflow.
const NOTHING: f64 = 1e-80;

/// Changes over a cell of four quantities from their changes to both neighbours: the harmonic mean,
/// zero at an extremum (B. van Leer, J. Comput. Phys. 14 (1974) 361). Sharper limiters were tried and
/// lose on a standing contact and in steady nozzles, where they never come to rest.
///
/// The four quotients 2ab/(a + b) are brought over one denominator, because dividing is what costs.
#[inline(always)]
pub(super) fn limited<L: Lane>(before: [L; 4], after: [L; 4]) -> [L; 4] {
    let mut product = [L::zero(); 4];
    let mut sum = [L::one(); 4];
    for k in 0..4 {
        let both = before[k] * after[k];
        let same = both.gt(L::splat(NOTHING));
        product[k] = L::select(same, both.scale(2.0), L::zero());
        sum[k] = L::select(same, before[k] + after[k], L::one());
    }
    let (front, back) = (sum[0] * sum[1], sum[2] * sum[3]);
    let over = L::one() / (front * back);
    let (front, back) = (over * back, over * front);
    [
        product[0] * sum[1] * front,
        product[1] * sum[0] * front,
        product[2] * sum[3] * back,
        product[3] * sum[2] * back,
    ]
}

/// How far a burned fraction may stray from [0, 1]: what comes back from a crankcase that does not quite repeat
/// yet may, and gas of one kind must not lose its slopes for that.
const STRAY: f64 = 1e-6;

/// Whether a state can be one of a gas.
#[inline(always)]
pub(super) fn admissible<L: Lane>(density: L, pressure: L, burned: L) -> L::Mask {
    let positive = density.gt(L::zero()).and(pressure.gt(L::zero()));
    positive.and(burned.gt(L::splat(-STRAY))).and(burned.lt(L::splat(1.0 + STRAY)))
}
