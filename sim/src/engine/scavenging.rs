//! What leaves through the exhaust while fresh charge comes in.
//!
//! With x the fresh share of the cylinder, the fresh share of the leaving stream is
//! y(x) = 1 − η′(η⁻¹(x)), η(S) being the scavenging efficiency over the scavenge ratio. Every law
//! becomes a table of y over x, cubic and with continuous slope.
//!
//! # Decisions
//!
//! - With one zone the curves act on volume shares with both gases at the cylinder's temperature; where a
//!   law makes the leaving share jump it rises over 0.02 of purity. A fitted curve that starts above the
//!   origin is preceded by perfect displacement, one that starts below by the line from the origin that
//!   touches it.

use crate::lane::{Lane, exp};
use crate::portable;
use crate::spec::ScavengingLaw;

/// Intervals of the table.
const INTERVALS: usize = 256;
/// Width over which y rises where the law makes it jump.
const JUMP_WIDTH: f64 = 0.02;
/// Scavenge ratio up to which measured curves are followed.
const LARGEST_RATIO: f64 = 6.0;
/// A fitted curve must reach this efficiency before it turns.
const NEARLY_ALL: f64 = 0.9;

/// y over x on [0, 1].
#[derive(Debug, Clone, PartialEq)]
pub struct ExitCurve {
    /// Cubic coefficients of each interval in the local variable 0 to 1.
    pieces: Vec<[f64; 4]>,
}

/// Why a scavenging curve cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CurveFault {
    /// η falls.
    #[error("scavenging efficiency falls at scavenge ratio {ratio:.3}; it must rise throughout")]
    Falls {
        /// Where.
        ratio: f64,
    },
    /// η rises faster than perfect displacement.
    #[error(
        "scavenging efficiency rises by {slope:.3} per unit of scavenge ratio at {ratio:.3}; more than 1 is not possible"
    )]
    TooSteep {
        /// Where.
        ratio: f64,
        /// dη/dS there.
        slope: f64,
    },
    /// The curve cannot be joined to the origin.
    #[error("the curve starts at efficiency {start:.3} and cannot be joined to the origin")]
    NoOrigin {
        /// η at S = 0.
        start: f64,
    },
    /// A table without enough points.
    #[error(
        "a scavenging table needs at least three points from (0, 0) on, rising in both columns"
    )]
    BadTable,
}

impl ExitCurve {
    /// The table of a law; none for perfect mixing, where y = x.
    ///
    /// # Errors
    /// When a measured curve does not rise strictly or rises faster than perfect displacement.
    pub fn of(law: &ScavengingLaw) -> Result<Option<Self>, CurveFault> {
        match law {
            ScavengingLaw::PerfectMixing => Ok(None),
            ScavengingLaw::PerfectDisplacement => Ok(Some(Self::sampled(|x| step(x, 1.0)))),
            ScavengingLaw::TwoPart { displaced, .. } if *displaced <= 0.0 => Ok(None),
            ScavengingLaw::TwoPart { displaced, .. } => {
                Ok(Some(Self::sampled(|x| x * step(x, *displaced))))
            }
            ScavengingLaw::Curve { k0, k1, k2 } => Self::measured(&curve_samples((*k0, *k1, *k2))?),
            ScavengingLaw::Table { ratio, efficiency } => {
                Self::measured(&table_samples(ratio, efficiency)?)
            }
        }
    }

    fn sampled(y: impl Fn(f64) -> f64) -> Self {
        let width = 1.0 / INTERVALS as f64;
        let nodes: Vec<f64> = (0..=INTERVALS).map(|i| y(i as f64 * width)).collect();
        Self { pieces: monotone_pieces(&nodes) }
    }

    /// From samples of a curve.
    fn measured(samples: &[Sample]) -> Result<Option<Self>, CurveFault> {
        possible(samples)?;
        let exit_share = |x: f64| exit_share(samples, x);
        // no fresh gas leaves a cylinder that holds none, whatever the curve says of its first share
        let jump = exit_share(0.0);
        let rising = |x: f64| exit_share(x) - jump * (1.0 - step(x, JUMP_WIDTH / 2.0));
        Ok(Some(Self::sampled(|x| rising(x).clamp(0.0, 1.0))))
    }

    /// y at x; `curve` gives the table of a lane.
    #[inline(always)]
    pub fn at<'a, L: Lane>(curve: impl Fn(usize) -> &'a Self, x: L) -> L {
        let place = x.at_least(L::zero()).at_most(L::one()).scale(INTERVALS as f64);
        let index = |i: usize| (place.lane(i) as usize).min(INTERVALS - 1);
        let z = place - L::from_fn(|i| index(i) as f64);
        let [c0, c1, c2, c3] = L::columns(|i| &curve(i).pieces[index(i)]);
        c0 + z * (c1 + z * (c2 + z * c3))
    }
}

/// A curve at one scavenge ratio: S, η, η′.
type Sample = (f64, f64, f64);

/// Samples of a fitted curve, in order of S.
fn curve_samples((k0, k1, k2): (f64, f64, f64)) -> Result<Vec<Sample>, CurveFault> {
    let curve = |s: f64| {
        let e = portable::exp(k0 + s * (k1 + s * k2));
        (1.0 - e, -(k1 + 2.0 * k2 * s) * e)
    };
    // where the quadratic in the exponent turns, the fit ends
    let end = if k2 > 0.0 { -k1 / (2.0 * k2) } else { LARGEST_RATIO };
    if curve(end).0 < NEARLY_ALL {
        return Err(CurveFault::Falls { ratio: end });
    }
    joined_to_origin(&curve, end.min(LARGEST_RATIO))
}

/// Refuses a curve that falls or rises faster than perfect displacement.
fn possible(samples: &[Sample]) -> Result<(), CurveFault> {
    for pair in samples.windows(2) {
        if pair[1].1 <= pair[0].1 {
            return Err(CurveFault::Falls { ratio: pair[0].0 });
        }
    }
    for &(ratio, _, slope) in samples {
        if slope > 1.0 + 1e-6 {
            return Err(CurveFault::TooSteep { ratio, slope });
        }
        if slope < -1e-9 {
            return Err(CurveFault::Falls { ratio });
        }
    }
    Ok(())
}

/// 1 − η′ where η is `x`.
fn exit_share(samples: &[Sample], x: f64) -> f64 {
    let above = samples.partition_point(|s| s.1 < x);
    if above == 0 {
        return 1.0 - samples[0].2;
    }
    let Some(&(_, e1, d1)) = samples.get(above) else {
        // beyond the measured range: toward pure fresh gas
        let (_, e, d) = samples[samples.len() - 1];
        let share = (x - e) / (1.0 - e);
        return (1.0 - d) + share * d;
    };
    let (_, e0, d0) = samples[above - 1];
    1.0 - (d0 + (x - e0) / (e1 - e0) * (d1 - d0))
}

/// How a law reads for a cylinder with two zones.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LeavingForm {
    /// The new zone leaves as its share of the volume.
    Mixing,
    /// It leaves last: [`displaced`].
    Displacement,
    /// By a table.
    Table,
}

/// Intervals of that table.
const LEAVING_INTERVALS: usize = 1024;
/// Half the width over which two-part scavenging passes from displacement to mixing.
const PASSAGE: f64 = 0.02;
/// Share of the volume over which perfect displacement comes to its end.
const LAST_SHARE: f64 = 1e-4;

/// Leaving volume share of the new zone under perfect displacement where it fills the share `x`.
#[inline(always)]
pub fn displaced<L: Lane>(x: L) -> L {
    exp((x - L::one()).scale(1.0 / LAST_SHARE))
}

/// φ = 1 − η′(η⁻¹(χ)) over χ on [0, 1]: the measured curve as it is.
#[derive(Debug, Clone, PartialEq)]
pub struct LeavingCurve {
    pieces: Vec<[f64; 4]>,
}

impl LeavingCurve {
    /// A law's form, and its table where it has one.
    ///
    /// # Errors
    /// As [`ExitCurve::of`].
    pub fn of(law: &ScavengingLaw) -> Result<(LeavingForm, Option<Self>), CurveFault> {
        let samples = match law {
            ScavengingLaw::PerfectMixing => return Ok((LeavingForm::Mixing, None)),
            ScavengingLaw::PerfectDisplacement => return Ok((LeavingForm::Displacement, None)),
            ScavengingLaw::TwoPart { displaced, .. } if *displaced <= 0.0 => {
                return Ok((LeavingForm::Mixing, None));
            }
            ScavengingLaw::TwoPart { displaced, .. } => {
                let share = |x: f64| {
                    let u = ((x - displaced + PASSAGE) / (2.0 * PASSAGE)).clamp(0.0, 1.0);
                    let s = u * u * (3.0 - 2.0 * u);
                    if x >= 1.0 { 1.0 } else { s * x / (1.0 - x + s * x) }
                };
                return Ok((LeavingForm::Table, Some(Self::sampled(share))));
            }
            ScavengingLaw::Curve { k0, k1, k2 } => curve_samples((*k0, *k1, *k2))?,
            ScavengingLaw::Table { ratio, efficiency } => table_samples(ratio, efficiency)?,
        };
        possible(&samples)?;
        let share = |x: f64| exit_share(&samples, x).clamp(0.0, 1.0);
        Ok((LeavingForm::Table, Some(Self::sampled(share))))
    }

    fn sampled(share: impl Fn(f64) -> f64) -> Self {
        let width = 1.0 / LEAVING_INTERVALS as f64;
        let nodes: Vec<f64> = (0..=LEAVING_INTERVALS).map(|i| share(i as f64 * width)).collect();
        Self { pieces: monotone_pieces(&nodes) }
    }

    /// φ at χ = `x`; `curve` gives the table of a lane.
    #[inline(always)]
    pub fn at<'a, L: Lane>(curve: impl Fn(usize) -> &'a Self, x: L) -> L {
        let place = x.at_least(L::zero()).at_most(L::one()).scale(LEAVING_INTERVALS as f64);
        let index = |i: usize| (place.lane(i) as usize).min(LEAVING_INTERVALS - 1);
        let z = place - L::from_fn(|i| index(i) as f64);
        let [c0, c1, c2, c3] = L::columns(|i| &curve(i).pieces[index(i)]);
        c0 + z * (c1 + z * (c2 + z * c3))
    }
}

/// 0 below, 1 above `at`, rising with continuous slope over the jump width, done at `at` = 1.
fn step(x: f64, at: f64) -> f64 {
    let start = (at - JUMP_WIDTH / 2.0).clamp(0.0, 1.0 - JUMP_WIDTH);
    let u = ((x - start) / JUMP_WIDTH).clamp(0.0, 1.0);
    u * u * (3.0 - 2.0 * u)
}

/// Cubic pieces through equidistant nodes, monotone (F. N. Fritsch and R. E. Carlson, SIAM J. Numer.
/// Anal. 17 (1980) 238–246, with the harmonic mean of neighbouring slopes).
fn monotone_pieces(nodes: &[f64]) -> Vec<[f64; 4]> {
    let rise: Vec<f64> = nodes.windows(2).map(|w| w[1] - w[0]).collect();
    let slope = |i: usize| {
        if i == 0 {
            rise[0]
        } else if i == rise.len() {
            rise[i - 1]
        } else if rise[i - 1] * rise[i] <= 0.0 {
            0.0
        } else {
            2.0 * rise[i - 1] * rise[i] / (rise[i - 1] + rise[i])
        }
    };
    (0..rise.len())
        .map(|i| {
            let (d0, d1) = (slope(i), slope(i + 1));
            [nodes[i], d0, 3.0 * rise[i] - 2.0 * d0 - d1, d0 + d1 - 2.0 * rise[i]]
        })
        .collect()
}

/// Samples of a fitted curve from the origin on. A curve that starts above the origin is preceded
/// by perfect displacement up to where it meets that line; one that starts below by the straight
/// line from the origin that touches it.
fn joined_to_origin(
    curve: &impl Fn(f64) -> (f64, f64),
    end: f64,
) -> Result<Vec<Sample>, CurveFault> {
    const COUNT: usize = 2000;
    let start = curve(0.0).0;
    let at = |i: usize| end * i as f64 / COUNT as f64;
    let join = if start.abs() < 1e-12 {
        Some(0)
    } else if start > 0.0 {
        (1..=COUNT).find(|&i| curve(at(i)).0 <= at(i))
    } else {
        (1..=COUNT).find(|&i| {
            let (e, d) = curve(at(i));
            e > 0.0 && e >= d * at(i)
        })
    };
    let Some(join) = join.filter(|&j| j < COUNT / 2) else {
        return Err(CurveFault::NoOrigin { start });
    };
    let (joined, _) = curve(at(join));
    let chord = if join == 0 { 0.0 } else { joined / at(join) };
    let mut samples: Vec<_> = (0..join).map(|i| (at(i), chord * at(i), chord)).collect();
    samples.extend((join..=COUNT).map(|i| {
        let (e, d) = curve(at(i));
        (at(i), e, d)
    }));
    Ok(samples)
}

/// Samples of a measured table through a monotone cubic.
fn table_samples(ratio: &[f64], efficiency: &[f64]) -> Result<Vec<Sample>, CurveFault> {
    let n = ratio.len();
    let rising = |v: &[f64]| v.windows(2).all(|w| w[1] > w[0]);
    let from_origin = n >= 3 && ratio[0] == 0.0 && efficiency[0] == 0.0;
    if !from_origin || efficiency.len() != n || !rising(ratio) || !rising(efficiency) {
        return Err(CurveFault::BadTable);
    }
    let secant = |i: usize| (efficiency[i + 1] - efficiency[i]) / (ratio[i + 1] - ratio[i]);
    let slope = |i: usize| {
        if i == 0 {
            secant(0)
        } else if i + 1 == n {
            secant(n - 2)
        } else {
            2.0 * secant(i - 1) * secant(i) / (secant(i - 1) + secant(i))
        }
    };
    let mut samples = Vec::new();
    for i in 0..n - 1 {
        let h = ratio[i + 1] - ratio[i];
        let (d0, d1, s) = (slope(i), slope(i + 1), secant(i));
        for j in 0..100 {
            let u = f64::from(j) / 100.0;
            let (c2, c3) = (3.0 * s - 2.0 * d0 - d1, d0 + d1 - 2.0 * s);
            let e = efficiency[i] + h * u * (d0 + u * (c2 + u * c3));
            samples.push((ratio[i] + h * u, e, d0 + u * (2.0 * c2 + u * 3.0 * c3)));
        }
    }
    samples.push((ratio[n - 1], efficiency[n - 1], slope(n - 1)));
    Ok(samples)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exponential_curve_is_perfect_mixing() {
        let law = ScavengingLaw::Curve { k0: 0.0, k1: -1.0, k2: 0.0 };
        let curve = ExitCurve::of(&law).unwrap().unwrap();
        for i in 0..=100 {
            let x = f64::from(i) / 100.0;
            assert!((ExitCurve::at(|_| &curve, x) - x).abs() < 1e-5, "{x}");
        }
    }

    #[test]
    fn a_cylinder_without_fresh_gas_loses_none() {
        let table = ScavengingLaw::Table {
            ratio: vec![0.0, 0.5, 1.0, 4.0],
            efficiency: vec![0.0, 0.35, 0.6, 0.99],
        };
        for law in [table, ScavengingLaw::Curve { k0: 0.01, k1: -0.8, k2: -0.1 }] {
            let curve = ExitCurve::of(&law).unwrap().unwrap();
            assert_eq!(ExitCurve::at(|_| &curve, 0.0), 0.0);
            assert_eq!(ExitCurve::at(|_| &curve, -0.01), 0.0);
            assert!(ExitCurve::at(|_| &curve, JUMP_WIDTH) > 0.15);
        }
    }

    #[test]
    fn impossible_curves_are_refused() {
        let refused = |k0, k1, k2| ExitCurve::of(&ScavengingLaw::Curve { k0, k1, k2 }).is_err();
        assert!(refused(0.0, -1.5, 0.0), "steeper than displacement");
        assert!(refused(0.0, 0.5, 0.0), "falling");
        assert!(!refused(-0.02, -0.9, -0.1), "joined by displacement");
        assert!(!refused(0.02, -0.9, -0.1), "joined by the touching line");
    }
}
