//! `freshcharge report`: a build up as one page that needs nothing else.

use std::fmt::Write as _;

use freshcharge_sim::result::COLUMNS;
use freshcharge_sim::spec::EngineSpec;
use freshcharge_sim::workshop::Facts;

use super::explore;
use super::markdown;
use super::portmap;
use super::run::{Run, complete, load, speeds_or, start};
use crate::Outcome;
use crate::args::ReportArgs;
use crate::chart;
use crate::chart::page::escape;
use crate::export::layout::number;
use crate::files::{self, Failure};
use crate::limits::{self, Standing};
use crate::measured;

/// Results shown over speed: key and short words.
pub(super) const RESULTS: &[(&str, &str)] = &[
    ("power_kw", "power kW"),
    ("torque_nm", "torque N·m"),
    ("delivery_ratio", "delivery"),
    ("charging_efficiency", "charging"),
    ("trapping_efficiency", "trapping"),
    ("cylinder_pressure_at_transfer_opening_bar", "p cylinder at TO bar"),
    ("crankcase_pressure_at_transfer_opening_bar", "p crankcase at TO bar"),
    ("hot_backflow_mass_mg", "hot backflow mg"),
    ("late_angle_deg", "late °"),
    ("bsfc_g_per_kwh", "bsfc g/kWh"),
];

/// Facts of the timing and stack tables.
pub(super) const FACTS: &[&str] = &[
    "exhaust_opens_deg_atdc",
    "exhaust_duration_deg",
    "transfer_opens_deg_atdc",
    "transfer_duration_deg",
    "blowdown_deg",
    "blowdown_angle_area_mm2deg",
    "intake_opens_deg_btdc",
    "intake_closes_deg_atdc",
    "intake_duration_deg",
    "exhaust_chord_mm",
    "exhaust_chord_to_bore",
    "exhaust_area_mm2",
    "exhaust_bridge_mm",
    "base_stack_mm",
    "head_gaskets_total_mm",
    "deck_mm",
    "squish_mm",
    "clearance_cm3",
    "geometric_ratio",
    "trapped_ratio",
    "crankcase_ratio",
];

/// What the numbers are worth.
pub(super) const LIMITS: &str = "One cylinder zone with one temperature; no dissociation; quasi-steady port flow with given coefficients; waves only where the file gives pipes; steady speed; scavenging is a model, not a flow field; wall temperatures are inputs. No whole-engine measurement stands behind it yet: trends and comparisons between neighbouring builds are far better than absolute power.";

/// Runs the command.
pub(crate) fn run(args: &ReportArgs) -> Result<Outcome, Failure> {
    let mut runs = Vec::new();
    let mut speeds: Option<Vec<f64>> = None;
    for file in &args.files {
        let (scenario, hash) = load(file)?;
        let these = speeds_or(args.rpm.as_deref(), &scenario.run_speeds)?;
        let these = speeds.get_or_insert(these).clone();
        runs.push(start(file, scenario, hash, &these, true, args.quiet)?);
    }
    let measured = match &args.measured {
        None => None,
        Some(path) => {
            let power = measured::power(&measured::read(path)?);
            Some(power.ok_or_else(|| {
                let why = "neither power nor torque is in it; nothing was written";
                Failure::Faults(format!("{}: {why}\n", path.display()))
            })?)
        }
    };
    let page = page(args, &runs, measured.as_deref())?;
    files::write(&args.out, page.as_bytes())?;
    files::print(&format!("{} ({} kB)\n", args.out.display(), page.len() / 1000))?;
    if let Some(folder) = &args.markdown {
        let charts = markdown::worth_a_post(&runs)?;
        let written = markdown::write(folder, args, &runs, measured.as_deref(), &charts)?;
        files::print(&format!("{written}\n"))?;
    }
    Ok(if runs.iter().all(complete) { Outcome::Done } else { Outcome::Incomplete })
}

const STYLE: &str = "body{font:16px/1.5 'Noto Sans',system-ui,sans-serif;color:#111;background:#fff;max-width:52rem;margin:0 auto;padding:1rem}h1{font-size:1.7rem;line-height:1.2}h2{font-size:1.25rem;margin-top:2.2rem;border-bottom:1px solid #999}table{border-collapse:collapse;width:100%;font-size:.9rem}.wide{overflow-x:auto}th,td{border-bottom:1px solid #ccc;padding:.25rem .5rem;text-align:right;vertical-align:top}th:first-child,td:first-child{text-align:left}figure{margin:1rem 0;break-inside:avoid}figure svg{width:100%;height:auto}.note{color:#444;font-size:.9rem}.broken{font-weight:bold}@media print{body{max-width:none;font-size:10.5pt;padding:0}.wide{overflow:visible}table{font-size:7.5pt}th,td{padding:.15rem .25rem}h2{break-after:avoid}table{break-inside:auto}tr{break-inside:avoid}@page{size:A4;margin:16mm}}";

fn page(
    args: &ReportArgs,
    runs: &[Run],
    measured: Option<&[(f64, f64)]>,
) -> Result<String, Failure> {
    let last = &runs[runs.len() - 1];
    let title = escape(&last.scenario.spec.name);
    let mut out = format!(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width,initial-scale=1\"><meta http-equiv=\"Content-Security-Policy\" content=\"{}\"><title>{title}</title><style>{STYLE}{}</style></head><body>\n<h1>{title}</h1>\n",
        explore::policy(),
        explore::STYLE
    );
    what(&mut out, runs);
    tables(&mut out, runs);
    let points: Vec<_> = last.rows.iter().filter_map(|r| r.point()).collect();
    blowdown(&mut out, last);
    results(&mut out, runs);
    if let Some(measured) = measured {
        against(&mut out, last, measured)?;
    }
    let mut charts = chart::of_run(last)?;
    if runs.len() > 1 {
        charts = chart::overlaid(runs)?.into_iter().chain(charts).collect();
    }
    // traces at three speeds are enough for a page
    let speeds: Vec<f64> = points.iter().map(|p| p.rpm).collect();
    let keep: Vec<String> = [speeds.first(), speeds.get(speeds.len() / 2), speeds.last()]
        .into_iter()
        .flatten()
        .map(|r| format!("-{r:.0}rpm"))
        .collect();
    out.push_str(&explore::section(runs, measured));
    out.push_str("<h2>Charts</h2>\n");
    for chart in &charts {
        let traced = chart.name.ends_with("rpm");
        if !traced || keep.iter().any(|k| chart.name.ends_with(k.as_str())) {
            figure(&mut out, &chart.svg);
        }
    }
    if let Some(results) = &args.sweep {
        swept(&mut out, results)?;
    }
    out.push_str("<h2>Port map</h2>\n<p class=\"note\">Not to scale here; <code>freshcharge portmap</code> writes it at 1 : 1 and as DXF.</p>\n");
    let planned = if runs.len() > 1 { portmap::outlines(&last.scenario, true) } else { Vec::new() };
    figure(
        &mut out,
        &portmap::drawing(
            &runs[0].scenario,
            &portmap::outlines(&runs[0].scenario, false),
            &planned,
        ),
    );
    limits_section(&mut out, args, last)?;
    closing(&mut out, args, runs);
    out.push_str("</body></html>\n");
    Ok(out)
}

/// Charts of a sweep that a page has room for.
const OF_SWEEP: usize = 8;

/// What was tried, and the charts of it.
fn swept(out: &mut String, results: &std::path::Path) -> Result<(), Failure> {
    let charts = chart::sweep::default_charts(results)?;
    let _ = writeln!(
        out,
        "<h2>What a sweep says</h2>\n<p class=\"note\">From {}; <code>freshcharge results</code> filters and sorts its rows, <code>freshcharge trends</code> draws any of its columns.</p>",
        escape(&results.display().to_string())
    );
    for chart in charts.iter().take(OF_SWEEP) {
        figure(out, &chart.svg);
    }
    Ok(())
}

fn figure(out: &mut String, svg: &str) {
    // inline pictures take their size from the page
    let body = svg.find("<svg").map_or(svg, |at| &svg[at..]);
    let _ = writeln!(out, "<figure>{body}</figure>");
}

fn what(out: &mut String, runs: &[Run]) {
    let words = sentence(&runs[runs.len() - 1].scenario.spec);
    let _ = writeln!(out, "<p>{}</p>", escape(&words));
}

/// What this engine is, in a sentence or two.
pub(super) fn sentence(spec: &EngineSpec) -> String {
    let facts = Facts::of(spec, &[]);
    let get = |k: &str| facts.get(k).unwrap_or(f64::NAN);
    format!(
        "A crankcase-scavenged single of {:.1} cm³ (bore {:.1} mm, stroke {:.1} mm, rod {:.1} mm). Transfers open for {:.1}°, the exhaust for {:.1}°, which leaves {:.1}° of blowdown. Squish {:.2} mm, trapped compression {:.2}.",
        get("swept_cm3"),
        spec.bore * 1e3,
        spec.crank_train.radius * 2e3,
        spec.crank_train.rod * 1e3,
        get("transfer_duration_deg"),
        get("exhaust_duration_deg"),
        get("blowdown_deg"),
        get("squish_mm"),
        get("trapped_ratio")
    )
}

fn tables(out: &mut String, runs: &[Run]) {
    let all: Vec<Facts> = runs.iter().map(|r| Facts::of(&r.scenario.spec, &[])).collect();
    out.push_str(
        "<h2>Timing, windows, stack</h2>\n<div class=\"wide\"><table><tr><th>quantity</th>",
    );
    for run in runs {
        let _ = write!(out, "<th>{}</th>", escape(&run.scenario.spec.name));
    }
    out.push_str(if runs.len() > 1 {
        "<th>change</th><th></th></tr>\n"
    } else {
        "<th></th></tr>\n"
    });
    for key in FACTS {
        let Some(fact) = all[0].0.iter().find(|f| f.key == *key) else { continue };
        let _ = write!(out, "<tr><td>{}</td>", escape(&fact.words));
        for facts in &all {
            let _ = write!(out, "<td>{}</td>", facts.get(key).map_or("".to_owned(), number));
        }
        if runs.len() > 1 {
            let change = all[1].get(key).map_or(f64::NAN, |v| v - fact.value);
            let sign = if change > 0.0 { "+" } else { "" };
            let _ = write!(out, "<td>{sign}{}</td>", number(change));
        }
        let _ = writeln!(out, "<td>{}</td></tr>", fact.unit.trim_matches('–'));
    }
    out.push_str("</table></div>\n");
}

fn blowdown(out: &mut String, run: &Run) {
    out.push_str("<h2>Blowdown</h2>\n");
    let words = super::words::run(run);
    for paragraph in words.trim().split("\n\n") {
        let _ = writeln!(out, "<p>{}</p>", escape(&paragraph.replace('\n', " ")));
    }
}

fn results(out: &mut String, runs: &[Run]) {
    for run in runs {
        let _ = write!(
            out,
            "<h2>Results over speed: {}</h2>\n<div class=\"wide\"><table><tr><th>1/min</th>",
            escape(&run.scenario.spec.name)
        );
        for (_, words) in RESULTS {
            let _ = write!(out, "<th>{words}</th>");
        }
        out.push_str("<th>settled</th></tr>\n");
        for row in &run.rows {
            let _ = write!(out, "<tr><td>{:.0}</td>", row.rpm);
            match row.point() {
                None => {
                    let _ = write!(
                        out,
                        "<td colspan=\"{}\">could not be computed</td>",
                        RESULTS.len() + 1
                    );
                }
                Some(point) => {
                    for (key, _) in RESULTS {
                        let value =
                            COLUMNS.iter().find(|c| c.key == *key).and_then(|c| (c.value)(point));
                        let _ = write!(out, "<td>{}</td>", value.map_or(String::new(), number));
                    }
                    let _ = write!(
                        out,
                        "<td>{}</td>",
                        if point.verdict.settled() { "yes" } else { "NO" }
                    );
                }
            }
            out.push_str("</tr>\n");
        }
        out.push_str("</table></div>\n");
    }
}

/// Measured against computed power.
fn against(out: &mut String, run: &Run, measured: &[(f64, f64)]) -> Result<(), Failure> {
    let computed: Vec<(f64, f64)> =
        run.rows.iter().filter_map(|r| r.point()).map(|p| (p.rpm, p.summary.power / 1e3)).collect();
    out.push_str("<h2>Measured against computed</h2>\n<table><tr><th>1/min</th><th>measured kW</th><th>computed kW</th><th>difference</th></tr>\n");
    for (rpm, kw) in measured {
        let ours = computed.windows(2).find(|w| (w[0].0..=w[1].0).contains(rpm)).map(|w| {
            let share = (rpm - w[0].0) / (w[1].0 - w[0].0);
            w[0].1 + share * (w[1].1 - w[0].1)
        });
        let cells = ours.map_or("<td></td><td>outside the speeds computed</td>".to_owned(), |o| {
            format!("<td>{o:.2}</td><td>{:+.0} %</td>", 100.0 * (o / kw - 1.0))
        });
        let _ = writeln!(out, "<tr><td>{rpm:.0}</td><td>{kw:.2}</td>{cells}</tr>");
    }
    out.push_str("</table>\n<p class=\"note\">As measured, without correction. Wheel power lacks what gears or belt take (5 to 10 %, 10 to 15 %; common practice, no source), and inertia runs differ from steady ones.</p>\n");
    let curves = vec![
        chart::lines::Curve::new(0, "computed", computed),
        chart::lines::Curve::new(1, "measured", measured.to_vec()),
    ];
    let lines = chart::lines::Lines::over_speed(
        "measured",
        "power, measured and computed".to_owned(),
        "power [kW]",
        curves,
    );
    figure(out, &lines.draw()?.svg);
    Ok(())
}

fn limits_section(out: &mut String, args: &ReportArgs, run: &Run) -> Result<(), Failure> {
    let limits = limits::load(None, args.usage)?;
    let top = run.rows.iter().map(|r| r.rpm).fold(0.0, f64::max);
    let facts = Facts::of(&run.scenario.spec, &[top]);
    let _ = writeln!(
        out,
        "<h2>Held against limits for {} use</h2>\n<div class=\"wide\"><table><tr><th>quantity</th><th>value</th><th>limit</th><th></th><th>source</th></tr>",
        args.usage.word()
    );
    let mut cautions: Vec<&str> = Vec::new();
    for limit in &limits {
        for fact in limit.facts(&facts, top) {
            let standing = limit.judge(fact.value);
            let (class, word) = match standing {
                Standing::Met => ("", "met"),
                Standing::Near => ("", "near"),
                Standing::Broken => (" class=\"broken\"", "broken"),
            };
            if standing != Standing::Met
                && !limit.caution.is_empty()
                && !cautions.contains(&limit.caution.as_str())
            {
                cautions.push(&limit.caution);
            }
            let _ = writeln!(
                out,
                "<tr{class}><td>{}</td><td>{}</td><td>{}</td><td>{word}</td><td>{} ({})</td></tr>",
                escape(&fact.words),
                number(fact.value),
                escape(&limit.bounds()),
                escape(&limit.source),
                escape(&limit.confidence)
            );
        }
    }
    out.push_str("</table></div>\n");
    if !cautions.is_empty() {
        out.push_str("<h2>Cautions</h2>\n<ul>\n");
        for caution in cautions {
            let _ = writeln!(out, "<li>{}</li>", escape(caution));
        }
        out.push_str("<li>Raised ports and louder exhausts may be against the law on the road: check local rules.</li>\n</ul>\n");
    }
    Ok(())
}

fn closing(out: &mut String, args: &ReportArgs, runs: &[Run]) {
    let _ = write!(
        out,
        "<h2>Limits of the model</h2>\n<p>{LIMITS}</p>\n<h2>To do this again</h2>\n<table><tr><th>file</th><th>SHA-256</th></tr>\n"
    );
    for run in runs {
        let _ = writeln!(
            out,
            "<tr><td>{}</td><td><code>{}</code></td></tr>",
            escape(&run.file),
            run.hash
        );
    }
    let files: Vec<String> = args.files.iter().map(|f| f.display().to_string()).collect();
    let rpm = args.rpm.as_ref().map_or(String::new(), |r| format!(" --rpm {r}"));
    let _ = writeln!(
        out,
        "</table>\n<p class=\"note\">Freshcharge {}: <code>freshcharge report {}{}</code></p>",
        env!("CARGO_PKG_VERSION"),
        escape(&files.join(" ")),
        escape(&rpm)
    );
}
