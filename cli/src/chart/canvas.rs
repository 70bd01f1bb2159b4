//! The visual language in one place: type, colours, line weights, sizes, and how a picture is made.
//!
//! Pictures are drawn at four times their size as SVG, so that coordinates are fine enough, and then
//! shown at their size through the view box; PNG is made from that SVG with the embedded font only, so
//! that every machine draws the same.

use std::sync::{Arc, Once};

use plotters::prelude::*;
use plotters::style::register_font;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::Chart;
use crate::files::Failure;

/// Picture size [px].
pub(crate) const SIZE: (u32, u32) = (800, 500);
/// How much finer than that it is drawn.
pub(crate) const FINE: u32 = 4;

/// Blue: the cylinder, the first series.
pub(crate) const BLUE: RGBColor = RGBColor(0x00, 0x72, 0xB2);
/// Vermilion: the crankcase, the second series, hot gas.
pub(crate) const VERMILION: RGBColor = RGBColor(0xD5, 0x5E, 0x00);
/// Green: the exhaust, the third series.
pub(crate) const GREEN: RGBColor = RGBColor(0x00, 0x9E, 0x73);
/// Orange: the fourth series.
pub(crate) const ORANGE: RGBColor = RGBColor(0xE6, 0x9F, 0x00);
/// Purple: the fifth series.
pub(crate) const PURPLE: RGBColor = RGBColor(0xCC, 0x79, 0xA7);
/// Sky blue: the sixth series.
pub(crate) const SKY: RGBColor = RGBColor(0x56, 0xB4, 0xE9);
/// Series in order.
pub(crate) const SERIES: [RGBColor; 6] = [BLUE, VERMILION, GREEN, ORANGE, PURPLE, SKY];
/// Grid and event lines.
pub(crate) const GREY: RGBColor = RGBColor(0x80, 0x80, 0x80);
/// Fine grid.
pub(crate) const PALE: RGBColor = RGBColor(0xDD, 0xDD, 0xDD);

const FONT: &str = "Noto Sans";
const REGULAR: &[u8] = include_bytes!("../../fonts/NotoSans-Regular-sub.ttf");
const BOLD: &[u8] = include_bytes!("../../fonts/NotoSans-Bold-sub.ttf");

/// Sizes of type [px].
pub(crate) const TITLE: u32 = 19;
/// Axis descriptions and legends.
pub(crate) const AXIS: u32 = 15;
/// Tick labels and event names.
pub(crate) const TICK: u32 = 13;

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
) -> Result<String, Failure> {
    static FONTS: Once = Once::new();
    FONTS.call_once(|| {
        // the two embedded files are valid fonts; a failure would show in every chart test
        let _ = register_font(FONT, FontStyle::Normal, REGULAR);
        let _ = register_font(FONT, FontStyle::Bold, BOLD);
    });
    let mut text = String::new();
    {
        let size = (fine(SIZE.0), fine(SIZE.1));
        let area = SVGBackend::with_string(&mut text, size).into_drawing_area();
        let fail = |why: String| Failure::Chart { what: what.to_owned(), why };
        area.fill(&WHITE).map_err(|e| fail(e.to_string()))?;
        draw(&area).map_err(fail)?;
        area.present().map_err(|e| fail(e.to_string()))?;
    }
    let big = format!("width=\"{}\" height=\"{}\"", fine(SIZE.0), fine(SIZE.1));
    let small = format!("width=\"{}\" height=\"{}\"", SIZE.0, SIZE.1);
    Ok(text.replacen(&big, &small, 1))
}

/// PNG of a chart at a width [px].
pub(crate) fn png(chart: &Chart, width: u32) -> Result<Vec<u8>, Failure> {
    let fail = |why: String| Failure::Chart { what: chart.name.clone(), why };
    let mut fonts = resvg::usvg::fontdb::Database::new();
    fonts.load_font_data(REGULAR.to_vec());
    fonts.load_font_data(BOLD.to_vec());
    let options =
        resvg::usvg::Options { fontdb: Arc::new(fonts), ..resvg::usvg::Options::default() };
    let tree =
        resvg::usvg::Tree::from_str(&chart.svg, &options).map_err(|e| fail(e.to_string()))?;
    let scale = width as f32 / SIZE.0 as f32;
    let height = (SIZE.1 as f32 * scale).round() as u32;
    let mut pixels = resvg::tiny_skia::Pixmap::new(width, height)
        .ok_or_else(|| fail(format!("no picture of {width} by {height}")))?;
    let transform = resvg::tiny_skia::Transform::from_scale(scale, scale);
    resvg::render(&tree, transform, &mut pixels.as_mut());
    pixels.encode_png().map_err(|e| fail(e.to_string()))
}

/// Where a chart is drawn.
pub(crate) type Area<'a> = DrawingArea<SVGBackend<'a>, plotters::coord::Shift>;

/// Writes the title and a row of curve names under it; gives the area left for the plot. Names stand
/// outside the plot so that they never cover a curve.
pub(crate) fn frame<'a>(
    area: &Area<'a>,
    title: &str,
    names: &[(&str, RGBColor)],
) -> Result<Area<'a>, Box<dyn std::error::Error>> {
    let middle = Pos::new(HPos::Center, VPos::Center);
    let centre = fine(SIZE.0) as i32 / 2;
    area.draw(&Text::new(title.to_owned(), (centre, fine(20) as i32), bold(TITLE).pos(middle)))?;
    // about the width of a letter of this size
    let width = |words: &str| (fine(AXIS) as f64 * 0.55 * words.chars().count() as f64) as i32;
    let (stroke, gap) = (fine(26) as i32, fine(8) as i32);
    let total: i32 = names.iter().map(|(words, _)| stroke + width(words) + 4 * gap).sum();
    let mut x = centre - total / 2 + gap;
    let y = fine(44) as i32;
    for (words, color) in names {
        area.draw(&PathElement::new([(x, y), (x + stroke, y)], line(*color, 2.5)))?;
        let style = text(AXIS, &BLACK).pos(Pos::new(HPos::Left, VPos::Center));
        area.draw(&Text::new((*words).to_owned(), (x + stroke + gap, y), style))?;
        x += stroke + width(words) + 4 * gap;
    }
    Ok(area.split_vertically(fine(56)).1)
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
