//! How far a run has come, on a terminal's error stream only.

use std::io::{IsTerminal, Write};
use std::sync::atomic::{AtomicUsize, Ordering};

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
