//! How charts are drawn in the common style.
//!
//! Pictures are drawn at four times their size as SVG, so that coordinates are fine enough, and then
//! shown at their size through the view box; PNG is made from that SVG with the embedded font only, so
//! that every machine draws the same.

use std::sync::Once;

use plotters::coord::CoordTranslate;
use plotters::prelude::*;
use plotters::style::register_font;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::Chart;
use crate::present::DrawError;
use crate::present::drawing::{self, FONT, font};
use crate::present::style::{self, Colour};

/// Picture size [px].
pub(crate) const SIZE: (u32, u32) = (800, 500);
/// How much finer than that it is drawn.
pub(crate) const FINE: u32 = 4;

const fn rgb(colour: Colour) -> RGBColor {
    RGBColor(colour.0, colour.1, colour.2)
}

/// The first curve.
pub(crate) const FIRST: RGBColor = rgb(style::SERIES[0].0);
/// The second curve.
pub(crate) const SECOND: RGBColor = rgb(style::SERIES[1].0);
/// The third curve.
pub(crate) const THIRD: RGBColor = rgb(style::SERIES[2].0);
/// The fourth curve.
pub(crate) const FOURTH: RGBColor = rgb(style::SERIES[3].0);
/// Hot gas, and where it flows the wrong way.
pub(crate) const HOT_GAS: RGBColor = rgb(style::HOT_GAS);
/// Events.
pub(crate) const GREY: RGBColor = rgb(style::RULE);
/// Grid.
pub(crate) const PALE: RGBColor = rgb(style::GRID);

/// Shape of the points of a curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Marker {
    /// A disc.
    Disc,
    /// A square.
    Square,
    /// A triangle.
    Triangle,
    /// A cross.
    Cross,
}

/// How a curve is drawn.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Look {
    /// Colour.
    pub(crate) color: RGBColor,
    /// Lengths of dash and gap [px]; none for a whole line.
    pub(crate) dash: Option<(u32, u32)>,
    /// Shape of its points; none for a line alone.
    pub(crate) marker: Option<Marker>,
}

/// Names of curves that are drawn as whole lines without points.
pub(crate) fn whole<'a>(names: &[(&'a str, RGBColor)]) -> Vec<(&'a str, Look)> {
    names
        .iter()
        .map(|(words, color)| (*words, Look { color: *color, dash: None, marker: None }))
        .collect()
}

impl Look {
    /// The line alone.
    pub(crate) const fn plain(self) -> Self {
        Self { marker: None, ..self }
    }
}

const fn series(n: usize, marker: Marker) -> Look {
    let (color, dash) = style::SERIES[n];
    Look { color: rgb(color), dash, marker: Some(marker) }
}

/// Looks of the curves of a chart in their order.
pub(crate) const SERIES: [Look; 5] = [
    series(0, Marker::Disc),
    series(1, Marker::Square),
    series(2, Marker::Triangle),
    series(3, Marker::Cross),
    series(4, Marker::Disc),
];

const fn part(color: Colour, dash: Option<(u32, u32)>) -> Look {
    Look { color: rgb(color), dash, marker: None }
}

/// The cylinder.
pub(crate) const CYLINDER: Look = part(style::CYLINDER, None);
/// The crankcase.
pub(crate) const CASE: Look = part(style::CRANKCASE, Some((9, 4)));
/// The exhaust.
pub(crate) const EXHAUST: Look = part(style::EXHAUST, Some((3, 3)));
/// Fresh gas, and the transfers that bring it.
pub(crate) const FRESH_GAS: Look = part(style::FRESH_GAS, Some((14, 5)));

pub(crate) use style::screen::{AXIS, TICK, TITLE};

/// Pixels of the fine drawing.
pub(crate) const fn fine(px: u32) -> u32 {
    px * FINE
}

/// Type of a size in a colour.
pub(crate) fn text(size: u32, color: &RGBColor) -> TextStyle<'static> {
    (FONT, fine(size)).into_font().color(color)
}

/// Bold type.
pub(crate) fn bold(size: u32) -> TextStyle<'static> {
    FontDesc::new(FontFamily::Name(FONT), f64::from(fine(size)), FontStyle::Bold).color(&BLACK)
}

/// A line of a width [px].
pub(crate) fn line(color: RGBColor, width: f64) -> ShapeStyle {
    color.stroke_width((width * f64::from(FINE)).round() as u32)
}

/// Draws with `draw` and gives the SVG.
pub(crate) fn svg(
    what: &str,
    draw: impl FnOnce(&DrawingArea<SVGBackend, plotters::coord::Shift>) -> Result<(), String>,
) -> Result<String, DrawError> {
    static FONTS: Once = Once::new();
    FONTS.call_once(|| {
        // the two embedded files are valid fonts; a failure would show in every chart test
        let _ = register_font(FONT, FontStyle::Normal, font(false));
        let _ = register_font(FONT, FontStyle::Bold, font(true));
    });
    let mut text = String::new();
    {
        let size = (fine(SIZE.0), fine(SIZE.1));
        let area = SVGBackend::with_string(&mut text, size).into_drawing_area();
        let fail = |why: String| DrawError::Picture { what: what.to_owned(), why };
        area.fill(&WHITE).map_err(|e| fail(e.to_string()))?;
        draw(&area).map_err(fail)?;
        area.present().map_err(|e| fail(e.to_string()))?;
    }
    let big = format!("width=\"{}\" height=\"{}\"", fine(SIZE.0), fine(SIZE.1));
    let small = format!("width=\"{}\" height=\"{}\"", SIZE.0, SIZE.1);
    Ok(text.replacen(&big, &small, 1))
}

/// PNG of a chart at a width [px].
pub(crate) fn png(chart: &Chart, width: u32) -> Result<Vec<u8>, DrawError> {
    drawing::png(&chart.name, &chart.svg, width)
}

/// Where a chart is drawn.
pub(crate) type Area<'a> = DrawingArea<SVGBackend<'a>, plotters::coord::Shift>;

/// Writes the title and a row of curve names under it; gives the area left for the plot. Names stand
/// outside the plot so that they never cover a curve.
pub(crate) fn frame<'a>(
    area: &Area<'a>,
    title: &str,
    names: &[(&str, Look)],
) -> Result<Area<'a>, Box<dyn std::error::Error>> {
    let middle = Pos::new(HPos::Center, VPos::Center);
    let centre = fine(SIZE.0) as i32 / 2;
    area.draw(&Text::new(title.to_owned(), (centre, fine(20) as i32), bold(TITLE).pos(middle)))?;
    let (stroke, gap) = (fine(34) as i32, fine(8) as i32);
    // about the width of a letter of this size
    let letters = |words: &str| (fine(AXIS) as f64 * 0.55 * words.chars().count() as f64) as i32;
    let width = |words: &str| stroke + letters(words) + 4 * gap;
    let mut rows: Vec<(i32, Vec<&(&str, Look)>)> = Vec::new();
    for name in names {
        let wide = width(name.0);
        match rows.last_mut().filter(|row| row.0 + wide <= fine(SIZE.0) as i32) {
            Some(row) => {
                row.0 += wide;
                row.1.push(name);
            }
            None => rows.push((wide, vec![name])),
        }
    }
    let mut y = fine(44) as i32;
    for (total, row) in &rows {
        let mut x = centre - total / 2 + gap;
        for (words, look) in row {
            legend(area, (x, y), stroke, look)?;
            let style = text(AXIS, &BLACK).pos(Pos::new(HPos::Left, VPos::Center));
            area.draw(&Text::new((*words).to_owned(), (x + stroke + gap, y), style))?;
            x += width(words);
        }
        y += fine(20) as i32;
    }
    Ok(area.split_vertically(fine(56 + 20 * (rows.len().max(1) as u32 - 1))).1)
}

/// A stretch of a curve as it is drawn, with its point.
fn legend(area: &Area, (x, y): (i32, i32), stroke: i32, look: &Look) -> Drawn {
    let style = line(look.color, style::screen::LEGEND);
    match look.dash {
        None => area.draw(&PathElement::new([(x, y), (x + stroke, y)], style))?,
        Some((on, off)) => {
            let (on, off) = (fine(on) as i32, fine(off) as i32);
            let mut at = x;
            while at < x + stroke {
                let end = (at + on).min(x + stroke);
                area.draw(&PathElement::new([(at, y), (end, y)], style))?;
                at = end + off;
            }
        }
    }
    marker(area, (x + stroke / 2, y), look)
}

/// Decimals that tell the tick labels of a range apart.
pub(crate) fn decimals(range: &std::ops::Range<f64>) -> usize {
    let step = (range.end - range.start) / 8.0;
    if step.is_finite() && step > 0.0 { (-step.log10()).ceil().clamp(0.0, 6.0) as usize } else { 0 }
}

/// Draws a curve: its line, whole or dashed, without its points.
pub(crate) fn curve(
    chart: &mut Plot<'_, '_>,
    points: impl IntoIterator<Item = (f64, f64)>,
    look: &Look,
) -> Drawn {
    let style = line(look.color, style::screen::CURVE);
    let points: Vec<(f64, f64)> = points.into_iter().collect();
    let points = points.into_iter();
    match look.dash {
        None => chart.draw_series(LineSeries::new(points, style))?,
        Some((on, off)) => {
            chart.draw_series(DashedLineSeries::new(points, fine(on), fine(off), style))?
        }
    };
    Ok(())
}

/// Draws the point of a curve.
pub(crate) fn marker<'a, C>(
    area: &DrawingArea<SVGBackend<'a>, C>,
    at: C::From,
    look: &Look,
) -> Drawn
where
    C: CoordTranslate,
    C::From: Clone,
{
    let Some(shape) = look.marker else { return Ok(()) };
    let (x, y) = area.map_coordinate(&at);
    let r = fine(3) as i32;
    let plain = area.strip_coord_spec();
    let (ox, oy) = area.get_pixel_range();
    let (x, y) = (x - ox.start, y - oy.start);
    let fill = look.color.filled();
    match shape {
        Marker::Disc => plain.draw(&Circle::new((x, y), r, fill))?,
        Marker::Square => plain.draw(&Rectangle::new([(x - r, y - r), (x + r, y + r)], fill))?,
        Marker::Triangle => {
            let points = vec![(x, y - r - 2), (x + r + 2, y + r), (x - r - 2, y + r)];
            plain.draw(&Polygon::new(points, fill))?;
        }
        Marker::Cross => {
            let style = line(look.color, 2.0);
            plain.draw(&PathElement::new([(x - r, y - r), (x + r, y + r)], style))?;
            plain.draw(&PathElement::new([(x - r, y + r), (x + r, y - r)], style))?;
        }
    }
    Ok(())
}

/// What drawing gives.
pub(crate) type Drawn = Result<(), Box<dyn std::error::Error>>;

/// A plot with two plain axes.
pub(crate) type Plot<'a, 'b> = ChartContext<
    'a,
    SVGBackend<'b>,
    Cartesian2d<plotters::coord::types::RangedCoordf64, plotters::coord::types::RangedCoordf64>,
>;

/// Axes in the common style; `decimals` of the tick labels along and upright.
pub(crate) fn axes<'a, 'b>(
    plot: &'a Area<'b>,
    (x, y): (std::ops::Range<f64>, std::ops::Range<f64>),
    (x_words, y_words): (&str, &str),
    decimals: (usize, usize),
) -> Result<Plot<'a, 'b>, Box<dyn std::error::Error>> {
    let mut chart = ChartBuilder::on(plot)
        .margin(fine(style::screen::ROOM))
        .margin_right(fine(32))
        .x_label_area_size(fine(46))
        .y_label_area_size(fine(62))
        .build_cartesian_2d(x, y)?;
    chart
        .configure_mesh()
        .x_desc(x_words)
        .y_desc(y_words)
        .x_labels(10)
        .y_labels(8)
        .x_label_formatter(&|v| format!("{v:.*}", decimals.0))
        .y_label_formatter(&|v| format!("{v:.*}", decimals.1))
        .label_style(text(TICK, &BLACK))
        .axis_desc_style(text(AXIS, &BLACK))
        .axis_style(line(BLACK, style::screen::AXES))
        .bold_line_style(line(PALE, style::screen::AXES))
        .light_line_style(TRANSPARENT)
        .set_all_tick_mark_size(fine(5))
        .draw()?;
    Ok(chart)
}

/// Range of values with room above and below; starts at zero where `from_zero`.
pub(crate) fn range(
    values: impl IntoIterator<Item = f64>,
    from_zero: bool,
) -> std::ops::Range<f64> {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for value in values.into_iter().filter(|v| v.is_finite()) {
        low = low.min(value);
        high = high.max(value);
    }
    if !low.is_finite() {
        return 0.0..1.0;
    }
    if from_zero {
        low = low.min(0.0);
    }
    let room = if high > low { 0.06 * (high - low) } else { 0.1 * high.abs().max(1.0) };
    let floor = if from_zero && low >= 0.0 { 0.0 } else { low - room };
    floor..high + room
}
