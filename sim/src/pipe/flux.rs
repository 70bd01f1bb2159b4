//! Flux between two states of a gas.

use crate::lane::Lane;

/// Gas at one side of a face.
#[derive(Debug, Clone, Copy)]
pub(super) struct Side<L: Lane> {
    /// ρ [kg/m³].
    pub(super) density: L,
    /// 1/ρ [m³/kg].
    pub(super) volume: L,
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
    /// Speed of sound of the cell's mean [m/s].
    pub(super) sound: L,
}

/// Flux per area of mass [kg/(m² s)], momentum [Pa], energy [W/m²], burned mass [kg/(m² s)].
#[derive(Debug, Clone, Copy)]
pub(super) struct Flux<L: Lane> {
    pub(super) mass: L,
    pub(super) momentum: L,
    pub(super) energy: L,
    pub(super) burned: L,
}

/// Speed at which the wave to pressure `star` runs into the gas [m/s]: the speed of sound, more for a
/// shock, c√(1 + (γ+1)/2γ·(p*/p − 1)).
#[inline(always)]
fn wave<L: Lane>(s: &Side<L>, star: L) -> L {
    let rise = (star - s.pressure).at_least(L::zero());
    let squared = s.gamma * s.pressure + s.gamma.plus(1.0).scale(0.5) * rise;
    (squared * s.volume).sqrt()
}

/// Speeds of the three waves of a Riemann problem [m/s]: left, contact, right.
///
/// Outer waves from the pressure of the linearised problem with the impedance of the cells' means (Toro,
/// *Riemann Solvers and Numerical Methods for Fluid Dynamics*, sec. 10.5).
#[inline(always)]
pub(super) fn waves<L: Lane>(left: &Side<L>, right: &Side<L>) -> [L; 3] {
    let impedance = (left.density + right.density) * (left.sound + right.sound).scale(0.25);
    let star = (left.pressure + right.pressure - (right.velocity - left.velocity) * impedance)
        .scale(0.5)
        .at_least(L::zero());
    let sl = left.velocity - wave(left, star);
    let sr = right.velocity + wave(right, star);
    let (ml, mr) = (left.density * (sl - left.velocity), right.density * (sr - right.velocity));
    let middle =
        (right.pressure - left.pressure + ml * left.velocity - mr * right.velocity) / (ml - mr);
    [sl, middle, sr]
}

/// HLLC flux with each side's frozen γ; burned mass goes with the mass flux.
///
/// E. F. Toro, M. Spruce and W. Speares, Shock Waves 4 (1994) 25–34.
#[inline(always)]
pub(super) fn hllc<L: Lane>(left: &Side<L>, right: &Side<L>, [sl, middle, sr]: [L; 3]) -> Flux<L> {
    // the side of the contact that the face lies on, and its wave where that is on the other side
    let leftward = middle.ge(L::zero());
    let rho = L::select(leftward, left.density, right.density);
    let u = L::select(leftward, left.velocity, right.velocity);
    let p = L::select(leftward, left.pressure, right.pressure);
    let e = L::select(leftward, left.energy, right.energy);
    let s = L::select(leftward, sl, sr);
    let m = rho * (s - u);
    let reach = L::select(leftward, sl.at_most(L::zero()), sr.at_least(L::zero()));
    // ρ* = m/(s − s*) and p/m over one denominator
    let ahead = s - middle;
    let over = L::one() / (m * ahead);
    let star_density = m * m * over;
    let star_energy = e + (middle - u) * (middle + p * ahead * over);
    let mass = rho * u + reach * (star_density - rho);
    Flux {
        mass,
        momentum: rho * u * u + p + reach * (star_density * middle - rho * u),
        energy: u * (rho * e + p) + reach * (star_density * star_energy - rho * e),
        burned: mass * L::select(mass.ge(L::zero()), left.burned, right.burned),
    }
}
