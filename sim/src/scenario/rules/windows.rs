//! Windows in the bore: shape, reach, neighbours.

use super::Findings;
use crate::crank::Crank;
use crate::spec::{EngineSpec, Intake, Window};
use crate::units::{DEG, MM, TURN};
use crate::window::{Shape, ShapeFault};

/// A window with its path in an engine file.
struct Placed<'a> {
    path: String,
    /// Windows with the same number belong to one port.
    port: usize,
    window: &'a Window,
    /// Opened by the crown edge, not the skirt.
    crown: bool,
}

fn all(spec: &EngineSpec) -> Vec<Placed<'_>> {
    let mut ports = vec![("exhaust".to_owned(), &spec.exhaust.windows, true)];
    for (g, group) in spec.transfers.iter().enumerate() {
        ports.push((format!("transfer[{g}]"), &group.windows, true));
    }
    if let Intake::PistonPort { windows, .. } = &spec.intake {
        ports.push(("intake.piston_port".to_owned(), windows, false));
    }
    let mut placed = Vec::new();
    for (port, (path, windows, crown)) in ports.into_iter().enumerate() {
        placed.extend(windows.iter().enumerate().map(|(i, window)| Placed {
            path: format!("{path}.window[{i}]"),
            port,
            window,
            crown,
        }));
    }
    placed
}

/// Whether every window can be drawn and is reached by the piston.
pub(super) fn check(found: &mut Findings, spec: &EngineSpec, crank: &Crank<f64>) -> bool {
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
        overlaps(found, &windows, spec.bore);
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
        found.add(format!("{}.roof_depth_mm", placed.path), remedy);
    }
}

fn skirt_reaches(found: &mut Findings, placed: &Placed, spec: &EngineSpec, crank: &Crank<f64>) {
    let edge = spec.stack.deck + spec.piston.skirt_length;
    let (floor, roof) = (placed.window.floor_depth, placed.window.roof_depth);
    let (top, bottom) = (edge, edge + crank.travel());
    let floor_key = format!("{}.floor_depth_mm", placed.path);
    let crown = spec.stack.deck + crank.travel();
    if floor <= top {
        let remedy = format!(
            "the skirt never uncovers this window: with the piston at the top its lower edge stands {:.2} mm below the top face",
            top / MM
        );
        found.add(floor_key, remedy);
    } else if floor >= bottom {
        let remedy = format!(
            "the skirt never shuts this window: with the piston at the bottom its lower edge stands {:.2} mm below the top face",
            bottom / MM
        );
        found.add(floor_key, remedy);
    } else if roof < crown {
        let remedy = format!(
            "the crown uncovers this inlet window at bottom dead centre, where it stands {:.2} mm below the top face; the roof must lie lower",
            crown / MM
        );
        found.add(format!("{}.roof_depth_mm", placed.path), remedy);
    }
}

/// Whether the window can be drawn and cut into this bore.
fn fits(found: &mut Findings, placed: &Placed, bore: f64) -> bool {
    let (window, path) = (placed.window, &placed.path);
    if window.chord >= bore {
        let remedy = format!("a window must be narrower than the bore ({:.2} mm)", bore / MM);
        found.add(format!("{path}.chord_mm"), remedy);
        return false;
    }
    if window.floor_depth <= window.roof_depth {
        let remedy = format!(
            "the floor ({:.2} mm below the top face) must lie below the roof ({:.2} mm)",
            window.floor_depth / MM,
            window.roof_depth / MM
        );
        found.add(format!("{path}.floor_depth_mm"), remedy);
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
    found.add(format!("{path}.{key}"), format!("{fault}; make it smaller"));
    false
}

/// Two windows cannot take the same metal. A window of which only the file's default places it (a
/// centre of exactly zero that is not the exhaust's) is left out: its place is not known.
fn overlaps(found: &mut Findings, windows: &[Placed], bore: f64) {
    let known = |p: &Placed| p.port == 0 || p.window.centre != 0.0;
    let half = |w: &Window| (w.chord / bore).clamp(-1.0, 1.0).asin();
    for (j, later) in windows.iter().enumerate() {
        for earlier in windows[..j].iter().filter(|e| known(e) && known(later)) {
            let (a, b) = (earlier.window, later.window);
            let apart = (a.centre - b.centre).rem_euclid(TURN);
            let apart = apart.min(TURN - apart);
            let level = a.roof_depth < b.floor_depth && b.roof_depth < a.floor_depth;
            let needed = half(a) + half(b);
            if level && apart < needed {
                let remedy = format!(
                    "this window and {} cover each other: their centres are {:.1}° apart, their widths need {:.1}°",
                    earlier.path,
                    apart / DEG,
                    needed / DEG
                );
                found.add(format!("{}.centre_deg", later.path), remedy);
                break;
            }
        }
    }
}
