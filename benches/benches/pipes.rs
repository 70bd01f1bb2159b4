//! Pipes: cell updates per second, a whole step with friction, heat, area change and both ends counted as
//! one update a cell.

use divan::{Bencher, counter::ItemsCount};
use freshcharge_sim::gas::{Gas, Mixture};
use freshcharge_sim::lane::InstructionSet;
use freshcharge_sim::pipe::ends::Outside;
use freshcharge_sim::pipe::{
    End, Friction, Grid, Heat, Network, Opening, Pipe, PipeGas, Schedule, Section, State, Vessel,
    Wall,
};

fn main() {
    divan::main();
}

/// A vessel of hot gas behind a port, an exhaust of cones and a tail pipe, walls with friction and heat.
fn exhaust(gas: PipeGas, cells: usize) -> Network {
    let sections = [
        Section::straight(0.2, 0.038),
        Section::cone(0.3, 0.038, 0.08),
        Section::cone(0.25, 0.08, 0.024),
        Section::straight(0.25, 0.024),
    ];
    let grid = Grid::new(&sections, 1.0 / cells as f64).expect("sections that make a pipe");
    let wall = Wall {
        friction: Friction::Smooth(1.0),
        heat: Heat::Wall { temperature: 500.0, scale: 1.0 },
    };
    let first = |x: f64| State {
        pressure: 1.1e5 + 2e4 * (12.0 * x).sin(),
        temperature: 700.0 + 200.0 * (9.0 * x).cos(),
        velocity: 60.0,
        burned: 0.5 + 0.4 * (7.0 * x).sin(),
    };
    let pipe = Pipe::new(grid, &gas, first).with_walls(&[wall]);
    let hot = Outside { pressure: 3e5, temperature: 1200.0, burned: 1.0 };
    let vessel = Vessel::new(300e-6, &gas, &hot);
    let mut network = Network::new(gas);
    let cylinder = network.add_vessel(vessel);
    let outside = network.add_reservoir(Outside { pressure: 1e5, temperature: 600.0, burned: 1.0 });
    let open = |to, area| End::Opening(Opening { to, area, schedule: Schedule::default() });
    network.add_pipe(pipe, [open(cylinder, 3e-4), open(outside, f64::INFINITY)]);
    network
}

fn mixtures() -> PipeGas {
    PipeGas::mixtures(&Gas::new(&Mixture::fresh(0.9, 1.0), &Mixture::burned(0.9)))
}

fn steps(bencher: Bencher, network: Network, cells: usize) {
    bencher
        .counter(ItemsCount::new(cells * 100))
        .with_inputs(|| network.clone())
        .bench_local_values(|mut network| {
            for _ in 0..100 {
                let _ = network.step(1.0);
            }
            network.time()
        });
}

#[divan::bench(args = [50, 100, 200, 1000])]
fn two_mixtures(bencher: Bencher, cells: usize) {
    steps(bencher, exhaust(mixtures(), cells), cells);
}

#[divan::bench(args = [50, 100, 200, 1000])]
fn perfect_gas(bencher: Bencher, cells: usize) {
    steps(bencher, exhaust(PipeGas::perfect(1.35, 288.0), cells), cells);
}

/// Each instruction set that this processor has.
#[divan::bench(args = InstructionSet::available())]
fn two_mixtures_on(bencher: Bencher, set: &InstructionSet) {
    let cells = 200;
    steps(bencher, exhaust(mixtures(), cells).with_instructions(*set), cells);
}
