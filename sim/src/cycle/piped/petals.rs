//! Petals in an explicit step. On seat and stop they swing far faster than the step that waves ask for, so
//! that they take smaller steps of their own, by Runge's and Kutta's method of fourth order, under a
//! pressure that goes in a straight line through the middles of this step and the last.

use crate::engine::reed::PetalMotion;
use crate::network::Numbers;
use crate::network::layout::{LIFT, Layout, VELOCITY};

/// Angle of a swing on seat or stop that a petal's own step covers [rad].
const SWING: f64 = 0.25;

/// Petals of one stage.
#[derive(Debug, Clone, Copy)]
struct Stage {
    /// Place of its states.
    at: usize,
    motion: PetalMotion<f64>,
    /// What the pressure accelerated them by where rates were worked out last [m/s²].
    pull: f64,
}

/// The petals of an engine.
#[derive(Debug, Clone)]
pub(super) struct Petals {
    stages: Vec<Stage>,
    time_per_radian: f64,
}

impl Petals {
    pub(super) fn of(layout: &Layout, numbers: &Numbers<f64>) -> Self {
        let stage = |(s, petal): (usize, &crate::network::PetalNumbers<f64>)| Stage {
            at: layout.petal(s),
            motion: petal.motion(),
            pull: 0.0,
        };
        let stages = numbers.petals.iter().enumerate().map(stage).collect();
        Self { stages, time_per_radian: numbers.figures.time_per_radian }
    }

    /// Takes the pull as it is, without any before it.
    pub(super) fn forget(&mut self, y: &[f64], dy: &[f64]) {
        for stage in &mut self.stages {
            stage.pull = stage.pull(y, dy, self.time_per_radian);
        }
    }

    /// Puts the petals where they are `half` a step [rad] after `y`, under the last pull.
    pub(super) fn predict(&self, half: f64, y: &[f64], middle: &mut [f64]) {
        for stage in &self.stages {
            let moved = stage.swing(half * self.time_per_radian, [stage.pull; 2], y);
            middle[stage.at + LIFT] = moved[0];
            middle[stage.at + VELOCITY] = moved[1];
        }
    }

    /// Makes the rates of the petals those that lead to where they are at the end of a step of `h` [rad],
    /// the pull in its middle being that `span` [rad] after the last.
    pub(super) fn end(
        &mut self,
        (h, span): (f64, f64),
        (y, middle): (&[f64], &[f64]),
        dy: &mut [f64],
    ) {
        for stage in &mut self.stages {
            let pull = stage.pull(middle, dy, self.time_per_radian);
            let rise = 0.5 * h / span * (pull - stage.pull);
            let moved = stage.swing(h * self.time_per_radian, [pull - rise, pull + rise], y);
            for (k, value) in [LIFT, VELOCITY].into_iter().zip(moved) {
                dy[stage.at + k] = (value - y[stage.at + k]) / h;
            }
            stage.pull = pull;
        }
    }
}

impl Stage {
    /// What the pressure accelerates the petals by [m/s²]: what is left of their rate without springs.
    fn pull(&self, y: &[f64], dy: &[f64], time_per_radian: f64) -> f64 {
        let own = self.motion.acceleration(y[self.at + LIFT], y[self.at + VELOCITY], 0.0);
        dy[self.at + VELOCITY] / time_per_radian - own
    }

    /// Lift and velocity `time` [s] after `y`, the pull going straight from one to the other.
    fn swing(&self, time: f64, [first, last]: [f64; 2], y: &[f64]) -> [f64; 2] {
        let [mut lift, mut velocity] = [y[self.at + LIFT], y[self.at + VELOCITY]];
        let count = (time * self.motion.contact.sqrt() / SWING).ceil().max(1.0);
        let dt = time / count;
        for step in 0..count as u32 {
            let pull = |share: f64| first + (last - first) * (f64::from(step) + share) / count;
            let rate =
                |share: f64, x: f64, v: f64| self.motion.acceleration(x, v, 0.0) + pull(share);
            let (v1, a1) = (velocity, rate(0.0, lift, velocity));
            let v2 = velocity + 0.5 * dt * a1;
            let a2 = rate(0.5, lift + 0.5 * dt * v1, v2);
            let v3 = velocity + 0.5 * dt * a2;
            let a3 = rate(0.5, lift + 0.5 * dt * v2, v3);
            let v4 = velocity + dt * a3;
            let a4 = rate(1.0, lift + dt * v3, v4);
            lift += dt / 6.0 * (v1 + 2.0 * (v2 + v3) + v4);
            velocity += dt / 6.0 * (a1 + 2.0 * (a2 + a3) + a4);
        }
        [lift, velocity]
    }
}
