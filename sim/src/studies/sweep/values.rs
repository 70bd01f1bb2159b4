//! Values of an axis: ranges and the gaskets on the shelf.

/// Most values one axis may have.
pub const MOST_VALUES: usize = 100_000;
/// Most pieces on a shelf.
const MOST_PIECES: usize = 16;
/// Values this close are one (a nanometre where the unit is a millimetre).
const SAME: f64 = 1e-6;

/// The value without the last digits that adding steps leaves: 0.30000000000000004 is 0.3.
#[must_use]
pub fn snapped(value: f64) -> f64 {
    let fine = (value * 1e9).round() / 1e9;
    if (fine - value).abs() <= 1e-12 * value.abs().max(1.0) { fine } else { value }
}

/// `from`, `from + step` and so on up to `to`.
///
/// # Errors
/// What to write instead.
pub fn steps(from: f64, to: f64, step: f64) -> Result<Vec<f64>, String> {
    if !(from.is_finite() && to.is_finite() && step.is_finite() && step > 0.0) {
        return Err(format!("the step must be a number above zero, not {step}"));
    }
    if to < from {
        return Err(format!("the range falls: write from {to} to {from}"));
    }
    let count = ((to - from) / step + 1e-9).floor() + 1.0;
    if count > MOST_VALUES as f64 {
        return Err(format!("{count:.0} values are too many for one axis; use a larger step"));
    }
    Ok((0..count as usize).map(|i| snapped(from + step * i as f64)).collect())
}

/// `count` values evenly from `from` to `to`, both included.
///
/// # Errors
/// What to write instead.
pub fn range(from: f64, to: f64, count: usize) -> Result<Vec<f64>, String> {
    if !(2..=MOST_VALUES).contains(&count) {
        return Err(format!("the count must lie between 2 and {MOST_VALUES}, not {count}"));
    }
    if !(from.is_finite() && to.is_finite() && from < to) {
        return Err(format!("the range must rise, from below to above; {from} to {to} does not"));
    }
    let width = to - from;
    Ok((0..count).map(|i| snapped(from + width * i as f64 / (count - 1) as f64)).collect())
}

/// Every thickness that the pieces of a shelf make, each piece used once and at most `most` together,
/// rising.
///
/// ```
/// let sums = freshcharge_sim::sweep::shelf_sums(&[0.2, 0.3, 0.5], 2).unwrap();
/// assert_eq!(sums, [0.2, 0.3, 0.5, 0.7, 0.8]);
/// ```
///
/// # Errors
/// What to write instead.
pub fn shelf_sums(pieces: &[f64], most: usize) -> Result<Vec<f64>, String> {
    if pieces.is_empty() || pieces.len() > MOST_PIECES {
        return Err(format!(
            "a shelf holds between 1 and {MOST_PIECES} pieces, not {}",
            pieces.len()
        ));
    }
    if most == 0 {
        return Err("at least one piece must be allowed together".to_owned());
    }
    if let Some(odd) = pieces.iter().find(|p| !(p.is_finite() && **p > 0.0)) {
        return Err(format!("a piece must be thicker than zero, not {odd}"));
    }
    let chosen = (1_u32..1 << pieces.len()).filter(|set| set.count_ones() as usize <= most);
    let sum = |set: u32| {
        let used = pieces.iter().enumerate().filter(|(i, _)| set >> i & 1 == 1);
        snapped(used.map(|(_, p)| p).sum())
    };
    let mut sums: Vec<f64> = chosen.map(sum).collect();
    sums.sort_by(f64::total_cmp);
    sums.dedup_by(|a, b| (*a - *b).abs() < SAME);
    Ok(sums)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_end_where_they_say_and_carry_no_rounding() {
        let tenths = steps(0.1, 0.7, 0.1).unwrap();
        assert_eq!(tenths, [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7]);
        assert_eq!(steps(1.0, 1.95, 0.5).unwrap(), [1.0, 1.5]);
        assert_eq!(range(-1.0, 1.0, 5).unwrap(), [-1.0, -0.5, 0.0, 0.5, 1.0]);
        assert!(steps(1.0, 0.0, 0.1).unwrap_err().contains("from 0 to 1"));
        assert!(steps(0.0, 1.0, 0.0).is_err() && steps(0.0, 1.0, f64::NAN).is_err());
        assert!(steps(0.0, 1e9, 1e-3).unwrap_err().contains("too many"));
        assert!(range(0.0, 1.0, 1).is_err() && range(2.0, 1.0, 3).is_err());
    }

    #[test]
    fn equal_sums_of_a_shelf_count_once() {
        assert_eq!(shelf_sums(&[0.2, 0.3, 0.5], 3).unwrap(), [0.2, 0.3, 0.5, 0.7, 0.8, 1.0]);
        assert_eq!(shelf_sums(&[0.4, 0.4], 2).unwrap(), [0.4, 0.8]);
        assert!(shelf_sums(&[], 1).is_err() && shelf_sums(&[0.1; 17], 1).is_err());
        assert!(shelf_sums(&[-0.1], 1).is_err() && shelf_sums(&[0.1], 0).is_err());
    }
}
