//! Windows in the bore: shape, reach, neighbours.
//!
//! # Decisions
//!
//! - Two windows may not take the same metal; a window whose centre is exactly zero and that is no
//!   exhaust window has no known place and is left out of that rule.

use super::Findings;
use crate::crank::Crank;
use crate::portable;
use crate::spec::{EngineSpec, Window};
use crate::units::{DEG, MM, TURN};
use crate::window::{Shape, ShapeFault};

/// Where a window belongs.
#[derive(Clone, Copy, PartialEq)]
enum Port {
    Exhaust,
    Transfer(usize),
    Inlet,
}

/// A window with its place in an engine file.
struct Placed<'a> {
    /// Exhaust, transfer group or inlet, and the window's number.
    port: Port,
    /// Table of the intake's windows.
    inlet: &'static str,
    number: usize,
    window: &'a Window,
    /// Opened by the crown edge, not the skirt.
    crown: bool,
}

impl Placed<'_> {
    /// Its path in an engine file.
    fn path(&self) -> String {
        let number = self.number;
        match self.port {
            Port::Exhaust => format!("exhaust.window[{number}]"),
            Port::Transfer(g) => format!("transfer[{g}].window[{number}]"),
            Port::Inlet => format!("intake.{}.window[{number}]", self.inlet),
        }
    }
}

fn all(spec: &EngineSpec) -> Vec<Placed<'_>> {
    let mut ports = vec![(Port::Exhaust, &spec.exhaust.windows[..])];
    ports.extend(
        spec.transfers.iter().enumerate().map(|(g, t)| (Port::Transfer(g), &t.windows[..])),
    );
    ports.push((Port::Inlet, spec.intake.windows()));
    let inlet = if spec.intake.reed().is_some() { "reed" } else { "piston_port" };
    let mut placed = Vec::new();
    for (port, windows) in ports {
        let crown = port != Port::Inlet;
        let of_port = windows.iter().enumerate();
        placed.extend(of_port.map(|(number, window)| Placed {
            port,
            inlet,
            number,
            window,
            crown,
        }));
    }
    placed
}

/// Whether every window can be drawn and is reached by the piston.
pub(super) fn check(
    found: &mut Findings,
    spec: &EngineSpec,
    crank: &Crank<f64>,
    known: &dyn Fn(&str) -> bool,
) -> bool {
    let before = found.0.len();
    let windows = all(spec);
    for placed in &windows {
        if fits(found, placed, spec.bore) {
            if placed.crown {
                crown_reaches(found, placed, spec, crank);
            } else {
                skirt_reaches(found, placed, spec, crank);
            }
        }
    }
    if found.0.len() == before {
        overlaps(found, &windows, spec.bore, known);
    }
    found.0.len() == before
}

fn crown_reaches(found: &mut Findings, placed: &Placed, spec: &EngineSpec, crank: &Crank<f64>) {
    let edge = spec.stack.deck + spec.piston.crown_chamfer;
    let drop = placed.window.roof_depth - edge;
    let travel = crank.travel();
    if drop < 0.0 || drop >= travel {
        let remedy = format!(
            "the roof lies {:.2} mm below the top face; the crown edge travels from {:.2} to {:.2} mm and must pass it",
            placed.window.roof_depth / MM,
            edge / MM,
            (edge + travel) / MM
        );
        found.add(format!("{}.roof_depth_mm", placed.path()), remedy);
    }
}

fn skirt_reaches(found: &mut Findings, placed: &Placed, spec: &EngineSpec, crank: &Crank<f64>) {
    let edge = spec.stack.deck + spec.piston.skirt_length;
    let (floor, roof) = (placed.window.floor_depth, placed.window.roof_depth);
    let (top, bottom) = (edge, edge + crank.travel());
    let crown = spec.stack.deck + crank.travel();
    if floor <= top {
        let remedy = format!(
            "the skirt never uncovers this window: with the piston at the top its lower edge stands {:.2} mm below the top face",
            top / MM
        );
        found.add(format!("{}.floor_depth_mm", placed.path()), remedy);
    } else if floor >= bottom {
        let remedy = format!(
            "the skirt never shuts this window: with the piston at the bottom its lower edge stands {:.2} mm below the top face",
            bottom / MM
        );
        found.add(format!("{}.floor_depth_mm", placed.path()), remedy);
    } else if roof < crown {
        let remedy = format!(
            "the crown uncovers this inlet window at bottom dead centre, where it stands {:.2} mm below the top face; the roof must lie lower",
            crown / MM
        );
        found.add(format!("{}.roof_depth_mm", placed.path()), remedy);
    }
}

/// Whether the window can be drawn and cut into this bore.
fn fits(found: &mut Findings, placed: &Placed, bore: f64) -> bool {
    let window = placed.window;
    if window.chord >= bore {
        let remedy = format!("a window must be narrower than the bore ({:.2} mm)", bore / MM);
        found.add(format!("{}.chord_mm", placed.path()), remedy);
        return false;
    }
    if window.floor_depth <= window.roof_depth {
        let remedy = format!(
            "the floor ({:.2} mm below the top face) must lie below the roof ({:.2} mm)",
            window.floor_depth / MM,
            window.roof_depth / MM
        );
        found.add(format!("{}.floor_depth_mm", placed.path()), remedy);
        return false;
    }
    let numbers = [window.chord, window.floor_depth, window.roof_depth];
    if numbers.iter().any(|n| n.is_nan()) {
        return false;
    }
    let Err(fault) = Shape::of(window) else { return true };
    let larger =
        if window.floor_radius > window.roof_radius { "floor_radius_mm" } else { "roof_radius_mm" };
    let key = match fault {
        ShapeFault::ArchTooHigh { .. } => "roof_arch_mm",
        ShapeFault::NoArea { .. } => "chord_mm",
        ShapeFault::TooHigh { .. }
            if window.roof_arch > window.roof_radius.max(window.floor_radius) =>
        {
            "roof_arch_mm"
        }
        _ => larger,
    };
    found.add(format!("{}.{key}", placed.path()), format!("{fault}; make it smaller"));
    false
}

/// Centre of the window at a path [rad].
pub(super) fn centre(spec: &EngineSpec, path: &str) -> Option<f64> {
    all(spec).iter().find(|p| p.path() == path).map(|p| p.window.centre)
}

/// Two windows cannot take the same metal. A window that nothing but a default places is left out: its
/// place is not known.
fn overlaps(found: &mut Findings, windows: &[Placed], bore: f64, placed: &dyn Fn(&str) -> bool) {
    let known: Vec<bool> = windows.iter().map(|p| placed(&p.path())).collect();
    let half = |w: &Window| portable::asin((w.chord / bore).clamp(-1.0, 1.0));
    for (j, later) in windows.iter().enumerate() {
        let neighbours = windows[..j].iter().zip(&known);
        for (earlier, _) in neighbours.filter(|(_, its)| **its && known[j]) {
            let (a, b) = (earlier.window, later.window);
            let apart = (a.centre - b.centre).rem_euclid(TURN);
            let apart = apart.min(TURN - apart);
            let level = a.roof_depth < b.floor_depth && b.roof_depth < a.floor_depth;
            let needed = half(a) + half(b);
            if level && apart < needed {
                let remedy = format!(
                    "this window and {} cover each other: their centres are {:.1}° apart, their widths need {:.1}°; write the direction of its middle as seen from above, 0 at the exhaust",
                    earlier.path(),
                    apart / DEG,
                    needed / DEG
                );
                found.add(format!("{}.centre_deg", later.path()), remedy);
                break;
            }
        }
    }
}
