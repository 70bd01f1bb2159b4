//! Which number matters: rank correlation for any table, Sobol indices for blocks made for them.

/// Sobol indices of one number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Indices {
    /// Share of the variance that the number explains alone.
    pub first: f64,
    /// Share that goes when everything but the number is known.
    pub total: f64,
}

/// Sobol indices of every number from blocks `[f(A), f(B), f(A with number 0 from B), ...]`; none with
/// fewer than two blocks or no variance.
///
/// First S = 1 − E[(f_B − f_ABi)²]/(2V), total T = E[(f_A − f_ABi)²]/(2V): M. J. W. Jansen, Comput.
/// Phys. Commun. 117 (1999) 35–43, in the form of A. Saltelli et al., Comput. Phys. Commun. 181 (2010)
/// 259–270, table 2.
#[must_use]
pub fn indices(blocks: &[Vec<f64>]) -> Option<Vec<Indices>> {
    let numbers = blocks.first()?.len().checked_sub(2)?;
    let count = blocks.len() as f64;
    let both = || blocks.iter().flat_map(|b| [b[0], b[1]]);
    let mean = both().sum::<f64>() / (2.0 * count);
    let variance = both().map(|f| (f - mean).powi(2)).sum::<f64>() / (2.0 * count);
    if blocks.len() < 2 || !(variance > 0.0 && variance.is_finite()) {
        return None;
    }
    let squares = |member: usize, with: usize| {
        let sum: f64 = blocks.iter().map(|b| (b[with] - b[member]).powi(2)).sum();
        sum / (2.0 * count * variance)
    };
    let of = |i: usize| Indices { first: 1.0 - squares(2 + i, 1), total: squares(2 + i, 0) };
    Some((0..numbers).map(of).collect())
}

/// Spearman's rank correlation; equal values share their mean rank. None where one side does not vary.
#[must_use]
pub fn rank_correlation(x: &[f64], y: &[f64]) -> Option<f64> {
    let (a, b) = (ranks(x), ranks(y));
    let count = a.len().min(b.len()) as f64;
    let mean = (count - 1.0) / 2.0;
    let moment = |u: &[f64], v: &[f64]| -> f64 {
        u.iter().zip(v).map(|(p, q)| (p - mean) * (q - mean)).sum()
    };
    let (aa, bb) = (moment(&a, &a), moment(&b, &b));
    (x.len() == y.len() && aa > 0.0 && bb > 0.0).then(|| moment(&a, &b) / (aa * bb).sqrt())
}

/// The rank correlation that chance alone exceeds in size with probability `level`, over `sets` sets.
///
/// Where two quantities have nothing to do with each other, r √((n − 2)/(1 − r²)) follows Student's t with
/// n − 2 degrees of freedom, closely so from some ten sets (M. G. Kendall, Rank Correlation Methods,
/// 1948). For several questions at once divide the level by their number (Bonferroni). 1 where fewer
/// than three sets can tell nothing.
#[must_use]
pub fn critical_rank_correlation(sets: usize, level: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    if sets < 3 || level <= 0.0 {
        return high;
    }
    while high - low > 1e-9 {
        let middle = 0.5 * (low + high);
        if by_chance(middle, sets - 2) > level { low = middle } else { high = middle }
    }
    high
}

/// Probability that |r| is exceeded with ν degrees of freedom: 1 − A(t|ν) in the finite sums of
/// M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 26.7.3 and 26.7.4, where
/// sin θ = r.
fn by_chance(r: f64, freedom: usize) -> f64 {
    let (square, even) = (1.0 - r * r, freedom.is_multiple_of(2));
    // first term and how each of the others follows from the one before
    let mut term = if even { 1.0 } else { square.sqrt() };
    let terms = if even { freedom / 2 } else { (freedom - 1) / 2 };
    let mut sum = 0.0;
    for k in 1..=terms {
        sum += term;
        let k = k as f64;
        term *= square * if even { (2.0 * k - 1.0) / (2.0 * k) } else { 2.0 * k / (2.0 * k + 1.0) };
    }
    let within = if even {
        r * sum
    } else {
        (crate::portable::asin(r) + r * sum) / std::f64::consts::FRAC_PI_2
    };
    1.0 - within
}

/// Rank of each value from 0.
fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
    let mut ranks = vec![0.0; values.len()];
    let mut start = 0;
    while start < order.len() {
        let same = |i: &usize| values[*i] == values[order[start]];
        let end = start + order[start..].iter().take_while(|i| same(i)).count().max(1);
        for i in &order[start..end] {
            ranks[*i] = (start + end - 1) as f64 / 2.0;
        }
        start = end;
    }
    ranks
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use super::*;
    use crate::studies::sweep::{Design, Sample, Sampled, Varied};

    /// Two-sided critical values of the correlation coefficient by degrees of freedom, as printed in
    /// R. A. Fisher and F. Yates, Statistical Tables, table VII.
    #[test]
    fn critical_correlations_are_those_of_the_printed_table() {
        for (freedom, level, printed) in [
            (1, 0.05, 0.997),
            (5, 0.05, 0.754),
            (10, 0.05, 0.576),
            (10, 0.01, 0.708),
            (15, 0.05, 0.482),
            (20, 0.01, 0.537),
            (60, 0.05, 0.250),
            (60, 0.01, 0.325),
            (100, 0.05, 0.195),
        ] {
            let found = critical_rank_correlation(freedom + 2, level);
            assert!((found - printed).abs() < 6e-4, "{freedom} {level}: {found}");
        }
        assert_eq!(critical_rank_correlation(2, 0.05), 1.0);
    }

    /// Error allowed on an index.
    const ALLOWED: f64 = 0.02;

    /// sin x₁ + a sin² x₂ + b x₃⁴ sin x₁ over −π..π, a = 7, b = 0.1: T. Ishigami and T. Homma, "An
    /// importance quantification technique in uncertainty analysis for computer models", Proc. ISUMA
    /// (1990) 398–403. Its variance in closed form: V₁ = (1 + bπ⁴/5)²/2, V₂ = a²/8,
    /// V₁₃ = 8b²π⁸/225, all others zero.
    #[test]
    fn indices_of_the_ishigami_function() {
        let (a, b) = (7.0, 0.1);
        let (v1, v2, v13) = (
            0.5 * (1.0 + b * PI.powi(4) / 5.0).powi(2),
            a * a / 8.0,
            8.0 * b * b * PI.powi(8) / 225.0,
        );
        let v = v1 + v2 + v13;
        // the closed form by the well-known figures of this function
        assert!((v1 / v - 0.3139).abs() < 1e-4 && (v2 / v - 0.4424).abs() < 1e-4);
        for seed in [0, 1, 2, 3] {
            let over = ["x1", "x2", "x3"].map(|p| Varied::new(p, vec![-PI, PI])).to_vec();
            let count = 4096;
            let drawn = Sampled::new(Sample {
                design: Design::Indices,
                count,
                seed,
                readings: false,
                over,
            });
            let f = |i: u64| {
                let [x1, x2, x3] = [0, 1, 2].map(|d| drawn.value(i, d));
                x1.sin() + a * x2.sin().powi(2) + b * x3.powi(4) * x1.sin()
            };
            let block = |k: u64| (0..5).map(|member| f(5 * k + member)).collect();
            let found = indices(&(0..count).map(block).collect::<Vec<_>>()).unwrap();
            let wanted = [(v1 / v, (v1 + v13) / v), (v2 / v, v2 / v), (0.0, v13 / v)];
            for (i, (found, (first, total))) in found.iter().zip(wanted).enumerate() {
                assert!((found.first - first).abs() < ALLOWED, "first {i}: {found:?}, {first}");
                assert!((found.total - total).abs() < ALLOWED, "total {i}: {found:?}, {total}");
            }
        }
    }

    #[test]
    fn ranks_see_any_rising_law_and_share_ties() {
        let x: Vec<f64> = (0..20).map(f64::from).collect();
        let y: Vec<f64> = x.iter().map(|v| v.exp()).collect();
        let falling: Vec<f64> = x.iter().map(|v| -v.powi(3)).collect();
        assert!((rank_correlation(&x, &y).unwrap() - 1.0).abs() < 1e-12);
        assert!((rank_correlation(&x, &falling).unwrap() + 1.0).abs() < 1e-12);
        assert_eq!(rank_correlation(&x, &[1.0; 20]), None);
        assert_eq!(ranks(&[2.0, 1.0, 2.0, 5.0]), [1.5, 0.0, 1.5, 3.0]);
        // 1 − 6Σd²/(n(n² − 1)) without ties: d = 0, 1, 1, 0 gives 0.8
        let r = rank_correlation(&[1.0, 2.0, 3.0, 4.0], &[1.0, 3.0, 2.0, 4.0]).unwrap();
        assert!((r - 0.8).abs() < 1e-12);
    }
}
