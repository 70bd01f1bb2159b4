//! The only place that touches the disk.

mod lock;
mod whole;

use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use freshcharge_sim::forms::displayable;

pub(crate) use lock::Lock;
pub(crate) use whole::{WholeFile, make_folder, open_to_grow, put_aside, write};

/// Why a command failed.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Failure {
    /// A file could not be read.
    #[error("cannot read {}: {source}", path.display())]
    Read {
        /// Which.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A file is not text.
    #[error("{} is not a text file in UTF-8 (first bad byte at {offset}); save it as plain text", path.display())]
    NotText {
        /// Which.
        path: PathBuf,
        /// Where.
        offset: usize,
    },
    /// A file is larger than any engine file.
    #[error("{} has {bytes} bytes; files of engines, plans and measurements have at most {most}", path.display())]
    TooLarge {
        /// Which.
        path: PathBuf,
        /// Its size.
        bytes: usize,
        /// The limit.
        most: usize,
    },
    /// A file or folder could not be written.
    #[error("cannot write {}: {source}", path.display())]
    Write {
        /// Which.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A file or folder cannot stand where it is wanted.
    #[error("cannot write {}: {why}", path.display())]
    Place {
        /// Which.
        path: PathBuf,
        /// Why, and what to do.
        why: String,
    },
    /// The engine file has faults; the text has been made ready.
    #[error("{0}")]
    Faults(String),
    /// An argument makes no sense.
    #[error("{flag} {value}: {remedy}")]
    Argument {
        /// Which flag.
        flag: &'static str,
        /// What was given.
        value: String,
        /// What to write instead.
        remedy: String,
    },
    /// Results of a sweep cannot be used as they are.
    #[error("{}: {why}", path.display())]
    Results {
        /// Which file.
        path: PathBuf,
        /// Why, and what to do.
        why: String,
    },
    /// A job file could not be put into words.
    #[error("cannot write the job file: {0}")]
    Job(String),
    /// A picture could not be drawn.
    #[error(transparent)]
    Drawing(#[from] crate::present::DrawError),
    /// The engine cannot be simulated at all.
    #[error("{file}: {why}")]
    Engine {
        /// Engine file.
        file: String,
        /// Why.
        why: String,
    },
}

impl Failure {
    /// True when the reader of standard output has gone: no failure of ours.
    pub(crate) fn is_broken_pipe(&self) -> bool {
        matches!(self, Self::Write { source, .. } if source.kind() == std::io::ErrorKind::BrokenPipe)
    }

    /// Says what went wrong on standard error.
    pub(crate) fn report(&self) {
        let mut stream = anstream::stderr();
        let red = anstyle::Style::new().bold().fg_color(Some(anstyle::AnsiColor::Red.into()));
        let text = match self {
            Self::Faults(text) => text.clone(),
            // a path may hold what a terminal would obey
            other => {
                let words = other.to_string();
                let lines: Vec<String> = words.lines().map(displayable).collect();
                format!("{red}error:{red:#} {}\n", lines.join("\n"))
            }
        };
        // nobody is left to tell when standard error is closed too
        let _ = stream.write_all(text.as_bytes());
    }
}

/// Largest engine file read [bytes].
const LARGEST: usize = 4 << 20;

/// Reads a text file, or standard input for `-`.
pub(crate) fn read_text(path: &Path) -> Result<String, Failure> {
    let fail = |source| Failure::Read { path: path.to_owned(), source };
    let mut bytes = Vec::new();
    let limit = LARGEST as u64 + 1;
    if path == Path::new("-") {
        std::io::stdin().lock().take(limit).read_to_end(&mut bytes).map_err(fail)?;
    } else {
        let file = std::fs::File::open(path).map_err(fail)?;
        let size = file.metadata().map_or(0, |m| m.len() as usize);
        file.take(limit).read_to_end(&mut bytes).map_err(fail)?;
        if bytes.len() > LARGEST {
            return Err(Failure::TooLarge { path: path.to_owned(), bytes: size, most: LARGEST });
        }
    }
    if bytes.len() > LARGEST {
        let (path, bytes) = (path.to_owned(), bytes.len());
        return Err(Failure::TooLarge { path, bytes, most: LARGEST });
    }
    let not_text = |offset| Failure::NotText { path: path.to_owned(), offset };
    // what a terminal would obey is no text either: messages quote lines of files
    let obeyed = |b: &u8| (*b < b' ' && !b"\t\n\r".contains(b)) || *b == 0x7f;
    if let Some(offset) = bytes.iter().position(obeyed) {
        return Err(not_text(offset));
    }
    String::from_utf8(bytes).map_err(|error| not_text(error.utf8_error().valid_up_to()))
}

/// Writes to standard output.
pub(crate) fn print(text: &str) -> Result<(), Failure> {
    let mut stream = anstream::stdout().lock();
    let written = stream.write_all(text.as_bytes()).and_then(|()| stream.flush());
    written.map_err(|source| Failure::Write { path: PathBuf::from("standard output"), source })
}

/// Says something on standard error.
pub(crate) fn say(text: &str) {
    // nobody is left to tell when standard error is closed
    let _ = anstream::stderr().write_all(text.as_bytes());
}
