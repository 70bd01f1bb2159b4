//! Slopes of the reconstruction.

use crate::lane::{Lane, Mask};

/// Change over a cell from the changes to both neighbours: the mean of both, held to twice the smaller,
/// zero at an extremum (monotonised central differences; B. van Leer, J. Comput. Phys. 23 (1977) 276).
#[inline(always)]
pub(super) fn limited<L: Lane>(before: L, after: L) -> L {
    let mean = (before + after).scale(0.5);
    let smaller = L::select(before.abs().lt(after.abs()), before, after).scale(2.0);
    let slope = L::select(mean.abs().lt(smaller.abs()), mean, smaller);
    L::select((before * after).gt(L::zero()), slope, L::zero())
}

/// How far a burned fraction may stray from [0, 1] by rounding.
const STRAY: f64 = 1e-12;

/// Whether a state can be one of a gas.
#[inline(always)]
pub(super) fn admissible<L: Lane>(density: L, pressure: L, burned: L) -> L::Mask {
    let positive = density.gt(L::zero()).and(pressure.gt(L::zero()));
    positive.and(burned.gt(L::splat(-STRAY))).and(burned.lt(L::splat(1.0 + STRAY)))
}
