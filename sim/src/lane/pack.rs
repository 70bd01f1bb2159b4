//! Several lanes side by side. Plain arrays and plain loops: the compiler turns them into vector
//! instructions wherever the chosen instruction set has them.

#![allow(
    clippy::needless_range_loop,
    reason = "one shape for all lane loops, which the compiler vectorises"
)]

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

use super::{Lane, Mask};

/// `N` numbers, one a lane.
#[derive(Clone, Copy, Debug, PartialEq)]
#[repr(C, align(64))]
pub struct Pack<const N: usize>(pub [f64; N]);

/// `N` truth values as full-width bit masks, so that selecting is plain bit arithmetic.
#[derive(Clone, Copy, Debug)]
#[repr(C, align(64))]
pub struct PackMask<const N: usize>([u64; N]);

macro_rules! lanewise {
    ($trait:ident, $method:ident, $op:tt) => {
        impl<const N: usize> $trait for Pack<N> {
            type Output = Self;
            #[inline(always)]
            fn $method(mut self, other: Self) -> Self {
                for i in 0..N {
                    self.0[i] $op other.0[i];
                }
                self
            }
        }
    };
}
lanewise!(Add, add, +=);
lanewise!(Sub, sub, -=);
lanewise!(Mul, mul, *=);
lanewise!(Div, div, /=);

impl<const N: usize> Neg for Pack<N> {
    type Output = Self;
    #[inline(always)]
    fn neg(mut self) -> Self {
        for i in 0..N {
            self.0[i] = -self.0[i];
        }
        self
    }
}

impl<const N: usize> AddAssign for Pack<N> {
    #[inline(always)]
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl<const N: usize> SubAssign for Pack<N> {
    #[inline(always)]
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

impl<const N: usize> Mask for PackMask<N> {
    #[inline(always)]
    fn and(mut self, other: Self) -> Self {
        for i in 0..N {
            self.0[i] &= other.0[i];
        }
        self
    }
    #[inline(always)]
    fn or(mut self, other: Self) -> Self {
        for i in 0..N {
            self.0[i] |= other.0[i];
        }
        self
    }
    #[inline(always)]
    fn not(mut self) -> Self {
        for i in 0..N {
            self.0[i] = !self.0[i];
        }
        self
    }
    #[inline(always)]
    fn any(self) -> bool {
        let mut all = 0;
        for i in 0..N {
            all |= self.0[i];
        }
        all != 0
    }
    #[inline(always)]
    fn lane(self, index: usize) -> bool {
        self.0[index] != 0
    }
}

#[inline(always)]
fn full(truth: bool) -> u64 {
    u64::from(truth).wrapping_neg()
}

impl<const N: usize> Lane for Pack<N> {
    const WIDTH: usize = N;
    type Mask = PackMask<N>;

    #[inline(always)]
    fn splat(value: f64) -> Self {
        Self([value; N])
    }
    #[inline(always)]
    fn from_fn(value: impl FnMut(usize) -> f64) -> Self {
        Self(std::array::from_fn(value))
    }
    #[inline(always)]
    fn load(from: &[f64], at: usize) -> Self {
        let mut out = [0.0; N];
        out.copy_from_slice(&from[at..at + N]);
        Self(out)
    }
    #[inline(always)]
    fn store(self, to: &mut [f64], at: usize) {
        to[at..at + N].copy_from_slice(&self.0);
    }
    #[inline(always)]
    fn lane(self, index: usize) -> f64 {
        self.0[index]
    }
    #[inline(always)]
    fn set_lane(&mut self, index: usize, value: f64) {
        self.0[index] = value;
    }
    #[inline(always)]
    fn sqrt(mut self) -> Self {
        for i in 0..N {
            self.0[i] = self.0[i].sqrt();
        }
        self
    }
    #[inline(always)]
    fn abs(mut self) -> Self {
        for i in 0..N {
            self.0[i] = self.0[i].abs();
        }
        self
    }
    #[inline(always)]
    fn lt(self, other: Self) -> PackMask<N> {
        let mut mask = [0; N];
        for i in 0..N {
            mask[i] = full(self.0[i] < other.0[i]);
        }
        PackMask(mask)
    }
    #[inline(always)]
    fn le(self, other: Self) -> PackMask<N> {
        let mut mask = [0; N];
        for i in 0..N {
            mask[i] = full(self.0[i] <= other.0[i]);
        }
        PackMask(mask)
    }
    #[inline(always)]
    fn select(mask: PackMask<N>, yes: Self, no: Self) -> Self {
        let mut out = [0.0; N];
        for i in 0..N {
            let bits = (mask.0[i] & yes.0[i].to_bits()) | (!mask.0[i] & no.0[i].to_bits());
            out[i] = f64::from_bits(bits);
        }
        Self(out)
    }
    #[inline(always)]
    fn mask_from_fn(mut value: impl FnMut(usize) -> bool) -> PackMask<N> {
        PackMask(std::array::from_fn(|i| full(value(i))))
    }
    #[inline(always)]
    fn bits_plus(mut self, term: u64) -> Self {
        for i in 0..N {
            self.0[i] = self.0[i].bits_plus(term);
        }
        self
    }
    #[inline(always)]
    fn bits_minus(mut self, other: Self) -> Self {
        for i in 0..N {
            self.0[i] = self.0[i].bits_minus(other.0[i]);
        }
        self
    }
    #[inline(always)]
    fn bits_and(mut self, mask: u64) -> Self {
        for i in 0..N {
            self.0[i] = self.0[i].bits_and(mask);
        }
        self
    }
    #[inline(always)]
    fn bits_xor(mut self, mask: u64) -> Self {
        for i in 0..N {
            self.0[i] = self.0[i].bits_xor(mask);
        }
        self
    }
    #[inline(always)]
    fn bits_left<const BY: i32>(mut self) -> Self {
        for i in 0..N {
            self.0[i] = self.0[i].bits_left::<BY>();
        }
        self
    }
    #[inline(always)]
    fn bits_right<const BY: i32>(mut self) -> Self {
        for i in 0..N {
            self.0[i] = self.0[i].bits_right::<BY>();
        }
        self
    }
    #[inline(always)]
    fn bit<const AT: i32>(self) -> PackMask<N> {
        let mut mask = [0; N];
        for i in 0..N {
            mask[i] = full(self.0[i].bit::<AT>());
        }
        PackMask(mask)
    }
}
