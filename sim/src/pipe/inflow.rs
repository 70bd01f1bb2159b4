//! Gas that enters a pipe through a throat: what the throat passes at the face's pressure is what the face
//! carries on at constant stagnation enthalpy, and the pipe's own wave ties the pressure to the velocity.
//!
//! With the velocity w as the unknown everything rises or falls in one sense: pressure p(w) and the flux
//! that is needed, wp/(RT) with h(T) + ½w² = h₀, rise; what the throat passes falls. As long as the gas is one there is one root, and
//! both squared make a function that is smooth through rest: Newton's method finds it in a few steps from the
//! velocity of the step before.
//!
//! # Decisions
//!
//! - The search begins at the last step's velocity.

use super::ends::{Branch, Face, Inside, Outside, squared_flow};
use super::gas::PipeGas;
use super::root::between;
use crate::gas::GasState;

/// Last step of Newton's method over the velocity, and over the speed of sound: the square of it is below
/// rounding.
const CONVERGED: (f64, f64) = (1e-8, 1e-14);
/// Largest velocity squared that is tried, over c_p T₀: about 1.8 times as fast as sound, where the gas is still
/// one. A root beyond it is a choked one all the same.
const FASTEST: f64 = 0.8;
/// Steps after which brackets are used instead.
const MOST: usize = 12;
/// Last step of the temperature's own search, relative.
const SETTLED: f64 = 1e-7;

/// The throat and what lies on both sides of it.
pub(super) struct Inflow<'a> {
    gas: &'a PipeGas,
    inside: &'a Inside,
    outside: &'a Outside,
    /// At rest outside.
    rest: GasState<f64>,
    kappa: f64,
    /// φp₀/√(RT₀) [kg/(m² s)].
    scale: f64,
    share: f64,
}

/// A velocity tried.
struct Trial {
    pressure: f64,
    /// dp/dw [Pa s/m].
    slope: f64,
    temperature: f64,
    heat_capacity: f64,
    /// Passed less needed flux, both squared and times (RT)², and how it changes with the velocity.
    excess: f64,
    change: f64,
}

impl<'a> Inflow<'a> {
    pub(super) fn new(
        gas: &'a PipeGas,
        inside: &'a Inside,
        outside: &'a Outside,
        share: f64,
    ) -> Self {
        let rest = gas.state(outside.temperature, outside.burned);
        let kappa = rest.gas_constant / rest.heat_capacity;
        let scale = share * outside.pressure / rest.specific_pressure_volume().sqrt();
        Self { gas, inside, outside, rest, kappa, scale, share }
    }

    /// The face, where the pipe would take in gas at `most` [m/s] at the outside's pressure.
    pub(super) fn face(&self, most: f64, near: Option<f64>) -> Face {
        let fastest = (FASTEST * self.rest.heat_capacity * self.outside.temperature).sqrt();
        let most = most.min(fastest);
        let (w, p, t) = self.search(most, near).unwrap_or_else(|| self.between_brackets(most));
        let state = self.state(t);
        if w * w <= state.gamma() * state.specific_pressure_volume() {
            return self.made(p, t, w, Branch::Enters);
        }
        // the pipe itself is sonic behind a choked throat
        let choked = self.scale * squared_flow(0.0, self.kappa).0.sqrt();
        let (t, w) = self.sonic();
        let lowest = (choked * self.rest.gas_constant * t / w).min(self.outside.pressure);
        self.made(lowest, t, w, Branch::EntersSonic)
    }

    fn made(&self, pressure: f64, temperature: f64, velocity: f64, branch: Branch) -> Face {
        Face {
            pressure,
            density: pressure / (self.rest.gas_constant * temperature),
            velocity,
            burned: self.outside.burned,
            total_enthalpy: self.rest.enthalpy,
            branch,
        }
    }

    fn state(&self, temperature: f64) -> GasState<f64> {
        self.gas.state(temperature, self.outside.burned)
    }

    /// Velocity, pressure and temperature by Newton's method.
    fn search(&self, most: f64, near: Option<f64>) -> Option<(f64, f64, f64)> {
        let sound = self.inside.wave().sound();
        let mut w = near.filter(|w| *w > 0.0).unwrap_or_else(|| self.first(most, sound)).min(most);
        let mut t = self.outside.temperature - 0.5 * w * w / self.rest.heat_capacity;
        for _ in 0..MOST {
            let trial = self.at(w, t);
            let step = -trial.excess / trial.change;
            // by less than nine tenths towards rest, and not beyond what the pipe would take
            let next = (w + step).max(0.1 * w).min(most);
            let step = next - w;
            t = trial.temperature - (w + 0.5 * step) * step / trial.heat_capacity;
            w = next;
            if step.abs() <= CONVERGED.0 * w + CONVERGED.1 * sound {
                return Some((w, trial.pressure + trial.slope * step, t));
            }
        }
        None
    }

    /// Velocity of gas that changes its density neither here nor there: ρ₀c(w_most − w) = ½ρ₀(w/φ)².
    fn first(&self, most: f64, sound: f64) -> f64 {
        let throat = sound * self.share * self.share;
        2.0 * most / (1.0 + (1.0 + 2.0 * most / throat).sqrt())
    }

    /// Both fluxes at a velocity, from a temperature near the one that belongs to it.
    fn at(&self, w: f64, near: f64) -> Trial {
        let (pressure, slope) = self.inside.wave().reached(w - self.inside.velocity);
        let state = self.state(near);
        let (constant, capacity) = (self.rest.gas_constant, state.heat_capacity);
        let temperature = near - (state.enthalpy + 0.5 * w * w - self.rest.enthalpy) / capacity;
        let (squared, steepness) = squared_flow(pressure / self.outside.pressure, self.kappa);
        let scaled = self.scale * constant;
        let passed = scaled * temperature;
        let needed = w * pressure;
        Trial {
            pressure,
            slope,
            temperature,
            heat_capacity: capacity,
            excess: passed * passed * squared - needed * needed,
            change: passed * passed * steepness * slope / self.outside.pressure
                - 2.0 * passed * scaled * w / capacity * squared
                - 2.0 * needed * (pressure + w * slope),
        }
    }

    /// The same root where Newton's method does not find it.
    fn between_brackets(&self, most: f64) -> (f64, f64, f64) {
        let excess = |w: f64| self.at(w, self.temperature(w)).excess;
        if excess(most) >= 0.0 {
            // far beyond sonic: the face will be the sonic one
            return (most, self.outside.pressure, self.temperature(most));
        }
        let w = between(excess, (0.0, excess(0.0)), (most, excess(most)));
        (w, self.inside.wave().reached(w - self.inside.velocity).0, self.temperature(w))
    }

    /// Temperature of the outside's gas that has come to a speed.
    fn temperature(&self, speed: f64) -> f64 {
        let kinetic = 0.5 * speed * speed;
        let mut t = self.outside.temperature - kinetic / self.rest.heat_capacity;
        for _ in 0..30 {
            let state = self.state(t);
            let step = (state.enthalpy + kinetic - self.rest.enthalpy) / state.heat_capacity;
            t -= step;
            if step.abs() <= SETTLED * t {
                break;
            }
        }
        t
    }

    /// Temperature and speed where the gas is as fast as sound.
    fn sonic(&self) -> (f64, f64) {
        let mut t = self.outside.temperature * (2.0 - 2.0 * self.kappa) / (2.0 - self.kappa);
        for _ in 0..50 {
            let state = self.state(t);
            let (gamma, rt) = (state.gamma(), state.specific_pressure_volume());
            let excess = state.enthalpy + 0.5 * gamma * rt - self.rest.enthalpy;
            let step = excess / (state.heat_capacity + 0.5 * gamma * state.gas_constant);
            t -= step;
            if step.abs() <= SETTLED * SETTLED * t {
                break;
            }
        }
        let state = self.state(t);
        (t, (state.gamma() * state.specific_pressure_volume()).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gas::Mixture;

    #[test]
    fn a_search_from_anywhere_finds_the_same_face() {
        // a small opening far above the pipe's pressure: from near rest the first step is far too long
        let (fresh, burned) = (Mixture::fresh(0.9, 1.0), Mixture::burned(0.9));
        let gas = PipeGas::mixtures(&crate::gas::Gas::new(&fresh, &burned));
        for ratio in [1.001, 1.5, 6.0, 16.0, 50.0] {
            for share in [1e-6, 0.075, 0.113, 0.5, 1.0] {
                for mach in [-0.9, -0.3, 0.4, 0.9, 1.8] {
                    let (pressure, density) = (1e5_f64, 0.22_f64);
                    let sound = (1.27 * pressure / density).sqrt();
                    let inside = Inside {
                        pressure,
                        density,
                        velocity: mach * sound,
                        gamma: 1.27,
                        gas_constant: 292.0,
                        burned: 1.0,
                    };
                    let outside =
                        Outside { pressure: ratio * pressure, temperature: 560.0, burned: 0.9 };
                    let most = inside.velocity_at(outside.pressure);
                    if most <= 0.0 {
                        continue;
                    }
                    let inflow = Inflow::new(&gas, &inside, &outside, share);
                    let first = inflow.face(most, None);
                    for near in [1e-9, 1e-3, 1.0, 300.0, 1000.0, 5000.0] {
                        let face = inflow.face(most, Some(near));
                        let apart = (face.pressure / first.pressure - 1.0).abs();
                        assert!(
                            face.branch == first.branch && apart < 1e-9,
                            "{near}: {face:?} {first:?}"
                        );
                    }
                }
            }
        }
    }
}
