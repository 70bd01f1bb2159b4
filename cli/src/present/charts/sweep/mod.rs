//! Charts of a sweep: which are drawn, and one pass over the rows for all of them.

mod bars;
mod front;
pub(crate) mod grid;
mod map;
mod slice;
mod trend;

use freshcharge_sim::result::COLUMNS;
use freshcharge_sim::sweep::FIGURES;

use super::Chart;
use crate::present::DrawError;
use crate::present::rows::{Header, Outcome, Row};
use slice::{Dimension, Slice, dimensions};

/// A chart that sees every row once and is then drawn.
trait Drawing {
    /// Takes a row.
    fn row(&mut self, row: &Row, outcome: Option<Outcome>);
    /// Draws; none when there is nothing to show.
    fn chart(&mut self) -> Result<Option<Chart>, DrawError>;
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

/// The charts that every sweep gets.
pub(crate) fn usual<E: From<DrawError>>(
    header: &Header,
    rows: impl Iterator<Item = Result<Seen, E>>,
) -> Result<Vec<Chart>, E> {
    let all = dimensions(header);
    let mut drawings: Vec<Box<dyn Drawing>> = Vec::new();
    let keys = worth(header);
    let axes: Vec<&Dimension> = all.iter().filter(|d| d.key != "rpm").collect();
    for key in &keys {
        let over_speed = all.iter().find(|d| d.key == "rpm");
        if let Some(x) = over_speed.or(axes.first().copied()) {
            let by = axes.iter().find(|d| d.key != x.key).map(|d| d.key.as_str());
            drawings.push(Box::new(trend::Trend::new(header, &x.key, key, by, &[])?));
        }
        if let [x, y, ..] = axes[..] {
            drawings.push(Box::new(map::Map::new(header, (&x.key, &y.key), key, None, &[])?));
        }
        drawings.push(Box::new(bars::Bars::new(header, key, &[])?));
    }
    if let [x, .., y] = axes[..]
        && let Some(key) = keys.first()
    {
        if axes.len() > 2 {
            drawings.push(Box::new(map::Map::new(header, (&x.key, &y.key), key, None, &[])?));
        }
        if all.iter().any(|d| d.key == "rpm") {
            let by = Some("rpm");
            drawings.push(Box::new(map::Map::new(header, (&x.key, &y.key), key, by, &[])?));
        }
    }
    let goals = header.objectives();
    if let [a, .., b] = &goals[..] {
        drawings.push(Box::new(front::Front::new(header, a, b, &[])?));
    }
    drawn(rows, drawings)
}

/// A row with what became of it.
pub(crate) type Seen = (Row, Option<Outcome>);

/// One pass over the rows, then all charts.
fn drawn<E: From<DrawError>>(
    rows: impl Iterator<Item = Result<Seen, E>>,
    mut drawings: Vec<Box<dyn Drawing>>,
) -> Result<Vec<Chart>, E> {
    for row in rows {
        let (row, outcome) = row?;
        drawings.iter_mut().for_each(|d| d.row(&row, outcome));
    }
    let mut charts = Vec::new();
    for drawing in &mut drawings {
        charts.extend(drawing.chart()?);
    }
    Ok(charts)
}

/// What to draw of a sweep: columns by name.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Choice<'a> {
    /// Column of the axis along.
    pub(crate) x: Option<&'a str>,
    /// Column drawn; the usual ones when left out.
    pub(crate) y: Option<&'a str>,
    /// One curve or map for each value of this column.
    pub(crate) by: Option<&'a str>,
    /// Two columns of a map, X,Y.
    pub(crate) map: Option<&'a str>,
    /// Columns held at a value.
    pub(crate) fix: &'a [(String, f64)],
}

/// The charts that are asked for.
pub(crate) fn chosen<E: From<DrawError>>(
    choice: &Choice,
    header: &Header,
    rows: impl Iterator<Item = Result<Seen, E>>,
) -> Result<Vec<Chart>, E> {
    drawn(rows, one(choice, header)?)
}

/// The charts that the arguments ask for.
fn one(choice: &Choice, header: &Header) -> Result<Vec<Box<dyn Drawing>>, DrawError> {
    let keys = choice.y.map_or_else(|| worth(header), |y| vec![y.to_owned()]);
    let all = dimensions(header);
    let mut drawings: Vec<Box<dyn Drawing>> = Vec::new();
    for key in &keys {
        header.find("--y", key)?;
        let by = choice.by;
        if let Some(text) = choice.map {
            let Some((x, y)) = text.split_once(',') else {
                let remedy = "write two columns, X,Y".to_owned();
                return Err(DrawError::Choice { flag: "--map", value: text.to_owned(), remedy });
            };
            drawings.push(Box::new(map::Map::new(
                header,
                (x.trim(), y.trim()),
                key,
                by,
                choice.fix,
            )?));
        } else {
            let first = all.iter().find(|d| d.key == "rpm").or(all.first());
            let Some(x) = choice.x.or(first.map(|d| d.key.as_str())) else {
                let why = "nothing varies in this sweep".to_owned();
                return Err(DrawError::Picture { what: "a trend".to_owned(), why });
            };
            drawings.push(Box::new(trend::Trend::new(header, x, key, by, choice.fix)?));
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
