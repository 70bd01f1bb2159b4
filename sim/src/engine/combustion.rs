//! Burning by a Wiebe function.

use crate::lane::{Lane, Mask, exp, ln};

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
    /// dx_b/dy at the share `y` of the burn duration; zero outside 0 to 1.
    ///
    /// x_b(y) = (1 − e^{−a y^{m+1}})/(1 − e^{−a}); I. Wiebe (Vibe), *Brennverlauf und
    /// Kreisprozeß von Verbrennungsmotoren* (1970).
    #[inline(always)]
    pub fn rate(&self, y: L) -> L {
        let inside = y.gt(L::zero()).and(y.lt(L::one()));
        let held = L::select(inside, y, L::splat(0.5));
        let power = exp(ln(held) * self.form);
        let slope = self.completeness * self.form.plus(1.0) * power;
        let rate = self.normal * slope * exp(-(self.completeness * power * held));
        L::select(inside, rate, L::zero())
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
        (1.0 - (-completeness * y.powf(form + 1.0)).exp()) / (1.0 - (-completeness).exp())
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
        assert_eq!(wiebe.rate(1.2).to_bits(), 0.0_f64.to_bits());
    }
}
