//! A rig run: histories at stations and of vessels, profiles, maps of place and time.

use crate::gas::{Gas, Mixture};
use crate::pipe::{
    Content, End, Grid, GridError, Network, Node, Opening, Orifice, Pipe, PipeGas, State,
    StepError, Vessel,
};
use crate::portable;

use crate::forms::rig::{EndSpec, Filling, GasChoice, PipeSpec, RigSpec};

/// Most steps of a run.
const MOST_STEPS: u64 = 20_000_000;

/// One place over time: pressure [Pa], velocity [m/s], temperature [K], burned fraction.
#[derive(Debug, Clone)]
pub struct History {
    /// Its name.
    pub name: String,
    /// Whether gas moves there: vessels have no velocity.
    pub moves: bool,
    /// One state a sample.
    pub states: Vec<State>,
}

/// All cells of a pipe at a time.
#[derive(Debug, Clone)]
pub struct Profile {
    /// Time [s].
    pub time: f64,
    /// Which pipe.
    pub pipe: usize,
    /// One state a cell.
    pub states: Vec<State>,
}

/// Why a run stopped before its end.
#[derive(Debug, Clone, thiserror::Error)]
pub enum Stop {
    /// The gas went where no gas can be.
    #[error("{0}")]
    Step(#[from] StepError),
    /// Too much work.
    #[error("{MOST_STEPS} steps were not enough: stopped at {:.3} ms", time * 1e3)]
    Steps {
        /// Time reached [s].
        time: f64,
    },
}

/// What a run gave.
#[derive(Debug, Clone)]
pub struct Record {
    /// Times of the samples [s].
    pub times: Vec<f64>,
    /// Stations, then vessels.
    pub histories: Vec<History>,
    /// Profiles, by time, then by pipe.
    pub profiles: Vec<Profile>,
    /// Rows of the maps, likewise.
    pub maps: Vec<Profile>,
    /// Middles of the cells of each pipe [m].
    pub places: Vec<Vec<f64>>,
    /// Steps taken.
    pub steps: u64,
    /// Content at the start and at the end, gone into reservoirs included.
    pub contents: [Content; 2],
    /// Mass that reservoirs have given or taken [kg].
    pub throughput: f64,
    /// Why it stopped early.
    pub stop: Option<Stop>,
}

/// The network of a rig.
///
/// # Errors
/// A pipe that cannot be cut into cells.
pub fn network(spec: &RigSpec) -> Result<Network, GridError> {
    let gas = match spec.gas {
        GasChoice::Perfect { gamma, gas_constant } => PipeGas::perfect(gamma, gas_constant),
        GasChoice::Mixtures { lambda } => {
            PipeGas::mixtures(&Gas::new(&Mixture::fresh(lambda, 1.0), &Mixture::burned(lambda)))
        }
    };
    let mut network = Network::new(gas.clone()).with_courant(spec.courant);
    let nodes: Vec<Node> = spec
        .nodes
        .iter()
        .map(|node| match node.volume {
            Some(volume) => network.add_vessel(Vessel::new(volume, &gas, &node.state)),
            None => network.add_reservoir(node.state),
        })
        .collect();
    for pipe in &spec.pipes {
        let ends = pipe.ends.clone().map(|end| match end {
            EndSpec::Closed => End::Closed,
            EndSpec::Endless => End::Through,
            EndSpec::Opening { node, area, schedule } => {
                End::Opening(Opening { to: nodes[node], area, schedule })
            }
            EndSpec::Jump { pipe, side } => End::Jump { pipe, side },
        });
        let grid = Grid::new(&pipe.sections, pipe.cell)?;
        let filled = Pipe::new(grid, &gas, |x| state_at(pipe, &gas, x));
        network.add_pipe(filled.with_walls(&pipe.walls), ends);
    }
    for orifice in &spec.orifices {
        let (from, to) = (nodes[orifice.from], nodes[orifice.to]);
        let schedule = orifice.schedule.clone();
        network.add_orifice(Orifice { from, to, area: orifice.area, schedule });
    }
    Ok(network)
}

/// Gas at a place at the start.
fn state_at(pipe: &PipeSpec, gas: &PipeGas, x: f64) -> State {
    let mut state = pipe.state;
    for (from, to, filling) in &pipe.fillings {
        if !(*from..*to).contains(&x) {
            continue;
        }
        state = match filling {
            Filling::Even(even) => *even,
            Filling::Pulse { peak, direction } => {
                let along = (x - from) / (to - from);
                let share = portable::sin(std::f64::consts::PI * along).powi(2);
                let pressure = state.pressure + (peak - state.pressure) * share;
                let still = gas.state(state.temperature, state.burned);
                let gamma = still.gamma();
                let sound = (gamma * still.specific_pressure_volume()).sqrt();
                let x = portable::pow(pressure / state.pressure, (gamma - 1.0) / (2.0 * gamma));
                State {
                    pressure,
                    temperature: state.temperature * x * x,
                    velocity: state.velocity + direction * 2.0 * sound / (gamma - 1.0) * (x - 1.0),
                    burned: state.burned,
                }
            }
        };
    }
    state
}

/// When something is written down.
struct Clock {
    times: Vec<f64>,
    next: usize,
}

impl Clock {
    fn even(end: f64, count: usize) -> Self {
        Self { times: (0..=count).map(|k| end * k as f64 / count as f64).collect(), next: 0 }
    }

    fn due(&mut self, time: f64) -> bool {
        let due = self.times.get(self.next).is_some_and(|t| *t <= time);
        self.next += usize::from(due);
        due
    }

    fn upcoming(&self) -> f64 {
        self.times.get(self.next).copied().unwrap_or(f64::INFINITY)
    }
}

/// Runs a rig.
pub fn run(spec: &RigSpec, mut network: Network) -> Record {
    let mut record = empty(spec, &network);
    let mut profiles = spec.profiles.clone();
    profiles.sort_by(f64::total_cmp);
    profiles.dedup();
    let mut clocks = [
        Clock::even(spec.end, spec.samples),
        Clock { times: profiles, next: 0 },
        Clock::even(spec.end, spec.map_rows),
    ];
    loop {
        if let Err(error) = network.refresh() {
            record.stop = Some(error.into());
            break;
        }
        let time = network.time();
        let [histories, profiles, maps] = &mut clocks;
        if histories.due(time) {
            sample(&mut record, spec, &network);
        }
        if profiles.due(time) {
            let rows = rows(&network);
            record.profiles.extend(rows);
        }
        if maps.due(time) {
            let rows = rows(&network);
            record.maps.extend(rows);
        }
        let next = clocks.iter().map(Clock::upcoming).fold(f64::INFINITY, f64::min);
        if next.is_infinite() {
            break;
        }
        if network.steps() > MOST_STEPS {
            record.stop = Some(Stop::Steps { time });
            break;
        }
        if next > time
            && let Err(error) = advance(&mut network, next)
        {
            record.stop = Some(error.into());
            break;
        }
    }
    record.steps = network.steps();
    record.contents[1] = network.total();
    record.throughput = network.reservoirs().iter().map(|r| r.received.mass.abs()).sum();
    record
}

fn advance(network: &mut Network, to: f64) -> Result<(), StepError> {
    while network.time() < to && network.steps() <= MOST_STEPS {
        let left = to - network.time();
        if network.step(left)? >= left {
            return network.run_to(to);
        }
    }
    Ok(())
}

fn empty(spec: &RigSpec, network: &Network) -> Record {
    let history = |name: &str, moves| History { name: name.to_owned(), moves, states: Vec::new() };
    let stations = spec.stations.iter().map(|s| history(&s.name, true));
    let vessels = spec.nodes.iter().filter(|n| n.volume.is_some()).map(|n| history(&n.name, false));
    let places = |p: &Pipe| (0..p.grid().cells()).map(|c| p.grid().middle(c)).collect();
    Record {
        times: Vec::new(),
        histories: stations.chain(vessels).collect(),
        profiles: Vec::new(),
        maps: Vec::new(),
        places: network.pipes().iter().map(places).collect(),
        steps: 0,
        contents: [network.total(); 2],
        throughput: 0.0,
        stop: None,
    }
}

/// State at a place between the middles of two cells.
fn between(pipe: &Pipe, x: f64) -> State {
    let grid = pipe.grid();
    let cell = grid.cell_at(x);
    let other = if x < grid.middle(cell) {
        cell.saturating_sub(1)
    } else {
        (cell + 1).min(grid.cells() - 1)
    };
    let (a, b) = (pipe.state(cell), pipe.state(other));
    let apart = grid.middle(other) - grid.middle(cell);
    let share = if apart == 0.0 { 0.0 } else { (x - grid.middle(cell)) / apart };
    let mix = |p: f64, q: f64| p + (q - p) * share;
    State {
        pressure: mix(a.pressure, b.pressure),
        temperature: mix(a.temperature, b.temperature),
        velocity: mix(a.velocity, b.velocity),
        burned: mix(a.burned, b.burned),
    }
}

fn sample(record: &mut Record, spec: &RigSpec, network: &Network) {
    record.times.push(network.time());
    let stations = spec.stations.iter().map(|s| between(&network.pipes()[s.pipe], s.at));
    let vessels = network.vessels().iter().map(|v| {
        let at = v.state(network.gas());
        State {
            pressure: at.pressure,
            temperature: at.temperature,
            velocity: 0.0,
            burned: at.burned,
        }
    });
    for (history, state) in record.histories.iter_mut().zip(stations.chain(vessels)) {
        history.states.push(state);
    }
}

fn rows(network: &Network) -> Vec<Profile> {
    let pipes = network.pipes().iter().enumerate();
    pipes
        .map(|(pipe, p)| Profile {
            time: network.time(),
            pipe,
            states: (0..p.grid().cells()).map(|c| p.state(c)).collect(),
        })
        .collect()
}
