//! Exact solution of the Riemann problem of two perfect gases: the yardstick of the solver.
//!
//! E. F. Toro, *Riemann Solvers and Numerical Methods for Fluid Dynamics*, ch. 4; γ may differ.

use super::root::between;
use crate::lane::pow;
use crate::portable;

/// Gas on one side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gas {
    /// ρ [kg/m³].
    pub density: f64,
    /// u [m/s].
    pub velocity: f64,
    /// p [Pa].
    pub pressure: f64,
    /// γ.
    pub gamma: f64,
}

impl Gas {
    /// Speed of sound [m/s].
    #[must_use]
    pub fn sound(&self) -> f64 {
        (self.gamma * self.pressure / self.density).sqrt()
    }

    /// By how much a wave that brings the gas to pressure `p` [Pa] moves it away from where the wave
    /// came from [m/s]: shock where p is higher, rarefaction where it is lower.
    #[must_use]
    pub fn speed_gain(&self, p: f64) -> f64 {
        self.behind(p).0
    }

    /// Density behind that wave [kg/m³].
    #[must_use]
    pub fn density_behind(&self, p: f64) -> f64 {
        self.behind(p).1
    }

    /// Both. In a rarefaction they follow from x, the speed of sound behind over that before: x² is the
    /// ratio of temperatures, so that one power is enough.
    #[must_use]
    pub fn behind(&self, p: f64) -> (f64, f64) {
        let (g, ratio) = (self.gamma, p / self.pressure);
        if ratio > 1.0 {
            let k = (g - 1.0) / (g + 1.0);
            let a = 2.0 / ((g + 1.0) * self.density);
            let gain = (p - self.pressure) * (a / (p + k * self.pressure)).sqrt();
            return (gain, self.density * (ratio + k) / (k * ratio + 1.0));
        }
        let ratio = ratio.max(f64::MIN_POSITIVE);
        let x = pow(ratio, (g - 1.0) / (2.0 * g));
        (2.0 * self.sound() / (g - 1.0) * (x - 1.0), self.density * ratio / (x * x))
    }

    /// Pressure [Pa] behind the wave that takes `gain` [m/s] from the gas's speed of approach, in closed
    /// form; not below `floor` times its own, where the gas would part.
    #[must_use]
    pub fn pressure_after(&self, gain: f64, floor: f64) -> f64 {
        self.reached(gain).0.max(floor * self.pressure)
    }

    /// The same without a floor, and how fast it rises with the gain [Pa s/m].
    #[must_use]
    pub fn reached(&self, gain: f64) -> (f64, f64) {
        let (g, p, sound) = (self.gamma, self.pressure, self.sound());
        let mach = gain / sound;
        if mach > 0.0 {
            let h = 0.25 * (g + 1.0) * mach;
            let root = (1.0 + h * h).sqrt();
            let shock = (h + root) * (h + root);
            return (
                p * (1.0 + 2.0 * g / (g + 1.0) * (shock - 1.0)),
                p * g * shock / (sound * root),
            );
        }
        let x = 1.0 + 0.5 * (g - 1.0) * mach;
        if x <= 0.0 {
            return (0.0, 0.0);
        }
        let behind = p * pow(x, 2.0 * g / (g - 1.0));
        (behind, g * behind / (sound * x))
    }

    /// Speed of a shock to pressure `p` [Pa] relative to the gas ahead [m/s].
    #[must_use]
    pub fn shock_speed(&self, p: f64) -> f64 {
        let g = self.gamma;
        let ratio = p / self.pressure;
        self.sound() * ((g + 1.0) / (2.0 * g) * ratio + (g - 1.0) / (2.0 * g)).sqrt()
    }

    fn mirrored(&self) -> Self {
        Self { velocity: -self.velocity, ..*self }
    }
}

/// The solution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exact {
    left: Gas,
    right: Gas,
    /// Pressure between the outer waves [Pa].
    pub pressure: f64,
    /// Velocity there [m/s].
    pub velocity: f64,
}

impl Exact {
    /// Solves; none where the gases part and leave a void.
    ///
    /// ```
    /// # use freshcharge_sim::pipe::riemann::{Exact, Gas};
    /// let gas = |density, pressure| Gas { density, velocity: 0.0, pressure, gamma: 1.4 };
    /// let sod = Exact::new(gas(1.0, 1.0), gas(0.125, 0.1)).unwrap();
    /// // Sod, J. Comput. Phys. 27 (1978) 1
    /// assert!((sod.pressure - 0.303_130_178_051).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn new(left: Gas, right: Gas) -> Option<Self> {
        let opening = right.velocity - left.velocity;
        let excess = |p: f64| left.speed_gain(p) + right.speed_gain(p) + opening;
        let parts = opening
            >= 2.0 * left.sound() / (left.gamma - 1.0) + 2.0 * right.sound() / (right.gamma - 1.0);
        if parts || !opening.is_finite() {
            return None;
        }
        let mut high = left.pressure.max(right.pressure);
        while excess(high) < 0.0 {
            high *= 2.0;
        }
        // in the logarithm, so that near-voids are as exact as strong shocks
        let mut low = 0.5 * high;
        while excess(low) > 0.0 {
            low *= 0.1;
        }
        let of = |y: f64| excess(portable::exp(y));
        let ends = ((portable::ln(low), excess(low)), (portable::ln(high), excess(high)));
        let pressure = portable::exp(between(of, ends.0, ends.1));
        let velocity = 0.5 * (left.velocity + right.velocity)
            + 0.5 * (right.speed_gain(pressure) - left.speed_gain(pressure));
        Some(Self { left, right, pressure, velocity })
    }

    /// State on the ray x/t = `speed` [m/s].
    #[must_use]
    pub fn at(&self, speed: f64) -> Gas {
        if speed <= self.velocity {
            self.beside(&self.left, self.velocity, speed)
        } else {
            self.beside(&self.right.mirrored(), -self.velocity, -speed).mirrored()
        }
    }

    /// The left half of a solution.
    fn beside(&self, gas: &Gas, velocity: f64, speed: f64) -> Gas {
        let (p, g) = (self.pressure, gas.gamma);
        let density = gas.density_behind(p);
        let behind = Gas { density, velocity, pressure: p, gamma: g };
        if p > gas.pressure {
            let shock = gas.velocity - gas.shock_speed(p);
            return if speed <= shock { *gas } else { behind };
        }
        let c = gas.sound();
        if speed <= gas.velocity - c {
            return *gas;
        }
        if speed >= velocity - behind.sound() {
            return behind;
        }
        let x = 2.0 / (g + 1.0) + (g - 1.0) / ((g + 1.0) * c) * (gas.velocity - speed);
        Gas {
            density: gas.density * pow(x, 2.0 / (g - 1.0)),
            velocity: 2.0 / (g + 1.0) * (c + 0.5 * (g - 1.0) * gas.velocity + speed),
            pressure: gas.pressure * pow(x, 2.0 * g / (g - 1.0)),
            gamma: g,
        }
    }
}
