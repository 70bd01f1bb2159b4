//! Sod's shock tube over numbers of cells: fastest of many runs [s] and L1 errors of density, velocity and
//! pressure. Read by `benches/pyclaw/sod.py`, which does the same with PyClaw.

use std::time::Instant;

use freshcharge_sim::pipe::riemann::{Exact, Gas};
use freshcharge_sim::pipe::{End, Grid, Network, Pipe, PipeGas, Section, State};

const GAMMA: f64 = 1.4;
/// Sets no more than the unit of temperature [J/(kg K)].
const GAS_CONSTANT: f64 = 287.0;
/// Place of the membrane [m].
const MIDDLE: f64 = 0.5;
/// Time of comparison [s].
const TIME: f64 = 0.2;
/// Runs of which the fastest counts.
const RUNS: usize = 40;

/// G. A. Sod, J. Comput. Phys. 27 (1978) 1.
const SIDES: [Gas; 2] = [
    Gas { density: 1.0, velocity: 0.0, pressure: 1.0, gamma: GAMMA },
    Gas { density: 0.125, velocity: 0.0, pressure: 0.1, gamma: GAMMA },
];

fn tube(cells: usize) -> Network {
    let grid = Grid::new(&[Section::straight(1.0, 0.1)], 1.0 / cells as f64)
        .unwrap_or_else(|error| panic!("{error}"));
    let gas = PipeGas::perfect(GAMMA, GAS_CONSTANT);
    let first = |x: f64| {
        let Gas { density, velocity, pressure, .. } = SIDES[usize::from(x > MIDDLE)];
        let temperature = pressure / (density * GAS_CONSTANT);
        State { pressure, temperature, velocity, burned: 0.0 }
    };
    let pipe = Pipe::new(grid, &gas, first);
    let mut network = Network::new(gas).with_courant(0.9);
    network.add_pipe(pipe, [End::Through, End::Through]);
    network
}

fn main() {
    let [left, right] = SIDES;
    let Some(exact) = Exact::new(left, right) else { panic!("the gases do not part") };
    for cells in [50, 100, 200, 400, 800, 1600] {
        let start = tube(cells);
        let mut network = start.clone();
        let mut fastest = f64::INFINITY;
        for _ in 0..RUNS {
            network.clone_from(&start);
            let began = Instant::now();
            network.run_to(TIME).unwrap_or_else(|error| panic!("{error}"));
            fastest = fastest.min(began.elapsed().as_secs_f64());
        }
        let pipe = &network.pipes()[0];
        let mut errors = [0.0; 3];
        for cell in 0..pipe.grid().cells() {
            let (held, at) =
                (pipe.state(cell), exact.at((pipe.grid().middle(cell) - MIDDLE) / TIME));
            let density = pipe.density(cell);
            let apart =
                [density - at.density, held.velocity - at.velocity, held.pressure - at.pressure];
            for (sum, value) in errors.iter_mut().zip(apart) {
                *sum += value.abs() * pipe.grid().width(cell);
            }
        }
        println!("{cells} {fastest:e} {:e} {:e} {:e}", errors[0], errors[1], errors[2]);
    }
}
