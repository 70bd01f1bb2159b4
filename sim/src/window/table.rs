//! Open flow area of a port over piston drop, as polynomials fitted to the exact area.
//!
//! Within a piece the area is a polynomial of the seventh degree in √|d − d₀| where the outline
//! starts with an arc (area grows as d^{3/2} there), in d elsewhere; pieces are halved until the fit
//! agrees with the exact area to 1e-10 of the whole, tested at 1e-9.

use super::shape::{Shape, ShapeFault};
use crate::lane::{Lane, MOST_LANES, Mask};
use crate::portable;
use crate::spec::Window;

/// Coefficients of a piece.
const TERMS: usize = 8;
/// Largest error of a piece over the whole area when fitting.
const FIT: f64 = 1e-10;
/// Buckets that lead to the piece.
const BUCKETS: usize = 64;

/// Area of all windows of a port over piston drop [m → m²].
#[derive(Debug, Clone, PartialEq)]
pub struct AreaTable {
    outlines: Vec<Outline>,
}

/// Windows of the same outline at the same height.
#[derive(Debug, Clone, PartialEq)]
struct Outline {
    /// Drop at which the piston's edge passes the roof [m]; roof to floor [m]; flow area of all of
    /// them, fully open [m²]; 1 where they are uncovered from the floor up instead of from the roof
    /// down.
    place: [f64; 4],
    buckets_per_metre: f64,
    pieces: Vec<Piece>,
    /// First piece that may hold the depths of a bucket.
    buckets: Vec<usize>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Piece {
    /// Depth at which it ends [m].
    end: f64,
    /// Depth d₀ from which its variable counts [m]; 1 when the variable is √|d − d₀|, 0 when it is
    /// |d − d₀|; a factor and a term with which the variable runs from −1 to 1.
    variable: [f64; 4],
    /// Coefficients of the powers 0 to 3 of that.
    low: [f64; TERMS / 2],
    /// Of the powers 4 to 7.
    high: [f64; TERMS / 2],
}

/// Stands in where a lane has no window.
const NOTHING: Piece = Piece { end: 0.0, variable: [0.0; 4], low: [0.0; 4], high: [0.0; 4] };

impl AreaTable {
    /// Windows uncovered by the crown edge: depth ≤ drop + `edge`, with `edge` the deck and the crown's
    /// chamfer [m].
    ///
    /// # Errors
    /// When a window cannot be drawn.
    pub fn crown(windows: &[Window], edge: f64) -> Result<Self, ShapeFault> {
        Self::build(windows, edge, false)
    }

    /// Windows uncovered by the lower skirt edge: depth ≥ drop + `edge`, with `edge` the deck and the
    /// skirt length [m].
    ///
    /// # Errors
    /// When a window cannot be drawn.
    pub fn skirt(windows: &[Window], edge: f64) -> Result<Self, ShapeFault> {
        Self::build(windows, edge, true)
    }

    fn build(windows: &[Window], edge: f64, skirt: bool) -> Result<Self, ShapeFault> {
        let mut outlines: Vec<(Shape, Outline)> = Vec::new();
        for window in windows {
            let shape = Shape::of(window)?;
            let flow = portable::cos(window.axial_angle) * portable::cos(window.radial_angle);
            let full = shape.area() * flow;
            let roof_drop = window.roof_depth - edge;
            // equal outlines at equal height count together, whatever their entry angles
            let alike =
                outlines.iter_mut().find(|(s, o)| *s == shape && same(o.place[0], roof_drop));
            if let Some((_, outline)) = alike {
                outline.place[2] += full;
                continue;
            }
            let pieces = fit(&shape);
            let height = shape.height();
            let buckets = buckets(&pieces, height);
            let place = [roof_drop, height, full, f64::from(u8::from(skirt))];
            let buckets_per_metre = BUCKETS as f64 / height;
            outlines.push((shape, Outline { place, buckets_per_metre, pieces, buckets }));
        }
        Ok(Self { outlines: outlines.into_iter().map(|(_, outline)| outline).collect() })
    }

    /// Flow area with everything open [m²].
    #[must_use]
    pub fn full(&self) -> f64 {
        self.outlines.iter().map(|o| o.place[2]).sum()
    }

    /// Flow area at piston `drop` [m → m²] in every lane; `table` gives the table of a lane.
    #[inline(always)]
    pub fn at<'a, L: Lane>(table: impl Fn(usize) -> &'a Self, drop: L) -> L {
        let mut count = 0;
        for lane in 0..L::WIDTH {
            count = count.max(table(lane).outlines.len());
        }
        let mut area = L::zero();
        for index in 0..count {
            area += Outline::at(|lane| table(lane).outlines.get(index), drop);
        }
        area
    }
}

fn same(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-12
}

impl Outline {
    #[inline(always)]
    fn at<'a, L: Lane>(outline: impl Fn(usize) -> Option<&'a Self>, drop: L) -> L {
        let [roof_drop, height, full, skirt] =
            L::columns(|lane| outline(lane).map_or(&[0.0; 4], |o| &o.place));
        let skirt = skirt.gt(L::splat(0.5));
        let depth = drop - roof_drop;
        let above = L::select(depth.lt(height), L::zero(), full);
        let passing = depth.gt(L::zero()).and(depth.lt(height));
        if !passing.any() {
            return L::select(skirt, full - above, above);
        }
        let mut pieces = [const { &NOTHING }; MOST_LANES];
        for (lane, piece) in pieces.iter_mut().enumerate().take(L::WIDTH) {
            if let Some(o) = outline(lane) {
                *piece = o.piece(depth.lane(lane));
            }
        }
        let [origin, rooted, steepness, shift] = L::columns(|lane| &pieces[lane].variable);
        let offset = (depth - origin).abs();
        let z = L::select(rooted.gt(L::splat(0.5)), offset.sqrt(), offset);
        let t = z * steepness + shift;
        let [c0, c1, c2, c3] = L::columns(|lane| &pieces[lane].low);
        let [c4, c5, c6, c7] = L::columns(|lane| &pieces[lane].high);
        let t2 = t * t;
        let low = (c0 + t * c1) + t2 * (c2 + t * c3);
        let high = (c4 + t * c5) + t2 * (c6 + t * c7);
        let share = low + t2 * t2 * high;
        let fitted = share.at_least(L::zero()).at_most(L::one()) * full;
        let above = L::select(passing, fitted, above);
        L::select(skirt, full - above, above)
    }

    /// The piece that holds `depth`; any where the window is shut or fully open.
    #[inline(always)]
    fn piece(&self, depth: f64) -> &Piece {
        let bucket = (depth * self.buckets_per_metre) as usize;
        let mut index = self.buckets[bucket.min(BUCKETS - 1)];
        while index + 1 < self.pieces.len() && depth >= self.pieces[index].end {
            index += 1;
        }
        &self.pieces[index]
    }
}

fn buckets(pieces: &[Piece], height: f64) -> Vec<usize> {
    (0..BUCKETS)
        .map(|b| {
            let start = height * b as f64 / BUCKETS as f64;
            pieces.iter().position(|p| p.end > start).unwrap_or(pieces.len() - 1)
        })
        .collect()
}

/// Pieces fitted to the share of the area uncovered.
fn fit(shape: &Shape) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut waiting = shape.pieces();
    waiting.reverse();
    while let Some((from, to, branch)) = waiting.pop() {
        let (piece, error) = fit_piece(shape, from, to, branch);
        if error <= FIT || to - from < 1e-3 * shape.height() {
            pieces.push(piece);
        } else {
            let middle = 0.5 * (from + to);
            waiting.push((middle, to, branch));
            waiting.push((from, middle, branch));
        }
    }
    pieces
}

/// One piece by interpolation at Chebyshev nodes, with its largest error on a finer grid.
fn fit_piece(shape: &Shape, from: f64, to: f64, branch: Option<f64>) -> (Piece, f64) {
    let total = shape.area();
    let origin = branch.unwrap_or(0.0);
    let rooted = branch.is_some();
    let variable = |d: f64| {
        let offset = (d - origin).abs();
        if rooted { offset.sqrt() } else { offset }
    };
    let (z0, z1) = (variable(from), variable(to));
    let depth = |t: f64| {
        let z = 0.5 * (z0 + z1) + 0.5 * (z1 - z0) * t;
        let offset = if rooted { z * z } else { z };
        if origin > from { origin - offset } else { origin + offset }
    };
    let share = |t: f64| shape.area_above(depth(t)) / total;
    let coefficients = interpolate(&share);
    let mut error: f64 = 0.0;
    for i in 0..=50 {
        let t = -1.0 + f64::from(i) / 25.0;
        let value = coefficients.iter().rev().fold(0.0, |sum, c| sum * t + c);
        error = error.max((value - share(t)).abs());
    }
    let steepness = 2.0 / (z1 - z0);
    let shift = -(z0 + z1) / (z1 - z0);
    let variable = [origin, f64::from(u8::from(rooted)), steepness, shift];
    let [c0, c1, c2, c3, c4, c5, c6, c7] = coefficients;
    (Piece { end: to, variable, low: [c0, c1, c2, c3], high: [c4, c5, c6, c7] }, error)
}

/// Monomial coefficients of the interpolant at the Chebyshev nodes of [−1, 1].
fn interpolate(f: &impl Fn(f64) -> f64) -> [f64; TERMS] {
    let nodes: [f64; TERMS] = std::array::from_fn(|j| {
        portable::cos(std::f64::consts::PI * (j as f64 + 0.5) / TERMS as f64)
    });
    let values = nodes.map(f);
    let mut monomial = [0.0; TERMS];
    // Chebyshev polynomials T_k as monomials, by their recurrence
    let mut previous = [0.0; TERMS];
    let mut present = [0.0; TERMS];
    present[0] = 1.0;
    for k in 0..TERMS {
        let weight = if k == 0 { 1.0 } else { 2.0 } / TERMS as f64;
        let c: f64 = (0..TERMS)
            .map(|j| {
                let angle = std::f64::consts::PI * k as f64 * (j as f64 + 0.5) / TERMS as f64;
                values[j] * portable::cos(angle)
            })
            .sum::<f64>()
            * weight;
        for i in 0..TERMS {
            monomial[i] += c * present[i];
        }
        let factor = if k == 0 { 1.0 } else { 2.0 };
        let mut next = [0.0; TERMS];
        for i in 0..TERMS {
            next[i] = if i > 0 { factor * present[i - 1] } else { 0.0 } - previous[i];
        }
        if k == 0 {
            previous = present;
            present = [0.0; TERMS];
            present[1] = 1.0;
        } else {
            previous = present;
            present = next;
        }
    }
    monomial
}

#[cfg(test)]
mod tests {
    use super::*;

    fn window(chord: f64, height: f64, roof: f64, floor: f64, arch: f64) -> Window {
        Window {
            centre: 0.0,
            chord,
            roof_depth: 0.03,
            floor_depth: 0.03 + height,
            roof_radius: roof,
            floor_radius: floor,
            roof_arch: arch,
            axial_angle: 0.0,
            radial_angle: 0.0,
        }
    }

    #[test]
    fn the_table_is_the_exact_area_to_one_part_in_a_thousand_million() {
        for (chord, height, roof, floor, arch) in [
            (0.036, 0.021, 0.0, 0.0, 0.0),
            (0.036, 0.021, 0.006, 0.006, 0.0),
            (0.036, 0.021, 0.006, 0.004, 0.001),
            (0.036, 0.021, 0.010, 0.008, 0.002),
            (0.020, 0.009, 0.003, 0.003, 0.0),
            (0.020, 0.010, 0.0, 0.002, 0.003),
            (0.020, 0.020, 0.010, 0.010, 0.0),
        ] {
            let w = window(chord, height, roof, floor, arch);
            let shape = Shape::of(&w).unwrap();
            let crown = AreaTable::crown(std::slice::from_ref(&w), 0.0).unwrap();
            let skirt = AreaTable::skirt(std::slice::from_ref(&w), 0.0).unwrap();
            for i in 0..=5000 {
                let drop = 0.029 + (height + 0.002) * f64::from(i) / 5000.0;
                let exact = shape.area_above(drop - 0.03);
                let error = (AreaTable::at(|_| &crown, drop) - exact).abs() / shape.area();
                assert!(error < 1e-9, "{chord} {roof} {arch} at {drop}: {error:e}");
                let below = shape.area() - exact;
                let error = (AreaTable::at(|_| &skirt, drop) - below).abs() / shape.area();
                assert!(error < 1e-9, "{chord} {roof} {arch} at {drop}: {error:e}");
            }
        }
    }

    #[test]
    fn impossible_outlines_are_refused() {
        let refused = |c, h, r, f, a| Shape::of(&window(c, h, r, f, a)).is_err();
        assert!(refused(0.0, 0.01, 0.0, 0.0, 0.0));
        assert!(refused(0.02, 0.01, 0.011, 0.0, 0.0));
        assert!(refused(0.02, 0.01, 0.006, 0.006, 0.0));
        assert!(refused(0.02, 0.01, 0.0, 0.0, 0.011));
        assert!(!refused(0.02, 0.01, 0.005, 0.005, 0.0));
    }
}
