//! Drawings at true scale: lines, outlines with arcs, fills and words in millimetres, on layers.
//!
//! One drawing becomes SVG, PDF on pages of paper, PNG, and DXF for a drawing program. Coordinates run
//! to the right and downward from the sheet's upper left corner, angles clockwise from the right.

mod dxf;
mod pdf;
mod raster;
mod svg;

pub(crate) use pdf::{Paper, pages};
pub(crate) use raster::{FONT, font, png};
pub(crate) use svg::{escape, turns};

use super::style::Colour;

/// A place on the sheet: to the right and downward [mm].
pub(crate) type Point = (f64, f64);

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Line {
    colour: Colour,
    /// [mm]
    weight: f64,
    /// Dash and gap [mm]; none for a whole line.
    dash: Option<(f64, f64)>,
    opacity: f64,
}

impl Line {
    /// A whole line of a weight [mm].
    pub(crate) const fn new(colour: Colour, weight: f64) -> Self {
        Self { colour, weight, dash: None, opacity: 1.0 }
    }

    /// The same line dashed: lengths of dash and gap [mm].
    pub(crate) const fn dashed(self, dash: (f64, f64)) -> Self {
        Self { dash: Some(dash), ..self }
    }

    /// The same line, seen through.
    pub(crate) const fn faint(self, opacity: f64) -> Self {
        Self { opacity, ..self }
    }
}

/// How an outline is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Finish {
    line: Option<Line>,
    /// Colour and opacity.
    fill: Option<(Colour, f64)>,
}

impl From<Line> for Finish {
    fn from(line: Line) -> Self {
        Self { line: Some(line), fill: None }
    }
}

impl Line {
    /// An outline of this line, filled.
    pub(crate) fn filled(self, colour: Colour, opacity: f64) -> Finish {
        Finish { line: Some(self), fill: Some((colour, opacity)) }
    }
}

/// What of a text stands at its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    /// Its left end.
    Start,
    /// Its middle.
    Middle,
    /// Its right end.
    End,
}

/// How words are set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Type {
    /// Height of a line [mm].
    size: f64,
    colour: Colour,
    bold: bool,
    anchor: Anchor,
    /// Turned clockwise [°].
    turn: f64,
}

impl Type {
    /// Upright type of a size [mm], which begins at its place.
    pub(crate) const fn new(size: f64, colour: Colour) -> Self {
        Self { size, colour, bold: false, anchor: Anchor::Start, turn: 0.0 }
    }

    /// The same in bold.
    pub(crate) const fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    /// The same with its middle at its place.
    pub(crate) const fn middle(self) -> Self {
        Self { anchor: Anchor::Middle, ..self }
    }

    /// The same with its end at its place.
    pub(crate) const fn end(self) -> Self {
        Self { anchor: Anchor::End, ..self }
    }

    /// The same turned clockwise [°].
    pub(crate) const fn turned(self, turn: f64) -> Self {
        Self { turn, ..self }
    }
}

/// A point of an outline.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Vertex {
    at: Point,
    /// tan of a quarter of the angle that the arc to the next point turns through, clockwise positive;
    /// 0 for a straight line.
    bulge: f64,
}

#[derive(Debug, Clone, PartialEq)]
enum Shape {
    Outline { vertices: Vec<Vertex>, closed: bool, finish: Finish },
    Words { at: Point, words: String, set: Type },
}

/// Corners of a rectangle: upper left, and width with height [mm].
type Frame = (Point, (f64, f64));

#[derive(Debug, Clone, PartialEq)]
struct Item {
    shape: Shape,
    /// The layer of a drawing program that it stands on; none for what is only printed.
    layer: Option<&'static str>,
    /// Nothing outside of it is printed.
    clip: Option<Frame>,
}

/// A drawing.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Drawing {
    width: f64,
    height: f64,
    /// Where a drawing program has its zero.
    origin: Point,
    items: Vec<Item>,
    layer: Option<&'static str>,
    clip: Option<Frame>,
}

impl Drawing {
    /// An empty sheet of a width and height [mm].
    pub(crate) fn new(width: f64, height: f64) -> Self {
        let (origin, items) = ((0.0, 0.0), Vec::new());
        Self { width, height, origin, items, layer: None, clip: None }
    }

    /// Width and height [mm].
    pub(crate) fn size(&self) -> (f64, f64) {
        (self.width, self.height)
    }

    /// Adds room at the foot [mm].
    pub(crate) fn grow(&mut self, room: f64) {
        self.height += room;
    }

    /// Lets a drawing program have its zero at a point of the sheet.
    pub(crate) fn zero_at(&mut self, origin: Point) {
        self.origin = origin;
    }

    /// What follows stands on this layer of a drawing program; none: is only printed.
    pub(crate) fn on(&mut self, layer: Option<&'static str>) -> &mut Self {
        self.layer = layer;
        self
    }

    /// What follows is printed inside this rectangle only; a drawing program gets all of it.
    pub(crate) fn clip(&mut self, frame: Option<(Point, (f64, f64))>) {
        self.clip = frame;
    }

    fn put(&mut self, shape: Shape) {
        self.items.push(Item { shape, layer: self.layer, clip: self.clip });
    }

    /// A straight line.
    pub(crate) fn line(&mut self, from: Point, to: Point, line: Line) {
        self.outline(&[from, to], false, line);
    }

    /// Straight lines from point to point, and back to the first where `closed`.
    pub(crate) fn outline(&mut self, points: &[Point], closed: bool, finish: impl Into<Finish>) {
        let vertices = points.iter().map(|at| Vertex { at: *at, bulge: 0.0 }).collect();
        self.put(Shape::Outline { vertices, closed, finish: finish.into() });
    }

    /// A rectangle from its upper left corner.
    pub(crate) fn rectangle(&mut self, at: Point, size: (f64, f64), finish: impl Into<Finish>) {
        let (right, low) = (at.0 + size.0, at.1 + size.1);
        self.outline(&[at, (right, at.1), (right, low), (at.0, low)], true, finish);
    }

    /// An arc round a centre between two angles [°]; clockwise where the second is the larger.
    pub(crate) fn arc(
        &mut self,
        centre: Point,
        radius: f64,
        (from, to): (f64, f64),
        finish: impl Into<Finish>,
    ) {
        // no piece turns through more than half a circle
        let pieces = ((to - from).abs() / 180.0).ceil().max(1.0);
        let step = (to - from) / pieces;
        let bulge = (0.25 * step.to_radians()).tan();
        let vertex = |n: f64| {
            let angle = (from + step * n).to_radians();
            let at = (centre.0 + radius * angle.cos(), centre.1 + radius * angle.sin());
            Vertex { at, bulge: if n < pieces { bulge } else { 0.0 } }
        };
        let vertices = (0..=pieces as u32).map(|n| vertex(f64::from(n))).collect();
        self.put(Shape::Outline { vertices, closed: false, finish: finish.into() });
    }

    /// A circle.
    pub(crate) fn circle(&mut self, centre: Point, radius: f64, finish: impl Into<Finish>) {
        let vertex = |x: f64| Vertex { at: (centre.0 + x, centre.1), bulge: 1.0 };
        let vertices = vec![vertex(-radius), vertex(radius)];
        self.put(Shape::Outline { vertices, closed: true, finish: finish.into() });
    }

    /// Words at a place of their base line.
    pub(crate) fn words(&mut self, at: Point, words: &str, set: Type) {
        self.put(Shape::Words { at, words: words.to_owned(), set });
    }

    /// A bar to measure, `length` from outer edge to outer edge of its end strokes, along the sheet or down it.
    pub(crate) fn bar(&mut self, at: Point, length: f64, down: bool, line: Line) {
        let turned = |along: f64, across: f64| {
            if down { (at.0 + across, at.1 + along) } else { (at.0 + along, at.1 + across) }
        };
        self.line(turned(0.0, 0.0), turned(length, 0.0), line);
        let layer = self.layer.take();
        // the weight of an end stroke stays inside the bar
        for end in [0.5 * line.weight, length - 0.5 * line.weight] {
            self.line(turned(end, -1.5), turned(end, 1.5), line);
        }
        self.layer = layer;
    }

    /// Everything in another drawing, with its corner at a place.
    pub(crate) fn add(&mut self, other: Self, to: Point) {
        let moved = |p: Point| (p.0 + to.0, p.1 + to.1);
        for mut item in other.items {
            match &mut item.shape {
                Shape::Outline { vertices, .. } => {
                    vertices.iter_mut().for_each(|v| v.at = moved(v.at));
                }
                Shape::Words { at, .. } => *at = moved(*at),
            }
            item.clip = item.clip.map(|(at, size)| (moved(at), size));
            self.items.push(item);
        }
    }

    /// As SVG, one unit of which is a millimetre.
    pub(crate) fn svg(&self) -> String {
        svg::of(self)
    }

    /// What stands on layers, as DXF (R12, text) in millimetres.
    pub(crate) fn dxf(&self) -> String {
        dxf::of(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::style::{INK, PAGE};

    #[test]
    fn a_bar_and_an_arc_are_as_long_as_they_say_in_every_form() {
        let line = Line::new(INK, 0.3);
        let mut drawing = Drawing::new(150.0, 120.0);
        drawing.zero_at((10.0, 20.0));
        drawing.on(Some("CHECK")).bar((10.0, 20.0), 100.0, false, line);
        // a quarter of a circle from the right to below, a circle
        drawing.on(Some("ARC")).arc((60.0, 60.0), 30.0, (0.0, 90.0), line);
        drawing.circle((60.0, 60.0), 10.0, line.filled(PAGE, 0.5));
        let svg = drawing.svg();
        assert!(svg.contains("width=\"150.000mm\" height=\"120.000mm\""), "{svg}");
        assert!(svg.contains("viewBox=\"0 0 150.000 120.000\""), "{svg}");
        assert!(svg.contains("M 10.000 20.000 L 110.000 20.000"), "{svg}");
        assert!(svg.contains("M 90.000 60.000 A 30.000 30.000 0 0 1 60.000 90.000"), "{svg}");
        // two halves of the circle
        assert_eq!(svg.matches("A 10.000 10.000 0 0 1").count(), 2, "{svg}");
        let dxf = drawing.dxf();
        let values = |code: &str| -> Vec<f64> {
            let lines: Vec<&str> = dxf.lines().collect();
            let pairs = lines.chunks(2).filter(|c| c[0] == code);
            pairs.filter_map(|c| c[1].parse().ok()).collect()
        };
        assert!(values("10").contains(&0.0) && values("10").contains(&100.0), "{dxf}");
        // downward on the sheet is negative for a drawing program, and so is clockwise
        assert!(values("20").contains(&-70.0), "{dxf}");
        let quarter = -(std::f64::consts::PI / 8.0).tan();
        assert!(values("42").iter().any(|b| (b - quarter).abs() < 1e-6), "{dxf}");
        assert_eq!(dxf.matches("\nPOLYLINE\n").count(), 3, "{dxf}");
    }

    #[test]
    fn words_cannot_leave_their_place() {
        let mut drawing = Drawing::new(50.0, 20.0);
        drawing.on(Some("WORDS"));
        drawing.words((5.0, 5.0), "a<b> 30° \u{202e}x\n0\nEOF", Type::new(3.0, INK).middle());
        let svg = drawing.svg();
        assert!(svg.contains(">a&lt;b&gt; 30° x 0 EOF</text>"), "{svg}");
        let dxf = drawing.dxf();
        assert!(dxf.contains("\n1\na<b> 30%%d x 0 EOF\n"), "{dxf}");
        assert_eq!(dxf.matches("EOF").count(), 2);
        png("words", &svg, 100).unwrap();
    }

    #[test]
    fn a_drawing_in_a_drawing_keeps_its_sizes_and_clip() {
        let mut inner = Drawing::new(10.0, 10.0);
        inner.clip(Some(((1.0, 1.0), (5.0, 5.0))));
        inner.line((0.0, 2.0), (10.0, 2.0), Line::new(INK, 0.2));
        let mut sheet = Drawing::new(100.0, 100.0);
        sheet.add(inner, (20.0, 30.0));
        let svg = sheet.svg();
        assert!(svg.contains("M 20.000 32.000 L 30.000 32.000"), "{svg}");
        let clip = "<rect x=\"21.000\" y=\"31.000\" width=\"5.000\" height=\"5.000\"/></clipPath>";
        assert!(svg.contains(clip), "{svg}");
    }
}
