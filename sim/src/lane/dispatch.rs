//! Chooses the instruction set at run time. The only file with `unsafe`: calling a function compiled
//! for features that have just been found present.
//!
//! No fused multiply-add is enabled anywhere, so that every choice gives the same bits.

#![allow(unsafe_code, reason = "calls into functions compiled for detected processor features")]

/// Work whose inner loops should be compiled for each instruction set. `run` must be inlined.
pub trait Job {
    /// What it gives.
    type Output;
    /// Does it.
    fn run(self) -> Self::Output;
}

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

    /// Runs a job compiled for this set; falls back to the baseline where the processor lacks it.
    pub fn run<J: Job>(self, job: J) -> J::Output {
        #[cfg(target_arch = "x86_64")]
        if self.present() {
            match self {
                // SAFETY: the features have just been found present.
                Self::Avx512 => return unsafe { avx512(job) },
                // SAFETY: the feature has just been found present.
                Self::Avx2 => return unsafe { avx2(job) },
                Self::Baseline => {}
            }
        }
        job.run()
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
fn avx2<J: Job>(job: J) -> J::Output {
    job.run()
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f,avx512dq,avx512vl")]
fn avx512<J: Job>(job: J) -> J::Output {
    job.run()
}
