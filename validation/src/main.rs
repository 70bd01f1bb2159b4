//! Runs every check against the outside world and writes them down as a page and as CSV: what was compared,
//! with which source, how far apart the two are, how far they may be and why.
//!
//! `cargo run --release -p freshcharge-validation [FOLDER]`

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

use freshcharge_validation::record::{Entry, VARIABLE};

/// Comparisons of one kind by one test.
#[derive(Default)]
struct Group {
    file: String,
    count: usize,
    /// Ours, reference and allowed difference where the tolerance is used most.
    worst: (f64, f64, f64),
    used: f64,
    reason: String,
}

/// By test and by what was compared.
type Groups = BTreeMap<(String, String), Group>;

fn main() -> ExitCode {
    let folder =
        std::env::args().nth(1).map_or_else(|| PathBuf::from("target/validation"), PathBuf::from);
    match run(&folder) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("cannot write the page of checks to {}: {error}", folder.display());
            ExitCode::from(2)
        }
    }
}

fn run(folder: &Path) -> std::io::Result<bool> {
    std::fs::create_dir_all(folder)?;
    let log = std::path::absolute(folder.join("comparisons.log"))?;
    if log.exists() {
        std::fs::remove_file(&log)?;
    }
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    println!("Running the checks; this takes some minutes.");
    let held = Command::new(cargo)
        // in the profile of the tests, whose physics is compiled as for a release
        .args(["test", "-p", "freshcharge-validation", "--tests", "--no-fail-fast", "-q"])
        .env(VARIABLE, &log)
        .status()?
        .success();
    let text = std::fs::read_to_string(&log)?;
    let (groups, tables) = gathered(&text);
    let page = page(&groups, &tables, held);
    std::fs::write(folder.join("index.html"), page)?;
    std::fs::write(folder.join("checks.csv"), as_csv(&groups, &tables))?;
    let sourced = groups.keys().filter(|(test, _)| tables.contains_key(test)).count();
    let count: usize = groups.values().map(|g| g.count).sum();
    println!(
        "{} kinds of check, {count} comparisons, {sourced} kinds against tables with a named source; {}.\n{}",
        groups.len(),
        if held { "all hold" } else { "NOT all hold" },
        folder.join("index.html").display()
    );
    Ok(held)
}

/// Checks by kind, and the tables that each test read with their sources.
fn gathered(text: &str) -> (Groups, BTreeMap<String, BTreeMap<String, String>>) {
    let mut groups = Groups::new();
    let mut tables: BTreeMap<String, BTreeMap<String, String>> = BTreeMap::new();
    for entry in text.lines().filter_map(Entry::parse) {
        match entry {
            Entry::Table { test, name, source } => {
                tables.entry(test).or_default().insert(name, source);
            }
            Entry::Check { test, file, what, value, reference, allowed, reason } => {
                let used = if allowed > 0.0 {
                    (value - reference).abs() / allowed
                } else {
                    f64::from(u8::from(value != reference))
                };
                let group = groups.entry((test, what)).or_default();
                group.count += 1;
                if group.count == 1 || used > group.used {
                    (group.worst, group.used) = ((value, reference, allowed), used);
                    (group.file, group.reason) = (file, reason);
                }
            }
        }
    }
    (groups, tables)
}

fn escape(words: &str) -> String {
    words.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

/// What a group rests on: the tables its test read, else what its test file says of itself.
fn source(
    test: &str,
    group: &Group,
    tables: &BTreeMap<String, BTreeMap<String, String>>,
) -> String {
    if let Some(read) = tables.get(test) {
        let each: Vec<String> = read.iter().map(|(n, s)| format!("{n}: {s}")).collect();
        return each.join("; ");
    }
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(&group.file);
    let own = Path::new(env!("CARGO_MANIFEST_DIR")).join(&group.file);
    let text = std::fs::read_to_string(path).or_else(|_| std::fs::read_to_string(own));
    let head = text.unwrap_or_default();
    let words = head.lines().take_while(|l| l.starts_with("//!"));
    words.map(|l| l.trim_start_matches("//!").trim()).collect::<Vec<_>>().join(" ")
}

const STYLE: &str = "body{font:15px/1.45 system-ui,sans-serif;max-width:76rem;margin:0 auto;padding:1rem}table{border-collapse:collapse;width:100%;font-size:.85rem}td,th{border-bottom:1px solid #ccc;padding:.2rem .45rem;text-align:right;vertical-align:top}td:first-child,th:first-child,td.words{text-align:left}td.words{max-width:26rem;overflow-wrap:anywhere}.bar{display:inline-block;height:.7rem;background:#0072B2}.over{background:#D55E00}";

const NOT_VALIDATED: &str = "No measurement of a whole engine stands behind the model yet: power, torque, delivery and backflow of a running engine are <b>not</b> validated, and neither are the discharge coefficients, burning, wall temperatures and scavenging that an engine file states. What would change that: torque or power over speed of one engine before and after a single change of its base stack, with the file of its measurements, as CSV with the heads <code>rpm,power_kw</code> or <code>rpm,torque_nm</code>; better still with cylinder and crankcase pressure over the crank angle at exhaust and transfer opening. <code>freshcharge fit</code> reads them.";

fn page(
    groups: &Groups,
    tables: &BTreeMap<String, BTreeMap<String, String>>,
    held: bool,
) -> String {
    let count: usize = groups.values().map(|g| g.count).sum();
    let sourced = groups.keys().filter(|(test, _)| tables.contains_key(test)).count();
    let mut out = format!(
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\"><title>Freshcharge: checks</title><style>{STYLE}</style></head><body><h1>Checks against the outside world</h1><p>{} kinds of check, {count} comparisons; {sourced} kinds against tables whose header names their source. {}</p><h2>What is not validated</h2><p>{NOT_VALIDATED}</p>",
        groups.len(),
        if held { "All hold." } else { "<b>Not all hold.</b>" }
    );
    let mut order: Vec<_> = groups.iter().collect();
    order.sort_by(|a, b| b.1.used.total_cmp(&a.1.used));
    out.push_str("<h2>The three with the least margin</h2><ol>");
    for ((test, what), group) in order.iter().take(3) {
        let _ = write!(
            out,
            "<li>{} ({}): {:.0} % of what is allowed is used; {}</li>",
            escape(what),
            escape(&test.replace('_', " ")),
            100.0 * group.used,
            escape(&group.reason)
        );
    }
    out.push_str("</ol><h2>All of them</h2><p>Each line is the comparison of its kind that uses most of its tolerance; the bar is that share.</p><table><tr><th>what</th><th>test</th><th>comparisons</th><th>reference</th><th>ours</th><th>difference</th><th>allowed</th><th>used</th><th>why that far</th><th>source</th></tr>");
    for ((test, what), group) in &order {
        let (value, reference, allowed) = group.worst;
        let wide = 6.0 * group.used.min(1.0);
        let over = if group.used > 1.0 { " over" } else { "" };
        let _ = write!(
            out,
            "<tr><td>{}</td><td class=\"words\">{}</td><td>{}</td><td>{reference:.6e}</td><td>{value:.6e}</td><td>{:.1e}</td><td>{allowed:.1e}</td><td><span class=\"bar{over}\" style=\"width:{wide:.2}rem\"></span> {:.0} %</td><td class=\"words\">{}</td><td class=\"words\">{}</td></tr>",
            escape(what),
            escape(&test.replace('_', " ")),
            group.count,
            value - reference,
            100.0 * group.used,
            escape(&group.reason),
            escape(&source(test, group, tables))
        );
    }
    out.push_str("</table></body></html>\n");
    out
}

fn as_csv(groups: &Groups, tables: &BTreeMap<String, BTreeMap<String, String>>) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // memory takes every byte
    let _ = writer.write_record([
        "what",
        "test",
        "comparisons",
        "reference",
        "ours",
        "allowed",
        "used",
        "reason",
        "source",
    ]);
    for ((test, what), group) in groups {
        let (value, reference, allowed) = group.worst;
        let numbers = [reference, value, allowed, group.used].map(|v| format!("{v:e}"));
        let count = group.count.to_string();
        let source = source(test, group, tables);
        let [reference, value, allowed, used] = &numbers;
        let _ = writer.write_record([
            what,
            test,
            &count,
            reference,
            value,
            allowed,
            used,
            &group.reason,
            &source,
        ]);
    }
    writer.into_inner().map(|b| String::from_utf8_lossy(&b).into_owned()).unwrap_or_default()
}
