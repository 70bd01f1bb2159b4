//! The same bits whatever the system's library takes the processor for.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod common;

use common::{root, text};
use std::process::Command;

/// What the GNU C library may be told to do without (other libraries do not listen).
const PROCESSORS: &[&str] = &[
    "glibc.cpu.hwcaps=-FMA,-FMA4",
    "glibc.cpu.hwcaps=-AVX2,-FMA,-FMA4,-AVX512F,-AVX",
    "glibc.cpu.hwcaps=-SSE4_1,-AVX2,-FMA,-FMA4,-AVX512F,-AVX",
];

fn printed(args: &[&str], tunables: Option<&str>) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_freshcharge"));
    command.args(args).current_dir(root()).env_remove("GLIBC_TUNABLES");
    if let Some(tunables) = tunables {
        command.env("GLIBC_TUNABLES", tunables);
    }
    let out = command.output().unwrap();
    assert!(out.status.success(), "{}", text(&out.stderr));
    text(&out.stdout)
}

fn same_everywhere(args: &[&str]) {
    let usual = printed(args, None);
    assert!(usual.contains("power"), "{usual}");
    for tunables in PROCESSORS {
        assert!(printed(args, Some(tunables)) == usual, "{args:?} differs with {tunables}");
    }
}

#[test]
fn a_reed_valve_gives_the_same_bits_on_older_processors() {
    same_everywhere(&["run", "scenarios/reed.toml", "--rpm", "5000,7000", "--json", "-q"]);
}

#[test]
fn pipes_give_the_same_bits_on_older_processors() {
    let args = ["run", "scenarios/tuned-pipe.toml", "--rpm", "9000", "--cells-mm", "40"];
    same_everywhere(&[&args[..], &["--json", "-q"]].concat());
}

#[test]
fn what_follows_from_the_measurements_gives_the_same_bits_on_older_processors() {
    let args = ["check", "scenarios/touring.toml", "--json"];
    let usual = printed(&args, None);
    for tunables in PROCESSORS {
        assert!(printed(&args, Some(tunables)) == usual, "differs with {tunables}");
    }
}
