//! Chooses the instruction set at run time. The only file with `unsafe`: calling a function compiled
//! for features that have just been found present.
//!
//! No fused multiply-add is enabled anywhere, so that every choice gives the same bits.
//!
//! What works on lanes is inlined as a whole into one function compiled for the set: a function left
//! outside would be compiled without its instructions.

#![allow(unsafe_code, reason = "calls into functions compiled for detected processor features")]

use super::Lane;

/// Instruction sets with a compiled version.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InstructionSet {
    /// What every processor of the target has.
    Baseline,
    /// 256-bit vectors.
    Avx2,
    /// 512-bit vectors.
    Avx512,
}

impl InstructionSet {
    /// The widest this processor has.
    #[must_use]
    pub fn best() -> Self {
        *Self::available().last().unwrap_or(&Self::Baseline)
    }

    /// All this processor has, narrowest first.
    #[must_use]
    pub fn available() -> Vec<Self> {
        [Self::Baseline, Self::Avx2, Self::Avx512].into_iter().filter(|s| s.present()).collect()
    }

    /// Whether this processor has it.
    #[must_use]
    pub fn present(self) -> bool {
        match self {
            Self::Baseline => true,
            #[cfg(target_arch = "x86_64")]
            Self::Avx2 => is_x86_feature_detected!("avx2"),
            #[cfg(target_arch = "x86_64")]
            Self::Avx512 => {
                is_x86_feature_detected!("avx512f")
                    && is_x86_feature_detected!("avx512dq")
                    && is_x86_feature_detected!("avx512vl")
            }
            #[cfg(not(target_arch = "x86_64"))]
            _ => false,
        }
    }
}

/// Work on lanes whose width depends on the instruction set.
pub(crate) trait LaneJob {
    /// What it gives.
    type Output;
    /// Does it. Must be inlined, with everything it calls that works on lanes.
    fn run<L: Lane>(self) -> Self::Output;
}

impl InstructionSet {
    /// Runs a job on one lane.
    pub(crate) fn run_one<J: LaneJob>(self, job: J) -> J::Output {
        #[cfg(target_arch = "x86_64")]
        if self != Self::Baseline && Self::Avx2.present() {
            // SAFETY: the feature has just been found present.
            return unsafe { avx2_one(job) };
        }
        job.run::<f64>()
    }

    /// Runs a job on as many lanes as this set is good for: one without wide vectors, else four; a wider
    /// set runs the four as well.
    pub(crate) fn run_lanes<J: LaneJob>(self, job: J) -> J::Output {
        #[cfg(target_arch = "x86_64")]
        if self != Self::Baseline && Self::Avx2.present() {
            // SAFETY: the feature has just been found present.
            return unsafe { avx2_lanes(job) };
        }
        self.run_one(job)
    }
}

impl InstructionSet {
    /// Runs a job on the cells of a pipe: as many lanes as a register of this set has.
    pub(crate) fn run_cells<J: LaneJob>(self, job: J) -> J::Output {
        #[cfg(target_arch = "x86_64")]
        if self.present() {
            match self {
                // SAFETY: the features have just been found present.
                Self::Avx512 => return unsafe { avx512_cells(job) },
                // SAFETY: the feature has just been found present.
                Self::Avx2 => return unsafe { avx2_lanes(job) },
                Self::Baseline => {}
            }
        }
        job.run::<super::Pack<2>>()
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f,avx512dq,avx512vl")]
fn avx512_cells<J: LaneJob>(job: J) -> J::Output {
    job.run::<super::vector::Oct>()
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
fn avx2_one<J: LaneJob>(job: J) -> J::Output {
    job.run::<f64>()
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
fn avx2_lanes<J: LaneJob>(job: J) -> J::Output {
    job.run::<super::vector::Quad>()
}

#[cfg(target_arch = "x86_64")]
macro_rules! instructions {
    ($($name:ident $(<const $by:ident>)? ($($argument:ident: $type:ty),*) -> $out:ty = $wrapped:expr;)*) => {
        $(
            #[inline(always)]
            pub(in crate::lane) fn $name $(<const $by: i32>)? ($($argument: $type),*) -> $out {
                // SAFETY: called in jobs that run where the features have been found present.
                unsafe { $wrapped }
            }
        )*
    };
}

/// Instructions on four numbers. To be called only where AVX2 has been found present, which
/// [`InstructionSet::run_lanes`] sees to: nothing outside this crate can name their types.
#[cfg(target_arch = "x86_64")]
pub(super) mod avx2 {
    pub(in crate::lane) use machine::{__m256d as Numbers, __m256d as Truths, __m256i as Bits};
    use std::arch::x86_64 as machine;

    instructions! {
        splat(x: f64) -> Numbers = machine::_mm256_set1_pd(x);
        splat_bits(x: u64) -> Bits = machine::_mm256_set1_epi64x(x.cast_signed());
        add(a: Numbers, b: Numbers) -> Numbers = machine::_mm256_add_pd(a, b);
        sub(a: Numbers, b: Numbers) -> Numbers = machine::_mm256_sub_pd(a, b);
        mul(a: Numbers, b: Numbers) -> Numbers = machine::_mm256_mul_pd(a, b);
        div(a: Numbers, b: Numbers) -> Numbers = machine::_mm256_div_pd(a, b);
        sqrt(a: Numbers) -> Numbers = machine::_mm256_sqrt_pd(a);
        and(a: Numbers, b: Numbers) -> Numbers = machine::_mm256_and_pd(a, b);
        xor(a: Numbers, b: Numbers) -> Numbers = machine::_mm256_xor_pd(a, b);
        less(a: Numbers, b: Numbers) -> Truths =
            machine::_mm256_cmp_pd::<{ machine::_CMP_LT_OQ }>(a, b);
        less_or_equal(a: Numbers, b: Numbers) -> Truths =
            machine::_mm256_cmp_pd::<{ machine::_CMP_LE_OQ }>(a, b);
        choose(mask: Truths, yes: Numbers, no: Numbers) -> Numbers =
            machine::_mm256_blendv_pd(no, yes, mask);
        both(a: Truths, b: Truths) -> Truths = machine::_mm256_and_pd(a, b);
        either(a: Truths, b: Truths) -> Truths = machine::_mm256_or_pd(a, b);
        opposite(a: Truths) -> Truths = machine::_mm256_xor_pd(a, numbers(splat_bits(u64::MAX)));
        signs(a: Truths) -> i32 = machine::_mm256_movemask_pd(a);
        bit<const AT>(a: Bits) -> Truths = numbers(machine::_mm256_cmpeq_epi64(
            machine::_mm256_and_si256(a, splat_bits(1 << AT)), splat_bits(1 << AT)));
        bits(a: Numbers) -> Bits = machine::_mm256_castpd_si256(a);
        numbers(a: Bits) -> Numbers = machine::_mm256_castsi256_pd(a);
        add_bits(a: Bits, b: Bits) -> Bits = machine::_mm256_add_epi64(a, b);
        sub_bits(a: Bits, b: Bits) -> Bits = machine::_mm256_sub_epi64(a, b);
        shift_left<const BY>(a: Bits) -> Bits = machine::_mm256_slli_epi64::<BY>(a);
        shift_right<const BY>(a: Bits) -> Bits = machine::_mm256_srli_epi64::<BY>(a);
        low_pairs(a: Numbers, b: Numbers) -> Numbers = machine::_mm256_unpacklo_pd(a, b);
        high_pairs(a: Numbers, b: Numbers) -> Numbers = machine::_mm256_unpackhi_pd(a, b);
        low_halves(a: Numbers, b: Numbers) -> Numbers =
            machine::_mm256_permute2f128_pd::<0x20>(a, b);
        high_halves(a: Numbers, b: Numbers) -> Numbers =
            machine::_mm256_permute2f128_pd::<0x31>(a, b);
        // both are four numbers of 64 bits and nothing else
        from_array(four: [f64; 4]) -> Numbers = std::mem::transmute::<[f64; 4], Numbers>(four);
        array(four: Numbers) -> [f64; 4] = std::mem::transmute::<Numbers, [f64; 4]>(four);
    }

    /// Truths of an array.
    #[inline(always)]
    pub(in crate::lane) fn truths(four: [bool; 4]) -> Truths {
        from_array(four.map(|truth| if truth { f64::from_bits(u64::MAX) } else { 0.0 }))
    }
}

/// Instructions on eight numbers. To be called only where AVX-512 has been found present, which
/// [`InstructionSet::run_cells`] sees to.
#[cfg(target_arch = "x86_64")]
pub(super) mod avx512 {
    pub(in crate::lane) use machine::{__m512d as Numbers, __m512i as Bits, __mmask8 as Truths};
    use std::arch::x86_64 as machine;

    instructions! {
        splat(x: f64) -> Numbers = machine::_mm512_set1_pd(x);
        splat_bits(x: u64) -> Bits = machine::_mm512_set1_epi64(x.cast_signed());
        add(a: Numbers, b: Numbers) -> Numbers = machine::_mm512_add_pd(a, b);
        sub(a: Numbers, b: Numbers) -> Numbers = machine::_mm512_sub_pd(a, b);
        mul(a: Numbers, b: Numbers) -> Numbers = machine::_mm512_mul_pd(a, b);
        div(a: Numbers, b: Numbers) -> Numbers = machine::_mm512_div_pd(a, b);
        sqrt(a: Numbers) -> Numbers = machine::_mm512_sqrt_pd(a);
        and(a: Numbers, b: Numbers) -> Numbers = machine::_mm512_and_pd(a, b);
        xor(a: Numbers, b: Numbers) -> Numbers = machine::_mm512_xor_pd(a, b);
        less(a: Numbers, b: Numbers) -> Truths =
            machine::_mm512_cmp_pd_mask::<{ machine::_CMP_LT_OQ }>(a, b);
        less_or_equal(a: Numbers, b: Numbers) -> Truths =
            machine::_mm512_cmp_pd_mask::<{ machine::_CMP_LE_OQ }>(a, b);
        choose(mask: Truths, yes: Numbers, no: Numbers) -> Numbers =
            machine::_mm512_mask_blend_pd(mask, no, yes);
        bit<const AT>(a: Bits) -> Truths = machine::_mm512_test_epi64_mask(a, splat_bits(1 << AT));
        bits(a: Numbers) -> Bits = machine::_mm512_castpd_si512(a);
        numbers(a: Bits) -> Numbers = machine::_mm512_castsi512_pd(a);
        add_bits(a: Bits, b: Bits) -> Bits = machine::_mm512_add_epi64(a, b);
        sub_bits(a: Bits, b: Bits) -> Bits = machine::_mm512_sub_epi64(a, b);
        shift_left<const BY>(a: Bits) -> Bits =
            machine::_mm512_sll_epi64(a, machine::_mm_cvtsi32_si128(BY));
        shift_right<const BY>(a: Bits) -> Bits =
            machine::_mm512_srl_epi64(a, machine::_mm_cvtsi32_si128(BY));
        // both are eight numbers of 64 bits and nothing else
        from_array(eight: [f64; 8]) -> Numbers = std::mem::transmute::<[f64; 8], Numbers>(eight);
        array(eight: Numbers) -> [f64; 8] = std::mem::transmute::<Numbers, [f64; 8]>(eight);
    }

    /// Both.
    #[inline(always)]
    pub(in crate::lane) fn both(a: Truths, b: Truths) -> Truths {
        a & b
    }

    /// Either.
    #[inline(always)]
    pub(in crate::lane) fn either(a: Truths, b: Truths) -> Truths {
        a | b
    }

    /// Not.
    #[inline(always)]
    pub(in crate::lane) fn opposite(a: Truths) -> Truths {
        !a
    }

    /// Bit by bit.
    #[inline(always)]
    pub(in crate::lane) fn signs(a: Truths) -> i32 {
        i32::from(a)
    }

    /// Truths of an array.
    #[inline(always)]
    pub(in crate::lane) fn truths(eight: [bool; 8]) -> Truths {
        (0..8).fold(0, |mask, i| mask | (u8::from(eight[i]) << i))
    }
}
