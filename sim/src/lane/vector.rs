//! Four lanes in one vector register. Works only where AVX2 is present; made only by
//! [`InstructionSet::run_lanes`](super::InstructionSet).

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

use super::dispatch::avx2::{self, Numbers};
use super::{Lane, Mask};

/// Four numbers, one a lane.
#[derive(Clone, Copy, Debug)]
#[repr(transparent)]
pub(crate) struct Quad(Numbers);

/// Four truth values, in the signs of the numbers.
#[derive(Clone, Copy, Debug)]
#[repr(transparent)]
pub(crate) struct QuadMask(Numbers);

const SIGN: u64 = 1 << 63;

impl Quad {
    #[inline(always)]
    fn array(self) -> [f64; 4] {
        avx2::array(self.0)
    }

    #[inline(always)]
    fn constant(bits: u64) -> Numbers {
        avx2::numbers(avx2::splat_bits(bits))
    }
}

macro_rules! lanewise {
    ($trait:ident, $method:ident) => {
        impl $trait for Quad {
            type Output = Self;
            #[inline(always)]
            fn $method(self, other: Self) -> Self {
                Self(avx2::$method(self.0, other.0))
            }
        }
    };
}
lanewise!(Add, add);
lanewise!(Sub, sub);
lanewise!(Mul, mul);
lanewise!(Div, div);

impl Neg for Quad {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        self.bits_xor(SIGN)
    }
}

impl AddAssign for Quad {
    #[inline(always)]
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl SubAssign for Quad {
    #[inline(always)]
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

impl Mask for QuadMask {
    #[inline(always)]
    fn and(self, other: Self) -> Self {
        Self(avx2::and(self.0, other.0))
    }
    #[inline(always)]
    fn or(self, other: Self) -> Self {
        Self(avx2::or(self.0, other.0))
    }
    #[inline(always)]
    fn not(self) -> Self {
        Self(avx2::xor(self.0, Quad::constant(u64::MAX)))
    }
    #[inline(always)]
    fn any(self) -> bool {
        avx2::signs(self.0) != 0
    }
    #[inline(always)]
    fn lane(self, index: usize) -> bool {
        avx2::signs(self.0) >> index & 1 == 1
    }
}

impl Lane for Quad {
    const WIDTH: usize = 4;
    type Mask = QuadMask;

    #[inline(always)]
    fn splat(value: f64) -> Self {
        Self(avx2::splat(value))
    }
    #[inline(always)]
    fn from_fn(mut value: impl FnMut(usize) -> f64) -> Self {
        Self(avx2::from_array([value(0), value(1), value(2), value(3)]))
    }
    #[inline(always)]
    fn load(from: &[f64], at: usize) -> Self {
        let mut four = [0.0; 4];
        four.copy_from_slice(&from[at..at + 4]);
        Self(avx2::from_array(four))
    }
    #[inline(always)]
    fn store(self, to: &mut [f64], at: usize) {
        to[at..at + 4].copy_from_slice(&self.array());
    }
    #[inline(always)]
    fn lane(self, index: usize) -> f64 {
        self.array()[index]
    }
    #[inline(always)]
    fn set_lane(&mut self, index: usize, value: f64) {
        let mut four = self.array();
        four[index] = value;
        self.0 = avx2::from_array(four);
    }
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
    #[inline(always)]
    fn sqrt(self) -> Self {
        Self(avx2::sqrt(self.0))
    }
    #[inline(always)]
    fn abs(self) -> Self {
        self.bits_and(!SIGN)
    }
    #[inline(always)]
    fn lt(self, other: Self) -> QuadMask {
        QuadMask(avx2::less(self.0, other.0))
    }
    #[inline(always)]
    fn le(self, other: Self) -> QuadMask {
        QuadMask(avx2::less_or_equal(self.0, other.0))
    }
    #[inline(always)]
    fn select(mask: QuadMask, yes: Self, no: Self) -> Self {
        Self(avx2::choose(mask.0, yes.0, no.0))
    }
    #[inline(always)]
    fn mask_from_fn(mut value: impl FnMut(usize) -> bool) -> QuadMask {
        let four = [value(0), value(1), value(2), value(3)];
        QuadMask(avx2::from_array(four.map(|truth| if truth { -1.0 } else { 1.0 })))
    }
    #[inline(always)]
    fn bits_plus(self, term: u64) -> Self {
        let sum = avx2::add_bits(avx2::bits(self.0), avx2::splat_bits(term));
        Self(avx2::numbers(sum))
    }
    #[inline(always)]
    fn bits_minus(self, other: Self) -> Self {
        let difference = avx2::sub_bits(avx2::bits(self.0), avx2::bits(other.0));
        Self(avx2::numbers(difference))
    }
    #[inline(always)]
    fn bits_and(self, mask: u64) -> Self {
        Self(avx2::and(self.0, Self::constant(mask)))
    }
    #[inline(always)]
    fn bits_xor(self, mask: u64) -> Self {
        Self(avx2::xor(self.0, Self::constant(mask)))
    }
    #[inline(always)]
    fn bits_left<const BY: i32>(self) -> Self {
        Self(avx2::numbers(avx2::shift_left::<BY>(avx2::bits(self.0))))
    }
    #[inline(always)]
    fn bits_right<const BY: i32>(self) -> Self {
        Self(avx2::numbers(avx2::shift_right::<BY>(avx2::bits(self.0))))
    }
    #[inline(always)]
    fn bit<const AT: i32>(self) -> QuadMask {
        QuadMask(avx2::numbers(avx2::sub_bits(
            avx2::splat_bits(0),
            avx2::bits(self.bits_right::<AT>().bits_and(1).0),
        )))
    }
}

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
        }
    }
}
