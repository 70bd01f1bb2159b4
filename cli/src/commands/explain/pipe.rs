//! What the pipe pays of the blowdown, and when its suction comes.

use std::fmt::Write as _;
use std::sync::Arc;

use freshcharge_sim::cycle::{Settings, run_from, settle};
use freshcharge_sim::model::Engine;
use freshcharge_sim::result::{Point, Summary, TraceEvent};
use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::units::{BAR, DEG, MG};

use super::{Here, late};
use crate::export::layout::wrapped;

/// What the pipe pays of the blowdown: the same cycle from the same exhaust opening without it, and the
/// same engine without it in its own periodic state.
pub(super) fn pays_of(text: &mut String, scenario: &Scenario, here: &Here) {
    if scenario.spec.exhaust.pipe.is_none() {
        return;
    }
    let (same, own) = match without_it(scenario, here) {
        Ok(points) => points,
        Err(why) => {
            let _ = writeln!(text, "\nWithout the pipe: {why}.");
            return;
        }
    };
    let with = &here.point.summary;
    text.push_str("\nWhat the pipe pays of the blowdown\n");
    let lines = [
        ("with the pipe", with),
        ("without it, from the same exhaust opening", &same.summary),
        ("without it, settled", &own.summary),
    ];
    for (words, s) in lines {
        let _ = writeln!(
            text,
            "{words:<41} {:.2} bar at exhaust opening, {:.2} at transfer opening; late by {}",
            s.cylinder_pressure_eo / BAR,
            s.cylinder_pressure_to / BAR,
            late(s)
        );
    }
    let fell = |s: &Summary| (s.cylinder_pressure_eo - s.cylinder_pressure_to) / BAR;
    let words = format!(
        "Of the {:.2} bar that the cylinder falls until the transfers open, the pipe {}; it then falls below the crankcase {} after they have opened instead of {}. With the pipe {:.0} mg are trapped instead of {:.0} mg, {:.1} mg of fresh charge having been pushed back: so the blowdown has {} to do.",
        fell(with),
        pays(fell(with) - fell(&same.summary), 2, " bar"),
        late(with),
        late(&same.summary),
        with.trapped_mass / MG,
        own.summary.trapped_mass / MG,
        with.exhaust_return_fresh / MG,
        if with.trapped_mass > own.summary.trapped_mass { "more" } else { "less" }
    );
    let _ = writeln!(text, "{}", wrapped(&words));
    if let (Some(with_it), Some(without)) = (with.late_angle, same.summary.late_angle) {
        let blowdown = here.emptying.angle_deg;
        let needed = |late: f64| blowdown + late / DEG;
        let words = format!(
            "From exhaust opening until the pressures are level, transfers opening on the way, takes {:.1}° with the pipe and {:.1}° without, from the same exhaust opening: of the blowdown that this speed requires the pipe {}.",
            needed(with_it),
            needed(without),
            pays((without - with_it) / DEG, 1, "°")
        );
        let _ = writeln!(text, "{}", wrapped(&words));
    }
    if let Some(words) = suction(here) {
        let _ = writeln!(text, "{}", wrapped(&words));
    }
}

/// The same cycle from the same exhaust opening without pipes, and the periodic state without them.
fn without_it(scenario: &Scenario, here: &Here) -> Result<(Point, Point), String> {
    let engine = Engine::new(&scenario.spec.without_pipes()).map_err(|e| e.to_string())?;
    let model = engine.at_speed(here.point.rpm).map_err(|e| e.to_string())?;
    let same = run_from(&model, &here.trace.start, 1, &Settings::single());
    let own = settle(&Arc::new(model), &Settings::single());
    Ok((same.map_err(|e| e.to_string())?, own.map_err(|e| e.to_string())?))
}

/// Whether the pipe pays or costs, and how much.
fn pays(gain: f64, digits: usize, unit: &str) -> String {
    if 10_f64.powi(digits as i32) * gain.abs() < 0.5 {
        return "changes nothing".to_owned();
    }
    let verb = if gain > 0.0 { "pays for" } else { "costs" };
    format!("{verb} {:.digits$}{unit}", gain.abs())
}

/// When the port is under suction, and what that serves.
fn suction(here: &Here) -> Option<String> {
    let pipe = here.trace.pipes.iter().find(|p| p.side == "exhaust")?;
    let opens = here.trace.event(TraceEvent::TransferOpens)?;
    let closes = here.trace.event(TraceEvent::ExhaustCloses)?;
    let rows = pipe.angle.iter().zip(&pipe.port_pressure).filter(|(a, _)| **a < closes);
    let (angle, least) = rows.min_by(|a, b| a.1.total_cmp(b.1))?;
    let serves = if *angle > opens {
        "after the transfers have opened: it serves scavenging, not the blowdown"
    } else {
        "before the transfers open: it serves the blowdown"
    };
    Some(format!(
        "The suction of the pipe is deepest at {:.0}° ({:.2} bar at the port), {serves}.",
        angle / DEG,
        least / BAR
    ))
}
