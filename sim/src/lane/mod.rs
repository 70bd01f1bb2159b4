//! Arithmetic lanes: the same physics for one case (`f64`) and for several in step, in one vector register
//! or, for the cells of a pipe, in a [`Pack`].
//!
//! Everything inside a right-hand side is generic over [`Lane`] and uses nothing else: no
//! `mul_add`, no `std` exponentials, selects instead of `max`/`min` (which hide a NaN). So every
//! width and every processor gives the same bits.

mod dispatch;
mod functions;
mod pack;
mod scalar;
#[cfg(target_arch = "x86_64")]
mod vector;

use std::fmt::Debug;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

pub use dispatch::InstructionSet;
pub(crate) use dispatch::LaneJob;
pub use functions::{exp, ln, pow, sin_cos};
pub use pack::Pack;

/// Largest number of lanes.
pub const MOST_LANES: usize = 8;

/// A truth value per lane.
pub trait Mask: Copy + Debug {
    /// Both.
    #[must_use]
    fn and(self, other: Self) -> Self;
    /// Either.
    #[must_use]
    fn or(self, other: Self) -> Self;
    /// Not.
    #[must_use]
    fn not(self) -> Self;
    /// True in any lane.
    fn any(self) -> bool;
    /// True in this lane.
    fn lane(self, index: usize) -> bool;
}

/// A number per lane.
pub trait Lane:
    Copy
    + Debug
    + Send
    + Sync
    + 'static
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
    + AddAssign
    + SubAssign
{
    /// Number of lanes.
    const WIDTH: usize;
    /// Truth per lane.
    type Mask: Mask;

    /// The same number in every lane.
    fn splat(value: f64) -> Self;
    /// A number for each lane.
    fn from_fn(value: impl FnMut(usize) -> f64) -> Self;
    /// As many numbers as there are lanes, from `at` on.
    fn load(from: &[f64], at: usize) -> Self;
    /// Puts a number of each lane at `at` and after.
    fn store(self, to: &mut [f64], at: usize);
    /// One lane.
    fn lane(self, index: usize) -> f64;
    /// Sets one lane.
    fn set_lane(&mut self, index: usize, value: f64);
    /// Four numbers of each lane; `row` gives those of a lane.
    #[inline(always)]
    fn columns<'a>(row: impl Fn(usize) -> &'a [f64; 4]) -> [Self; 4] {
        [
            Self::from_fn(|i| row(i)[0]),
            Self::from_fn(|i| row(i)[1]),
            Self::from_fn(|i| row(i)[2]),
            Self::from_fn(|i| row(i)[3]),
        ]
    }
    /// Square root (correctly rounded everywhere).
    #[must_use]
    fn sqrt(self) -> Self;
    /// Magnitude.
    #[must_use]
    fn abs(self) -> Self;
    /// Less than; false for NaN.
    fn lt(self, other: Self) -> Self::Mask;
    /// Less than or equal; false for NaN.
    fn le(self, other: Self) -> Self::Mask;
    /// `yes` where the mask is true, `no` elsewhere.
    #[must_use]
    fn select(mask: Self::Mask, yes: Self, no: Self) -> Self;
    /// A mask for each lane.
    fn mask_from_fn(value: impl FnMut(usize) -> bool) -> Self::Mask;
    /// The bit pattern as a whole number, plus another; wraps.
    #[must_use]
    fn bits_plus(self, term: u64) -> Self;
    /// The bit pattern as a whole number, less that of another; wraps.
    #[must_use]
    fn bits_minus(self, other: Self) -> Self;
    /// Bits that are also in `mask`.
    #[must_use]
    fn bits_and(self, mask: u64) -> Self;
    /// Bits turned over where `mask` has them.
    #[must_use]
    fn bits_xor(self, mask: u64) -> Self;
    /// Bits shifted up.
    #[must_use]
    fn bits_left<const BY: i32>(self) -> Self;
    /// Bits shifted down.
    #[must_use]
    fn bits_right<const BY: i32>(self) -> Self;
    /// Whether bit `AT`, counted from the lowest, is set.
    fn bit<const AT: i32>(self) -> Self::Mask;

    /// Zero.
    #[must_use]
    #[inline(always)]
    fn zero() -> Self {
        Self::splat(0.0)
    }
    /// One.
    #[must_use]
    #[inline(always)]
    fn one() -> Self {
        Self::splat(1.0)
    }
    /// Greater than; false for NaN.
    #[inline(always)]
    fn gt(self, other: Self) -> Self::Mask {
        other.lt(self)
    }
    /// Greater than or equal; false for NaN.
    #[inline(always)]
    fn ge(self, other: Self) -> Self::Mask {
        other.le(self)
    }
    /// Not below `floor`; a NaN stays a NaN.
    #[must_use]
    #[inline(always)]
    fn at_least(self, floor: Self) -> Self {
        Self::select(self.lt(floor), floor, self)
    }
    /// Not above `ceiling`; a NaN stays a NaN.
    #[must_use]
    #[inline(always)]
    fn at_most(self, ceiling: Self) -> Self {
        Self::select(self.gt(ceiling), ceiling, self)
    }
    /// Times a plain number.
    #[must_use]
    #[inline(always)]
    fn scale(self, factor: f64) -> Self {
        self * Self::splat(factor)
    }
    /// Plus a plain number.
    #[must_use]
    #[inline(always)]
    fn plus(self, term: f64) -> Self {
        self + Self::splat(term)
    }
    /// Its square.
    #[must_use]
    #[inline(always)]
    fn squared(self) -> Self {
        self * self
    }
}
