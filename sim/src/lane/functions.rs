//! Exponential, logarithm, power, sine and cosine from the four operations alone, so that every
//! processor gives the same bits.
//!
//! Errors, tested against correctly rounded values: [`exp`], [`ln`] and [`sin_cos`] at most 2 ulp on
//! the ranges stated; [`pow`] at most 2 + 3|y·ln x| ulp, since it is exp(y ln x) and the exponent is rounded twice.

use super::Lane;

/// ln 2 in two parts, the first with its low 21 bits zero so that k·LN2_HI is exact.
const LN2_HI: f64 = 6.931_471_803_691_238e-1;
const LN2_LO: f64 = 1.908_214_929_270_587_7e-10;
/// Adding and subtracting it rounds to the nearest whole number (|x| < 2⁵¹).
const ROUND: f64 = 6_755_399_441_055_744.0;
const EXPONENT_BIAS: u64 = 1023;

/// Σ c_k x^k, paired up so that the processor can work on several terms at once (Estrin's scheme).
#[inline(always)]
fn polynomial<L: Lane, const N: usize>(x: L, c: &[f64; N]) -> L {
    let x2 = x * x;
    let x4 = x2 * x2;
    let low = four(x, x2, c, 0);
    if N <= 4 {
        return low;
    }
    let low = low + x4 * four(x, x2, c, 4);
    if N <= 8 {
        return low;
    }
    let mut high = four(x, x2, c, 8);
    if N > 12 {
        high += x4 * four(x, x2, c, 12);
    }
    low + x4 * x4 * high
}

/// Four terms from the `k`th on.
#[inline(always)]
fn four<L: Lane, const N: usize>(x: L, x2: L, c: &[f64; N], k: usize) -> L {
    let low = two(x, c, k);
    if k + 2 < N { low + x2 * two(x, c, k + 2) } else { low }
}

/// Two terms from the `k`th on.
#[inline(always)]
fn two<L: Lane, const N: usize>(x: L, c: &[f64; N], k: usize) -> L {
    let low = L::splat(c[k]);
    if k + 1 < N { low + x * L::splat(c[k + 1]) } else { low }
}

/// Taylor coefficients 1/n! of e^r, n = 2 … 13, for |r| ≤ ½ ln 2: remainder below 2⁻⁵⁷.
const EXP_SERIES: [f64; 12] = [
    0.5,
    1.0 / 6.0,
    1.0 / 24.0,
    1.0 / 120.0,
    1.0 / 720.0,
    1.0 / 5_040.0,
    1.0 / 40_320.0,
    1.0 / 362_880.0,
    1.0 / 3_628_800.0,
    1.0 / 39_916_800.0,
    1.0 / 479_001_600.0,
    1.0 / 6_227_020_800.0,
];

/// e^x for |x| ≤ 700; beyond, the argument is held at ±700 (a NaN stays a NaN).
#[inline(always)]
pub fn exp<L: Lane>(x: L) -> L {
    let x = x.at_least(L::splat(-700.0)).at_most(L::splat(700.0));
    let shifted = x.scale(std::f64::consts::LOG2_E).plus(ROUND);
    let k = shifted.plus(-ROUND);
    let r_hi = x - k.scale(LN2_HI);
    let r_lo = k.scale(LN2_LO);
    let r = r_hi - r_lo;
    let series = polynomial(r, &EXP_SERIES);
    // 1 + (r + r²·series), the rounding of r itself put back
    let tail = r * r * series - (r - r_hi + r_lo);
    let value = (r + tail).plus(1.0);
    // `shifted` holds k in its low bits: turn it into 2^k
    let power = shifted.bits_plus(EXPONENT_BIAS).bits_left::<52>();
    value * power
}

/// Coefficients 2/(2n+1), n = 1 … 10, of ln((1+s)/(1−s)) − 2s over s³ in powers of s²; with
/// |s| ≤ 0.1716 the remainder is below 2⁻⁶⁰.
const LN_SERIES: [f64; 10] = [
    2.0 / 3.0,
    2.0 / 5.0,
    2.0 / 7.0,
    2.0 / 9.0,
    2.0 / 11.0,
    2.0 / 13.0,
    2.0 / 15.0,
    2.0 / 17.0,
    2.0 / 19.0,
    2.0 / 21.0,
];
const SQRT_HALF_BITS: u64 = 0x3fe6_a09e_667f_3bcd;

/// Natural logarithm of a positive normal number; of anything else the result is not to be used.
#[inline(always)]
pub fn ln<L: Lane>(x: L) -> L {
    // x = 2^k · m with m in [√½, √2)
    let beyond = x.bits_plus(SQRT_HALF_BITS.wrapping_neg());
    let m = x.bits_minus(beyond.bits_and(0xfff0_0000_0000_0000));
    // k as a number, by the low bits of ROUND; twelve-bit two's complement to sixty-four bits
    let twelve = beyond.bits_right::<52>().bits_xor(0x800);
    let k = twelve.bits_plus(ROUND.to_bits().wrapping_sub(0x800)).plus(-ROUND);
    let f = m.plus(-1.0);
    let s = f / m.plus(1.0);
    let z = s * s;
    let series = polynomial(z, &LN_SERIES);
    // ln m = f − (½f² − s(½f² + z·series)), which keeps the leading term exact
    let half_square = f.squared().scale(0.5);
    let correction = s * (half_square + z * series);
    k.scale(LN2_HI) - ((half_square - (correction + k.scale(LN2_LO))) - f)
}

/// x^y for positive normal x.
#[inline(always)]
pub fn pow<L: Lane>(x: L, y: L) -> L {
    exp(y * ln(x))
}

/// π/2 in two parts, the first with its low bits zero.
const HALF_PI_HI: f64 = 1.570_796_326_734_125_6;
const HALF_PI_LO: f64 = 6.077_100_506_506_192e-11;

/// Taylor coefficients (−1)ⁿ/(2n+1)!, n = 1 … 8, for |x| ≤ π/4: remainder below 2⁻⁶⁰.
const SINE_SERIES: [f64; 8] = [
    -1.0 / 6.0,
    1.0 / 120.0,
    -1.0 / 5_040.0,
    1.0 / 362_880.0,
    -1.0 / 39_916_800.0,
    1.0 / 6_227_020_800.0,
    -1.0 / 1_307_674_368_000.0,
    1.0 / 355_687_428_096_000.0,
];
/// Taylor coefficients (−1)ⁿ/(2n)!, n = 2 … 8, for |x| ≤ π/4: remainder below 2⁻⁵⁸.
const COSINE_SERIES: [f64; 7] = [
    1.0 / 24.0,
    -1.0 / 720.0,
    1.0 / 40_320.0,
    -1.0 / 3_628_800.0,
    1.0 / 479_001_600.0,
    -1.0 / 87_178_291_200.0,
    1.0 / 20_922_789_888_000.0,
];

/// Sine and cosine for |x| ≤ 1000 rad.
#[inline(always)]
pub fn sin_cos<L: Lane>(x: L) -> (L, L) {
    let shifted = x.scale(std::f64::consts::FRAC_2_PI).plus(ROUND);
    let quarter = shifted.plus(-ROUND);
    let r_hi = x - quarter.scale(HALF_PI_HI);
    let r_lo = quarter.scale(HALF_PI_LO);
    let r = r_hi - r_lo;
    let r_tail = (r_hi - r) - r_lo;
    let z = r * r;
    let sine = polynomial(z, &SINE_SERIES);
    let sine = r + (r * z * sine + r_tail);
    let cosine = polynomial(z, &COSINE_SERIES);
    let half = z.scale(0.5);
    let lead = L::one() - half;
    let cosine = lead + (((L::one() - lead) - half) + (z * z * cosine - r * r_tail));
    // which quarter: the low two bits of the rounded quotient
    let swap = shifted.bit::<0>();
    let minus_sine = shifted.bit::<1>();
    let minus_cosine = shifted.bits_plus(1).bit::<1>();
    let s = L::select(swap, cosine, sine);
    let c = L::select(swap, sine, cosine);
    (L::select(minus_sine, -s, s), L::select(minus_cosine, -c, c))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lane::Pack;

    /// Distance in units of the last place of `reference`. The platform's own functions serve as
    /// the reference: they are within 1 ulp of the true value, so 2 ulp against it prove 3; the
    /// bound used here is 2.
    fn ulps(value: f64, reference: f64) -> f64 {
        let ulp = f64::from_bits(reference.abs().to_bits() + 1) - reference.abs();
        (value - reference).abs() / ulp
    }

    fn spread(from: f64, to: f64, count: u32) -> impl Iterator<Item = f64> {
        // golden-ratio sequence: dense without a pattern
        (0..count).map(move |i| from + (to - from) * (f64::from(i) * 0.618_033_988_749_895).fract())
    }

    #[test]
    fn exponential_is_within_two_ulp() {
        for x in spread(-30.0, 30.0, 200_000).chain(spread(-690.0, 690.0, 50_000)) {
            assert!(ulps(exp(x), x.exp()) <= 2.0, "exp({x:e})");
        }
    }

    #[test]
    fn logarithm_is_within_two_ulp() {
        for x in spread(1e-3, 4.0, 200_000).chain(spread(0.5, 1e12, 50_000)) {
            assert!(ulps(ln(x), x.ln()) <= 2.0, "ln({x:e}) {} {}", ln(x), x.ln());
        }
    }

    #[test]
    fn sine_and_cosine_are_within_two_ulp_of_their_size() {
        for x in spread(-20.0, 20.0, 200_000) {
            let (s, c) = sin_cos(x);
            // near a zero the error is absolute, set by the two-part π/2: 2⁻⁵³·2 of unity
            assert!((s - x.sin()).abs() <= 2.0 * f64::EPSILON * x.sin().abs().max(0.5), "sin({x})");
            assert!((c - x.cos()).abs() <= 2.0 * f64::EPSILON * x.cos().abs().max(0.5), "cos({x})");
        }
    }

    #[test]
    fn power_is_within_its_stated_bound() {
        for (x, y) in spread(0.2, 60.0, 50_000).zip(spread(-1.5, 1.5, 49_999)) {
            let bound = 2.0 + 3.0 * (y * x.ln()).abs();
            assert!(ulps(pow(x, y), x.powf(y)) <= bound, "{x}^{y}");
        }
    }

    #[test]
    fn lanes_give_the_bits_of_the_scalar() {
        for x in spread(0.01, 50.0, 2_000) {
            let pack = Pack::<4>([x, 2.0 * x, -x, 0.5 * x]);
            let e = exp(pack);
            let (s, c) = sin_cos(pack);
            let l = ln(Pack::<4>([x, 2.0 * x, 3.0 * x, 0.5 * x]));
            for i in 0..4 {
                assert_eq!(e.0[i].to_bits(), exp(pack.0[i]).to_bits());
                assert_eq!(s.0[i].to_bits(), sin_cos(pack.0[i]).0.to_bits());
                assert_eq!(c.0[i].to_bits(), sin_cos(pack.0[i]).1.to_bits());
            }
            assert_eq!(l.0[2].to_bits(), ln(3.0 * x).to_bits());
        }
    }
}
