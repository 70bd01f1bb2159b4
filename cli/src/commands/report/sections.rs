//! The sections of a build's write-up.

use freshcharge_sim::result::{COLUMNS, Point};
use freshcharge_sim::spec::EngineSpec;
use freshcharge_sim::studies::beside_a_cut;
use freshcharge_sim::workshop::{self, Facts};

use super::{Material, against, explore};
use crate::chart;
use crate::chart::sweep::grid::Grid;
use crate::command::sheet::Sheet;
use crate::command::{check, portmap};
use crate::export::layout::number;
use crate::files::Failure;
use crate::limits::{self, Judge, Standing};
use crate::session::sweep::ResultsFile;
use crate::writeup::{Block, Picture, Section, Table};
use freshcharge_sim::studies::run::Run;

/// Sections that there may be.
pub(super) const KEYS: &[&str] = &[
    "engine",
    "timing",
    "blowdown",
    "results",
    "explore",
    "charts",
    "sweep",
    "port-map",
    "cut-sheet",
    "measured",
    "limits",
    "cautions",
    "model",
    "again",
];

/// Results shown over speed: key and short words.
const RESULTS: &[(&str, &str)] = &[
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
const FACTS: &[&str] = &[
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
const LIMITS: &str = "The cylinder keeps new and old gas apart while gas is exchanged, and what leaves follows a given scavenging curve (by version 1 of the model it is one mixture with one temperature); no dissociation; quasi-steady port flow with given coefficients; waves only where the file gives pipes; steady speed; scavenging is a curve, not a flow field; wall temperatures are inputs. No whole-engine measurement stands behind it yet: trends and comparisons between neighbouring builds are far better than absolute power.";

/// Every section that has something to say.
pub(super) fn all(material: &Material) -> Result<Vec<Section>, Failure> {
    let section = |key, blocks| Section { key, blocks };
    let (runs, last) = (&material.runs, material.last());
    let (limits, cautions) = held_against_limits(material)?;
    Ok(vec![
        section("engine", vec![Block::Words(sentence(&last.scenario.spec))]),
        section("timing", vec![Block::Table(timing(runs))]),
        section("blowdown", blowdown(last)),
        section("results", results(runs)),
        section("explore", vec![Block::Live(explore::block("data", &explore::data(material)))]),
        section("charts", charts(runs)?),
        section("sweep", swept(material)?),
        section("port-map", vec![Block::Picture(port_map(runs))]),
        section("cut-sheet", cut_sheet(runs)),
        section("measured", against::blocks(material)?),
        section("limits", vec![Block::Table(limits)]),
        section("cautions", vec![Block::List(cautions)]),
        section("model", vec![Block::Words(LIMITS.to_owned())]),
        section("again", again(material)),
    ])
}

/// What this engine is, in a sentence or two.
fn sentence(spec: &EngineSpec) -> String {
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

fn timing(runs: &[Run]) -> Table {
    let all: Vec<Facts> = runs.iter().map(|r| Facts::of(&r.scenario.spec, &[])).collect();
    let mut head = vec!["quantity".to_owned()];
    head.extend(runs.iter().map(|r| r.scenario.spec.name.clone()));
    if runs.len() > 1 {
        head.push("change".to_owned());
    }
    head.push(String::new());
    let mut table = Table::new(head);
    for key in FACTS {
        let Some(fact) = all[0].0.iter().find(|f| f.key == *key) else { continue };
        let mut cells = vec![fact.words.clone()];
        cells.extend(all.iter().map(|facts| facts.get(key).map_or(String::new(), number)));
        if let [_, after] = &all[..] {
            cells.push(after.get(key).map_or(String::new(), |v| signed(v - fact.value)));
        }
        cells.push(fact.unit.trim_matches('–').to_owned());
        table.row(cells, false);
    }
    table
}

/// A change with its sign.
fn signed(change: f64) -> String {
    format!("{}{}", if change > 0.0 { "+" } else { "" }, number(change))
}

fn blowdown(run: &Run) -> Vec<Block> {
    let words = crate::present::words::run(run);
    let whole = |p: &str| Block::Words(p.replace('\n', " "));
    words.trim().split("\n\n").map(whole).collect()
}

/// A result of a computed point.
fn result(key: &str, point: &Point) -> Option<f64> {
    COLUMNS.iter().find(|c| c.key == key).and_then(|c| (c.value)(point))
}

/// Speed and value where a result is highest among settled points.
pub(super) fn peak(run: &Run, key: &str) -> Option<(f64, f64)> {
    let settled = run.rows.iter().filter_map(|r| r.point()).filter(|p| p.usable());
    let values = settled.filter_map(|p| Some((p.rpm, result(key, p)?)));
    values.max_by(|a, b| a.1.total_cmp(&b.1))
}

/// Where power and torque are highest, in a sentence.
fn peaks(runs: &[Run]) -> Option<String> {
    let mut words = Vec::new();
    for (key, name, unit) in [("power_kw", "Power", "kW"), ("torque_nm", "Torque", "N·m")] {
        let (rpm, value) = peak(&runs[runs.len() - 1], key)?;
        let mut sentence = format!("{name} is highest at {rpm:.0}/min with {value:.2} {unit}");
        if let [before, _] = runs {
            let (at, was) = peak(before, key)?;
            let change = 100.0 * (value / was - 1.0);
            sentence += &format!(", before at {at:.0}/min with {was:.2} {unit} ({change:+.1} %)");
        }
        words.push(sentence + ".");
    }
    Some(words.join(" "))
}

fn results(runs: &[Run]) -> Vec<Block> {
    let mut blocks: Vec<Block> = peaks(runs).map(Block::Words).into_iter().collect();
    for run in runs {
        if runs.len() > 1 {
            blocks.push(Block::Heading(run.scenario.spec.name.clone()));
        }
        let head = ["1/min"].into_iter().chain(RESULTS.iter().map(|r| r.1)).chain(["settled"]);
        let mut table = Table::new(head);
        for row in &run.rows {
            let mut cells = vec![format!("{:.0}", row.rpm)];
            let Some(point) = row.point() else {
                cells.push("not computed".to_owned());
                cells.resize(table.head.len(), String::new());
                table.row(cells, true);
                continue;
            };
            let value = |(key, _): &(&str, &str)| result(key, point).map_or(String::new(), number);
            cells.extend(RESULTS.iter().map(value));
            let settled = point.verdict.settled();
            cells.push(if settled { "yes" } else { "NO" }.to_owned());
            table.row(cells, !settled);
        }
        blocks.push(Block::Table(table));
    }
    blocks
}

/// Fixed pictures: over speed, and traces at three speeds of all; a post has room for one.
fn charts(runs: &[Run]) -> Result<Vec<Block>, Failure> {
    let last = &runs[runs.len() - 1];
    let mut charts = if runs.len() > 1 { chart::overlaid(runs)? } else { Vec::new() };
    charts.extend(chart::of_run(last)?);
    let speeds: Vec<f64> = last.rows.iter().filter_map(|r| r.point()).map(|p| p.rpm).collect();
    let at = |place: usize| speeds.get(place).map(|rpm| format!("-{rpm:.0}rpm"));
    let middle = at(speeds.len() / 2);
    let ends = [at(0), middle.clone(), at(speeds.len().saturating_sub(1))];
    let of = |name: &str, speed: &Option<String>| {
        speed.as_ref().is_some_and(|s| name.ends_with(s.as_str()))
    };
    let pictures = charts.into_iter().map(|c| {
        let steady = !c.name.ends_with("rpm");
        Picture {
            on_page: steady || ends.iter().any(|e| of(&c.name, e)),
            in_post: steady || of(&c.name, &middle),
            ..Picture::new(&c.name, c.name.replace('-', " "), c.svg)
        }
    });
    Ok(pictures.map(Block::Picture).collect())
}

/// Charts of a sweep that a page has room for.
const OF_SWEEP: usize = 8;

/// What was tried, and the charts of it.
fn swept(material: &Material) -> Result<Vec<Block>, Failure> {
    let Some(results) = &material.args.sweep else { return Ok(Vec::new()) };
    let mut blocks = vec![Block::Note(format!(
        "From {}; freshcharge results filters and sorts its rows, freshcharge trends draws any of its columns.",
        results.display()
    ))];
    let last = &material.last().scenario;
    let mut table = ResultsFile::open(results)?;
    let header = table.header.clone();
    if let Some(grid) = Grid::read(&header, table.rows())? {
        let chosen = |path: &str| last.value(path);
        let data = explore::block("grid-data", &grid.data(&chosen));
        blocks.push(Block::Live(format!("<div id=\"grid\" hidden></div>{data}")));
        let (heads, rows) = grid.best;
        if !rows.is_empty() {
            blocks.push(Block::Heading("The best cases by the sweep's first objective".to_owned()));
            let mut table = Table { wordy: true, ..Table::new(heads) };
            rows.iter().for_each(|r| table.row(r.iter().map(|v| number(*v)).collect(), false));
            blocks.push(Block::Table(table));
        }
    }
    for chart in crate::session::charts::of_sweep(results)?.into_iter().take(OF_SWEEP) {
        let words = chart.name.replace('-', " ");
        blocks.push(Block::Picture(Picture::new(&chart.name, words, chart.svg)));
    }
    Ok(blocks)
}

fn port_map(runs: &[Run]) -> Picture {
    let first = &runs[0].scenario;
    let planned = match runs {
        [_, after] => portmap::outlines(&after.scenario, Some(first)),
        _ => Vec::new(),
    };
    let svg = portmap::drawing(first, &portmap::outlines(first, None), &planned).svg();
    Picture::new("port-map", "bore unrolled with its windows".to_owned(), svg)
}

/// What has to be cut to come from the first build to the second.
fn cut_sheet(runs: &[Run]) -> Vec<Block> {
    let [before, after] = runs else { return Vec::new() };
    Sheet::between(&before.scenario, &after.scenario).blocks()
}

/// Always to be borne in mind.
const ALWAYS: &[&str] = &[
    "Raised ports and louder exhausts may be against the law on the road: check local rules.",
    "Metal taken off cannot be put back: measure again before the first cut and after every step.",
];

/// The table of limits, and what to bear in mind of those that are broken or near.
fn held_against_limits(material: &Material) -> Result<(Table, Vec<String>), Failure> {
    let top = material.top();
    let scenario = &material.last().scenario;
    let facts = Facts::of_scenario(scenario, &[top]);
    let errors = workshop::measured(scenario, true);
    let spreads = check::spreads(scenario, &errors, &facts, &[top]);
    let limits = limits::load(None, material.args.usage)?;
    let mut table = Table::wordy(&["quantity", "value", "limit", "verdict", "source"], Vec::new());
    let mut cautions: Vec<String> = Vec::new();
    for found in check::judge(&limits, &scenario.spec, (&facts, &spreads), top) {
        let check::Judged { limit, fact, standing, .. } = found;
        let word = match standing {
            Standing::Met => "met",
            Standing::Near => "near",
            Standing::Broken => "broken",
        };
        let caution = &limit.caution;
        if standing != Standing::Met && !caution.is_empty() && !cautions.contains(caution) {
            cautions.push(caution.clone());
        }
        let cells = vec![
            fact.words.clone(),
            number(fact.value),
            limit.bounds(),
            word.to_owned(),
            format!("{} ({})", limit.source, limit.confidence),
        ];
        table.row(cells, standing == Standing::Broken);
    }
    cautions.push(beside_a_cut());
    cautions.extend(ALWAYS.iter().map(|c| (*c).to_owned()));
    Ok((table, cautions))
}

fn again(material: &Material) -> Vec<Block> {
    let args = material.args;
    let mut rows: Vec<Vec<String>> =
        material.runs.iter().map(|r| vec![r.file.clone(), r.hash.clone()]).collect();
    rows.push(vec!["freshcharge".to_owned(), env!("CARGO_PKG_VERSION").to_owned()]);
    let mut command = "freshcharge report".to_owned();
    for file in &args.files {
        command += &format!(" {}", file.display());
    }
    for file in &args.measured {
        command += &format!(" --measured {}", file.display());
    }
    let path = |p: &std::path::PathBuf| p.display().to_string();
    for (flag, value) in [
        ("rpm", args.rpm.clone()),
        ("sweep", args.sweep.as_ref().map(path)),
        ("use", Some(args.usage.word().to_owned())),
        ("template", args.template.as_ref().map(path)),
        ("out", Some(path(&args.out))),
    ] {
        if let Some(value) = value {
            command += &format!(" --{flag} {value}");
        }
    }
    vec![Block::Table(Table::wordy(&["file", "SHA-256"], rows)), Block::Command(command)]
}
