//! When ports open, for how long, and how much area over how much angle.

use super::{List, Section};
use crate::geometry::{angle_area, swept_volume};
use crate::spec::{Intake, Window};
use crate::units::{DEG, MM, TURN, angular_speed};
use crate::window::{AreaTable, Shape};

/// Opening and closing of a port [rad].
type Period = (f64, f64);

/// The crown-controlled ports: key, words, windows.
fn ports<'a>(list: &List<'a>) -> Vec<(String, String, &'a [Window])> {
    let spec = list.spec;
    let mut ports = vec![("exhaust".to_owned(), "exhaust".to_owned(), &spec.exhaust.windows[..])];
    for group in &spec.transfers {
        let key = format!("transfer_{}", group.name.replace([' ', '-'], "_").to_lowercase());
        ports.push((key, format!("transfer {}", group.name), &group.windows[..]));
    }
    ports
}

fn period(list: &List, windows: &[Window]) -> Option<Period> {
    let roof = List::highest(windows)?;
    Some((list.opens(roof)?, list.closes(roof)?))
}

/// First opening and last closing of all transfers.
pub(super) fn transfers(list: &List) -> Option<Period> {
    let all: Vec<Window> = list.spec.transfers.iter().flat_map(|g| g.windows.clone()).collect();
    period(list, &all)
}

pub(super) fn exhaust(list: &List) -> Option<Period> {
    period(list, &list.spec.exhaust.windows)
}

/// Opening and closing of the intake; the opening may lie before top dead centre.
pub(super) fn intake(list: &List) -> Option<Period> {
    match &list.spec.intake {
        Intake::Rotary { valve, .. } => Some((valve.opens, valve.closes)),
        Intake::PistonPort { windows, .. } | Intake::Reed { windows, .. } => {
            let floor = windows.iter().map(|w| w.floor_depth).max_by(f64::total_cmp)?;
            let drop = floor - list.spec.stack.deck - list.spec.piston.skirt_length;
            Some((list.crank.angle_up(drop)? - TURN, list.crank.angle_down(drop)?))
        }
    }
}

pub(super) fn gather(list: &mut List, speeds: &[f64]) {
    let section = Section::Timing;
    let bottom = list.crank.bottom_angle();
    for (key, words, windows) in ports(list) {
        let Some((opens, closes)) = period(list, windows) else { continue };
        let roof = List::highest(windows).unwrap_or(f64::NAN);
        let mut put = |name: &str, what: &str, unit, value| {
            list.put(section, format!("{key}_{name}"), format!("{words} {what}"), unit, value);
        };
        put("opens_deg_atdc", "opens, after top", "°", opens / DEG);
        put("opens_deg_bbdc", "opens, before bottom", "°", (bottom - opens) / DEG);
        put("closes_deg_atdc", "closes, after top", "°", closes / DEG);
        put("duration_deg", "duration", "°", (closes - opens) / DEG);
        put("roof_depth_mm", "roof below top face", "mm", roof / MM);
        for rpm in speeds {
            let ms = (closes - opens) / angular_speed(*rpm) * 1e3;
            put(&format!("duration_ms@{rpm:.0}"), &format!("open at {rpm:.0}/min"), "ms", ms);
        }
    }
    if let Some((opens, closes)) = transfers(list) {
        let words = "transfers, first to open: duration";
        list.put(section, "transfer_duration_deg", words, "°", (closes - opens) / DEG);
        let words = "transfers, first to open";
        list.put(section, "transfer_opens_deg_atdc", words, "°", opens / DEG);
    }
    if let Some((opens, closes)) = intake(list) {
        list.put(section, "intake_opens_deg_btdc", "intake opens, before top", "°", -opens / DEG);
        list.put(section, "intake_closes_deg_atdc", "intake closes, after top", "°", closes / DEG);
        let duration = (closes - opens) / DEG;
        list.put(section, "intake_duration_deg", "intake duration", "°", duration);
    }
    blowdown(list, speeds);
}

fn blowdown(list: &mut List, speeds: &[f64]) {
    let (Some(exhaust), Some(transfers)) = (exhaust(list), transfers(list)) else { return };
    let section = Section::Blowdown;
    let angle = transfers.0 - exhaust.0;
    list.put(section, "blowdown_deg", "blowdown", "°", angle / DEG);
    for rpm in speeds {
        let ms = angle / angular_speed(*rpm) * 1e3;
        let words = format!("blowdown at {rpm:.0}/min");
        list.put(section, format!("blowdown_ms@{rpm:.0}"), words, "ms", ms);
    }
    if !list.wants("blowdown_angle") && !list.wants("blowdown_s") {
        return;
    }
    let area = crown_area(list, &list.spec.exhaust.windows, (exhaust.0, transfers.0));
    let swept = swept_volume(list.spec);
    let words = "blowdown angle-area";
    list.put(section, "blowdown_angle_area_mm2deg", words, "mm²·°", area / DEG * 1e6);
    for rpm in speeds {
        let specific = area / angular_speed(*rpm) / swept;
        let key = format!("blowdown_specific_time_area_s_per_m@{rpm:.0}");
        let words = format!("blowdown specific time-area at {rpm:.0}/min");
        list.put(section, key, words, "s/m", specific);
    }
    // what radii and arch take from a square window of the same roof, chord and timing
    let square = |w: &Window| Window { roof_radius: 0.0, roof_arch: 0.0, ..w.clone() };
    let squares: Vec<Window> = list.spec.exhaust.windows.iter().map(square).collect();
    let whole = crown_area(list, &squares, (exhaust.0, transfers.0));
    let words = "share of the blowdown angle-area that radii and arch take";
    list.put(section, "blowdown_shape_loss_percent", words, "%", 100.0 * (1.0 - area / whole));
}

/// ∫A dθ of crown-controlled windows over a period [m²·rad].
fn crown_area(list: &List, windows: &[Window], (from, to): Period) -> f64 {
    let one = |w: &Window| {
        let opens = list.opens(w.roof_depth)?.max(from);
        let closes = list.closes(w.roof_depth)?.min(to);
        angle_area(w, &list.crank, list.edge(), (opens, closes)).ok()
    };
    windows.iter().filter_map(one).sum()
}

/// Open area of windows at an angle [m²].
fn open_area(list: &List, windows: &[Window], angle: f64) -> f64 {
    let drop = list.crank.at(angle).drop + list.edge();
    let one = |w: &Window| Shape::of(w).map_or(0.0, |s| s.area_above(drop - w.roof_depth));
    windows.iter().map(one).sum()
}

/// Opening period, angle-area [m²·rad] and the area at the middle of the opening [m²] of the intake.
fn intake_area(list: &List) -> Option<(Period, f64, f64)> {
    let (opens, closes) = intake(list)?;
    let area: Box<dyn Fn(f64) -> f64> = match &list.spec.intake {
        Intake::Rotary { valve, .. } => {
            let valve = *valve;
            Box::new(move |t: f64| {
                let share = (t - valve.opens).min(valve.closes - t) / valve.ramp;
                valve.area * share.clamp(0.0, 1.0)
            })
        }
        Intake::PistonPort { windows, .. } | Intake::Reed { windows, .. } => {
            let edge = list.spec.stack.deck + list.spec.piston.skirt_length;
            // plain areas: the duct's entry angles belong to the flow
            let plain = |w: &Window| Window { axial_angle: 0.0, radial_angle: 0.0, ..w.clone() };
            let windows: Vec<Window> = windows.iter().map(plain).collect();
            let table = AreaTable::skirt(&windows, edge).ok()?;
            let crank = list.crank;
            Box::new(move |t: f64| AreaTable::at::<f64>(|_| &table, crank.at(t).drop))
        }
    };
    // half from each end: by symmetry of the law the middle of the opening half
    let quarter = 0.5 * (0.5 * (opens + closes) + opens);
    let integral = crate::math::integrate(&|t: f64| area(t), opens, closes, 1e-12);
    Some(((opens, closes), integral, area(quarter)))
}

/// Angle-areas and time-areas of the whole ports. The exact integral and the published shortcut (area at
/// half of the opening angle times the open time) are different quantities under different names.
pub(super) fn areas(list: &mut List, speeds: &[f64]) {
    let section = Section::Areas;
    let swept = swept_volume(list.spec);
    let transfer_windows: Vec<Window> =
        list.spec.transfers.iter().flat_map(|g| g.windows.clone()).collect();
    let crown = [
        ("exhaust", exhaust(list), list.spec.exhaust.windows.clone()),
        ("transfer", transfers(list), transfer_windows),
    ];
    let mut all = Vec::new();
    for (name, period, windows) in crown {
        let Some((opens, closes)) = period else { continue };
        let integral = crown_area(list, &windows, (opens, closes));
        // halfway in angle between opening and bottom dead centre
        let middle = open_area(list, &windows, 0.5 * (opens + list.crank.bottom_angle()));
        all.push((name, (opens, closes), integral, middle));
    }
    if let Some((period, integral, middle)) = intake_area(list) {
        all.push(("intake", period, integral, middle));
    }
    for (name, (opens, closes), integral, middle) in all {
        let key = format!("{name}_angle_area_mm2deg");
        list.put(section, key, format!("{name} angle-area"), "mm²·°", integral / DEG * 1e6);
        for rpm in speeds {
            let omega = angular_speed(*rpm);
            let key = format!("{name}_specific_time_area_s_per_m@{rpm:.0}");
            let words = format!("{name} specific time-area at {rpm:.0}/min");
            list.put(section, key, words, "s/m", integral / omega / swept);
            // s·cm²/cm³ = 100 s/m
            let shortcut = middle * (closes - opens) / omega / swept / 100.0;
            let key = format!("{name}_mid_angle_time_area_s_cm2_per_cm3@{rpm:.0}");
            let words = format!("{name} mid-angle time-area at {rpm:.0}/min (shortcut)");
            list.put(section, key, words, "s·cm²/cm³", shortcut);
        }
    }
}
