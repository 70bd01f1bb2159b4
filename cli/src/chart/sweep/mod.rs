//! Charts of a sweep.

use std::path::Path;

use crate::files::Failure;

/// The charts that every sweep gets.
pub(crate) fn default_set(_results: &Path, _out: &Path) -> Result<Vec<String>, Failure> {
    Ok(Vec::new())
}
