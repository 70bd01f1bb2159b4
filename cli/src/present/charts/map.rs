//! Maps of place and time.

use plotters::prelude::*;

use super::Chart;
use super::canvas::{self, AXIS, Area, Drawn, TICK, axes, fine, line, text};
use super::rig::{QUANTITIES, Quantity, decimals, file_name};
use crate::present::DrawError;
use freshcharge_sim::forms::rig::RigSpec;
use freshcharge_sim::studies::rig::{Profile, Record};

/// Bands of colour.
pub(super) const BANDS: usize = 40;
/// Most rows and columns drawn.
const FINEST: usize = 160;

/// Colours from the lowest to the highest value.
#[derive(Debug, Clone, Copy)]
pub(super) enum Scale {
    /// Pale in the middle: less and more than something.
    Around,
    /// Pale to dark, so that it reads in grey, too.
    Rising,
}

impl Scale {
    const AROUND: [(f64, f64, f64); 5] = [
        (8.0, 48.0, 107.0),
        (66.0, 146.0, 198.0),
        (247.0, 247.0, 240.0),
        (240.0, 140.0, 60.0),
        (140.0, 30.0, 4.0),
    ];
    const RISING: [(f64, f64, f64); 3] =
        [(250.0, 247.0, 232.0), (226.0, 138.0, 66.0), (76.0, 24.0, 12.0)];

    /// Colour at a share of the scale.
    pub(super) fn color(self, share: f64) -> RGBColor {
        let colors = match self {
            Self::Around => &Self::AROUND[..],
            Self::Rising => &Self::RISING[..],
        };
        let at = share.clamp(0.0, 1.0) * (colors.len() - 1) as f64;
        let low = (at as usize).min(colors.len() - 2);
        let (a, b, t) = (colors[low], colors[low + 1], at - low as f64);
        let mix = |p: f64, q: f64| (p + (q - p) * t).round() as u8;
        RGBColor(mix(a.0, b.0), mix(a.1, b.1), mix(a.2, b.2))
    }
}

/// One map of pressure, one of velocity and one of burned gas for each pipe, where they differ.
pub(super) fn charts(spec: &RigSpec, record: &Record) -> Result<Vec<Chart>, DrawError> {
    let mut charts = Vec::new();
    for (index, pipe) in spec.pipes.iter().enumerate() {
        let rows: Vec<&Profile> = record.maps.iter().filter(|p| p.pipe == index).collect();
        let length: f64 = pipe.sections.iter().map(|s| s.length).sum();
        for quantity in &QUANTITIES {
            let map = Map { rows: &rows, places: &record.places[index], length, quantity };
            let Some(limits) = map.limits() else { continue };
            let name = format!("map-{}-{}", file_name(&pipe.name), quantity.name);
            let title = format!("{}: {} in {}", spec.name, quantity.words, pipe.name);
            let svg =
                canvas::svg(&name, |a| map.draw(a, &title, limits).map_err(|e| e.to_string()))?;
            charts.push(Chart { name, svg });
        }
    }
    Ok(charts)
}

struct Map<'a> {
    rows: &'a [&'a Profile],
    places: &'a [f64],
    /// [m].
    length: f64,
    quantity: &'a Quantity,
}

impl Map<'_> {
    fn scale(&self) -> Scale {
        if self.quantity.name == "velocity" { Scale::Around } else { Scale::Rising }
    }

    /// Lowest and highest value, for velocity with zero in the middle; none where they are the same.
    fn limits(&self) -> Option<(f64, f64)> {
        let values = self.rows.iter().flat_map(|r| r.states.iter().map(self.quantity.value));
        let limits =
            values.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)));
        let differ = limits.1 - limits.0 > 1e-9 * limits.1.abs();
        let both = limits.1.abs().max(limits.0.abs());
        let limits = if self.quantity.name == "velocity" { (-both, both) } else { limits };
        differ.then_some(limits)
    }

    fn draw(&self, area: &Area, title: &str, limits: (f64, f64)) -> Drawn {
        let plot = canvas::frame(area, title, &[])?;
        let (width, height) = plot.dim_in_pixel();
        let (picture, key) = plot.split_horizontally(width - fine(110));
        let end = self.rows.last().map_or(1.0, |r| r.time) * 1e3;
        let words = ("place along the pipe [mm]", "time [ms]");
        let across = self.length * 1e3;
        let mut chart =
            axes(&picture, (0.0..across, 0.0..end), words, (decimals(across), decimals(end)))?;
        let count = self.rows.len().min(FINEST);
        let columns = self.places.len().min(FINEST);
        for row in 0..count {
            let profile = self.rows[row * self.rows.len() / count];
            let (low, high) =
                (end * row as f64 / count as f64, end * (row + 1) as f64 / count as f64);
            chart.draw_series(self.runs(profile, columns, limits).map(|(from, to, band)| {
                // a little too large, so that no seam shows: what comes next covers it
                let top = (high + 0.5 * end / count as f64).min(end);
                let place = |k: f64| (across * k / columns as f64).min(across);
                let corners = [(place(from as f64), low), (place(to as f64 + 0.5), top)];
                Rectangle::new(corners, self.scale().color(band).filled())
            }))?;
        }
        let unit = self.quantity.axis.rsplit(' ').next().unwrap_or_default();
        draw_key(&key, height, (limits, limits), unit, self.scale())
    }

    /// Stretches of one colour: from column, to column, share of the scale.
    fn runs(
        &self,
        profile: &Profile,
        columns: usize,
        (low, high): (f64, f64),
    ) -> impl Iterator<Item = (usize, usize, f64)> {
        let band = |column: usize| {
            let cell = (2 * column + 1) * self.places.len() / (2 * columns);
            let share = ((self.quantity.value)(&profile.states[cell]) - low) / (high - low);
            (share * BANDS as f64).floor().min(BANDS as f64 - 1.0)
        };
        let mut runs: Vec<(usize, usize, f64)> = Vec::new();
        for column in 0..columns {
            let here = band(column);
            match runs.last_mut() {
                Some(last) if last.2 == here => last.1 = column + 1,
                _ => runs.push((column, column + 1, here)),
            }
        }
        runs.into_iter().map(|(from, to, band)| (from, to, (band + 0.5) / BANDS as f64))
    }
}

/// The colours with their values, from the limits of the scale to those of what is seen: where the scale
/// ends before the values do, its last number says so.
pub(super) fn draw_key(
    area: &Area,
    height: u32,
    ((low, high), seen): ((f64, f64), (f64, f64)),
    unit: &str,
    scale: Scale,
) -> Drawn {
    let (left, right) = (fine(14) as i32, fine(30) as i32);
    let (top, bottom) = (fine(34) as i32, height as i32 - fine(62) as i32);
    let y = |share: f64| bottom - (f64::from(bottom - top) * share) as i32;
    for band in 0..BANDS {
        let share = |k: usize| k as f64 / BANDS as f64;
        let corners = [(left, y(share(band))), (right, y((share(band + 1) + 0.01).min(1.0)))];
        let style = scale.color(share(band) + 0.5 / BANDS as f64).filled();
        area.draw(&Rectangle::new(corners, style))?;
    }
    let digits = decimals(high - low) + 1;
    // half of the last digit
    let shown = 0.5 * 0.1_f64.powi(digits as i32);
    for k in 0..=4 {
        let share = f64::from(k) / 4.0;
        let value = low + (high - low) * share;
        let words = format!("{value:.digits$}");
        let beyond = (k == 0 && seen.0 < low - shown) || (k == 4 && seen.1 > high + shown);
        let sign = if beyond { fine(13) as i32 } else { 0 };
        let place = (right + fine(6) as i32 + sign, y(share) - fine(TICK) as i32 / 2);
        area.draw(&Text::new(words, place, text(TICK, &BLACK)))?;
        if beyond {
            or_beyond(area, (right + fine(6) as i32, y(share) - fine(3) as i32), k == 4)?;
        }
    }
    let place = (left, top - fine(AXIS + 10) as i32);
    area.draw(&Text::new(unit.to_owned(), place, text(AXIS, &BLACK)))?;
    Ok(())
}

/// The sign ≥ or ≤, which the embedded font lacks, with the middle of its left side at a place.
fn or_beyond(area: &Area, (x, y): (i32, i32), above: bool) -> Drawn {
    let [unit, width] = [fine(1) as i32, fine(8) as i32];
    let (blunt, tip) = if above { (x, x + width) } else { (x + width, x) };
    let style = line(BLACK, 1.1);
    let angle = [(blunt, y - 5 * unit), (tip, y - unit), (blunt, y + 3 * unit)];
    area.draw(&PathElement::new(angle, style))?;
    area.draw(&PathElement::new([(x, y + 5 * unit), (x + width, y + 5 * unit)], style))?;
    Ok(())
}
