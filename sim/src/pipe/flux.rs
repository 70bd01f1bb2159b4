//! Flux between two states of a gas.

use crate::lane::Lane;

/// Gas at one side of a face.
#[derive(Debug, Clone, Copy)]
pub(super) struct Side<L: Lane> {
    /// ρ [kg/m³].
    pub(super) density: L,
    /// u [m/s].
    pub(super) velocity: L,
    /// p [Pa].
    pub(super) pressure: L,
    /// b.
    pub(super) burned: L,
    /// Specific total energy e + ½u² [J/kg], formation included.
    pub(super) energy: L,
    /// Frozen γ.
    pub(super) gamma: L,
}

/// Flux per area of mass [kg/(m² s)], momentum [Pa], energy [W/m²], burned mass [kg/(m² s)].
#[derive(Debug, Clone, Copy)]
pub(super) struct Flux<L: Lane> {
    pub(super) mass: L,
    pub(super) momentum: L,
    pub(super) energy: L,
    pub(super) burned: L,
}

/// HLLC flux with each side's frozen γ; burned mass goes with the mass flux.
///
/// E. F. Toro, M. Spruce and W. Speares, Shock Waves 4 (1994) 25–34; wave speeds from the pressure of
/// the linearised problem (Toro, *Riemann Solvers and Numerical Methods for Fluid Dynamics*, sec. 10.5).
#[inline(always)]
pub(super) fn hllc<L: Lane>(left: &Side<L>, right: &Side<L>) -> Flux<L> {
    let sound = |s: &Side<L>| (s.gamma * s.pressure / s.density).sqrt();
    let (cl, cr) = (sound(left), sound(right));
    let impedance = (left.density + right.density) * (cl + cr).scale(0.25);
    let star = (left.pressure + right.pressure - (right.velocity - left.velocity) * impedance)
        .scale(0.5)
        .at_least(L::zero());
    let stretch = |s: &Side<L>| {
        let rise = (star / s.pressure - L::one()).at_least(L::zero());
        (L::one() + (L::one() + L::one() / s.gamma).scale(0.5) * rise).sqrt()
    };
    let sl = left.velocity - cl * stretch(left);
    let sr = right.velocity + cr * stretch(right);
    let (ml, mr) = (left.density * (sl - left.velocity), right.density * (sr - right.velocity));
    let middle =
        (right.pressure - left.pressure + ml * left.velocity - mr * right.velocity) / (ml - mr);
    // the side of the contact that the face lies on, and its wave where that is on the other side
    let leftward = middle.ge(L::zero());
    let pick = |l: L, r: L| L::select(leftward, l, r);
    let (rho, u) = (pick(left.density, right.density), pick(left.velocity, right.velocity));
    let (p, e) = (pick(left.pressure, right.pressure), pick(left.energy, right.energy));
    let (s, m) = (pick(sl, sr), pick(ml, mr));
    let reach = pick(sl.at_most(L::zero()), sr.at_least(L::zero()));
    let star_density = m / (s - middle);
    let star_energy = e + (middle - u) * (middle + p / m);
    let mass = rho * u + reach * (star_density - rho);
    Flux {
        mass,
        momentum: rho * u * u + p + reach * (star_density * middle - rho * u),
        energy: u * (rho * e + p) + reach * (star_density * star_energy - rho * e),
        burned: mass * L::select(mass.ge(L::zero()), left.burned, right.burned),
    }
}
