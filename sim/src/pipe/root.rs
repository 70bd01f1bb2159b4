//! The root of a function between two places where its signs differ.

/// Most evaluations; bisection alone would need 60.
const MOST: u32 = 100;
/// Width of the bracket at the end, relative to the root and to the first bracket.
const WIDTH: f64 = 4.0 * f64::EPSILON;

/// A step, relative to the root and to the first bracket, after which interpolation has nothing left to
/// gain: it leaves about the square of the share.
const LAST_STEP: f64 = 1e-8;

/// Root of `f` between `a` and `b`, where `f(a)` is `fa` and `f(b)` is `fb`, of different sign: inverse
/// quadratic interpolation where it is safe, bisection elsewhere, the chord at first.
///
/// T. R. Chandrupatla, Adv. Eng. Software 28 (1997) 145–149.
pub(super) fn between(f: impl Fn(f64) -> f64, a: (f64, f64), b: (f64, f64)) -> f64 {
    let scale = (a.0 - b.0).abs();
    let ((mut b, mut fb), (mut a, mut fa)) = (a, b);
    let mut share = (fa / (fa - fb)).clamp(0.02, 0.98);
    let mut smooth = false;
    for _ in 0..MOST {
        let step = share * (b - a);
        let x = a + step;
        if smooth && step.abs() <= LAST_STEP * (x.abs().min(scale)) {
            return x;
        }
        let fx = f(x);
        let (c, fc) = if (fx > 0.0) == (fa > 0.0) {
            (a, fa)
        } else {
            let last = (b, fb);
            (b, fb) = (a, fa);
            last
        };
        (a, fa) = (x, fx);
        let (best, value) = if fa.abs() < fb.abs() { (a, fa) } else { (b, fb) };
        let least = WIDTH * (best.abs() + scale) / (b - a).abs();
        if value == 0.0 || least > 0.5 {
            return best;
        }
        let (xi, phi) = ((a - b) / (c - b), (fa - fb) / (fc - fb));
        smooth = phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi;
        share = if smooth {
            fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
        } else {
            0.5
        };
        // comparisons, so that what is not a number stays one
        share = if share < least { least } else { share };
        share = if share > 1.0 - least { 1.0 - least } else { share };
    }
    if fa.abs() < fb.abs() { a } else { b }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_roots_of_smooth_and_of_broken_functions() {
        let cube = |x: f64| x * x * x - 2.0;
        assert!((between(cube, (0.0, -2.0), (5.0, 123.0)) - 2.0_f64.cbrt()).abs() < 1e-14);
        let step = |x: f64| if x < 0.3 { -1e200 } else { x };
        assert!((between(step, (0.0, -1e200), (1.0, 1.0)) - 0.3).abs() < 1e-14);
        assert_eq!(between(|x| x, (-1.0, -1.0), (1.0, 1.0)), 0.0);
    }
}
