//! Charts of a sweep: which are drawn, and one pass over the rows for all of them.

mod bars;
mod front;
pub(crate) mod grid;
mod map;
mod slice;
mod trend;

use std::path::{Path, PathBuf};

use freshcharge_sim::result::COLUMNS;
use freshcharge_sim::sweep::FIGURES;

use super::{Chart, write};
use crate::Outcome as Ended;
use crate::args::TrendsArgs;
use crate::files::{self, Failure};
use crate::sweep::{Header, Outcome, Row, Table};
use slice::{Dimension, Slice, dimensions};

/// A chart that sees every row once and is then drawn.
trait Drawing {
    /// Takes a row.
    fn row(&mut self, row: &Row, outcome: Option<Outcome>);
    /// Draws; none when there is nothing to show.
    fn chart(&mut self) -> Result<Option<Chart>, Failure>;
}

/// What users draw first.
const FIRST: &[&str] = &[
    "delivery_ratio",
    "cylinder_pressure_at_transfer_opening_bar",
    "hot_backflow_mass_mg",
    "charging_efficiency",
    "power_kw",
];

/// Words for an axis.
fn title(key: &str) -> String {
    let column = COLUMNS.iter().find(|c| c.key == key).map(|c| c.title);
    let figure = FIGURES.iter().find(|f| f.key == key).map(|f| f.title);
    column.or(figure).map_or_else(|| key.to_owned(), str::to_owned)
}

/// File name of a chart.
fn name(parts: &[&str]) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
    parts.iter().map(|p| p.chars().map(plain).collect::<String>()).collect::<Vec<_>>().join("-")
}

/// Results worth a chart in this sweep.
fn worth(header: &Header) -> Vec<String> {
    let goals = header.objectives().into_iter().map(|o| o.key);
    let first = FIRST.iter().map(|k| (*k).to_owned()).filter(|k| header.place(k).is_some());
    let mut keys: Vec<String> = Vec::new();
    for key in goals.chain(first) {
        if !keys.contains(&key) {
            keys.push(key);
        }
    }
    if keys.is_empty() {
        let figures = FIGURES.iter().map(|f| f.key.to_owned());
        keys.extend(figures.filter(|k| header.place(k).is_some()).take(4));
    }
    keys
}

/// The charts that every sweep gets; gives the names of what was written.
pub(crate) fn default_set(results: &Path, out: &Path) -> Result<Vec<String>, Failure> {
    write(out, &default_charts(results)?)
}

/// The charts that every sweep gets.
pub(crate) fn default_charts(results: &Path) -> Result<Vec<Chart>, Failure> {
    let mut table = Table::open(results)?;
    let header = table.header.clone();
    let all = dimensions(&header);
    let mut drawings: Vec<Box<dyn Drawing>> = Vec::new();
    let keys = worth(&header);
    let axes: Vec<&Dimension> = all.iter().filter(|d| d.key != "rpm").collect();
    for key in &keys {
        let over_speed = all.iter().find(|d| d.key == "rpm");
        if let Some(x) = over_speed.or(axes.first().copied()) {
            let by = axes.iter().find(|d| d.key != x.key).map(|d| d.key.as_str());
            drawings.push(Box::new(trend::Trend::new(&header, &x.key, key, by, &[])?));
        }
        if let [x, y, ..] = axes[..] {
            drawings.push(Box::new(map::Map::new(&header, (&x.key, &y.key), key, None, &[])?));
        }
        drawings.push(Box::new(bars::Bars::new(&header, key, &[])?));
    }
    if let [x, .., y] = axes[..]
        && let Some(key) = keys.first()
    {
        if axes.len() > 2 {
            drawings.push(Box::new(map::Map::new(&header, (&x.key, &y.key), key, None, &[])?));
        }
        if all.iter().any(|d| d.key == "rpm") {
            let by = Some("rpm");
            drawings.push(Box::new(map::Map::new(&header, (&x.key, &y.key), key, by, &[])?));
        }
    }
    let goals = header.objectives();
    if let [a, .., b] = &goals[..] {
        drawings.push(Box::new(front::Front::new(&header, a, b, &[])?));
    }
    drawn(&mut table, drawings)
}

/// One pass over the rows, then all charts.
fn drawn(table: &mut Table, mut drawings: Vec<Box<dyn Drawing>>) -> Result<Vec<Chart>, Failure> {
    while let Some(row) = table.next()? {
        let outcome = table.outcome(&row);
        drawings.iter_mut().for_each(|d| d.row(&row, outcome));
    }
    let mut charts = Vec::new();
    for drawing in &mut drawings {
        charts.extend(drawing.chart()?);
    }
    Ok(charts)
}

/// `freshcharge trends`.
pub(crate) fn trends(args: &TrendsArgs) -> Result<Ended, Failure> {
    let folder =
        if args.results.is_dir() { args.results.clone() } else { args.results.with_file_name("") };
    let out: PathBuf = args.out.clone().unwrap_or_else(|| folder.join("charts"));
    let mut table = Table::open(&args.results)?;
    let header = table.header.clone();
    let fix: Vec<(String, f64)> =
        args.fix.iter().map(|text| fixed(text, &header)).collect::<Result<_, _>>()?;
    let asked = args.x.is_some() || args.y.is_some() || args.map.is_some() || args.by.is_some();
    let written = if asked || !fix.is_empty() {
        let drawing = one(args, &header, &fix)?;
        write(&out, &drawn(&mut table, drawing)?)?
    } else {
        default_set(&args.results, &out)?
    };
    table.warn();
    if written.is_empty() {
        let why = "no settled row lies where this chart would be; use --fix to choose other values";
        return Err(Failure::Chart { what: "the chart".to_owned(), why: why.to_owned() });
    }
    files::print(&format!("Charts: {}\n", written.join(", ")))?;
    Ok(Ended::Done)
}

/// COLUMN=VALUE.
fn fixed(text: &str, header: &Header) -> Result<(String, f64), Failure> {
    let parts = text.split_once('=');
    let number = parts.and_then(|(key, value)| Some((key.trim(), value.trim().parse().ok()?)));
    let Some((key, value)) = number else {
        let remedy = "write COLUMN=NUMBER, such as rpm=6000".to_owned();
        return Err(Failure::Argument { flag: "--fix", value: text.to_owned(), remedy });
    };
    header.find("--fix", key)?;
    Ok((key.to_owned(), value))
}

/// The charts that the arguments ask for.
fn one(
    args: &TrendsArgs,
    header: &Header,
    fix: &[(String, f64)],
) -> Result<Vec<Box<dyn Drawing>>, Failure> {
    let keys = args.y.as_ref().map_or_else(|| worth(header), |y| vec![y.clone()]);
    let all = dimensions(header);
    let mut drawings: Vec<Box<dyn Drawing>> = Vec::new();
    for key in &keys {
        header.find("--y", key)?;
        let by = args.by.as_deref();
        if let Some(text) = &args.map {
            let Some((x, y)) = text.split_once(',') else {
                let remedy = "write two columns, X,Y".to_owned();
                return Err(Failure::Argument { flag: "--map", value: text.clone(), remedy });
            };
            drawings.push(Box::new(map::Map::new(header, (x.trim(), y.trim()), key, by, fix)?));
        } else {
            let first = all.iter().find(|d| d.key == "rpm").or(all.first());
            let Some(x) = args.x.as_deref().or(first.map(|d| d.key.as_str())) else {
                let why = "nothing varies in this sweep".to_owned();
                return Err(Failure::Chart { what: "a trend".to_owned(), why });
            };
            drawings.push(Box::new(trend::Trend::new(header, x, key, by, fix)?));
        }
    }
    Ok(drawings)
}

/// Colour of a share 0 to 1: dark to light, the same order in print and for every eye.
fn shade(share: f64) -> plotters::style::RGBColor {
    let c = colorous::VIRIDIS.eval_continuous(share.clamp(0.0, 1.0));
    plotters::style::RGBColor(c.r, c.g, c.b)
}

/// A number for people.
fn short(value: f64) -> String {
    let text = if value.abs() >= 100.0 { format!("{value:.0}") } else { format!("{value:.3}") };
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// Decimals that tell neighbouring labels of a range apart.
fn decimals(range: &std::ops::Range<f64>) -> usize {
    let step = (range.end - range.start).abs() / 8.0;
    if step > 0.0 { (1.0 - step.log10()).floor().clamp(0.0, 6.0) as usize } else { 2 }
}
