//! Four or eight lanes in one vector register. Each works only where its instructions are present; made
//! only by [`InstructionSet::run_lanes`](super::InstructionSet) and `run_cells`.
//!
//! Written out by instruction: left to itself the compiler works on several packs at once and loses the
//! gain in shuffling them.

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

use super::dispatch::{avx2, avx512};
use super::{Lane, Mask};

const SIGN: u64 = 1 << 63;

macro_rules! vector {
    ($name:ident, $mask:ident, $set:ident, $width:literal, { $($own:item)* }) => {
        /// Numbers, one a lane.
        #[derive(Clone, Copy, Debug)]
        #[repr(transparent)]
        pub(crate) struct $name($set::Numbers);

        /// Truth values, one a lane.
        #[derive(Clone, Copy, Debug)]
        #[repr(transparent)]
        pub(crate) struct $mask($set::Truths);

        impl $name {
            #[inline(always)]
            fn array(self) -> [f64; $width] {
                $set::array(self.0)
            }

            #[inline(always)]
            fn constant(bits: u64) -> $set::Numbers {
                $set::numbers($set::splat_bits(bits))
            }
        }

        vector!(@operation $name, $set, Add, add);
        vector!(@operation $name, $set, Sub, sub);
        vector!(@operation $name, $set, Mul, mul);
        vector!(@operation $name, $set, Div, div);

        impl Neg for $name {
            type Output = Self;
            #[inline(always)]
            fn neg(self) -> Self {
                self.bits_xor(SIGN)
            }
        }

        impl AddAssign for $name {
            #[inline(always)]
            fn add_assign(&mut self, other: Self) {
                *self = *self + other;
            }
        }

        impl SubAssign for $name {
            #[inline(always)]
            fn sub_assign(&mut self, other: Self) {
                *self = *self - other;
            }
        }

        impl Mask for $mask {
            #[inline(always)]
            fn and(self, other: Self) -> Self {
                Self($set::both(self.0, other.0))
            }
            #[inline(always)]
            fn or(self, other: Self) -> Self {
                Self($set::either(self.0, other.0))
            }
            #[inline(always)]
            fn not(self) -> Self {
                Self($set::opposite(self.0))
            }
            #[inline(always)]
            fn any(self) -> bool {
                $set::signs(self.0) != 0
            }
            #[inline(always)]
            fn lane(self, index: usize) -> bool {
                $set::signs(self.0) >> index & 1 == 1
            }
        }

        impl Lane for $name {
            const WIDTH: usize = $width;
            type Mask = $mask;

            #[inline(always)]
            fn splat(value: f64) -> Self {
                Self($set::splat(value))
            }
            #[inline(always)]
            fn from_fn(value: impl FnMut(usize) -> f64) -> Self {
                Self($set::from_array(std::array::from_fn(value)))
            }
            #[inline(always)]
            fn load(from: &[f64], at: usize) -> Self {
                let mut numbers = [0.0; $width];
                numbers.copy_from_slice(&from[at..at + $width]);
                Self($set::from_array(numbers))
            }
            #[inline(always)]
            fn store(self, to: &mut [f64], at: usize) {
                to[at..at + $width].copy_from_slice(&self.array());
            }
            #[inline(always)]
            fn lane(self, index: usize) -> f64 {
                self.array()[index]
            }
            #[inline(always)]
            fn set_lane(&mut self, index: usize, value: f64) {
                let mut numbers = self.array();
                numbers[index] = value;
                self.0 = $set::from_array(numbers);
            }
            #[inline(always)]
            fn sqrt(self) -> Self {
                Self($set::sqrt(self.0))
            }
            #[inline(always)]
            fn abs(self) -> Self {
                self.bits_and(!SIGN)
            }
            #[inline(always)]
            fn lt(self, other: Self) -> $mask {
                $mask($set::less(self.0, other.0))
            }
            #[inline(always)]
            fn le(self, other: Self) -> $mask {
                $mask($set::less_or_equal(self.0, other.0))
            }
            #[inline(always)]
            fn select(mask: $mask, yes: Self, no: Self) -> Self {
                Self($set::choose(mask.0, yes.0, no.0))
            }
            #[inline(always)]
            fn mask_from_fn(value: impl FnMut(usize) -> bool) -> $mask {
                $mask($set::truths(std::array::from_fn(value)))
            }
            #[inline(always)]
            fn bits_plus(self, term: u64) -> Self {
                let sum = $set::add_bits($set::bits(self.0), $set::splat_bits(term));
                Self($set::numbers(sum))
            }
            #[inline(always)]
            fn bits_minus(self, other: Self) -> Self {
                let difference = $set::sub_bits($set::bits(self.0), $set::bits(other.0));
                Self($set::numbers(difference))
            }
            #[inline(always)]
            fn bits_and(self, mask: u64) -> Self {
                Self($set::and(self.0, Self::constant(mask)))
            }
            #[inline(always)]
            fn bits_xor(self, mask: u64) -> Self {
                Self($set::xor(self.0, Self::constant(mask)))
            }
            #[inline(always)]
            fn bits_left<const BY: i32>(self) -> Self {
                Self($set::numbers($set::shift_left::<BY>($set::bits(self.0))))
            }
            #[inline(always)]
            fn bits_right<const BY: i32>(self) -> Self {
                Self($set::numbers($set::shift_right::<BY>($set::bits(self.0))))
            }
            #[inline(always)]
            fn bit<const AT: i32>(self) -> $mask {
                $mask($set::bit::<AT>($set::bits(self.0)))
            }
            $($own)*
        }
    };
    (@operation $name:ident, $set:ident, $trait:ident, $method:ident) => {
        impl $trait for $name {
            type Output = Self;
            #[inline(always)]
            fn $method(self, other: Self) -> Self {
                Self($set::$method(self.0, other.0))
            }
        }
    };
}

vector!(Quad, QuadMask, avx2, 4, {
    #[inline(always)]
    fn columns<'a>(row: impl Fn(usize) -> &'a [f64; 4]) -> [Self; 4] {
        let [a, b] = [avx2::from_array(*row(0)), avx2::from_array(*row(1))];
        let [c, d] = [avx2::from_array(*row(2)), avx2::from_array(*row(3))];
        let (ab0, ab1) = (avx2::low_pairs(a, b), avx2::high_pairs(a, b));
        let (cd0, cd1) = (avx2::low_pairs(c, d), avx2::high_pairs(c, d));
        [
            Self(avx2::low_halves(ab0, cd0)),
            Self(avx2::low_halves(ab1, cd1)),
            Self(avx2::high_halves(ab0, cd0)),
            Self(avx2::high_halves(ab1, cd1)),
        ]
    }
});
vector!(Oct, OctMask, avx512, 8, {});

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lane::{InstructionSet, LaneJob, exp, ln, pow, sin_cos};

    /// Every operation on many numbers, its bits in the order of the numbers.
    struct Everything;

    impl LaneJob for Everything {
        type Output = Vec<u64>;

        #[inline(always)]
        fn run<L: Lane>(self) -> Vec<u64> {
            let numbers: Vec<f64> = (0..400)
                .map(|i| 60.0 * (f64::from(i) * 0.618_033_988_749_895).fract() - 20.0)
                .chain([0.0, -0.0, f64::NAN, f64::INFINITY, -1.0, 1.0, 2.0, 0.5])
                .collect();
            let rows: Vec<[f64; 4]> = numbers.iter().map(|x| [*x, -x, x + 1.0, 2.0 * x]).collect();
            let mut bits = Vec::new();
            for at in (0..numbers.len()).step_by(L::WIDTH) {
                let x = L::load(&numbers, at);
                let y = L::from_fn(|i| numbers[(at + i + 1) % numbers.len()]);
                let (sine, cosine) = sin_cos(x);
                let [a, b, c, d] = L::columns(|i| &rows[at + i]);
                let below = x.lt(y).or(x.le(L::zero())).and(y.ge(x).not());
                let mut set = x;
                set.set_lane(L::WIDTH - 1, 7.0);
                set.set_lane(L::WIDTH - 1, numbers[at + L::WIDTH - 1]);
                let results = [
                    [exp(x), ln(x.abs()), pow(x.abs(), L::splat(0.3)), sine, cosine],
                    [x + y, x - y, x * y, x / y, -x],
                    [x.abs().sqrt(), x.at_least(y), x.at_most(y), L::select(below, x, y), set],
                    [a, b, c, d, L::select(x.bit::<3>(), x, y)],
                ];
                for lane in 0..L::WIDTH {
                    for result in results.iter().flatten() {
                        let value = result.lane(lane);
                        // of a NaN only that it is one
                        bits.push(if value.is_nan() { u64::MAX } else { value.to_bits() });
                    }
                    bits.push(u64::from(below.lane(lane)));
                }
            }
            bits
        }
    }

    #[test]
    fn every_operation_gives_the_bits_of_one_lane() {
        let wanted = InstructionSet::Baseline.run_one(Everything);
        for set in InstructionSet::available() {
            assert!(set.run_one(Everything) == wanted, "one lane on {set:?}");
            assert!(set.run_lanes(Everything) == wanted, "lanes on {set:?}");
            assert!(set.run_cells(Everything) == wanted, "cells on {set:?}");
        }
    }
}
