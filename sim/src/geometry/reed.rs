//! Petals of reed valves as cantilevers in their first bending mode.
//!
//! W. Weaver, S. P. Timoshenko, D. H. Young, *Vibration Problems in Engineering*, 5th ed. (1990), ch. 5
//! (from memory): f₁ = (1.8751²/2π)·√(EI/(ρA L⁴)); mode shape
//! φ(ξ) = ½[(cosh βξ − cos βξ) − σ(sinh βξ − sin βξ)], scaled to 1 at the tip, ∫φ² dξ = ¼.

use crate::lane::{exp, sin_cos};
use crate::spec::{Petal, ReedStage};

/// β of the first mode, cosh β cos β = −1.
pub const MODE: f64 = 1.875_104_068_711_961;
/// σ = (cosh β + cos β)/(sinh β + sin β).
const SHAPE: f64 = 0.734_095_513_758_912_8;

/// Area moment of the petal's section I [m⁴].
fn moment(petal: &Petal) -> f64 {
    petal.width * petal.thickness.powi(3) / 12.0
}

/// Mass per length ρA [kg/m].
fn mass_per_length(petal: &Petal) -> f64 {
    petal.density * petal.width * petal.thickness
}

/// First natural frequency f₁ [Hz]: as measured, else of the cantilever.
#[must_use]
pub fn natural_frequency(petal: &Petal) -> f64 {
    petal.measured_frequency.unwrap_or_else(|| {
        let stiffness = petal.modulus * moment(petal) / mass_per_length(petal);
        MODE * MODE / std::f64::consts::TAU * stiffness.sqrt() / (petal.length * petal.length)
    })
}

/// Mass that moves with the tip in the first mode, a quarter of the petal's [kg].
#[must_use]
pub fn modal_mass(petal: &Petal) -> f64 {
    0.25 * mass_per_length(petal) * petal.length
}

/// Deflection of the tip at `x` from the clamp over that of the tip, both over the length.
#[must_use]
pub fn shape(x: f64) -> f64 {
    let (cosh, sinh, cos, sin) = waves(MODE * x);
    0.5 * ((cosh - cos) - SHAPE * (sinh - sin))
}

/// ∫φ dξ from the clamp to `x`.
fn area_of_shape(x: f64) -> f64 {
    let (cosh, sinh, cos, sin) = waves(MODE * x);
    0.5 * ((sinh - sin) - SHAPE * (cosh + cos - 2.0)) / MODE
}

fn waves(x: f64) -> (f64, f64, f64, f64) {
    let (grown, faded) = (exp(x), exp(-x));
    let (sin, cos) = sin_cos(x);
    (0.5 * (grown + faded), 0.5 * (grown - faded), cos, sin)
}

/// Where the window begins and ends along the petal, over its length.
fn window_span(stage: &ReedStage) -> (f64, f64) {
    let length = stage.petal.length;
    let end = (length - stage.overlap) / length;
    ((end - stage.window_length / length).max(0.0), end)
}

/// ∫φ dξ over the window times L [m].
fn swept_length(stage: &ReedStage) -> f64 {
    let (from, to) = window_span(stage);
    stage.petal.length * (area_of_shape(to) - area_of_shape(from))
}

/// Area on which a pressure acts at the tip as it does over the window on the mode [m²].
#[must_use]
pub fn load_area(stage: &ReedStage) -> f64 {
    stage.window_width * swept_length(stage)
}

/// Area between the window's edge and its petal over the lift of the tip, front and both sides, of all
/// petals [m²/m].
#[must_use]
pub fn curtain(stage: &ReedStage) -> f64 {
    let (_, end) = window_span(stage);
    stage.petals * (stage.window_width * shape(end) + 2.0 * swept_length(stage))
}

/// Windows of all petals [m²].
#[must_use]
pub fn windows(stage: &ReedStage) -> f64 {
    stage.petals * stage.window_width * stage.window_length
}

/// Flow area at the stop: windows and curtain in series [m²].
#[must_use]
pub fn area_at_stop(stage: &ReedStage) -> f64 {
    crate::flow::in_series(windows(stage), curtain(stage) * stage.stop)
}

/// Deflection of the tip by an even pressure over the whole petal [m/Pa], first mode alone: 1.3 % above
/// the beam's b L⁴/(8EI), for the higher modes stand against it.
#[must_use]
pub fn deflection_by_pressure(petal: &Petal) -> f64 {
    let load = petal.width * petal.length * area_of_shape(1.0);
    load / (modal_mass(petal) * pulsatance(petal).powi(2))
}

/// 2πf₁ [rad/s].
#[must_use]
pub fn pulsatance(petal: &Petal) -> f64 {
    std::f64::consts::TAU * natural_frequency(petal)
}

/// Bending stress at the clamp over the lift of the tip [Pa/m]: ½Et·φ″(0), φ″(0) = β²/L², E as the
/// frequency says.
#[must_use]
pub fn root_stress(petal: &Petal) -> f64 {
    let square = petal.length * petal.length;
    let omega = pulsatance(petal);
    let modulus =
        omega * omega * mass_per_length(petal) * square * square / (moment(petal) * MODE.powi(4));
    0.5 * modulus * petal.thickness * MODE * MODE / square
}

/// Shares of a half-turn of the phase plane in the sum of [`restitution`].
const SHARES: u32 = 400;

/// Share of its speed with which a petal leaves seat or stop where their dissipation is κ, see
/// [`crate::engine::reed`]; the same at every speed.
///
/// With ω_cδ = r sin ψ, δ̇ = r cos ψ the contact obeys d ln r/dψ = −κ sin ψ cos²ψ/(1 + κ sin²ψ cos ψ), from
/// ψ = 0 to the end of the push: π, or arccos(−1/κ) where κ > 1.
#[must_use]
pub fn restitution(dissipation: f64) -> f64 {
    let (steps, turn) = (f64::from(SHARES), std::f64::consts::PI);
    let mut lost: f64 = 0.0;
    for i in 0..SHARES {
        let (sin, cos) = sin_cos((f64::from(i) + 0.5) / steps * turn);
        if 1.0 + dissipation * cos <= 0.0 {
            // what is left of the spring is not given back
            return exp(-lost) / dissipation;
        }
        lost +=
            dissipation * sin * cos * cos / (1.0 + dissipation * sin * sin * cos) * turn / steps;
    }
    exp(-lost)
}

/// Dissipation κ of seat and stop that leaves the petal's restitution.
#[must_use]
pub fn dissipation(petal: &Petal) -> f64 {
    let (mut low, mut high) = (0.0, 1e3);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if restitution(middle) > petal.restitution {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shape_is_one_at_the_tip_with_a_quarter_of_the_mass() {
        assert!((shape(1.0) - 1.0).abs() < 1e-12);
        let n = 2000;
        let middles = (0..n).map(|i| (f64::from(i) + 0.5) / f64::from(n));
        let square: f64 = middles.clone().map(|x| shape(x).powi(2)).sum::<f64>() / f64::from(n);
        let mean: f64 = middles.map(shape).sum::<f64>() / f64::from(n);
        assert!((square - 0.25).abs() < 1e-6, "{square}");
        assert!((mean - area_of_shape(1.0)).abs() < 1e-6);
    }
}
