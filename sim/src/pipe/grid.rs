//! Cells of a pipe: straight and conical sections, faces on every break, exact cell volumes.

use std::f64::consts::PI;

/// Straight or conical piece of a pipe.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// Length [m].
    pub length: f64,
    /// Diameter where it begins [m].
    pub from: f64,
    /// Diameter where it ends [m].
    pub to: f64,
}

impl Section {
    /// A straight piece.
    #[must_use]
    pub fn straight(length: f64, diameter: f64) -> Self {
        Self { length, from: diameter, to: diameter }
    }

    /// A cone.
    #[must_use]
    pub fn cone(length: f64, from: f64, to: f64) -> Self {
        Self { length, from, to }
    }
}

/// Why sections make no pipe.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum GridError {
    /// None given.
    #[error("a pipe needs at least one section")]
    Empty,
    /// A length or diameter that is not above zero.
    #[error("section {section}: length and diameters must be above zero")]
    NotPositive {
        /// Which, from 1.
        section: usize,
    },
    /// The diameter jumps; a jump joins two pipes.
    #[error("section {section} begins with another diameter than the one before ends with")]
    Break {
        /// Which, from 1.
        section: usize,
    },
    /// More cells than any pipe needs.
    #[error("{cells:.0} cells are too many: at most {most}")]
    TooMany {
        /// How many.
        cells: f64,
        /// The limit.
        most: usize,
    },
}

/// Fewest cells of a pipe: the reconstruction at an end looks three cells inward.
pub const FEWEST_CELLS: usize = 4;
/// Most cells of a pipe.
pub const MOST_CELLS: usize = 1_000_000;

/// Length by which an unthrottled, unflanged open end acts longer than it is [m].
///
/// l = 0.6133 a, a the radius; H. Levine and J. Schwinger, Phys. Rev. 73 (1948) 383 (from memory).
/// It belongs to unthrottled open ends to the atmosphere and to nothing else.
#[must_use]
pub fn end_correction(diameter: f64) -> f64 {
    0.613_3 * 0.5 * diameter
}

/// Cells between faces.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    edges: Vec<f64>,
    areas: Vec<f64>,
    volumes: Vec<f64>,
    diameters: Vec<f64>,
    /// Section of each cell.
    sections: Vec<usize>,
}

impl Grid {
    /// Cells of about `cell` [m] in every section, at least one in each and [`FEWEST_CELLS`] in all.
    ///
    /// ```
    /// # use freshcharge_sim::pipe::{Grid, Section};
    /// let grid = Grid::new(&[Section::cone(0.3, 0.02, 0.04)], 0.01).unwrap();
    /// let frustum = std::f64::consts::PI / 12.0 * 0.3 * (0.02 * 0.02 + 0.02 * 0.04 + 0.04 * 0.04);
    /// assert_eq!(grid.cells(), 30);
    /// assert!((grid.volumes().iter().sum::<f64>() / frustum - 1.0).abs() < 1e-14);
    /// ```
    ///
    /// # Errors
    /// When the sections make no pipe.
    pub fn new(sections: &[Section], cell: f64) -> Result<Self, GridError> {
        if sections.is_empty() {
            return Err(GridError::Empty);
        }
        for (index, s) in sections.iter().enumerate() {
            let good = |x: f64| x > 0.0 && x.is_finite();
            if !(good(s.length) && good(s.from) && good(s.to) && good(cell)) {
                return Err(GridError::NotPositive { section: index + 1 });
            }
            if index > 0 && (s.from / sections[index - 1].to - 1.0).abs() > 1e-9 {
                return Err(GridError::Break { section: index + 1 });
            }
        }
        let wanted: f64 = sections.iter().map(|s| (s.length / cell).max(1.0)).sum();
        if wanted > MOST_CELLS as f64 {
            return Err(GridError::TooMany { cells: wanted, most: MOST_CELLS });
        }
        let mut counts: Vec<usize> =
            sections.iter().map(|s| ((s.length / cell).round() as usize).max(1)).collect();
        while counts.iter().sum::<usize>() < FEWEST_CELLS {
            counts.iter_mut().for_each(|n| *n += 1);
        }
        Ok(Self::divided(sections, &counts))
    }

    fn divided(sections: &[Section], counts: &[usize]) -> Self {
        let circle = |d: f64| 0.25 * PI * d * d;
        let mut grid = Self {
            edges: vec![0.0],
            areas: vec![circle(sections[0].from)],
            volumes: Vec::new(),
            diameters: Vec::new(),
            sections: Vec::new(),
        };
        let mut start = 0.0;
        for (index, (s, &count)) in sections.iter().zip(counts).enumerate() {
            let at = |k: usize| k as f64 / count as f64;
            let width = s.length / count as f64;
            for k in 1..=count {
                let (d1, d2) =
                    (s.from + (s.to - s.from) * at(k - 1), s.from + (s.to - s.from) * at(k));
                let volume = PI / 12.0 * width * (d1 * d1 + d1 * d2 + d2 * d2);
                grid.edges.push(start + s.length * at(k));
                grid.areas.push(circle(d2));
                grid.volumes.push(volume);
                grid.diameters.push((4.0 * volume / (PI * width)).sqrt());
                grid.sections.push(index);
            }
            start += s.length;
        }
        grid
    }

    /// Number of cells.
    #[must_use]
    pub fn cells(&self) -> usize {
        self.volumes.len()
    }

    /// Length [m].
    #[must_use]
    pub fn length(&self) -> f64 {
        self.edges[self.cells()]
    }

    /// Places of the faces [m], one more than cells.
    #[must_use]
    pub fn edges(&self) -> &[f64] {
        &self.edges
    }

    /// Areas of the faces [m²].
    #[must_use]
    pub fn areas(&self) -> &[f64] {
        &self.areas
    }

    /// Volumes of the cells [m³], ∫A dx.
    #[must_use]
    pub fn volumes(&self) -> &[f64] {
        &self.volumes
    }

    /// Diameters of the cells [m], D = √(4V/(πΔx)).
    #[must_use]
    pub fn diameters(&self) -> &[f64] {
        &self.diameters
    }

    /// Which section each cell belongs to, from 0.
    #[must_use]
    pub fn sections(&self) -> &[usize] {
        &self.sections
    }

    /// Length of a cell [m].
    #[must_use]
    pub fn width(&self, cell: usize) -> f64 {
        self.edges[cell + 1] - self.edges[cell]
    }

    /// Middle of a cell [m].
    #[must_use]
    pub fn middle(&self, cell: usize) -> f64 {
        0.5 * (self.edges[cell] + self.edges[cell + 1])
    }

    /// The cell that holds a place [m]; the nearest one for places outside.
    #[must_use]
    pub fn cell_at(&self, x: f64) -> usize {
        self.edges[1..].partition_point(|edge| *edge <= x).min(self.cells() - 1)
    }
}
