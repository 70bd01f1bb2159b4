//! A report for a forum: Markdown with pictures beside it.

use std::fmt::Write as _;
use std::path::Path;

use freshcharge_sim::result::COLUMNS;
use freshcharge_sim::workshop::Facts;

use super::report::{FACTS, RESULTS, sentence};
use super::run::Run;
use crate::args::ReportArgs;
use crate::chart::page::turns;
use crate::chart::{self, Chart, canvas};
use crate::export::layout::number;
use crate::files::{self, Failure};
use crate::limits::{self, Standing};

/// Width of the pictures [px].
const WIDTH: u32 = 1200;

/// Words in which nothing means anything to Markdown or HTML.
pub(super) fn plain(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    for c in words.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            c if turns(c) => {}
            c if c.is_control() => out.push(' '),
            '\\' | '`' | '*' | '_' | '{' | '}' | '[' | ']' | '(' | ')' | '#' | '!' | '|' | '~' => {
                out.push('\\');
                out.push(c);
            }
            c => out.push(c),
        }
    }
    out
}

/// Writes `build.md` and its pictures into a folder; gives what was written.
pub(super) fn write(
    folder: &Path,
    args: &ReportArgs,
    runs: &[Run],
    measured: Option<&[(f64, f64)]>,
    charts: &[Chart],
) -> Result<String, Failure> {
    files::make_folder(folder)?;
    let last = &runs[runs.len() - 1];
    let mut out = format!("# {}\n\n", plain(&last.scenario.spec.name));
    let _ = writeln!(out, "{}\n", plain(&sentence(&last.scenario.spec)));
    facts(&mut out, runs);
    out.push_str("## Blowdown\n\n");
    for paragraph in super::words::run(last).trim().split("\n\n") {
        let _ = writeln!(out, "{}\n", plain(&paragraph.replace('\n', " ")));
    }
    results(&mut out, runs);
    if let Some(points) = measured {
        out.push_str("## Measured\n\n| 1/min | power kW |\n|---|---|\n");
        for (rpm, kw) in points {
            let _ = writeln!(out, "| {rpm:.0} | {kw:.2} |");
        }
        out.push('\n');
    }
    out.push_str("## Charts\n\n");
    for chart in charts {
        let name = format!("{}.png", chart.name);
        files::write(&folder.join(&name), &canvas::png_of(&chart.name, &chart.svg, WIDTH)?)?;
        let _ = writeln!(out, "![{}]({name})\n", plain(&chart.name.replace('-', " ")));
    }
    limits_of(&mut out, args, last)?;
    closing(&mut out, args, runs);
    let path = folder.join("build.md");
    files::write(&path, out.as_bytes())?;
    Ok(format!("{} with {} pictures", path.display(), charts.len()))
}

/// The charts worth a post: those over speed, and the blowdown at the middle speed.
pub(super) fn worth_a_post(runs: &[Run]) -> Result<Vec<Chart>, Failure> {
    let last = &runs[runs.len() - 1];
    let middle = last.rows.get(last.rows.len() / 2).map_or(0.0, |r| r.rpm);
    let mut charts = if runs.len() > 1 { chart::overlaid(runs)? } else { Vec::new() };
    charts.extend(chart::of_run(last)?);
    let wanted =
        |c: &Chart| !c.name.ends_with("rpm") || c.name.ends_with(&format!("-{middle:.0}rpm"));
    charts.retain(wanted);
    Ok(charts)
}

fn facts(out: &mut String, runs: &[Run]) {
    let all: Vec<Facts> = runs.iter().map(|r| Facts::of(&r.scenario.spec, &[])).collect();
    out.push_str("## Timing, windows, stack\n\n| quantity |");
    for run in runs {
        let _ = write!(out, " {} |", plain(&run.scenario.spec.name));
    }
    out.push_str(" |\n|---|");
    out.push_str(&"---|".repeat(runs.len() + 1));
    out.push('\n');
    for key in FACTS {
        let Some(fact) = all[0].0.iter().find(|f| f.key == *key) else { continue };
        let _ = write!(out, "| {} |", plain(&fact.words));
        for facts in &all {
            let _ = write!(out, " {} |", facts.get(key).map_or(String::new(), number));
        }
        let _ = writeln!(out, " {} |", fact.unit.trim_matches('–'));
    }
    out.push('\n');
}

fn results(out: &mut String, runs: &[Run]) {
    for run in runs {
        let _ = writeln!(out, "## Results over speed: {}\n", plain(&run.scenario.spec.name));
        out.push_str("| 1/min |");
        for (_, words) in RESULTS {
            let _ = write!(out, " {words} |");
        }
        out.push_str(" settled |\n|");
        out.push_str(&"---|".repeat(RESULTS.len() + 2));
        out.push('\n');
        for row in &run.rows {
            let _ = write!(out, "| {:.0} |", row.rpm);
            let Some(point) = row.point() else {
                out.push_str(" could not be computed |\n");
                continue;
            };
            for (key, _) in RESULTS {
                let value = COLUMNS.iter().find(|c| c.key == *key).and_then(|c| (c.value)(point));
                let _ = write!(out, " {} |", value.map_or(String::new(), number));
            }
            let _ = writeln!(out, " {} |", if point.verdict.settled() { "yes" } else { "**NO**" });
        }
        out.push('\n');
    }
}

fn limits_of(out: &mut String, args: &ReportArgs, run: &Run) -> Result<(), Failure> {
    let limits = limits::load(None, args.usage)?;
    let top = run.rows.iter().map(|r| r.rpm).fold(0.0, f64::max);
    let facts = Facts::of(&run.scenario.spec, &[top]);
    let _ = writeln!(
        out,
        "## Held against limits for {} use\n\n| quantity | value | limit | | source |\n|---|---|---|---|---|",
        args.usage.word()
    );
    let mut cautions: Vec<&str> = Vec::new();
    for limit in &limits {
        for fact in limit.facts(&facts, top) {
            let standing = limit.judge(fact.value);
            let word = match standing {
                Standing::Met => "met",
                Standing::Near => "near",
                Standing::Broken => "**broken**",
            };
            if standing != Standing::Met && !cautions.contains(&limit.caution.as_str()) {
                cautions.push(&limit.caution);
            }
            let _ = writeln!(
                out,
                "| {} | {} | {} | {word} | {} ({}) |",
                plain(&fact.words),
                number(fact.value),
                plain(&limit.bounds()),
                plain(&limit.source),
                plain(&limit.confidence)
            );
        }
    }
    out.push_str("\n## Cautions\n\n");
    for caution in cautions.into_iter().filter(|c| !c.is_empty()) {
        let _ = writeln!(out, "- {}", plain(caution));
    }
    out.push_str("- Raised ports and louder exhausts may be against the law on the road: check local rules.\n\n");
    Ok(())
}

fn closing(out: &mut String, args: &ReportArgs, runs: &[Run]) {
    let _ = writeln!(
        out,
        "## Limits of the model\n\n{}\n\n## To do this again\n",
        super::report::LIMITS
    );
    for run in runs {
        let _ = writeln!(out, "- {}: SHA-256 `{}`", plain(&run.file), run.hash);
    }
    let files: Vec<String> = args.files.iter().map(|f| f.display().to_string()).collect();
    let rpm = args.rpm.as_ref().map_or(String::new(), |r| format!(" --rpm {r}"));
    let _ = writeln!(
        out,
        "- Freshcharge {}: {}",
        env!("CARGO_PKG_VERSION"),
        plain(&format!("freshcharge report {}{rpm}", files.join(" ")))
    );
}
