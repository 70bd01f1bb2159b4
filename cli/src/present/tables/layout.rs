//! Numbers and words as people read them.

pub(crate) use freshcharge_sim::studies::number;

/// Words wrapped to eighty columns.
pub(crate) fn wrapped(words: &str) -> String {
    textwrap::fill(words, 80)
}
