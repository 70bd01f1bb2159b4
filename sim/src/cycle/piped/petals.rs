//! Petals in an explicit step. On seat and stop they swing far faster than the step that waves ask for, so
//! that they take smaller steps of their own, by Runge's and Kutta's method of fourth order, under a
//! pressure that goes in a straight line from one end of the step to the other.

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
    /// Lift and velocity at the start of the step.
    start: [f64; 2],
    /// What the pressure accelerates them by there [m/s²].
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
            start: [0.0; 2],
            pull: 0.0,
        };
        let stages = numbers.petals.iter().enumerate().map(stage).collect();
        Self { stages, time_per_radian: numbers.figures.time_per_radian }
    }

    /// Takes note of state and pull at the start of a step.
    pub(super) fn begin(&mut self, y: &[f64], dy: &[f64]) {
        for stage in &mut self.stages {
            stage.start = [y[stage.at + LIFT], y[stage.at + VELOCITY]];
            stage.pull = stage.pull(y, dy, self.time_per_radian);
        }
    }

    /// Puts the petals where they are after a step of `h` [rad] under the pull of its start.
    pub(super) fn first(&self, h: f64, y: &mut [f64]) {
        for stage in &self.stages {
            stage.swing(h * self.time_per_radian, stage.pull, y);
        }
    }

    /// What pulls at the end of the first stage [m/s²].
    pub(super) fn end(&self, y: &[f64], dy: &[f64]) -> Vec<f64> {
        self.stages.iter().map(|stage| stage.pull(y, dy, self.time_per_radian)).collect()
    }

    /// Puts the petals at the end of the step, the pull going from its start to `pulls`.
    pub(super) fn second(&self, h: f64, pulls: &[f64], y: &mut [f64]) {
        for (stage, pull) in self.stages.iter().zip(pulls) {
            stage.swing(h * self.time_per_radian, *pull, y);
        }
    }
}

impl Stage {
    /// What the pressure accelerates the petals by [m/s²]: what is left of their rate without springs.
    fn pull(&self, y: &[f64], dy: &[f64], time_per_radian: f64) -> f64 {
        let own = self.motion.acceleration(y[self.at + LIFT], y[self.at + VELOCITY], 0.0);
        dy[self.at + VELOCITY] / time_per_radian - own
    }

    /// Moves the petals over `time` [s] from the start of the step, the pull going straight to `end`.
    fn swing(&self, time: f64, end: f64, y: &mut [f64]) {
        let count = (time * self.motion.contact.sqrt() / SWING).ceil().max(1.0);
        let dt = time / count;
        let [mut lift, mut velocity] = self.start;
        for step in 0..count as u32 {
            let pull =
                |share: f64| self.pull + (end - self.pull) * (f64::from(step) + share) / count;
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
        y[self.at + LIFT] = lift;
        y[self.at + VELOCITY] = velocity;
    }
}
