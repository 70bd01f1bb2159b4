//! What matters: rank correlation of every varied number with a result, or its Sobol indices.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::super::canvas::{self, AXIS, Area, FIRST, PALE, SECOND, TICK, fine, line, text};
use super::slice::dimensions;
use super::{Chart, DrawError, Drawing, Header, Outcome, Row, Slice, name, title};
use crate::present::rows::analysis::{Gathering, Influence};

/// Most bars.
const BARS: usize = 12;

/// Bars under way.
pub(super) struct Bars {
    header: Header,
    key: String,
    slice: Slice,
    gathering: Gathering,
}

impl Bars {
    pub(super) fn new(
        header: &Header,
        key: &str,
        fix: &[(String, f64)],
    ) -> Result<Self, DrawError> {
        let all = dimensions(header);
        let free: Vec<&str> = all.iter().map(|d| d.key.as_str()).filter(|k| *k != "rpm").collect();
        header.find("--y", key)?;
        Ok(Self {
            header: header.clone(),
            key: key.to_owned(),
            slice: Slice::new(header, &free, fix),
            gathering: Gathering::new(header, &[key.to_owned()]),
        })
    }
}

impl Drawing for Bars {
    fn row(&mut self, row: &Row, outcome: Option<Outcome>) {
        if self.slice.shows(row) {
            self.gathering.row(row, outcome);
        }
    }

    fn chart(&mut self) -> Result<Option<Chart>, DrawError> {
        let clouds = self.gathering.of(&self.key);
        let Some((_, cloud)) = clouds.first().filter(|(_, c)| c.result.len() >= 10) else {
            return Ok(None);
        };
        let mut all = self.gathering.influences(&self.header, cloud);
        all.retain(|i| i.rank.is_some() || i.sobol.is_some());
        all.truncate(BARS);
        if all.is_empty() {
            return Ok(None);
        }
        let what = name(&["what-matters", &self.key]);
        let svg = canvas::svg(&what, |area| draw(self, area, &all).map_err(|e| e.to_string()))?;
        Ok(Some(Chart { name: what, svg }))
    }
}

fn draw(bars: &Bars, area: &Area, all: &[Influence]) -> Result<(), Box<dyn std::error::Error>> {
    let sobol = all.iter().any(|i| i.sobol.is_some());
    let names: Vec<(&str, RGBColor)> = if sobol {
        vec![("alone", FIRST), ("together with the others", SECOND)]
    } else {
        vec![("rises with it", FIRST), ("falls with it", SECOND)]
    };
    let head = format!("{}: what {} turns on", bars.header.word("engine"), title(&bars.key));
    let plot = canvas::frame(area, &head, &canvas::whole(&names))?;
    let low = all.iter().filter_map(|i| i.rank).fold(0.0, f64::min);
    let x = if sobol { 0.0..1.0 } else { (low * 1.1).min(0.0)..1.05 };
    let count = all.len() as f64;
    let mut chart = ChartBuilder::on(&plot)
        .margin(fine(10))
        .margin_right(fine(32))
        .x_label_area_size(fine(46))
        .y_label_area_size(fine(300))
        .build_cartesian_2d(x, 0.0..count)?;
    let held = bars.slice.words();
    let at = if held.is_empty() { String::new() } else { format!("   (at {held})") };
    let what = if sobol { "share of the variance (Sobol indices)" } else { "rank correlation" };
    chart
        .configure_mesh()
        .disable_y_mesh()
        .disable_y_axis()
        .x_desc(format!("{what}{at}"))
        .x_label_formatter(&|v| format!("{v:.1}"))
        .label_style(text(TICK, &BLACK))
        .axis_desc_style(text(AXIS, &BLACK))
        .axis_style(line(BLACK, 1.0))
        .bold_line_style(line(PALE, 1.0))
        .light_line_style(TRANSPARENT)
        .set_all_tick_mark_size(fine(5))
        .draw()?;
    for (i, influence) in all.iter().enumerate() {
        let top = count - i as f64;
        let mut bar = |from: f64, to: f64, value: f64, color: RGBColor| {
            let ends = [(0.0, top - from), (value, top - to)];
            chart.draw_series([Rectangle::new(ends, color.filled())]).map(|_| ())
        };
        if let Some((first, total)) = influence.sobol {
            bar(0.2, 0.5, first.clamp(0.0, 1.0), FIRST)?;
            bar(0.5, 0.8, total.clamp(0.0, 1.0), SECOND)?;
        } else if let Some(rank) = influence.rank {
            bar(0.2, 0.8, rank, if rank >= 0.0 { FIRST } else { SECOND })?;
        }
        let (x, y) = chart.backend_coord(&(chart.x_range().start, top - 0.5));
        let style = text(TICK, &BLACK).pos(Pos::new(HPos::Right, VPos::Center));
        let words = Text::new(influence.path.clone(), (x - fine(8) as i32, y), style);
        area.draw(&words)?;
    }
    Ok(())
}
