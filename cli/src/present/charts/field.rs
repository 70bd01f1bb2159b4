//! Maps: a quantity over two axes as shaded cells with contour lines.

use ndarray::Array2;
use plotters::prelude::*;

use super::Chart;
use super::canvas::{self, Area, Drawn, HOT_GAS, TICK, axes, bold, decimals, line, text};
use crate::present::DrawError;

/// A quantity over a regular grid.
pub(crate) struct Field {
    /// File name without ending.
    pub(crate) name: String,
    /// What stands above it.
    pub(crate) title: String,
    /// Words along the axes and of the quantity, with units.
    pub(crate) words: [String; 3],
    /// Places along the axes, rising and evenly spaced.
    pub(crate) x: Vec<f64>,
    /// The same upright.
    pub(crate) y: Vec<f64>,
    /// Values, a row for each of `y`, a column for each of `x`; not a number where there is none.
    pub(crate) values: Array2<f64>,
    /// A contour drawn strong, with its words.
    pub(crate) strong: Option<(f64, String)>,
    /// A line across the map: where the engine as it is stands.
    pub(crate) own: Option<(f64, String)>,
}

/// Pale to dark: one hue, so that it reads in grey and with any colour vision.
fn shade(share: f64) -> RGBColor {
    let share = share.clamp(0.0, 1.0);
    let mix = |light: f64, dark: f64| (light + (dark - light) * share) as u8;
    RGBColor(mix(250.0, 60.0), mix(250.0, 105.0), mix(245.0, 150.0))
}

impl Field {
    /// Draws it.
    pub(crate) fn draw(&self) -> Result<Chart, DrawError> {
        let svg = canvas::svg(&self.name, |area| self.on(area).map_err(|e| e.to_string()))?;
        Ok(Chart { name: self.name.clone(), svg })
    }

    fn at(&self, i: usize, j: usize) -> f64 {
        self.values[[j, i]]
    }

    fn on(&self, area: &Area) -> Drawn {
        let finite = || self.values.iter().copied().filter(|v| v.is_finite());
        let low = finite().fold(f64::INFINITY, f64::min);
        let high = finite().fold(f64::NEG_INFINITY, f64::max);
        let levels = levels(low, high);
        let plot = canvas::frame(area, &self.title, &[])?;
        let edge = |v: &[f64]| v[0]..v[v.len() - 1];
        let (x, y) = (edge(&self.x), edge(&self.y));
        let words = (self.words[0].as_str(), self.words[1].as_str());
        let upright = decimals(&y).min(2);
        let mut chart = axes(&plot, (x.clone(), y.clone()), words, (0, upright))?;
        self.cells(&mut chart, low, high)?;
        let digits = decimals(&(low..high));
        for level in &levels {
            let mut label = Some(format!("{level:.digits$}"));
            for path in self.contour(*level) {
                chart.draw_series([PathElement::new(
                    path.clone(),
                    line(RGBColor(40, 40, 40), 1.0),
                )])?;
                if path.len() > 2
                    && let Some(words) = label.take()
                {
                    let at = path[path.len() / 2];
                    chart.draw_series([Text::new(words, at, text(TICK, &BLACK))])?;
                }
            }
        }
        if let Some((level, words)) = &self.strong {
            let mut first = true;
            for path in self.contour(*level) {
                let at = path[path.len() * 2 / 3];
                chart.draw_series([PathElement::new(path, line(HOT_GAS, 3.0))])?;
                if std::mem::take(&mut first) {
                    chart.draw_series([Text::new(words.clone(), at, bold(TICK))])?;
                }
            }
        }
        if let Some((value, words)) = &self.own {
            let ends = [(x.start, *value), (x.end, *value)];
            let own = canvas::Look { color: BLACK, dash: Some((10, 5)), marker: None };
            canvas::curve(&mut chart, ends, &own)?;
            let at = (x.start + 0.02 * (x.end - x.start), value + 0.035 * (y.end - y.start));
            chart.draw_series([Text::new(words.clone(), at, bold(TICK))])?;
        }
        Ok(())
    }

    /// Fine cells with bilinear values between the points of the grid.
    fn cells(&self, chart: &mut canvas::Plot<'_, '_>, low: f64, high: f64) -> Drawn {
        const FINE: usize = 6;
        let span = (high - low).max(1e-300);
        for j in 0..self.y.len() - 1 {
            for i in 0..self.x.len() - 1 {
                let corners =
                    [self.at(i, j), self.at(i + 1, j), self.at(i, j + 1), self.at(i + 1, j + 1)];
                if corners.iter().any(|v| !v.is_finite()) {
                    continue;
                }
                for b in 0..FINE {
                    for a in 0..FINE {
                        let u = (a as f64 + 0.5) / FINE as f64;
                        let v = (b as f64 + 0.5) / FINE as f64;
                        let value = (1.0 - v) * ((1.0 - u) * corners[0] + u * corners[1])
                            + v * ((1.0 - u) * corners[2] + u * corners[3]);
                        let place = |w: &[f64], k: usize, part: usize| {
                            w[k] + (w[k + 1] - w[k]) * part as f64 / FINE as f64
                        };
                        let from = (place(&self.x, i, a), place(&self.y, j, b));
                        let to = (place(&self.x, i, a + 1), place(&self.y, j, b + 1));
                        let fill = shade((value - low) / span).filled();
                        chart.draw_series([Rectangle::new([from, to], fill)])?;
                    }
                }
            }
        }
        Ok(())
    }

    /// Lines of one value, by marching squares.
    fn contour(&self, level: f64) -> Vec<Vec<(f64, f64)>> {
        let (nx, ny) = (self.x.len(), self.y.len());
        // a point without value lies far above every level
        let values: Vec<f64> =
            self.values.iter().map(|v| if v.is_finite() { *v } else { f64::MAX / 4.0 }).collect();
        let Ok(lines) = contour::ContourBuilder::new(nx, ny, true).lines(&values, &[level]) else {
            return Vec::new();
        };
        let place = |w: &[f64], at: f64| {
            // the builder counts from the middle of the first cell
            let at = (at - 0.5).clamp(0.0, (w.len() - 1) as f64);
            let k = (at as usize).min(w.len() - 2);
            w[k] + (w[k + 1] - w[k]) * (at - k as f64)
        };
        let edge = |p: &(f64, f64)| {
            let on = |v: f64, w: &[f64]| v <= w[0] || v >= w[w.len() - 1];
            on(p.0, &self.x) || on(p.1, &self.y)
        };
        let mut paths = Vec::new();
        for line in lines {
            for ring in &line.geometry().0 {
                let mut path: Vec<(f64, f64)> = Vec::new();
                for c in &ring.0 {
                    let p = (place(&self.x, c.x), place(&self.y, c.y));
                    // along the border the builder closes its rings: that is no contour
                    if path.last().is_some_and(|q| edge(q) && edge(&p)) {
                        if path.len() > 1 {
                            paths.push(std::mem::take(&mut path));
                        }
                        path.clear();
                    }
                    path.push(p);
                }
                if path.len() > 1 {
                    paths.push(path);
                }
            }
        }
        paths
    }
}

/// Round values between two, about eight of them.
fn levels(low: f64, high: f64) -> Vec<f64> {
    let raw = (high - low) / 8.0;
    if !(raw.is_finite() && raw > 0.0) {
        return Vec::new();
    }
    let power = 10.0_f64.powf(raw.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].iter().map(|m| m * power).find(|s| *s >= raw).unwrap_or(raw);
    let first = (low / step).ceil() as i64;
    (first..).map(|k| k as f64 * step).take_while(|v| *v < high).filter(|v| *v > low).collect()
}
