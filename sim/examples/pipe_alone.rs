//! A pipe without an engine: a pulse runs from a closed end to an open one and comes back inverted.

use freshcharge_sim::pipe::ends::Outside;
use freshcharge_sim::pipe::{End, Grid, Network, Opening, Pipe, PipeGas, Schedule, Section, State};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let air = PipeGas::perfect(1.4, 287.0);
    let (pressure, temperature) = (101_325.0, 293.15);
    let grid = Grid::new(&[Section::straight(1.0, 0.03)], 0.005)?;
    // 0.3 bar more in the first 10 cm
    let start = |x: f64| State {
        pressure: if x < 0.1 { pressure + 30_000.0 } else { pressure },
        temperature,
        velocity: 0.0,
        burned: 0.0,
    };
    let pipe = Pipe::new(grid, &air, start);

    let mut network = Network::new(air);
    let outside = network.add_reservoir(Outside { pressure, temperature, burned: 0.0 });
    let mouth = Opening { to: outside, area: 1.0, schedule: Schedule::default() };
    network.add_pipe(pipe, [End::Closed, End::Opening(mouth)]);

    let held = network.total().mass;
    println!("time [ms]  pressure in the middle less that outside [bar]");
    for step in 0..=20 {
        let time = 0.25e-3 * f64::from(step);
        network.run_to(time)?;
        let pipe = &network.pipes()[0];
        let middle = pipe.state(pipe.grid().cells() / 2);
        println!("{:9.2}  {:+.4}", time * 1e3, (middle.pressure - pressure) / 1e5);
    }
    let lost = network.total().mass / held - 1.0;
    println!("mass in the pipe and outside has changed by {lost:+.1e} of itself");
    Ok(())
}
