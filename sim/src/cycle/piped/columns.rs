//! Gas columns in an explicit step. A column follows its quasi-steady flow at a rate that may be far
//! faster than the step: dṁ/dt = λ(ṁ_q − ṁ). With ṁ_q a straight line over a time t the solution is exact:
//! ṁ₁ = ṁ₀ + (ṁ_q0 − ṁ₀)(1 − e^{−x}) + (ṁ_q1 − ṁ_q0)(1 − (1 − e^{−x})/x), x = λt: of second order where x is
//! small, quasi-steady where it is large. In the middle of a step such a column has the flow that this
//! gives with the law found there.

use crate::column::FASTEST;
use crate::lane::exp;
use crate::network::layout::Layout;

/// Up to the first x the midpoint rule, from the second on the formula, a mixture between: where the pressures
/// cross, ṁ_q and λ are steep and the column's own rate, which the midpoint rule asks for, is not.
const SLOW: (f64, f64) = (0.3, 0.8);

/// What a column does at an angle.
#[derive(Debug, Clone, Copy, Default)]
struct Law {
    /// Flow followed [kg/s].
    aim: f64,
    /// λ by angle [1/rad].
    rate: f64,
}

/// The columns of an engine.
#[derive(Debug, Clone)]
pub(super) struct Columns {
    places: Vec<usize>,
    /// FASTEST times the time of a radian.
    fastest: f64,
    /// Where rates were worked out last.
    laws: Vec<Law>,
}

impl Columns {
    pub(super) fn of(layout: &Layout, time_per_radian: f64) -> Self {
        let places: Vec<usize> =
            (0..layout.groups).filter_map(|g| layout.column(g)).chain(layout.inlet()).collect();
        let laws = vec![Law::default(); places.len()];
        Self { fastest: FASTEST * time_per_radian, laws, places }
    }

    /// Takes the laws as they are, without any before them.
    pub(super) fn forget(&mut self, y: &[f64], dy: &[f64], aims: &[f64]) {
        for (law, at) in self.laws.iter_mut().zip(&self.places) {
            *law = Law::of(self.fastest, y[*at], dy[*at], aims[*at]);
        }
    }

    /// Puts the flows `half` a step [rad] after `y` in place, by the last laws.
    pub(super) fn predict(&self, half: f64, y: &[f64], middle: &mut [f64]) {
        for (law, at) in self.laws.iter().zip(&self.places) {
            let x = law.rate * half;
            let share = stiff(2.0 * x);
            if share > 0.0 {
                let exact = law.after(y[*at], law.aim, x);
                middle[*at] += share * (exact - middle[*at]);
            }
        }
    }

    /// Puts the flows in the middle of a step of `h` [rad] in place, by the laws found there, `span` [rad]
    /// after the last ones. False where the midpoint rule is good enough.
    pub(super) fn correct(
        &self,
        (h, span): (f64, f64),
        (y, middle): (&[f64], &mut [f64]),
        dy: &[f64],
        aims: &[f64],
    ) -> bool {
        let mut corrected = false;
        for (last, at) in self.laws.iter().zip(&self.places) {
            let law = Law::of(self.fastest, middle[*at], dy[*at], aims[*at]);
            let share = stiff(law.rate * h);
            if share > 0.0 {
                let rise = 0.5 * h / span * (law.aim - last.aim);
                let exact = law.after(y[*at], law.aim - rise, 0.5 * law.rate * h);
                middle[*at] += share * (exact - middle[*at]);
                corrected = true;
            }
        }
        corrected
    }

    /// Makes the rates of stiff columns those that lead to the flows at the end of the step.
    pub(super) fn end(
        &mut self,
        (h, span): (f64, f64),
        (y, middle): (&[f64], &[f64]),
        dy: &mut [f64],
        aims: &[f64],
    ) {
        for (last, at) in self.laws.iter_mut().zip(&self.places) {
            let law = Law::of(self.fastest, middle[*at], dy[*at], aims[*at]);
            let share = stiff(law.rate * h);
            if share > 0.0 {
                let rise = 0.5 * h / span * (law.aim - last.aim);
                let on = Law { aim: law.aim + rise, ..law };
                let exact = on.after(y[*at], law.aim - rise, law.rate * h);
                dy[*at] += share * ((exact - y[*at]) / h - dy[*at]);
            }
            *last = law;
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
    fn of(fastest: f64, flow: f64, rate: f64, aim: f64) -> Self {
        let own = rate / (aim - flow);
        if own > 0.0 {
            let own = own.min(fastest);
            return Self { aim: flow + rate / own, rate: own };
        }
        // also where it is not a number
        Self { aim: flow, rate: 0.0 }
    }

    /// Flow that has become of `flow` at x, while the flow followed went from `first` to the aim.
    fn after(&self, flow: f64, first: f64, x: f64) -> f64 {
        let followed = 1.0 - exp(-x);
        flow + (first - flow) * followed + (self.aim - first) * (1.0 - followed / x)
    }
}
