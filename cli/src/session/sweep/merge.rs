//! Shards joined: every case exactly once, or a list of what is missing.

use std::path::{Path, PathBuf};

use super::Shard;
use super::results_file::ResultsFile;
use crate::present::rows::Header;
use crate::session::files::{self, Failure, Lock, WholeFile};

/// Files of shards in a folder, by name.
pub(crate) fn shard_files(folder: &Path) -> Result<Vec<PathBuf>, Failure> {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let fail = |source| Failure::Read { path: folder.to_owned(), source };
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(fail)? {
        let path = entry.map_err(fail)?.path();
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        if name.starts_with("results-") && name.ends_with(".csv") && name.contains("-of-") {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

/// What merging came to.
pub(crate) enum Merged {
    /// Every case is there.
    Whole {
        /// The merged file.
        file: PathBuf,
        /// Its rows.
        rows: u64,
    },
    /// Something is missing; nothing was written.
    Missing(Vec<String>),
}

/// One shard's file under way.
struct Part {
    table: ResultsFile,
    ahead: Option<Vec<u8>>,
    case: Option<u64>,
}

impl Part {
    fn open(path: &Path) -> Result<Self, Failure> {
        let table = ResultsFile::open(path)?;
        let mut part = Self { table, ahead: None, case: None };
        part.advance()?;
        Ok(part)
    }

    fn advance(&mut self) -> Result<(), Failure> {
        match self.table.next_line()? {
            Some((line, Some(case))) => {
                (self.ahead, self.case) = (Some(line), Some(case));
            }
            Some((_, None)) => {
                let number = self.table.line_number();
                // a torn last line is an unfinished shard; a line before others is damage
                if self.table.next_line()?.is_some() {
                    return Err(Failure::Results {
                        path: self.table.path().to_owned(),
                        why: format!(
                            "line {number} is damaged; run this shard's sweep again with --repair"
                        ),
                    });
                }
                (self.ahead, self.case) = (None, None);
            }
            None => {
                (self.ahead, self.case) = (None, None);
            }
        }
        Ok(())
    }
}

/// The header as that of a whole sweep.
fn as_whole(header: &Header) -> String {
    header.text.replacen(&format!("# shard = {}\n", header.shard), "# shard = 1/1\n", 1)
}

/// Joins the shards in `folders` into `results.csv` in `out`.
pub(crate) fn merge(folders: &[PathBuf], out: &Path) -> Result<Merged, Failure> {
    let mut files = Vec::new();
    for folder in folders {
        files.extend(shard_files(folder)?);
    }
    let (mut parts, header) = open_all(&files, folders)?;
    let of = header.shard.of;
    let missing: Vec<u64> =
        (1..=of).filter(|n| parts.iter().all(|p| p.table.header.shard.number != *n)).collect();
    let mut problems: Vec<String> =
        missing.iter().map(|n| format!("shard {n}/{of} is missing altogether")).collect();
    if header.count("chains_of_combination") == 0 || header.count("rows_of_combination") == 0 {
        let why = "the header does not say how many cases there are".to_owned();
        return Err(Failure::Results { path: files[0].clone(), why });
    }
    files::make_folder(out)?;
    let target = out.join("results.csv");
    let _lock = Lock::take(&target)?;
    let mut writer = WholeFile::begin(&target)?;
    writer.add(as_whole(&header).as_bytes())?;
    let (whole, gaps) = copy(&mut parts, &header, &mut writer)?;
    for part in &parts {
        if let Some(case) = part.case {
            let why = format!(
                "line {} has case {case}, which stands here twice or does not belong to shard {}",
                part.table.line_number(),
                part.table.header.shard
            );
            return Err(Failure::Results { path: part.table.path().to_owned(), why });
        }
    }
    problems.extend(gaps.words());
    if !problems.is_empty() {
        return Ok(Merged::Missing(problems));
    }
    // results of something else that stand there are kept
    let same = |table: ResultsFile| table.header.text == as_whole(&header);
    if target.exists() && !ResultsFile::open(&target).is_ok_and(same) {
        let aside = writer.finish_beside("replaced")?;
        files::say(&format!("The earlier results are now in {}.\n", aside.display()));
    } else {
        writer.finish()?;
    }
    Ok(Merged::Whole { file: target, rows: whole })
}

/// Copies every case in order; gives how many there are, and which are missing.
fn copy(
    parts: &mut [Part],
    header: &Header,
    writer: &mut WholeFile,
) -> Result<(u64, Gaps), Failure> {
    let (chains, pieces) = (header.count("chains"), header.count("chains_of_combination"));
    let rows = header.count("rows_of_combination");
    let (mut whole, mut gaps) = (0_u64, Gaps::default());
    for chain in 0..chains {
        let (combination, piece) = (chain / pieces, chain % pieces);
        let start = combination * rows;
        let cases = start + piece * rows / pieces..start + (piece + 1) * rows / pieces;
        let number = chain % header.shard.of + 1;
        let part = parts.iter_mut().find(|p| p.table.header.shard.number == number);
        let Some(part) = part else { continue };
        for case in cases {
            if part.case != Some(case) {
                gaps.add(case);
                continue;
            }
            if let Some(line) = &part.ahead {
                writer.add(line)?;
                writer.add(b"\n")?;
            }
            whole += 1;
            part.advance()?;
        }
    }
    Ok((whole, gaps))
}

/// Opens all shards of one sweep; gives the header of the first.
fn open_all(files: &[PathBuf], folders: &[PathBuf]) -> Result<(Vec<Part>, Header), Failure> {
    let mut parts: Vec<Part> = Vec::new();
    for file in files {
        let part = Part::open(file)?;
        if let Some(first) = parts.first() {
            let (a, b) = (&first.table.header, &part.table.header);
            if as_whole(a) != as_whole(b) || a.shard.of != b.shard.of {
                let first = first.table.path().display();
                let why = match (a.line("model"), b.line("model")) {
                    (of, here) if of == here => {
                        format!("these are shards of another sweep than {first}")
                    }
                    (of, here) => format!(
                        "version {here} of the model computed these shards, version {of} those of {first}: results of two versions are never mixed"
                    ),
                };
                return Err(Failure::Results { path: file.clone(), why });
            }
        }
        let number = part.table.header.shard.number;
        if let Some(twin) = parts.iter().find(|p| p.table.header.shard.number == number) {
            let why = format!("shard {number} is also in {}", twin.table.path().display());
            return Err(Failure::Results { path: file.clone(), why });
        }
        parts.push(part);
    }
    let Some(header) = parts.first().map(|p| p.table.header.clone()) else {
        let path = folders.first().cloned().unwrap_or_default();
        let why = "there are no shards here (results-1-of-4.csv and so on)".to_owned();
        return Err(Failure::Results { path, why });
    };
    if header.shard == Shard::WHOLE {
        let why = "this is a whole sweep, there is nothing to join".to_owned();
        return Err(Failure::Results { path: files[0].clone(), why });
    }
    Ok((parts, header))
}

/// Missing cases as ranges, the first of them kept.
#[derive(Default)]
struct Gaps {
    ranges: Vec<(u64, u64)>,
    cases: u64,
}

impl Gaps {
    const SHOWN: usize = 20;

    fn add(&mut self, case: u64) {
        self.cases += 1;
        let count = self.ranges.len();
        match self.ranges.last_mut() {
            Some(last) if last.1 + 1 == case => last.1 = case,
            _ if count <= Self::SHOWN => self.ranges.push((case, case)),
            _ => {}
        }
    }

    fn words(&self) -> Option<String> {
        if self.cases == 0 {
            return None;
        }
        let one = |(a, b): &(u64, u64)| if a == b { a.to_string() } else { format!("{a}-{b}") };
        let shown: Vec<String> = self.ranges.iter().take(Self::SHOWN).map(one).collect();
        let more = if self.ranges.len() > Self::SHOWN { " and more" } else { "" };
        Some(format!(
            "{} cases are missing in unfinished shards: {}{more}",
            self.cases,
            shown.join(", ")
        ))
    }
}
