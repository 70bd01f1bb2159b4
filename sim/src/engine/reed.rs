//! Motion of a reed valve's petal: one bending mode between seat and stop.
//!
//! # Decisions
//!
//! - The lift of a petal's tip and its velocity are two unknowns of the state for each stage (petals of a
//!   stage move alike). The pressure that moves it is its share of the drop over the whole intake: drops
//!   go as the inverse squares of areas in series, and what accelerates the gas column or is lost on its
//!   way does not reach the petals. The windows and the curtain under the petals stand in series; what a
//!   petal gives on its stop is no passage.
//! - Seat and stop push like springs whose damping takes the same share of every speed and never pull, so
//!   that they cannot create energy; they are stiff as the petal's fourth mode, beyond which one mode
//!   says nothing. In a probing cycle lift and velocity are displaced like any entry unless the petal is
//!   seated. With pipes petals take smaller steps of their own, under the pressure to which the gas ahead
//!   of them would rise at rest.

use crate::lane::Lane;

/// Square of a speed that is none [m²/s²].
const STANDSTILL: f64 = 1e-14;

/// Numbers of a petal's motion.
#[derive(Debug, Clone, Copy)]
pub struct PetalMotion<L: Lane> {
    /// ω₁² [1/s²].
    pub stiffness: L,
    /// 2ζω₁ [1/s].
    pub damping: L,
    /// What a pressure difference accelerates it by [m/s² per Pa].
    pub load: L,
    /// Square of its frequency on seat or stop [1/s²].
    pub contact: L,
    /// Dissipation κ there.
    pub dissipation: L,
    /// Lift of the tip at the stop [m].
    pub stop: L,
}

impl<L: Lane> PetalMotion<L> {
    /// Acceleration of the tip [m/s²] at this lift [m], velocity [m/s] and pressure difference [Pa] that
    /// it bears, positive where it opens.
    ///
    /// Seat and stop push with ω_c²δ(1 + κδ̇/√(δ̇² + ω_c²δ²)) at the depth δ, and never pull: what the second
    /// term does is always taken from the petal. The push sets in without a jump, damps a petal at rest
    /// with κ/2 of critical, and leaves the same share of every speed.
    #[inline(always)]
    pub fn acceleration(&self, lift: L, velocity: L, pressure: L) -> L {
        let zero = L::zero();
        let free = self.load * pressure - self.stiffness * lift - self.damping * velocity;
        let beyond = lift - self.stop;
        let (on_seat, on_stop) = (lift.lt(zero), beyond.gt(zero));
        let depth = L::select(on_seat, -lift, L::select(on_stop, beyond, zero));
        let inward = L::select(on_seat, -velocity, velocity);
        let spring = self.contact * depth;
        let pace = (inward.squared() + spring * depth).plus(STANDSTILL).sqrt();
        let push = (L::one() + self.dissipation * inward / pace).at_least(zero);
        let force = spring * push;
        free + L::select(on_seat, force, -force)
    }

    /// Energy of the motion over the moving mass [J/kg], springs of seat and stop included.
    #[inline(always)]
    pub fn energy(&self, lift: L, velocity: L) -> L {
        let zero = L::zero();
        let beyond = lift - self.stop;
        let depth = L::select(beyond.gt(zero), beyond, (-lift).at_least(zero));
        let springs = self.stiffness * lift.squared() + self.contact * depth.squared();
        (velocity.squared() + springs).scale(0.5)
    }
}
