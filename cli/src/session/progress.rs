//! How far a run has come, on a terminal's error stream only.

use std::io::{IsTerminal, Write};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Counts finished points.
pub(crate) struct Progress {
    done: AtomicUsize,
    total: usize,
    shown: bool,
}

impl Progress {
    /// For `total` points; silent when asked to be or when nobody watches.
    pub(crate) fn new(total: usize, quiet: bool) -> Self {
        let shown = !quiet && total > 1 && std::io::stderr().is_terminal();
        Self { done: AtomicUsize::new(0), total, shown }
    }

    /// One more is done.
    pub(crate) fn advance(&self) {
        let done = self.done.fetch_add(1, Ordering::Relaxed) + 1;
        if self.shown {
            let end = if done == self.total { "\r\u{1b}[K" } else { "" };
            // a lost progress line is no loss
            let _ = write!(std::io::stderr(), "\r{done} of {}{end}", self.total);
        }
    }
}

/// Whether Ctrl-C was pressed.
static STOP: AtomicBool = AtomicBool::new(false);

/// How far a long search has come and how long it will take: on standard error, once it has lasted two
/// seconds. Ctrl-C ends the search at the next point where what is found is whole.
pub(crate) struct Watch {
    quiet: bool,
    terminal: bool,
    started: Instant,
    stage: Mutex<Stage>,
}

struct Stage {
    words: &'static str,
    began: Instant,
    done: usize,
    total: usize,
    shown: Option<Instant>,
}

/// From when on it is shown.
const PATIENCE: Duration = Duration::from_secs(2);

impl Watch {
    /// Begins, and listens for Ctrl-C; the second one ends the program at once.
    pub(crate) fn listening(quiet: bool) -> Self {
        // without a handler an interrupt ends the program at once, which loses what was found
        let _ = ctrlc::set_handler(|| {
            if STOP.swap(true, Ordering::Relaxed) {
                std::process::exit(1);
            }
            crate::session::files::say(
                "\nStopping, and keeping what is found; once more to end at once.\n",
            );
        });
        let now = Instant::now();
        let stage = Stage { words: "", began: now, done: 0, total: 0, shown: None };
        let terminal = std::io::stderr().is_terminal();
        Self { quiet, terminal, started: now, stage: Mutex::new(stage) }
    }

    /// Whether Ctrl-C was pressed.
    pub(crate) fn stopped(&self) -> bool {
        STOP.load(Ordering::Relaxed)
    }

    fn stage(&self) -> std::sync::MutexGuard<'_, Stage> {
        self.stage.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The next part of the work, of so many steps.
    pub(crate) fn begin(&self, words: &'static str, total: usize) {
        let mut stage = self.stage();
        let shown = stage.shown;
        *stage = Stage { words, began: Instant::now(), done: 0, total, shown };
    }

    /// One step is done.
    pub(crate) fn advance(&self) {
        let mut stage = self.stage();
        stage.done += 1;
        let often = if self.terminal { Duration::from_millis(300) } else { Duration::from_secs(5) };
        if self.quiet
            || self.started.elapsed() < PATIENCE
            || stage.shown.is_some_and(|s| s.elapsed() < often)
        {
            return;
        }
        stage.shown = Some(Instant::now());
        let each = stage.began.elapsed().as_secs_f64() / stage.done as f64;
        let left = each * stage.total.saturating_sub(stage.done) as f64;
        let text = format!(
            "{}: {} of {}, about {} left (Ctrl-C stops and keeps what is found)",
            stage.words,
            stage.done,
            stage.total.max(stage.done),
            crate::session::sweep::duration(left)
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
        if self.terminal && !self.quiet && self.stage().shown.is_some() {
            let _ = write!(std::io::stderr(), "\r\u{1b}[K");
        }
    }
}
