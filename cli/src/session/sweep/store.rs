//! The results file: only ever grown, by one writer, on disk at least every second.

use std::fs::File;
use std::io::{BufRead, BufReader, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use super::job::Job;
use super::tally::Tally;
use super::{Shard, worker};
use crate::files::{self, Failure, Lock, WholeFile};
use crate::present::rows::text::case_of;

/// A results file open for more.
pub(crate) struct Store {
    file: File,
    path: PathBuf,
    /// Keeps others from writing.
    _lock: Lock,
}

/// What stands in a results file already.
#[derive(Debug, Default)]
pub(crate) struct Found {
    /// Chains of this shard that are complete.
    pub(crate) chains: u64,
    /// Their rows.
    pub(crate) tally: Tally,
    /// Rows of an unfinished chain, which are dropped.
    pub(crate) dropped: u64,
}

/// What may be done with what stands there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Policy {
    /// Go on behind it.
    Resume,
    /// Put it aside and begin anew.
    Restart,
    /// Compute damaged rows anew, keep all others.
    Repair,
}

/// Lines of a file with their places.
pub(crate) struct Lines<R> {
    reader: R,
    /// Where the line just read begins [bytes].
    pub(crate) start: u64,
    /// Where the next begins [bytes].
    pub(crate) end: u64,
    /// Its number, from 1.
    pub(crate) number: u64,
    /// Whether it has a line end.
    pub(crate) whole: bool,
    buffer: Vec<u8>,
}

impl<R: BufRead> Lines<R> {
    pub(crate) fn new(reader: R) -> Self {
        Self { reader, start: 0, end: 0, number: 0, whole: true, buffer: Vec::new() }
    }

    /// The next line without its end; none when there is none.
    pub(crate) fn next(&mut self) -> std::io::Result<Option<&[u8]>> {
        self.buffer.clear();
        let read = self.reader.read_until(b'\n', &mut self.buffer)?;
        if read == 0 {
            return Ok(None);
        }
        (self.start, self.number) = (self.end, self.number + 1);
        self.end += read as u64;
        self.whole = self.buffer.last() == Some(&b'\n');
        if self.whole {
            self.buffer.pop();
            // a spreadsheet may have written its own line ends
            if self.buffer.last() == Some(&b'\r') {
                self.buffer.pop();
            }
        }
        Ok(Some(&self.buffer))
    }
}

impl Store {
    /// Opens the results file of a shard and finds how far it has come.
    pub(crate) fn open(
        folder: &Path,
        job: &Job,
        shard: Shard,
        policy: Policy,
    ) -> Result<(Self, Found), Failure> {
        files::make_folder(folder)?;
        let path = shard.file(folder);
        let fail = |source| Failure::Write { path: path.clone(), source };
        let (lock, left) = Lock::take(&path)?;
        if let Some(holder) = left {
            files::say(&format!(
                "The sweep that was writing {} ({holder}) no longer runs.\n",
                path.display()
            ));
        }
        let mut file = files::open_to_grow(&path)?;
        let header = job.header(shard);
        if policy == Policy::Restart && file.metadata().map_err(fail)?.len() > 0 {
            let aside = files::put_aside(&path, "replaced")?;
            files::say(&format!("The earlier results are now in {}.\n", aside.display()));
            file = files::open_to_grow(&path)?;
        }
        if policy == Policy::Repair {
            repair(&mut file, &path, job, shard, &header)?;
            file = files::open_to_grow(&path)?;
        }
        let (kept, found) = survey(&file, &path, job, shard, &header)?;
        file.set_len(kept).map_err(fail)?;
        file.seek(SeekFrom::End(0)).map_err(fail)?;
        if kept == 0 {
            file.write_all(header.as_bytes()).map_err(fail)?;
        }
        file.sync_data().map_err(fail)?;
        Ok((Self { file, path: path.clone(), _lock: lock }, found))
    }

    /// Where it stands.
    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    /// Adds rows.
    pub(crate) fn append(&mut self, rows: &[u8]) -> Result<(), Failure> {
        self.file.write_all(rows).map_err(|why| self.refused(&why))
    }

    /// Makes sure that everything is on disk.
    pub(crate) fn sync(&self) -> Result<(), Failure> {
        self.file.sync_data().map_err(|why| self.refused(&why))
    }

    /// The disk takes no more.
    fn refused(&self, why: &std::io::Error) -> Failure {
        Failure::Results {
            path: self.path.clone(),
            why: format!(
                "cannot write: {why}; all whole rows in it are safe, and the same command goes on behind them"
            ),
        }
    }
}

/// Reads the file's header; none when it is cut off inside of it.
fn read_header(file: &mut impl Read, header: &str) -> std::io::Result<Option<String>> {
    let mut bytes = vec![0; header.len()];
    let mut filled = 0;
    while filled < bytes.len() {
        match file.read(&mut bytes[filled..])? {
            0 => break,
            read => filled += read,
        }
    }
    bytes.truncate(filled);
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let cut_off = filled < header.len() && header.starts_with(&text);
    Ok((!cut_off).then_some(text))
}

/// Why these are not the results of this sweep.
fn foreign(path: &Path, there: &str, wanted: &str) -> Failure {
    let line = |text: &str, key: &str| -> String {
        let head = format!("# {key} = ");
        text.lines().find_map(|l| l.strip_prefix(&head)).unwrap_or_default().to_owned()
    };
    // a head that is cut off lacks lines that its sweep had
    let cut = !there.contains("\n# about = ");
    let differs = |key: &str| {
        let (found, asked) = (line(there, key), line(wanted, key));
        found != asked && !(cut && found.is_empty())
    };
    let changed: Vec<&str> = [
        ("plan", "the plan"),
        ("engine", "the engine file"),
        ("schema", "the columns"),
        ("program", "the version of this program"),
        ("model", "the version of the model"),
        ("shard", "the shard"),
    ]
    .iter()
    .filter(|(key, _)| differs(key))
    .map(|(_, words)| *words)
    .collect();
    let why = if !there.starts_with("# freshcharge sweep results") {
        "this is no results file of a sweep; choose another --out".to_owned()
    } else {
        let what = if changed.is_empty() { "a name".to_owned() } else { changed.join(" and ") };
        format!(
            "these results come from another sweep, which differs in {what}; choose another --out, or add --restart to put them aside and begin anew"
        )
    };
    Failure::Results { path: path.to_owned(), why }
}

/// Finds how much of the file is whole chains of this sweep, from its start [bytes].
fn survey(
    file: &File,
    path: &Path,
    job: &Job,
    shard: Shard,
    header: &str,
) -> Result<(u64, Found), Failure> {
    let fail = |source| Failure::Read { path: path.to_owned(), source };
    let mut reader = BufReader::with_capacity(1 << 20, file);
    reader.seek(SeekFrom::Start(0)).map_err(fail)?;
    match read_header(&mut reader, header).map_err(fail)? {
        None => return Ok((0, Found::default())),
        Some(there) if there != header => return Err(foreign(path, &there, header)),
        Some(_) => {}
    }
    let mut lines = Lines::new(reader);
    lines.end = header.len() as u64;
    lines.number = header.matches('\n').count() as u64;
    let mut found = Found::default();
    let (mut kept, mut waiting) = (lines.end, Tally::default());
    let mut expected = Expected::new(job, shard, 0);
    while let Some(line) = lines.next().map_err(fail)? {
        let text = std::str::from_utf8(line).unwrap_or_default();
        let whole = expected.case.is_some_and(|c| case_of(line) == Some(c));
        if let Some(case) = expected.case.filter(|_| whole) {
            waiting.read(job, text, case);
        }
        if !(whole && lines.whole) {
            let number = lines.number;
            if after_it(&mut lines, job).map_err(fail)? {
                let why = format!(
                    "line {number} is damaged, and there are good rows behind it; nothing was changed. Add --repair to keep all good rows, compute the damaged ones anew and put the damaged file aside"
                );
                return Err(Failure::Results { path: path.to_owned(), why });
            }
            break;
        }
        if expected.advance(job, shard) {
            found.chains += 1;
            found.tally.join(&std::mem::take(&mut waiting), &job.objectives);
            kept = lines.end;
        }
    }
    found.dropped = waiting.rows();
    Ok((kept, found))
}

/// Whether any good row follows.
fn after_it<R: BufRead>(lines: &mut Lines<R>, job: &Job) -> std::io::Result<bool> {
    while let Some(line) = lines.next()? {
        if case_of(line).is_some_and(|c| c < job.sweep.cases()) {
            return Ok(true);
        }
    }
    Ok(false)
}

/// The case that comes next in a shard's file.
struct Expected {
    position: u64,
    case: Option<u64>,
    left: u64,
}

impl Expected {
    fn new(job: &Job, shard: Shard, position: u64) -> Self {
        if position >= shard.chains(job.sweep.chains()) {
            return Self { position, case: None, left: 0 };
        }
        let chain = shard.chain(position);
        let (_, rows) = job.sweep.chain(chain);
        Self { position, case: Some(job.sweep.first_case(chain)), left: rows.end - rows.start }
    }

    /// To the next case; true when that begins a new chain.
    fn advance(&mut self, job: &Job, shard: Shard) -> bool {
        self.left -= 1;
        if self.left == 0 {
            *self = Self::new(job, shard, self.position + 1);
            return true;
        }
        self.case = self.case.map(|c| c + 1);
        false
    }
}

/// Writes the file anew with every chain that is whole in it, and computes the others up to the last
/// whole one.
fn repair(
    file: &mut File,
    path: &Path,
    job: &Job,
    shard: Shard,
    header: &str,
) -> Result<(), Failure> {
    let fail = |source| Failure::Read { path: path.to_owned(), source };
    file.seek(SeekFrom::Start(0)).map_err(fail)?;
    let mut reader = BufReader::with_capacity(1 << 20, &*file);
    match read_header(&mut reader, header).map_err(fail)? {
        None => return Ok(()),
        Some(there) if there != header => return Err(foreign(path, &there, header)),
        Some(_) => {}
    }
    let mut out = WholeFile::begin(path)?;
    out.add(header.as_bytes())?;
    let mut lines = Lines::new(reader);
    let (mut next, mut computed) = (0_u64, 0_u64);
    let mut chain: Vec<u8> = Vec::new();
    let mut expected: Option<Expected> = None;
    while let Some(line) = lines.next().map_err(fail)? {
        let Some(case) = case_of(line).filter(|c| *c < job.sweep.cases()) else { continue };
        if expected.as_ref().is_none_or(|e| e.case != Some(case)) {
            chain.clear();
            expected = position_of(job, shard, case)
                .filter(|p| *p >= next)
                .map(|p| Expected::new(job, shard, p))
                .filter(|e| e.case == Some(case));
        }
        let Some(at) = &mut expected else { continue };
        chain.extend_from_slice(line);
        chain.push(b'\n');
        let position = at.position;
        if at.advance(job, shard) {
            while next < position {
                out.add(&worker::alone(job, shard.chain(next)).rows)?;
                (next, computed) = (next + 1, computed + 1);
            }
            out.add(&chain)?;
            chain.clear();
            next = position + 1;
        }
    }
    let aside = out.finish_beside("damaged")?;
    files::say(&format!(
        "Repaired: {computed} chains computed anew; the damaged file is now {}.\n",
        aside.display()
    ));
    Ok(())
}

/// Position in a shard of the chain that a case belongs to.
fn position_of(job: &Job, shard: Shard, case: u64) -> Option<u64> {
    let (rows, parts) = (job.sweep.rows(), job.sweep.chains_of_one());
    let first = case / rows * parts;
    let chain = (first..first + parts).rev().find(|c| job.sweep.first_case(*c) <= case)?;
    (chain % shard.of == shard.number - 1).then(|| chain / shard.of)
}
