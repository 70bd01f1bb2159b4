//! Write-ups as files.

use std::path::Path;

use super::files::{self, Failure};
use crate::present::writeup::markdown;
use crate::present::writeup::template::{Template, Told};

/// The shipped template, or the one of a file.
pub(crate) fn template(path: Option<&Path>) -> Result<Template, Failure> {
    let own = match path {
        Some(path) => Some((files::read_text(path)?, path.display().to_string())),
        None => None,
    };
    Template::of(own).map_err(Failure::Faults)
}

/// Writes a file of Markdown and its pictures into a folder; gives how many pictures there are.
pub(crate) fn write_markdown(
    folder: &Path,
    file: &str,
    title: &str,
    told: &[Told],
) -> Result<usize, Failure> {
    files::make_folder(folder)?;
    let (text, pictures) = markdown::text(title, told)?;
    files::write(&folder.join(file), text.as_bytes())?;
    for (name, bytes) in &pictures {
        files::write(&folder.join(name), bytes)?;
    }
    Ok(pictures.len())
}
