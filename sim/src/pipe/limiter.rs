//! Slopes of the reconstruction.

use crate::lane::{Lane, Mask};

/// Change over a cell from the changes to both neighbours: their harmonic mean, zero at an extremum
/// (B. van Leer, J. Comput. Phys. 14 (1974) 361). Sharper limiters were tried and lose on a standing
/// contact and in steady nozzles, where they never come to rest.
#[inline(always)]
pub(super) fn limited<L: Lane>(before: L, after: L) -> L {
    let product = before * after;
    let same = product.gt(L::zero());
    let sum = L::select(same, before + after, L::one());
    L::select(same, product.scale(2.0) / sum, L::zero())
}

/// How far a burned fraction may stray from [0, 1] by rounding.
const STRAY: f64 = 1e-12;

/// Whether a state can be one of a gas.
#[inline(always)]
pub(super) fn admissible<L: Lane>(density: L, pressure: L, burned: L) -> L::Mask {
    let positive = density.gt(L::zero()).and(pressure.gt(L::zero()));
    positive.and(burned.gt(L::splat(-STRAY))).and(burned.lt(L::splat(1.0 + STRAY)))
}
