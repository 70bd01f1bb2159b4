//! What is usual of exhaust, transfers and inlet. Every range is common practice, no source.

use std::f64::consts::PI;

use super::{Here, Rule, Usual, between, nothing, rule, times};
use crate::geometry::{self, bore_area, swept_volume};
use crate::portable;
use crate::spec::Window;
use crate::units::{CM3, DEG, MM, MM2};

pub(super) const RULES: &[Rule] = &[
    rule(&["exhaust.duct_exit_diameter_mm"], |h| times(0.4, 0.9, h.spec.bore, "the bore"), nothing),
    rule(
        &["exhaust.window[].chord_mm"],
        |h| times(0.35, 0.72, h.spec.bore, "the bore"),
        chord_share,
    ),
    rule(
        &["intake.piston_port.window[].chord_mm"],
        |h| times(0.3, 0.72, h.spec.bore, "the bore"),
        chord_share,
    ),
    rule(
        &["transfer[].window[].chord_mm"],
        |h| times(0.12, 0.5, h.spec.bore, "the bore"),
        chord_share,
    ),
    rule(&["exhaust.window[].roof_depth_mm"], |h| roof(h, 125.0, 205.0), open_for),
    rule(&["transfer[].window[].roof_depth_mm"], |h| roof(h, 95.0, 145.0), open_for),
    rule(&["exhaust.window[].opens_deg_atdc"], |_| angle(125.0, 205.0), open_for),
    rule(&["transfer[].window[].opens_deg_atdc"], |_| angle(95.0, 145.0), open_for),
    rule(
        &[
            "exhaust.window[].roof_radius_mm",
            "exhaust.window[].floor_radius_mm",
            "transfer[].window[].roof_radius_mm",
            "transfer[].window[].floor_radius_mm",
            "intake.piston_port.window[].roof_radius_mm",
            "intake.piston_port.window[].floor_radius_mm",
        ],
        |h| between(0.0, 0.5 * chord(h)?, "at most half the width"),
        nothing,
    ),
    rule(
        &["exhaust.window[].roof_arch_mm"],
        |h| between(0.0, 0.25 * chord(h)?, "at most a quarter of the width"),
        nothing,
    ),
    rule(&["transfer[].window[].centre_deg"], beside_exhaust, nothing),
    rule(&["transfer[].window[].radial_deg"], |_| between(-60.0, 60.0, "to the radius"), nothing),
    rule(&["transfer[].window[].axial_deg"], |_| between(-10.0, 75.0, "upward"), nothing),
    rule(&["transfer[].duct_volume_cm3"], duct_volume, nothing),
    rule(
        &["transfer[].duct_length_mm"],
        |h| times(0.5, 3.0, 2.0 * h.spec.crank_train.radius, "the stroke"),
        nothing,
    ),
    rule(
        &["intake.crank_web.opens_deg_btdc", "intake.disc_valve.opens_deg_btdc"],
        |_| between(95.0, 165.0, "before top dead centre"),
        nothing,
    ),
    rule(
        &["intake.crank_web.closes_deg_atdc", "intake.disc_valve.closes_deg_atdc"],
        |_| between(35.0, 90.0, "after top dead centre"),
        nothing,
    ),
    rule(
        &["intake.crank_web.ramp_deg", "intake.disc_valve.ramp_deg"],
        |_| between(5.0, 60.0, ""),
        nothing,
    ),
    rule(
        &["intake.crank_web.window_area_mm2", "intake.disc_valve.window_area_mm2"],
        |h| {
            let area = bore_area(h.spec) / MM2;
            between(0.06 * area, 0.45 * area, "0.06 to 0.45 times the bore's area")
        },
        nothing,
    ),
    rule(&["intake.piston_port.window[].floor_depth_mm"], inlet_floor, inlet_open_for),
    rule(&["intake.piston_port.window[].roof_depth_mm"], inlet_roof, nothing),
    rule(&["intake.reed.stage[].length_mm"], |_| between(15.0, 70.0, ""), nothing),
    rule(&["intake.reed.stage[].width_mm"], |_| between(8.0, 60.0, ""), nothing),
    rule(&["intake.reed.stage[].thickness_mm"], petal_thickness, petal_frequency),
    rule(
        &["intake.reed.stage[].window_length_mm"],
        |h| share(h, "length_mm", 0.4, 0.95, "the petal's length"),
        nothing,
    ),
    rule(
        &["intake.reed.stage[].window_width_mm"],
        |h| share(h, "width_mm", 0.5, 1.0, "the petal's width"),
        nothing,
    ),
    rule(
        &["intake.reed.stage[].stop_mm"],
        |h| share(h, "length_mm", 0.1, 0.4, "the petal's length"),
        nothing,
    ),
];

/// Between two multiples of another number of the same table.
fn share(here: &Here, name: &str, low: f64, high: f64, what: &str) -> Option<Usual> {
    let whole = here.number(&here.beside(name))?;
    between(low * whole, high * whole, format!("{low} to {high} times {what}"))
}

/// Chord of the window asked about [mm].
fn chord(here: &Here) -> Option<f64> {
    here.number(&here.beside("chord_mm"))
}

fn chord_share(here: &Here) -> Option<String> {
    Some(format!("a width of {:.2} times the bore", chord(here)? * MM / here.spec.bore))
}

/// Depth of a roof that gives a duration between two [°].
fn roof(here: &Here, least: f64, most: f64) -> Option<Usual> {
    let crank = geometry::crank(here.spec);
    let edge = here.spec.stack.deck + here.spec.piston.crown_chamfer;
    let depth = |duration: f64| (edge + crank.at(PI - 0.5 * duration * DEG).drop) / MM;
    between(depth(most), depth(least), format!("open for {least:.0}° to {most:.0}°"))
}

/// Opening angle that gives a duration between two [°].
fn angle(least: f64, most: f64) -> Option<Usual> {
    let why = format!("open for {least:.0}° to {most:.0}°");
    between(180.0 - 0.5 * most, 180.0 - 0.5 * least, why)
}

/// The window asked about.
fn window<'a>(here: &Here<'a>) -> Option<&'a Window> {
    let spec = here.spec;
    if here.path.starts_with("exhaust") {
        spec.exhaust.windows.get(here.index(0))
    } else {
        spec.transfers.get(here.index(0))?.windows.get(here.index(1))
    }
}

fn open_for(here: &Here) -> Option<String> {
    let crank = geometry::crank(here.spec);
    let edge = here.spec.stack.deck + here.spec.piston.crown_chamfer;
    let drop = window(here)?.roof_depth - edge;
    let (opens, closes) = crank.angle_down(drop).zip(crank.angle_up(drop))?;
    Some(format!("a duration of {:.1}°", (closes - opens) / DEG))
}

/// A transfer lies beside the exhaust and not behind the boost port's place.
fn beside_exhaust(here: &Here) -> Option<Usual> {
    let spec = here.spec;
    let reach = spec.exhaust.windows.first()?.chord / spec.bore;
    let reach = portable::asin(reach.clamp(-1.0, 1.0)) / DEG;
    let why = format!("0 is the exhaust, whose window reaches to {reach:.0}°");
    between(reach + 12.0, 150.0, why)
}

fn duct_volume(here: &Here) -> Option<Usual> {
    let swept = swept_volume(here.spec) / CM3;
    let why = "0.02 to 0.6 times the swept volume, all ducts of the group together";
    between(0.02 * swept, 0.6 * swept, why)
}

/// Lower edge of the skirt with the piston at the top [m].
fn skirt_at_top(here: &Here) -> f64 {
    here.spec.stack.deck + here.spec.piston.skirt_length
}

fn inlet_floor(here: &Here) -> Option<Usual> {
    let crank = geometry::crank(here.spec);
    let depth = |half: f64| (skirt_at_top(here) + crank.at(half * DEG).drop) / MM;
    between(depth(50.0), depth(100.0), "open for 100° to 200°")
}

fn inlet_open_for(here: &Here) -> Option<String> {
    let floor = here.spec.intake.windows().get(here.index(0))?.floor_depth;
    let opens = geometry::crank(here.spec).angle_down(floor - skirt_at_top(here))?;
    Some(format!("a duration of {:.1}°", 2.0 * opens / DEG))
}

/// Below the crown at bottom dead centre, and uncovered for some of the time.
fn inlet_roof(here: &Here) -> Option<Usual> {
    let crank = geometry::crank(here.spec);
    let low = here.spec.stack.deck + crank.travel();
    let high = skirt_at_top(here) + crank.at(75.0 * DEG).drop;
    between(low / MM, high / MM, "below the crown at bottom dead centre, above the skirt's reach")
}

fn petal_thickness(here: &Here) -> Option<Usual> {
    match here.text(&here.beside("material"))? {
        "steel" => between(0.1, 0.3, "steel"),
        "glass" => between(0.25, 0.8, "glass fibre"),
        _ => between(0.2, 0.6, "carbon fibre"),
    }
}

fn petal_frequency(here: &Here) -> Option<String> {
    let stage = here.spec.intake.reed()?.stages.get(here.index(0))?;
    let frequency = geometry::reed::natural_frequency(&stage.petal);
    Some(format!("a petal of {frequency:.0} Hz"))
}
