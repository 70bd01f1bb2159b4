//! `freshcharge disc`: a degree disc to print, with this engine's events on it.

use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::workshop::Facts;

use crate::Outcome;
use crate::args::DiscArgs;
use crate::chart::page::with_cautions;
use crate::files::{self, Failure};
use crate::present::drawing::{self, Drawing, Line, Point, Type};
use crate::present::style::{CRANKCASE, Colour, EXHAUST, FRESH_GAS, INK, print};
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
    let disc = drawing(&scenario, args.diameter_mm, args.counter_clockwise);
    files::make_folder(&args.out)?;
    let path = |ending: &str| args.out.join(format!("degree-disc.{ending}"));
    let svg = disc.svg();
    files::write(&path("svg"), svg.as_bytes())?;
    files::write(&path("png"), &drawing::png("degree-disc", &svg, 1600)?)?;
    files::write(&path("pdf"), &drawing::pages("degree-disc", &[disc], args.paper)?)?;
    files::print(&format!(
        "{}\n{}\nPrint at 100 %. The disc turns with the crank; the pointer is fixed. Find top dead centre with a stop on both sides, not by feel, and set zero there.\n",
        path("pdf").display(),
        path("svg").display()
    ))?;
    Ok(Outcome::Done)
}

/// A port that opens and shuts.
struct Port {
    /// Opens and shuts at these degrees after top dead centre, the second the larger.
    open: (f64, f64),
    words: [&'static str; 2],
    /// Which ring its arc and words stand on, from outside.
    ring: f64,
    colour: Colour,
    dash: Option<(f64, f64)>,
}

fn ports(scenario: &Scenario) -> Vec<Port> {
    let facts = Facts::of_scenario(scenario, &[]);
    let get = |key: &str| facts.get(key);
    let transfers = get("transfer_opens_deg_atdc");
    let shut = transfers.zip(get("transfer_duration_deg")).map(|(o, d)| o + d);
    let intake = get("intake_opens_deg_btdc").map(|a| -a);
    let exhaust = get("exhaust_opens_deg_atdc").zip(get("exhaust_closes_deg_atdc"));
    let all = [
        (exhaust, ["exhaust opens", "exhaust shut"], EXHAUST, None),
        (transfers.zip(shut), ["transfers open", "transfers shut"], FRESH_GAS, Some((3.0, 1.2))),
        (
            intake.zip(get("intake_closes_deg_atdc")),
            ["intake opens", "intake shut"],
            CRANKCASE,
            Some((0.8, 1.0)),
        ),
    ];
    let port = |(ring, (open, words, colour, dash)): (usize, _)| {
        let open: Option<(f64, f64)> = open;
        Some(Port { open: open?, words, ring: ring as f64, colour, dash })
    };
    all.into_iter().enumerate().filter_map(port).collect()
}

/// The disc on its sheet.
struct Disc {
    /// [mm]
    radius: f64,
    centre: Point,
    /// +1 when degrees run clockwise on the disc. A crank turning one way brings rising numbers to a fixed pointer
    /// only if they run the other way round.
    sense: f64,
}

/// The disc, to print and cut out.
pub(crate) fn drawing(scenario: &Scenario, diameter: f64, counter_clockwise: bool) -> Drawing {
    let radius = 0.5 * diameter;
    let room = print::ROOM;
    let (width, height) = ((diameter + 2.0 * room).max(120.0), diameter + 2.0 * room + 26.0);
    let disc = Disc {
        radius,
        centre: (0.5 * width, room + radius + 12.0),
        sense: if counter_clockwise { 1.0 } else { -1.0 },
    };
    let mut sheet = Drawing::new(width, height);
    let middle = 0.5 * width;
    let title = format!("{}: degree disc", scenario.spec.name);
    sheet.words((middle, 6.0), &title, Type::new(print::TITLE, INK).bold().middle());
    let way = if counter_clockwise { "anticlockwise" } else { "clockwise" };
    let what = format!(
        "crank turns {way} as you look at the disc; degrees after top dead centre pass a fixed pointer"
    );
    let small = Type::new(print::NAME, INK).middle();
    sheet.words((middle, 11.0), &what, small);
    disc.scale(&mut sheet);
    for port in ports(scenario) {
        disc.port(&mut sheet, &port);
    }
    disc.cross(&mut sheet);
    let foot = height - print::ROOM;
    sheet.bar((middle - 50.0, foot), 100.0, false, Line::new(INK, print::FRAME));
    let check = format!(
        "this bar must measure 100 mm; angles of the stack in the file; check every one on the engine. Freshcharge {}",
        env!("CARGO_PKG_VERSION")
    );
    sheet.words((middle, foot + 4.5), &check, small);
    with_cautions(sheet)
}

impl Disc {
    /// Place of an angle after top dead centre [°] at a radius [mm].
    fn at(&self, degrees: f64, radius: f64) -> Point {
        let angle = (self.sense * degrees - 90.0).to_radians();
        (self.centre.0 + radius * angle.cos(), self.centre.1 + radius * angle.sin())
    }

    /// The rim with a stroke a degree and a number every ten.
    fn scale(&self, sheet: &mut Drawing) {
        sheet.circle(self.centre, self.radius, Line::new(INK, print::FRAME));
        for degree in 0..360 {
            let angle = f64::from(degree);
            let (long, weight) = match degree {
                d if d % 10 == 0 => (6.0, print::FINE),
                d if d % 5 == 0 => (4.5, print::HAIR),
                _ => (3.0, print::HAIR),
            };
            let (rim, inner) = (self.at(angle, self.radius), self.at(angle, self.radius - long));
            sheet.line(rim, inner, Line::new(INK, weight));
            if degree % 10 == 0 {
                let words = if degree == 0 { "TDC".to_owned() } else { degree.to_string() };
                let set = Type::new(print::NAME, INK).middle().turned(self.sense * angle);
                let set = if degree % 90 == 0 { set.bold() } else { set };
                sheet.words(self.at(angle, self.radius - 8.6), &words, set);
            }
        }
    }

    /// A port's two events as lines, and what lies between them as an arc.
    fn port(&self, sheet: &mut Drawing, port: &Port) {
        let (outer, inner) = (self.radius - 10.5, 0.28 * self.radius);
        let line = Line::new(port.colour, print::CUT);
        let line = port.dash.map_or(line, |dash| line.dashed(dash));
        let along = |degrees: f64| self.sense * degrees - 90.0;
        let (opens, shuts) = port.open;
        let ring = inner * (1.0 - 0.16 * port.ring);
        sheet.arc(self.centre, ring, (along(opens), along(shuts)), line);
        for (angle, words) in [(opens, port.words[0]), (shuts, port.words[1])] {
            let angle = angle.rem_euclid(360.0);
            sheet.line(self.at(angle, outer), self.at(angle, ring), line);
            // along the line, never upside down
            let turn = along(angle).rem_euclid(360.0);
            let turn = if turn > 90.0 && turn < 270.0 { turn - 180.0 } else { turn };
            let (x, y) = self.at(angle, inner + (outer - inner) * (0.68 - 0.2 * port.ring));
            // a little off the line
            let up = turn.to_radians();
            let place = (x + 1.1 * up.sin(), y - 1.1 * up.cos());
            let set = Type::new(print::SCALE, INK).middle().turned(turn);
            sheet.words(place, &format!("{words} {angle:.1}°"), set);
        }
    }

    /// Where the crankshaft's middle goes.
    fn cross(&self, sheet: &mut Drawing) {
        let ((x, y), line) = (self.centre, Line::new(INK, print::FINE));
        sheet.line((x - 6.0, y), (x + 6.0, y), line);
        sheet.line((x, y - 6.0), (x, y + 6.0), line);
        sheet.circle(self.centre, 3.0, line);
    }
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
            let svg = drawing(&scenario, 150.0, counter_clockwise).svg();
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
