//! A sudden change of area between two pipes.
//!
//! Gas that flows into the wider pipe loses: momentum is conserved with the annulus at the narrower
//! pipe's pressure (J.-C. de Borda, L. Carnot). Into the narrower one it accelerates isentropically.
//! Mass and energy are the same on both sides; the flow runs from the side whose pressure would be higher
//! if both stood still.
//!
//! # Decisions
//!
//! - A jump of area whose throat is choked passes its mass and energy on; the second pipe takes them at
//!   the pressure at which it can.

use super::ends::{Branch, Face, Inside, flow_function};
use super::gas::PipeGas;
use super::root::between;
use crate::flow::critical_ratio;
use crate::lane::pow;

/// Faces of the two pipes at a jump, given what is inside and the two areas [m²].
#[must_use]
pub fn jump(gas: &PipeGas, inside: &[Inside; 2], areas: [f64; 2]) -> [Face; 2] {
    let still = [inside[0].still_pressure(), inside[1].still_pressure()];
    if still[0] >= still[1] {
        Jump { gas, from: inside[0], to: inside[1], narrowing: areas[0] / areas[1] }.faces()
    } else {
        let [from, to] =
            Jump { gas, from: inside[1], to: inside[0], narrowing: areas[1] / areas[0] }.faces();
        [to, from]
    }
}

struct Jump<'a> {
    gas: &'a PipeGas,
    from: Inside,
    to: Inside,
    /// Area of the pipe the gas leaves over that of the one it enters.
    narrowing: f64,
}

/// Gas behind the jump: pressure and speed.
struct Behind {
    pressure: f64,
    speed: f64,
}

impl Jump<'_> {
    fn faces(&self) -> [Face; 2] {
        let low = self.from.lowest_leaving_pressure();
        let high = self.from.still_pressure();
        let at_high = self.to.velocity_at(high);
        let at_low = self.excess(low);
        if at_high <= 0.0 {
            // no flow at all
            return [self.leaving(high, 0.0), self.entering(high, 0.0, self.leaving(high, 0.0))];
        }
        if at_low >= 0.0 && low < high {
            return self.choked(low);
        }
        let z = between(|z| self.excess(low + (high - low) * z), (0.0, at_low), (1.0, at_high));
        let p = low + (high - low) * z;
        let leaving = self.leaving(p, self.from.velocity_at(p));
        match self.behind(p) {
            Some(behind)
                if self.to.velocity_at(behind.pressure) - behind.speed < 1e-6 * self.sound() =>
            {
                [leaving, self.entering(behind.pressure, behind.speed, leaving)]
            }
            // the throat is choked: it cannot pass what the second pipe would take
            _ => self.choked(p),
        }
    }

    fn sound(&self) -> f64 {
        self.to.wave().sound()
    }

    fn leaving(&self, p: f64, velocity: f64) -> Face {
        self.from.face(self.gas, p, velocity, Branch::Leaves)
    }

    /// Face of the second pipe at `p` and `speed`, with the first one's mass flow and energy.
    fn entering(&self, p: f64, speed: f64, leaving: Face) -> Face {
        let flux = -leaving.density * leaving.velocity * self.narrowing;
        let density = if speed > 0.0 { flux / speed } else { leaving.density };
        Face { pressure: p, density, velocity: speed, branch: Branch::Enters, ..leaving }
    }

    /// What the second pipe would do at the pressure behind the jump, less what comes; far below zero
    /// where the throat cannot pass what arrives.
    fn excess(&self, p: f64) -> f64 {
        match self.behind(p) {
            Some(behind) => self.to.velocity_at(behind.pressure) - behind.speed,
            None => -1e3 * self.sound(),
        }
    }

    /// Gas behind the jump when the first face is at `p`; none beyond choking.
    fn behind(&self, p: f64) -> Option<Behind> {
        let g = self.from.gamma;
        let kappa = (g - 1.0) / g;
        let (velocity, density) = self.from.at(p);
        let speed = -velocity;
        if speed <= 0.0 {
            return Some(Behind { pressure: p, speed: 0.0 });
        }
        let flux = density * speed * self.narrowing;
        let rt = p / density;
        let gain = 0.5 * kappa * speed * speed / rt;
        if self.narrowing <= 1.0 {
            // p₂ + G v₂ = p₁ + G v₁; v₂²(γ+1)/(2(γ−1)) − v₂(p₂ + G v₂)/(κG) + h₀ = 0, the slower root
            let thrust = p + flux * speed;
            let (a, b) = ((g + 1.0) / (2.0 * (g - 1.0)), thrust / (kappa * flux));
            let total = rt / kappa * (1.0 + gain);
            let root = (b * b - 4.0 * a * total).max(0.0).sqrt();
            let after = 2.0 * total / (b + root);
            return Some(Behind { pressure: thrust - flux * after, speed: after });
        }
        let total = p * pow(1.0 + gain, 1.0 / kappa);
        let total_rt = rt * (1.0 + gain);
        let wanted = flux * total_rt.sqrt() / total;
        let deepest = (1.0 - critical_ratio(kappa)).sqrt();
        let most = flow_function(deepest, kappa);
        if wanted > most {
            return None;
        }
        let y =
            between(|y| flow_function(y, kappa) - wanted, (0.0, -wanted), (deepest, most - wanted));
        let ratio = 1.0 - y * y;
        let after_rt = total_rt * pow(ratio, kappa);
        let pressure = total * ratio;
        Some(Behind { pressure, speed: flux * after_rt / pressure })
    }

    /// Faces when no more can pass: the first is at `p` (or leaves faster than sound), the second takes
    /// mass and energy at the pressure at which it can.
    fn choked(&self, p: f64) -> [Face; 2] {
        let sound = self.from.wave().sound();
        let leaving = if -self.from.velocity > sound {
            self.from.face(
                self.gas,
                self.from.pressure,
                self.from.velocity,
                Branch::LeavesSupersonic,
            )
        } else {
            Face { branch: Branch::LeavesSonic, ..self.leaving(p, self.from.velocity_at(p)) }
        };
        let g = self.from.gamma;
        let flux = -leaving.density * leaving.velocity * self.narrowing;
        let rt = leaving.pressure / leaving.density;
        let total = g / (g - 1.0) * rt + 0.5 * leaving.velocity * leaving.velocity;
        // v from G, p and h₀: ½v² + v p/(κG) − h₀ = 0
        let speed = |p: f64| {
            let b = g / (g - 1.0) * p / flux;
            2.0 * total / (b + (b * b + 2.0 * total).sqrt())
        };
        let excess = |p: f64| self.to.velocity_at(p) - speed(p);
        // at sonic speed or below: v = c where v² = 2(γ−1)/(γ+1)·h₀
        let sonic = (2.0 * (g - 1.0) / (g + 1.0) * total).sqrt();
        let low = flux * sonic / g;
        let mut high = low.max(self.to.pressure);
        while excess(high) < 0.0 {
            high *= 2.0;
        }
        let at_low = excess(low);
        let p2 =
            if at_low >= 0.0 { low } else { between(excess, (low, at_low), (high, excess(high))) };
        [leaving, Face { branch: Branch::EntersSonic, ..self.entering(p2, speed(p2), leaving) }]
    }
}
