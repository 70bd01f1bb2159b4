//! A trade-off: every settled build at one speed, and those that none beats in both respects.

use plotters::prelude::*;

use super::super::canvas::{
    self, AXIS, Area, FIRST, GREY, PALE, SECOND, TICK, fine, line, range, text,
};
use super::slice::dimensions;
use super::{Chart, DrawError, Drawing, Header, Outcome, Row, Slice, decimals, name, title};
use crate::present::rows::Objective;

/// Most points drawn; of more, every n-th.
const POINTS: usize = 4000;

/// A front under way.
pub(super) struct Front {
    a: (Objective, usize),
    b: (Objective, usize),
    slice: Slice,
    /// The base engine, as far as it is among the builds.
    base: Slice,
    engine: String,
    points: Vec<(f64, f64)>,
    stride: usize,
    seen: usize,
    front: Vec<(f64, f64)>,
    of_base: Option<(f64, f64)>,
}

impl Front {
    pub(super) fn new(
        header: &Header,
        a: &Objective,
        b: &Objective,
        fix: &[(String, f64)],
    ) -> Result<Self, DrawError> {
        let all = dimensions(header);
        let free: Vec<&str> = all.iter().map(|d| d.key.as_str()).filter(|k| *k != "rpm").collect();
        Ok(Self {
            a: (a.clone(), header.find("--x", &a.key)?),
            b: (b.clone(), header.find("--y", &b.key)?),
            slice: Slice::new(header, &free, fix),
            base: Slice::new(header, &[], fix),
            engine: header.word("engine").to_owned(),
            points: Vec::new(),
            stride: 1,
            seen: 0,
            front: Vec::new(),
            of_base: None,
        })
    }

    fn join_front(&mut self, point: (f64, f64)) {
        let (a, b) = (&self.a.0, &self.b.0);
        let beats = |p: &(f64, f64), q: &(f64, f64)| !a.better(q.0, p.0) && !b.better(q.1, p.1);
        if self.front.iter().any(|p| beats(p, &point)) {
            return;
        }
        self.front.retain(|p| !beats(&point, p));
        self.front.push(point);
    }
}

impl Drawing for Front {
    fn row(&mut self, row: &Row, outcome: Option<Outcome>) {
        let sound =
            matches!(outcome, Some(Outcome::Settled | Outcome::Repeats | Outcome::Geometry));
        if !sound || !self.slice.shows(row) {
            return;
        }
        let (Some(x), Some(y)) = (row.number(self.a.1), row.number(self.b.1)) else { return };
        self.join_front((x, y));
        if self.base.shows(row) {
            self.of_base = Some((x, y));
        }
        if self.seen.is_multiple_of(self.stride) {
            self.points.push((x, y));
        }
        self.seen += 1;
        if self.points.len() > 2 * POINTS {
            self.stride *= 2;
            let mut keep = false;
            self.points.retain(|_| {
                keep = !keep;
                keep
            });
        }
    }

    fn chart(&mut self) -> Result<Option<Chart>, DrawError> {
        if self.points.len() < 3 {
            return Ok(None);
        }
        self.front.sort_by(|p, q| p.0.total_cmp(&q.0));
        let what = name(&["trade-off", &self.a.0.key, &self.b.0.key]);
        let svg = canvas::svg(&what, |area| draw(self, area).map_err(|e| e.to_string()))?;
        Ok(Some(Chart { name: what, svg }))
    }
}

fn draw(front: &Front, area: &Area) -> Result<(), Box<dyn std::error::Error>> {
    let x = range(front.points.iter().map(|p| p.0), false);
    let y = range(front.points.iter().map(|p| p.1), false);
    let way = |o: &Objective| if o.rising { "more is better" } else { "less is better" };
    let mut names = vec![("builds", GREY), ("none is better in both", SECOND)];
    if front.of_base.is_some() {
        names.push(("base engine", FIRST));
    }
    let plot =
        canvas::frame(area, &format!("{}: trade-off", front.engine), &canvas::whole(&names))?;
    let (xd, yd) = (decimals(&x), decimals(&y));
    let mut chart = ChartBuilder::on(&plot)
        .margin(fine(10))
        .margin_right(fine(32))
        .x_label_area_size(fine(46))
        .y_label_area_size(fine(66))
        .build_cartesian_2d(x, y)?;
    let held = front.slice.words();
    let at = if held.is_empty() { String::new() } else { format!("   (at {held})") };
    chart
        .configure_mesh()
        .x_desc(format!("{}, {}{at}", title(&front.a.0.key), way(&front.a.0)))
        .y_desc(format!("{}, {}", title(&front.b.0.key), way(&front.b.0)))
        .x_label_formatter(&|v| format!("{v:.xd$}"))
        .y_label_formatter(&|v| format!("{v:.yd$}"))
        .label_style(text(TICK, &BLACK))
        .axis_desc_style(text(AXIS, &BLACK))
        .axis_style(line(BLACK, 1.0))
        .bold_line_style(line(PALE, 1.0))
        .light_line_style(TRANSPARENT)
        .set_all_tick_mark_size(fine(5))
        .draw()?;
    let dot = |p: &(f64, f64)| Circle::new(*p, fine(3) as i32, GREY.mix(0.5).filled());
    chart.draw_series(front.points.iter().map(dot))?;
    chart.draw_series(LineSeries::new(front.front.iter().copied(), line(SECOND, 2.0)))?;
    let dot = |p: &(f64, f64)| Circle::new(*p, fine(4) as i32, SECOND.filled());
    chart.draw_series(front.front.iter().map(dot))?;
    if let Some(base) = front.of_base {
        chart.draw_series([Circle::new(base, fine(6) as i32, line(FIRST, 3.0))])?;
    }
    Ok(())
}
