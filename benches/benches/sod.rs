//! Sod's shock tube over cells: seconds it takes on one core, and the mean error of density. Prints lines
//! `cells seconds error` for `pyclaw/sod.py`, which runs it beside PyClaw.

use std::time::Instant;

use freshcharge_sim::pipe::riemann::{Exact, Gas};
use freshcharge_sim::pipe::{End, Grid, Network, Pipe, PipeGas, Section, State};

/// Sod, J. Comput. Phys. 27 (1978) 1: the two gases, at rest.
const LEFT: Gas = Gas { density: 1.0, velocity: 0.0, pressure: 1.0, gamma: 1.4 };
const RIGHT: Gas = Gas { density: 0.125, velocity: 0.0, pressure: 0.1, gamma: 1.4 };
const MIDDLE: f64 = 0.5;
const TIME: f64 = 0.2;

fn tube(cells: usize) -> Network {
    let gas = PipeGas::perfect(LEFT.gamma, 1.0);
    let grid = Grid::new(&[Section::straight(1.0, 1.0)], 1.0 / cells as f64).expect("a tube");
    let first = |x: f64| {
        let side = if x < MIDDLE { LEFT } else { RIGHT };
        let Gas { density, velocity, pressure, .. } = side;
        State { pressure, temperature: pressure / density, velocity, burned: 0.0 }
    };
    let pipe = Pipe::new(grid, &gas, first);
    let mut network = Network::new(gas).with_courant(0.9);
    network.add_pipe(pipe, [End::Through, End::Through]);
    network
}

fn error(network: &Network) -> f64 {
    let exact = Exact::new(LEFT, RIGHT).expect("a tube without vacuum");
    let pipe = &network.pipes()[0];
    let cells = pipe.grid().cells();
    let off = |cell: usize| {
        let there = exact.at((pipe.grid().middle(cell) - MIDDLE) / TIME);
        (pipe.density(cell) - there.density).abs()
    };
    (0..cells).map(off).sum::<f64>() / cells as f64
}

fn main() {
    for cells in [50, 100, 200, 400, 800, 1600] {
        let first = tube(cells);
        let mut fastest = f64::INFINITY;
        let mut done = first.clone();
        for _ in 0..10 {
            done = first.clone();
            let clock = Instant::now();
            done.run_to(TIME).expect("a tube that can be computed");
            fastest = fastest.min(clock.elapsed().as_secs_f64());
        }
        println!("{cells} {fastest:.6e} {:.6e}", error(&done));
    }
}
