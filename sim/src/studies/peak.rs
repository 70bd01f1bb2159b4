//! Where power peaks over a range of speeds.

/// Where power is highest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Peak {
    /// Between two speeds computed: speed [1/min] and power there, by the parabola through the highest and
    /// its neighbours.
    Inside {
        /// Speed [1/min].
        rpm: f64,
        /// Power, in the unit it was given in.
        power: f64,
    },
    /// It still rises at the highest speed computed.
    Rising,
    /// It falls from the lowest speed computed.
    Falling,
}

/// Of speeds [1/min] in rising order with their powers; none of fewer than two.
#[must_use]
pub fn peak(points: &[(f64, f64)]) -> Option<Peak> {
    let highest = (0..points.len()).max_by(|a, b| points[*a].1.total_cmp(&points[*b].1))?;
    let last = points.len() - 1;
    if last == 0 {
        return None;
    }
    if highest == last {
        return Some(Peak::Rising);
    }
    if highest == 0 {
        return Some(Peak::Falling);
    }
    let [(x0, y0), (x1, y1), (x2, y2)] =
        [points[highest - 1], points[highest], points[highest + 1]];
    let (left, right) = ((y1 - y0) / (x1 - x0), (y2 - y1) / (x2 - x1));
    let bend = (right - left) / (x2 - x0);
    // slope at x1 of the parabola through the three
    let slope = left + bend * (x1 - x0);
    if bend >= 0.0 {
        return Some(Peak::Inside { rpm: x1, power: y1 });
    }
    let off = -slope / (2.0 * bend);
    Some(Peak::Inside { rpm: x1 + off, power: y1 + off * (slope + bend * off) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parabola_gives_its_own_top() {
        let power = |x: f64| 6.0 - (x / 1000.0 - 7.3).powi(2);
        let at = |speeds: &[f64]| peak(&speeds.iter().map(|x| (*x, power(*x))).collect::<Vec<_>>());
        let Some(Peak::Inside { rpm, power: top }) = at(&[5000.0, 6500.0, 7000.0, 9000.0]) else {
            panic!("no peak")
        };
        assert!((rpm - 7300.0).abs() < 1e-6 && (top - 6.0).abs() < 1e-9, "{rpm} {top}");
        assert_eq!(at(&[5000.0, 6000.0, 7000.0]), Some(Peak::Rising));
        assert_eq!(at(&[8000.0, 9000.0]), Some(Peak::Falling));
        assert_eq!(at(&[8000.0]), None);
    }
}
