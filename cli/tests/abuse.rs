//! What goes wrong on real machines: every command answers in words and with its exit code, and nothing panics.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

fn scenario(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios").join(name);
    std::fs::read_to_string(path).unwrap()
}

/// A folder with an engine, goals, a plan, a rig and measurements.
struct Bench(tempfile::TempDir);

impl Bench {
    fn new() -> Self {
        let bench = Self(tempfile::tempdir().unwrap());
        for name in ["touring.toml", "goals.toml", "deck-height.toml", "rigs/shock-tube.toml"] {
            bench.write(name.rsplit('/').next().unwrap(), scenario(name));
        }
        bench.write("dyno.csv", "rpm,power_kw\n5000,4.1\n6000,5.2\n");
        bench
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn write(&self, name: &str, text: impl AsRef<[u8]>) {
        std::fs::write(self.path(name), text).unwrap();
    }

    fn command(&self, line: &str) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_freshcharge"));
        command.args(line.split_whitespace()).current_dir(self.0.path()).stdin(Stdio::null());
        command
    }

    fn run(&self, line: &str) -> Output {
        sound(line, self.command(line).output().unwrap())
    }

    /// Runs what must be refused, and returns the words.
    fn refused(&self, line: &str) -> String {
        let out = self.run(line);
        assert_eq!(out.status.code(), Some(2), "{line}: {out:?}");
        String::from_utf8(out.stderr).unwrap()
    }

    /// Runs what must work.
    fn done(&self, line: &str) -> String {
        let out = self.run(line);
        assert_eq!(out.status.code(), Some(0), "{line}: {out:?}");
        String::from_utf8(out.stdout).unwrap()
    }
}

fn sound(line: &str, out: Output) -> Output {
    let said = String::from_utf8_lossy(&out.stderr);
    assert!(!said.contains("panicked") && out.status.code().is_some(), "{line}: {said}");
    out
}

#[test]
fn a_million_million_cases_are_refused_with_their_number() {
    let bench = Bench::new();
    let thousands = ["stack.base_total_mm=0:0.9999:0.0001", "stack.head_total_mm=0:0.9999:0.0001"];
    let line = format!(
        "sweep touring.toml --vary {} --vary {} --vary exhaust.window.roof_depth_mm=30:30.9999:0.0001 --rpm 6000 --out r",
        thousands[0], thousands[1]
    );
    let began = Instant::now();
    let said = bench.refused(&line);
    assert!(said.contains("make 1000000000000 cases; at most 1000000000"), "{said}");
    assert!(began.elapsed() < Duration::from_secs(10), "{:?}", began.elapsed());
    assert!(!bench.path("r").exists());
}

#[test]
fn names_may_have_spaces_and_letters_of_any_script() {
    let bench = Bench::new();
    let name = "mein Roller ä 日本 'n' \"z\".toml";
    std::fs::rename(bench.path("touring.toml"), bench.path(name)).unwrap();
    let mut command = bench.command("run --rpm 6000 --trace spur --charts");
    let out = command.args(["bilder öü 図", name]).output().unwrap();
    assert_eq!(sound("names", out).status.code(), Some(0));
    assert!(bench.path("bilder öü 図").read_dir().unwrap().count() > 3);
    let out = bench.command("report -o").args(["mein Blatt ß.html", name]).output().unwrap();
    assert_eq!(sound("report", out).status.code(), Some(0));
    let page = std::fs::read_to_string(bench.path("mein Blatt ß.html")).unwrap();
    assert!(!page.contains("\"z\".toml\""), "a name must not end an attribute");
    let out = bench.command("run").arg("kein Motor ü.toml").output().unwrap();
    let said = String::from_utf8(sound("missing", out).stderr).unwrap();
    assert!(said.contains("kein Motor ü.toml"), "{said}");
}

#[cfg(unix)]
#[test]
fn names_need_not_be_text() {
    use std::os::unix::ffi::OsStrExt;
    let bench = Bench::new();
    let name = std::ffi::OsStr::from_bytes(b"m\xff\xfe.toml");
    if std::fs::copy(bench.path("touring.toml"), bench.0.path().join(name)).is_err() {
        println!("skipped: this disk takes no such names");
        return;
    }
    for line in [
        "run --rpm 6000 --json",
        "check",
        "report -o x.html",
        "sweep --dry-run --vary stack.base_total_mm=0.4,0.5",
    ] {
        let out = sound(line, bench.command(line).arg(name).output().unwrap());
        assert_eq!(out.status.code(), Some(0), "{line}: {out:?}");
    }
}

#[test]
fn line_ends_and_byte_order_marks_of_other_systems_change_nothing() {
    let bench = Bench::new();
    let lines = [
        ("touring.toml", "run touring.toml --rpm 6000 --csv"),
        ("goals.toml", "plan touring.toml goals.toml --show 1"),
        ("shock-tube.toml", "rig shock-tube.toml"),
        ("dyno.csv", "report touring.toml --measured dyno.csv --rpm 5000,6000 --markdown md"),
    ];
    for (file, line) in lines {
        let before = bench.done(line);
        let text = std::fs::read_to_string(bench.path(file)).unwrap();
        bench.write(file, format!("\u{feff}{}", text.replace('\n', "\r\n")));
        assert_eq!(bench.done(line), before, "{line}");
    }
    bench.write(
        "deck-height.toml",
        format!("\u{feff}{}", scenario("deck-height.toml").replace('\n', "\r\n")),
    );
    assert!(bench.done("sweep deck-height.toml --dry-run").contains("6435 cases"));
}

#[test]
fn decimal_commas_are_told_with_what_to_write() {
    let bench = Bench::new();
    for (file, from, to, line, wanted) in [
        ("touring.toml", "deck_mm = ", "deck_mm = 0,25 #", "check touring.toml", "0.25"),
        ("goals.toml", "most_mm = 2.0", "most_mm = 2,5", "plan touring.toml goals.toml", "2.5"),
        ("deck-height.toml", "from = 0.4", "from = 0,4", "sweep deck-height.toml --dry-run", "0.4"),
        ("shock-tube.toml", "gamma = 1.4", "gamma = 1,4", "rig shock-tube.toml", "1.4"),
        (
            "dyno.csv",
            "rpm,power_kw\n5000,4.1",
            "rpm;power_kw\n5000;4,1",
            "report touring.toml --measured dyno.csv -o x.html",
            "4.1",
        ),
    ] {
        let text = std::fs::read_to_string(bench.path(file)).unwrap();
        assert!(text.contains(from), "{file}");
        bench.write(file, text.replacen(from, to, 1));
        let said = bench.refused(line);
        assert!(said.contains(wanted) && said.contains(file), "{said}");
        bench.write(file, text);
    }
    for (line, wanted) in [
        ("run touring.toml --set carburettor.bore_mm=24,5", "decimals with a point: 24.5"),
        ("correct --pressure 985,2 --temperature 28", "decimals with a point: 985.2"),
        ("target touring.toml --power 5,5 --rpm 7000", "decimals with a point: 5.5"),
    ] {
        let said = bench.refused(line);
        assert!(said.contains(wanted), "{said}");
    }
}

/// Every command that reads a file of people, with that file.
const READERS: [&str; 9] = [
    "run FILE",
    "check FILE",
    "explain FILE --rpm 7000",
    "plan touring.toml FILE",
    "recheck FILE",
    "rig FILE",
    "sweep FILE --out r",
    "fit touring.toml --measured FILE --input crankcase.volume_cm3=300:600",
    "chart FILE -o c",
];

#[test]
fn a_file_of_a_hundred_megabytes_is_refused_at_once() {
    let bench = Bench::new();
    let file = std::fs::File::create(bench.path("huge.toml")).unwrap();
    // a hole: nothing is written, and whoever read it whole would read 100 MB
    file.set_len(100_000_000).unwrap();
    for line in READERS {
        let began = Instant::now();
        let said = bench.refused(&line.replace("FILE", "huge.toml"));
        assert!(
            said.contains("huge.toml has 100000000 bytes") && said.contains("at most"),
            "{said}"
        );
        assert!(began.elapsed() < Duration::from_secs(10), "{line}: {:?}", began.elapsed());
    }
    // what never ends
    if Path::new("/dev/zero").exists() {
        let said = bench.refused("run /dev/zero");
        assert!(said.contains("/dev/zero"), "{said}");
    }
}

#[cfg(unix)]
#[test]
fn links_are_followed_and_those_that_lead_nowhere_are_told() {
    let bench = Bench::new();
    for (to, link) in [
        ("touring.toml", "good.toml"),
        ("nowhere.toml", "bad.toml"),
        ("loop.toml", "loop.toml"),
        (".", "folder.toml"),
    ] {
        std::os::unix::fs::symlink(to, bench.path(link)).unwrap();
    }
    assert_eq!(
        bench.done("run good.toml --rpm 6000 --csv"),
        bench.done("run touring.toml --rpm 6000 --csv")
    );
    for line in READERS {
        for link in ["bad.toml", "loop.toml", "folder.toml"] {
            let said = bench.refused(&line.replace("FILE", link));
            assert!(said.contains(link) && said.lines().count() <= 3, "{said}");
        }
    }
    // results go where the link leads
    std::fs::create_dir(bench.path("elsewhere")).unwrap();
    std::os::unix::fs::symlink("elsewhere", bench.path("out")).unwrap();
    bench.done("sweep touring.toml --vary stack.base_total_mm=0.4,0.6 --rpm 6000 --out out");
    assert!(bench.path("elsewhere/results.csv").exists());
}

/// Every command that writes into a folder or a file, with its place.
const WRITERS: [&str; 9] = [
    "run touring.toml --rpm 6000 --charts PLACE",
    "run touring.toml --rpm 6000 --trace PLACE",
    "sweep touring.toml --vary stack.base_total_mm=0.4,0.6 --rpm 6000 --out PLACE",
    "rig shock-tube.toml --out PLACE",
    "portmap touring.toml -o PLACE",
    "disc touring.toml -o PLACE",
    "new PLACE",
    "plan touring.toml goals.toml --sheet PLACE",
    "report touring.toml --rpm 6000 -o PLACE",
];

#[cfg(unix)]
#[test]
fn what_may_not_be_read_or_written_is_told() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    use std::os::unix::process::CommandExt;
    let bench = Bench::new();
    let mode = |name: &str, mode| {
        let path = bench.path(name);
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    };
    bench.write("secret.toml", scenario("touring.toml"));
    std::fs::create_dir(bench.path("locked")).unwrap();
    mode("", 0o755);
    // to root nothing is forbidden: then the program runs as nobody
    let nobody = std::fs::metadata(bench.path("secret.toml")).unwrap().uid() == 0;
    mode("secret.toml", 0o000);
    mode("locked", 0o555);
    let run = |line: &str| {
        let mut command = bench.command(line);
        if nobody {
            command.uid(65_534).gid(65_534);
        }
        command.output()
    };
    match run("angles 121/177") {
        Ok(out) if out.status.success() => {}
        other => {
            println!(
                "skipped: the program cannot be run as a user without rights here ({other:?})"
            );
            return;
        }
    }
    let refused = |line: &str, name: &str| {
        let out = sound(line, run(line).unwrap());
        let said = String::from_utf8(out.stderr).unwrap();
        assert_eq!(out.status.code(), Some(2), "{line}: {said}");
        assert!(said.contains(name) && said.contains("ermission denied"), "{line}: {said}");
    };
    for line in READERS {
        refused(&line.replace("FILE", "secret.toml"), "secret.toml");
    }
    for line in WRITERS {
        refused(&line.replace("PLACE", "locked/x"), "locked/x");
    }
    mode("locked", 0o755);
}

#[test]
fn a_file_in_place_of_a_folder_is_told() {
    let bench = Bench::new();
    for line in WRITERS.iter().filter(|l| !l.starts_with("new") && !l.starts_with("report")) {
        let said = bench.refused(&line.replace("PLACE", "dyno.csv"));
        assert!(said.contains("dyno.csv"), "{line}: {said}");
    }
    assert!(bench.refused("new dyno.csv").contains("dyno.csv"), "what is there is kept");
    assert!(std::fs::read_to_string(bench.path("dyno.csv")).unwrap().starts_with("rpm,power_kw\n"));
}

/// Commands that print much.
const PRINTERS: [&str; 10] = [
    "--help",
    "man",
    "schema",
    "limits",
    "completions bash",
    "check touring.toml",
    "run touring.toml --rpm 6000",
    "run touring.toml --rpm 3000:6000:500 --json",
    "explain touring.toml --rpm 7000 --speeds 7000",
    "sweep deck-height.toml --dry-run",
];

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    let bench = Bench::new();
    for line in PRINTERS {
        let mut child =
            bench.command(line).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        // as `| head -1` does
        let mut reader = BufReader::with_capacity(16, child.stdout.take().unwrap());
        reader.read_line(&mut String::new()).unwrap();
        drop(reader);
        let mut said = String::new();
        child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        let code = child.wait().unwrap().code();
        assert!(code == Some(0) && !said.contains("panicked"), "{line}: {code:?} {said}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_behind_standard_output_is_told() {
    let bench = Bench::new();
    for line in PRINTERS.iter().filter(|l| **l != "--help") {
        let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
        let out = bench.command(line).stdout(full).stderr(Stdio::piped()).output().unwrap();
        let said = String::from_utf8(sound(line, out).stderr).unwrap();
        assert!(said.contains("standard output"), "{line}: {said}");
    }
}

#[test]
fn terminals_may_be_tiny_or_lie_about_their_width() {
    let bench = Bench::new();
    for columns in ["20", "1", "0", "-3", "wide", "99999999999999999999"] {
        for line in [
            "--help",
            "check touring.toml",
            "run touring.toml --rpm 6000 --sketch",
            "angles 121/177",
            "check comma.toml",
        ] {
            let out =
                bench.command(line).env("COLUMNS", columns).env("TERM", "dumb").output().unwrap();
            sound(line, out);
        }
    }
    let out = bench.command("--help").env("COLUMNS", "20").output().unwrap();
    assert!(!out.stdout.is_empty());
}

#[test]
fn nothing_depends_on_a_home_or_on_any_other_variable() {
    let bench = Bench::new();
    for line in [
        "run touring.toml --rpm 6000 --charts c",
        "report touring.toml --rpm 6000 -o x.html",
        "sweep touring.toml --vary stack.base_total_mm=0.4,0.6 --rpm 6000 --out r",
        "new n.toml",
        "portmap touring.toml -o p",
    ] {
        let out = bench.command(line).env_clear().output().unwrap();
        assert_eq!(sound(line, out).status.code(), Some(0), "{line}");
    }
}

#[test]
fn numbers_that_are_none_or_far_too_large_are_refused() {
    let bench = Bench::new();
    for (line, wanted) in [
        ("run touring.toml --rpm 3000:9000:1e-320", "speeds are too many"),
        ("compare touring.toml --set stack.base_total_mm=nan --rpm 6000", "finite"),
        ("explain touring.toml --rpm 1e300", "no speed"),
        ("explain touring.toml --rpm 7000 --speeds 4000,7000 --hours=-1,5", "below zero"),
        ("target touring.toml --power inf --rpm 7000", "no number"),
        ("run touring.toml --rpm 6000 --plus-minus 1000000000000", "between 8 and 65536"),
        (
            "sweep touring.toml --vary stack.base_total_mm=0.4,0.5 --threads 1000000000 --out r",
            "4096 threads",
        ),
        ("sweep touring.toml --vary stack.base_total_mm=0:1:1e-320 --out r", "too many"),
        ("sweep touring.toml --vary stack.base_total_mm=0.4,0.5 --shard 0/0 --out r", "shard"),
        ("run touring.toml --rpm 6000 --cells-mm 1e-9", "cells"),
    ] {
        let said = bench.refused(line);
        assert!(said.contains(wanted), "{line}: {said}");
    }
    assert!(!bench.path("r").exists());
}
