//! Slider-crank kinematics with pin offset, closed form both ways.
//!
//! φ is the angle of the throw from the bore axis; y = r cos φ + √(l² − (r sin φ − e)²); piston drop
//! x = √((r+l)² − e²) − y. θ counts from the highest piston position, φ = θ + φ_T with
//! φ_T = asin(e/(r+l)). With an offset, travel differs from 2r and bottom dead centre is not at 180°.

use crate::lane::{Lane, sin_cos};
use crate::portable;

/// Crank radius, rod and offset, ready for use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crank<L: Lane> {
    /// r [m].
    pub radius: L,
    /// l [m].
    pub rod: L,
    /// e [m].
    pub pin_offset: L,
    /// φ_T [rad].
    pub top_angle: L,
    /// √((r+l)² − e²) [m].
    pub top_height: L,
}

/// Piston drop and its derivatives by crank angle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drop<L: Lane> {
    /// x [m].
    pub drop: L,
    /// dx/dθ [m/rad].
    pub slope: L,
    /// d²x/dθ² [m/rad²].
    pub curvature: L,
}

impl Crank<f64> {
    /// From r, l, e [m].
    #[must_use]
    pub fn new(radius: f64, rod: f64, pin_offset: f64) -> Self {
        let reach = radius + rod;
        Self {
            radius,
            rod,
            pin_offset,
            top_angle: portable::asin(pin_offset / reach),
            top_height: (reach * reach - pin_offset * pin_offset).sqrt(),
        }
    }

    /// Piston travel from top to bottom dead centre [m]: 2r without offset.
    #[must_use]
    pub fn travel(&self) -> f64 {
        let reach = self.rod - self.radius;
        self.top_height - (reach * reach - self.pin_offset * self.pin_offset).sqrt()
    }

    /// θ at bottom dead centre [rad].
    #[must_use]
    pub fn bottom_angle(&self) -> f64 {
        std::f64::consts::PI + portable::asin(self.pin_offset / (self.rod - self.radius))
            - self.top_angle
    }

    /// θ at which the piston, on its way down, stands at `drop` [m → rad]; none outside the travel.
    #[must_use]
    pub fn angle_down(&self, drop: f64) -> Option<f64> {
        self.angles(drop).map(|(down, _)| down)
    }

    /// θ at which the piston, on its way up, stands at `drop` [m → rad]; none outside the travel.
    #[must_use]
    pub fn angle_up(&self, drop: f64) -> Option<f64> {
        self.angles(drop).map(|(_, up)| up)
    }

    /// Both angles at `drop`. Crank centre, crank pin and gudgeon pin form a triangle with sides
    /// r, l and √(y² + e²).
    fn angles(&self, drop: f64) -> Option<(f64, f64)> {
        let travel = self.travel();
        // ends of the stroke by themselves: the triangle is flat there and rounding decides
        if !(-1e-12 * travel..=travel * (1.0 + 1e-12)).contains(&drop) {
            return None;
        }
        let height = self.top_height - drop.clamp(0.0, travel);
        let side = portable::hypot(height, self.pin_offset);
        let cosine = (side * side + self.radius * self.radius - self.rod * self.rod)
            / (2.0 * side * self.radius);
        let at_crank = portable::acos(cosine.clamp(-1.0, 1.0));
        let lean = portable::atan2(self.pin_offset, height);
        Some((
            lean + at_crank - self.top_angle,
            crate::units::TURN + lean - at_crank - self.top_angle,
        ))
    }
}

impl Crank<f64> {
    /// The same crank in other lanes.
    #[must_use]
    pub fn map<L: Lane>(&self, f: impl Fn(f64) -> L) -> Crank<L> {
        Crank {
            radius: f(self.radius),
            rod: f(self.rod),
            pin_offset: f(self.pin_offset),
            top_angle: f(self.top_angle),
            top_height: f(self.top_height),
        }
    }
}

impl<L: Lane> Crank<L> {
    /// Sets one lane.
    pub fn set_lane(&mut self, lane: usize, from: &Crank<f64>) {
        self.radius.set_lane(lane, from.radius);
        self.rod.set_lane(lane, from.rod);
        self.pin_offset.set_lane(lane, from.pin_offset);
        self.top_angle.set_lane(lane, from.top_angle);
        self.top_height.set_lane(lane, from.top_height);
    }

    /// Piston drop and derivatives at θ [rad].
    #[inline(always)]
    pub fn at(&self, theta: L) -> Drop<L> {
        let (sine, cosine) = sin_cos(theta + self.top_angle);
        let across = self.radius * sine;
        let along = self.radius * cosine;
        let aside = across - self.pin_offset;
        let rod_height = (self.rod.squared() - aside.squared()).sqrt();
        let tangent = aside / rod_height;
        Drop {
            drop: self.top_height - (along + rod_height),
            slope: across + along * tangent,
            curvature: along + (along.squared() / rod_height) * (L::one() + tangent.squared())
                - across * tangent,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_inverses_return_the_angle() {
        for offset in [-0.002, 0.0, 0.0015] {
            let crank = Crank::new(0.02575, 0.103, offset);
            for i in 1..60 {
                let down = crank.bottom_angle() * f64::from(i) / 60.0;
                let back = crank.angle_down(crank.at(down).drop).unwrap();
                assert!((back - down).abs() < 1e-9, "{down} {back}");
                let up = crank.bottom_angle()
                    + (crate::units::TURN - crank.bottom_angle()) * f64::from(i) / 60.0;
                let back = crank.angle_up(crank.at(up).drop).unwrap();
                assert!((back - up).abs() < 1e-9, "{up} {back}");
            }
        }
    }

    #[test]
    fn derivatives_match_differences() {
        let crank = Crank::new(0.026, 0.105, 0.001);
        for i in 0..36 {
            let theta = f64::from(i) * 0.17;
            let h = 1e-4;
            let (before, here, after) = (crank.at(theta - h), crank.at(theta), crank.at(theta + h));
            assert!(((after.drop - before.drop) / (2.0 * h) - here.slope).abs() < 1e-9);
            assert!(((after.slope - before.slope) / (2.0 * h) - here.curvature).abs() < 1e-9);
        }
    }
}
