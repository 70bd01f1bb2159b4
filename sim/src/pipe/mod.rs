//! Gas in pipes, one-dimensional and unsteady, with what stands at their ends.
//!
//! ∂(ρA)/∂t + ∂(ρuA)/∂x = 0
//! ∂(ρuA)/∂t + ∂((ρu²+p)A)/∂x = p dA/dx − ½ρ f|u|u·πD
//! ∂(ρEA)/∂t + ∂((ρE+p)uA)/∂x = −q̇πD
//! ∂(ρbA)/∂t + ∂(ρbuA)/∂x = 0
//!
//! Finite volumes with faces on every break of the bore, exact cell volumes and the area source
//! p_i(A_right − A_left), so that gas at rest stays at rest. Second order in space (limited slopes of ρ,
//! uA, p, b) and time: the sides of the cells are moved on by half a step, each cell by itself (Hancock's
//! predictor; G. D. van Albada, B. van Leer and W. W. Roberts, Astron. Astrophys. 108 (1982) 76), so that
//! fluxes are worked out once a step. What walls do is carried on in a straight line from the last step.
//! [`Network`] joins pipes, vessels and reservoirs and books every stream once.

pub mod ends;
mod flux;
mod gas;
mod grid;
mod inflow;
mod jump;
mod limiter;
mod network;
pub mod riemann;
mod root;
mod state;
mod sweep;

pub use gas::{PerfectGas, PipeGas};
pub use grid::{FEWEST_CELLS, Grid, GridError, MOST_CELLS, Section, end_correction};
pub use jump::jump;
pub(crate) use network::VESSEL_SHARE;
pub use network::{
    Content, End, Network, Node, Opening, Orifice, Passing, Port, Reservoir, Schedule, StepError,
    Vessel,
};
pub use state::State;

use crate::lane::InstructionSet;
use ends::{Face, Inside};
use state::{Arrays, LEAD};
use sweep::{Advance, Found, Predict, ReadOff, Stride};

/// Friction of a wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Friction {
    /// None.
    None,
    /// A Fanning factor that does not change.
    Fixed(f64),
    /// f|u| = scale·max(16ν/D, 0.0791 Re^{−1/4}|u|), the law of smooth pipes.
    Smooth(f64),
}

/// Heat through a wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Heat {
    /// None.
    Adiabatic,
    /// Reynolds' analogy to a wall temperature [K]: q̇ = scale·½ρ f|u| c_p (T − T_w).
    Wall {
        /// Wall temperature [K].
        temperature: f64,
        /// Multiplies the analogy.
        scale: f64,
    },
    /// A heat flux from the gas into the wall [W/m²].
    Imposed(f64),
}

/// Wall of a section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wall {
    /// Friction.
    pub friction: Friction,
    /// Heat.
    pub heat: Heat,
}

impl Wall {
    /// Neither friction nor heat.
    pub const IDEAL: Self = Self { friction: Friction::None, heat: Heat::Adiabatic };
}

/// One of the two ends of a pipe.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Where x is zero.
    Start,
    /// Where x is the length.
    Finish,
}

impl Side {
    /// Both, in order.
    pub const BOTH: [Self; 2] = [Self::Start, Self::Finish];

    /// +1 where velocity into the pipe is along it, −1 where it is against it.
    fn sign(self) -> f64 {
        match self {
            Self::Start => 1.0,
            Self::Finish => -1.0,
        }
    }
}

/// What stands in for the cell beyond an end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ghost {
    /// The mirror image: a wall.
    Mirror,
    /// The same gas: no slope.
    Flat,
    /// What continues the next difference inside.
    Continued,
}

/// One pipe: its cells and the gas in them. It does not know what stands at its ends.
#[derive(Debug, Clone)]
pub struct Pipe {
    grid: Grid,
    arrays: Arrays,
    /// What the gas carries besides, per volume; empty where nothing is asked for.
    rider: Rider,
}

/// Something that gas carries without being changed by it: how much of it there is in each cell [kg/m³], and
/// its share in gas that enters at either end. It moves with the mass
/// flux, each face taking the share of the cell that the gas comes from (first order: a ledger's tracer,
/// not a part of the gas).
#[derive(Debug, Clone, Default)]
struct Rider {
    now: Vec<f64>,
    entering: [f64; 2],
}

/// Nodes and weights of Gauss' three-point rule on [−1, 1].
const GAUSS: [(f64, f64); 3] = [
    (-0.774_596_669_241_483_4, 5.0 / 18.0),
    (0.0, 8.0 / 18.0),
    (0.774_596_669_241_483_4, 5.0 / 18.0),
];

impl Pipe {
    /// A pipe of a bore, filled with gas that `state` gives at each place [m]: cell means are integrals
    /// over the cell.
    #[must_use]
    pub fn new(grid: Grid, gas: &PipeGas, state: impl Fn(f64) -> State) -> Self {
        let mut arrays = Arrays::new(&grid);
        for cell in 0..grid.cells() {
            let mut mean = [0.0; 4];
            for (node, weight) in GAUSS {
                let x = grid.middle(cell) + 0.5 * grid.width(cell) * node;
                for (sum, value) in mean.iter_mut().zip(conserved(gas, &state(x))) {
                    *sum += weight * value;
                }
            }
            arrays.now.set(LEAD + cell, mean);
        }
        let last = arrays.now.get(LEAD + grid.cells() - 1);
        for at in LEAD + grid.cells()..arrays.now.mass.len() {
            arrays.now.set(at, last);
        }
        Self { grid, arrays, rider: Rider::default() }
    }

    /// The same pipe with walls, one for each section.
    #[must_use]
    pub fn with_walls(mut self, walls: &[Wall]) -> Self {
        for (cell, &section) in self.grid.sections().iter().enumerate() {
            let Some(wall) = walls.get(section).or(walls.last()) else { break };
            let (at, w) = (LEAD + cell, &mut self.arrays.walls);
            (w.fixed[at], w.smooth[at]) = match wall.friction {
                Friction::None => (0.0, 0.0),
                Friction::Fixed(f) => (f, 0.0),
                Friction::Smooth(scale) => (0.0, scale),
            };
            (w.heat[at], w.temperature[at], w.imposed[at]) = match wall.heat {
                Heat::Adiabatic => (0.0, 300.0, 0.0),
                Heat::Wall { temperature, scale } => (scale, temperature, 0.0),
                Heat::Imposed(flux) => (0.0, 300.0, flux),
            };
        }
        self
    }

    /// Its cells.
    #[must_use]
    pub fn grid(&self) -> &Grid {
        &self.grid
    }

    /// Mean state of a cell, as last read off (see [`Network::refresh`]).
    #[must_use]
    pub fn state(&self, cell: usize) -> State {
        let (at, m) = (LEAD + cell, &self.arrays.means);
        State {
            pressure: m.pressure[at],
            temperature: m.temperature[at],
            velocity: m.velocity[at],
            burned: m.burned[at],
        }
    }

    /// Mean density of a cell [kg/m³], as last read off.
    #[must_use]
    pub fn density(&self, cell: usize) -> f64 {
        self.arrays.means.density[LEAD + cell]
    }

    /// Speed of sound in a cell [m/s], as last read off.
    #[must_use]
    pub fn sound(&self, cell: usize) -> f64 {
        self.arrays.means.sound[LEAD + cell]
    }

    /// Mass [kg], energy [J] and burned mass [kg] in it.
    #[must_use]
    pub fn content(&self) -> Content {
        let mut sum = Content::default();
        for (cell, volume) in self.grid.volumes().iter().enumerate() {
            let [mass, _, energy, burned] = self.arrays.now.get(LEAD + cell);
            sum.mass += volume * mass;
            sum.energy += volume * energy;
            sum.burned += volume * burned;
        }
        sum
    }

    /// Conserved densities ρ, ρu, ρE, ρb of a cell.
    #[must_use]
    pub fn conserved(&self, cell: usize) -> [f64; 4] {
        self.arrays.now.get(LEAD + cell)
    }

    /// Puts conserved densities into a cell.
    fn set_conserved(&mut self, cell: usize, held: [f64; 4]) {
        self.arrays.now.set(LEAD + cell, held);
        if cell + 1 == self.grid.cells() {
            for at in LEAD + cell..self.arrays.now.mass.len() {
                self.arrays.now.set(at, held);
            }
        }
    }

    /// Mean state of a cell in the middle of the step, as predicted.
    #[must_use]
    pub fn middle_state(&self, cell: usize) -> State {
        let Arrays { lower, upper, means, .. } = &self.arrays;
        let at = LEAD + cell;
        let mean = |a: &[f64], b: &[f64]| 0.5 * (a[at] + b[at]);
        let pressure = mean(&lower.pressure, &upper.pressure);
        let density = mean(&lower.density, &upper.density);
        State {
            pressure,
            temperature: pressure / (density * means.gas_constant[at]),
            velocity: mean(&lower.velocity, &upper.velocity),
            burned: mean(&lower.burned, &upper.burned),
        }
    }

    /// Heat that the walls take from the gas [W] over a step.
    fn wall_heat(&self, stride: &Stride) -> f64 {
        let cells = LEAD..LEAD + self.grid.cells();
        let (now, before) = (&self.arrays.heat[cells.clone()], &self.arrays.heat_before[cells]);
        let [a, b] = stride.walls;
        -now.iter()
            .zip(before)
            .zip(self.grid.volumes())
            .map(|((h, g), v)| (a * h + b * g) * v)
            .sum::<f64>()
    }

    /// Face area at an end [m²].
    #[must_use]
    pub fn end_area(&self, side: Side) -> f64 {
        let areas = self.grid.areas();
        match side {
            Side::Start => areas[0],
            Side::Finish => areas[self.grid.cells()],
        }
    }

    /// Works out all means; gives the largest (|u| + c)/Δx.
    fn read_off(&mut self, gas: &PipeGas, set: InstructionSet) -> Found {
        set.run_cells(ReadOff { arrays: &mut self.arrays, gas })
    }

    /// First cell that does not hold a gas.
    fn bad_cell(&self) -> usize {
        let m = &self.arrays.means;
        let good =
            |at: usize| m.density[at] > 0.0 && m.pressure[at] > 0.0 && m.sound[at].is_finite();
        (0..self.grid.cells()).find(|cell| !good(LEAD + cell)).unwrap_or(0)
    }

    /// Sets what the slope of an end cell is judged by.
    fn set_ghost(&mut self, side: Side, ghost: Ghost) {
        let m = &mut self.arrays.means;
        let (first, last) = (LEAD, LEAD + self.arrays.cells - 1);
        let [beyond, near, next, second] = match side {
            Side::Start => [first - 1, first, first + 1, first + 2],
            Side::Finish => [last + 1, last, last - 1, last - 2],
        };
        let fill = |q: &mut [f64], mirrored: f64| {
            q[beyond] = match ghost {
                Ghost::Mirror => mirrored * q[near],
                Ghost::Flat => q[near],
                Ghost::Continued => q[near] - (q[second] - q[next]),
            };
        };
        fill(&mut m.density, 1.0);
        fill(&mut m.flow, -1.0);
        fill(&mut m.pressure, 1.0);
        fill(&mut m.burned, 1.0);
        m.gamma[beyond] = m.gamma[near];
        m.sound[beyond] = m.sound[near];
    }

    /// Gas at the inner side of an end's face in the middle of the step.
    fn inside(&self, gas: &PipeGas, side: Side) -> Inside {
        let Arrays { lower, upper, means, .. } = &self.arrays;
        let (at, near) = match side {
            Side::Start => (LEAD, lower),
            Side::Finish => (LEAD + self.arrays.cells - 1, upper),
        };
        let burned = near.burned[at];
        Inside {
            pressure: near.pressure[at],
            density: near.density[at],
            velocity: side.sign() * near.velocity[at],
            gamma: means.gamma[at],
            gas_constant: gas.gas_constant(burned),
            burned,
        }
    }

    fn end_cell(&self, side: Side) -> usize {
        match side {
            Side::Start => 0,
            Side::Finish => self.arrays.cells - 1,
        }
    }

    /// Moves the sides of all cells on by `half` a step [s].
    fn predict(&mut self, gas: &PipeGas, set: InstructionSet, half: f64) {
        set.run_cells(Predict { arrays: &mut self.arrays, gas, half });
    }

    /// Does a step, with the fluxes through the ends along the pipe.
    fn advance(&mut self, set: InstructionSet, ends: [[f64; 4]; 2], stride: Stride) {
        set.run_cells(Advance { arrays: &mut self.arrays, ends, stride });
        self.rider.advance(&self.arrays, stride.dt);
    }

    /// Share of the rider in the cell next to an end.
    fn end_share(&self, side: Side) -> f64 {
        let cell = self.end_cell(side);
        self.rider.now.get(cell).map_or(0.0, |r| r * self.arrays.means.volume[LEAD + cell])
    }
}

impl Rider {
    /// Does a step of `dt` [s] with the mass fluxes and densities of the gas.
    fn advance(&mut self, arrays: &Arrays, dt: f64) {
        let n = self.now.len();
        let flux = &arrays.flux.mass[LEAD..];
        let over = &arrays.means.volume[LEAD..];
        // what passes the face before a cell; the cell before has been advanced already
        let mut passes = match self.now.first() {
            None => return,
            Some(_) if flux[0] > 0.0 => flux[0] * self.entering[0],
            Some(first) => flux[0] * first * over[0],
        };
        for cell in 0..n {
            let from = if flux[cell + 1] > 0.0 {
                self.now[cell] * over[cell]
            } else if cell + 1 < n {
                self.now[cell + 1] * over[cell + 1]
            } else {
                self.entering[1]
            };
            let leaves = flux[cell + 1] * from;
            let rate = (passes - leaves) * arrays.over_volume[LEAD + cell];
            passes = leaves;
            self.now[cell] += dt * rate;
        }
    }
}

/// Conserved densities of a state.
fn conserved(gas: &PipeGas, state: &State) -> [f64; 4] {
    let properties = gas.state(state.temperature, state.burned);
    let density = state.pressure / properties.specific_pressure_volume();
    let energy = properties.energy() + 0.5 * state.velocity * state.velocity;
    [density, density * state.velocity, density * energy, density * state.burned]
}

/// Fluxes of a face along the pipe, times its area.
fn through(face: &Face, side: Side, area: f64) -> [f64; 4] {
    let flux = face.density * face.velocity;
    let mass = side.sign() * flux * area;
    [
        mass,
        (flux * face.velocity + face.pressure) * area,
        mass * face.total_enthalpy,
        mass * face.burned,
    ]
}
