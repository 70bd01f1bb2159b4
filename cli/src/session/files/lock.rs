//! One writer at a time: a lock file that names its process.
//!
//! The system's lock on `FILE.lock` ends with the process that holds it, so that a lock file left by a
//! process that was killed is told from one in use. The file says who holds it; a process that ends in
//! order removes it. Where the file system has no locks, the process that it names must have ended.

use std::fs::{File, TryLockError};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use super::{Failure, whole};

/// A file that this process alone may write until this is dropped.
#[derive(Debug)]
pub(crate) struct Lock {
    path: PathBuf,
    /// Holds the system's lock.
    file: File,
}

impl Lock {
    /// Locks `guarded` by a file beside it; gives the process that was killed while it held the lock.
    pub(crate) fn take(guarded: &Path) -> Result<(Self, Option<Holder>), Failure> {
        let mut name = guarded.file_name().unwrap_or_default().to_owned();
        name.push(".lock");
        let path = guarded.with_file_name(name);
        loop {
            let mut file = whole::open_to_grow(&path)?;
            let named = Holder::read(&mut file);
            match file.try_lock() {
                Err(TryLockError::WouldBlock) => return Err(in_use(guarded, &path, named, true)),
                // whoever held it has ended and taken the file along
                Ok(()) if !whole::is_at(&file, &path) => continue,
                Ok(()) => {}
                // no locks here: what the file says must do
                Err(TryLockError::Error(_)) => {
                    if named.as_ref().is_some_and(|holder| !holder.has_ended()) {
                        return Err(in_use(guarded, &path, named, false));
                    }
                }
            }
            let mut lock = Self { path, file };
            lock.name(&Holder::here()).map_err(|e| whole::unwritable(&lock.path, e))?;
            return Ok((lock, named));
        }
    }

    fn name(&mut self, holder: &Holder) -> std::io::Result<()> {
        self.file.set_len(0)?;
        self.file.seek(SeekFrom::Start(0))?;
        self.file.write_all(format!("{holder}\n").as_bytes())
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        // a file that stays behind is taken over by the next
        let _ = std::fs::remove_file(&self.path);
    }
}

fn in_use(guarded: &Path, lock: &Path, holder: Option<Holder>, sure: bool) -> Failure {
    let who = holder.map_or_else(|| "a process that has just begun".to_owned(), |h| h.to_string());
    let lock = lock.display();
    let why = if sure {
        format!(
            "another sweep is writing this file: {who}, as {lock} says. Wait for it, end it, or use another --out"
        )
    } else {
        format!(
            "another sweep seems to be writing this file: {who}, as {lock} says; this file system has no locks that would tell for certain. When that process no longer runs, remove {lock}"
        )
    };
    Failure::Results { path: guarded.to_owned(), why }
}

/// A process, as a lock file names it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Holder {
    process: u32,
    host: Option<String>,
}

impl std::fmt::Display for Holder {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "process {}", self.process)?;
        self.host.as_ref().map_or(Ok(()), |host| write!(f, " on {host}"))
    }
}

impl Holder {
    /// This process.
    fn here() -> Self {
        let host = std::fs::read_to_string("/proc/sys/kernel/hostname")
            .or_else(|_| std::env::var("HOSTNAME"))
            .or_else(|_| std::env::var("COMPUTERNAME"));
        Self { process: std::process::id(), host: host.ok().and_then(|h| host_name(h.trim())) }
    }

    /// What a lock file says; none when it is empty or says something else.
    fn read(file: &mut File) -> Option<Self> {
        let mut text = String::new();
        file.take(200).read_to_string(&mut text).ok()?;
        Self::parse(&text)
    }

    fn parse(text: &str) -> Option<Self> {
        let said = text.strip_suffix('\n')?.strip_prefix("process ")?;
        let (process, host) = match said.split_once(" on ") {
            Some((process, host)) => (process, Some(host_name(host)?)),
            None => (said, None),
        };
        Some(Self { process: process.parse().ok()?, host })
    }

    /// True when it is certain that this process no longer runs.
    fn has_ended(&self) -> bool {
        let here = Self::here();
        let processes = Path::new("/proc");
        let known = processes.join("self").exists();
        // a number of our own was somebody else's before us
        let runs =
            self.process != here.process && processes.join(self.process.to_string()).exists();
        self.host == here.host && known && !runs
    }
}

/// A host's name, which goes to terminals; none when it holds anything else.
fn host_name(text: &str) -> Option<String> {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-._".contains(c);
    ((1..=64).contains(&text.len()) && text.chars().all(plain)).then(|| text.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_holder_is_read_as_it_was_written_and_nothing_else_is() {
        for host in [None, Some("bench-2.shop".to_owned())] {
            let holder = Holder { process: 4711, host };
            assert_eq!(Holder::parse(&format!("{holder}\n")), Some(holder));
        }
        for other in ["", "process 4711", "process x\n", "process 1 on \u{1b}[2J\n", "pid 5\n"] {
            assert_eq!(Holder::parse(other), None, "{other:?}");
        }
    }

    #[test]
    fn where_there_are_no_locks_a_process_that_runs_is_told_from_one_that_has_ended() {
        if !Path::new("/proc/self").exists() {
            println!("SKIPPED: this system does not list its processes");
            return;
        }
        let mut child = std::process::Command::new("sleep").arg("60").spawn().unwrap();
        let holder = Holder { process: child.id(), ..Holder::here() };
        assert!(!holder.has_ended());
        child.kill().unwrap();
        child.wait().unwrap();
        assert!(holder.has_ended());
        let elsewhere = Holder { host: Some("elsewhere".to_owned()), ..holder };
        assert!(!elsewhere.has_ended(), "nobody here can tell");
    }

    #[test]
    fn a_lock_excludes_another_and_goes_with_its_holder() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("results.csv");
        let (lock, left) = Lock::take(&file).unwrap();
        assert_eq!(left, None);
        let said = Lock::take(&file).unwrap_err().to_string();
        assert!(said.contains(&format!("{}, as ", Holder::here())), "{said}");
        drop(lock);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
        std::fs::write(folder.path().join("results.csv.lock"), "process 7 on bench\n").unwrap();
        let (_lock, left) = Lock::take(&file).unwrap();
        assert_eq!(left.unwrap().to_string(), "process 7 on bench");
    }
}
