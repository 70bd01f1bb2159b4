//! The slip that most likely made an unusual answer out of a usual one.

use super::{Here, Usual, with_unit};
use crate::forms::engine::key_at;
use crate::forms::engine::keys::{Kind, Unit};
use crate::geometry;
use crate::units::MM;

/// The likely slip in words; none where nothing simple explains the answer.
pub(super) fn likely(here: &Here, value: f64, usual: &Usual) -> Option<String> {
    let (_, key) = key_at(here.path)?;
    let unit = key.kind.unit();
    let fits = |v: f64| (usual.low..=usual.high).contains(&v);
    if let Some(name) = repeated(here, value) {
        return Some(format!("Is it {name} again?"));
    }
    if let Some(words) = other_end(here, value, &fits) {
        return Some(words);
    }
    if matches!(key.kind, Kind::Numbers(..)) && value == 0.0 {
        return Some("Type none where there is none.".to_owned());
    }
    let point = [value / 10.0, value * 10.0].into_iter().find(|v| fits(*v));
    if let Some(right) = point {
        let right = with_unit(right, unit);
        return Some(format!("Is the point in the wrong place? {right} would be usual."));
    }
    if unit == Unit::Millimetre && fits(value * 25.4) {
        return Some(format!("Was it read in inches? Then type {value} in."));
    }
    None
}

/// An earlier length that has the same number.
fn repeated(here: &Here, value: f64) -> Option<&'static str> {
    let earlier = [
        ("crank_train.stroke_mm", "the stroke"),
        ("crank_train.bore_mm", "the bore"),
        ("crank_train.rod_mm", "the rod"),
        ("piston.skirt_length_mm", "the skirt"),
    ];
    let same = |path: &str| path != here.path && here.number(path) == Some(value);
    earlier.into_iter().find(|(path, _)| same(path)).map(|(_, name)| name)
}

/// Measured from the wrong end, as half of it, or with the wrong sign.
fn other_end(here: &Here, value: f64, fits: &dyn Fn(f64) -> bool) -> Option<String> {
    let name = here.path.rsplit('.').next()?;
    let spec = here.spec;
    match name {
        "roof_depth_mm" => {
            let bottom = (spec.stack.deck + geometry::crank(spec).travel()) / MM;
            let from_top = bottom - value;
            fits(from_top).then(|| {
                format!("Was it measured up from the crown at bottom dead centre? From the top face it would be {from_top:.1} mm.")
            })
        }
        "stroke_mm" if fits(2.0 * value) => {
            Some(format!("Is it the crank throw? The stroke is twice that, {:.1} mm.", 2.0 * value))
        }
        "duct_exit_diameter_mm" | "bore_mm" if fits(2.0 * value) => {
            Some(format!("Is it the radius? The diameter would be {:.1} mm.", 2.0 * value))
        }
        "roof_radius_mm" | "floor_radius_mm" if fits(0.5 * value) => {
            Some(format!("Is it the diameter? The radius would be {:.1} mm.", 0.5 * value))
        }
        "opens_deg_atdc" if fits(180.0 - value) || fits(180.0 - 0.5 * value) => {
            let whole = fits(180.0 - 0.5 * value);
            let (what, right) = if whole {
                ("the duration", 180.0 - 0.5 * value)
            } else {
                ("the angle before bottom dead centre", 180.0 - value)
            };
            Some(format!("Is it {what}? After top dead centre it would be {right:.1}°."))
        }
        "centre_deg" => Some("Is it the direction from the exhaust, seen from above?".to_owned()),
        "land_offset_mm" if value != 0.0 && fits(-value) => Some(
            "Is the sign right? A land that enters the bore has a minus before its number."
                .to_owned(),
        ),
        _ => None,
    }
}
