//! Settles many random engines on two threads and prints how they went.
//!
//! `cargo run --release -p freshcharge-validation --bin many-engines -- COUNT [SEED]`; one engine of two hundred has
//! pipes, all with `many-engines pipes COUNT [SEED]`; `model-2` before the count takes version 2 of the model. `many-engines show [pipes] NUMBER [SEED]` prints an engine's
//! file and speed.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use freshcharge_sim::spec::ModelVersion;
use freshcharge_validation::trial::{self, Tally};

/// The seed of the tests.
const SEED: u64 = 1;
/// One engine of so many has pipes: it takes some hundred times as long.
const PIPES_IN: usize = 200;
/// Engines that a thread takes at once, without pipes.
const BLOCK: usize = 500;
/// The same with pipes.
const BLOCK_WITH_PIPES: usize = 5;
const THREADS: usize = 2;

/// Engines of one kind.
struct Work {
    seed: u64,
    count: usize,
    block: usize,
    pipes: bool,
    version: ModelVersion,
    next: AtomicUsize,
    done: Mutex<(usize, Vec<(usize, Tally)>)>,
}

impl Work {
    fn new(seed: u64, count: usize, pipes: bool, version: ModelVersion) -> Self {
        let block = if pipes { BLOCK_WITH_PIPES } else { BLOCK };
        let (next, done) = (AtomicUsize::new(0), Mutex::default());
        Self { seed, count, block, pipes, version, next, done }
    }

    /// Takes blocks until none is left.
    fn through(&self, began: Instant) {
        loop {
            let first = self.next.fetch_add(self.block, Ordering::Relaxed);
            if first >= self.count {
                return;
            }
            let last = (first + self.block).min(self.count);
            let tally = self.caught(first..last).unwrap_or_else(|| {
                // one of them panics: which?
                let mut one_by_one = Tally::default();
                for index in first..last {
                    let alone = self.caught(index..index + 1);
                    one_by_one.add(alone.unwrap_or_else(|| Tally::panicked(index)));
                }
                one_by_one
            });
            let Ok(mut done) = self.done.lock() else { return };
            done.0 += last - first;
            done.1.push((first, tally));
            if done.0 == self.count || done.0 % 5000 == 0 || self.pipes {
                let kind = if self.pipes { " with pipes" } else { "" };
                let seconds = began.elapsed().as_secs_f64();
                eprintln!("{} of {}{kind} after {seconds:.0} s", done.0, self.count);
            }
        }
    }

    fn caught(&self, range: std::ops::Range<usize>) -> Option<Tally> {
        catch_unwind(AssertUnwindSafe(|| trial::run(self.seed, range, self.pipes, self.version)))
            .ok()
    }

    /// All blocks together, in order.
    fn total(self) -> Tally {
        let (_, mut blocks) = self.done.into_inner().unwrap_or_default();
        blocks.sort_by_key(|(first, _)| *first);
        let mut total = Tally::default();
        blocks.into_iter().for_each(|(_, tally)| total.add(tally));
        total
    }
}

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let mut numbers = words.iter().filter_map(|w| w.parse::<u64>().ok());
    let Some(count) = numbers.next().and_then(|n| usize::try_from(n).ok()) else {
        eprintln!("say how many engines, as in `many-engines 1000`, and perhaps a seed");
        return ExitCode::from(2);
    };
    let seed = numbers.next().unwrap_or(SEED);
    let pipes = words.iter().any(|w| w == "pipes");
    if words.iter().any(|w| w == "show") {
        let drawn = trial::sample(seed, count, pipes);
        println!("# {:.3}/min\n{}", drawn.rpm, drawn.text);
        return ExitCode::SUCCESS;
    }
    let began = Instant::now();
    let piped = if pipes { count } else { count / PIPES_IN };
    let second = words.iter().any(|w| w == "model-2");
    let version = if second { ModelVersion::TWO } else { ModelVersion::STANDARD };
    let works =
        [Work::new(seed, piped, true, version), Work::new(seed, count - piped, false, version)];
    std::thread::scope(|scope| {
        for _ in 0..THREADS {
            scope.spawn(|| works.iter().for_each(|work| work.through(began)));
        }
    });
    let [with, without] = works.map(Work::total);
    println!("seed {seed}, {:.0} s\nwithout pipes: {without}\nwith pipes: {with}", {
        began.elapsed().as_secs_f64()
    });
    let sound = [&with, &without].iter().all(|t| t.broken.is_empty() && t.panicked.is_empty());
    if sound { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
