//! Files that appear under their name only when they are whole.
//!
//! A file is written under a name that nobody can guess, created new in the same folder (so that no link
//! is followed and no other file touched), put on disk and then renamed. What fails midway leaves nothing.

use std::fs::{File, Metadata, OpenOptions, Permissions};
use std::io::{BufWriter, ErrorKind, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use super::Failure;

/// A file under way.
pub(crate) struct WholeFile {
    part: NamedTempFile,
    /// To the same file, which names it in no error.
    writer: BufWriter<File>,
    path: PathBuf,
    /// Of the file that it replaces.
    permissions: Option<Permissions>,
}

impl WholeFile {
    /// Begins the file that is to stand at `path`.
    pub(crate) fn begin(path: &Path) -> Result<Self, Failure> {
        let permissions = match path.symlink_metadata() {
            Ok(there) => Some(replaceable(path, &there)?.permissions()),
            Err(_) => None,
        };
        let mut builder = tempfile::Builder::new();
        builder.prefix(".freshcharge-").suffix(".part");
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let bare = |e: std::io::Error| unwritable(path, e.kind().into());
        let part = builder.tempfile_in(folder_of(path)).map_err(bare)?;
        let file = part.as_file().try_clone().map_err(|e| unwritable(path, e))?;
        let writer = BufWriter::with_capacity(1 << 16, file);
        Ok(Self { part, writer, path: path.to_owned(), permissions })
    }

    /// Adds bytes.
    pub(crate) fn add(&mut self, bytes: &[u8]) -> Result<(), Failure> {
        self.writer.write_all(bytes).map_err(|e| unwritable(&self.path, e))
    }

    /// Puts everything on disk; the file has not appeared yet.
    fn sync(&mut self) -> Result<(), Failure> {
        let synced = self.writer.flush().and_then(|()| self.writer.get_ref().sync_all());
        synced.map_err(|e| unwritable(&self.path, e))
    }

    /// Puts everything on disk and lets the file appear; the one that it replaces is kept as
    /// `path.ending`, whose name this gives.
    pub(crate) fn finish_beside(mut self, ending: &str) -> Result<PathBuf, Failure> {
        self.sync()?;
        let path = self.path.clone();
        let aside = put_aside(&path, ending)?;
        match self.finish() {
            Ok(()) => Ok(aside),
            Err(failure) => {
                // the old one stays in its place when the new one cannot have it
                let _ = std::fs::rename(&aside, &path);
                Err(failure)
            }
        }
    }

    /// Puts everything on disk and lets the file appear.
    pub(crate) fn finish(mut self) -> Result<(), Failure> {
        self.sync()?;
        let fail = |e| unwritable(&self.path, e);
        if let Some(permissions) = self.permissions {
            self.part.as_file().set_permissions(permissions).map_err(fail)?;
        }
        self.part.persist(&self.path).map_err(|e| fail(e.error))?;
        sync_folder(&self.path);
        Ok(())
    }
}

/// Writes a whole file.
pub(crate) fn write(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let mut file = WholeFile::begin(path)?;
    file.add(bytes)?;
    file.finish()
}

/// Makes a folder and all above it; a link to a folder stands for that folder.
pub(crate) fn make_folder(path: &Path) -> Result<(), Failure> {
    std::fs::create_dir_all(path).map_err(|e| unwritable(path, e))
}

/// Opens a file for reading and for growing in place, created when there is none, never through a link.
pub(crate) fn open_to_grow(path: &Path) -> Result<File, Failure> {
    let fail = |e| unwritable(path, e);
    let mut open = OpenOptions::new();
    open.read(true).write(true);
    // what is there may vanish or be replaced between two looks
    for _ in 0..100 {
        match open.clone().create_new(true).open(path) {
            Err(e) if e.kind() == ErrorKind::AlreadyExists => {}
            created => return created.map_err(fail),
        }
        match path.symlink_metadata() {
            Ok(there) => {
                replaceable(path, &there)?;
            }
            Err(e) if e.kind() == ErrorKind::NotFound => continue,
            Err(e) => return Err(fail(e)),
        }
        match open.open(path) {
            Ok(file) if is_at(&file, path) => return Ok(file),
            Ok(_) => {}
            Err(e) if e.kind() == ErrorKind::NotFound => {}
            Err(e) => return Err(fail(e)),
        }
    }
    Err(refusal(path, "other programs keep replacing it".to_owned()))
}

/// True when an open file is the one that stands at `path`, which is no link.
#[cfg(unix)]
pub(super) fn is_at(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let place = |m: Metadata| (m.dev(), m.ino());
    match (file.metadata(), path.symlink_metadata()) {
        (Ok(open), Ok(there)) => place(open) == place(there),
        _ => false,
    }
}

/// Other systems have no number for a file that the standard library gives.
#[cfg(not(unix))]
pub(super) fn is_at(_: &File, path: &Path) -> bool {
    path.symlink_metadata().is_ok_and(|m| m.is_file())
}

/// Renames a file to `path.ending`, or with -1, -2 and so on behind it when that name is taken.
pub(crate) fn put_aside(path: &Path, ending: &str) -> Result<PathBuf, Failure> {
    let mut number = 0;
    loop {
        let mut name = path.file_name().unwrap_or_default().to_owned();
        name.push(if number == 0 { format!(".{ending}") } else { format!(".{ending}-{number}") });
        let aside = path.with_file_name(name);
        // an empty file of our own holds the name until the rename replaces it
        match OpenOptions::new().write(true).create_new(true).open(&aside) {
            Ok(_) => {}
            Err(e) if e.kind() == ErrorKind::AlreadyExists => {
                number += 1;
                continue;
            }
            Err(e) => return Err(unwritable(&aside, e)),
        }
        return match std::fs::rename(path, &aside) {
            Ok(()) => Ok(aside),
            Err(e) => {
                let _ = std::fs::remove_file(&aside);
                Err(unwritable(path, e))
            }
        };
    }
}

/// The folder in which a file stands.
fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Makes a rename last; where folders cannot be synced the system does it in its own time.
fn sync_folder(path: &Path) {
    if cfg!(unix)
        && let Ok(folder) = File::open(folder_of(path))
    {
        let _ = folder.sync_all();
    }
}

/// Lets through only a plain file that may be written.
fn replaceable<'a>(path: &Path, there: &'a Metadata) -> Result<&'a Metadata, Failure> {
    let why = if there.is_symlink() {
        let to =
            path.read_link().map_or_else(|_| "elsewhere".to_owned(), |p| p.display().to_string());
        format!(
            "it is a link to {to}, and links are not written through; name the file itself, or remove the link"
        )
    } else if there.is_dir() {
        format!("it is a folder; give the name of a file, such as {}", path.join("name").display())
    } else if !there.is_file() {
        "it is neither a file nor a folder; give the name of a file".to_owned()
    } else if there.permissions().readonly() {
        "it is marked read-only; choose another name, or allow writing to it".to_owned()
    } else {
        return Ok(there);
    };
    Err(refusal(path, why))
}

fn refusal(path: &Path, why: String) -> Failure {
    Failure::Place { path: path.to_owned(), why }
}

/// Why the system refuses a file or folder, and what to do.
pub(crate) fn unwritable(path: &Path, source: std::io::Error) -> Failure {
    // the first thing on the way that is no folder is what stands in it
    let mut above: Vec<&Path> = path.ancestors().filter(|p| !p.as_os_str().is_empty()).collect();
    above.reverse();
    let wanted = |p: &Path| p != path || source.kind() == ErrorKind::AlreadyExists;
    for place in above.into_iter().filter(|p| wanted(p)) {
        let why = match (place.symlink_metadata(), place.metadata()) {
            (Ok(link), Err(_)) if link.is_symlink() => "is a link that leads nowhere",
            (_, Ok(there)) if !there.is_dir() => "is a file, not a folder",
            (Err(e), _) if e.kind() == ErrorKind::NotFound => {
                return refusal(path, format!("the folder {} is not there", place.display()));
            }
            _ => continue,
        };
        return refusal(path, format!("{} {why}; choose another place", place.display()));
    }
    let remedy = match source.kind() {
        ErrorKind::StorageFull | ErrorKind::FileTooLarge | ErrorKind::QuotaExceeded => {
            "what stood there before is unchanged; make room and try again"
        }
        ErrorKind::PermissionDenied => "choose a place where you may write",
        ErrorKind::ReadOnlyFilesystem => "choose a place on another disk",
        _ => return Failure::Write { path: path.to_owned(), source },
    };
    refusal(path, format!("{source}; {remedy}"))
}
