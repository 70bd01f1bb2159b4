//! Pipes of an engine: from the specification to a network of cells.

use super::ModelError;
use crate::gas::Gas;
use crate::lane::InstructionSet;
use crate::pipe::ends::Outside;
use crate::pipe::{
    End, Friction, Grid, Heat, Network, Node, Opening, Pipe, PipeGas, Schedule, Section, Side,
    State, Vessel, Wall, end_correction,
};
use crate::spec::{EngineSpec, PieceForm, Pipework};

/// Pipes of an engine, whatever the size of their cells.
#[derive(Debug, Clone, PartialEq)]
pub struct Pipes {
    /// Behind the exhaust windows.
    pub exhaust: Option<Chain>,
    /// Before the intake.
    pub inlet: Option<Chain>,
    /// Size of the cells [m].
    pub cell: f64,
}

/// Pipes of one side, from the engine outward.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    links: Vec<Link>,
    /// Gas beyond the open end.
    outside: Outside,
    /// C_d A of what throttles the open end [m²]; infinite where nothing does.
    mouth: f64,
    /// Gas in the chain before the first cycle, at the engine and at the open end.
    start: [Outside; 2],
    /// Names of the pieces and where each begins, from the engine [m].
    marks: Vec<(String, f64)>,
}

#[derive(Debug, Clone, PartialEq)]
enum Link {
    Pipe { sections: Vec<Section>, walls: Vec<Wall> },
    Volume(f64),
}

/// A network of pipes with the numbers under which an engine knows its parts.
#[derive(Debug, Clone)]
pub struct Piped {
    /// The pipes.
    pub network: Network,
    /// The exhaust's part of it.
    pub exhaust: Option<Part>,
    /// The inlet's.
    pub inlet: Option<Part>,
}

/// One side's part of a network.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Port at the engine.
    pub port: usize,
    /// Its pipes by number, from the engine outward; all begin on the engine's side.
    pub pipes: std::ops::Range<usize>,
    /// Where each of them begins, from the engine [m]; volumes take no length.
    pub starts: Vec<f64>,
    /// Its surroundings.
    pub reservoir: usize,
    /// What the pieces are called and where each begins on the engine's side [m].
    pub marks: Vec<(String, f64)>,
}

impl Piped {
    /// On an instruction set: changes speed, never bits.
    #[must_use]
    pub fn with_instructions(self, set: InstructionSet) -> Self {
        Self { network: self.network.with_instructions(set), ..self }
    }
}

impl Pipes {
    /// The pipes of an engine; none where it has none.
    ///
    /// # Errors
    /// When they cannot be cut into cells.
    pub(super) fn of(spec: &EngineSpec, gas: &Gas<f64>) -> Result<Option<Self>, ModelError> {
        if !spec.has_pipes() {
            return Ok(None);
        }
        let pipes = Self {
            exhaust: spec.exhaust.pipe.as_ref().map(|p| exhaust(spec, p)),
            inlet: spec.inlet_pipe.as_ref().map(|p| inlet(spec, p, gas)),
            cell: spec.cell,
        };
        pipes.network(gas, pipes.cell)?;
        Ok(Some(pipes))
    }

    /// A network with cells of about `cell` [m].
    ///
    /// # Errors
    /// When they cannot be cut into cells.
    pub fn network(&self, gas: &Gas<f64>, cell: f64) -> Result<Piped, ModelError> {
        let mut network = Network::new(PipeGas::mixtures(gas));
        let mut part = |chain: &Option<Chain>| {
            chain.as_ref().map(|c| c.add_to(&mut network, cell)).transpose()
        };
        let (exhaust, inlet) = (part(&self.exhaust)?, part(&self.inlet)?);
        // unburned leftovers ride on the gas, so that they are not counted as new when they return
        Ok(Piped { network: network.with_rider(), exhaust, inlet })
    }
}

impl Chain {
    fn add_to(&self, network: &mut Network, cell: f64) -> Result<Part, ModelError> {
        let port = network.add_port(self.start[0]);
        let surroundings = network.add_reservoir(self.outside);
        let first = network.pipes().len();
        let total: f64 = self.links.iter().map(Link::length).sum();
        let (mut starts, mut begins) = (Vec::new(), 0.0);
        let mut behind = End::Port(port);
        for (index, link) in self.links.iter().enumerate() {
            let Link::Pipe { sections, walls } = link else { continue };
            let grid = Grid::new(sections, cell)
                .map_err(|fault| ModelError::Pipe { fault: fault.to_string() })?;
            let number = network.pipes().len();
            let open = |to: Node, area: f64| {
                End::Opening(Opening { to, area, schedule: Schedule::default() })
            };
            let (ahead, next) = match self.links.get(index + 1) {
                None => (open(surroundings, self.mouth), End::Closed),
                Some(Link::Volume(volume)) => {
                    let at = self.start_at((begins + link.length()) / total);
                    let node = network.add_vessel(Vessel::new(*volume, network.gas(), &at));
                    (open(node, f64::INFINITY), open(node, f64::INFINITY))
                }
                Some(Link::Pipe { .. }) => (
                    End::Jump { pipe: number + 1, side: Side::Start },
                    End::Jump { pipe: number, side: Side::Finish },
                ),
            };
            let state = |x: f64| {
                let Outside { pressure, temperature, burned } = self.start_at((begins + x) / total);
                State { pressure, temperature, velocity: 0.0, burned }
            };
            let pipe = Pipe::new(grid, network.gas(), state).with_walls(walls);
            network.add_pipe(pipe, [std::mem::replace(&mut behind, next), ahead]);
            starts.push(begins);
            begins += link.length();
        }
        let Node::Reservoir(reservoir) = surroundings else {
            unreachable!("a reservoir has been added")
        };
        let (pipes, marks) = (first..network.pipes().len(), self.marks.clone());
        Ok(Part { port, pipes, starts, reservoir, marks })
    }

    /// Gas before the first cycle at a share of the way out.
    fn start_at(&self, share: f64) -> Outside {
        let [a, b] = self.start;
        let between = |x: f64, y: f64| x + (y - x) * share;
        Outside {
            pressure: between(a.pressure, b.pressure),
            temperature: between(a.temperature, b.temperature),
            burned: between(a.burned, b.burned),
        }
    }
}

impl Link {
    fn length(&self) -> f64 {
        match self {
            Self::Pipe { sections, .. } => sections.iter().map(|s| s.length).sum(),
            Self::Volume(_) => 0.0,
        }
    }
}

/// Burned gas at the port before the first cycle [K].
const HOT_START: f64 = 850.0;

fn exhaust(spec: &EngineSpec, pipes: &Pipework) -> Chain {
    let e = &spec.exhaust;
    let at = |temperature: f64| Outside { pressure: e.back_pressure, temperature, burned: 1.0 };
    let (mut links, mut marks, mut begins) = (Vec::new(), Vec::new(), 0.0);
    if let Some((section, wall)) = casting(spec, pipes) {
        marks.push(("casting".to_owned(), 0.0));
        begins = section.length;
        links.push(Link::Pipe { sections: vec![section], walls: vec![wall] });
    }
    add(&mut links, pipes, false);
    marks.extend(marked(pipes, begins, false));
    if pipes.end_correction {
        correct(&mut links);
    }
    let outside = at(e.outside_temperature);
    Chain { links, outside, mouth: f64::INFINITY, start: [at(HOT_START), outside], marks }
}

/// The duct in the casting as a section of its own.
fn casting(spec: &EngineSpec, pipes: &Pipework) -> Option<(Section, Wall)> {
    let e = &spec.exhaust;
    let exit = e.duct_exit()?;
    let straight = 4.0 * e.duct_volume / (std::f64::consts::PI * exit * exit);
    let length = e.duct_length.unwrap_or(straight);
    if length < SHORTEST {
        return None;
    }
    let from = if e.duct_volume > 0.0 { e.duct_entry(length).unwrap_or(exit) } else { exit };
    let wall = pipes.pieces.iter().find_map(|p| match p.form {
        PieceForm::Section { wall, .. } => Some(wall),
        PieceForm::Volume(_) => None,
    });
    Some((Section::cone(length, from, exit), wall_of(pipes, wall?)))
}

/// A duct shorter than this has no waves [m].
const SHORTEST: f64 = 1e-3;
/// Diameters that differ by less than this share are one.
const SAME: f64 = 1e-9;

fn wall_of(pipes: &Pipework, temperature: f64) -> Wall {
    Wall {
        friction: Friction::Smooth(pipes.friction),
        heat: Heat::Wall { temperature, scale: pipes.heat },
    }
}

/// Adds the pieces to the links, sections of one bore to one pipe.
fn add(links: &mut Vec<Link>, pipes: &Pipework, reversed: bool) {
    let mut pieces: Vec<PieceForm> = pipes.pieces.iter().map(|p| p.form).collect();
    if reversed {
        pieces.reverse();
    }
    for piece in pieces {
        let PieceForm::Section { length, from, to, wall } = piece else {
            if let PieceForm::Volume(volume) = piece {
                links.push(Link::Volume(volume));
            }
            continue;
        };
        let (from, to) = if reversed { (to, from) } else { (from, to) };
        let (section, wall) = (Section::cone(length, from, to), wall_of(pipes, wall));
        match links.last_mut() {
            Some(Link::Pipe { sections, walls })
                if sections.last().is_some_and(|s| (s.to / from - 1.0).abs() < SAME) =>
            {
                sections.push(section);
                walls.push(wall);
            }
            _ => links.push(Link::Pipe { sections: vec![section], walls: vec![wall] }),
        }
    }
}

/// Names of the pieces and where each begins from the engine [m], the first at `begins`.
fn marked(pipes: &Pipework, begins: f64, reversed: bool) -> Vec<(String, f64)> {
    let mut pieces: Vec<_> = pipes.pieces.iter().enumerate().collect();
    if reversed {
        pieces.reverse();
    }
    let mut x = begins;
    let mut marks = Vec::new();
    for (index, piece) in pieces {
        let given = (!piece.name.is_empty()).then(|| piece.name.clone());
        marks.push((given.unwrap_or_else(|| format!("section {}", index + 1)), x));
        if let PieceForm::Section { length, .. } = piece.form {
            x += length;
        }
    }
    marks
}

/// Lengthens the last section by what an open end acts longer than it is.
fn correct(links: &mut [Link]) {
    if let Some(Link::Pipe { sections, .. }) = links.last_mut()
        && let Some(last) = sections.last_mut()
    {
        // no section of its own: a cell so short would cut every step
        last.length += end_correction(last.to);
    }
}

fn inlet(spec: &EngineSpec, pipes: &Pipework, gas: &Gas<f64>) -> Chain {
    let mut links = Vec::new();
    add(&mut links, pipes, true);
    let mouth = spec.carburettor.map_or(f64::INFINITY, |c| {
        c.discharge * c.throttle * std::f64::consts::FRAC_PI_4 * c.venturi * c.venturi
    });
    if pipes.end_correction && mouth.is_infinite() {
        correct(&mut links);
    }
    // evaporating fuel cools what enters
    let mut temperature = spec.ambient.temperature;
    let wanted = gas.at(0.0).state(temperature).enthalpy - super::build::latent_heat(spec);
    for _ in 0..20 {
        let state = gas.at(0.0).state(temperature);
        temperature -= (state.enthalpy - wanted) / state.heat_capacity;
    }
    let outside = Outside { pressure: spec.ambient.pressure, temperature, burned: 0.0 };
    Chain { links, outside, mouth, start: [outside; 2], marks: marked(pipes, 0.0, true) }
}
