//! Plausibility: what no engine can be. All faults are reported together.

use super::convert::Conversion;
use crate::crank::Crank;
use crate::model::Timing;
use crate::spec::{EngineSpec, Intake, Window};
use crate::units::{DEG, MM, TURN};
use crate::window::Shape;

/// Adds every fault of the engine.
pub(super) fn check(c: &mut Conversion, spec: &EngineSpec) {
    let sound = crank_train(c, spec);
    if !sound || !c.faults.is_empty() {
        return;
    }
    let crank =
        Crank::new(spec.crank_train.radius, spec.crank_train.rod, spec.crank_train.pin_offset);
    windows(c, spec, &crank);
    names(c, spec);
    rotary(c, spec);
    if let Err(fault) = crate::engine::scavenging::ExitCurve::of(&spec.scavenging) {
        c.fault("scavenging.law", fault.to_string());
    }
    if c.faults.is_empty() {
        order(c, spec, &crank);
    }
    if c.faults.is_empty() {
        burning(c, spec, &crank);
    }
}

fn crank_train(c: &mut Conversion, spec: &EngineSpec) -> bool {
    let (r, l, e) = (spec.crank_train.radius, spec.crank_train.rod, spec.crank_train.pin_offset);
    // the crank must get past bottom dead centre: l − r > |e|
    if l - r <= e.abs() {
        let remedy = format!(
            "the rod must be longer than the crank radius ({:.2} mm) and the pin offset together; check the distance between centres",
            r / MM
        );
        c.fault("crank_train.rod_mm", remedy);
        return false;
    }
    true
}

fn windows(c: &mut Conversion, spec: &EngineSpec, crank: &Crank<f64>) {
    let travel = crank.travel();
    let edge = spec.stack.deck + spec.piston.crown_chamfer;
    let mut ports = vec![("exhaust".to_owned(), &spec.exhaust.windows, true)];
    for (g, group) in spec.transfers.iter().enumerate() {
        ports.push((format!("transfer[{g}]"), &group.windows, true));
    }
    if let Intake::PistonPort { windows, .. } = &spec.intake {
        ports.push(("intake.piston_port".to_owned(), windows, false));
    }
    for (port, list, crown) in ports {
        for (i, window) in list.iter().enumerate() {
            let path = format!("{port}.window[{i}]");
            let fits = window_fits(c, &path, window, spec.bore);
            let roof_drop = window.roof_depth - edge;
            if fits && crown && !(0.0..travel).contains(&roof_drop) {
                let key = roof_key(c, &path);
                let remedy = format!(
                    "the crown edge moves from {:.2} to {:.2} mm below the top face; the roof must lie between",
                    edge / MM,
                    (edge + travel) / MM
                );
                c.fault(&key, remedy);
            }
            let skirt = window.floor_depth - spec.stack.deck - spec.piston.skirt_length;
            if fits && !crown && skirt <= 0.0 {
                let remedy = format!(
                    "the skirt never uncovers this window: with the piston at the top its lower edge stands {:.2} mm below the top face",
                    (spec.stack.deck + spec.piston.skirt_length) / MM
                );
                c.fault(&format!("{path}.floor_depth_mm"), remedy);
            }
        }
        overlaps(c, &port, list, spec.bore);
    }
}

fn roof_key(c: &Conversion, path: &str) -> String {
    let depth = format!("{path}.roof_depth_mm");
    if c.given(&depth) { depth } else { format!("{path}.opens_deg_atdc") }
}

fn window_fits(c: &mut Conversion, path: &str, window: &Window, bore: f64) -> bool {
    if window.chord >= bore {
        let remedy = format!("a window must be narrower than the bore, {:.2} mm", bore / MM);
        c.fault(&format!("{path}.chord_mm"), remedy);
        return false;
    }
    if window.floor_depth <= window.roof_depth {
        let key = if c.given(&format!("{path}.floor_depth_mm")) {
            format!("{path}.floor_depth_mm")
        } else {
            roof_key(c, path)
        };
        let remedy = format!(
            "the floor ({:.2} mm) must lie below the roof ({:.2} mm)",
            window.floor_depth / MM,
            window.roof_depth / MM
        );
        c.fault(&key, remedy);
        return false;
    }
    if let Err(fault) = Shape::of(window) {
        let key = if window.roof_radius > 0.0 {
            "roof_radius_mm"
        } else if window.roof_arch > 0.0 {
            "roof_arch_mm"
        } else {
            "floor_radius_mm"
        };
        c.fault(&format!("{path}.{key}"), format!("{fault}; make it smaller"));
        return false;
    }
    true
}

/// Windows of one port must not cover each other on the bore's wall.
fn overlaps(c: &mut Conversion, port: &str, windows: &[Window], bore: f64) {
    for (i, a) in windows.iter().enumerate() {
        for (j, b) in windows.iter().enumerate().take(i) {
            let half = |w: &Window| (w.chord / bore).clamp(-1.0, 1.0).asin();
            let mut apart = (a.centre - b.centre).rem_euclid(TURN);
            apart = apart.min(TURN - apart);
            let level = a.roof_depth < b.floor_depth && b.roof_depth < a.floor_depth;
            if level && apart < half(a) + half(b) {
                let remedy = format!(
                    "window {} and window {} cover each other: their centres are {:.1}° apart, their widths need {:.1}°",
                    i + 1,
                    j + 1,
                    apart / DEG,
                    (half(a) + half(b)) / DEG
                );
                c.fault(&format!("{port}.window[{i}].centre_deg"), remedy);
                return;
            }
        }
    }
}

fn names(c: &mut Conversion, spec: &EngineSpec) {
    if spec.transfers.len() > crate::model::MAX_GROUPS {
        let most = crate::model::MAX_GROUPS;
        c.fault(
            &format!("transfer[{most}].name"),
            format!("at most {most} groups of transfer ducts"),
        );
    }
    for (g, group) in spec.transfers.iter().enumerate() {
        let path = format!("transfer[{g}].name");
        let plain = |ch: char| ch.is_ascii_alphanumeric() || ch == '-' || ch == '_';
        if group.name.is_empty() || !group.name.chars().all(plain) {
            c.fault(&path, "use letters, digits, - and _: it becomes part of column names");
        }
        if spec.transfers[..g].iter().any(|other| other.name == group.name) {
            c.fault(&path, "another group has this name");
        }
    }
}

fn rotary(c: &mut Conversion, spec: &EngineSpec) {
    let Intake::Rotary { valve, disc, .. } = &spec.intake else { return };
    let path = if *disc { "intake.disc_valve" } else { "intake.crank_web" };
    if 2.0 * valve.ramp > valve.closes - valve.opens {
        let most = (valve.closes - valve.opens) / 2.0 / DEG;
        let remedy =
            format!("opening and closing ramp must fit into the open period: at most {most:.1}");
        c.fault(&format!("{path}.ramp_deg"), remedy);
    }
}

/// The exhaust must open before every transfer.
fn order(c: &mut Conversion, spec: &EngineSpec, crank: &Crank<f64>) {
    let first = |windows: &[Window]| {
        windows
            .iter()
            .enumerate()
            .min_by(|a, b| a.1.roof_depth.total_cmp(&b.1.roof_depth))
            .map(|(i, w)| (i, w.roof_depth))
    };
    let Some((_, exhaust)) = first(&spec.exhaust.windows) else { return };
    let edge = spec.stack.deck + spec.piston.crown_chamfer;
    for (g, group) in spec.transfers.iter().enumerate() {
        let Some((i, roof)) = first(&group.windows) else { continue };
        if roof <= exhaust {
            let opens = |depth: f64| crank.angle_down(depth - edge).unwrap_or(f64::NAN) / DEG;
            let remedy = format!(
                "opens at {:.1}° after top dead centre, before the exhaust at {:.1}°; the exhaust must open first",
                opens(roof),
                opens(exhaust)
            );
            let key = roof_key(c, &format!("transfer[{g}].window[{i}]"));
            c.fault(&key, remedy);
        }
    }
}

/// Burning must lie in the closed period at every speed.
fn burning(c: &mut Conversion, spec: &EngineSpec, crank: &Crank<f64>) {
    let Ok(timing) = Timing::of(spec, crank) else { return };
    let (closes, opens) = (timing.exhaust_closes - TURN, timing.exhaust_opens);
    let combustion = &spec.combustion;
    let mut speeds: Vec<f64> =
        combustion.start.rpm.iter().chain(&combustion.duration.rpm).copied().collect();
    speeds.extend([500.0, 16_000.0]);
    for rpm in speeds {
        let start = combustion.start.at(rpm);
        let end = start + combustion.duration.at(rpm);
        if start < closes {
            let remedy = format!(
                "burning would start at {:.1}° before top dead centre, before the exhaust closes at {:.1}°",
                -start / DEG,
                -closes / DEG
            );
            c.fault("combustion.start_deg_btdc", remedy);
            return;
        }
        if end > opens {
            let remedy = format!(
                "burning would end at {:.1}° after top dead centre, after the exhaust opens at {:.1}°",
                end / DEG,
                opens / DEG
            );
            c.fault("combustion.duration_deg", remedy);
            return;
        }
    }
}
