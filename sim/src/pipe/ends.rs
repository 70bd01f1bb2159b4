//! What stands at the end of a pipe: one scalar equation for the pressure at the face.
//!
//! From inside, w(p) = w_i + f(p), w the velocity into the pipe and f the shock or rarefaction branch of
//! the exact Riemann solution with the interior's frozen γ. The brackets below hold exactly one root:
//! searching below them finds supersonic roots that lower entropy.

use super::gas::PipeGas;
use super::riemann::Gas as Wave;
use super::root::between;
use crate::flow::critical_ratio;
use crate::lane::{exp, ln, pow};

/// Gas just inside the end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inside {
    /// p [Pa].
    pub pressure: f64,
    /// ρ [kg/m³].
    pub density: f64,
    /// Velocity into the pipe [m/s].
    pub velocity: f64,
    /// Frozen γ.
    pub gamma: f64,
    /// R [J/(kg K)].
    pub gas_constant: f64,
    /// Burned fraction.
    pub burned: f64,
}

/// Gas at rest outside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outside {
    /// p₀ [Pa].
    pub pressure: f64,
    /// T₀ [K].
    pub temperature: f64,
    /// Burned fraction.
    pub burned: f64,
}

/// Which case of the end equation holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Branch {
    /// A wall.
    Closed,
    /// Gas enters, slower than sound.
    Enters,
    /// Gas enters behind a choked throat, as fast as sound.
    EntersSonic,
    /// Gas leaves through a throttle.
    Leaves,
    /// Gas leaves into the outside pressure.
    LeavesFree,
    /// Gas leaves as fast as sound.
    LeavesSonic,
    /// Gas leaves faster than sound: the interior knows nothing of the end.
    LeavesSupersonic,
    /// The interior goes on unchanged.
    Through,
}

/// Gas at the face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Face {
    /// p [Pa].
    pub pressure: f64,
    /// ρ [kg/m³].
    pub density: f64,
    /// Velocity into the pipe [m/s].
    pub velocity: f64,
    /// Burned fraction.
    pub burned: f64,
    /// h + ½w² [J/kg].
    pub total_enthalpy: f64,
    /// Case of the end equation.
    pub branch: Branch,
}

/// Lowest pressure at a wall that the gas runs away from, over the interior's.
const FLOOR: f64 = 1e-6;

impl Inside {
    /// The gas as one side of a Riemann problem; its velocity is the speed away from the end.
    pub(super) fn wave(&self) -> Wave {
        let Self { density, velocity, pressure, gamma, .. } = *self;
        Wave { density, velocity, pressure, gamma }
    }

    /// Velocity into the pipe when the face is at `p` [m/s].
    #[must_use]
    pub fn velocity_at(&self, p: f64) -> f64 {
        self.velocity + self.wave().speed_gain(p)
    }

    /// Face pressure at which the gas stands still [Pa], with a floor where it would part.
    #[must_use]
    pub fn still_pressure(&self) -> f64 {
        self.wave().pressure_after(-self.velocity, FLOOR)
    }

    /// Lowest face pressure that a wave into the pipe can bring while gas leaves [Pa]: the face is sonic
    /// there, or, where the interior leaves faster than sound, a shock stands in it.
    #[must_use]
    pub fn lowest_leaving_pressure(&self) -> f64 {
        let (g, mach) = (self.gamma, -self.velocity / self.wave().sound());
        if mach > 1.0 {
            return self.pressure * (1.0 + 2.0 * g / (g + 1.0) * (mach * mach - 1.0));
        }
        let x = (2.0 + (g - 1.0) * mach) / (g + 1.0);
        if x > 0.0 { self.pressure * pow(x, 2.0 * g / (g - 1.0)) } else { 0.0 }
    }

    fn leaves_supersonic(&self) -> bool {
        -self.velocity > self.wave().sound()
    }

    /// Face at pressure `p` behind the interior's own wave, with its velocity.
    pub(super) fn face(&self, gas: &PipeGas, p: f64, velocity: f64, branch: Branch) -> Face {
        let density = self.wave().density_behind(p);
        let temperature = p / (density * self.gas_constant);
        Face {
            pressure: p,
            density,
            velocity,
            burned: self.burned,
            total_enthalpy: gas.state(temperature, self.burned).enthalpy
                + 0.5 * velocity * velocity,
            branch,
        }
    }

    fn as_face(&self, gas: &PipeGas, branch: Branch) -> Face {
        self.face(gas, self.pressure, self.velocity, branch)
    }
}

/// Face at a wall.
#[must_use]
pub fn closed(gas: &PipeGas, inside: &Inside) -> Face {
    inside.face(gas, inside.still_pressure(), 0.0, Branch::Closed)
}

/// Face where the pipe goes on for ever: the interior itself.
#[must_use]
pub fn through(gas: &PipeGas, inside: &Inside) -> Face {
    inside.as_face(gas, Branch::Through)
}

/// Share of a pipe below which an opening is rounding of its area: behind it no pressure could be found at which
/// the pipe itself is sonic.
const SHUT: f64 = 1e-12;

/// Face at an opening to `outside`; `share` φ = min(1, C_d A_t/A_pipe).
#[must_use]
pub fn opening(gas: &PipeGas, inside: &Inside, outside: &Outside, share: f64) -> Face {
    if share <= SHUT {
        return closed(gas, inside);
    }
    let share = share.min(1.0);
    if inside.velocity_at(outside.pressure) > 0.0 {
        enters(gas, inside, outside, share)
    } else {
        leaves(gas, inside, outside.pressure, share)
    }
}

/// Flow function at 1 − Π = y² [-]: ψ² = 2/κ·Π·(Π^{1−2κ}…) written so that nothing cancels near Π = 1.
pub(super) fn flow_function(y: f64, kappa: f64) -> f64 {
    let shortfall = (y * y).min(1.0 - critical_ratio(kappa));
    let log = ln(1.0 - shortfall);
    // a(a − Π) with a = Π^{1−κ}
    let (a, ratio) = (exp((1.0 - kappa) * log), 1.0 - shortfall);
    (2.0 / kappa * a * (a - ratio)).max(0.0).sqrt()
}

/// Last step of Newton's method, relative.
const CONVERGED: f64 = 1e-7;

/// The nozzle from outside into the pipe: mass flux and what follows at a face pressure.
struct Nozzle<'a> {
    gas: &'a PipeGas,
    outside: Outside,
    /// Total enthalpy h₀ [J/kg].
    enthalpy: f64,
    gas_constant: f64,
    heat_capacity: f64,
    kappa: f64,
    /// φp₀/√(RT₀) [kg/(m² s)].
    scale: f64,
}

impl Nozzle<'_> {
    /// Temperature and velocity at the face where the mass flux is `flux` and the pressure `p`:
    /// h(T) + ½w² = h₀ with w = flux·R·T/p.
    fn face(&self, flux: f64, p: f64) -> (f64, f64) {
        let k = flux * self.gas_constant / p;
        // as if the heat capacity stayed that of the outside: ½k²T² + c_p T = c_p T₀
        let share = 2.0 * k * k * self.outside.temperature / self.heat_capacity;
        let mut t = 2.0 * self.outside.temperature / (1.0 + (1.0 + share).sqrt());
        for _ in 0..30 {
            let state = self.gas.state(t, self.outside.burned);
            let excess = state.enthalpy + 0.5 * k * k * t * t - self.enthalpy;
            let step = excess / (state.heat_capacity + k * k * t);
            t -= step;
            // the square of it is below rounding
            if step.abs() <= CONVERGED * t {
                break;
            }
        }
        (t, k * t)
    }

    fn velocity(&self, y: f64) -> f64 {
        let p = self.outside.pressure * (1.0 - y * y);
        self.face(self.scale * flow_function(y, self.kappa), p).1
    }

    /// Temperature and speed where the gas is as fast as sound.
    fn sonic(&self) -> (f64, f64) {
        let mut t = self.outside.temperature * (2.0 - 2.0 * self.kappa) / (2.0 - self.kappa);
        for _ in 0..50 {
            let state = self.gas.state(t, self.outside.burned);
            let (gamma, rt) = (state.gamma(), state.specific_pressure_volume());
            let excess = state.enthalpy + 0.5 * gamma * rt - self.enthalpy;
            let step = excess / (state.heat_capacity + 0.5 * gamma * state.gas_constant);
            t -= step;
            if step.abs() <= CONVERGED * CONVERGED * t {
                break;
            }
        }
        let state = self.gas.state(t, self.outside.burned);
        (t, (state.gamma() * state.specific_pressure_volume()).sqrt())
    }
}

fn enters(gas: &PipeGas, inside: &Inside, outside: &Outside, share: f64) -> Face {
    let state = gas.state(outside.temperature, outside.burned);
    let nozzle = Nozzle {
        gas,
        outside: *outside,
        enthalpy: state.enthalpy,
        gas_constant: state.gas_constant,
        heat_capacity: state.heat_capacity,
        kappa: state.gas_constant / state.heat_capacity,
        scale: share * outside.pressure / state.specific_pressure_volume().sqrt(),
    };
    // the pipe itself is sonic behind a choked throat
    let choked = nozzle.scale * flow_function(1.0, nozzle.kappa);
    let (t, w) = nozzle.sonic();
    let lowest = (choked * state.gas_constant * t / w).min(outside.pressure);
    let deepest = (1.0 - lowest / outside.pressure).sqrt();
    let made = |p: f64, t: f64, w: f64, branch: Branch| Face {
        pressure: p,
        density: p / (state.gas_constant * t),
        velocity: w,
        burned: outside.burned,
        total_enthalpy: state.enthalpy,
        branch,
    };
    let pressure = |y: f64| outside.pressure * (1.0 - y * y);
    let excess = |y: f64| inside.velocity_at(pressure(y)) - nozzle.velocity(y);
    let last = excess(deepest);
    if last >= 0.0 {
        let (t, w) = nozzle.face(nozzle.scale * flow_function(deepest, nozzle.kappa), lowest);
        return made(lowest, t, w, Branch::EntersSonic);
    }
    let first = inside.velocity_at(outside.pressure);
    let p = pressure(between(excess, (0.0, first), (deepest, last)));
    // the inside's curve is the steeper one to read near rest
    let w = inside.velocity_at(p).max(0.0);
    let t = still_temperature(gas, outside, state.enthalpy - 0.5 * w * w);
    made(p, t, w, Branch::Enters)
}

/// Temperature of the outside's gas at an enthalpy below its own.
fn still_temperature(gas: &PipeGas, outside: &Outside, enthalpy: f64) -> f64 {
    let mut t = outside.temperature;
    for _ in 0..30 {
        let state = gas.state(t, outside.burned);
        let step = (state.enthalpy - enthalpy) / state.heat_capacity;
        t -= step;
        if step.abs() <= 1e-13 * t {
            break;
        }
    }
    t
}

/// Mass flux that a throttle passes from gas moving at `speed` to `outside` [Pa]: it accelerates from its
/// own stagnation state.
fn passed(inside: &Inside, p: f64, density: f64, speed: f64, outside: f64) -> f64 {
    let kappa = (inside.gamma - 1.0) / inside.gamma;
    let rt = p / density;
    let gain = 0.5 * kappa * speed * speed / rt;
    let total = p * pow(1.0 + gain, 1.0 / kappa);
    let y = (1.0 - outside / total).max(0.0).sqrt();
    total / (rt * (1.0 + gain)).sqrt() * flow_function(y, kappa)
}

fn leaves(gas: &PipeGas, inside: &Inside, outside: f64, share: f64) -> Face {
    let sonic = inside.lowest_leaving_pressure();
    let low = sonic.max(outside);
    let high = inside.still_pressure();
    let excess = |p: f64| {
        let speed = -inside.velocity_at(p);
        let density = inside.wave().density_behind(p);
        density * speed - share * passed(inside, p, density, speed, outside)
    };
    let at_low = if share >= 1.0 { 0.0 } else { excess(low) };
    if at_low <= 0.0 || high <= low {
        if low > sonic || (low == outside && !inside.leaves_supersonic()) {
            let w = inside.velocity_at(low).min(0.0);
            return inside.face(gas, low, w, Branch::LeavesFree);
        }
        if inside.leaves_supersonic() {
            return inside.as_face(gas, Branch::LeavesSupersonic);
        }
        return inside.face(gas, low, inside.velocity_at(low), Branch::LeavesSonic);
    }
    // near rest the throttle's flow rises like a root above `low`: z² makes it straight
    let pressure = |z: f64| low + (high - low) * z * z;
    let at_high = -share * passed(inside, high, inside.wave().density_behind(high), 0.0, outside);
    let z = between(|z| excess(pressure(z)), (0.0, at_low), (1.0, at_high.min(-f64::MIN_POSITIVE)));
    let p = pressure(z);
    inside.face(gas, p, inside.velocity_at(p).min(0.0), Branch::Leaves)
}
