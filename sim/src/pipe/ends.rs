//! What stands at the end of a pipe: one scalar equation for the face.
//!
//! From inside, w(p) = w_i + f(p), w the velocity into the pipe and f the shock or rarefaction branch of
//! the exact Riemann solution with the interior's frozen γ. Where gas enters, w is searched (`inflow`). Where
//! it leaves, p: the bracket here holds exactly one root; searching below it finds supersonic roots that
//! lower entropy.
//!
//! # Decisions
//!
//! - A closed end has a floor of 1e-6 of the interior's pressure.

use super::gas::PipeGas;
use super::inflow::Inflow;
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

    /// Velocity into the pipe and density when the face is at `p`.
    pub(super) fn at(&self, p: f64) -> (f64, f64) {
        let (gain, density) = self.wave().behind(p);
        (self.velocity + gain, density)
    }

    /// Face at pressure `p` behind the interior's own wave, with its velocity.
    pub(super) fn face(&self, gas: &PipeGas, p: f64, velocity: f64, branch: Branch) -> Face {
        self.face_of(gas, p, (velocity, self.wave().density_behind(p)), branch)
    }

    fn face_of(
        &self,
        gas: &PipeGas,
        p: f64,
        (velocity, density): (f64, f64),
        branch: Branch,
    ) -> Face {
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

/// Share of a pipe below which an opening is rounding of its area.
const SHUT: f64 = 1e-12;

/// Face at an opening to `outside`; `share` φ = min(1, C_d A_t/A_pipe).
#[must_use]
pub fn opening(gas: &PipeGas, inside: &Inside, outside: &Outside, share: f64) -> Face {
    opening_near(gas, inside, outside, share, None)
}

/// The same with the velocity [m/s] that a search may begin with.
pub(super) fn opening_near(
    gas: &PipeGas,
    inside: &Inside,
    outside: &Outside,
    share: f64,
    near: Option<f64>,
) -> Face {
    if share <= SHUT {
        return closed(gas, inside);
    }
    let (share, there) = (share.min(1.0), inside.at(outside.pressure));
    if there.0 > 0.0 {
        return Inflow::new(gas, inside, outside, share).face(there.0, near);
    }
    let subsonic = there.0 * there.0 * there.1 <= inside.gamma * outside.pressure;
    if share >= 1.0 && subsonic && !inside.leaves_supersonic() {
        return inside.face_of(gas, outside.pressure, there, Branch::LeavesFree);
    }
    leaves(gas, inside, outside.pressure, share)
}

/// Flow function at 1 − Π = y² [-].
pub(super) fn flow_function(y: f64, kappa: f64) -> f64 {
    squared_flow(1.0 - y * y, kappa).0.max(0.0).sqrt()
}

/// ψ² of the flow function and its slope by the pressure ratio; below the critical ratio the value there. Above
/// 1 it goes on below zero.
pub(super) fn squared_flow(ratio: f64, kappa: f64) -> (f64, f64) {
    let critical = critical_ratio(kappa);
    let (ratio, held) = if ratio < critical { (critical, 0.0) } else { (ratio, 1.0) };
    let a = exp((1.0 - kappa) * ln(ratio));
    let slope = a * (2.0 * (1.0 - kappa) * a / ratio - (2.0 - kappa));
    (2.0 / kappa * a * (a - ratio), held * 2.0 / kappa * slope)
}

/// Gas that leaves through a throttle of `share` of the pipe to `outside` [Pa].
struct Throttle<'a> {
    inside: &'a Inside,
    outside: f64,
    share: f64,
    kappa: f64,
    /// (p₀/p_i)^κ: temperature at the outside pressure over that inside, along an isentrope.
    isentropic: f64,
}

impl Throttle<'_> {
    /// Mass flux that the throttle passes from the face: gas accelerates from its own stagnation state to
    /// the outside's pressure, or to the speed of sound. Temperatures stand in for pressures: of those
    /// one power gives all.
    fn passed(&self, p: f64, (velocity, density): (f64, f64)) -> f64 {
        let (kappa, rt) = (self.kappa, p / density);
        // over the face's temperature: of the stagnation state, of the throat, of a sonic throat
        let total = 1.0 + 0.5 * kappa * velocity * velocity / rt;
        let throat = if p > self.inside.pressure {
            pow(self.outside / p, kappa)
        } else {
            self.isentropic * self.inside.pressure / (self.inside.density * rt)
        };
        let sonic = total * (2.0 - 2.0 * kappa) / (2.0 - kappa);
        if throat >= sonic {
            self.outside / throat * (2.0 / (kappa * rt) * (total - throat).max(0.0)).sqrt()
        } else {
            p * pow(sonic, 1.0 / kappa) / (sonic * rt * (1.0 - kappa)).sqrt()
        }
    }

    /// What arrives at the throttle less what it passes [kg/(m² s)].
    fn excess(&self, p: f64) -> f64 {
        let face = self.inside.at(p);
        -face.1 * face.0 - self.share * self.passed(p, face)
    }
}

fn leaves(gas: &PipeGas, inside: &Inside, outside: f64, share: f64) -> Face {
    let sonic = inside.lowest_leaving_pressure();
    let low = sonic.max(outside);
    let high = inside.still_pressure();
    let kappa = (inside.gamma - 1.0) / inside.gamma;
    let isentropic = pow(outside / inside.pressure, kappa);
    let throttle = Throttle { inside, outside, share, kappa, isentropic };
    let at_low = if share >= 1.0 { 0.0 } else { throttle.excess(low) };
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
    let at_high = -share * throttle.passed(high, (0.0, inside.wave().density_behind(high)));
    let ends = ((0.0, at_low), (1.0, at_high.min(-f64::MIN_POSITIVE)));
    let p = pressure(between(|z| throttle.excess(pressure(z)), ends.0, ends.1));
    let (velocity, density) = inside.at(p);
    inside.face_of(gas, p, (velocity.min(0.0), density), Branch::Leaves)
}
