//! What must come before what in the cycle.

use super::Findings;
use crate::crank::Crank;
use crate::spec::{EngineSpec, Window};
use crate::units::{DEG, TURN};

/// The window that opens first, with its place in the list.
fn first(windows: &[Window]) -> Option<(usize, &Window)> {
    windows.iter().enumerate().min_by(|a, b| a.1.roof_depth.total_cmp(&b.1.roof_depth))
}

/// Drop at which the crown edge meets a depth [m].
fn drop_at(spec: &EngineSpec, depth: f64) -> f64 {
    depth - spec.stack.deck - spec.piston.crown_chamfer
}

/// The exhaust must open before every transfer.
pub(super) fn order(found: &mut Findings, spec: &EngineSpec, crank: &Crank<f64>) {
    let Some((_, exhaust)) = first(&spec.exhaust.windows) else { return };
    let opens = |depth| crank.angle_down(drop_at(spec, depth)).unwrap_or(f64::NAN) / DEG;
    for (g, group) in spec.transfers.iter().enumerate() {
        let Some((i, window)) = first(&group.windows) else { continue };
        if window.roof_depth <= exhaust.roof_depth {
            let remedy = format!(
                "opens at {:.1}° after top dead centre, before the exhaust at {:.1}°; the exhaust must open first",
                opens(window.roof_depth),
                opens(exhaust.roof_depth)
            );
            found.add(format!("transfer[{g}].window[{i}].roof_depth_mm"), remedy);
        }
    }
}

/// Burning must lie in the closed period at every speed. Start and end are linear between the speeds
/// of the tables and constant beyond them, so those speeds are all that need looking at.
pub(super) fn burning(found: &mut Findings, spec: &EngineSpec, crank: &Crank<f64>) {
    let Some((_, window)) = first(&spec.exhaust.windows) else { return };
    let drop = drop_at(spec, window.roof_depth);
    let Some((opens, closes)) = crank.angle_down(drop).zip(crank.angle_up(drop)) else { return };
    let closes = closes - TURN;
    let combustion = &spec.combustion;
    let speeds: Vec<f64> =
        combustion.start.rpm.iter().chain(&combustion.duration.rpm).copied().collect();
    let one_speed = combustion.start.rpm.len() == 1 && combustion.duration.rpm.len() == 1;
    let at = |rpm: f64| if one_speed { String::new() } else { format!("at {rpm:.0}/min ") };
    for rpm in speeds {
        let start = combustion.start.at(rpm);
        let end = start + combustion.duration.at(rpm);
        if start < closes {
            let remedy = format!(
                "{}burning would start {:.1}° before top dead centre, before the exhaust closes at {:.1}°; start it later",
                at(rpm),
                -start / DEG,
                -closes / DEG
            );
            found.add("combustion.start_deg_btdc", remedy);
            return;
        }
        if end > opens {
            let remedy = format!(
                "{}burning would end {:.1}° after top dead centre, after the exhaust opens at {:.1}°; start it earlier or make it shorter",
                at(rpm),
                end / DEG,
                opens / DEG
            );
            found.add("combustion.duration_deg", remedy);
            return;
        }
    }
}
