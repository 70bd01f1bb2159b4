//! A window now and then, as the cut sheet shows it.

use freshcharge_sim::spec::Window;
use freshcharge_sim::units::MM;
use freshcharge_sim::window::Shape;

use crate::present::drawing::{Drawing, Line, Point, Type};
use crate::present::style::{AREA, INK, SECOND, print};

/// A window before (dashed) and after, seen straight on, with the sizes to cut to; on a strip of a width [mm].
pub(super) fn window(width: f64, name: &str, (a, b): (&Window, &Window)) -> Drawing {
    let roof = a.roof_depth.min(b.roof_depth) / MM;
    let floor = a.floor_depth.max(b.floor_depth) / MM;
    // larger than life, where there is room
    let scale = (45.0 / (floor - roof)).min(1.6);
    let (middle, top) = (0.5 * width, 6.0);
    let mut drawing = Drawing::new(width, 12.0 + scale * (floor - roof));
    let down = |depth: f64| top + (depth / MM - roof) * scale;
    let outline = |w: &Window| -> Option<Vec<Point>> {
        let shape = Shape::of(w).ok()?;
        let place = |(half, depth): (f64, f64)| (middle + half / MM * scale, down(depth));
        Some(around(w, &shape, |width| 0.5 * width).into_iter().map(place).collect())
    };
    let cut = Line::new(INK, print::CUT).filled(AREA, 1.0);
    let now = Line::new(SECOND, print::OUTLINE).dashed(print::OTHER);
    for (window, finish) in [(b, cut), (a, now.into())] {
        if let Some(points) = outline(window) {
            drawing.outline(&points, true, finish);
        }
    }
    let words = Type::new(print::WORDS, INK);
    let half = 0.5 * b.chord / MM * scale;
    let level = top + 0.55 * (b.floor_depth / MM - roof) * scale;
    drawing.line((middle - half, level), (middle + half, level), Line::new(INK, print::FINE));
    let chord = format!("chord {:.2} mm", b.chord / MM);
    drawing.words((middle, level - 1.0), &chord, words.middle());
    let title = format!("{name}: roof {:.2} mm below the top face", b.roof_depth / MM);
    drawing.words((middle, top - 1.5), &title, words.middle());
    drawing.words((2.0, top + 4.0), "solid: final", words);
    drawing.words((2.0, top + 9.0), "dashed: now", words);
    drawing
}

/// Points round a window [m], closed without repeating the first: `half` gives from its width straight across
/// how far its edge stands from the centre line; depths are below the top face.
pub(crate) fn around(window: &Window, shape: &Shape, half: impl Fn(f64) -> f64) -> Vec<Point> {
    const STEPS: u32 = 120;
    let depth = |i: u32| {
        // graded toward roof and floor, where corners turn fast
        let t = f64::from(i) / f64::from(STEPS);
        shape.height() * 0.5 * (1.0 - (std::f64::consts::PI * t).cos())
    };
    let edge =
        |i: u32, side: f64| (side * half(shape.width(depth(i))), window.roof_depth + depth(i));
    let right = (0..=STEPS).map(|i| edge(i, 1.0));
    let mut points: Vec<Point> = right.chain((0..=STEPS).rev().map(|i| edge(i, -1.0))).collect();
    points.dedup_by(|a, b| (a.0 - b.0).abs() < 1e-12 && (a.1 - b.1).abs() < 1e-12);
    points
}
