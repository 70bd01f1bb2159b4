//! `freshcharge sweep`, `merge` and `results` through the binary: whatever interrupts a sweep, the
//! finished file is the same to the byte.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::Duration;

const PLAN: &str = r#"
name = "small"
engine = "touring.toml"
rpm = "4000:8000:2000"
results = ["power_kw", "delivery_ratio", "late_angle_deg", "cycles"]

[objectives]
most = ["power_kw"]
least = ["late_angle_deg"]

[[axis]]
path = "stack.base_total_mm"
from = 0.4
to = 1.2
count = 5

[[axis]]
path = "exhaust.window.roof_depth_mm"
from = -0.5
to = 0.5
step = 0.25
relative = true

[[limit]]
of = "squish_mm"
most = 1.9
"#;
const CASES: usize = 75;

/// A folder with the plan, its engine and room for results.
struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    fn new(plan: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let engine = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios/touring.toml");
        std::fs::copy(engine, folder.path().join("touring.toml")).unwrap();
        std::fs::write(folder.path().join("plan.toml"), plan).unwrap();
        Self { folder }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_freshcharge"));
        command.args(args).current_dir(self.folder.path()).stdin(Stdio::null());
        command
    }

    fn run(&self, args: &[&str]) -> Output {
        self.command(args).output().unwrap()
    }

    fn sweep(&self, out: &str, more: &[&str]) -> Output {
        let mut args = vec!["sweep", "plan.toml", "--no-charts", "--out", out];
        args.extend(more);
        self.run(&args)
    }

    fn bytes(&self, out: &str) -> Vec<u8> {
        std::fs::read(self.path(out).join("results.csv")).unwrap()
    }

    /// The results of a sweep that nothing interrupted.
    fn whole(&self) -> Vec<u8> {
        let out = self.sweep("whole", &[]);
        assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
        self.bytes("whole")
    }
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn rows(bytes: &[u8]) -> Vec<String> {
    text(bytes).lines().filter(|l| !l.starts_with('#')).skip(1).map(str::to_owned).collect()
}

#[test]
fn every_case_gets_one_row_in_order_and_a_refused_one_says_why() {
    let bench = Bench::new(PLAN);
    let rows = rows(&bench.whole());
    assert_eq!(rows.len(), CASES);
    for (i, row) in rows.iter().enumerate() {
        assert!(row.starts_with(&format!("{i},")), "{row}");
    }
    let refused = rows.iter().filter(|r| r.contains(",refused,squish_mm: ")).count();
    let settled = rows.iter().filter(|r| r.contains(",settled,,")).count();
    assert!(refused > 0 && settled > 0 && refused + settled == CASES, "{refused} {settled}");
}

#[test]
fn a_row_is_what_a_chain_of_its_speeds_gives() {
    use freshcharge_sim::cycle::{Chain, Settings, solve};
    let bench = Bench::new(PLAN);
    let rows = rows(&bench.whole());
    let file = std::fs::read_to_string(bench.path("touring.toml")).unwrap();
    let base = freshcharge_sim::scenario::read(&file).unwrap();
    // combination 7: base stack 0.6, roof in the middle
    let changed = base
        .with_all(&[("stack.base_total_mm", 0.6), ("exhaust.window.roof_depth_mm", 33.1)])
        .unwrap();
    let engine = freshcharge_sim::model::Engine::new(&changed.spec).unwrap();
    let models = [4000.0, 6000.0, 8000.0]
        .iter()
        .map(|rpm| engine.at_speed(*rpm).map(std::sync::Arc::new))
        .collect();
    let mut powers = Vec::new();
    let mut chain = Some(Chain { index: 0, models });
    solve(&Settings::sweep(), &mut || chain.take(), &mut |_, _, p| {
        powers.push(p.unwrap().summary.power / 1e3);
    });
    for (row, power) in rows[21..24].iter().zip(powers) {
        assert!(row.contains(&format!(",{power},")), "{row} {power}");
    }
}

/// Waits until the results have grown beyond `size`; false when the sweep has ended before.
fn grown(child: &mut Child, file: &Path, size: usize) -> bool {
    while child.try_wait().unwrap().is_none() {
        if std::fs::metadata(file).is_ok_and(|m| m.len() as usize > size) {
            return true;
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    false
}

#[test]
fn killed_at_five_moments_and_resumed_it_is_the_same_file() {
    let bench = Bench::new(PLAN);
    let wanted = bench.whole();
    let file = bench.path("killed/results.csv");
    let mut partial = 0;
    for (sixths, wait) in [(0, 0), (1, 7), (2, 23), (3, 3), (4, 11)] {
        let args = ["sweep", "plan.toml", "--no-charts", "--out", "killed", "-q"];
        let mut child = bench.command(&args).stdout(Stdio::null()).spawn().unwrap();
        grown(&mut child, &file, wanted.len() * sixths / 6);
        std::thread::sleep(Duration::from_millis(wait));
        child.kill().unwrap();
        child.wait().unwrap();
        let found = std::fs::read(&file).unwrap();
        assert!(wanted.starts_with(&found), "not a prefix after {sixths} sixths");
        partial += usize::from(found.len() < wanted.len());
    }
    assert!(partial > 0, "every kill came too late to show anything");
    let out = bench.sweep("killed", &[]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    assert_eq!(bench.bytes("killed"), wanted);
    // and once more changes nothing
    bench.sweep("killed", &[]);
    assert_eq!(bench.bytes("killed"), wanted);
}

#[test]
fn one_thread_and_two_and_seven_shards_give_the_same_file() {
    let bench = Bench::new(PLAN);
    let wanted = bench.whole();
    for threads in ["1", "2", "3"] {
        bench.sweep(threads, &["--threads", threads]);
        assert_eq!(bench.bytes(threads), wanted, "{threads} threads");
    }
    for shard in 1..=7 {
        let out = bench.sweep("shards", &["--shard", &format!("{shard}/7"), "-q"]);
        assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    }
    let out = bench.run(&["merge", "shards"]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    assert!(text(&out.stdout).contains("75 cases, each exactly once"), "{}", text(&out.stdout));
    assert_eq!(bench.bytes("shards"), wanted);
}

#[test]
fn a_missing_shard_an_unfinished_one_and_a_doubled_row_are_named() {
    let bench = Bench::new(PLAN);
    for shard in ["1/3", "2/3"] {
        bench.sweep("shards", &["--shard", shard, "-q"]);
    }
    let out = bench.run(&["merge", "shards"]);
    assert_eq!(out.status.code(), Some(1));
    assert!(text(&out.stderr).contains("shard 3/3 is missing"), "{}", text(&out.stderr));
    assert!(!bench.path("shards/results.csv").exists());
    // the environment names a shard too
    let args = ["sweep", "plan.toml", "--no-charts", "--out", "shards"];
    let out = bench.command(&args).env("FRESHCHARGE_SHARD", "3/3").output().unwrap();
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    let file = bench.path("shards/results-2-of-3.csv");
    let whole = std::fs::read_to_string(&file).unwrap();
    let cut = whole.len() - 20;
    std::fs::write(&file, &whole[..cut]).unwrap();
    let out = bench.run(&["merge", "shards"]);
    assert_eq!(out.status.code(), Some(1), "{}", text(&out.stderr));
    let last = rows(whole.as_bytes()).last().unwrap().split(',').next().unwrap().to_owned();
    let said = text(&out.stderr);
    assert!(said.contains("1 cases are missing") && said.contains(&last), "{said}");
    let doubled = format!("{whole}{}\n", rows(whole.as_bytes())[3]);
    std::fs::write(&file, doubled).unwrap();
    let out = bench.run(&["merge", "shards"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("twice"), "{}", text(&out.stderr));
}

#[test]
fn a_damaged_line_in_the_middle_loses_nothing() {
    let bench = Bench::new(PLAN);
    let wanted = bench.whole();
    let good = text(&wanted);
    let mut lines: Vec<String> = good.lines().map(str::to_owned).collect();
    let number = lines.len() - 40;
    lines[number - 1] = lines[number - 1].replacen("4000", "4001", 1).replacen("8000", "8001", 1);
    lines[number - 1] = lines[number - 1].replacen("6000", "6001", 1);
    let damaged = lines.join("\n") + "\n";
    assert_ne!(damaged, good);
    let file = bench.path("whole/results.csv");
    std::fs::write(&file, &damaged).unwrap();
    let out = bench.sweep("whole", &[]);
    assert_eq!(out.status.code(), Some(2));
    let said = text(&out.stderr);
    assert!(
        said.contains(&format!("line {number} is damaged")) && said.contains("--repair"),
        "{said}"
    );
    assert_eq!(std::fs::read_to_string(&file).unwrap(), damaged, "the file was touched");
    // reading leaves the row out and says so
    let read = bench.run(&["results", "whole", "--csv"]);
    assert_eq!(read.status.code(), Some(1));
    assert_eq!(text(&read.stdout).lines().count(), CASES);
    let out = bench.sweep("whole", &["--repair"]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    assert!(text(&out.stderr).contains("1 chains computed anew"), "{}", text(&out.stderr));
    assert_eq!(bench.bytes("whole"), wanted);
    assert_eq!(std::fs::read_to_string(bench.path("whole/results.csv.damaged")).unwrap(), damaged);
}

#[test]
fn results_of_another_plan_are_refused_and_put_aside_when_told_so() {
    let bench = Bench::new(PLAN);
    let wanted = bench.whole();
    std::fs::write(bench.path("plan.toml"), PLAN.replace("4000:8000:2000", "4000:8000:4000"))
        .unwrap();
    let out = bench.sweep("whole", &[]);
    assert_eq!(out.status.code(), Some(2));
    let said = text(&out.stderr);
    assert!(said.contains("differs in the plan") && said.contains("--restart"), "{said}");
    assert_eq!(bench.bytes("whole"), wanted, "the file was touched");
    let out = bench.sweep("whole", &["--restart"]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    assert_eq!(rows(&bench.bytes("whole")).len(), 50);
    assert_eq!(std::fs::read(bench.path("whole/results.csv.replaced")).unwrap(), wanted);
    // a file that is something else is not touched either
    std::fs::create_dir(bench.path("other")).unwrap();
    std::fs::write(bench.path("other/results.csv"), "a,b\n".repeat(500)).unwrap();
    let out = bench.sweep("other", &[]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("no results file"), "{}", text(&out.stderr));
}

#[cfg(unix)]
#[test]
fn an_interrupt_ends_cleanly_and_says_how_to_go_on() {
    let bench = Bench::new(&PLAN.replace("step = 0.25", "step = 0.125"));
    let wanted = bench.whole();
    let args = ["sweep", "plan.toml", "--no-charts", "--out", "stopped", "--threads", "1"];
    let mut child =
        bench.command(&args).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let early = wanted.len() / 10;
    assert!(grown(&mut child, &bench.path("stopped/results.csv"), early), "it ended at once");
    let sent = Command::new("sh").args(["-c", &format!("kill -INT {}", child.id())]).status();
    assert!(sent.unwrap().success());
    let out = child.wait_with_output().unwrap();
    assert_eq!(out.status.code(), Some(1), "{}", text(&out.stderr));
    assert!(text(&out.stderr).contains("Finishing the chains"), "{}", text(&out.stderr));
    assert!(text(&out.stdout).contains("The same command goes on"), "{}", text(&out.stdout));
    let found = bench.bytes("stopped");
    assert!(wanted.starts_with(&found) && found.ends_with(b"\n") && found.len() < wanted.len());
    let out = bench.sweep("stopped", &[]);
    assert!(text(&out.stderr).contains("Going on behind"), "{}", text(&out.stderr));
    assert_eq!(bench.bytes("stopped"), wanted);
}

#[cfg(unix)]
#[test]
fn a_disk_that_takes_no_more_is_said_and_nothing_is_lost() {
    let bench = Bench::new(PLAN);
    let wanted = bench.whole();
    // files may grow to 4 blocks; the signal that comes with it is ignored as on a full disk
    let line = format!(
        "trap '' XFSZ; ulimit -f 8; exec {} sweep plan.toml --no-charts --out full -q",
        env!("CARGO_BIN_EXE_freshcharge")
    );
    let out = Command::new("sh")
        .args(["-c", &line])
        .current_dir(bench.folder.path())
        .stdin(Stdio::null())
        .output()
        .unwrap();
    assert_eq!(out.status.code(), Some(2), "{}", text(&out.stderr));
    let said = text(&out.stderr);
    assert!(said.contains("cannot write") && said.contains("results.csv"), "{said}");
    assert!(wanted.starts_with(&bench.bytes("full")));
    let out = bench.sweep("full", &[]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    assert_eq!(bench.bytes("full"), wanted);
}

#[test]
fn a_folder_that_cannot_be_written_is_said() {
    let bench = Bench::new(PLAN);
    std::fs::write(bench.path("taken"), "a file").unwrap();
    let out = bench.sweep("taken", &[]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("cannot write taken"), "{}", text(&out.stderr));
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let folder = bench.path("shut");
        std::fs::create_dir(&folder).unwrap();
        std::fs::set_permissions(&folder, std::fs::Permissions::from_mode(0o555)).unwrap();
        // who may write everywhere cannot be shown a folder that is shut
        if std::fs::write(folder.join("probe"), "").is_err() {
            let out = bench.sweep("shut", &[]);
            assert_eq!(out.status.code(), Some(2));
            assert!(text(&out.stderr).contains("cannot write shut/results.csv"));
        }
    }
}

#[test]
fn an_engine_file_is_swept_without_a_plan() {
    let bench = Bench::new(PLAN);
    let args = [
        "sweep",
        "touring.toml",
        "--vary",
        "stack.base_total_mm=0.4:0.6:0.1",
        "--rpm",
        "5000,7000",
        "--out",
        "varied",
    ];
    let out = bench.run(&args);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    assert!(text(&out.stderr).contains("Setting it holds the base gaskets"));
    assert_eq!(rows(&bench.bytes("varied")).len(), 6);
    let charts = std::fs::read_dir(bench.path("varied/charts")).unwrap().count();
    assert!(charts >= 9, "{charts}");
}

#[test]
fn a_dry_run_tells_number_duration_and_disk_and_writes_nothing() {
    let bench = Bench::new(PLAN);
    let out = bench.run(&["sweep", "plan.toml", "--dry-run", "--out", "dry"]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    let said = text(&out.stdout);
    assert!(said.contains("75 cases: 25 combinations at 3 speeds, in 25 chains"), "{said}");
    assert!(said.contains("B of disk") && !bench.path("dry").exists(), "{said}");
}

#[test]
fn faulty_plans_are_told_where_and_what_instead() {
    let check = |plan: &str, line: usize, words: &[&str]| {
        let bench = Bench::new(plan);
        let out = bench.sweep("x", &[]);
        assert_eq!(out.status.code(), Some(2), "{plan}");
        let said = text(&out.stderr);
        assert!(said.contains(&format!("plan.toml:{line}:")), "{said}");
        words.iter().for_each(|w| assert!(said.contains(w), "{w}: {said}"));
        assert!(!bench.path("x").exists());
    };
    let with = |axis: &str| format!("engine = \"touring.toml\"\n[[axis]]\n{axis}\n");
    check(&with("path = \"stack.base_totl_mm\"\nvalues = [1.0]"), 3, &["stack.base_total_mm"]);
    check(&with("path = \"stack.head_total_mm\"\nvalus = [1.0]"), 4, &["values"]);
    check(&with("path = \"stack.head_total_mm\"\nfrom = 0.1\nto = 0.9"), 4, &["step or count"]);
    check(&with("path = \"crank_train.bore_mm\"\nvalues = [900.0]"), 4, &["900"]);
    let two = "path = \"fuel.lambda\"\nvalues = [0.9]\nzip = [{ path = \"crank_train.bore_mm\", values = [55.0] }]";
    check(&with(two), 3, &["either a path of its own or zip"]);
    check(
        "engine = \"touring.toml\"\n[[limit]]\nof = \"sqush_mm\"\nleast = 1\n",
        3,
        &["squish_mm"],
    );
    check("name = \"x\"\n[[axis]]\npath = \"a\"\nvalues = [1]\n", 1, &["engine = "]);
    let huge = "engine = \"touring.toml\"\nrpm = [4000, 5000]\n".to_owned()
        + &[
            ("stack.base_total_mm", 0.4, 1.2, 10_000),
            ("stack.head_total_mm", 0.1, 0.9, 10_000),
            ("fuel.lambda", 0.8, 0.9, 5000),
        ]
        .map(|(path, from, to, count)| {
            format!("[[axis]]\npath = \"{path}\"\nfrom = {from}\nto = {to}\ncount = {count}\n")
        })
        .concat();
    check(&huge, 1, &["1000000000000 cases"]);
}

#[test]
fn results_are_filtered_sorted_and_the_front_is_the_front() {
    let bench = Bench::new(PLAN);
    bench.whole();
    let out = bench.run(&[
        "results",
        "whole",
        "--filter",
        "rpm=6000",
        "--filter",
        "outcome=settled",
        "--json",
    ]);
    let value: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let rows = value["rows"].as_array().unwrap();
    assert!(!rows.is_empty() && rows.iter().all(|r| r["rpm"] == 6000.0));
    let pairs: Vec<(f64, f64)> = rows
        .iter()
        .map(|r| (r["power_kw"].as_f64().unwrap(), r["late_angle_deg"].as_f64().unwrap()))
        .collect();
    let beaten = |p: &(f64, f64)| pairs.iter().any(|q| q != p && q.0 >= p.0 && q.1 <= p.1);
    let mut wanted: Vec<_> = pairs.iter().filter(|p| !beaten(p)).copied().collect();
    wanted.sort_by(|a, b| b.0.total_cmp(&a.0));
    let args = [
        "results",
        "whole",
        "--filter",
        "rpm=6000",
        "--pareto",
        "power_kw,late_angle_deg",
        "--json",
    ];
    let value: serde_json::Value = serde_json::from_slice(&bench.run(&args).stdout).unwrap();
    let front: Vec<(f64, f64)> = value["rows"]
        .as_array()
        .unwrap()
        .iter()
        .map(|r| (r["power_kw"].as_f64().unwrap(), r["late_angle_deg"].as_f64().unwrap()))
        .collect();
    assert_eq!(front, wanted);
    let out = bench.run(&["results", "whole", "--best", "3", "--csv", "--columns", "power_kw"]);
    let best: Vec<f64> = text(&out.stdout).lines().skip(1).map(|l| l.parse().unwrap()).collect();
    let all = bench.run(&[
        "results",
        "whole",
        "--filter",
        "outcome=settled",
        "--csv",
        "--columns",
        "power_kw",
    ]);
    let mut all: Vec<f64> = text(&all.stdout).lines().skip(1).map(|l| l.parse().unwrap()).collect();
    all.sort_by(|a, b| b.total_cmp(a));
    assert_eq!(best, all[..3]);
    let out = bench.run(&["results", "whole", "--sort", "powr_kw"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("did you mean power_kw"), "{}", text(&out.stderr));
}

#[test]
fn a_sampled_sweep_gives_a_spread_and_the_two_that_matter_most() {
    let plan = r#"
engine = "touring.toml"
geometry_only = true
[objectives]
least = ["squish_mm"]
[sample]
design = "indices"
count = 512
seed = 3
readings = true
[[sample.over]]
path = "stack.measured.deck_mm"
plus_minus = 0.06
[[sample.over]]
path = "head.land_offset_mm"
plus_minus = 0.03
[[sample.over]]
path = "crank_train.rod_mm"
plus_minus = 0.2
"#;
    let bench = Bench::new(plan);
    let out = bench.sweep("sampled", &[]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    let said = text(&bench.run(&["results", "sampled", "--tolerances"]).stdout);
    assert!(text(&out.stdout).contains(&said), "the sweep itself says it too");
    // squish is the sum of deck and land offset here: shares 4 to 1, and 95 % of the sum of two even
    // spreads of 0.06 and 0.03 lies within 0.0710 of its middle: (0.09 − t)²/(8·0.06·0.03) = 0.025
    let rest = said.split_once("squish_mm: ").unwrap().1;
    let middle: f64 = rest.split_once(' ').unwrap().0.parse().unwrap();
    assert!((middle - 1.2).abs() < 0.002, "{said}");
    let share = |path: &str| -> f64 {
        let rest = said.split_once(&format!("{path} (")).unwrap().1;
        rest.split_once(' ').unwrap().0.parse().unwrap()
    };
    assert!((share("stack.measured.deck_mm") - 80.0).abs() <= 2.0, "{said}");
    assert!((share("head.land_offset_mm") - 20.0).abs() <= 2.0, "{said}");
    let half: f64 = said.split_once("± ").unwrap().1.split_once(' ').unwrap().0.parse().unwrap();
    assert!((half - 0.0710).abs() < 0.002, "{said}");
}

#[test]
fn a_shelf_of_gaskets_keeps_squish_while_the_stack_rises_and_zipped_numbers_go_together() {
    let plan = r#"
engine = "touring.toml"
geometry_only = true
figures = ["squish_mm"]
[[axis]]
zip = [
    { path = "stack.spacers_mm[0]", values = [0.0, 0.2, 0.3] },
    { path = "transfer.main.window.roof_depth_mm", values = [42.1, 42.3, 42.4] },
]
[[hold]]
of = "squish_mm"
by = "stack.head_total_mm"
shelf = [0.1, 0.2, 0.5]
pieces = 2
"#;
    let bench = Bench::new(plan);
    let out = bench.sweep("held", &[]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    assert!(text(&out.stderr).contains("chosen from the shelf so that squish_mm stays 1.2000"));
    let cells: Vec<Vec<String>> = rows(&bench.bytes("held"))
        .iter()
        .map(|r| r.split(',').map(str::to_owned).collect())
        .collect();
    // 0.5 now; with 0.2 and 0.3 more below, 0.1 + 0.2 and 0.2 are nearest
    let column = |i: usize| cells.iter().map(|c| c[i].parse().unwrap()).collect::<Vec<f64>>();
    assert_eq!(column(1), [0.0, 0.2, 0.3]);
    assert_eq!(column(2), [42.1, 42.3, 42.4]);
    assert_eq!(column(3), [0.5, 0.3, 0.2]);
    assert!(column(7).iter().all(|s| (s - 1.2).abs() < 1e-9), "{:?}", column(7));
}
