//! What a pipe holds: conserved densities, what follows from them, and work arrays, each quantity in its
//! own array so that several cells are worked on at once.

use std::ops::{Deref, DerefMut};

use super::gas::WIDTH;
use super::grid::Grid;

/// Cells before the first one in every array.
pub(super) const LEAD: usize = WIDTH;

/// Numbers that begin on a cache line, so that a register's worth of them never lies across two.
#[derive(Debug, Default)]
pub(super) struct Aligned {
    held: Vec<f64>,
    first: usize,
}

/// Bytes of a cache line, and numbers in it.
const LINE: (usize, usize) = (64, 8);

impl Aligned {
    fn of(numbers: impl ExactSizeIterator<Item = f64>) -> Self {
        let length = numbers.len();
        let mut held = vec![0.0; length + LINE.1];
        // an offset that cannot be told only costs speed
        let first = held.as_ptr().align_offset(LINE.0).min(LINE.1);
        held.truncate(first + length);
        for (to, number) in held[first..].iter_mut().zip(numbers) {
            *to = number;
        }
        Self { held, first }
    }

    fn filled(with: f64, length: usize) -> Self {
        Self::of((0..length).map(|_| with))
    }
}

impl Clone for Aligned {
    fn clone(&self) -> Self {
        Self::of(self.iter().copied())
    }
}

impl Deref for Aligned {
    type Target = [f64];
    #[inline(always)]
    fn deref(&self) -> &[f64] {
        &self.held[self.first..]
    }
}

impl DerefMut for Aligned {
    #[inline(always)]
    fn deref_mut(&mut self) -> &mut [f64] {
        &mut self.held[self.first..]
    }
}

/// Gas at a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// p [Pa].
    pub pressure: f64,
    /// T [K].
    pub temperature: f64,
    /// u, along the pipe [m/s].
    pub velocity: f64,
    /// Burned fraction.
    pub burned: f64,
}

/// Conserved quantities per volume.
#[derive(Debug, Clone, Default)]
pub(super) struct Conserved {
    /// ρ [kg/m³].
    pub(super) mass: Aligned,
    /// ρu [kg/(m² s)].
    pub(super) momentum: Aligned,
    /// ρE [J/m³].
    pub(super) energy: Aligned,
    /// ρb [kg/m³].
    pub(super) burned: Aligned,
}

impl Conserved {
    fn zeros(length: usize) -> Self {
        let zeros = || Aligned::filled(0.0, length);
        Self { mass: zeros(), momentum: zeros(), energy: zeros(), burned: zeros() }
    }

    /// The numbers of one cell.
    pub(super) fn set(&mut self, at: usize, [mass, momentum, energy, burned]: [f64; 4]) {
        self.mass[at] = mass;
        self.momentum[at] = momentum;
        self.energy[at] = energy;
        self.burned[at] = burned;
    }

    pub(super) fn get(&self, at: usize) -> [f64; 4] {
        [self.mass[at], self.momentum[at], self.energy[at], self.burned[at]]
    }
}

/// Cell means of what is reconstructed.
#[derive(Debug, Clone, Default)]
pub(super) struct Means {
    pub(super) density: Aligned,
    /// uV/Δx [m³/s].
    pub(super) flow: Aligned,
    pub(super) velocity: Aligned,
    pub(super) pressure: Aligned,
    pub(super) burned: Aligned,
    pub(super) gamma: Aligned,
    /// Speed of sound [m/s].
    pub(super) sound: Aligned,
    pub(super) temperature: Aligned,
    /// 1/ρ [m³/kg].
    pub(super) volume: Aligned,
    /// Internal energy [J/kg].
    pub(super) inner: Aligned,
    /// R [J/(kg K)].
    pub(super) gas_constant: Aligned,
    /// c_p [J/(kg K)].
    pub(super) heat_capacity: Aligned,
}

/// States on one side of the faces.
#[derive(Debug, Clone, Default)]
pub(super) struct Sides {
    pub(super) density: Aligned,
    pub(super) velocity: Aligned,
    pub(super) pressure: Aligned,
    pub(super) burned: Aligned,
    pub(super) energy: Aligned,
    /// 1/ρ [m³/kg].
    pub(super) volume: Aligned,
}

impl Sides {
    fn ones(length: usize) -> Self {
        let ones = || Aligned::filled(1.0, length);
        Self {
            density: ones(),
            velocity: ones(),
            pressure: ones(),
            burned: ones(),
            energy: ones(),
            volume: ones(),
        }
    }

    /// All arrays, cut to one length, to read.
    #[inline(always)]
    pub(super) fn seen(&self, n: usize) -> [&[f64]; 6] {
        [
            &self.density[..n],
            &self.velocity[..n],
            &self.pressure[..n],
            &self.burned[..n],
            &self.energy[..n],
            &self.volume[..n],
        ]
    }

    /// All arrays, cut to one length: ρ, u, p, b, E, 1/ρ.
    #[inline(always)]
    pub(super) fn cut(&mut self, n: usize) -> [&mut [f64]; 6] {
        [
            &mut self.density[..n],
            &mut self.velocity[..n],
            &mut self.pressure[..n],
            &mut self.burned[..n],
            &mut self.energy[..n],
            &mut self.volume[..n],
        ]
    }
}

/// Wall of a cell.
#[derive(Debug, Clone, Default)]
pub(super) struct Walls {
    /// Fixed Fanning factor.
    pub(super) fixed: Aligned,
    /// Multiplies the law of smooth pipes.
    pub(super) smooth: Aligned,
    /// Multiplies the heat of Reynolds' analogy.
    pub(super) heat: Aligned,
    /// Wall temperature [K].
    pub(super) temperature: Aligned,
    /// Imposed heat flux from the gas [W/m²].
    pub(super) imposed: Aligned,
}

/// Everything of one pipe, padded at both ends.
#[derive(Debug, Clone)]
pub(super) struct Arrays {
    pub(super) cells: usize,
    pub(super) now: Conserved,
    pub(super) means: Means,
    /// At the lower and at the upper end of each cell, in the middle of the step.
    pub(super) lower: Sides,
    pub(super) upper: Sides,
    /// Speeds of the waves at the lower face of each cell: left, contact, right [m/s].
    pub(super) waves: [Aligned; 3],
    /// Through the lower face of each cell, times its area.
    pub(super) flux: Conserved,
    /// Friction [N/m³] and heat [W/m³].
    pub(super) force: Aligned,
    pub(super) heat: Aligned,
    /// The same a step before.
    pub(super) force_before: Aligned,
    pub(super) heat_before: Aligned,
    pub(super) walls: Walls,
    /// Δxᵢ over the distance to the cell before.
    pub(super) before: Aligned,
    /// Δxᵢ over the distance to the cell after.
    pub(super) after: Aligned,
    /// Of the lower face of each cell [m²].
    pub(super) area: Aligned,
    pub(super) over_area: Aligned,
    /// V/Δx [m²].
    pub(super) mean_area: Aligned,
    pub(super) over_mean_area: Aligned,
    pub(super) over_volume: Aligned,
    pub(super) over_width: Aligned,
    pub(super) over_diameter: Aligned,
    /// πDΔx/V [1/m].
    pub(super) wetted: Aligned,
}

impl Arrays {
    pub(super) fn new(grid: &Grid) -> Self {
        let cells = grid.cells();
        let length = LEAD + (cells + 1).div_ceil(WIDTH) * WIDTH + WIDTH;
        let of = |outside: f64, f: &dyn Fn(usize) -> f64| -> Aligned {
            let inside = |i: usize| (LEAD..LEAD + cells).contains(&i).then(|| f(i - LEAD));
            Aligned::of((0..length).map(|i| inside(i).unwrap_or(outside)))
        };
        let apart = |i: usize, j: usize| 0.5 * (grid.width(i) + grid.width(j));
        let mut area = of(0.0, &|i| grid.areas()[i]);
        area[LEAD + cells] = grid.areas()[cells];
        let zeros = || Aligned::filled(0.0, length);
        Self {
            cells,
            now: Conserved::zeros(length),
            means: Means {
                density: Aligned::filled(1.0, length),
                velocity: zeros(),
                flow: zeros(),
                pressure: Aligned::filled(1.0, length),
                burned: zeros(),
                gamma: Aligned::filled(1.4, length),
                sound: Aligned::filled(1.0, length),
                temperature: Aligned::filled(300.0, length),
                volume: Aligned::filled(1.0, length),
                inner: zeros(),
                gas_constant: Aligned::filled(1.0, length),
                heat_capacity: Aligned::filled(3.5, length),
            },
            lower: Sides::ones(length),
            upper: Sides::ones(length),
            waves: [zeros(), zeros(), zeros()],
            flux: Conserved::zeros(length),
            force: zeros(),
            heat: zeros(),
            force_before: zeros(),
            heat_before: zeros(),
            walls: Walls {
                fixed: zeros(),
                smooth: zeros(),
                heat: zeros(),
                temperature: Aligned::filled(300.0, length),
                imposed: zeros(),
            },
            before: of(1.0, &|i| if i > 0 { grid.width(i) / apart(i, i - 1) } else { 1.0 }),
            after: of(1.0, &|i| if i + 1 < cells { grid.width(i) / apart(i, i + 1) } else { 1.0 }),
            over_area: Aligned::of(area.iter().map(|a| if *a > 0.0 { 1.0 / a } else { 1.0 })),
            area,
            mean_area: of(1.0, &|i| grid.volumes()[i] / grid.width(i)),
            over_mean_area: of(1.0, &|i| grid.width(i) / grid.volumes()[i]),
            over_volume: of(0.0, &|i| 1.0 / grid.volumes()[i]),
            over_width: of(0.0, &|i| 1.0 / grid.width(i)),
            over_diameter: of(1.0, &|i| 1.0 / grid.diameters()[i]),
            wetted: of(0.0, &|i| {
                std::f64::consts::PI * grid.diameters()[i] * grid.width(i) / grid.volumes()[i]
            }),
        }
    }
}
