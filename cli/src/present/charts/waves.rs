//! Waves in the pipes of an engine: maps of place and crank angle, pressures at the port, histories at
//! stations, temperature along the pipe.

use freshcharge_sim::result::{PipeGas, PipeTrace, Point, Trace, TraceEvent};
use freshcharge_sim::spec::EngineSpec;
use freshcharge_sim::units::{self, DEG};
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::Chart;
use super::canvas::{
    self, Area, CASE, CYLINDER, Drawn, FOURTH, GREY, Look, Plot, SERIES, THIRD, TICK, axes, fine,
    line, range, text,
};
use super::map::{BANDS, Scale, draw_key};
use crate::present::{DrawError, over_angle};

/// Events drawn on the charts of the exhaust: name in the trace, short name.
const EXHAUST_EVENTS: [(TraceEvent, &str); 4] = [
    (TraceEvent::ExhaustOpens, "EO"),
    (TraceEvent::TransferOpens, "TO"),
    (TraceEvent::TransferCloses, "TC"),
    (TraceEvent::ExhaustCloses, "EC"),
];
/// The same of the inlet. Petals alone and windows that are never covered have no timing, so the dead
/// centres say where in the crankcase's breathing a wave arrives.
const INLET_EVENTS: [(TraceEvent, &str); 4] = [
    (TraceEvent::BottomDeadCentre, "BDC"),
    (TraceEvent::InletOpens, "IO"),
    (TraceEvent::TopDeadCentre, "TDC"),
    (TraceEvent::InletCloses, "IC"),
];
const ANGLE: &str = "crank angle after top dead centre [°]";
const BAR: f64 = 1e-5;
/// Largest share of burned gas from which there is something to draw.
const SEEN: f64 = 1e-3;

/// What a map shows.
struct Quantity {
    name: &'static str,
    words: &'static str,
    unit: &'static str,
    value: fn(&PipeGas) -> f64,
    /// Value in the middle of the scale; none for shares, whose scale goes from 0 to 1.
    middle: Option<f64>,
}

impl Quantity {
    fn scale(&self) -> Scale {
        if self.middle.is_some() { Scale::Around } else { Scale::Rising }
    }
}

/// A run's engine, point and trace.
struct Here<'a> {
    spec: &'a EngineSpec,
    point: &'a Point,
    trace: &'a Trace,
    pipe: &'a PipeTrace,
}

/// A curve of what stands on the engine's side of a port.
struct EngineSide {
    words: &'static str,
    look: Look,
    points: Vec<(f64, f64)>,
}

/// All charts of the pipes of one traced point; none without pipes.
pub(super) fn charts(
    spec: &EngineSpec,
    point: &Point,
    trace: &Trace,
) -> Result<Vec<Chart>, DrawError> {
    let mut charts = Vec::new();
    for pipe in &trace.pipes {
        let here = Here { spec, point, trace, pipe };
        let maps = [
            Quantity {
                name: "pressure",
                words: "pressure",
                unit: "[bar abs.]",
                value: |g| g.pressure * BAR,
                middle: Some(here.rest() * BAR),
            },
            Quantity {
                name: "burned",
                words: "burned gas",
                unit: "[–]",
                value: |g| g.burned,
                middle: None,
            },
        ];
        let burned = pipe.gas.iter().any(|g| g.burned >= SEEN);
        for quantity in maps.iter().take(if burned { 2 } else { 1 }) {
            let words = format!("{} over place and crank angle", quantity.words);
            let name = format!("map-{}", quantity.name);
            charts.push(here.made(&name, &words, |area, title| here.map(area, title, quantity))?);
        }
        charts.push(here.made("port-pressure", "waves next to the port", |a, t| here.port(a, t))?);
        charts.push(here.made("stations", "pressure along the way", |a, t| here.stations(a, t))?);
        charts.push(here.made("temperature", "gas temperature along the pipe", |a, t| {
            here.temperature(a, t)
        })?);
    }
    Ok(charts)
}

/// Ends of the scale for values from low to high.
fn limits(quantity: &Quantity, (low, high): (f64, f64)) -> (f64, f64) {
    match quantity.middle {
        // strong pulses saturate, so that suction is seen as well as pressure
        Some(middle) => {
            let reach = (middle - low).max(0.5 * (high - middle));
            (middle - reach, middle + reach)
        }
        None => (0.0, 1.0),
    }
}

/// Pixel of a point, from the upper left corner of the plot.
fn pixel(chart: &Plot, point: (f64, f64)) -> (i32, i32) {
    let ((x, y), corner) = (chart.backend_coord(&point), chart.plotting_area().get_pixel_range());
    (x - corner.0.start, y - corner.1.start)
}

/// Width of a name [px]; it is drawn an eighth wider than it is estimated.
fn wide(chart: &Plot, words: &str) -> Result<i32, Box<dyn std::error::Error>> {
    let (estimate, _) = chart.plotting_area().estimate_text_size(words, &text(TICK, &BLACK))?;
    Ok((estimate * 9 / 8) as i32)
}

/// Writes a name from a pixel to the right, at middle height, but inside the plot; a pale ground keeps it
/// readable on every colour. Gives where it begins.
fn label(chart: &Plot, words: &str, (x, y): (i32, i32)) -> Result<i32, Box<dyn std::error::Error>> {
    let area = chart.plotting_area().strip_coord_spec();
    let (room, width) = (fine(2) as i32, wide(chart, words)?);
    let x = x.min(area.dim_in_pixel().0 as i32 - width - room).max(room);
    let half = fine(TICK) as i32 / 2;
    let y = y.max(half);
    let ground = [(x - room, y - half), (x + width + room, y + half)];
    area.draw(&Rectangle::new(ground, WHITE.mix(0.65).filled()))?;
    let style = text(TICK, &BLACK).pos(Pos::new(HPos::Left, VPos::Center));
    area.draw(&Text::new(words.to_owned(), (x, y), style))?;
    Ok(x)
}

impl Here<'_> {
    fn made(
        &self,
        name: &str,
        words: &str,
        draw: impl Fn(&Area, &str) -> Drawn,
    ) -> Result<Chart, DrawError> {
        let rpm = self.point.rpm;
        let name = format!("{}-{name}-{rpm:.0}rpm", self.pipe.side);
        let title = format!("{}: {}, {words}, {rpm:.0}/min", self.spec.name, self.pipe.side);
        let svg = canvas::svg(&name, |area| draw(area, &title).map_err(|e| e.to_string()))?;
        Ok(Chart { name, svg })
    }

    /// Pressure outside, at the far end of the pipe [Pa].
    fn rest(&self) -> f64 {
        self.spec.rest_pressure(&self.pipe.side)
    }

    fn across(&self) -> std::ops::Range<f64> {
        let a = &self.pipe.angle;
        a[0] / DEG..a[a.len() - 1] / DEG
    }

    fn length(&self) -> f64 {
        self.pipe.ends.last().copied().unwrap_or(1.0)
    }

    /// Place across, crank angle along: a wave is a slanted band.
    fn map(&self, area: &Area, title: &str, quantity: &Quantity) -> Drawn {
        let plot = canvas::frame(area, title, &[])?;
        let (width, height) = plot.dim_in_pixel();
        let (picture, key) = plot.split_horizontally(width - fine(110));
        let seen = self.seen(quantity);
        let limits = limits(quantity, seen);
        let (x, top) = (self.across(), self.length() * 1e3);
        let words = (ANGLE, "place from the port [mm]");
        let mut chart = axes(&picture, (x.clone(), 0.0..top), words, (0, 0))?;
        let n = self.pipe.places.len();
        let mut begins = 0.0;
        for cell in 0..n {
            let ends = if cell + 1 < n {
                500.0 * (self.pipe.places[cell] + self.pipe.places[cell + 1])
            } else {
                top
            };
            // a little too high and wide, so that no seam shows: what comes next covers it
            let high = (ends + 0.3 * (ends - begins)).min(top);
            let runs = self.runs(cell, quantity, limits);
            chart.draw_series(runs.into_iter().map(|(from, to, share)| {
                let to = (to + 0.3).min(x.end);
                Rectangle::new([(from, begins), (to, high)], quantity.scale().color(share).filled())
            }))?;
            begins = ends;
        }
        self.marks(&mut chart)?;
        self.events(&mut chart, &(0.0..top), BLACK)?;
        draw_key(&key, height, (limits, seen), quantity.unit, quantity.scale())
    }

    /// Lowest and highest value.
    fn seen(&self, quantity: &Quantity) -> (f64, f64) {
        let values = self.pipe.gas.iter().map(quantity.value);
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)))
    }

    /// Stretches of one colour of a cell over the angle: from, to, share of the scale.
    fn runs(
        &self,
        cell: usize,
        quantity: &Quantity,
        (low, high): (f64, f64),
    ) -> Vec<(f64, f64, f64)> {
        let mut runs: Vec<(f64, f64, f64)> = Vec::new();
        let rows = self.pipe.angle.len();
        for row in 0..rows - 1 {
            let share = ((quantity.value)(&self.pipe.row(row)[cell]) - low) / (high - low);
            let band = (share.clamp(0.0, 1.0) * BANDS as f64).floor().min(BANDS as f64 - 1.0);
            let share = (band + 0.5) / BANDS as f64;
            let (from, to) = (self.pipe.angle[row] / DEG, self.pipe.angle[row + 1] / DEG);
            match runs.last_mut() {
                Some(last) if last.2 == share => last.1 = to,
                _ => runs.push((from, to, share)),
            }
        }
        runs
    }

    /// Where the pieces of the pipe begin, with their names. Names that would touch stand side by side, in
    /// the order of the pieces: a volume takes no length.
    fn marks(&self, chart: &mut Plot) -> Drawn {
        let x = self.across();
        let mut last = (0, i32::MAX);
        for (name, begins) in self.pipe.marks.iter().rev() {
            let y = begins * 1e3;
            if y > 0.0 {
                let style = line(GREY, 0.6);
                chart.draw_series([PathElement::new([(x.start, y), (x.end, y)], style)])?;
            }
            let (right, level) = pixel(chart, (x.end, y));
            let level = level - fine(8) as i32;
            let beside = (last.1.saturating_sub(level)).abs() < fine(TICK + 2) as i32;
            let right = if beside { last.0 - fine(9) as i32 } else { right - fine(4) as i32 };
            last = (label(chart, name, (right - wide(chart, name)?, level))?, level);
        }
        Ok(())
    }

    /// Port events as upright lines with their short names.
    fn events(&self, chart: &mut Plot, y: &std::ops::Range<f64>, color: RGBColor) -> Drawn {
        let exhaust = self.pipe.side == "exhaust";
        for (event, short) in if exhaust { EXHAUST_EVENTS } else { INLET_EVENTS } {
            let Some(angle) = over_angle::event(self.trace, event) else { continue };
            let height = y.end - y.start;
            let top = y.end - 0.05 * height;
            let style = line(color, 1.2);
            chart.draw_series([PathElement::new([(angle, y.start), (angle, top)], style)])?;
            let (middle, level) = pixel(chart, (angle, y.end - 0.025 * height));
            label(chart, short, (middle - wide(chart, short)? / 2, level))?;
        }
        Ok(())
    }

    fn curve(&self, values: impl Fn(usize) -> f64) -> Vec<(f64, f64)> {
        self.pipe.angle.iter().enumerate().map(|(row, a)| (a / DEG, values(row))).collect()
    }

    /// Pressure in the cell next to the port, the waves it is made up of, and what stands on the engine's side of it:
    /// the cylinder while the exhaust is open, the crankcase.
    fn port(&self, area: &Area, title: &str) -> Drawn {
        let rest = self.rest();
        let next = |row: usize| self.pipe.row(row)[0];
        let own = self.curve(|row| next(row).pressure * BAR);
        let out = self.curve(|row| next(row).waves(rest).out * BAR);
        let back = self.curve(|row| next(row).waves(rest).back * BAR);
        let y = range(own.iter().chain(&out).chain(&back).map(|p| p.1), false);
        let engine = self.engine_side();
        // below the names of the events
        let seen = y.start..y.end - 0.05 * (y.end - y.start);
        let exhaust = Look { color: BLACK, dash: None, marker: None };
        let outward = Look { color: THIRD, dash: Some((14, 5)), marker: None };
        let inward = Look { color: FOURTH, dash: Some((3, 3)), marker: None };
        let nearest = format!("{:.1} mm from the port", self.pipe.places[0] * 1e3);
        let names = [
            (nearest.as_str(), exhaust),
            ("wave running out", outward),
            ("wave coming back", inward),
            (engine.words, engine.look),
        ];
        let plot = canvas::frame(area, title, &names)?;
        let words = (ANGLE, "pressure, absolute [bar]");
        let mut chart = axes(&plot, (self.across(), y.clone()), words, (0, 2))?;
        let level = [(self.across().start, rest * BAR), (self.across().end, rest * BAR)];
        chart.draw_series([PathElement::new(level, line(GREY, 0.8))])?;
        for (points, look) in [(own, exhaust), (out, outward), (back, inward)] {
            canvas::curve(&mut chart, points, &look)?;
        }
        let stretches = engine.points.chunk_by(|a, b| seen.contains(&a.1) && seen.contains(&b.1));
        for stretch in stretches.filter(|s| s.len() > 1) {
            canvas::curve(&mut chart, stretch.iter().copied(), &engine.look)?;
        }
        self.events(&mut chart, &y, GREY)
    }

    /// Pressure on the engine's side of the port: cylinder until the exhaust closes, or crankcase.
    fn engine_side(&self) -> EngineSide {
        let (words, gas, look, closes) = if self.pipe.side == "exhaust" {
            let closes = over_angle::event(self.trace, TraceEvent::ExhaustCloses);
            ("cylinder", &self.trace.cylinder, CYLINDER, closes.unwrap_or(f64::INFINITY))
        } else {
            ("crankcase", &self.trace.crankcase, CASE, f64::INFINITY)
        };
        let points = over_angle::curve(self.trace, &gas.pressure, units::BAR).into_iter();
        EngineSide { words, look, points: points.take_while(|p| p.0 <= closes).collect() }
    }

    /// Places at which pieces begin, with their names: one for what begins at the same place.
    fn begins(&self) -> Vec<(String, f64)> {
        let marks = self.pipe.marks.chunk_by(|a, b| a.1 == b.1);
        let named = |pieces: &[(String, f64)]| {
            let names = pieces.iter().rev().map(|(name, _)| name.as_str()).collect::<Vec<_>>();
            let at = pieces[0].1;
            (format!("{} ({:.0} mm)", names.join(" after "), at * 1e3), at)
        };
        marks.map(named).collect()
    }

    /// Pressures at the beginnings of up to five pieces, in the first cell of each.
    fn stations(&self, area: &Area, title: &str) -> Drawn {
        let begins = self.begins();
        let step = begins.len().div_ceil(SERIES.len()).max(1);
        let chosen: Vec<_> = begins.iter().step_by(step).zip(SERIES).collect();
        let names: Vec<(&str, Look)> =
            chosen.iter().map(|((words, _), look)| (words.as_str(), look.plain())).collect();
        let places = &self.pipe.places;
        let curves: Vec<_> = chosen
            .iter()
            .map(|((_, x), look)| {
                let cell = places.partition_point(|place| place < x).min(places.len() - 1);
                (self.curve(|row| self.pipe.row(row)[cell].pressure * BAR), look.plain())
            })
            .collect();
        let y = range(curves.iter().flat_map(|(c, _)| c.iter().map(|p| p.1)), false);
        let plot = canvas::frame(area, title, &names)?;
        let words = (ANGLE, "pressure, absolute [bar]");
        let mut chart = axes(&plot, (self.across(), y.clone()), words, (0, 2))?;
        for (points, look) in curves {
            canvas::curve(&mut chart, points, &look)?;
        }
        self.events(&mut chart, &y, GREY)
    }

    /// Lowest, mean and highest temperature over the cycle along the pipe.
    fn temperature(&self, area: &Area, title: &str) -> Drawn {
        let n = self.pipe.places.len();
        let over = |fold: &dyn Fn(&mut dyn Iterator<Item = f64>) -> f64| -> Vec<(f64, f64)> {
            let cell = |c: usize| {
                let mut all = self.pipe.gas.iter().skip(c).step_by(n).map(|g| g.temperature);
                fold(&mut all)
            };
            (0..n).map(|c| (self.pipe.places[c] * 1e3, cell(c))).collect()
        };
        let rows = self.pipe.angle.len() as f64;
        let curves = [
            ("highest", over(&|all| all.fold(0.0, f64::max))),
            ("mean", over(&|all| all.sum::<f64>() / rows)),
            ("lowest", over(&|all| all.fold(f64::INFINITY, f64::min))),
        ];
        let names: Vec<(&str, Look)> =
            curves.iter().zip(SERIES).map(|((w, _), look)| (*w, look.plain())).collect();
        let y = range(curves.iter().flat_map(|(_, c)| c.iter().map(|p| p.1)), false);
        let plot = canvas::frame(area, title, &names)?;
        let words = ("place from the port [mm]", "gas temperature over a cycle [K]");
        let mut chart = axes(&plot, (0.0..self.length() * 1e3, y), words, (0, 0))?;
        for ((_, points), look) in curves.iter().zip(SERIES) {
            canvas::curve(&mut chart, points.iter().copied(), &look.plain())?;
        }
        Ok(())
    }
}
