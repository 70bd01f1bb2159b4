//! Settles many random engines and prints how they went.
//!
//! `cargo run --release -p freshcharge-validation --example many_engines -- COUNT [FIRST] [pipes]` begins with
//! engine FIRST; with `show N` it prints engine N's file and speed.

use std::process::ExitCode;

use freshcharge_validation::trial;

/// Which engines: those of the tests.
const SEED: u64 = 1;

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let pipes = words.iter().any(|w| w == "pipes");
    let mut numbers = words.iter().filter_map(|w| w.parse::<u64>().ok());
    let Some(count) = numbers.next() else {
        eprintln!("say how many engines, as in `many_engines 1000`");
        return ExitCode::from(2);
    };
    let whole = |number: u64| usize::try_from(number).unwrap_or(usize::MAX);
    let (count, first) = (whole(count), whole(numbers.next().unwrap_or(0)));
    if words.iter().any(|w| w == "show") {
        let drawn = trial::sample(SEED, count, pipes);
        println!("# {:.3}/min\n{}", drawn.rpm, drawn.text);
        return ExitCode::SUCCESS;
    }
    let mut ended = 0;
    let tally = trial::run(SEED, first..first.saturating_add(count), pipes, &mut |tally, began| {
        ended += 1;
        if ended % 1000 == 0 {
            eprintln!("{ended} ended after {:.0} s\n{tally}", began.elapsed().as_secs_f64());
        }
    });
    print!("{tally}");
    if tally.broken.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
