//! Slugs in an explicit step. An almost empty slug drains far faster than the step: its share of the flow ṁ
//! through the window is w = 1 − e^{−m/m_δ}, so that dm/dt = −ṁw. With an even flow that is solved exactly by
//! m₁ = m_δ ln(1 + (e^{m₀/m_δ} − 1)e^{−x}), x = ṁt/m_δ. In the middle of a step a slug is given the mass whose
//! share is the mean one, (m₀ − m₁)/ṁt: then the midpoint rule takes it to m₁.

use crate::lane::{exp, ln};
use crate::network::layout::{Layout, SLUG_MASS};

/// Slug mass that will be left over m_δ above which the share is 1.
const PLENTY: f64 = 20.0;

/// Puts slug `g` into the middle of a step from `y` with `passes` = ṁt/m_δ, m_δ being one over
/// `per_blend_mass` [1/kg].
pub(super) fn predict(
    layout: &Layout,
    g: usize,
    per_blend_mass: f64,
    passes: f64,
    (y, middle): (&[f64], &mut [f64]),
) {
    let held = y[layout.slug(g) + SLUG_MASS] * per_blend_mass;
    if !(held > 0.0 && passes > 0.0 && held - passes < PLENTY) {
        return;
    }
    // 1 − w̄ = ln(1 + e^{−m₀/m_δ}(e^x − 1))/x: so it keeps its digits where little passes or much is held
    let kept = logarithm(exp(-held) * growth(passes)) / passes;
    let share = -ln(kept) / held;
    for first in [layout.slug(g), layout.slug_tracers(g)] {
        for at in first..first + 3 {
            middle[at] = share * y[at];
        }
    }
}

/// e^x − 1 without loss of digits (W. Kahan).
fn growth(x: f64) -> f64 {
    let grown = exp(x);
    if grown == 1.0 { x } else { (grown - 1.0) * x / ln(grown) }
}

/// ln(1 + x) likewise.
fn logarithm(x: f64) -> f64 {
    let above = 1.0 + x;
    if above == 1.0 { x } else { ln(above) * x / (above - 1.0) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slug_drains_as_its_law_says() {
        // against many small steps of the law itself
        let layout = Layout::new(1, false, Default::default(), false);
        for (held, passes) in [(0.01, 3.0), (1.0, 0.1), (4.0, 6.0), (15.0, 12.0)] {
            let mut y = vec![0.0; layout.states()];
            let at = layout.slug(0);
            (y[at], y[at + 1]) = (held, 0.5 * held);
            let mut middle = y.clone();
            predict(&layout, 0, 1.0, passes, (&y, &mut middle));
            let after = held - passes * (1.0 - (-middle[at]).exp());
            let steps = 200_000;
            let mut slow: f64 = held;
            for _ in 0..steps {
                let h = passes / f64::from(steps);
                let half = slow - 0.5 * h * (1.0 - (-slow).exp());
                slow -= h * (1.0 - (-half).exp());
            }
            assert!((after / slow - 1.0).abs() < 1e-6, "{held} {passes}: {after} {slow}");
            assert!((middle[at + 1] / middle[at] - 0.5).abs() < 1e-12);
        }
    }

    #[test]
    fn a_slug_that_hardly_anything_leaves_stays_what_it_is() {
        let layout = Layout::new(1, false, Default::default(), false);
        let at = layout.slug(0);
        for held in [0.3, 5.0, 12.0, 17.0, 19.9] {
            for passes in [1e-15, 1e-12, 1e-9, 1e-6, 1e-4] {
                let mut y = vec![0.0; layout.states()];
                y[at] = held;
                let mut middle = y.clone();
                predict(&layout, 0, 1.0, passes, (&y, &mut middle));
                let off = (middle[at] / held - 1.0).abs();
                assert!(off <= passes + 1e-12, "{held} {passes}: {off:e}");
            }
        }
    }
}
