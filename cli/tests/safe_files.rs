//! Nothing the program writes destroys a file of somebody else, leaves half a file, or blocks the next command.

#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

const PROGRAM: &str = env!("CARGO_BIN_EXE_freshcharge");
const SWEEP: &str = "sweep touring.toml --vary stack.base_total_mm=0.4,0.6 --rpm 6000 --no-charts";

/// A folder with engines, goals and a rig.
struct Bench(tempfile::TempDir);

impl Bench {
    fn new() -> Self {
        let bench = Self(tempfile::tempdir().unwrap());
        for name in ["touring.toml", "goals.toml", "deck-height.toml", "rigs/shock-tube.toml"] {
            let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios").join(name);
            std::fs::copy(from, bench.path(name.rsplit('/').next().unwrap())).unwrap();
        }
        bench
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn read(&self, name: &str) -> String {
        String::from_utf8_lossy(&std::fs::read(self.path(name)).unwrap()).into_owned()
    }

    fn command(&self, line: &str) -> Command {
        let mut command = Command::new(PROGRAM);
        command.args(line.split_whitespace()).current_dir(self.0.path()).stdin(Stdio::null());
        command
    }

    fn run(&self, line: &str) -> (Option<i32>, String) {
        told(&self.command(line).output().unwrap())
    }

    /// Runs a line of the shell in which PROGRAM stands for the program.
    fn shell(&self, line: &str) -> (Option<i32>, String) {
        let line = line.replace("PROGRAM", PROGRAM);
        let mut command = Command::new("sh");
        command.args(["-c", &line]).current_dir(self.0.path()).stdin(Stdio::null());
        told(&command.output().unwrap())
    }

    fn done(&self, line: &str) -> String {
        let (code, said) = self.run(line);
        assert_eq!(code, Some(0), "{line}: {said}");
        said
    }

    /// Runs what must be refused in one short report.
    fn refused(&self, line: &str) -> String {
        let (code, said) = self.run(line);
        assert!(code == Some(2) && !said.contains("panicked"), "{line}: {code:?} {said}");
        assert!(said.lines().count() <= 3, "{line}: {said}");
        println!("{line}\n  {said}");
        said
    }

    fn names(&self, folder: &str) -> Vec<String> {
        let entries = std::fs::read_dir(self.path(folder)).unwrap();
        let mut names: Vec<String> =
            entries.map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}

fn told(out: &Output) -> (Option<i32>, String) {
    let both = [&out.stdout[..], &out.stderr[..]].concat();
    (out.status.code(), String::from_utf8_lossy(&both).into_owned())
}

fn is_link(path: &Path) -> bool {
    path.symlink_metadata().is_ok_and(|m| m.is_symlink())
}

/// Commands that write files into a folder.
const WRITERS: [&str; 7] = [
    "run touring.toml --rpm 6000 --trace shared --charts shared",
    "rig shock-tube.toml --out shared",
    "portmap touring.toml -o shared",
    "disc touring.toml -o shared",
    "plan touring.toml goals.toml --sheet shared",
    "report --write-template shared/report.toml",
    "new --template shared/engine.toml",
];

#[test]
fn neither_links_nor_files_beside_the_result_are_touched() {
    for line in WRITERS {
        let bench = Bench::new();
        std::fs::create_dir(bench.path("shared")).unwrap();
        bench.done(line);
        let written = bench.names("shared");
        assert!(!written.is_empty(), "{line}");
        std::fs::write(bench.path("victim"), "of somebody else").unwrap();
        for (index, name) in written.iter().enumerate() {
            std::fs::remove_file(bench.path("shared").join(name)).unwrap();
            let beside = bench.path("shared").join(format!("{name}.part"));
            if index % 2 == 0 {
                symlink("../victim", beside).unwrap();
            } else {
                std::fs::write(beside, "my own").unwrap();
            }
        }
        bench.done(line);
        assert_eq!(bench.read("victim"), "of somebody else", "{line}");
        for (index, name) in written.iter().enumerate() {
            let beside = format!("shared/{name}.part");
            assert_eq!(is_link(&bench.path(&beside)), index % 2 == 0, "{line}: {beside}");
            assert!(index % 2 == 0 || bench.read(&beside) == "my own", "{line}: {beside}");
            assert!(!is_link(&bench.path("shared").join(name)), "{line}: {name}");
        }
        assert_eq!(bench.names("shared").len(), 2 * written.len(), "{line}: something was left");
    }
}

#[test]
fn merged_and_repaired_results_follow_no_link() {
    let bench = Bench::new();
    bench.done(&format!("{SWEEP} --out whole"));
    for shard in ["1/2", "2/2"] {
        bench.done(&format!("{SWEEP} --out shards --shard {shard}"));
    }
    std::fs::write(bench.path("victim"), "of somebody else").unwrap();
    symlink("../victim", bench.path("shards/results.csv.part")).unwrap();
    bench.done("merge shards");
    assert_eq!(bench.read("shards/results.csv"), bench.read("whole/results.csv"));
    // a second time they replace themselves, results of something else are kept
    bench.done("merge shards");
    assert!(!bench.path("shards/results.csv.replaced").exists());
    std::fs::write(bench.path("shards/results.csv"), "something else").unwrap();
    bench.done("merge shards");
    assert_eq!(bench.read("shards/results.csv.replaced"), "something else");
    assert_eq!(bench.read("shards/results.csv"), bench.read("whole/results.csv"));
    // the first row is damaged, the second whole
    let good = bench.read("whole/results.csv");
    let damaged = good.replacen("\n0,", "\n0,9", 1);
    std::fs::write(bench.path("whole/results.csv"), &damaged).unwrap();
    symlink("../victim", bench.path("whole/results.csv.repaired")).unwrap();
    symlink("../none", bench.path("whole/results.csv.damaged")).unwrap();
    bench.done(&format!("{SWEEP} --out whole --repair"));
    assert_eq!(bench.read("whole/results.csv"), good);
    assert!(is_link(&bench.path("whole/results.csv.damaged")), "a link was replaced");
    assert_eq!(bench.read("whole/results.csv.damaged-1"), damaged);
    assert_eq!(bench.read("victim"), "of somebody else");
}

#[test]
fn a_link_under_the_results_own_name_is_told_and_kept() {
    let bench = Bench::new();
    std::fs::write(bench.path("victim"), "").unwrap();
    std::fs::create_dir(bench.path("shared")).unwrap();
    for (name, line) in [
        ("report.toml", "report --write-template shared/report.toml"),
        ("port-map.svg", "portmap touring.toml -o shared"),
        ("results.csv", &format!("{SWEEP} --out shared")),
        ("results.csv.lock", &format!("{SWEEP} --out shared")),
    ] {
        let link = bench.path("shared").join(name);
        symlink("../victim", &link).unwrap();
        let said = bench.refused(line);
        assert!(said.contains(&format!("shared/{name}")) && said.contains("is a link"), "{said}");
        assert!(is_link(&link) && bench.read("victim").is_empty(), "{line}");
        std::fs::remove_file(link).unwrap();
    }
}

#[test]
fn places_that_cannot_take_a_file_are_told() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path("folder")).unwrap();
    std::fs::write(bench.path("plain"), "").unwrap();
    std::fs::write(bench.path("kept"), "").unwrap();
    std::fs::set_permissions(bench.path("kept"), PermissionsExt::from_mode(0o444)).unwrap();
    symlink("none", bench.path("nowhere")).unwrap();
    symlink("plain", bench.path("to-a-file")).unwrap();
    symlink("folder", bench.path("to-a-folder")).unwrap();
    for (place, words) in [
        ("report --write-template folder", "is a folder"),
        ("report --write-template none/report.toml", "the folder none is not there"),
        ("report --write-template plain/report.toml", "plain is a file, not a folder"),
        ("report --write-template kept", "read-only"),
        ("report --write-template /dev/null", "is neither a file nor a folder"),
        ("disc touring.toml -o plain", "plain is a file, not a folder"),
        ("disc touring.toml -o plain/deeper/still", "plain is a file, not a folder"),
        ("disc touring.toml -o nowhere", "nowhere is a link that leads nowhere"),
        ("disc touring.toml -o nowhere/deeper", "nowhere is a link that leads nowhere"),
        ("disc touring.toml -o to-a-file", "to-a-file is a file, not a folder"),
    ] {
        let said = bench.refused(place);
        assert!(said.contains(words), "{place}: {said}");
    }
    assert_eq!(bench.names("folder"), [""; 0]);
    bench.done("disc touring.toml -o to-a-folder");
    assert_eq!(bench.names("folder"), ["degree-disc.pdf", "degree-disc.png", "degree-disc.svg"]);
}

#[test]
fn a_new_file_obeys_the_umask_and_a_replaced_one_keeps_its_mode() {
    let bench = Bench::new();
    let (code, said) = bench.shell("umask 027; PROGRAM report --write-template report.toml");
    assert_eq!(code, Some(0), "{said}");
    let mode = || bench.path("report.toml").metadata().unwrap().permissions().mode() & 0o777;
    assert_eq!(mode(), 0o640);
    std::fs::set_permissions(bench.path("report.toml"), PermissionsExt::from_mode(0o600)).unwrap();
    bench.done("report --write-template report.toml");
    assert_eq!(mode(), 0o600);
}

/// Files may not grow beyond some blocks: every write fails midway, as on a full disk.
#[test]
fn a_write_that_fails_midway_leaves_what_was_there_and_nothing_else() {
    let bench = Bench::new();
    bench.done(&format!("{SWEEP} --out out"));
    let good = bench.read("out/results.csv");
    let damaged = good.replacen("\n0,", "\n0,9", 1);
    std::fs::write(bench.path("out/results.csv"), &damaged).unwrap();
    std::fs::write(bench.path("out/degree-disc.svg"), "the old one").unwrap();
    std::fs::write(bench.path("out/report.toml"), "the old one").unwrap();
    let before = bench.names("out");
    for line in [
        "report --write-template out/report.toml",
        "disc touring.toml -o out",
        &format!("{SWEEP} --out out --repair"),
    ] {
        let limited = format!("trap '' XFSZ; ulimit -f 1; exec PROGRAM {line}");
        let (code, said) = bench.shell(&limited);
        assert!(code == Some(2) && said.contains("cannot write"), "{line}: {code:?} {said}");
        println!("{line}\n  {said}");
        assert!(!said.contains(".part"), "{line}: a name that tells nobody anything: {said}");
        assert_eq!(bench.names("out"), before, "{line}");
        assert_eq!(bench.read("out/degree-disc.svg"), "the old one");
        assert_eq!(bench.read("out/report.toml"), "the old one");
        assert_eq!(bench.read("out/results.csv"), damaged);
    }
}

/// A file system of 16 kB in memory, seen by the command alone.
#[test]
fn a_full_disk_keeps_what_was_there_and_nothing_else() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path("small")).unwrap();
    let script = "mount -t tmpfs -o size=16k tmpfs small || exit 77\n\
        printf 'the old one' > small/degree-disc.svg\n\
        PROGRAM disc touring.toml -o small; echo \"code $?\"\n\
        ls -A small; cat small/degree-disc.svg";
    let script = script.replace("PROGRAM", PROGRAM);
    let mut command = Command::new("unshare");
    command.args(["-rm", "sh", "-c", &script]).current_dir(bench.0.path());
    let out = match command.output() {
        Ok(out) if out.stdout.starts_with(b"code") => out,
        other => {
            println!("SKIPPED: no small file system can be mounted here ({other:?})");
            return;
        }
    };
    let (_, said) = told(&out);
    println!("{said}");
    assert!(said.starts_with("code 2\ndegree-disc.svg\nthe old one"), "{said}");
    assert!(said.contains("No space left"), "{said}");
}

#[test]
fn a_new_folder_and_a_head_cut_off_are_repaired() {
    let bench = Bench::new();
    bench.done(&format!("{SWEEP} --out whole"));
    let good = bench.read("whole/results.csv");
    bench.done(&format!("{SWEEP} --out fresh --repair"));
    assert_eq!(bench.read("fresh/results.csv"), good);
    for cut in [1, 40, good.find("\ncase,").unwrap() + 3] {
        std::fs::write(bench.path("fresh/results.csv"), &good[..cut]).unwrap();
        bench.done(&format!("{SWEEP} --out fresh --repair"));
        assert_eq!(bench.read("fresh/results.csv"), good, "cut after {cut}");
    }
    assert_eq!(bench.names("fresh"), ["results.csv"]);
    // of another sweep only the beginning of its head is there
    let other = good.replacen("# plan = ", "# plan = 0", 1);
    std::fs::write(bench.path("fresh/results.csv"), &other[..120]).unwrap();
    let said = bench.refused(&format!("{SWEEP} --out fresh --repair"));
    assert!(said.contains("differs in the plan;"), "{said}");
}

#[test]
fn a_lock_names_its_process_and_one_left_behind_is_taken_over() {
    let bench = Bench::new();
    let long = "sweep deck-height.toml --no-charts --out out --threads 1";
    let mut child = bench.command(long);
    let mut child = child.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let started = Instant::now();
    while !bench.path("out/results.csv").metadata().is_ok_and(|m| m.len() > 0) {
        assert!(started.elapsed() < Duration::from_secs(60), "it does not begin");
        std::thread::sleep(Duration::from_millis(10));
    }
    for flag in ["", "--repair", "--restart"] {
        let (code, said) = bench.run(&format!("{long} {flag}"));
        println!("{said}");
        let process = format!("process {}", child.id());
        assert!(code == Some(2) && said.contains(&process), "{flag}: {said}");
        if let Ok(host) = std::fs::read_to_string("/proc/sys/kernel/hostname") {
            assert!(said.contains(&format!("{process} on {}", host.trim())), "{said}");
        }
    }
    child.kill().unwrap();
    child.wait().unwrap();
    let lock = bench.read("out/results.csv.lock");
    assert!(lock.contains(&child.id().to_string()), "{lock}");
    std::fs::remove_file(bench.path("out/results.csv")).unwrap();
    let said = bench.done(&format!("{SWEEP} --out out"));
    println!("{said}");
    assert!(said.contains(&format!("process {}", child.id())), "{said}");
    assert_eq!(bench.names("out"), ["results.csv"]);
}
