//! Sine, arc sine, powers, exponential and logarithm with the same bits on every processor and system.
//!
//! The standard library hands these to the system's, which picks among versions by processor (with and
//! without fused multiplication) and differs from system to system. Here they come from the four operations
//! and the square root alone. What feeds a model must use these or [`crate::lane`]'s; `clippy.toml` of this
//! library refuses the standard ones.

/// Sine of an angle [rad].
#[must_use]
pub fn sin(angle: f64) -> f64 {
    libm::sin(angle)
}

/// Cosine of an angle [rad].
#[must_use]
pub fn cos(angle: f64) -> f64 {
    libm::cos(angle)
}

/// Tangent of an angle [rad].
#[must_use]
pub fn tan(angle: f64) -> f64 {
    libm::tan(angle)
}

/// Angle of a tangent [rad].
#[must_use]
pub fn atan(tangent: f64) -> f64 {
    libm::atan(tangent)
}

/// Angle of a sine [rad]; NaN outside [−1, 1].
#[must_use]
pub fn asin(sine: f64) -> f64 {
    libm::asin(sine)
}

/// Angle of a cosine [rad]; NaN outside [−1, 1].
#[must_use]
pub fn acos(cosine: f64) -> f64 {
    libm::acos(cosine)
}

/// Angle of the point (x, y) from the x axis [rad].
#[must_use]
pub fn atan2(y: f64, x: f64) -> f64 {
    libm::atan2(y, x)
}

/// √(a² + b²).
#[must_use]
pub fn hypot(a: f64, b: f64) -> f64 {
    libm::hypot(a, b)
}

/// Power of a number.
#[must_use]
pub fn pow(base: f64, exponent: f64) -> f64 {
    libm::pow(base, exponent)
}

/// Exponential.
#[must_use]
pub fn exp(x: f64) -> f64 {
    libm::exp(x)
}

/// Natural logarithm.
#[must_use]
pub fn ln(x: f64) -> f64 {
    libm::log(x)
}

/// Logarithm to base ten.
#[must_use]
pub fn log10(x: f64) -> f64 {
    libm::log10(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FNV-1a over the bits of all functions at a few thousand places.
    fn fingerprint() -> u64 {
        let mut hash = 0xcbf2_9ce4_8422_2325_u64;
        let mut take = |x: f64| {
            for byte in x.to_bits().to_le_bytes() {
                hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
            }
        };
        for i in 1..4000 {
            let x = f64::from(i) * 0.618_033_988_749_894_9;
            let share = x.fract();
            [sin(x), cos(x), asin(share), acos(share), atan2(share, 1.0 - share)]
                .into_iter()
                .for_each(&mut take);
            [hypot(x, share), pow(x, 3.0 * share - 1.0), exp(30.0 * share - 20.0)]
                .into_iter()
                .for_each(&mut take);
            [ln(x), log10(x)].into_iter().for_each(&mut take);
        }
        hash
    }

    /// Frozen: whatever processor or system this runs on, the bits are these.
    #[test]
    fn bits_are_the_same_everywhere() {
        assert_eq!(format!("{:016x}", fingerprint()), "d450bdc0b50ccee1");
    }

    #[test]
    fn values_are_within_an_ulp_of_the_systems() {
        for i in 1..4000 {
            let x = f64::from(i) * 0.618_033_988_749_894_9;
            let share = x.fract();
            for (ours, theirs) in [
                (sin(x), x.sin()),
                (asin(share), share.asin()),
                (acos(share), share.acos()),
                (pow(x, 3.0 * share - 1.0), x.powf(3.0 * share - 1.0)),
                (exp(30.0 * share - 20.0), (30.0 * share - 20.0).exp()),
                (ln(x), x.ln()),
                (log10(x), x.log10()),
            ] {
                let ulp = f64::EPSILON * theirs.abs();
                assert!((ours - theirs).abs() <= 2.0 * ulp, "{x}: {ours:e} {theirs:e}");
            }
        }
    }
}
