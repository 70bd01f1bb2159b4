//! A result over two axes: colours with contours, the forbidden region hatched, the base engine
//! marked; one panel, or one for each value of a third column.

use std::collections::BTreeMap;

use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::super::canvas::{self, AXIS, Area, SIZE, TICK, fine, line, text};
use super::slice::{dimension, some};
use super::{
    Chart, DrawError, Drawing, Header, Outcome, Row, Slice, decimals, name, shade, short, title,
};

/// Most panels.
const PANELS: usize = 6;
/// Contour lines.
const LEVELS: usize = 7;

/// What a cell of the map holds.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
enum Spot {
    /// Nothing, or a case that did not settle or could not be computed.
    #[default]
    Unknown,
    Refused,
    Value(f64),
}

/// A map under way.
pub(super) struct Map {
    x: (String, usize, Vec<f64>),
    y: (String, usize, Vec<f64>),
    z: (String, usize),
    by: Option<(String, usize, Vec<f64>)>,
    base: Option<(f64, f64)>,
    slice: Slice,
    engine: String,
    reason: Option<usize>,
    /// Row by row of y, for each panel.
    spots: Vec<Vec<Spot>>,
    refused_by: BTreeMap<String, u64>,
}

impl Map {
    pub(super) fn new(
        header: &Header,
        (x, y): (&str, &str),
        z: &str,
        by: Option<&str>,
        fix: &[(String, f64)],
    ) -> Result<Self, DrawError> {
        let (along, up) = (dimension(header, "--map", x)?, dimension(header, "--map", y)?);
        let by = match by {
            Some(key) => {
                let values = some(&dimension(header, "--by", key)?.values, PANELS);
                Some((key.to_owned(), header.find("--by", key)?, values))
            }
            None => None,
        };
        let mut free = vec![x, y];
        free.extend(by.iter().map(|b| b.0.as_str()));
        let slice = Slice::new(header, &free, fix);
        let panels = by.as_ref().map_or(1, |b| b.2.len());
        let spots = vec![vec![Spot::Unknown; along.values.len() * up.values.len()]; panels];
        Ok(Self {
            base: along.present.zip(up.present),
            x: (x.to_owned(), header.find("--map", x)?, along.values),
            y: (y.to_owned(), header.find("--map", y)?, up.values),
            z: (z.to_owned(), header.find("--y", z)?),
            by,
            slice,
            engine: header.word("engine").to_owned(),
            reason: header.place("reason"),
            spots,
            refused_by: BTreeMap::new(),
        })
    }

    fn panel(&self, row: &Row) -> Option<usize> {
        let Some((_, place, values)) = &self.by else { return Some(0) };
        near(values, row.number(*place)?)
    }

    fn values(&self) -> impl Iterator<Item = f64> {
        self.spots.iter().flatten().filter_map(|s| match s {
            Spot::Value(v) => Some(*v),
            _ => None,
        })
    }

    fn at(&self, panel: usize, i: usize, j: usize) -> Spot {
        self.spots[panel][j * self.x.2.len() + i]
    }
}

pub(super) fn near(values: &[f64], value: f64) -> Option<usize> {
    values.iter().position(|v| (v - value).abs() <= 1e-9 * v.abs().max(1.0))
}

impl Drawing for Map {
    fn row(&mut self, row: &Row, outcome: Option<Outcome>) {
        if !self.slice.shows(row) {
            return;
        }
        let (Some(panel), Some(x), Some(y)) =
            (self.panel(row), row.number(self.x.1), row.number(self.y.1))
        else {
            return;
        };
        let (Some(i), Some(j)) = (near(&self.x.2, x), near(&self.y.2, y)) else { return };
        let spot = match outcome {
            Some(Outcome::Refused) => {
                let reason = self.reason.and_then(|p| row.cells.get(p));
                let by = reason.and_then(|r| r.split_once(':')).map_or("", |r| r.0);
                *self.refused_by.entry(by.to_owned()).or_default() += 1;
                Spot::Refused
            }
            Some(Outcome::Settled | Outcome::Repeats | Outcome::Geometry) => {
                row.number(self.z.1).map_or(Spot::Unknown, Spot::Value)
            }
            _ => Spot::Unknown,
        };
        self.spots[panel][j * self.x.2.len() + i] = spot;
    }

    fn chart(&mut self) -> Result<Option<Chart>, DrawError> {
        if self.values().count() < 4 {
            return Ok(None);
        }
        let by = self.by.as_ref().map_or(String::new(), |b| format!("-by-{}", b.0));
        let what = name(&["map", &self.z.0, "over", &self.x.0, &self.y.0]) + &name(&[&by]);
        let svg = canvas::svg(&what, |area| draw(self, area).map_err(|e| e.to_string()))?;
        // without it the seams between cells show
        let svg = svg.replace("<rect ", "<rect shape-rendering=\"crispEdges\" ");
        Ok(Some(Chart { name: what, svg }))
    }
}

type Drawn = Result<(), Box<dyn std::error::Error>>;
type Plot<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

fn draw(map: &Map, area: &Area) -> Drawn {
    let low = map.values().fold(f64::INFINITY, f64::min);
    let high = map.values().fold(f64::NEG_INFINITY, f64::max);
    let scale = low..if high > low { high } else { low + 1.0 };
    let middle = Pos::new(HPos::Center, VPos::Center);
    let centre = fine(SIZE.0) as i32 / 2;
    let head = format!("{}: {}", map.engine, title(&map.z.0));
    let style = canvas::bold(canvas::TITLE).pos(middle);
    area.draw(&Text::new(head, (centre, fine(20) as i32), style))?;
    let style = text(TICK, &BLACK).pos(middle);
    area.draw(&Text::new(subtitle(map), (centre, fine(43) as i32), style))?;
    let (_, body) = area.split_vertically(fine(56));
    let (plots, bar) = body.split_horizontally(fine(SIZE.0 - 96));
    colour_bar(&bar, &scale)?;
    if let Some((key, _, values)) = &map.by {
        let columns = values.len().min(3);
        let rows = values.len().div_ceil(columns);
        for (panel, cell) in plots.split_evenly((rows, columns)).iter().enumerate() {
            if let Some(value) = values.get(panel) {
                let words = format!("{} {}", key, short(*value));
                draw_panel(map, cell, panel, &scale, Some(&words))?;
            }
        }
        return Ok(());
    }
    draw_panel(map, &plots, 0, &scale, None)
}

/// What stands still, and what the marks mean.
fn subtitle(map: &Map) -> String {
    let held = map.slice.words();
    let mut parts = Vec::new();
    if !held.is_empty() {
        parts.push(format!("at {held}"));
    }
    if !map.refused_by.is_empty() {
        let by: Vec<&str> = map.refused_by.keys().map(String::as_str).take(3).collect();
        parts.push(format!("hatched: refused by {}", by.join(", ")));
    }
    if base_inside(map) {
        parts.push("ring: base engine".to_owned());
    }
    parts.join("; ")
}

fn base_inside(map: &Map) -> bool {
    let inside = |values: &[f64], v: f64| {
        values.first().is_some_and(|f| v >= f - 1e-9)
            && values.last().is_some_and(|l| v <= l + 1e-9)
    };
    map.base.is_some_and(|(x, y)| inside(&map.x.2, x) && inside(&map.y.2, y))
}

/// Bounds of the cells round some values.
fn edges(values: &[f64]) -> Vec<f64> {
    let count = values.len();
    let between = values.windows(2).map(|w| 0.5 * (w[0] + w[1]));
    let mut all = vec![1.5 * values[0] - 0.5 * values[1]];
    all.extend(between);
    all.push(1.5 * values[count - 1] - 0.5 * values[count - 2]);
    all
}

fn draw_panel(
    map: &Map,
    area: &DrawingArea<SVGBackend, Shift>,
    panel: usize,
    scale: &std::ops::Range<f64>,
    words: Option<&str>,
) -> Drawn {
    let (xs, ys) = (edges(&map.x.2), edges(&map.y.2));
    let small = words.is_some();
    let size = if small { TICK - 2 } else { TICK };
    let mut builder = ChartBuilder::on(area);
    builder
        .margin(fine(if small { 6 } else { 10 }))
        .x_label_area_size(fine(if small { 36 } else { 46 }))
        .y_label_area_size(fine(if small { 44 } else { 66 }));
    if let Some(words) = words {
        builder.caption(words, text(TICK, &BLACK));
    }
    let mut chart = builder.build_cartesian_2d(xs[0]..xs[xs.len() - 1], ys[0]..ys[ys.len() - 1])?;
    cells(map, &mut chart, panel, (&xs, &ys), scale)?;
    contours(map, &mut chart, panel, scale, small)?;
    let (xd, yd) = (decimals(&(xs[0]..xs[xs.len() - 1])), decimals(&(ys[0]..ys[ys.len() - 1])));
    chart
        .configure_mesh()
        .disable_mesh()
        .x_desc(title(&map.x.0))
        .y_desc(title(&map.y.0))
        .x_labels(if small { 4 } else { 9 })
        .y_labels(if small { 5 } else { 9 })
        .x_label_formatter(&|v| format!("{v:.xd$}"))
        .y_label_formatter(&|v| format!("{v:.yd$}"))
        .label_style(text(size, &BLACK))
        .axis_desc_style(text(if small { size } else { AXIS }, &BLACK))
        .axis_style(line(BLACK, 1.0))
        .set_all_tick_mark_size(fine(5))
        .draw()?;
    if let Some(base) = map.base.filter(|_| base_inside(map)) {
        let radius = if small { 4 } else { 7 };
        chart.draw_series([Circle::new(base, fine(radius) as i32, line(WHITE, 5.0))])?;
        chart.draw_series([Circle::new(base, fine(radius) as i32, line(BLACK, 2.0))])?;
    }
    Ok(())
}

/// Colours and hatching.
fn cells(
    map: &Map,
    chart: &mut Plot,
    panel: usize,
    (xs, ys): (&[f64], &[f64]),
    scale: &std::ops::Range<f64>,
) -> Drawn {
    for j in 0..map.y.2.len() {
        for i in 0..map.x.2.len() {
            let corners = [(xs[i], ys[j]), (xs[i + 1], ys[j + 1])];
            match map.at(panel, i, j) {
                Spot::Unknown => {}
                Spot::Value(value) => {
                    let color = shade((value - scale.start) / (scale.end - scale.start));
                    chart.draw_series([Rectangle::new(corners, color.filled())])?;
                }
                Spot::Refused => hatch(chart, corners)?,
            }
        }
    }
    Ok(())
}

/// Slanting lines over a rectangle, at the same places as its neighbours'.
fn hatch(chart: &mut Plot, corners: [(f64, f64); 2]) -> Drawn {
    let (a, b) = (chart.backend_coord(&corners[0]), chart.backend_coord(&corners[1]));
    let (left, right) = (a.0.min(b.0), a.0.max(b.0));
    let (top, bottom) = (a.1.min(b.1), a.1.max(b.1));
    let pitch = fine(7) as i32;
    let area = chart.plotting_area().strip_coord_spec();
    let (zero_x, zero_y) = area.get_base_pixel();
    let first = (left + top).div_euclid(pitch) + 1;
    for k in first..=(right + bottom).div_euclid(pitch) {
        let sum = k * pitch;
        let from = (left.max(sum - bottom), bottom.min(sum - left));
        let to = (right.min(sum - top), top.max(sum - right));
        let at = |p: (i32, i32)| (p.0 - zero_x, p.1 - zero_y);
        area.draw(&PathElement::new([at(from), at(to)], line(canvas::GREY, 1.0)))?;
    }
    Ok(())
}

/// Lines of equal value through the middles of the cells.
fn contours(
    map: &Map,
    chart: &mut Plot,
    panel: usize,
    scale: &std::ops::Range<f64>,
    small: bool,
) -> Drawn {
    let digits = decimals(scale);
    for level in levels(scale) {
        let mut middle: Option<(f64, f64)> = None;
        let segments = segments(map, panel, level);
        for [from, to] in &segments {
            chart.draw_series([PathElement::new([*from, *to], line(WHITE, 1.2))])?;
        }
        if let Some([from, to]) = segments.get(segments.len() / 2) {
            middle = Some((0.5 * (from.0 + to.0), 0.5 * (from.1 + to.1)));
        }
        if let Some(at) = middle.filter(|_| !small) {
            let dark = (level - scale.start) / (scale.end - scale.start) < 0.6;
            let ink = if dark { WHITE } else { BLACK };
            let style = text(TICK - 1, &ink).pos(Pos::new(HPos::Center, VPos::Bottom));
            chart.draw_series([Text::new(format!("{level:.digits$}"), at, style)])?;
        }
    }
    Ok(())
}

/// Round values across a range.
fn levels(scale: &std::ops::Range<f64>) -> Vec<f64> {
    let rough = (scale.end - scale.start) / LEVELS as f64;
    let power = 10.0_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].iter().map(|f| f * power).find(|s| *s >= rough);
    let step = step.unwrap_or(10.0 * power);
    let first = (scale.start / step).floor() as i64 + 1;
    let last = (scale.end / step).ceil() as i64;
    (first..last).map(|k| k as f64 * step).collect()
}

/// Marching squares over the middles of the cells; a square with an unknown corner has no line.
fn segments(map: &Map, panel: usize, level: f64) -> Vec<[(f64, f64); 2]> {
    let mut found = Vec::new();
    let (xs, ys) = (&map.x.2, &map.y.2);
    for j in 0..ys.len() - 1 {
        for i in 0..xs.len() - 1 {
            // round the square
            let places = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)];
            let corners: Vec<(f64, f64, f64)> = places
                .iter()
                .filter_map(|(i, j)| match map.at(panel, *i, *j) {
                    Spot::Value(v) => Some((xs[*i], ys[*j], v - level)),
                    _ => None,
                })
                .collect();
            if corners.len() < 4 {
                continue;
            }
            let crossings: Vec<(f64, f64)> = (0..4)
                .filter_map(|k| {
                    let (a, b) = (corners[k], corners[(k + 1) % 4]);
                    let share = a.2 / (a.2 - b.2);
                    let apart = (a.2 < 0.0) != (b.2 < 0.0);
                    apart.then_some((a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1)))
                })
                .collect();
            match crossings[..] {
                [a, b] => found.push([a, b]),
                [a, b, c, d] => {
                    // a saddle: the mean decides which corners belong together
                    let mean: f64 = corners.iter().map(|c| c.2).sum();
                    let joined = (mean < 0.0) == (corners[0].2 < 0.0);
                    found.extend(if joined { [[a, b], [c, d]] } else { [[d, a], [b, c]] });
                }
                _ => {}
            }
        }
    }
    found
}

/// The scale of colours.
fn colour_bar(area: &DrawingArea<SVGBackend, Shift>, scale: &std::ops::Range<f64>) -> Drawn {
    let mut chart = ChartBuilder::on(area)
        .margin_top(fine(14))
        .margin_bottom(fine(60))
        .margin_left(fine(6))
        .right_y_label_area_size(fine(64))
        .build_cartesian_2d(0.0..1.0, scale.clone())?
        .set_secondary_coord(0.0..1.0, scale.clone());
    let steps = 64;
    let width = (scale.end - scale.start) / f64::from(steps);
    let strips = (0..steps).map(|i| {
        let low = scale.start + f64::from(i) * width;
        Rectangle::new(
            [(0.0, low), (1.0, low + width)],
            shade((f64::from(i) + 0.5) / f64::from(steps)).filled(),
        )
    });
    chart.draw_series(strips)?;
    let digits = decimals(scale);
    chart
        .configure_secondary_axes()
        .y_labels(8)
        .y_label_formatter(&|v| format!("{v:.digits$}"))
        .label_style(text(TICK, &BLACK))
        .axis_style(line(BLACK, 1.0))
        .set_all_tick_mark_size(fine(5))
        .draw()?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn contour_levels_are_round_and_inside() {
        assert_eq!(levels(&(0.0..7.0)), [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]);
        let fine = levels(&(0.31..0.42));
        assert!(fine.iter().all(|l| (0.31..0.42).contains(l)) && fine.len() >= 4, "{fine:?}");
    }

    #[test]
    fn cells_meet_halfway() {
        assert_eq!(edges(&[0.0, 1.0, 3.0]), [-0.5, 0.5, 2.0, 4.0]);
    }
}
