//! Invariants: the end equation over random states, rest, conservation, the same bits everywhere.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::gas::{Gas, Mixture};
use freshcharge_sim::lane::InstructionSet;
use freshcharge_sim::pipe::ends::{Branch, Face, Inside, Outside, closed, opening};
use freshcharge_sim::pipe::{
    End, Friction, Grid, Heat, Network, Node, Opening, Orifice, Pipe, PipeGas, Schedule, Section,
    Side, State, Vessel, Wall, jump,
};

/// Numbers that look random and are the same everywhere.
struct Random(u64);

impl Random {
    fn next(&mut self) -> f64 {
        // Knuth's linear congruence, the upper bits
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }

    /// Evenly in the logarithm.
    fn spread(&mut self, low: f64, high: f64) -> f64 {
        (low.ln() + (high.ln() - low.ln()) * self.next()).exp()
    }
}

fn mixtures() -> PipeGas {
    PipeGas::mixtures(&Gas::new(&Mixture::fresh(0.9, 1.0), &Mixture::burned(0.9)))
}

const AIR: (f64, f64) = (1.4, 287.0);

struct Case {
    inside: Inside,
    outside: Outside,
    share: f64,
}

fn random_case(random: &mut Random, gas: &PipeGas) -> Case {
    let (t, b) = (random.between(250.0, 1800.0), random.next());
    let state = gas.state(t, b);
    let pressure = random.spread(2e4, 1e6);
    let mach =
        if random.next() < 0.8 { random.between(-0.99, 0.99) } else { random.between(-2.5, 2.5) };
    let sound = (state.gamma() * state.specific_pressure_volume()).sqrt();
    let inside = Inside {
        pressure,
        density: pressure / state.specific_pressure_volume(),
        velocity: mach * sound,
        gamma: state.gamma(),
        gas_constant: state.gas_constant,
        burned: b,
    };
    let ratio =
        if random.next() < 0.5 { random.spread(0.9, 1.1) } else { random.spread(0.05, 20.0) };
    let share = if random.next() < 0.25 { 1.0 } else { random.spread(1e-3, 1.0) };
    let outside = Outside {
        pressure: pressure * ratio,
        temperature: random.between(250.0, 1800.0),
        burned: random.next(),
    };
    Case { inside, outside, share }
}

/// Entropy of a perfect gas over R, from pressure and density.
fn entropy(p: f64, rho: f64, gamma: f64) -> f64 {
    (p / rho.powf(gamma)).ln() / (gamma - 1.0)
}

fn sound_at(gas: &PipeGas, face: &Face, inside: &Inside) -> f64 {
    let entering = matches!(face.branch, Branch::Enters | Branch::EntersSonic);
    if entering {
        let r = gas.state(300.0, face.burned).gas_constant;
        let state = gas.state(face.pressure / (face.density * r), face.burned);
        (state.gamma() * face.pressure / face.density).sqrt()
    } else {
        (inside.gamma * face.pressure / face.density).sqrt()
    }
}

/// Velocity into the pipe behind a perfect-gas nozzle with the face at `p`, from scratch.
fn nozzle(outside: &Outside, share: f64, p: f64) -> f64 {
    let (g, r) = AIR;
    let cp = g * r / (g - 1.0);
    let critical = (2.0 / (g + 1.0_f64)).powf(g / (g - 1.0));
    let ratio = (p / outside.pressure).max(critical);
    let psi =
        (2.0 * g / (g - 1.0) * (ratio.powf(2.0 / g) - ratio.powf((g + 1.0) / g))).max(0.0).sqrt();
    let flux = share * outside.pressure / (r * outside.temperature).sqrt() * psi;
    // c_p T + ½k²T² = c_p T₀
    let k = flux * r / p;
    let t = if k > 0.0 {
        2.0 * outside.temperature / (1.0 + (1.0 + 2.0 * k * k * outside.temperature / cp).sqrt())
    } else {
        outside.temperature
    };
    k * t
}

/// Mass flux that a throttle passes less what arrives, from scratch.
fn shortfall(case: &Case, p: f64) -> f64 {
    let (g, r) = AIR;
    let v = -case.inside.velocity_at(p);
    let ratio = p / case.inside.pressure;
    let k = (g - 1.0) / (g + 1.0);
    let density = case.inside.density
        * if ratio > 1.0 { (ratio + k) / (k * ratio + 1.0) } else { ratio.powf(1.0 / g) };
    let t = p / (density * r);
    let total_t = t + v * v * (g - 1.0) / (2.0 * g * r);
    let total = p * (total_t / t).powf(g / (g - 1.0));
    let critical = (2.0 / (g + 1.0)).powf(g / (g - 1.0));
    let ratio = (case.outside.pressure / total).clamp(critical, 1.0);
    let psi =
        (2.0 * g / (g - 1.0) * (ratio.powf(2.0 / g) - ratio.powf((g + 1.0) / g))).max(0.0).sqrt();
    density * v - case.share * total / (r * total_t).sqrt() * psi
}

fn sign_changes(f: impl Fn(f64) -> f64, low: f64, high: f64) -> usize {
    const POINTS: u32 = 60;
    let values: Vec<f64> =
        (0..=POINTS).map(|i| f(low + (high - low) * f64::from(i) / f64::from(POINTS))).collect();
    values.windows(2).filter(|w| (w[0] > 0.0) != (w[1] > 0.0)).count()
}

#[test]
fn the_end_equation_has_one_root_and_no_unphysical_face() {
    let gas = PipeGas::perfect(AIR.0, AIR.1);
    let mut random = Random(1);
    let mut seen = std::collections::BTreeMap::<String, u32>::new();
    let mut lowest = f64::INFINITY;
    for _ in 0..100_000 {
        let case = random_case(&mut random, &gas);
        let Case { inside, outside, share } = &case;
        let face = opening(&gas, inside, outside, *share);
        *seen.entry(format!("{:?}", face.branch)).or_default() += 1;
        assert!(face.pressure > 0.0 && face.density > 0.0, "{face:?}");
        let sound = sound_at(&gas, &face, inside);
        let own = (inside.gamma * inside.pressure / inside.density).sqrt();
        if inside.velocity.abs() <= own {
            assert!(face.velocity.abs() <= sound * (1.0 + 1e-9), "{inside:?} {outside:?} {face:?}");
        }
        let s = entropy(face.pressure, face.density, AIR.0);
        let before = if face.velocity > 0.0 {
            entropy(outside.pressure, outside.pressure / (AIR.1 * outside.temperature), AIR.0)
        } else {
            entropy(inside.pressure, inside.density, AIR.0)
        };
        lowest = lowest.min(s - before);
        assert!(s - before > -1e-9, "entropy falls by {}: {inside:?} {face:?}", before - s);
        match face.branch {
            Branch::Enters => {
                let critical = (2.0 / (AIR.0 + 1.0)).powf(AIR.0 / (AIR.0 - 1.0));
                let low = share * critical * outside.pressure;
                let excess = |p: f64| inside.velocity_at(p) - nozzle(outside, *share, p);
                let changes = sign_changes(excess, low * (1.0 + 1e-9), outside.pressure);
                assert_eq!(changes, 1, "{inside:?} {outside:?} {share}");
                let near = 1e-9 * outside.pressure;
                let (a, b) = (face.pressure - near, (face.pressure + near).min(outside.pressure));
                assert!(
                    excess(a) <= 0.0 && excess(b) >= 0.0,
                    "{face:?} {} {}",
                    excess(a),
                    excess(b)
                );
            }
            Branch::Leaves => {
                let low = inside.lowest_leaving_pressure().max(outside.pressure);
                let high = inside.still_pressure();
                let lacks = |p: f64| shortfall(&case, p);
                assert_eq!(sign_changes(lacks, low, high), 1, "{inside:?} {outside:?} {share}");
                let near = 1e-9 * high;
                assert!(
                    lacks((face.pressure - near).max(low)) >= -1e-9 * face.density * sound
                        && lacks((face.pressure + near).min(high)) <= 1e-9 * face.density * sound
                );
            }
            _ => {}
        }
    }
    println!("branches {seen:?}; least rise of entropy over R {lowest:.1e}");
    for branch in
        ["Enters", "EntersSonic", "Leaves", "LeavesFree", "LeavesSonic", "LeavesSupersonic"]
    {
        assert!(seen.get(branch).is_some_and(|n| *n > 200), "{branch} {seen:?}");
    }
}

#[test]
fn the_end_equation_holds_for_the_two_mixtures_too() {
    let gas = mixtures();
    let mut random = Random(2);
    let (mut fastest, mut unbalanced) = (0.0_f64, 0.0_f64);
    for _ in 0..100_000 {
        let Case { inside, outside, share } = random_case(&mut random, &gas);
        let face = opening(&gas, &inside, &outside, share);
        assert!(face.pressure > 0.0 && face.density > 0.0 && face.velocity.is_finite(), "{face:?}");
        let own = (inside.gamma * inside.pressure / inside.density).sqrt();
        if inside.velocity.abs() <= own {
            fastest = fastest.max(face.velocity.abs() / sound_at(&gas, &face, &inside));
        }
        if face.velocity > 0.0 {
            // what enters has the enthalpy of what stood outside
            let r = gas.state(300.0, face.burned).gas_constant;
            let state = gas.state(face.pressure / (face.density * r), face.burned);
            let total = state.enthalpy + 0.5 * face.velocity * face.velocity;
            let scale = state.heat_capacity * outside.temperature;
            unbalanced = unbalanced.max((total - face.total_enthalpy).abs() / scale);
        }
    }
    println!("fastest face {fastest:.9} of sound, enthalpy off by {unbalanced:.1e}");
    // sonic gas is as fast as sound at the choked mass flow of the frozen γ outside
    assert!(fastest < 1.0 + 1e-9, "{fastest}");
    assert!(unbalanced < 1e-9, "{unbalanced}");
}

#[test]
fn the_end_equation_is_continuous_through_rest_and_through_choking() {
    let gas = PipeGas::perfect(AIR.0, AIR.1);
    let mut random = Random(3);
    let (mut at_rest, mut at_choking) = (0.0_f64, 0.0_f64);
    let mut choked = [0; 2];
    for _ in 0..20_000 {
        let Case { inside, outside, share } = random_case(&mut random, &gas);
        let sound = (inside.gamma * inside.pressure / inside.density).sqrt();
        let still = inside.still_pressure();
        let at = |pressure: f64| opening(&gas, &inside, &Outside { pressure, ..outside }, share);
        let (below, above) = (at(still * (1.0 - 1e-12)), at(still * (1.0 + 1e-12)));
        at_rest = at_rest.max((above.velocity - below.velocity).abs() / sound);
        assert!((below.pressure / above.pressure - 1.0).abs() < 1e-9);
        // between a low and a high outside pressure each change of branch is found by bisection
        for (k, sonic) in [(0, Branch::EntersSonic), (1, Branch::LeavesSonic)] {
            let is = |p: f64| at(p).branch == sonic;
            let (mut low, mut high) = (still, if k == 0 { still * 400.0 } else { still * 1e-3 });
            if is(low) || !is(high) {
                continue;
            }
            for _ in 0..200 {
                let middle = 0.5 * (low + high);
                if is(middle) { high = middle } else { low = middle }
            }
            let (a, b) = (at(low), at(high));
            let flux = |f: &Face| f.density * f.velocity;
            let jump = (flux(&a) - flux(&b)).abs() / flux(&b).abs();
            at_choking = at_choking.max(jump);
            choked[k] += 1;
        }
    }
    println!(
        "jump through rest {at_rest:.1e} of sound, through choking {at_choking:.1e} of the flow; {choked:?} cases"
    );
    assert!(at_rest < 1e-5, "{at_rest}");
    assert!(at_choking < 1e-6, "{at_choking}");
    assert!(choked.iter().all(|n| *n > 1000), "{choked:?}");
    // shutting the opening leads to the wall, down to an area that is rounding
    for _ in 0..1000 {
        let Case { inside, outside, .. } = random_case(&mut random, &gas);
        let wall = closed(&gas, &inside);
        for share in [1e-9, 1e-11, 9.5e-17] {
            let shut = opening(&gas, &inside, &outside, share);
            // what still passes moves the pressure by about its share of the higher one
            let allowed = 1e-7 + 10.0 * share * (outside.pressure / wall.pressure).max(1.0);
            let off = (shut.pressure / wall.pressure - 1.0).abs();
            assert!(off < allowed, "{share}: {shut:?} {wall:?}, {off:e} of {allowed:e}");
        }
    }
}

fn open_to(to: Node) -> End {
    End::Opening(Opening { to, area: f64::INFINITY, schedule: Schedule::default() })
}

#[test]
fn gas_at_rest_in_a_random_taper_stays_at_rest() {
    let mut random = Random(4);
    for gas in [PipeGas::perfect(AIR.0, AIR.1), mixtures()] {
        let mut sections = Vec::new();
        let mut from = 0.03;
        for _ in 0..12 {
            let to = random.between(0.01, 0.08);
            sections.push(Section::cone(random.between(0.01, 0.06), from, to));
            from = to;
        }
        let grid = Grid::new(&sections, 0.01).unwrap();
        // temperature and composition vary from cell to cell, pressure does not
        let middles = grid.clone();
        let rest = |x: f64| {
            let x = middles.middle(middles.cell_at(x));
            State {
                pressure: 101_325.0,
                temperature: 600.0 + 250.0 * (23.0 * x).sin(),
                velocity: 0.0,
                burned: 0.5 + 0.45 * (17.0 * x).cos(),
            }
        };
        let wall = Wall { friction: Friction::None, heat: Heat::Adiabatic };
        let end = rest(grid.length());
        let pipe = Pipe::new(grid, &gas, rest).with_walls(&[wall]);
        let mut network = Network::new(gas);
        let air = network.add_reservoir(Outside {
            pressure: 101_325.0,
            temperature: end.temperature,
            burned: end.burned,
        });
        network.add_pipe(pipe, [End::Closed, open_to(air)]);
        let fastest = |network: &Network| {
            let pipe = &network.pipes()[0];
            let cells = 0..pipe.grid().cells();
            cells.map(|c| (pipe.state(c).velocity / pipe.sound(c)).abs()).fold(0.0, f64::max)
        };
        let mut seen = Vec::new();
        for _ in 0..10 {
            let mut most = 0.0_f64;
            for step in 0..10_000 {
                network.step(1.0).unwrap();
                if step % 100 == 99 {
                    network.refresh().unwrap();
                    most = most.max(fastest(&network));
                }
            }
            seen.push(most);
        }
        println!("largest |u|/c in each of ten times 10⁴ steps: {seen:?}");
        assert!(seen.iter().all(|m| *m <= 1e-11), "{seen:?}");
        assert!(seen[9] <= 3.0 * seen[0].max(1e-14), "it grows: {seen:?}");
    }
}

/// A hot vessel behind a port, an exhaust of cones with rough warm walls, a junction and a second pipe.
fn exhaust(gas: PipeGas) -> Network {
    let sections = [
        Section::straight(0.4, 0.036),
        Section::cone(0.5, 0.036, 0.08),
        Section::cone(0.3, 0.08, 0.03),
    ];
    let cold = State { pressure: 1e5, temperature: 350.0, velocity: 0.0, burned: 0.0 };
    let rough = Wall { friction: Friction::Smooth(2.0), heat: Heat::Adiabatic };
    let pipe = Pipe::new(Grid::new(&sections, 0.01).unwrap(), &gas, |_| cold).with_walls(&[rough]);
    let second = Grid::new(&[Section::straight(0.6, 0.03)], 0.01).unwrap();
    let second = Pipe::new(second, &gas, |_| cold).with_walls(&[rough]);
    let third = Grid::new(&[Section::straight(0.5, 0.05)], 0.01).unwrap();
    let third = Pipe::new(third, &gas, |_| cold);
    let of = |pressure, temperature, burned| Outside { pressure, temperature, burned };
    let mut network = Network::new(gas.clone());
    let cylinder = network.add_vessel(Vessel::new(300e-6, &gas, &of(6e5, 1500.0, 0.95)));
    let junction = network.add_vessel(Vessel::new(1e-4, &gas, &of(1e5, 350.0, 0.0)));
    let silencer = network.add_vessel(Vessel::new(1e-3, &gas, &of(1e5, 350.0, 0.0)));
    let port = Opening {
        to: cylinder,
        area: 4e-4,
        schedule: Schedule::new(vec![(0.0, 0.0), (1e-3, 1.0), (4e-3, 1.0), (5e-3, 0.2)]),
    };
    network.add_pipe(pipe, [End::Opening(port), open_to(junction)]);
    network.add_pipe(second, [open_to(junction), End::Jump { pipe: 2, side: Side::Start }]);
    network.add_pipe(third, [End::Jump { pipe: 1, side: Side::Finish }, End::Closed]);
    let schedule = Schedule::default();
    network.add_orifice(Orifice { from: junction, to: silencer, area: 5e-5, schedule });
    network
}

#[test]
fn mass_and_energy_of_a_network_are_kept() {
    for gas in [PipeGas::perfect(AIR.0, AIR.1), mixtures()] {
        let mut network = exhaust(gas);
        let before = network.total();
        network.run_to(0.05).unwrap();
        let after = network.total();
        // energies of formation cancel: relative to the thermal energy
        let thermal = before.mass * 287.0 * 350.0 / 0.4;
        let mass = (after.mass / before.mass - 1.0).abs();
        let burned = (after.burned - before.burned).abs() / before.mass;
        let energy = (after.energy - before.energy).abs() / thermal;
        println!(
            "{} steps: mass {mass:.1e}, burned mass {burned:.1e}, energy {energy:.1e}",
            network.steps()
        );
        assert!(mass < 1e-12 && burned < 1e-12 && energy < 1e-12);
        let leaked = network.vessels()[0].content.mass;
        assert!(
            leaked < 0.6 * 6e5 * 300e-6 / (287.0 * 1500.0),
            "the vessel has not emptied: {leaked}"
        );
    }
}

#[test]
fn a_very_wide_pipe_is_the_outside_air() {
    let gas = mixtures();
    let of = |pressure, temperature, burned| Outside { pressure, temperature, burned };
    let air = of(1e5, 300.0, 0.0);
    let hot = of(5e5, 1200.0, 1.0);
    let area = 2e-5;
    let cold = State { pressure: 1e5, temperature: 300.0, velocity: 0.0, burned: 0.0 };
    let mut with_pipe = Network::new(gas.clone());
    let vessel = with_pipe.add_vessel(Vessel::new(300e-6, &gas, &hot));
    let grid = Grid::new(&[Section::straight(2.0, 1.0)], 0.05).unwrap();
    let schedule = Schedule::default();
    let port = Opening { to: vessel, area, schedule: schedule.clone() };
    let pipe = Pipe::new(grid, &gas, |_| cold);
    let outlet = with_pipe.add_reservoir(air);
    with_pipe.add_pipe(pipe, [End::Opening(port), open_to(outlet)]);
    let mut alone = Network::new(gas.clone());
    let from = alone.add_vessel(Vessel::new(300e-6, &gas, &hot));
    let to = alone.add_reservoir(air);
    alone.add_orifice(Orifice { from, to, area, schedule });
    let mut worst = 0.0_f64;
    for k in 1..=60 {
        let time = 5e-4 * f64::from(k);
        with_pipe.run_to(time).unwrap();
        alone.run_to(time).unwrap();
        let state = |n: &Network| n.vessels()[0].state(n.gas());
        let (a, b) = (state(&with_pipe), state(&alone));
        let off =
            (a.pressure / b.pressure - 1.0).abs().max((a.temperature / b.temperature - 1.0).abs());
        worst = worst.max(off);
        if k % 20 == 0 {
            println!(
                "{:.1} ms: {:.1} Pa with the pipe, {:.1} Pa without",
                1e3 * time,
                a.pressure,
                b.pressure
            );
        }
    }
    println!("worst difference {worst:.1e}");
    assert!(worst < 1e-3, "{worst}");
}

#[test]
fn every_instruction_set_gives_the_same_bits() {
    let run = |set: InstructionSet| {
        let mut network = exhaust(mixtures()).with_instructions(set);
        network.run_to(4e-3).unwrap();
        let of = |n: &Network| -> Vec<u64> {
            let pipes = n.pipes().iter();
            let cells = pipes.flat_map(|p| (0..p.grid().cells()).flat_map(|c| p.conserved(c)));
            cells.map(f64::to_bits).collect()
        };
        of(&network)
    };
    let all: Vec<_> = InstructionSet::available().into_iter().map(run).collect();
    assert!(all.windows(2).all(|w| w[0] == w[1]));
}

#[test]
fn a_pipe_turned_round_gives_the_mirror_image() {
    let gas = mixtures();
    let length = 0.8;
    let state = |x: f64, along: f64| State {
        pressure: 1.2e5 + 4e4 * (5.0 * x).sin(),
        temperature: 500.0 + 300.0 * (3.0 * x).cos(),
        velocity: along * 40.0 * (7.0 * x).cos(),
        burned: 0.5 + 0.4 * (4.0 * x).sin(),
    };
    let run = |turned: bool| {
        let sections = [(0.3, 0.03, 0.03), (0.3, 0.03, 0.06), (0.2, 0.06, 0.06)];
        let mut sections = sections.map(|(l, a, b)| Section::cone(l, a, b));
        if turned {
            sections = sections.map(|s| Section::cone(s.length, s.to, s.from));
            sections.reverse();
        }
        let grid = Grid::new(&sections, 0.01).unwrap();
        let pipe =
            Pipe::new(grid, &gas, |x| if turned { state(length - x, -1.0) } else { state(x, 1.0) });
        let mut network = Network::new(gas.clone());
        let air = Outside { pressure: 1e5, temperature: 300.0, burned: 0.0 };
        let node = network.add_reservoir(air);
        let mut ends = [End::Closed, open_to(node)];
        if turned {
            ends.reverse();
        }
        network.add_pipe(pipe, ends);
        network.run_to(5e-3).unwrap();
        network
    };
    let (there, back) = (run(false), run(true));
    let (a, b) = (&there.pipes()[0], &back.pipes()[0]);
    let cells = a.grid().cells();
    for cell in 0..cells {
        let (s, t) = (a.state(cell), b.state(cells - 1 - cell));
        assert!((s.pressure / t.pressure - 1.0).abs() < 1e-11, "{cell} {s:?} {t:?}");
        assert!((s.velocity + t.velocity).abs() < 1e-8, "{cell} {s:?} {t:?}");
    }
}

#[test]
fn a_jump_of_area_keeps_what_it_must_over_random_states() {
    let gas = PipeGas::perfect(AIR.0, AIR.1);
    let mut random = Random(5);
    let (mut widening, mut narrowing, mut choked) = (0, 0, 0);
    for _ in 0..20_000 {
        let first = random_case(&mut random, &gas).inside;
        let mut second = random_case(&mut random, &gas).inside;
        // neighbours: pressures within a factor of three
        second.density *= first.pressure / second.pressure;
        second.pressure = first.pressure;
        let factor = random.spread(1.0 / 3.0, 3.0);
        second.pressure *= factor;
        second.density *= factor;
        let areas = [1e-3, 1e-3 * random.spread(0.1, 10.0)];
        let faces = jump(&gas, &[first, second], areas);
        let leaves = |f: &Face| {
            matches!(f.branch, Branch::Leaves | Branch::LeavesSonic | Branch::LeavesSupersonic)
        };
        let (from, to) = if leaves(&faces[0]) { (0, 1) } else { (1, 0) };
        let (a, b, ratio) = (faces[from], faces[to], areas[from] / areas[to]);
        let (v, w) = (-a.velocity, b.velocity);
        let what = format!("{first:?} {second:?} {areas:?} {faces:?}");
        assert!(a.pressure > 0.0 && b.pressure > 0.0 && v >= 0.0 && w >= 0.0, "{what}");
        let scale = a.density * (AIR.0 * a.pressure / a.density).sqrt();
        assert!(
            (a.density * v * ratio - b.density * w).abs() < 1e-9 * scale * ratio.max(1.0),
            "{what}"
        );
        let cp = AIR.0 / (AIR.0 - 1.0);
        let total = |p: f64, rho: f64, v: f64| cp * p / rho + 0.5 * v * v;
        let (h1, h2) = (total(a.pressure, a.density, v), total(b.pressure, b.density, w));
        if v > 0.0 {
            assert!((h1 / h2 - 1.0).abs() < 1e-9, "{what}");
        }
        if a.branch != Branch::Leaves || b.branch != Branch::Enters {
            choked += 1;
            continue;
        }
        let (s1, s2) =
            (entropy(a.pressure, a.density, AIR.0), entropy(b.pressure, b.density, AIR.0));
        if v > 0.0 {
            assert!(s2 - s1 > -1e-8, "{what}");
        }
        if ratio < 1.0 {
            let thrust = a.pressure + a.density * v * v * ratio;
            let behind = b.pressure + b.density * w * w;
            assert!((thrust / behind - 1.0).abs() < 1e-8, "{what}");
            widening += 1;
        } else {
            assert!(v == 0.0 || (s2 - s1).abs() < 1e-8, "{what}");
            narrowing += 1;
        }
    }
    println!("{widening} widenings, {narrowing} narrowings, {choked} choked");
    assert!(widening > 3000 && narrowing > 1000 && choked > 100);
}

/// A vessel that empties through an orifice into another and outside, asked 10 times or 100 000 times in 400 ms.
#[test]
fn vessels_at_orifices_do_not_depend_on_how_often_they_are_asked() {
    let gas = mixtures();
    let of = |pressure, temperature, burned| Outside { pressure, temperature, burned };
    let asked = |times: u32| {
        let mut network = Network::new(gas.clone());
        let full = network.add_vessel(Vessel::new(1e-3, &gas, &of(4e5, 900.0, 1.0)));
        let next = network.add_vessel(Vessel::new(3e-4, &gas, &of(1e5, 300.0, 0.0)));
        let outside = network.add_reservoir(of(1e5, 300.0, 0.0));
        let schedule = Schedule::default();
        let way = |from, to, area| Orifice { from, to, area, schedule: schedule.clone() };
        network.add_orifice(way(full, next, 2e-5));
        network.add_orifice(way(next, outside, 3e-5));
        let mut seen = Vec::new();
        for k in 1..=times {
            network.run_to(0.4 * f64::from(k) / f64::from(times)).unwrap();
            if k % (times / 10) == 0 {
                let states = network.vessels().iter().map(|v| v.state(&gas));
                seen.extend(states.flat_map(|s| [s.pressure, s.temperature]));
            }
        }
        seen
    };
    let (seldom, often) = (asked(10), asked(100_000));
    for (a, b) in seldom.iter().zip(&often) {
        assert!((a / b - 1.0).abs() < 1e-5, "{a} {b}");
    }
    assert_eq!(seldom.len(), 40);
}
