//! What follows from the measurements in closed form.

pub mod reed;

use crate::crank::Crank;
use crate::spec::{Clearance, EngineSpec, Head, Stack, Window};
use crate::window::{Shape, ShapeFault};

/// Bore area A [m²].
#[must_use]
pub fn bore_area(spec: &EngineSpec) -> f64 {
    std::f64::consts::FRAC_PI_4 * spec.bore * spec.bore
}

/// Kinematics of the crank train.
#[must_use]
pub fn crank(spec: &EngineSpec) -> Crank<f64> {
    let c = &spec.crank_train;
    Crank::new(c.radius, c.rod, c.pin_offset)
}

/// Swept volume by the true travel [m³].
#[must_use]
pub fn swept_volume(spec: &EngineSpec) -> f64 {
    bore_area(spec) * crank(spec).travel()
}

/// Squish gap z = δ + t_g + land offset [m]; negative when the piston touches.
#[must_use]
pub fn squish_gap(spec: &EngineSpec) -> f64 {
    gap(&spec.head, &spec.stack)
}

fn gap(head: &Head, stack: &Stack) -> f64 {
    stack.deck + stack.head_total() + head.land_offset
}

/// Clearance volume V_c in the state to run [m³], from whichever form was measured.
#[must_use]
pub fn clearance_volume(spec: &EngineSpec) -> f64 {
    clearance_of(&spec.head, &spec.stack, spec.bore, spec.piston.dome_volume)
}

/// Clearance volume of a head with a stack [m³]; `bore` [m], `dome` volume of the crown above its
/// edge [m³].
#[must_use]
pub fn clearance_of(head: &Head, stack: &Stack, bore: f64, dome: f64) -> f64 {
    let area = std::f64::consts::FRAC_PI_4 * bore * bore;
    match head.clearance {
        Clearance::Assembled { volume, deck, head_gasket } => {
            volume + area * (stack.deck - deck + stack.head_total() - head_gasket)
        }
        Clearance::SquishPlane { volume, crevices } => {
            volume + area * gap(head, stack) - dome + crevices
        }
        Clearance::JointPlane { volume, gasket_hole_area, spigot_volume } => {
            volume + area * stack.deck + gasket_hole_area * stack.head_total()
                - spigot_volume
                - dome
        }
    }
}

/// Geometric (full-stroke) compression ratio (V_s + V_c)/V_c.
#[must_use]
pub fn geometric_ratio(spec: &EngineSpec) -> f64 {
    let clearance = clearance_volume(spec);
    (swept_volume(spec) + clearance) / clearance
}

/// Trapped compression ratio: the same above exhaust closing, `closing_drop` [m] being the piston
/// drop there.
#[must_use]
pub fn trapped_ratio(spec: &EngineSpec, closing_drop: f64) -> f64 {
    let clearance = clearance_volume(spec);
    (bore_area(spec) * closing_drop + clearance) / clearance
}

/// Crankcase ratio: largest over smallest crankcase volume.
#[must_use]
pub fn crankcase_ratio(spec: &EngineSpec) -> f64 {
    let top = spec.crankcase.volume_at_tdc;
    top / (top - swept_volume(spec))
}

/// Ideal squish velocity at the bowl's edge [m/s]: no leak, no heat, uniform density.
///
/// v/|v_piston| = D_B/(4z)·((B/D_B)² − 1)·V_B/(A z + V_B); J. B. Heywood, *Internal Combustion
/// Engine Fundamentals* (1988), sec. 8.4. `bowl` is the bowl's diameter D_B [m], `gap` the distance z of
/// crown and squish face [m], `bowl_volume` V_B [m³], `piston_speed` [m/s].
#[must_use]
pub fn squish_velocity(bore: f64, bowl: f64, gap: f64, bowl_volume: f64, piston_speed: f64) -> f64 {
    let area = std::f64::consts::FRAC_PI_4 * bore * bore;
    let share = bowl_volume / (area * gap + bowl_volume);
    bowl / (4.0 * gap) * ((bore / bowl).powi(2) - 1.0) * share * piston_speed.abs()
}

/// Angle-area ∫A dθ [m²·rad] of an uncovered window between two angles [rad], the area exact over its
/// shape, without the duct's entry angles; `edge` is the deck and the crown's chamfer [m].
///
/// # Errors
/// When the window cannot be drawn.
pub fn angle_area(
    window: &Window,
    crank: &Crank<f64>,
    edge: f64,
    (from, to): (f64, f64),
) -> Result<f64, ShapeFault> {
    let shape = Shape::of(window)?;
    let area = |theta: f64| shape.area_above(crank.at(theta).drop + edge - window.roof_depth);
    Ok(crate::math::integrate(&area, from, to, 1e-13 * shape.area()))
}
