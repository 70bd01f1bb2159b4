//! Numbers as people read them.

/// A number with about four significant digits, never in powers of ten unless it is tiny.
#[must_use]
pub fn number(value: f64) -> String {
    let size = value.abs();
    // rounding left over where there is nothing
    if size < 1e-9 {
        return "0".to_owned();
    }
    if size < 5e-3 {
        return format!("{value:.3e}");
    }
    let digits = if size >= 1000.0 {
        0
    } else if size >= 100.0 {
        1
    } else if size >= 1.0 {
        2
    } else if size >= 0.1 {
        3
    } else {
        4
    };
    format!("{value:.digits$}")
}

/// A half-width ± with two significant digits.
#[must_use]
pub fn half_width(value: f64) -> String {
    if value <= 0.0 || !value.is_finite() {
        return "0".to_owned();
    }
    // the power of ten as it is written, which no logarithm rounds
    let written = format!("{value:e}");
    let power = written.rsplit('e').next().and_then(|power| power.parse().ok()).unwrap_or(0.0_f64);
    let digits = (1.0 - power).clamp(0.0, 7.0) as usize;
    format!("{value:.digits$}")
}
