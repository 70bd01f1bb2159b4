//! What a run means, in plain words.

use std::fmt::Write;

use freshcharge_sim::result::Point;
use freshcharge_sim::units::MG;

use crate::present::stacks;
use freshcharge_sim::studies::run::Run;

/// Width of the text.
const COLUMNS: usize = 80;
/// Below this a backflow is not worth a word [kg].
const NOTABLE: f64 = 1e-9;

/// Words under the table.
pub(crate) fn run(run: &Run) -> String {
    let mut out = String::from("\n");
    for point in run.rows.iter().filter_map(|r| r.point()) {
        if let Some(why) = &point.standstill {
            let _ = writeln!(out, "At {:.0}/min the engine would not run: {why}.", point.rpm);
        }
    }
    let points = run.rows.iter().filter_map(|r| r.point());
    let points: Vec<&Point> = points.filter(|p| p.usable()).collect();
    if !points.is_empty() {
        backflow(&mut out, &points);
        reach(&mut out, &points);
        if run.scenario.spec.exhaust.pipe.is_some() {
            pipe(&mut out, &points);
            edges(&mut out, &points);
        }
        petals(&mut out, &points);
    }
    for row in &run.rows {
        match &row.result {
            Err(error) => {
                let _ = writeln!(out, "At {:.0}/min nothing could be computed: {error}.", row.rpm);
            }
            Ok((point, _)) if point.verdict.turns().is_some_and(|turns| turns > 1) => {
                let turns = point.verdict.turns().unwrap_or_default();
                let _ = writeln!(
                    out,
                    "At {:.0}/min the cycle repeats every {turns} turns, not every turn; its row is the mean over them.",
                    row.rpm
                );
            }
            Ok((point, _)) if !point.answers() => {
                let _ = writeln!(
                    out,
                    "At {:.0}/min the cycle did not settle: after {} cycles it still changes by {:.1e} per cycle. Do not use that row.",
                    row.rpm,
                    point.verdict.cycles(),
                    point.verdict.residual()
                );
            }
            Ok(_) => {}
        }
    }
    for note in &run.scenario.notes {
        let _ = writeln!(out, "Note: {note}.");
    }
    let stack = stacks::line(&run.scenario);
    defaults(&mut out, run);
    out.push_str(
        "Trends and differences between neighbouring builds are worth more than absolute power: \
         given scavenging, discharge coefficients and burning, no measured engine behind it \
         yet.\n",
    );
    // the stack's line stays one line
    format!("\n{stack}{}", textwrap::fill(out.trim_start_matches('\n'), COLUMNS))
}

/// Over which speeds hot gas comes back.
fn backflow(out: &mut String, points: &[&Point]) {
    let hot = |p: &&&Point| p.summary.hot_backflow_mass > NOTABLE;
    let speeds: Vec<f64> = points.iter().filter(hot).map(|p| p.rpm).collect();
    let worst = points
        .iter()
        .max_by(|a, b| a.summary.hot_backflow_mass.total_cmp(&b.summary.hot_backflow_mass));
    let (Some(first), Some(last), Some(worst)) = (speeds.first(), speeds.last(), worst) else {
        out.push_str(
            "Blowdown is enough at every speed computed: when the transfers open, the cylinder has \
             fallen to crankcase pressure and no hot gas runs back.\n",
        );
        return;
    };
    let range = if speeds.len() == points.len() {
        "at every speed computed".to_owned()
    } else if (first - last).abs() < 0.5 {
        format!("at {first:.0}/min")
    } else {
        format!("from {first:.0} to {last:.0}/min")
    };
    let s = &worst.summary;
    let _ = writeln!(
        out,
        "Hot gas runs back into the transfer ducts {range}.\nIt is worst at {:.0}/min: the transfers open on \
         {:.2} bar in the cylinder and {:.2} bar in the crankcase, the cylinder falls below the crankcase {} \
         later, and {:.2} mg have gone back by then.",
        worst.rpm,
        s.cylinder_pressure_to / 1e5,
        s.crankcase_pressure_to / 1e5,
        s.late_angle.map_or("never before they close, not".to_owned(), |a| format!(
            "{:.1}°",
            a.to_degrees()
        )),
        s.hot_backflow_mass * 1e6,
    );
}

/// Whether it reaches the crankcase.
fn reach(out: &mut String, points: &[&Point]) {
    let reaching: Vec<f64> =
        points.iter().filter(|p| p.summary.hot_backflow_penetration > 1.0).map(|p| p.rpm).collect();
    let deepest = points.iter().map(|p| p.summary.hot_backflow_penetration).fold(0.0, f64::max);
    if let (Some(first), Some(last)) = (reaching.first(), reaching.last()) {
        let _ = writeln!(
            out,
            "Gas from the cylinder reaches the crankcase between {first:.0} and {last:.0}/min (penetration above 1 duct volume): \
             look for soot and varnish below the piston."
        );
    } else if deepest > 0.0 {
        let _ = writeln!(
            out,
            "It does not reach the crankcase: at its deepest it fills {:.0} % of a transfer duct.",
            100.0 * deepest
        );
    }
}

/// What the exhaust pipe does over the speeds.
fn pipe(out: &mut String, points: &[&Point]) {
    let returned = |p: &&&Point| p.summary.exhaust_return_fresh;
    let Some(most) = points.iter().max_by(|a, b| returned(a).total_cmp(&returned(b))) else {
        return;
    };
    if returned(&most) < NOTABLE {
        out.push_str("The exhaust pipe pushes no fresh charge back at any speed computed.\n");
        return;
    }
    let _ = writeln!(
        out,
        "The exhaust pipe pushes fresh charge back into the cylinder, most at {:.0}/min: {:.1} mg of {:.0} mg \
         trapped. --against-plain shows what the pipe adds, --charts its waves.",
        most.rpm,
        returned(&most) * 1e6,
        most.summary.trapped_mass * 1e6
    );
}

/// Share of power lost to the next speed that counts as the edge of a band, and the widest step [1/min].
const EDGE: (f64, f64) = (0.25, 600.0);

/// Where power breaks off from one speed to the next: two states may repeat there.
fn edges(out: &mut String, points: &[&Point]) {
    for pair in points.windows(2) {
        let (a, b) = (pair[0].summary.power, pair[1].summary.power);
        let near = (pair[1].rpm - pair[0].rpm).abs() <= EDGE.1;
        if near && a.min(b) < (1.0 - EDGE.0) * a.max(b) && a.max(b) > 0.0 {
            let _ = writeln!(
                out,
                "Between {:.0} and {:.0}/min power goes from {:.2} to {:.2} kW: the edge of the pipe's band. Smaller steps of speed show where; right there two states may repeat, of which one is found.",
                pair[0].rpm,
                pair[1].rpm,
                a / 1e3,
                b / 1e3
            );
        }
    }
}

/// What the petals of a reed valve do over the speeds, and what they may not bear.
fn petals(out: &mut String, points: &[&Point]) {
    let share = |p: &Point| p.most_of_reed(|r| r.lift / r.stop).unwrap_or(0.0);
    let Some(widest) = points.iter().max_by(|a, b| share(a).total_cmp(&share(b))) else { return };
    if widest.reed.is_empty() {
        return;
    }
    let back = |p: &Point| p.summary.reed_backflow_mass.unwrap_or(0.0);
    let worst = points.iter().max_by(|a, b| back(a).total_cmp(&back(b))).unwrap_or(widest);
    let _ = writeln!(
        out,
        "The petals lift furthest at {:.0}/min, to {:.0} % of their stop. Most flows back past them at {:.0}/min: {:.2} mg of {:.0} mg delivered.",
        widest.rpm,
        100.0 * share(widest),
        worst.rpm,
        back(worst) / MG,
        worst.summary.delivered_fresh / MG
    );
    let again = |p: &&&Point| p.most_of_reed(|r| f64::from(r.openings)).unwrap_or(0.0) > 1.0;
    let bouncing: Vec<String> =
        points.iter().filter(again).map(|p| format!("{:.0}", p.rpm)).collect();
    if !bouncing.is_empty() {
        let _ = writeln!(
            out,
            "They leave their seats more than once a cycle at {}/min: they bounce or swing by themselves. --charts shows their lift.",
            bouncing.join(", ")
        );
    }
    let strain = |p: &Point| p.most_of_reed(|r| r.fatigue_share).unwrap_or(0.0);
    let Some(most) = points.iter().max_by(|a, b| strain(a).total_cmp(&strain(b))) else { return };
    if strain(most) > NEAR_FATIGUE {
        let _ = writeln!(
            out,
            "Caution: at {:.0}/min the stress at a petal's clamp is {:.0} % of what its material bears for ever (from memory, makers differ by a quarter). Petals crack and chip, and what breaks off goes through the engine: less lift at the stop, or thinner petals with a second stage.",
            most.rpm,
            100.0 * strain(most)
        );
    }
}

/// Share of the stress that lasts above which a word of caution stands.
const NEAR_FATIGUE: f64 = 0.8;

/// Keys whose defaults weigh most in the results, in the order in which they matter.
const WEIGHTY: &[&str] = &[
    "discharge_coefficient",
    "combustion.start_deg_btdc",
    "combustion.duration_deg",
    "combustion.efficiency",
    "exhaust.back_pressure_bar",
    "exhaust.gas_temperature_c",
    "scavenging.law",
    "heat.law",
    "friction.constant_bar",
    "fuel.lambda",
    "crankcase.wall_w_per_k",
    "ramp_deg",
];

/// Which defaults stand behind the numbers.
fn defaults(out: &mut String, run: &Run) {
    let weighty: Vec<String> = run
        .scenario
        .defaults
        .iter()
        .filter(|d| WEIGHTY.iter().any(|w| d.key.ends_with(w)))
        .map(|d| format!("{} = {}", d.key, d.value))
        .collect();
    if !weighty.is_empty() {
        let _ = writeln!(
            out,
            "Not in the file, and these defaults matter most: {}.",
            weighty.join(", ")
        );
    }
    let rest = run.scenario.defaults.len() - weighty.len();
    if rest > 0 {
        let _ = writeln!(out, "{rest} further keys stand at their defaults (--json lists all).");
    }
}
