//! Plausibility: what no engine can be. Every rule looks at the engine as meant, names the key of an
//! engine file that it turns on, and says nothing where a number it needs is missing (not a number).

mod cycle;
mod pipes;
mod reed;
mod windows;

use super::answers::{assembled, squish_band_volume};
use crate::crank::Crank;
use crate::geometry::{bore_area, clearance_volume, crank as crank_of, squish_gap};
use crate::network::MAX_GROUPS;
use crate::portable;
use crate::spec::{Clearance, EngineSpec, Intake, StudHole};
use crate::units::{CM3, DEG, MM};

/// Something an engine cannot be.
#[derive(Debug, Clone, PartialEq)]
pub struct Implausible {
    /// Path of the key it turns on, as in an engine file.
    pub key: String,
    /// What is wrong and what would be right.
    pub remedy: String,
}

/// Implausibilities as they are found.
struct Findings(Vec<Implausible>);

impl Findings {
    fn add(&mut self, key: impl Into<String>, remedy: impl Into<String>) {
        self.0.push(Implausible { key: key.into(), remedy: remedy.into() });
    }
}

/// Everything that no engine can be, in a workshop's order. A piston that touches the head is none of
/// it: such a state may be checked and planned from; see [`check_for_running`].
#[must_use]
pub fn check(spec: &EngineSpec) -> Vec<Implausible> {
    let turned = |window: &str| windows::centre(spec, window) != Some(0.0);
    check_placed(spec, &|window| window.starts_with("exhaust") || turned(window))
}

/// The same, with `placed` telling of a window's path whether its place round the bore is known.
pub(super) fn check_placed(spec: &EngineSpec, placed: &dyn Fn(&str) -> bool) -> Vec<Implausible> {
    let mut found = Findings(Vec::new());
    piston_and_head(&mut found, spec);
    names(&mut found, spec);
    squish_band(&mut found, spec);
    stud_holes(&mut found, spec);
    rotary(&mut found, spec);
    pipes::check(&mut found, spec);
    reed::check(&mut found, spec);
    if let Err(fault) = crate::engine::scavenging::ExitCurve::of(&spec.scavenging) {
        found.add("scavenging.law", fault.to_string());
    }
    if turns(&mut found, spec) {
        let crank = crank_of(spec);
        crankcase(&mut found, spec, &crank);
        if windows::check(&mut found, spec, &crank, placed) {
            cycle::order(&mut found, spec, &crank);
            cycle::burning(&mut found, spec, &crank);
        }
    }
    found.0
}

/// What keeps a plausible engine from running, and so from being simulated.
#[must_use]
pub fn check_for_running(spec: &EngineSpec) -> Vec<Implausible> {
    let mut found = Findings(Vec::new());
    let gap = squish_gap(spec);
    if gap < 0.0 {
        let remedy = format!(
            "the piston touches the head by {:.2} mm at the bore wall; it takes a head gasket or spacer thicker by more than that",
            -gap / MM
        );
        found.add("stack.head_gaskets_mm", remedy);
    }
    let clearance = clearance_volume(spec);
    if gap >= 0.0 && clearance <= 0.0 {
        let form = match spec.head.clearance {
            Clearance::Assembled { .. } => "assembled",
            Clearance::SquishPlane { .. } => "squish_plane",
            Clearance::JointPlane { .. } => "joint_plane",
        };
        let remedy = format!(
            "leaves {:.2} cm³ of clearance above the piston; it must be positive",
            clearance / CM3
        );
        found.add(format!("head.{form}.volume_cm3"), remedy);
    }
    found.0
}

/// The crank must get past bottom dead centre: l − r > |e|.
fn turns(found: &mut Findings, spec: &EngineSpec) -> bool {
    let (r, l, e) = (spec.crank_train.radius, spec.crank_train.rod, spec.crank_train.pin_offset);
    if l <= r {
        let remedy = format!(
            "the rod must be longer than the crank radius ({:.2} mm); check the distance between centres",
            r / MM
        );
        found.add("crank_train.rod_mm", remedy);
    } else if l - r <= e.abs() {
        let remedy = format!(
            "must be smaller than rod less crank radius ({:.2} mm), or the crank cannot turn",
            (l - r) / MM
        );
        found.add("crank_train.pin_offset_mm", remedy);
    }
    l - r > e.abs()
}

fn piston_and_head(found: &mut Findings, spec: &EngineSpec) {
    let piston = &spec.piston;
    if piston.compression_height > piston.skirt_length {
        let remedy = format!(
            "puts the gudgeon pin below the skirt ({:.2} mm long)",
            piston.skirt_length / MM
        );
        found.add("piston.compression_height_mm", remedy);
    }
    let deepest = piston.ring_depths.iter().copied().fold(0.0, f64::max);
    if deepest > piston.skirt_length {
        let remedy =
            format!("puts a ring below the skirt ({:.2} mm long)", piston.skirt_length / MM);
        found.add("piston.ring_depths_mm", remedy);
    }
    let (rings, pegs) = (piston.ring_depths.len(), piston.ring_pegs.len());
    if rings > 0 && pegs > 0 && rings != pegs {
        let remedy = format!("gives {pegs} pegs for {rings} rings; give one for each ring");
        found.add("piston.ring_pegs_deg", remedy);
    }
    if spec.head.squish_band > 0.5 * spec.bore {
        let remedy =
            format!("must be narrower than half the bore ({:.2} mm)", 0.5 * spec.bore / MM);
        found.add("head.squish_band_mm", remedy);
    }
    if let Clearance::JointPlane { gasket_hole_area, .. } = spec.head.clearance {
        // a hole a little smaller than the bore is a reading error
        if gasket_hole_area < 0.98 * bore_area(spec) {
            let remedy = format!("must not be smaller than the bore ({:.2} mm)", spec.bore / MM);
            found.add("head.joint_plane.gasket_hole_mm", remedy);
        }
    }
}

/// The squish band alone cannot hold more than the whole clearance. A dome or a land that falls inward
/// makes its gap smaller than at the wall, so that neither is judged.
fn squish_band(found: &mut Findings, spec: &EngineSpec) {
    let flat = spec.piston.dome_volume <= 0.0 && spec.head.land_angle >= 0.0;
    let (band, whole) = (squish_band_volume(spec), clearance_volume(spec));
    if flat && assembled(spec) && whole > 0.0 && band >= whole {
        let remedy = format!(
            "the squish band alone holds {:.2} cm³ with its gap of {:.2} mm, more than the whole clearance of {:.2} cm³; measure deck, land offset and volume again",
            band / CM3,
            squish_gap(spec) / MM,
            whole / CM3
        );
        found.add("head.assembled.volume_cm3", remedy);
    }
}

/// A stud hole must lie outside the bore and beside the others.
fn stud_holes(found: &mut Findings, spec: &EngineSpec) {
    for (i, hole) in spec.stud_holes.iter().enumerate() {
        let inner = hole.distance - 0.5 * hole.diameter;
        if inner <= 0.5 * spec.bore {
            let remedy = format!(
                "this hole would cut into the bore: from the bore's axis to its nearest edge there are {:.2} mm, half the bore is {:.2} mm",
                inner / MM,
                0.5 * spec.bore / MM
            );
            found.add(format!("stud_hole[{i}].distance_mm"), remedy);
        }
        let place = |h: &StudHole| {
            let (x, y) = (portable::cos(h.centre), portable::sin(h.centre));
            (h.distance * x, h.distance * y)
        };
        let metal = |other: &StudHole| {
            let ((x, y), (u, v)) = (place(hole), place(other));
            portable::hypot(x - u, y - v) - 0.5 * (hole.diameter + other.diameter)
        };
        if let Some(other) = spec.stud_holes[..i].iter().position(|o| metal(o) < 0.0) {
            let remedy = format!(
                "this hole runs into stud_hole[{other}]; write the direction of its axis as seen from above, 0 at the exhaust"
            );
            found.add(format!("stud_hole[{i}].centre_deg"), remedy);
        }
    }
}

fn crankcase(found: &mut Findings, spec: &EngineSpec, crank: &Crank<f64>) {
    let ducts: f64 = spec.transfers.iter().map(|g| g.duct_volume).sum();
    let swept = bore_area(spec) * crank.travel();
    if spec.crankcase.volume_at_tdc <= swept + ducts {
        let remedy = format!(
            "too small: with the piston at the top the crankcase must hold more than the swept volume ({:.1} cm³) and the transfer ducts ({:.1} cm³) together, {:.1} cm³",
            swept / CM3,
            ducts / CM3,
            (swept + ducts) / CM3
        );
        found.add("crankcase.volume_cm3", remedy);
    }
}

fn names(found: &mut Findings, spec: &EngineSpec) {
    if spec.transfers.len() > MAX_GROUPS {
        found.add(
            format!("transfer[{MAX_GROUPS}].name"),
            format!("at most {MAX_GROUPS} groups of transfer ducts can be computed; join those that are alike"),
        );
    }
    for (g, group) in spec.transfers.iter().enumerate() {
        let path = format!("transfer[{g}].name");
        let plain = |ch: char| ch.is_ascii_alphanumeric() || ch == '-' || ch == '_';
        if !group.name.chars().all(plain) {
            found.add(&path, "use letters, digits, - and _ only: it becomes part of column names");
        }
        let taken = spec.transfers[..g].iter().any(|other| other.name == group.name);
        if taken && !group.name.is_empty() {
            found.add(&path, "another group has this name; each needs its own");
        }
    }
}

fn rotary(found: &mut Findings, spec: &EngineSpec) {
    let Intake::Rotary { valve, disc, .. } = &spec.intake else { return };
    let path = if *disc { "intake.disc_valve" } else { "intake.crank_web" };
    let open = valve.closes - valve.opens;
    if 2.0 * valve.ramp > open {
        let remedy = format!(
            "opening and closing ramp must fit into the {:.1}° that it is open: at most {:.1}",
            open / DEG,
            open / 2.0 / DEG
        );
        found.add(format!("{path}.ramp_deg"), remedy);
    }
}
