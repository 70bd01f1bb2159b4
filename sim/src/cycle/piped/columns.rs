//! Gas columns in an explicit step. A column follows its quasi-steady flow at a rate that may be far
//! faster than the step: dṁ/dt = λ(ṁ_q − ṁ). With ṁ_q a straight line over the step the solution is exact:
//! ṁ₁ = ṁ₀ + (ṁ_q0 − ṁ₀)(1 − e^{−x}) + (ṁ_q1 − ṁ_q0)(1 − (1 − e^{−x})/x), x = λΔt with the mean of both
//! rates: of second order where x is small, quasi-steady where it is large.

use crate::column::FASTEST;
use crate::lane::exp;
use crate::network::layout::Layout;

/// Up to the first x Heun's method, from the second on the formula, a mixture between: where the pressures
/// cross, ṁ_q and λ are steep and the column's own rate, which Heun's method asks for, is not.
const SLOW: (f64, f64) = (0.3, 0.8);

/// What a column does at one end of a step.
#[derive(Debug, Clone, Copy, Default)]
struct Law {
    flow: f64,
    /// Flow followed [kg/s].
    aim: f64,
    /// λ times the step.
    x: f64,
}

/// The columns of an engine.
#[derive(Debug, Clone)]
pub(super) struct Columns {
    places: Vec<usize>,
    /// FASTEST times the time of a radian.
    fastest: f64,
    start: Vec<Law>,
    end: Vec<Law>,
}

impl Columns {
    pub(super) fn of(layout: &Layout, time_per_radian: f64) -> Self {
        let places: Vec<usize> =
            (0..layout.groups).filter_map(|g| layout.column(g)).chain(layout.inlet()).collect();
        let laws = vec![Law::default(); places.len()];
        Self { fastest: FASTEST * time_per_radian, start: laws.clone(), end: laws, places }
    }

    /// Takes note of the laws at the start of a step of `h` [rad].
    pub(super) fn begin(&mut self, h: f64, y: &[f64], dy: &[f64], aims: &[f64]) {
        for (law, at) in self.start.iter_mut().zip(&self.places) {
            *law = Law::of(h, self.fastest, y[*at], dy[*at], aims[*at]);
        }
    }

    /// Puts the flows at the first stage's end in place.
    pub(super) fn first(&self, y: &mut [f64]) {
        for (law, at) in self.start.iter().zip(&self.places) {
            let share = stiff(law.x);
            if share > 0.0 {
                let exact = law.flow + (law.aim - law.flow) * (1.0 - exp(-law.x));
                y[*at] += share * (exact - y[*at]);
            }
        }
    }

    /// Takes note of the laws at the first stage's end.
    pub(super) fn end(&mut self, h: f64, y: &[f64], dy: &[f64], aims: &[f64]) {
        for (law, at) in self.end.iter_mut().zip(&self.places) {
            *law = Law::of(h, self.fastest, y[*at], dy[*at], aims[*at]);
        }
    }

    /// Puts the flows at the end of the step in place.
    pub(super) fn second(&self, y: &mut [f64]) {
        for ((a, b), at) in self.start.iter().zip(&self.end).zip(&self.places) {
            let x = 0.5 * (a.x + b.x);
            let share = stiff(x);
            if share > 0.0 {
                let followed = 1.0 - exp(-x);
                let late = 1.0 - followed / x;
                let exact = a.flow + (a.aim - a.flow) * followed + (b.aim - a.aim) * late;
                y[*at] += share * (exact - y[*at]);
            }
        }
    }
}

/// Share of the formula at x.
fn stiff(x: f64) -> f64 {
    let u = ((x - SLOW.0) / (SLOW.1 - SLOW.0)).clamp(0.0, 1.0);
    u * u * (3.0 - 2.0 * u)
}

impl Law {
    /// From the flow, its rate by angle and the flow it follows. Losses may hold it back from that: then
    /// it follows what its rate leads to.
    fn of(h: f64, fastest: f64, flow: f64, rate: f64, aim: f64) -> Self {
        let apart = aim - flow;
        let most = h * fastest;
        let x = h * rate / apart;
        if x > 0.0 {
            let x = x.min(most);
            return Self { flow, aim: flow + h * rate / x, x };
        }
        // also where it is not a number
        Self { flow, aim: flow, x: 0.0 }
    }
}
