//! One lane.

use super::{Lane, Mask};

impl Mask for bool {
    #[inline(always)]
    fn and(self, other: Self) -> Self {
        self & other
    }
    #[inline(always)]
    fn or(self, other: Self) -> Self {
        self | other
    }
    #[inline(always)]
    fn not(self) -> Self {
        !self
    }
    #[inline(always)]
    fn any(self) -> bool {
        self
    }
    #[inline(always)]
    fn lane(self, _index: usize) -> bool {
        self
    }
}

impl Lane for f64 {
    const WIDTH: usize = 1;
    type Mask = bool;

    #[inline(always)]
    fn splat(value: f64) -> Self {
        value
    }
    #[inline(always)]
    fn from_fn(mut value: impl FnMut(usize) -> f64) -> Self {
        value(0)
    }
    #[inline(always)]
    fn load(from: &[f64], at: usize) -> Self {
        from[at]
    }
    #[inline(always)]
    fn store(self, to: &mut [f64], at: usize) {
        to[at] = self;
    }
    #[inline(always)]
    fn lane(self, _index: usize) -> f64 {
        self
    }
    #[inline(always)]
    fn set_lane(&mut self, _index: usize, value: f64) {
        *self = value;
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        self.sqrt()
    }
    #[inline(always)]
    fn abs(self) -> Self {
        self.abs()
    }
    #[inline(always)]
    fn lt(self, other: Self) -> bool {
        self < other
    }
    #[inline(always)]
    fn le(self, other: Self) -> bool {
        self <= other
    }
    #[inline(always)]
    fn select(mask: bool, yes: Self, no: Self) -> Self {
        if mask { yes } else { no }
    }
    #[inline(always)]
    fn mask_from_fn(mut value: impl FnMut(usize) -> bool) -> bool {
        value(0)
    }
    #[inline(always)]
    fn bits_plus(self, term: u64) -> Self {
        Self::from_bits(self.to_bits().wrapping_add(term))
    }
    #[inline(always)]
    fn bits_minus(self, other: Self) -> Self {
        Self::from_bits(self.to_bits().wrapping_sub(other.to_bits()))
    }
    #[inline(always)]
    fn bits_and(self, mask: u64) -> Self {
        Self::from_bits(self.to_bits() & mask)
    }
    #[inline(always)]
    fn bits_xor(self, mask: u64) -> Self {
        Self::from_bits(self.to_bits() ^ mask)
    }
    #[inline(always)]
    fn bits_left<const BY: i32>(self) -> Self {
        Self::from_bits(self.to_bits() << BY)
    }
    #[inline(always)]
    fn bits_right<const BY: i32>(self) -> Self {
        Self::from_bits(self.to_bits() >> BY)
    }
    #[inline(always)]
    fn bit<const AT: i32>(self) -> bool {
        self.to_bits() & (1 << AT) != 0
    }
}
