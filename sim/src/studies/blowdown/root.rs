//! Roots and the highest point of results that cost a simulation each.

use crate::studies::StudyError;

/// Root of `f` between `a` and `b`, where it has values of either sign: the Illinois variant of the
/// false position, until `f` is within `close` of zero or the bracket within `narrow`.
pub(super) fn root(
    f: &mut dyn FnMut(f64) -> Result<f64, StudyError>,
    (mut a, mut fa): (f64, f64),
    (mut b, mut fb): (f64, f64),
    close: f64,
    narrow: f64,
) -> Result<f64, StudyError> {
    let mut side = 0;
    for _ in 0..60 {
        let x = (a * fb - b * fa) / (fb - fa);
        let fx = f(x)?;
        if fx.abs() <= close || (b - a).abs() <= narrow {
            return Ok(x);
        }
        if (fx > 0.0) == (fb > 0.0) {
            (b, fb) = (x, fx);
            if side == 1 {
                fa *= 0.5;
            }
            side = 1;
        } else {
            (a, fa) = (x, fx);
            if side == -1 {
                fb *= 0.5;
            }
            side = -1;
        }
    }
    Ok(0.5 * (a + b))
}

/// Where `f` is highest between `a` and `b`, one hump assumed, to `narrow`: golden-section search.
pub(super) fn highest(
    f: &mut dyn FnMut(f64) -> Result<f64, StudyError>,
    (mut a, mut b): (f64, f64),
    narrow: f64,
) -> Result<f64, StudyError> {
    let share = 0.5 * (5.0_f64.sqrt() - 1.0);
    let (mut c, mut d) = (b - share * (b - a), a + share * (b - a));
    let (mut fc, mut fd) = (f(c)?, f(d)?);
    while b - a > narrow {
        if fc < fd {
            (a, c, fc) = (c, d, fd);
            d = a + share * (b - a);
            fd = f(d)?;
        } else {
            (b, d, fd) = (d, c, fc);
            c = b - share * (b - a);
            fc = f(c)?;
        }
    }
    Ok(0.5 * (a + b))
}
