//! Verification: waves in pipes against finite-amplitude relations, resonances and reflections.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use std::f64::consts::PI;

use freshcharge_sim::pipe::ends::Outside;
use freshcharge_sim::pipe::{
    End, Grid, Network, Node, Opening, Pipe, PipeGas, Schedule, Section, Side, State, Vessel,
};
use freshcharge_validation::{Reference, Tolerance, reference};

const GAMMA: f64 = 1.4;
const R: f64 = 287.0;
const P0: f64 = 1e5;

/// Air at rest with a given speed of sound.
fn still(sound: f64) -> (PipeGas, State) {
    let temperature = sound * sound / (GAMMA * R);
    let state = State { pressure: P0, temperature, velocity: 0.0, burned: 0.0 };
    (PipeGas::perfect(GAMMA, R), state)
}

/// Gas of a homentropic wave to pressure ratio `ratio` that runs along the pipe.
fn in_wave(rest: &State, sound: f64, ratio: f64) -> State {
    let x = ratio.powf((GAMMA - 1.0) / (2.0 * GAMMA));
    State {
        pressure: rest.pressure * ratio,
        temperature: rest.temperature * x * x,
        velocity: 2.0 * sound / (GAMMA - 1.0) * (x - 1.0),
        burned: 0.0,
    }
}

fn open_to(to: Node) -> End {
    End::Opening(Opening { to, area: f64::INFINITY, schedule: Schedule::default() })
}

fn outside(state: &State) -> Outside {
    Outside { pressure: state.pressure, temperature: state.temperature, burned: state.burned }
}

/// A plateau from 0.3 to 1.5 m with ramps of 0.2 m.
fn plateau(x: f64) -> f64 {
    let smooth = |t: f64| {
        let t = t.clamp(0.0, 1.0);
        t * t * (3.0 - 2.0 * t)
    };
    smooth((x - 0.1) / 0.2) * smooth((1.7 - x) / 0.2)
}

/// A pipe of 1.75 m with a plateau that runs at its far end.
fn with_plateau(ratio: f64, end: impl Fn(&mut Network, &State) -> End) -> Network {
    let (gas, rest) = still(340.0);
    let grid = Grid::new(&[Section::straight(1.75, 0.03)], 0.005).unwrap();
    let shape = |x: f64| in_wave(&rest, 340.0, 1.0 + (ratio - 1.0) * plateau(x));
    let pipe = Pipe::new(grid, &gas, shape);
    let mut network = Network::new(gas);
    let end = end(&mut network, &rest);
    network.add_pipe(pipe, [End::Through, end]);
    network
}

#[test]
fn finite_waves_rise_at_a_closed_end_as_they_should() {
    let table = reference!("finite_amplitude_waves_g1.4.csv");
    let demanded = Tolerance::relative(0.01, "demanded");
    for row in 0..table.len() {
        let ratio = table.number(row, "P");
        let mut network = with_plateau(ratio, |_, _| End::Closed);
        // the plateau's middle stands at the wall
        let speed = 340.0 * table.number(row, "propagation_over_a0");
        network.run_to(0.6 / speed).unwrap();
        let pipe = &network.pipes()[0];
        let found = pipe.state(pipe.grid().cells() - 1).pressure / P0;
        let wanted = table.number(row, "closed_end_P");
        println!(
            "closed end, P = {ratio}: {found:.6} against {wanted:.6}, {:+.4} %",
            100.0 * (found / wanted - 1.0)
        );
        demanded.check("pressure at the wall", found, wanted);
    }
    assert!(table.len() >= 15);
}

#[test]
fn finite_waves_come_back_from_an_open_end_as_they_should() {
    let table = reference!("finite_amplitude_waves_g1.4.csv");
    let demanded = Tolerance::relative(0.01, "demanded");
    let mut compared = 0;
    for row in 0..table.len() {
        let (ratio, out) = (table.number(row, "P"), table.number(row, "open_end_u_over_a0"));
        // the relation holds while gas leaves slower than sound; near it the returning wave hardly gets
        // away from the end before this plateau is over
        if ratio <= 1.0 || out >= 0.8 {
            continue;
        }
        let mut network = with_plateau(ratio, |network, rest| {
            let node = network.add_reservoir(outside(rest));
            open_to(node)
        });
        let speed = 340.0 * table.number(row, "propagation_over_a0");
        network.run_to(0.6 / speed).unwrap();
        let face = network.face(0, Side::Finish).unwrap();
        demanded.check("velocity at the open end", -face.velocity / 340.0, out);
        // the returning plateau where it has left the arriving one behind, before its
        // rear has eaten it up: the deepest place
        network.run_to(1.85 / speed).unwrap();
        let pipe = &network.pipes()[0];
        let cells = 0..pipe.grid().cells();
        let deepest = cells.map(|c| pipe.state(c).pressure / P0).fold(f64::INFINITY, f64::min);
        let wanted = table.number(row, "open_end_reflected_P");
        println!(
            "open end, P = {ratio}: returns {deepest:.6} against {wanted:.6}, leaves at {:.6} against {out:.6}",
            -face.velocity / 340.0
        );
        demanded.check("returning wave", deepest, wanted);
        compared += 1;
    }
    assert!(compared >= 5, "{compared}");
}

/// Frequency [Hz] of what a probe sees, from its crossings of the mean, between the first and the last.
fn frequency(network: &mut Network, end: f64, probe: impl Fn(&Network) -> f64) -> f64 {
    let (mut first, mut last, mut count) = (f64::NAN, f64::NAN, 0_u32);
    let (mut before, mut at) = (probe(network), network.time());
    while network.time() < end {
        network.step(1.0).unwrap();
        network.refresh().unwrap();
        let now = probe(network);
        if before < 0.0 && now >= 0.0 {
            let time = at + (network.time() - at) * before / (before - now);
            if first.is_nan() {
                first = time;
            } else {
                count += 1;
            }
            last = time;
        }
        (before, at) = (now, network.time());
    }
    f64::from(count) / (last - first)
}

const CELLS: u32 = 50;
const SMALL: f64 = 1e-4;

/// Frequency of a pipe that starts in the shape `mode`, pressure over its mean; probed at the first cell.
fn resonance(section: Section, ends: [bool; 2], mode: impl Fn(f64) -> f64, expected: f64) -> f64 {
    let (gas, rest) = still(343.2);
    let grid = Grid::new(&[section], section.length / f64::from(CELLS)).unwrap();
    let pipe = Pipe::new(grid, &gas, |x| {
        let ratio = 1.0 + SMALL * mode(x);
        State {
            pressure: P0 * ratio,
            temperature: rest.temperature * ratio.powf((GAMMA - 1.0) / GAMMA),
            ..rest
        }
    });
    let mut network = Network::new(gas);
    let ends =
        ends.map(
            |open| {
                if open { open_to(network.add_reservoir(outside(&rest))) } else { End::Closed }
            },
        );
    let largest = (0..CELLS as usize)
        .max_by(|a, b| {
            let at = |c: &usize| mode((*c as f64 + 0.5) / f64::from(CELLS) * section.length).abs();
            at(a).total_cmp(&at(b))
        })
        .unwrap();
    network.add_pipe(pipe, ends);
    network.refresh().unwrap();
    frequency(&mut network, 8.0 / expected, |n| n.pipes()[0].state(largest).pressure - P0)
}

fn rows<'a>(
    table: &'a Reference,
    case: &'a str,
    boundary: &'a str,
) -> impl Iterator<Item = (u32, f64)> + 'a {
    (0..table.len())
        .filter(move |r| {
            table.text(*r, "case").starts_with(case)
                && table.text(*r, "boundary").starts_with(boundary)
        })
        .map(|r| (table.number(r, "mode") as u32, table.number(r, "f_Hz")))
}

#[test]
fn straight_pipes_resonate_at_quarter_and_half_waves() {
    let table = reference!("acoustic_resonances.csv");
    let demanded = Tolerance::relative(0.01, "demanded at 50 cells a length");
    let section = Section::straight(0.5, 0.038);
    let straight = "straight pipe L=0.5 m r=0.019 m c=343.2";
    let mut compared = 0;
    for (boundary, ends) in
        [("closed-open, no end correction", [false, true]), ("closed-closed", [false, false])]
    {
        for (mode, expected) in rows(&table, straight, boundary) {
            let k = 2.0 * PI * expected / 343.2;
            let found = resonance(section, ends, |x| (k * x).cos(), expected);
            println!(
                "{boundary}, mode {mode}: {found:.3} Hz against {expected:.3}, {:+.3} %",
                100.0 * (found / expected - 1.0)
            );
            demanded.check("frequency", found, expected);
            compared += 1;
        }
    }
    assert_eq!(compared, 6);
}

#[test]
fn cones_resonate_where_the_spherical_wave_says() {
    let table = reference!("acoustic_resonances.csv");
    let demanded = Tolerance::relative(0.01, "demanded at 50 cells a length");
    let mut compared = 0;
    for (x1, x2, length) in [(0.2, 0.6, "0.4"), (0.05, 0.55, "0.5"), (0.4, 0.7, "0.3")] {
        let case = format!("conical frustum x1={x1} x2={x2} (L={length})");
        let section = Section::cone(x2 - x1, 0.2 * x1, 0.2 * x2);
        for (boundary, ends) in [
            ("closed small end, open large end", [false, true]),
            ("open small end, closed large end", [true, false]),
            ("closed-closed", [false, false]),
        ] {
            for (mode, expected) in rows(&table, &case, boundary) {
                let k = 2.0 * PI * expected / 343.2;
                let shape = |x: f64| {
                    let r = x1 + x;
                    let wave = match ends {
                        [false, true] => (k * (x2 - r)).sin(),
                        [true, _] => (k * (r - x1)).sin(),
                        _ => (k * x).sin() + k * x1 * (k * x).cos(),
                    };
                    wave * x1 / r
                };
                let found = resonance(section, ends, shape, expected);
                println!(
                    "{case} {boundary}, mode {mode}: {found:.3} Hz against {expected:.3}, {:+.3} %",
                    100.0 * (found / expected - 1.0)
                );
                demanded.check("frequency", found, expected);
                compared += 1;
            }
        }
    }
    assert_eq!(compared, 27);
}

#[test]
fn a_vessel_with_a_neck_rings_at_its_exact_frequency() {
    let table = reference!("acoustic_resonances.csv");
    let (_, expected) =
        rows(&table, "Helmholtz resonator", "1-D neck + 0-D volume").next().unwrap();
    let (gas, rest) = still(343.2);
    let grid = Grid::new(&[Section::straight(0.06, 0.024)], 0.06 / f64::from(CELLS)).unwrap();
    let pipe = Pipe::new(grid, &gas, |_| rest);
    let mut network = Network::new(gas.clone());
    let excited = 1.0 + SMALL;
    let hot = Outside {
        pressure: P0 * excited,
        temperature: rest.temperature * excited.powf((GAMMA - 1.0) / GAMMA),
        burned: 0.0,
    };
    let vessel = network.add_vessel(Vessel::new(300e-6, &gas, &hot));
    let air = network.add_reservoir(outside(&rest));
    network.add_pipe(pipe, [open_to(vessel), open_to(air)]);
    let pressure = |n: &Network| n.vessels()[0].state(n.gas()).pressure - P0;
    let found = frequency(&mut network, 8.0 / expected, pressure);
    println!(
        "vessel with neck: {found:.3} Hz against {expected:.3}, {:+.3} %",
        100.0 * (found / expected - 1.0)
    );
    Tolerance::relative(0.01, "demanded at 50 cells a length").check("frequency", found, expected);
}

/// Overpressure at a cell over time: times and values.
fn record(network: &mut Network, end: f64, probes: &[(usize, usize)]) -> (Vec<f64>, Vec<Vec<f64>>) {
    let (mut times, mut values) = (Vec::new(), vec![Vec::new(); probes.len()]);
    while network.time() < end {
        network.step(end - network.time()).unwrap();
        network.refresh().unwrap();
        times.push(network.time());
        for (series, (pipe, cell)) in values.iter_mut().zip(probes) {
            series.push(network.pipes()[*pipe].state(*cell).pressure - P0);
        }
    }
    (times, values)
}

/// ∫f e^{−iωt} dt between two times by the trapezoidal rule.
fn transform(times: &[f64], values: &[f64], omega: f64, from: f64, to: f64) -> (f64, f64) {
    let mut sum = (0.0, 0.0);
    for i in 1..times.len() {
        if times[i - 1] >= from && times[i] <= to {
            let h = 0.5 * (times[i] - times[i - 1]);
            for k in [i - 1, i] {
                let (s, c) = (omega * times[k]).sin_cos();
                sum.0 += h * values[k] * c;
                sum.1 -= h * values[k] * s;
            }
        }
    }
    sum
}

#[test]
fn a_sudden_change_of_area_reflects_and_passes_what_it_should() {
    let table = reference!("area_change_linear.csv");
    let demanded = Tolerance::relative(0.02, "demanded").or_absolute(2e-3);
    for row in 0..table.len() {
        let ratio = table.number(row, "A2_over_A1");
        let (gas, rest) = still(340.0);
        let grid = |d: f64| Grid::new(&[Section::straight(2.0, d)], 0.01).unwrap();
        let pulse = |x: f64| {
            let ratio = 1.0 + SMALL * (-((x - 0.5) / 0.08).powi(2)).exp();
            in_wave(&rest, 340.0, ratio)
        };
        let mut network = Network::new(gas.clone());
        let first = Pipe::new(grid(0.03), &gas, pulse);
        let second = Pipe::new(grid(0.03 * f64::sqrt(ratio)), &gas, |_| rest);
        let jump = |pipe, side| End::Jump { pipe, side };
        network.add_pipe(first, [End::Through, jump(1, Side::Start)]);
        network.add_pipe(second, [jump(0, Side::Finish), End::Through]);
        let (times, seen) = record(&mut network, 3.0 / 340.0, &[(0, 100), (1, 50)]);
        let area = |k: usize, from: f64, to: f64| transform(&times, &seen[k], 0.0, from, to).0;
        let arriving = area(0, 0.0, 1.2 / 340.0);
        let returned = area(0, 1.8 / 340.0, 3.0 / 340.0) / arriving;
        let passed = area(1, 1.2 / 340.0, 3.0 / 340.0) / arriving;
        println!(
            "area ratio {ratio}: returns {returned:+.5} against {:+.5}, passes {passed:.5} against {:.5}",
            table.number(row, "R_p"),
            table.number(row, "T_p")
        );
        demanded.check("reflection", returned, table.number(row, "R_p"));
        demanded.check("transmission", passed, table.number(row, "T_p"));
    }
}

#[test]
fn a_pipe_into_a_cone_reflects_as_the_spherical_wave_says() {
    let table = reference!("pipe_to_cone_reflection.csv");
    let c = 550.0;
    let mut compared = 0;
    for half in [2.0, 4.0, 8.0_f64] {
        let (gas, rest) = still(c);
        let length = 12.0;
        let wide = 0.04 + 2.0 * length * half.to_radians().tan();
        let sections = [Section::straight(6.0, 0.04), Section::cone(length, 0.04, wide)];
        let grid = Grid::new(&sections, 0.01).unwrap();
        let pulse = |x: f64| {
            let ratio = 1.0 + SMALL * (-((x - 0.8) / 0.08).powi(2)).exp();
            in_wave(&rest, c, ratio)
        };
        let pipe = Pipe::new(grid, &gas, pulse);
        let mut network = Network::new(gas);
        network.add_pipe(pipe, [End::Through, End::Through]);
        // the station stands 0.5 m before the cone
        let (times, seen) = record(&mut network, 25.0 / c, &[(0, 549), (0, 550)]);
        let middle: Vec<f64> = seen[0].iter().zip(&seen[1]).map(|(a, b)| 0.5 * (a + b)).collect();
        for row in 0..table.len() {
            if table.number(row, "half_angle_deg") != half {
                continue;
            }
            let f = table.number(row, "f_Hz");
            let omega = 2.0 * PI * f;
            let (a, b) = transform(&times, &middle, omega, 0.0, 5.2 / c);
            let (re, im) = transform(&times, &middle, omega, 5.2 / c, 25.0 / c);
            let size = (re.hypot(im)) / a.hypot(b);
            let phase = (im.atan2(re) - b.atan2(a) + omega / c).to_degrees();
            let phase = (phase + 180.0).rem_euclid(360.0) - 180.0;
            let (abs, degrees) = (table.number(row, "abs_R"), table.number(row, "phase_deg"));
            println!(
                "cone of {half}°, {f} Hz: |R| {size:.5} against {abs:.5}, phase {phase:.2}° against {degrees:.2}°"
            );
            Tolerance::relative(0.02, "demanded").check("|R|", size, abs);
            Tolerance::absolute(1.15, "2 % of a radian").check("phase", phase, degrees);
            compared += 1;
        }
    }
    assert_eq!(compared, 15);
}

/// Mean differences of overpressure and velocity from a table of a pulse in a duct, as shares of their means, at
/// each of its times; cells `parts` times as fine as the 5 mm over which the table takes means.
fn off_the_pulse(table: &Reference, parts: usize) -> Vec<(f64, [f64; 2])> {
    let (gas, rest) = still(340.0);
    let sections = [
        Section::straight(0.8, 0.03),
        Section::cone(0.3, 0.03, 0.06),
        Section::straight(0.2, 0.06),
        Section::cone(0.2, 0.06, 0.02),
        Section::straight(0.5, 0.02),
    ];
    let pulse = |x: f64| {
        let inside = f64::from(u8::from((0.2..0.6).contains(&x)));
        in_wave(&rest, 340.0, 1.0 + inside * 0.3 * (PI * (x - 0.2) / 0.4).sin().powi(2))
    };
    let grid = Grid::new(&sections, 0.005 / parts as f64).unwrap();
    assert_eq!(grid.cells(), 400 * parts);
    let mut network = Network::new(gas.clone());
    network.add_pipe(Pipe::new(grid, &gas, pulse), [End::Closed, End::Closed]);
    let (mut row, mut found) = (0, Vec::new());
    while row < table.len() {
        let time = table.number(row, "t_ms");
        network.run_to(1e-3 * time).unwrap();
        let pipe = &network.pipes()[0];
        let (mut off, mut size) = ([0.0; 2], [0.0; 2]);
        while row < table.len() && table.number(row, "t_ms") == time {
            let first = (table.number(row, "x_m") / 0.005) as usize * parts;
            let mean = |of: fn(&State) -> f64| {
                (first..first + parts).map(|c| of(&pipe.state(c))).sum::<f64>() / parts as f64
            };
            let ours = [mean(|s| s.pressure) / P0 - 1.0, mean(|s| s.velocity)];
            let theirs = [table.number(row, "p_bar") - 1.0, table.number(row, "u_m_s")];
            for k in 0..2 {
                off[k] += (ours[k] - theirs[k]).abs();
                size[k] += theirs[k].abs();
            }
            row += 1;
        }
        found.push((time, [off[0] / size[0], off[1] / size[1]]));
    }
    found
}

#[test]
fn a_pulse_in_cones_goes_as_pyclaw_says() {
    let table = reference!("pulse_in_ducts.csv");
    let (coarse, fine) = (off_the_pulse(&table, 1), off_the_pulse(&table, 8));
    let same = Tolerance::absolute(
        2.0 * 0.625 / 400.0,
        "a front may be spread over two cells of 0.625 mm, of a pulse 400 mm long",
    );
    for ((time, wide), (_, narrow)) in coarse.iter().zip(&fine) {
        println!("{time} ms: at 5 mm {wide:.4?}, at 0.625 mm {narrow:.5?}");
        same.check("mean difference of overpressure, as a share of its mean", narrow[0], 0.0);
        same.check("mean difference of velocity, as a share of its mean", narrow[1], 0.0);
        for k in 0..2 {
            // three halvings: fronts are of first order, all else of second
            assert!(wide[k] >= 8.0 * narrow[k], "{time} ms: {wide:?} {narrow:?}");
        }
    }
    assert_eq!(fine.len(), 5);
}
