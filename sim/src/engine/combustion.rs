//! Burning by a Wiebe function.
//!
//! # Decisions
//!
//! - Burning fades over the last 0.2 % of purity, so that a charge that has leaked away does not burn.

use crate::lane::{Lane, exp, ln};
use crate::portable;

/// Share of the burn duration below which the rate counts as that at this share: keeps the logarithm
/// finite.
const SMALLEST: f64 = 1e-12;

/// Form of a burn.
#[derive(Debug, Clone, Copy)]
pub struct Wiebe<L: Lane> {
    /// Exponent m.
    pub form: L,
    /// a.
    pub completeness: L,
    /// 1/(1 − e^{−a}).
    pub normal: L,
}

impl<L: Lane> Wiebe<L> {
    /// dx_b/dy at the share `y` of the burn duration, held to 0 to 1.
    ///
    /// x_b(y) = (1 − e^{−a y^{m+1}})/(1 − e^{−a}); I. Wiebe (Vibe), *Brennverlauf und
    /// Kreisprozeß von Verbrennungsmotoren* (1970).
    #[inline(always)]
    pub fn rate(&self, y: L) -> L {
        let y = y.at_least(L::splat(SMALLEST)).at_most(L::one());
        let power = exp(ln(y) * self.form);
        let slope = self.completeness * self.form.plus(1.0) * power;
        self.normal * slope * exp(-(self.completeness * power * y))
    }
}

/// Burned share x_b at the share `y` of the burn duration.
#[must_use]
pub fn burned_share(y: f64, form: f64, completeness: f64) -> f64 {
    if y <= 0.0 {
        0.0
    } else if y >= 1.0 {
        1.0
    } else {
        (1.0 - portable::exp(-completeness * portable::pow(y, form + 1.0)))
            / (1.0 - portable::exp(-completeness))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rate_is_the_slope_of_the_share() {
        let (form, completeness): (f64, f64) = (2.0, 6.908);
        let wiebe = Wiebe { form, completeness, normal: 1.0 / (1.0 - (-completeness).exp()) };
        for i in 1..100 {
            let y = f64::from(i) / 100.0;
            let h = 1e-5;
            let slope = (burned_share(y + h, form, completeness)
                - burned_share(y - h, form, completeness))
                / (2.0 * h);
            assert!((wiebe.rate(y) - slope).abs() < 1e-7 * (1.0 + slope), "{y}");
        }
    }
}
