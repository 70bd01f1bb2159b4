//! Invariants of random engines: no panic, no broken bound, no open balance, and settled or said not to be.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::spec::ModelVersion;
use freshcharge_validation::trial;

/// Runs random engines: nearly all are engines, all keep their bounds, and of every `share` that settle at most one
/// does not.
fn try_engines(count: usize, pipes: bool, share: usize) {
    for version in ModelVersion::ALL {
        let tally = trial::run(1, 0..count, pipes, *version);
        println!("model {}: {tally}", version.number());
        assert!(tally.broken.is_empty(), "{tally}");
        let answered = tally.settled + tally.standing + tally.of_several_turns.len();
        assert_eq!(tally.refusals() + answered + tally.open() + tally.failures(), count);
        assert!(tally.refusals() * 20 < count, "{tally}");
        assert!((tally.open() + tally.failures()) * share <= tally.settled, "{tally}");
    }
}

#[test]
fn random_engines_keep_every_bound() {
    try_engines(500, false, 100);
}

/// Gas takes many cycles down a pipe, and some engines have no periodic state within the cycles allowed.
#[test]
fn random_engines_with_pipes_keep_every_bound() {
    try_engines(24, true, 5);
}

/// Engines on which an accelerated start leads out of the bounds: the search goes on without it.
#[test]
fn a_bad_accelerated_start_is_given_up() {
    for index in [8171, 12_343, 16_027, 17_100, 25_539, 58_486] {
        for version in ModelVersion::ALL {
            let tally = trial::run(1, index..index + 1, false, *version);
            assert_eq!((tally.settled, tally.broken.len()), (1, 0), "{tally}");
        }
    }
}
