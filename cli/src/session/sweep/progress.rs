//! How far a sweep has come, on the error stream.

use std::io::{IsTerminal, Write};
use std::time::{Duration, Instant};

use super::job::Job;
use super::tally::Tally;

/// Shows rate, time left, rows by outcome and the best so far.
pub(crate) struct Progress {
    total: u64,
    before: u64,
    best: Vec<String>,
    terminal: bool,
    quiet: bool,
    started: Instant,
    shown: Option<Instant>,
}

impl Progress {
    /// For `total` rows, `before` of which are there already.
    pub(crate) fn new(job: &Job, total: u64, before: u64, quiet: bool) -> Self {
        let best = job.objectives.iter().map(|o| o.key.clone()).collect();
        let terminal = std::io::stderr().is_terminal();
        Self { total, before, best, terminal, quiet, started: Instant::now(), shown: None }
    }

    /// Shows it, not more often than is pleasant.
    pub(crate) fn show(&mut self, tally: &Tally) {
        let often = Duration::from_millis(if self.terminal { 300 } else { 60_000 });
        let last = self.shown.unwrap_or(self.started);
        if self.quiet || last.elapsed() < often {
            return;
        }
        self.shown = Some(Instant::now());
        let rows = tally.rows();
        let rate = rows as f64 / self.started.elapsed().as_secs_f64();
        let left = self.total.saturating_sub(self.before + rows) as f64 / rate.max(1e-9);
        let best = tally.best.first().copied().flatten().map_or_else(String::new, |(v, case)| {
            let key = self.best.first().map_or("", String::as_str);
            format!("; best {key} {v:.4} (case {case})")
        });
        let text = format!(
            "{} of {} cases, {rate:.1}/s, {} left; {}{best}",
            self.before + rows,
            self.total,
            duration(left),
            tally.words(),
        );
        let mut stream = std::io::stderr();
        // a lost progress line is no loss
        let _ = if self.terminal {
            write!(stream, "\r\u{1b}[K{text}")
        } else {
            writeln!(stream, "{text}")
        };
    }

    /// Takes the line away.
    pub(crate) fn clear(&self) {
        if self.terminal && !self.quiet && self.shown.is_some() {
            let _ = write!(std::io::stderr(), "\r\u{1b}[K");
        }
    }
}

/// A time in words [s].
pub(crate) fn duration(seconds: f64) -> String {
    let whole = seconds.round();
    match whole {
        _ if seconds < 10.0 => format!("{seconds:.1} s"),
        w if w < 120.0 => format!("{w:.0} s"),
        w if w < 7200.0 => format!("{:.0} min", w / 60.0),
        w if w < 172_800.0 => format!("{:.1} h", w / 3600.0),
        w => format!("{:.1} days", w / 86_400.0),
    }
}
