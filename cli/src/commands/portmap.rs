//! `freshcharge portmap`: the bore unrolled at true scale, to print and wrap inside, and for a drawing
//! program.

use freshcharge_sim::geometry;
use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::spec::{StudHole, Window};
use freshcharge_sim::units::{DEG, MM};
use freshcharge_sim::window::Shape;

use super::sheet::drawing::around;
use super::sheet::face;
use crate::Outcome;
use crate::args::PortmapArgs;
use crate::chart::page::with_cautions;
use crate::files::{self, Failure};
use crate::present::drawing::{self, Drawing, Line, Point, Type};
use crate::present::style::{AREA, HOT_GAS, INK, RULE, SECOND, print};
use crate::session::engine::load;

/// A window's outline along the wall and below the top face [mm].
pub(crate) struct Outline {
    layer: &'static str,
    words: String,
    points: Vec<Point>,
}

/// Runs the command.
pub(crate) fn run(args: &PortmapArgs) -> Result<Outcome, Failure> {
    let (scenario, _) = load(&args.file)?;
    let planned = args.planned.as_deref().map(load).transpose()?;
    let measured = outlines(&scenario, None);
    let planned = planned.map(|(s, _)| outlines(&s, Some(&scenario))).unwrap_or_default();
    files::make_folder(&args.out)?;
    let path = |ending: &str| args.out.join(format!("port-map.{ending}"));
    let map = drawing(&scenario, &measured, &planned);
    let picture = map.svg();
    files::write(&path("svg"), picture.as_bytes())?;
    files::write(&path("png"), &drawing::png("port-map", &picture, 2000)?)?;
    files::write(&path("dxf"), map.dxf().as_bytes())?;
    files::write(&path("pdf"), &drawing::pages("port-map", &[map], args.paper)?)?;
    files::print(&format!(
        "{}\n{}\n{}\nPrint the PDF at 100 %, without fitting to the page; the check bars must measure 100 mm both ways. Tiles are cut and glued along the dashed lines. Seen from inside the bore.\n",
        path("pdf").display(),
        path("svg").display(),
        path("dxf").display()
    ))?;
    Ok(Outcome::Done)
}

/// Outlines of all windows; along the wall from the exhaust's centre line, right is clockwise from above. What is
/// planned stands below the face as it is now.
pub(crate) fn outlines(scenario: &Scenario, now: Option<&Scenario>) -> Vec<Outline> {
    let spec = &scenario.spec;
    let planned = now.is_some();
    let lower = now.map_or(0.0, |now| face(now, scenario)) / MM;
    let layer = |name: &'static str, other: &'static str| if planned { other } else { name };
    let mut ports: Vec<(&'static str, String, &[Window])> =
        vec![(layer("EXHAUST", "EXHAUST_PLANNED"), "exhaust".to_owned(), &spec.exhaust.windows)];
    for group in &spec.transfers {
        ports.push((layer("TRANSFER", "TRANSFER_PLANNED"), group.name.clone(), &group.windows));
    }
    let inlet = layer("INTAKE", "INTAKE_PLANNED");
    ports.push((inlet, "intake".to_owned(), spec.intake.windows()));
    let mut outlines = Vec::new();
    for (layer, words, windows) in ports {
        for window in windows {
            let Ok(shape) = Shape::of(window) else { continue };
            let centre = 0.5 * spec.bore * wrapped(window.centre);
            // half the width along the wall of a chord
            let half = |chord: f64| 0.5 * spec.bore * (chord / spec.bore).clamp(0.0, 1.0).asin();
            let place = |(along, depth)| ((centre + along) / MM, depth / MM + lower);
            let points = around(window, &shape, half).into_iter().map(place).collect();
            outlines.push(Outline { layer, words: words.clone(), points });
        }
    }
    outlines
}

fn wrapped(angle: f64) -> f64 {
    let turn = std::f64::consts::TAU;
    (angle + 0.5 * turn).rem_euclid(turn) - 0.5 * turn
}

/// The sheet's measures [mm].
struct Map<'a> {
    scenario: &'a Scenario,
    /// The bore's circumference.
    round: f64,
    /// Depth of the crown edge at top and at bottom dead centre.
    dead_centres: [f64; 2],
    /// Depth down to which the wall is drawn.
    lowest: f64,
}

/// Left and upper edge of the wall on the sheet [mm].
const LEFT: f64 = 18.0;
const TOP: f64 = 30.0;
/// Names and small labels.
const NAME: Type = Type::new(print::NAME, INK).middle();
const SMALL: Type = Type::new(print::SCALE, SECOND);

/// The map: windows, studs, the bore's edge and a bar to measure on layers for a drawing program, whose zero is
/// the exhaust's centre line at the top face.
pub(crate) fn drawing(scenario: &Scenario, measured: &[Outline], planned: &[Outline]) -> Drawing {
    let spec = &scenario.spec;
    let deck = spec.stack.deck / MM;
    let bottom = deck + geometry::crank(spec).travel() / MM;
    let points = measured.iter().chain(planned).flat_map(|o| &o.points);
    let map = Map {
        scenario,
        round: std::f64::consts::PI * spec.bore / MM,
        dead_centres: [deck, bottom],
        lowest: points.map(|p| p.1).fold(bottom, f64::max) + 4.0,
    };
    let (width, height) = (map.round + 2.0 * LEFT, TOP + map.lowest.max(104.0) + 18.0);
    let mut sheet = Drawing::new(width, height);
    sheet.zero_at((LEFT + 0.5 * map.round, TOP));
    map.title(&mut sheet);
    let wall = ((LEFT, TOP), (map.round, map.lowest));
    sheet.on(Some("BORE")).rectangle(wall.0, wall.1, Line::new(INK, print::FRAME));
    sheet.on(None);
    map.scales(&mut sheet);
    sheet.clip(Some(wall));
    map.studs(&mut sheet);
    map.ring_ends(&mut sheet);
    map.windows(&mut sheet, measured, Line::new(INK, print::OUTLINE).filled(AREA, 1.0));
    let line = Line::new(HOT_GAS, print::OUTLINE).dashed(print::OTHER);
    map.windows(&mut sheet, planned, line.into());
    sheet.clip(None);
    map.levels(&mut sheet);
    let bar = Line::new(INK, print::FRAME);
    let foot = height - print::ROOM;
    sheet.on(Some("CHECK")).bar((LEFT, foot), 100.0, false, bar);
    sheet.bar((LEFT + map.round + 9.0, TOP), 100.0, true, bar);
    sheet.on(None).words((LEFT + 103.0, foot + 1.0), "100 mm", Type::new(print::WORDS, INK));
    with_cautions(sheet)
}

impl Map<'_> {
    /// Place on the sheet of a point of the wall.
    fn at(&self, along: f64, depth: f64) -> Point {
        (LEFT + 0.5 * self.round + along, TOP + depth)
    }

    fn title(&self, sheet: &mut Drawing) {
        let spec = &self.scenario.spec;
        let title = format!("{}: port map, 1 : 1", spec.name);
        sheet.words((LEFT, 8.0), &title, Type::new(print::TITLE, INK).bold());
        let what = format!(
            "Bore {:.2} mm unrolled, seen from inside; depths below the top face; angles of the crown edge after top dead centre.",
            spec.bore / MM
        );
        sheet.words((LEFT, 13.5), &what, Type::new(print::WORDS, INK));
        let caution = format!(
            "Print at 100 %: both bars must measure 100 mm. It shows no walls behind the bore: cast or section before cutting wide. Freshcharge {}",
            env!("CARGO_PKG_VERSION")
        );
        sheet.words((LEFT, 18.0), &caution, Type::new(print::NAME, SECOND));
    }

    /// Angles of the crown edge on the left, depths on the right.
    fn scales(&self, sheet: &mut Drawing) {
        let crank = geometry::crank(&self.scenario.spec);
        let stroke = Line::new(INK, print::FINE);
        let set = Type::new(print::SCALE, INK);
        let mut last = f64::NEG_INFINITY;
        for degrees in (10..=170).step_by(10).map(f64::from) {
            let depth = self.dead_centres[0] + crank.at(degrees * DEG).drop / MM;
            let y = TOP + depth;
            sheet.line((LEFT, y), (LEFT - 2.0, y), stroke);
            // near the dead centres ten degrees are less than a letter high
            if depth - last >= print::SCALE {
                last = depth;
                sheet.words((LEFT - 2.6, y + 0.8), &format!("{degrees:.0}°"), set.end());
            }
        }
        let right = LEFT + self.round;
        for depth in (0..).map(|n| 10.0 * f64::from(n)).take_while(|d| *d <= self.lowest) {
            let y = TOP + depth;
            sheet.line((right, y), (right + 2.0, y), stroke);
            sheet.words((right + 2.6, y + 0.8), &format!("{depth:.0}"), set);
        }
    }

    /// How far something has to be shifted to be seen on the sheet: what reaches round its edge is drawn at both
    /// ends.
    fn shifts(&self, from: f64, to: f64) -> impl Iterator<Item = f64> {
        let round = self.round;
        [0.0, -round, round]
            .into_iter()
            .filter(move |s| from + s <= 0.5 * round && to + s >= -0.5 * round)
    }

    fn studs(&self, sheet: &mut Drawing) {
        let line = Line::new(SECOND, print::FINE).dashed(print::BEHIND);
        for (from, to) in stud_bands(self.scenario) {
            for shift in self.shifts(from, to) {
                sheet.on((shift == 0.0).then_some("STUDS"));
                let (corner, size) = (self.at(from + shift, 0.0), (to - from, self.lowest));
                sheet.rectangle(corner, size, line.filled(INK, 0.06));
                let middle = self.at(0.5 * (from + to) + shift, 0.4 * self.lowest);
                sheet.on(None).words(middle, "stud", SMALL.middle());
            }
        }
    }

    fn ring_ends(&self, sheet: &mut Drawing) {
        let piston = &self.scenario.spec.piston;
        let [top, bottom] = self.dead_centres;
        for (depth, peg) in piston.ring_depths.iter().zip(&piston.ring_pegs) {
            let along = 0.5 * self.scenario.spec.bore * wrapped(*peg) / MM;
            let (from, to) =
                (self.at(along, top + depth / MM), self.at(along, bottom + depth / MM));
            sheet.line(from, to, Line::new(RULE, 1.0).faint(0.6));
            sheet.words((from.0 + 1.0, from.1 + 2.5), "ring end", SMALL);
        }
    }

    fn windows(&self, sheet: &mut Drawing, list: &[Outline], finish: drawing::Finish) {
        for outline in list {
            let along = outline.points.iter().map(|p| p.0);
            let (from, to) = along
                .clone()
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(x), h.max(x)));
            for shift in self.shifts(from, to) {
                let points: Vec<Point> =
                    outline.points.iter().map(|p| self.at(p.0 + shift, p.1)).collect();
                sheet.on((shift == 0.0).then_some(outline.layer)).outline(&points, true, finish);
            }
            sheet.on(None);
            let roof = outline.points.iter().map(|p| p.1).fold(f64::INFINITY, f64::min);
            let (words, y) = if outline.layer.ends_with("PLANNED") {
                ("planned", roof + 5.0)
            } else {
                (outline.words.as_str(), roof - 1.0)
            };
            // what lies round the seam is named beside it
            let edge = 0.5 * self.round - 10.0;
            let middle = (0.5 * (from + to)).clamp(-edge, edge);
            sheet.words(self.at(middle, y), &format!("{words} {roof:.2}"), NAME);
        }
    }

    /// Where the crown edge stands at the dead centres.
    fn levels(&self, sheet: &mut Drawing) {
        let line = Line::new(SECOND, print::FINE).dashed(print::LEVEL);
        for (depth, along, words) in [
            (self.dead_centres[0], 4.0, "crown edge at top dead centre"),
            (self.dead_centres[1], 16.0, "crown edge at bottom dead centre"),
        ] {
            let y = TOP + depth;
            sheet.line((LEFT, y), (LEFT + self.round, y), line);
            sheet.words((LEFT + along, y + 2.4), words, SMALL);
        }
    }
}

/// Where stud holes stand behind the wall, seen from the bore's axis: from where to where along the wall [mm].
fn stud_bands(scenario: &Scenario) -> Vec<(f64, f64)> {
    let bore = scenario.spec.bore;
    let band = |hole: &StudHole| {
        let half = (0.5 * hole.diameter / hole.distance).clamp(0.0, 1.0).asin();
        let along = |angle: f64| 0.5 * bore * (wrapped(hole.centre) + angle) / MM;
        (along(-half), along(half))
    };
    scenario.spec.stud_holes.iter().map(band).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_windows_printed_width_is_its_arc_and_the_bars_are_as_long_as_they_say() {
        let text = include_str!("../../../scenarios/touring.toml");
        let scenario = freshcharge_sim::scenario::read(text).unwrap();
        let outlines = outlines(&scenario, None);
        let exhaust = &outlines[0];
        let (low, high) =
            exhaust.points.iter().fold((0.0_f64, 0.0_f64), |(l, h), p| (l.min(p.0), h.max(p.0)));
        let arc = 55.5 * (35.0_f64 / 55.5).asin();
        assert!((high - low - arc).abs() < 1e-9, "{} {arc}", high - low);
        let map = drawing(&scenario, &outlines, &[]);
        let (svg, dxf) = (map.svg(), map.dxf());
        // one unit of the view box is one millimetre
        let head = svg.lines().next().unwrap();
        let width = head.split("width=\"").nth(1).unwrap().split("mm").next().unwrap();
        assert!(head.contains(&format!("viewBox=\"0 0 {width} ")), "{head}");
        // the ends of every line of two points
        let ends = |line: &str| -> Option<Vec<f64>> {
            let path = line.strip_prefix("<path d=\"M ")?.split('"').next()?;
            let numbers: Vec<f64> = path.split(' ').filter_map(|w| w.parse().ok()).collect();
            (numbers.len() == 4).then_some(numbers)
        };
        let lines: Vec<Vec<f64>> = svg.lines().filter_map(ends).collect();
        for side in [0, 1] {
            let long = |l: &&Vec<f64>| {
                (l[2 + side] - l[side] - 100.0).abs() < 1e-6 && l[3 - side] == l[1 - side]
            };
            assert!(lines.iter().any(|l| long(&l)), "no bar of 100 mm on side {side}");
        }
        // the wall, two bars, studs and windows
        assert_eq!(
            dxf.matches("\nPOLYLINE\n").count(),
            3 + scenario.spec.stud_holes.len() + outlines.len()
        );
        // windows stand in the file for a drawing program as wide as along the wall, about its zero
        let rows: Vec<&str> = dxf.lines().collect();
        let exhaust = rows.chunks(2).skip_while(|c| c != &["0", "POLYLINE"]);
        let exhaust = exhaust.collect::<Vec<_>>();
        let on = |c: &[&[&str]]| c[0] == ["0", "VERTEX"] && c[1] == ["8", "EXHAUST"];
        let along: Vec<f64> =
            exhaust.windows(3).filter(|c| on(c)).map(|c| c[2][1].parse().unwrap()).collect();
        let (low, high) = along.iter().fold((0.0_f64, 0.0_f64), |(l, h), x| (l.min(*x), h.max(*x)));
        assert!((high - low - arc).abs() < 2e-6 && (high + low).abs() < 2e-6, "{low} {high}");
    }

    #[test]
    fn what_is_planned_stands_below_the_face_as_it_is_now() {
        let text = include_str!("../../../scenarios/touring.toml");
        let now = freshcharge_sim::scenario::read(text).unwrap();
        let then = now.with("stack.top_face_cut_mm", 0.7).unwrap();
        let (before, after) = (outlines(&now, None), outlines(&then, Some(&now)));
        assert_eq!(after[0].layer, "EXHAUST_PLANNED");
        // no window is touched by taking metal off the face
        for (a, b) in before.iter().zip(&after) {
            for (p, q) in a.points.iter().zip(&b.points) {
                assert!((p.0 - q.0).abs() < 1e-9 && (p.1 - q.1).abs() < 1e-9, "{p:?} {q:?}");
            }
        }
    }
}
