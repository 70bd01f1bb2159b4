//! Numbers and words as people read them.

/// A number with about four significant digits, never in powers of ten unless it is tiny.
pub(crate) fn number(value: f64) -> String {
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

/// Words wrapped to eighty columns.
pub(crate) fn wrapped(words: &str) -> String {
    textwrap::fill(words, 80)
}
