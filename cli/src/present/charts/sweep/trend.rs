//! A result over one axis, one curve for each value of another; of a sampled sweep its middle with
//! the central 95 %.

use plotters::prelude::*;

use super::super::canvas::{self, AXIS, Area, FIRST, PALE, TICK, fine, line, range, text};
use super::slice::{dimension, some};
use super::{
    Chart, DrawError, Drawing, Header, Outcome, Row, Slice, decimals, name, shade, short, title,
};
use crate::present::rows::analysis::{Spread, spread};

/// Most curves in one chart.
const CURVES: usize = 7;

/// A trend under way.
pub(super) struct Trend {
    x: (String, usize),
    y: (String, usize),
    by: Option<(String, usize, Vec<f64>)>,
    slice: Slice,
    sampled: bool,
    engine: String,
    /// Points of each curve.
    points: Vec<Vec<(f64, f64)>>,
}

impl Trend {
    pub(super) fn new(
        header: &Header,
        x: &str,
        y: &str,
        by: Option<&str>,
        fix: &[(String, f64)],
    ) -> Result<Self, DrawError> {
        dimension(header, "--x", x)?;
        let sampled = !header.words("sampled").is_empty();
        let by = by.filter(|_| !sampled);
        let by = match by {
            Some(key) => {
                let values = some(&dimension(header, "--by", key)?.values, CURVES);
                Some((key.to_owned(), header.find("--by", key)?, values))
            }
            None => None,
        };
        let mut free = vec![x];
        free.extend(by.iter().map(|b| b.0.as_str()));
        let slice = Slice::new(header, &free, fix);
        let points = vec![Vec::new(); by.as_ref().map_or(1, |b| b.2.len())];
        Ok(Self {
            x: (x.to_owned(), header.find("--x", x)?),
            y: (y.to_owned(), header.find("--y", y)?),
            by,
            slice,
            sampled,
            engine: header.word("engine").to_owned(),
            points,
        })
    }

    /// Which curve a row belongs to.
    fn curve(&self, row: &Row) -> Option<usize> {
        let Some((_, place, values)) = &self.by else { return Some(0) };
        let value = row.number(*place)?;
        values.iter().position(|v| (v - value).abs() <= 1e-9 * v.abs().max(1.0))
    }

    /// Spread of a sampled sweep at each x.
    fn bands(&self) -> Vec<(f64, Spread)> {
        let mut all = self.points[0].clone();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let groups = all.chunk_by(|a, b| a.0 == b.0);
        groups
            .filter_map(|g| {
                let values: Vec<f64> = g.iter().map(|p| p.1).collect();
                Some((g[0].0, spread(&values)?))
            })
            .collect()
    }
}

impl Drawing for Trend {
    fn row(&mut self, row: &Row, outcome: Option<Outcome>) {
        let sound =
            matches!(outcome, Some(Outcome::Settled | Outcome::Repeats | Outcome::Geometry));
        if !sound || !self.slice.shows(row) {
            return;
        }
        if let (Some(curve), Some(x), Some(y)) =
            (self.curve(row), row.number(self.x.1), row.number(self.y.1))
        {
            self.points[curve].push((x, y));
        }
    }

    fn chart(&mut self) -> Result<Option<Chart>, DrawError> {
        for curve in &mut self.points {
            curve.sort_by(|a, b| a.0.total_cmp(&b.0));
        }
        if self.points.iter().all(|c| c.len() < 2) {
            return Ok(None);
        }
        let by = self.by.as_ref().map_or("", |b| b.0.as_str());
        let what = name(&[
            "trend",
            &self.y.0,
            "over",
            &self.x.0,
            if by.is_empty() { "" } else { "by" },
            by,
        ]);
        let what = what.trim_end_matches('-').to_owned();
        let svg = canvas::svg(&what, |area| draw(self, area).map_err(|e| e.to_string()))?;
        Ok(Some(Chart { name: what, svg }))
    }
}

type Drawn = Result<(), Box<dyn std::error::Error>>;

fn draw(trend: &Trend, area: &Area) -> Drawn {
    let bands = if trend.sampled { trend.bands() } else { Vec::new() };
    let values = trend.points.iter().flatten().map(|p| p.1);
    let y = range(values, false);
    let xs = || trend.points.iter().flatten().map(|p| p.0);
    let (first, last) =
        (xs().fold(f64::INFINITY, f64::min), xs().fold(f64::NEG_INFINITY, f64::max));
    let room = 0.03 * (last - first);
    let labels = labels(trend);
    let names: Vec<(&str, RGBColor)> = labels.iter().map(|(t, c)| (t.as_str(), *c)).collect();
    let head = format!("{}: {}", trend.engine, title(&trend.y.0));
    let plot = canvas::frame(area, &head, &canvas::whole(&names))?;
    let digits = decimals(&y);
    let mut chart = ChartBuilder::on(&plot)
        .margin(fine(10))
        .margin_right(fine(32))
        .x_label_area_size(fine(46))
        .y_label_area_size(fine(66))
        .build_cartesian_2d(first - room..last + room, y)?;
    let held = trend.slice.words();
    let under = if held.is_empty() { String::new() } else { format!("   (at {held})") };
    let x_digits = decimals(&(first..last));
    chart
        .configure_mesh()
        .x_desc(format!("{}{under}", title(&trend.x.0)))
        .y_desc(title(&trend.y.0))
        .x_labels(8)
        .y_labels(8)
        .x_label_formatter(&|v| format!("{v:.x_digits$}"))
        .y_label_formatter(&|v| format!("{v:.digits$}"))
        .label_style(text(TICK, &BLACK))
        .axis_desc_style(text(AXIS, &BLACK))
        .axis_style(line(BLACK, 1.0))
        .bold_line_style(line(PALE, 1.0))
        .light_line_style(TRANSPARENT)
        .set_all_tick_mark_size(fine(5))
        .draw()?;
    if !bands.is_empty() {
        let above = bands.iter().map(|(x, s)| (*x, s.high));
        let below = bands.iter().rev().map(|(x, s)| (*x, s.low));
        chart
            .draw_series([Polygon::new(above.chain(below).collect::<Vec<_>>(), FIRST.mix(0.25))])?;
        let middle = bands.iter().map(|(x, s)| (*x, s.middle));
        chart.draw_series(LineSeries::new(middle, line(FIRST, 2.0)))?;
        return Ok(());
    }
    for (i, points) in trend.points.iter().enumerate() {
        let color = color(trend, i);
        chart.draw_series(LineSeries::new(points.iter().copied(), line(color, 2.0)))?;
        let dots = points.iter().map(|p| Circle::new(*p, fine(3) as i32, color.filled()));
        chart.draw_series(dots)?;
    }
    Ok(())
}

/// Colour of a curve.
fn color(trend: &Trend, curve: usize) -> RGBColor {
    let curves = trend.points.len();
    if curves > 1 { shade(0.9 * curve as f64 / (curves - 1) as f64) } else { FIRST }
}

/// Names of the curves.
fn labels(trend: &Trend) -> Vec<(String, RGBColor)> {
    let mut labels: Vec<(String, RGBColor)> = Vec::new();
    if trend.sampled {
        labels.push(("median, with the central 95 %".to_owned(), FIRST));
    }
    if let Some((key, _, values)) = &trend.by {
        labels.push((format!("{key}:"), WHITE));
        let drawn = values.iter().enumerate().filter(|(i, _)| !trend.points[*i].is_empty());
        labels.extend(drawn.map(|(i, v)| (short(*v), color(trend, i))));
    }
    labels
}
