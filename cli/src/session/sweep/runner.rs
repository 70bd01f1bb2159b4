//! Threads and order: chains are handed out in order, solved in any, and written in order again.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use super::Shard;
use super::job::Job;
use super::progress::Progress;
use super::store::Store;
use super::tally::Tally;
use super::worker::{self, Batch};
use crate::session::files::Failure;

/// How far ahead of the file chains may be handed out, for each thread.
const AHEAD: u64 = 1024;
/// Longest time that a row may wait before it is on disk.
const SYNC: Duration = Duration::from_millis(800);

/// Hands out positions in order, never far ahead of what is written.
pub(crate) struct Window {
    state: Mutex<State>,
    changed: Condvar,
    width: u64,
    end: u64,
    stop: &'static AtomicBool,
}

struct State {
    next: u64,
    written: u64,
    failed: bool,
}

impl Window {
    fn new(start: u64, end: u64, width: u64, stop: &'static AtomicBool) -> Self {
        let state = Mutex::new(State { next: start, written: start, failed: false });
        Self { state, changed: Condvar::new(), width, end, stop }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The next positions, at most `most`; none when there are no more, or when one would have to wait
    /// for them and `wait` is not wanted.
    pub(crate) fn take(&self, most: u64, wait: bool) -> Option<Range<u64>> {
        let mut state = self.state();
        loop {
            if state.failed || state.next >= self.end || self.stop.load(Ordering::Relaxed) {
                return None;
            }
            if state.next < state.written + self.width {
                let start = state.next;
                state.next = (start + most).min(self.end);
                return Some(start..state.next);
            }
            if !wait {
                return None;
            }
            let pause = Duration::from_millis(100);
            state = self
                .changed
                .wait_timeout(state, pause)
                .map_or_else(|e| e.into_inner().0, |(state, _)| state);
        }
    }

    fn wrote(&self, position: u64) {
        self.state().written = position;
        self.changed.notify_all();
    }

    fn fail(&self) {
        self.state().failed = true;
        self.changed.notify_all();
    }
}

/// How a sweep ended.
pub(crate) struct Ended {
    /// Rows of this run alone.
    pub(crate) tally: Tally,
    /// Chains of the shard that are in the file.
    pub(crate) chains: u64,
    /// How long it took.
    pub(crate) elapsed: Duration,
}

/// What is to be computed, and by how many.
pub(crate) struct Task<'a> {
    /// The sweep.
    pub(crate) job: &'a Job,
    /// Its part.
    pub(crate) shard: Shard,
    /// Threads.
    pub(crate) threads: usize,
    /// Set when it is to end early.
    pub(crate) stop: &'static AtomicBool,
}

/// Computes what is missing in the store, from position `done` on.
pub(crate) fn run(
    task: &Task,
    store: &mut Store,
    done: u64,
    progress: &mut Progress,
) -> Result<Ended, Failure> {
    let Task { job, shard, threads, stop } = *task;
    let end = shard.chains(job.sweep.chains());
    let window = Window::new(done, end, AHEAD * threads as u64, stop);
    let started = Instant::now();
    let (sender, receiver) = channel();
    let written = std::thread::scope(|scope| {
        for _ in 0..threads {
            let (window, sender) = (&window, sender.clone());
            scope.spawn(move || {
                worker::work(job, shard, window, &|batch| {
                    // the writer is gone only when the disk has failed, and then says so itself
                    let _ = sender.send(batch);
                });
            });
        }
        drop(sender);
        let written = write(job, store, done, &window, &receiver, progress);
        if written.is_err() {
            window.fail();
        }
        written
    });
    progress.clear();
    let (tally, chains) = written?;
    Ok(Ended { tally, chains, elapsed: started.elapsed() })
}

/// Writes batches in order until all workers are gone.
fn write(
    job: &Job,
    store: &mut Store,
    done: u64,
    window: &Window,
    receiver: &Receiver<Batch>,
    progress: &mut Progress,
) -> Result<(Tally, u64), Failure> {
    let mut waiting: BTreeMap<u64, Batch> = BTreeMap::new();
    let (mut next, mut tally) = (done, Tally::default());
    let (mut synced, mut dirty) = (Instant::now(), false);
    loop {
        match receiver.recv_timeout(SYNC) {
            Ok(batch) => {
                waiting.insert(batch.position, batch);
            }
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => break,
        }
        let before = next;
        while let Some(batch) = waiting.remove(&next) {
            store.append(&batch.rows)?;
            tally.join(&batch.tally, &job.objectives);
            next += batch.chains;
            dirty = true;
        }
        if next > before {
            window.wrote(next);
        }
        if dirty && synced.elapsed() >= SYNC {
            store.sync()?;
            (synced, dirty) = (Instant::now(), false);
        }
        progress.show(&tally);
    }
    store.sync()?;
    Ok((tally, next))
}
