//! `freshcharge portmap`: the bore unrolled at true scale, to print and wrap inside, and for a drawing
//! program.

use std::fmt::Write as _;

use freshcharge_sim::geometry;
use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::spec::{StudHole, Window};
use freshcharge_sim::units::{DEG, MM};
use freshcharge_sim::window::Shape;

use super::sheet::face;
use crate::Outcome;
use crate::args::PortmapArgs;
use crate::chart::page::{cautioned, escape};
use crate::chart::{self, canvas};
use crate::files::{self, Failure};
use crate::session::engine::load;

/// A window's outline along the wall and below the top face [mm].
pub(crate) struct Outline {
    layer: &'static str,
    words: String,
    points: Vec<(f64, f64)>,
}

/// Runs the command.
pub(crate) fn run(args: &PortmapArgs) -> Result<Outcome, Failure> {
    let (scenario, _) = load(&args.file)?;
    let planned = args.planned.as_deref().map(load).transpose()?;
    let measured = outlines(&scenario, None);
    let planned = planned.map(|(s, _)| outlines(&s, Some(&scenario))).unwrap_or_default();
    files::make_folder(&args.out)?;
    let (svg, dxf) = (args.out.join("port-map.svg"), args.out.join("port-map.dxf"));
    let picture = drawing(&scenario, &measured, &planned);
    files::write(&svg, picture.as_bytes())?;
    files::write(&args.out.join("port-map.png"), &canvas::png_of("port-map", &picture, 2000)?)?;
    files::write(&dxf, exchange(&scenario, &measured, &planned).as_bytes())?;
    let pdf = args.out.join("port-map.pdf");
    files::write(&pdf, &chart::pdf::pages("port-map", &[picture], args.paper)?)?;
    files::print(&format!(
        "{}\n{}\n{}\nPrint the PDF at 100 %, without fitting to the page; the check bars must measure 100 mm both ways. Tiles are cut and glued along the dashed lines. Seen from inside the bore.\n",
        pdf.display(),
        svg.display(),
        dxf.display()
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
            let mut points = around(window, &shape, spec.bore);
            points.iter_mut().for_each(|p| p.1 += lower);
            outlines.push(Outline { layer, words: words.clone(), points });
        }
    }
    outlines
}

/// Points round a window, closed without repeating the first.
fn around(window: &Window, shape: &Shape, bore: f64) -> Vec<(f64, f64)> {
    const STEPS: u32 = 120;
    let centre = 0.5 * bore * wrapped(window.centre);
    // half the width along the wall of a chord
    let half = |depth: f64| 0.5 * bore * (shape.width(depth) / bore).clamp(0.0, 1.0).asin();
    let depth = |i: u32| {
        // graded toward roof and floor, where corners turn fast
        let t = f64::from(i) / f64::from(STEPS);
        shape.height() * 0.5 * (1.0 - (std::f64::consts::PI * t).cos())
    };
    let right = (0..=STEPS).map(|i| (centre + half(depth(i)), window.roof_depth + depth(i)));
    let left = (0..=STEPS).rev().map(|i| (centre - half(depth(i)), window.roof_depth + depth(i)));
    let mut points: Vec<(f64, f64)> = right.chain(left).map(|(x, y)| (x / MM, y / MM)).collect();
    points.dedup_by(|a, b| (a.0 - b.0).abs() < 1e-9 && (a.1 - b.1).abs() < 1e-9);
    points
}

fn wrapped(angle: f64) -> f64 {
    let turn = std::f64::consts::TAU;
    (angle + 0.5 * turn).rem_euclid(turn) - 0.5 * turn
}

/// The map as SVG in millimetres.
#[allow(clippy::too_many_lines, reason = "a drawing, stroke by stroke")]
pub(crate) fn drawing(scenario: &Scenario, measured: &[Outline], planned: &[Outline]) -> String {
    let spec = &scenario.spec;
    let round = std::f64::consts::PI * spec.bore / MM;
    let crank = geometry::crank(spec);
    let deck = spec.stack.deck / MM;
    let bottom = deck + crank.travel() / MM;
    let lowest =
        measured.iter().chain(planned).flat_map(|o| &o.points).map(|p| p.1).fold(bottom, f64::max);
    let (left, top) = (18.0, 30.0);
    let (width, height) = (round + 2.0 * left, top + lowest.max(100.0) + 22.0);
    let x = |along: f64| left + 0.5 * round + along;
    let y = |depth: f64| top + depth;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width:.3}mm\" height=\"{height:.3}mm\" viewBox=\"0 0 {width:.3} {height:.3}\" font-family=\"Noto Sans, sans-serif\" font-size=\"3\">\n<rect width=\"{width:.3}\" height=\"{height:.3}\" fill=\"#fff\"/>\n"
    );
    let _ = writeln!(
        out,
        "<text x=\"{left}\" y=\"8\" font-size=\"5\" font-weight=\"bold\">{}: port map, 1 : 1</text>",
        escape(&spec.name)
    );
    let _ = writeln!(
        out,
        "<text x=\"{left}\" y=\"13.5\">Bore {:.2} mm unrolled, seen from inside; depths below the top face; angles of the crown edge after top dead centre.</text>",
        spec.bore / MM
    );
    let _ = writeln!(
        out,
        "<rect x=\"{left}\" y=\"{top}\" width=\"{round:.3}\" height=\"{:.3}\" fill=\"none\" stroke=\"#000\" stroke-width=\"0.3\"/>",
        lowest + 4.0
    );
    let _ = writeln!(
        out,
        "<clipPath id=\"bore\"><rect x=\"{left}\" y=\"{top}\" width=\"{round:.3}\" height=\"{:.3}\"/></clipPath>",
        lowest + 4.0
    );
    // heights and angles
    let mut last = f64::NEG_INFINITY;
    for step in 1..=17 {
        let degrees = f64::from(step) * 10.0;
        let depth = deck + crank.at(degrees * DEG).drop / MM;
        // near the dead centres ten degrees are less than a letter high
        let words = if depth - last < 2.2 { String::new() } else { format!("{degrees:.0}°") };
        if !words.is_empty() {
            last = depth;
        }
        let _ = writeln!(
            out,
            "<path d=\"M {left} {:.3} h -2\" stroke=\"#000\" stroke-width=\"0.2\"/><text x=\"{:.2}\" y=\"{:.3}\" font-size=\"2.2\" text-anchor=\"end\">{words}</text>",
            y(depth),
            left - 2.6,
            y(depth) + 0.8
        );
    }
    for tens in 0..=(lowest as u32 / 10) {
        let depth = f64::from(tens) * 10.0;
        let _ = writeln!(
            out,
            "<path d=\"M {:.3} {:.3} h 2\" stroke=\"#000\" stroke-width=\"0.2\"/><text x=\"{:.2}\" y=\"{:.3}\" font-size=\"2.2\">{depth:.0}</text>",
            left + round,
            y(depth),
            left + round + 2.6,
            y(depth) + 0.8
        );
    }
    let dash = |depth: f64, along: f64, words: &str, out: &mut String| {
        let _ = writeln!(
            out,
            "<path d=\"M {left} {:.3} h {round:.3}\" stroke=\"#666\" stroke-width=\"0.2\" stroke-dasharray=\"3 1.5\"/><text x=\"{:.2}\" y=\"{:.3}\" font-size=\"2.2\" fill=\"#444\">{words}</text>",
            y(depth),
            left + along,
            y(depth) + 2.4
        );
    };
    out.push_str("<g clip-path=\"url(#bore)\">\n");
    for hole in stud_bands(scenario, lowest + 4.0) {
        for shift in [-round, 0.0, round] {
            let (from, to) = (hole[0].0 + shift, hole[1].0 + shift);
            if from > 0.5 * round || to < -0.5 * round {
                continue;
            }
            let _ = writeln!(
                out,
                "<rect x=\"{:.3}\" y=\"{top}\" width=\"{:.3}\" height=\"{:.3}\" fill=\"#000\" fill-opacity=\"0.06\" stroke=\"#666\" stroke-width=\"0.2\" stroke-dasharray=\"1 1\"/><text x=\"{:.2}\" y=\"{:.3}\" font-size=\"2.2\" fill=\"#444\" text-anchor=\"middle\">stud</text>",
                x(from),
                to - from,
                lowest + 4.0,
                x(0.5 * (from + to)),
                y(0.4 * lowest)
            );
        }
    }
    for (depth, peg) in spec.piston.ring_depths.iter().zip(&spec.piston.ring_pegs) {
        let along = 0.5 * spec.bore * wrapped(*peg) / MM;
        let from = deck + depth / MM;
        let _ = writeln!(
            out,
            "<path d=\"M {:.3} {:.3} V {:.3}\" stroke=\"#999\" stroke-width=\"1\" stroke-opacity=\"0.6\"/><text x=\"{:.2}\" y=\"{:.3}\" font-size=\"2.2\" fill=\"#444\">ring end</text>",
            x(along),
            y(from),
            y(from + crank.travel() / MM),
            x(along) + 1.0,
            y(from) + 2.5
        );
    }
    for (list, style) in [
        (measured, "fill=\"#e8eef4\" stroke=\"#000\" stroke-width=\"0.35\""),
        (
            planned,
            "fill=\"none\" stroke=\"#D55E00\" stroke-width=\"0.35\" stroke-dasharray=\"2 1\"",
        ),
    ] {
        for outline in list {
            // a window that reaches round the edge of the sheet is drawn at both ends
            for shift in [-round, 0.0, round] {
                if outline.points.iter().all(|p| (p.0 + shift).abs() > 0.5 * round) {
                    continue;
                }
                let path: Vec<String> = outline
                    .points
                    .iter()
                    .map(|p| format!("{:.3} {:.3}", x(p.0 + shift), y(p.1)))
                    .collect();
                let _ = writeln!(out, "<path d=\"M {} Z\" {style}/>", path.join(" L "));
            }
            let planned = outline.layer.ends_with("PLANNED");
            let (sum, n) = outline.points.iter().fold((0.0, 0.0), |(s, n), p| (s + p.0, n + 1.0));
            let roof = outline.points.iter().map(|p| p.1).fold(f64::INFINITY, f64::min);
            let _ = writeln!(
                out,
                "<text x=\"{:.2}\" y=\"{:.3}\" font-size=\"2.6\" text-anchor=\"middle\">{} {roof:.2}</text>",
                // what lies round the seam is named beside it
                x((sum / n).clamp(-0.5 * round + 10.0, 0.5 * round - 10.0)),
                if planned { y(roof) + 5.0 } else { y(roof) - 1.0 },
                escape(if planned { "planned" } else { &outline.words })
            );
        }
    }
    out.push_str("</g>\n");
    dash(deck, 4.0, "crown edge at top dead centre", &mut out);
    dash(bottom, 16.0, "crown edge at bottom dead centre", &mut out);
    let foot = height - 8.0;
    let _ = writeln!(
        out,
        "<path d=\"M {left} {foot:.3} h 100 m -0.15 -1.5 v 3 M {:.3} {:.3} v 3\" stroke=\"#000\" stroke-width=\"0.3\" fill=\"none\"/><text x=\"{:.2}\" y=\"{:.3}\">100 mm</text>",
        // the bar's ends are the outer edges of its strokes
        left + 0.15,
        foot - 1.5,
        left + 103.0,
        foot + 1.0
    );
    let side = left + round + 9.0;
    let _ = writeln!(
        out,
        "<path d=\"M {side:.3} {top} v 100 m -1.5 -0.15 h 3 M {:.3} {:.3} h 3\" stroke=\"#000\" stroke-width=\"0.3\" fill=\"none\"/>",
        side - 1.5,
        top + 0.15
    );
    let _ = writeln!(
        out,
        "<text x=\"{:.2}\" y=\"18\" font-size=\"2.6\" fill=\"#444\">Print at 100 %: both bars must measure 100 mm. It shows no walls behind the bore: cast or section before cutting wide. Freshcharge {}</text>",
        left,
        env!("CARGO_PKG_VERSION")
    );
    out.push_str("</svg>\n");
    cautioned(&out)
}

/// Where stud holes stand behind the wall, seen from the bore's axis: corners of a band down to a depth [mm].
fn stud_bands(scenario: &Scenario, depth: f64) -> Vec<[(f64, f64); 4]> {
    let bore = scenario.spec.bore;
    let band = |hole: &StudHole| {
        let half = (0.5 * hole.diameter / hole.distance).clamp(0.0, 1.0).asin();
        let along = |angle: f64| 0.5 * bore * (wrapped(hole.centre) + angle) / MM;
        let (from, to) = (along(-half), along(half));
        [(from, 0.0), (to, 0.0), (to, depth), (from, depth)]
    };
    scenario.spec.stud_holes.iter().map(band).collect()
}

/// The map as DXF (R12, text), millimetres, depths downward as negative y.
fn exchange(scenario: &Scenario, measured: &[Outline], planned: &[Outline]) -> String {
    let round = std::f64::consts::PI * scenario.spec.bore / MM;
    let mut layers: Vec<&str> = measured.iter().chain(planned).map(|o| o.layer).collect();
    layers.extend(["BORE", "CHECK", "STUDS"]);
    layers.sort_unstable();
    layers.dedup();
    let mut out = String::from(
        "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1009\n9\n$INSUNITS\n70\n4\n9\n$MEASUREMENT\n70\n1\n0\nENDSEC\n0\nSECTION\n2\nTABLES\n0\nTABLE\n2\nLAYER\n",
    );
    let _ = writeln!(out, "70\n{}", layers.len());
    for (i, layer) in layers.iter().enumerate() {
        let _ = writeln!(out, "0\nLAYER\n2\n{layer}\n70\n0\n62\n{}\n6\nCONTINUOUS", i % 6 + 1);
    }
    out.push_str("0\nENDTAB\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n");
    let polyline = |layer: &str, points: &[(f64, f64)], out: &mut String| {
        let _ = writeln!(out, "0\nPOLYLINE\n8\n{layer}\n66\n1\n70\n1\n10\n0.0\n20\n0.0\n30\n0.0");
        for (x, y) in points {
            let _ = writeln!(out, "0\nVERTEX\n8\n{layer}\n10\n{x:.6}\n20\n{:.6}\n30\n0.0", -y);
        }
        let _ = writeln!(out, "0\nSEQEND\n8\n{layer}");
    };
    let lowest = measured.iter().flat_map(|o| &o.points).map(|p| p.1).fold(0.0, f64::max) + 4.0;
    let half = 0.5 * round;
    polyline("BORE", &[(-half, 0.0), (half, 0.0), (half, lowest), (-half, lowest)], &mut out);
    polyline(
        "CHECK",
        &[(-50.0, lowest + 5.0), (50.0, lowest + 5.0), (50.0, lowest + 6.0), (-50.0, lowest + 6.0)],
        &mut out,
    );
    for band in stud_bands(scenario, lowest) {
        polyline("STUDS", &band, &mut out);
    }
    for outline in measured.iter().chain(planned) {
        polyline(outline.layer, &outline.points, &mut out);
    }
    out.push_str("0\nENDSEC\n0\nEOF\n");
    out
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
        let svg = drawing(&scenario, &outlines, &[]);
        assert!(svg.contains(" h 100 m") && svg.contains(" v 100 m"));
        // one unit of the view box is one millimetre
        let head = svg.lines().next().unwrap();
        let width = head.split("width=\"").nth(1).unwrap().split("mm").next().unwrap();
        assert!(head.contains(&format!("viewBox=\"0 0 {width} ")), "{head}");
        let dxf = exchange(&scenario, &outlines, &[]);
        assert_eq!(
            dxf.matches("POLYLINE").count(),
            2 + scenario.spec.stud_holes.len() + outlines.len()
        );
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
