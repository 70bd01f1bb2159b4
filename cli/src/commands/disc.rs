//! `freshcharge disc`: a degree disc to print, with this engine's events on it.

use std::fmt::Write as _;

use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::workshop::Facts;

use crate::Outcome;
use crate::args::DiscArgs;
use crate::chart::page::{cautioned, escape};
use crate::chart::{canvas, pdf};
use crate::files::{self, Failure};
use crate::session::engine::{load, with_set};

/// Diameters that can be printed [mm].
const DIAMETERS: std::ops::RangeInclusive<f64> = 60.0..=400.0;

/// Runs the command.
pub(crate) fn run(args: &DiscArgs) -> Result<Outcome, Failure> {
    let (scenario, _) = load(&args.file)?;
    let scenario = with_set(scenario, &args.set)?;
    if !DIAMETERS.contains(&args.diameter_mm) {
        return Err(Failure::Argument {
            flag: "--diameter-mm",
            value: args.diameter_mm.to_string(),
            remedy: format!("write between {} and {}", DIAMETERS.start(), DIAMETERS.end()),
        });
    }
    let svg = drawing(&scenario, args.diameter_mm, args.counter_clockwise);
    files::make_folder(&args.out)?;
    let path = |ending: &str| args.out.join(format!("degree-disc.{ending}"));
    files::write(&path("svg"), svg.as_bytes())?;
    files::write(&path("png"), &canvas::png_of("degree-disc", &svg, 1600)?)?;
    files::write(&path("pdf"), &pdf::pages("degree-disc", &[svg], args.paper)?)?;
    files::print(&format!(
        "{}\n{}\nPrint at 100 %. The disc turns with the crank; the pointer is fixed. Find top dead centre with a stop on both sides, not by feel, and set zero there.\n",
        path("pdf").display(),
        path("svg").display()
    ))?;
    Ok(Outcome::Done)
}

/// An event: degrees after top dead centre and what happens.
struct Event {
    angle: f64,
    words: &'static str,
    /// Which ring its mark stands on, from outside: ports apart.
    ring: f64,
    dash: &'static str,
}

fn events(scenario: &Scenario) -> Vec<Event> {
    let facts = Facts::of_scenario(scenario, &[]);
    let get = |key: &str| facts.get(key);
    let mut all = Vec::new();
    let mut pair =
        |opens: Option<f64>, closes: Option<f64>, words: [&'static str; 2], ring, dash| {
            for (angle, words) in [(opens, words[0]), (closes, words[1])] {
                if let Some(angle) = angle {
                    all.push(Event { angle: angle.rem_euclid(360.0), words, ring, dash });
                }
            }
        };
    pair(
        get("exhaust_opens_deg_atdc"),
        get("exhaust_closes_deg_atdc"),
        ["exhaust opens", "exhaust shut"],
        0.0,
        "",
    );
    let transfers = get("transfer_opens_deg_atdc");
    let shut = transfers.zip(get("transfer_duration_deg")).map(|(o, d)| o + d);
    pair(transfers, shut, ["transfers open", "transfers shut"], 1.0, "3 1.2");
    pair(
        get("intake_opens_deg_btdc").map(|a| -a),
        get("intake_closes_deg_atdc"),
        ["intake opens", "intake shut"],
        2.0,
        "0.8 1",
    );
    all
}

/// The disc as SVG in millimetres.
#[allow(clippy::too_many_lines, reason = "a drawing, stroke by stroke")]
pub(crate) fn drawing(scenario: &Scenario, diameter: f64, counter_clockwise: bool) -> String {
    let radius = 0.5 * diameter;
    let margin = 8.0;
    let (width, height) = ((diameter + 2.0 * margin).max(120.0), diameter + 2.0 * margin + 26.0);
    let (cx, cy) = (0.5 * width, margin + radius + 12.0);
    // the crank turning one way brings rising numbers to a fixed pointer only if they run the other way
    // round the disc
    let sense = if counter_clockwise { 1.0 } else { -1.0 };
    let at = |degrees: f64, r: f64| {
        let angle = (sense * degrees - 90.0).to_radians();
        (cx + r * angle.cos(), cy + r * angle.sin())
    };
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width:.3}mm\" height=\"{height:.3}mm\" viewBox=\"0 0 {width:.3} {height:.3}\" font-family=\"Noto Sans, sans-serif\">\n<rect width=\"{width:.3}\" height=\"{height:.3}\" fill=\"#fff\"/>\n<text x=\"{cx:.2}\" y=\"6\" font-size=\"4\" font-weight=\"bold\" text-anchor=\"middle\">{}: degree disc</text>\n<text x=\"{cx:.2}\" y=\"11\" font-size=\"2.8\" text-anchor=\"middle\">crank turns {} as you look at the disc; degrees after top dead centre pass a fixed pointer</text>\n",
        escape(&scenario.spec.name),
        if counter_clockwise { "anticlockwise" } else { "clockwise" },
    );
    let _ = writeln!(
        out,
        "<circle cx=\"{cx:.3}\" cy=\"{cy:.3}\" r=\"{radius:.3}\" fill=\"none\" stroke=\"#000\" stroke-width=\"0.3\"/>"
    );
    for degree in 0..360 {
        let long = match degree {
            d if d % 10 == 0 => 6.0,
            d if d % 5 == 0 => 4.5,
            _ => 3.0,
        };
        let ((x1, y1), (x2, y2)) =
            (at(f64::from(degree), radius), at(f64::from(degree), radius - long));
        let _ = writeln!(
            out,
            "<path d=\"M {x1:.3} {y1:.3} L {x2:.3} {y2:.3}\" stroke=\"#000\" stroke-width=\"{}\"/>",
            if degree % 10 == 0 { 0.25 } else { 0.15 }
        );
        if degree % 10 == 0 {
            let turn = sense * f64::from(degree);
            let (x, y) = at(f64::from(degree), radius - 8.6);
            let words = match degree {
                0 => "TDC".to_owned(),
                180 => "180".to_owned(),
                d => d.to_string(),
            };
            let _ = writeln!(
                out,
                "<text transform=\"translate({x:.3} {y:.3}) rotate({turn:.3})\" font-size=\"2.6\" text-anchor=\"middle\"{}>{words}</text>",
                if degree % 90 == 0 { " font-weight=\"bold\"" } else { "" }
            );
        }
    }
    let inner = 0.28 * radius;
    for event in events(scenario) {
        let outer = radius - 10.5;
        let ((x1, y1), (x2, y2)) = (at(event.angle, outer), at(event.angle, inner));
        let dash = if event.dash.is_empty() {
            String::new()
        } else {
            format!(" stroke-dasharray=\"{}\"", event.dash)
        };
        let _ = writeln!(
            out,
            "<path d=\"M {x1:.3} {y1:.3} L {x2:.3} {y2:.3}\" stroke=\"#000\" stroke-width=\"0.45\"{dash}/>"
        );
        // along the line, never upside down
        let turn = (sense * event.angle - 90.0).rem_euclid(360.0);
        let flipped = turn > 90.0 && turn < 270.0;
        let place = inner + (outer - inner) * (0.68 - 0.2 * event.ring);
        let (x, y) = at(event.angle, place);
        let turn = if flipped { turn - 180.0 } else { turn };
        let _ = writeln!(
            out,
            "<text transform=\"translate({x:.3} {y:.3}) rotate({turn:.3})\" dy=\"-1.1\" font-size=\"2.4\" text-anchor=\"middle\">{} {:.1}°</text>",
            event.words, event.angle
        );
    }
    let _ = writeln!(
        out,
        "<path d=\"M {:.3} {cy:.3} h 12 M {cx:.3} {:.3} v 12\" stroke=\"#000\" stroke-width=\"0.2\"/><circle cx=\"{cx:.3}\" cy=\"{cy:.3}\" r=\"3\" fill=\"none\" stroke=\"#000\" stroke-width=\"0.2\"/>",
        cx - 6.0,
        cy - 6.0
    );
    let (left, foot) = (cx - 50.0, height - 8.0);
    let _ = writeln!(
        out,
        "<path d=\"M {left:.3} {foot:.3} h 100 m -0.15 -1.5 v 3 M {:.3} {:.3} v 3\" stroke=\"#000\" stroke-width=\"0.3\" fill=\"none\"/><text x=\"{cx:.2}\" y=\"{:.3}\" font-size=\"2.6\" text-anchor=\"middle\">this bar must measure 100 mm; angles of the stack in the file; check every one on the engine. Freshcharge {}</text>\n</svg>",
        // the bar's ends are the outer edges of its strokes
        left + 0.15,
        foot - 1.5,
        foot + 4.5,
        env!("CARGO_PKG_VERSION")
    );
    cautioned(&out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_stand_where_the_events_are() {
        let text = include_str!("../../../scenarios/touring.toml");
        let scenario = freshcharge_sim::scenario::read(text).unwrap();
        let facts = Facts::of_scenario(&scenario, &[]);
        let opens = facts.get("exhaust_opens_deg_atdc").unwrap();
        for counter_clockwise in [false, true] {
            let svg = drawing(&scenario, 150.0, counter_clockwise);
            let words = format!("exhaust opens {opens:.1}°");
            let lines: Vec<&str> = svg.lines().collect();
            let at = lines.iter().position(|l| l.contains(&words)).unwrap();
            let numbers: Vec<f64> =
                lines[at - 1].split([' ', '"']).filter_map(|w| w.parse().ok()).collect();
            let (cx, cy) = (0.5 * 166.0, 8.0 + 75.0 + 12.0);
            let angle = (numbers[0] - cx).atan2(cy - numbers[1]).to_degrees();
            let wanted = if counter_clockwise { opens } else { -opens };
            assert!((angle - wanted).abs() < 0.01, "{angle} {wanted}");
        }
    }
}
