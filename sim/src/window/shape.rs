//! A window's outline in the chord plane.
//!
//! Straight sides a chord apart; a roof that is flat or a circular arc, highest at mid-width; a flat
//! floor; corner circles tangent to the side and to the level of the apex, and to side and floor: the
//! window is what lies inside all of them. Depths count from the roof's apex.
//!
//! # Decisions
//!
//! - A crown chamfer lets every crown-controlled edge open by its height earlier.

use crate::portable;
use crate::spec::Window;

/// An outline that can be drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shape {
    chord: f64,
    height: f64,
    roof_radius: f64,
    floor_radius: f64,
    /// Radius of the roof's arc; none for a flat roof.
    arc: Option<f64>,
    /// Depth where the roof passes into the corner circle.
    corner_start: f64,
    /// Where the straight side begins: the depth of the corner circle's centre, or of the arc's ends where
    /// the arc reaches the sides below the corners.
    side_start: f64,
}

/// Why an outline cannot be drawn. Lengths in mm.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ShapeFault {
    /// Chord or height not positive.
    #[error("window of chord {chord:.2} mm and height {height:.2} mm has no area")]
    NoArea {
        /// Chord.
        chord: f64,
        /// Roof to floor.
        height: f64,
    },
    /// Negative radius or arch.
    #[error("corner radii and roof arch cannot be negative")]
    Negative,
    /// Radii wider than the chord.
    #[error("corner radius {radius:.2} mm is more than half the chord {chord:.2} mm")]
    TooWide {
        /// Radius.
        radius: f64,
        /// Chord.
        chord: f64,
    },
    /// Arch and radii higher than the window.
    #[error(
        "roof arch and corner radii need {needed:.2} mm of height, the window has {height:.2} mm"
    )]
    TooHigh {
        /// Height needed.
        needed: f64,
        /// Height there is.
        height: f64,
    },
    /// Arch higher than a half circle.
    #[error("roof arch {arch:.2} mm is more than half the chord {chord:.2} mm")]
    ArchTooHigh {
        /// Sagitta.
        arch: f64,
        /// Chord.
        chord: f64,
    },
}

/// Sagitta below which a roof counts as flat [m].
const FLAT: f64 = 1e-6;
/// Slack for radii that fill chord or height exactly [m].
const SLACK: f64 = 1e-9;

impl Shape {
    /// From a window.
    ///
    /// # Errors
    /// When its radii, arch, chord and height do not go together.
    pub fn of(window: &Window) -> Result<Self, ShapeFault> {
        let (chord, height) = (window.chord, window.floor_depth - window.roof_depth);
        let (roof, floor, arch) = (window.roof_radius, window.floor_radius, window.roof_arch);
        let mm = |x: f64| x * 1e3;
        if !(chord > 0.0 && height > 0.0) {
            return Err(ShapeFault::NoArea { chord: mm(chord), height: mm(height) });
        }
        if !(roof >= 0.0 && floor >= 0.0 && arch >= 0.0) {
            return Err(ShapeFault::Negative);
        }
        for radius in [roof, floor] {
            if radius > chord / 2.0 + SLACK {
                return Err(ShapeFault::TooWide { radius: mm(radius), chord: mm(chord) });
            }
        }
        if arch > chord / 2.0 + SLACK {
            return Err(ShapeFault::ArchTooHigh { arch: mm(arch), chord: mm(chord) });
        }
        let (arc, corner_start, side_start) = if arch < FLAT {
            (None, 0.0, roof)
        } else {
            let arc = (chord * chord / 4.0 + arch * arch) / (2.0 * arch);
            match crossing(arc, arch, roof, chord / 2.0) {
                Some(depth) => (Some(arc), depth, roof),
                None => (Some(arc), arch, arch),
            }
        };
        if side_start > height - floor + SLACK {
            let needed = side_start + floor;
            return Err(ShapeFault::TooHigh { needed: mm(needed), height: mm(height) });
        }
        Ok(Self {
            chord,
            height,
            roof_radius: roof,
            floor_radius: floor,
            arc,
            corner_start,
            side_start,
        })
    }

    /// Roof apex to floor [m].
    #[must_use]
    pub fn height(&self) -> f64 {
        self.height
    }

    /// Width at `depth` [m].
    #[must_use]
    pub fn width(&self, depth: f64) -> f64 {
        if depth < 0.0 || depth > self.height {
            return 0.0;
        }
        let circle = |radius: f64, off: f64| (radius * radius - off * off).max(0.0).sqrt();
        let roof_half = match self.arc {
            Some(arc) if depth < self.corner_start => circle(arc, arc - depth),
            _ if depth < self.side_start => {
                let radius = self.roof_radius;
                self.chord / 2.0 - radius + circle(radius, self.side_start - depth)
            }
            _ => self.chord / 2.0,
        };
        let below = depth - (self.height - self.floor_radius);
        let floor_half = if below > 0.0 {
            self.chord / 2.0 - self.floor_radius + circle(self.floor_radius, below)
        } else {
            self.chord / 2.0
        };
        2.0 * roof_half.min(floor_half)
    }

    /// Area above `depth` [m²], exact.
    #[must_use]
    pub fn area_above(&self, depth: f64) -> f64 {
        let depth = depth.clamp(0.0, self.height);
        let half = self.chord / 2.0;
        let mut area = 0.0;
        if let Some(arc) = self.arc {
            area += segment(arc, depth.min(self.corner_start));
        }
        let corner = depth.min(self.side_start);
        if corner > self.corner_start {
            let (radius, centre) = (self.roof_radius, self.side_start);
            let strip = corner - self.corner_start;
            area += 2.0 * (half - radius) * strip
                + 2.0
                    * (under_circle(radius, centre - self.corner_start)
                        - under_circle(radius, centre - corner));
        }
        let straight_end = self.height - self.floor_radius;
        if depth > self.side_start {
            area += self.chord * (depth.min(straight_end) - self.side_start);
        }
        if depth > straight_end {
            let below = depth - straight_end;
            area += 2.0 * (half - self.floor_radius) * below
                + 2.0 * under_circle(self.floor_radius, below);
        }
        area
    }

    /// Whole area [m²].
    #[must_use]
    pub fn area(&self) -> f64 {
        self.area_above(self.height)
    }

    /// Depths between which the area is smooth, each with the depth of a square-root branch point near
    /// it, if it has one: (from, to, branch).
    pub(super) fn pieces(&self) -> Vec<(f64, f64, Option<f64>)> {
        let straight_end = self.height - self.floor_radius;
        let corner_top = self.side_start - self.roof_radius;
        let all = [
            (0.0, self.corner_start, Some(0.0)),
            (self.corner_start, self.side_start, Some(corner_top)),
            (self.side_start, straight_end, None),
            (straight_end, self.height, Some(self.height)),
        ];
        all.into_iter().filter(|(from, to, _)| to - from > 1e-12).collect()
    }
}

/// Depth below the apex at which the roof's arc passes into the corner circle; none where the arc reaches
/// the side below the corner.
fn crossing(arc: f64, arch: f64, corner: f64, half: f64) -> Option<f64> {
    if arch > corner {
        return None;
    }
    // Both circles touch the apex level, their centres `offset` apart across. Subtracting one equation from
    // the other leaves a quadratic in the depth; the arc enters the corner circle left of its top, at the
    // shallower root, and leaves it at the deeper one, which is wanted.
    let offset = half - corner;
    let squared = (arc - corner) * (arc - corner) + offset * offset;
    let apart = (4.0 * arc * corner - offset * offset).max(0.0).sqrt();
    let depth = 0.5 * offset * offset * (arc + corner + apart) / squared;
    // one and the same circle: it reaches to the side
    Some(if squared > 0.0 { depth.min(arch) } else { arch })
}

/// Area of a circular segment of height `h`, both halves [m²]: R²(φ − sin φ cos φ) with
/// sin(φ/2) = √(h/2R), free of cancellation for flat arcs.
fn segment(radius: f64, h: f64) -> f64 {
    let half = portable::asin((h / (2.0 * radius)).sqrt());
    let phi = 2.0 * half;
    radius * radius * (phi - portable::sin(phi) * portable::cos(phi))
}

/// ∫₀^u √(r² − v²) dv.
fn under_circle(radius: f64, u: f64) -> f64 {
    if radius <= 0.0 {
        return 0.0;
    }
    let share = (u / radius).clamp(-1.0, 1.0);
    0.5 * radius * radius * (share * (1.0 - share * share).sqrt() + portable::asin(share))
}
