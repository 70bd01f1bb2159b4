//! The common chart of curves over one axis: over speed, over a lever, one engine beside another.
//!
//! Curves differ in colour, in dash and in the shape of their points, so that a print in grey keeps
//! them apart.

use plotters::prelude::*;

use super::Chart;
use super::canvas::{self, Area, Drawn, GREY, Look, SERIES, TICK, axes, line, marker, range, text};
use crate::present::DrawError;

/// One curve.
pub(crate) struct Curve {
    /// Its name under the title.
    pub(crate) words: String,
    /// Points in order of the axis.
    pub(crate) points: Vec<(f64, f64)>,
    /// How it is drawn; see [`Look`].
    pub(crate) look: Look,
}

impl Curve {
    /// The `index`-th curve of a chart, in the series' own colour, dash and points.
    pub(crate) fn new(index: usize, words: impl Into<String>, points: Vec<(f64, f64)>) -> Self {
        Self { words: words.into(), points, look: SERIES[index % SERIES.len()] }
    }
}

/// A chart of curves.
pub(crate) struct Lines {
    /// File name without ending.
    pub(crate) name: String,
    /// What stands above it.
    pub(crate) title: String,
    /// Words along the axes, with units.
    pub(crate) axes: (String, String),
    /// Decimals of the tick labels.
    pub(crate) decimals: (usize, usize),
    /// Whether the upright axis starts at zero.
    pub(crate) from_zero: bool,
    /// The curves.
    pub(crate) curves: Vec<Curve>,
    /// Places along the axis worth a line, with a word.
    pub(crate) marks: Vec<(f64, String)>,
}

impl Lines {
    /// A chart over speed.
    pub(crate) fn over_speed(name: &str, title: String, upright: &str, curves: Vec<Curve>) -> Self {
        Self {
            name: name.to_owned(),
            title,
            axes: ("speed [1/min]".to_owned(), upright.to_owned()),
            decimals: (0, 0),
            from_zero: false,
            curves,
            marks: Vec::new(),
        }
    }

    /// Draws it.
    pub(crate) fn draw(&self) -> Result<Chart, DrawError> {
        let svg = canvas::svg(&self.name, |area| self.on(area).map_err(|e| e.to_string()))?;
        Ok(Chart { name: self.name.clone(), svg })
    }

    fn on(&self, area: &Area) -> Drawn {
        let all = || self.curves.iter().flat_map(|c| c.points.iter().copied());
        let y = range(all().map(|p| p.1), self.from_zero);
        let x = range(all().map(|p| p.0).chain(self.marks.iter().map(|m| m.0)), false);
        let names: Vec<_> = self.curves.iter().map(|c| (c.words.as_str(), c.look)).collect();
        let plot = canvas::frame(area, &self.title, &names)?;
        let words = (self.axes.0.as_str(), self.axes.1.as_str());
        let decimals = (self.decimals.0, self.decimals.1.max(canvas::decimals(&y)));
        let mut chart = axes(&plot, (x, y.clone()), words, decimals)?;
        for (place, word) in &self.marks {
            let ends = [(*place, y.start), (*place, y.end)];
            chart.draw_series([PathElement::new(ends, line(GREY, 1.5))])?;
            let at = (*place, y.end - 0.01 * (y.end - y.start));
            chart.draw_series([Text::new(format!(" {word}"), at, text(TICK, &BLACK))])?;
        }
        for curve in &self.curves {
            canvas::curve(&mut chart, curve.points.iter().copied(), &curve.look)?;
            if curve.look.marker.is_some() {
                let area = chart.plotting_area();
                for point in &curve.points {
                    marker(area, *point, &curve.look)?;
                }
            }
        }
        Ok(())
    }
}
