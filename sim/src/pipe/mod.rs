//! Gas in pipes, one-dimensional and unsteady, with what stands at their ends.
//!
//! ∂(ρA)/∂t + ∂(ρuA)/∂x = 0
//! ∂(ρuA)/∂t + ∂((ρu²+p)A)/∂x = p dA/dx − ½ρ f|u|u·πD
//! ∂(ρEA)/∂t + ∂((ρE+p)uA)/∂x = −q̇πD
//! ∂(ρbA)/∂t + ∂(ρbuA)/∂x = 0
//!
//! Finite volumes with faces on every break of the bore, exact cell volumes and the area source
//! p_i(A_right − A_left), so that gas at rest stays at rest. Second order in space (limited slopes of ρ,
//! uA, p, b) and time (S. Gottlieb and C.-W. Shu's two-stage form of Heun's method). [`Network`] joins
//! pipes, vessels and reservoirs and books every stream once.

pub mod ends;
mod flux;
mod gas;
mod grid;
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
pub use network::{
    Content, End, Network, Node, Opening, Orifice, Passing, Port, Reservoir, Schedule, StepError,
    Vessel,
};
pub use state::State;

use crate::lane::InstructionSet;
use ends::{Face, Inside};
use gas::Properties;
use state::{Arrays, LEAD};
use sweep::{Advance, Found, ReadOff, Stage, reconstruct};

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

/// Something that gas carries without being changed by it: how much of it there is in each cell [kg/m³],
/// now and at the start of the step, and its share in gas that enters at either end. It moves with the mass
/// flux, each face taking the share of the cell that the gas comes from (first order: a ledger's tracer,
/// not a part of the gas).
#[derive(Debug, Clone, Default)]
struct Rider {
    now: Vec<f64>,
    start: Vec<f64>,
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
        arrays.start = arrays.now.clone();
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

    /// Heat that the walls take from the gas [W], as last read off.
    fn wall_heat(&self) -> f64 {
        let heat = &self.arrays.heat[LEAD..LEAD + self.grid.cells()];
        -heat.iter().zip(self.grid.volumes()).map(|(h, v)| h * v).sum::<f64>()
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

    /// Gas at the inner side of an end's face.
    fn inside(&self, gas: &PipeGas, side: Side) -> Inside {
        match gas {
            PipeGas::Perfect(gas) => self.inside_with(gas, |_| gas.gas_constant, side),
            PipeGas::Mixtures(gas) => self.inside_with(&**gas, |b| gas.at(b).gas_constant(), side),
        }
    }

    fn end_cell(&self, side: Side) -> usize {
        match side {
            Side::Start => LEAD,
            Side::Finish => LEAD + self.arrays.cells - 1,
        }
    }

    fn inside_with(
        &self,
        gas: &impl Properties<f64>,
        gas_constant: impl Fn(f64) -> f64,
        side: Side,
    ) -> Inside {
        let (lower, upper) = reconstruct(&self.arrays, gas, self.end_cell(side));
        let near = match side {
            Side::Start => lower,
            Side::Finish => upper,
        };
        Inside {
            pressure: near.pressure,
            density: near.density,
            velocity: side.sign() * near.velocity,
            gamma: near.gamma,
            gas_constant: gas_constant(near.burned),
            burned: near.burned,
        }
    }

    /// Does one stage, with the fluxes through the ends along the pipe.
    fn advance(&mut self, gas: &PipeGas, set: InstructionSet, ends: [[f64; 4]; 2], stage: Stage) {
        set.run_cells(Advance { arrays: &mut self.arrays, gas, ends, stage });
        self.rider.advance(&self.arrays, stage);
    }

    /// Share of the rider in the cell next to an end.
    fn end_share(&self, side: Side) -> f64 {
        let at = self.end_cell(side);
        self.rider.now.get(at - LEAD).map_or(0.0, |r| r * self.arrays.means.volume[at])
    }

    /// Sets the state aside as the start of a step; what is there now is left over from the last one.
    fn set_aside(&mut self) {
        let Arrays { start, now, .. } = &mut self.arrays;
        std::mem::swap(start, now);
        self.rider.start.copy_from_slice(&self.rider.now);
    }
}

impl Rider {
    /// Does one stage with the mass fluxes and densities of the gas in it.
    fn advance(&mut self, arrays: &Arrays, stage: Stage) {
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
            self.now[cell] =
                stage.start * self.start[cell] + stage.now * self.now[cell] + stage.dt * rate;
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
