//! Why a picture could not be drawn.

/// A picture that could not be drawn.
#[derive(Debug, thiserror::Error)]
pub(crate) enum DrawError {
    /// The drawing failed, or there is nothing to show.
    #[error("cannot draw {what}: {why}")]
    Picture {
        /// Which picture.
        what: String,
        /// Why.
        why: String,
    },
    /// What was asked for is not in the results.
    #[error("{flag} {value}: {remedy}")]
    Choice {
        /// The flag it was asked by.
        flag: &'static str,
        /// What was asked for.
        value: String,
        /// What to write instead.
        remedy: String,
    },
}
