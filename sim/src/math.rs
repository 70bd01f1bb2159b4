//! Quadrature for set-up code.

/// ∫f from `from` to `to` by adaptive Simpson halving until the estimated error is below `tolerance`
/// times the interval's length.
#[must_use]
pub fn integrate(f: &impl Fn(f64) -> f64, from: f64, to: f64, tolerance: f64) -> f64 {
    let middle = 0.5 * (from + to);
    let ends = [f(from), f(middle), f(to)];
    halve(f, (from, to), ends, tolerance, 40)
}

fn halve(
    f: &impl Fn(f64) -> f64,
    (from, to): (f64, f64),
    [first, middle, last]: [f64; 3],
    tolerance: f64,
    depth: u32,
) -> f64 {
    let h = to - from;
    let centre = 0.5 * (from + to);
    let (left, right) = (f(0.5 * (from + centre)), f(0.5 * (centre + to)));
    let coarse = h / 6.0 * (first + 4.0 * middle + last);
    let fine = h / 12.0 * (first + 4.0 * left + 2.0 * middle + 4.0 * right + last);
    let error = (fine - coarse) / 15.0;
    if depth == 0 || error.abs() <= tolerance * h.abs() {
        return fine + error;
    }
    halve(f, (from, centre), [first, left, middle], tolerance, depth - 1)
        + halve(f, (centre, to), [middle, right, last], tolerance, depth - 1)
}
