//! Pipes, vessels and reservoirs joined: one explicit step for all, every stream booked once.
//!
//! # Decisions
//!
//! - A vessel's step limit is half the time in which gas at the speed of sound would fill it through its
//!   openings; for orifices between vessels the slope of the flow function counts, with both vessels
//!   together. Where there are no pipes it moves a thousandth of a vessel's content at most, so that results do not
//!   depend on how often they are asked for.

mod coupled;
mod parts;

pub use coupled::{Passing, Port};
pub use parts::{Content, End, Node, Opening, Orifice, Reservoir, Schedule, Vessel};

use super::ends::{self, Branch, Face, Outside};
use super::jump::jump;
use super::sweep::Stride;
use super::{Ghost, Pipe, PipeGas, Side, through};
use crate::flow::{Upstream, mass_flow, steepest};
use crate::lane::InstructionSet;

/// Half-width of the regularised flow between vessels.
const EPSILON: f64 = 2e-4;
/// Share of a vessel's fastest rate that a step may cover: 1 would be the limit of stability.
pub(crate) const VESSEL_SHARE: f64 = 0.5;
/// Largest share of a vessel's content that a step may move where there are no pipes to keep steps short: the error
/// of a run goes with its square, about 1e-6.
const CONTENT_SHARE: f64 = 1e-3;

/// Why a step failed.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StepError {
    /// A cell does not hold a gas any more.
    #[error("pipe {pipe}, cell {cell}: no gas can be in this state at {time:e} s")]
    Cell {
        /// Pipe, from 0.
        pipe: usize,
        /// Cell, from 0.
        cell: usize,
        /// Time [s].
        time: f64,
    },
    /// A vessel does not hold a gas any more.
    #[error("vessel {vessel}: no gas can be in this state at {time:e} s")]
    Vessel {
        /// Vessel, from 0.
        vessel: usize,
        /// Time [s].
        time: f64,
    },
}

/// Pipes, vessels and reservoirs, with what joins them.
#[derive(Debug, Clone)]
pub struct Network {
    /// The gas in all of them.
    gas: PipeGas,
    pipes: Vec<Pipe>,
    ends: Vec<[End; 2]>,
    vessels: Vec<Vessel>,
    reservoirs: Vec<Reservoir>,
    orifices: Vec<Orifice>,
    ports: Vec<Port>,
    /// What has left through ends that go on for ever.
    beyond: Content,
    /// Largest share of a cell that a signal may cross in a step.
    courant: f64,
    /// Riders of the vessels [kg]; empty where none is asked for.
    vessel_riders: Vec<f64>,
    set: InstructionSet,
    time: f64,
    steps: u64,
    /// Length of the last step [s]; zero where there was none that the next may lean on.
    last: f64,
    /// The step that is being taken.
    stride: Stride,
    work: Work,
}

/// Work arrays of a step.
#[derive(Debug, Clone, Default)]
struct Work {
    /// States of the vessels in the middle of the step.
    states: Vec<Outside>,
    vessel_rates: Vec<Content>,
    reservoir_rates: Vec<Content>,
    beyond_rate: Content,
    /// Fastest rate of each vessel [1/s].
    haste: Vec<f64>,
    faces: Vec<[Option<Face>; 2]>,
    fluxes: Vec<[[f64; 4]; 2]>,
}

impl Network {
    /// Nothing yet but a gas.
    #[must_use]
    pub fn new(gas: PipeGas) -> Self {
        Self {
            gas,
            pipes: Vec::new(),
            ends: Vec::new(),
            vessels: Vec::new(),
            reservoirs: Vec::new(),
            orifices: Vec::new(),
            ports: Vec::new(),
            beyond: Content::default(),
            courant: 0.5,
            vessel_riders: Vec::new(),
            set: InstructionSet::best(),
            time: 0.0,
            steps: 0,
            last: 0.0,
            stride: Stride::after(0.0, 0.0),
            work: Work::default(),
        }
    }

    /// With another Courant number than 0.5.
    #[must_use]
    pub fn with_courant(self, courant: f64) -> Self {
        Self { courant, ..self }
    }

    /// With another instruction set than the best.
    #[must_use]
    pub fn with_instructions(self, set: InstructionSet) -> Self {
        Self { set, ..self }
    }

    /// Adds a pipe; gives its number.
    pub fn add_pipe(&mut self, pipe: Pipe, ends: [End; 2]) -> usize {
        self.pipes.push(pipe);
        self.ends.push(ends);
        self.work.faces.push([None; 2]);
        self.work.fluxes.push([[0.0; 4]; 2]);
        self.pipes.len() - 1
    }

    /// Adds a vessel.
    pub fn add_vessel(&mut self, vessel: Vessel) -> Node {
        self.vessels.push(vessel);
        let nothing = Content::default();
        self.work.states.push(vessel.state(&self.gas));
        self.work.vessel_rates.push(nothing);
        self.work.haste.push(0.0);
        Node::Vessel(self.vessels.len() - 1)
    }

    /// Adds a reservoir.
    pub fn add_reservoir(&mut self, state: Outside) -> Node {
        self.reservoirs.push(Reservoir::new(state));
        self.work.reservoir_rates.push(Content::default());
        Node::Reservoir(self.reservoirs.len() - 1)
    }

    /// Adds an orifice between two nodes.
    pub fn add_orifice(&mut self, orifice: Orifice) {
        self.orifices.push(orifice);
    }

    /// The gas.
    #[must_use]
    pub fn gas(&self) -> &PipeGas {
        &self.gas
    }

    /// The pipes.
    #[must_use]
    pub fn pipes(&self) -> &[Pipe] {
        &self.pipes
    }

    /// The vessels.
    #[must_use]
    pub fn vessels(&self) -> &[Vessel] {
        &self.vessels
    }

    /// The reservoirs.
    #[must_use]
    pub fn reservoirs(&self) -> &[Reservoir] {
        &self.reservoirs
    }

    /// Time since the start [s].
    #[must_use]
    pub fn time(&self) -> f64 {
        self.time
    }

    /// Steps taken.
    #[must_use]
    pub fn steps(&self) -> u64 {
        self.steps
    }

    /// What is in pipes and vessels and has gone into reservoirs and out of ends that go on for ever: it never changes but by wall heat.
    #[must_use]
    pub fn total(&self) -> Content {
        let mut sum = self.beyond;
        let parts = self.pipes.iter().map(Pipe::content);
        let parts = parts.chain(self.vessels.iter().map(|v| v.content));
        for part in parts.chain(self.reservoirs.iter().map(|r| r.received)) {
            sum.add(1.0, part);
        }
        sum
    }

    /// Face at an end of a pipe, in the middle of the last step.
    #[must_use]
    pub fn face(&self, pipe: usize, side: Side) -> Option<Face> {
        self.work.faces[pipe][side as usize]
    }

    /// Works out the means of all cells; gives the fastest signal over its cell [1/s].
    ///
    /// # Errors
    /// When a cell holds no gas.
    pub fn refresh(&mut self) -> Result<f64, StepError> {
        let (mut rate, time) = (0.0_f64, self.time);
        for (index, pipe) in self.pipes.iter_mut().enumerate() {
            let found = pipe.read_off(&self.gas, self.set);
            if !found.good {
                return Err(StepError::Cell { pipe: index, cell: pipe.bad_cell(), time });
            }
            rate = rate.max(found.rate);
        }
        Ok(rate)
    }

    /// Steps until `end` [s] exactly.
    ///
    /// # Errors
    /// When a cell or vessel holds no gas any more.
    pub fn run_to(&mut self, end: f64) -> Result<(), StepError> {
        while self.time < end {
            let left = end - self.time;
            let taken = self.step(left)?;
            if taken >= left {
                self.time = end;
            }
        }
        self.refresh().map(|_| ())
    }

    /// One step of at most `longest` [s]; gives its length.
    ///
    /// # Errors
    /// When a cell or vessel holds no gas any more.
    pub fn step(&mut self, longest: f64) -> Result<f64, StepError> {
        let rate = self.refresh()?;
        if self.last == 0.0 {
            self.predict(0.0)?;
            self.flow();
        }
        let own = self.work.haste.iter().fold(rate / self.courant, |r, h| r.max(h / VESSEL_SHARE));
        let own =
            if self.pipes.is_empty() { own.max(self.turnover() / CONTENT_SHARE) } else { own };
        // the last of several equal steps, not a long one and a splinter
        let steps = (longest * own).ceil().clamp(1.0, 1e9);
        let dt = if steps > 2.0 { 1.0 / own } else { longest / steps };
        self.predict(dt)?;
        self.flow();
        self.advance();
        Ok(dt)
    }

    /// Fastest rate at which a vessel's mass changes, over what it holds [1/s].
    fn turnover(&self) -> f64 {
        let both = self.vessels.iter().zip(&self.work.vessel_rates);
        both.fold(0.0, |most, (vessel, rate)| (rate.mass / vessel.content.mass).abs().max(most))
    }

    /// Everything in the middle of a step of `dt` [s] but what passes the ends: pipes by themselves, vessels
    /// with what passed them last.
    ///
    /// # Errors
    /// When a vessel holds no gas any more.
    pub fn predict(&mut self, dt: f64) -> Result<(), StepError> {
        self.stride = Stride::after(self.last, dt);
        for (index, vessel) in self.vessels.iter().enumerate() {
            let mut middle = *vessel;
            middle.content.add(0.5 * dt, self.work.vessel_rates[index]);
            let state = middle.state(&self.gas);
            if !(state.pressure > 0.0 && state.temperature > 0.0) {
                return Err(StepError::Vessel { vessel: index, time: self.time });
            }
            self.work.states[index] = state;
        }
        self.set_ghosts();
        for pipe in &mut self.pipes {
            pipe.predict(&self.gas, self.set, 0.5 * dt);
        }
        Ok(())
    }

    /// What slopes at the ends are judged by.
    fn set_ghosts(&mut self) {
        for (pipe, ends) in self.pipes.iter_mut().zip(&self.ends) {
            for side in Side::BOTH {
                let ghost = match ends[side as usize] {
                    End::Closed => Ghost::Mirror,
                    End::Through => Ghost::Flat,
                    End::Port(port) if self.ports[port].area <= 0.0 => Ghost::Mirror,
                    End::Opening(_) | End::Port(_) | End::Jump { .. } => Ghost::Continued,
                };
                pipe.set_ghost(side, ghost);
            }
        }
    }

    fn outside(&self, node: Node) -> Outside {
        match node {
            Node::Vessel(index) => self.work.states[index],
            Node::Reservoir(index) => self.reservoirs[index].state,
        }
    }

    /// Works out what passes every end: all streams, each once, with both bookings.
    pub fn flow(&mut self) {
        let (nothing, time) = (Content::default(), self.time + 0.5 * self.stride.dt);
        self.work.vessel_rates.fill(nothing);
        self.work.reservoir_rates.fill(nothing);
        self.work.beyond_rate = nothing;
        self.work.haste.fill(0.0);
        for pipe in 0..self.pipes.len() {
            for side in Side::BOTH {
                self.end_stream(pipe, side, time);
            }
        }
        for index in 0..self.orifices.len() {
            self.orifice_stream(index, time);
        }
    }

    fn end_stream(&mut self, index: usize, side: Side, time: f64) {
        let pipe = &self.pipes[index];
        let inside = pipe.inside(&self.gas, side);
        let area = pipe.end_area(side);
        let near = self.work.faces[index][side as usize].map(|face| face.velocity);
        let (face, node) = match &self.ends[index][side as usize] {
            End::Closed => (ends::closed(&self.gas, &inside), None),
            End::Through => (ends::through(&self.gas, &inside), None),
            End::Opening(opening) => {
                let share = opening.area * opening.schedule.at(time) / area;
                let outside = self.outside(opening.to);
                let share = share.clamp(0.0, 1.0);
                let face = ends::opening_near(&self.gas, &inside, &outside, share, near);
                (face, Some(opening.to))
            }
            End::Port(port) => {
                let (port, set) = (*port, &self.ports[*port]);
                let share = (set.area / area).clamp(0.0, 1.0);
                let face = ends::opening_near(&self.gas, &inside, &set.outside, share, near);
                let flux = through(&face, side, area);
                self.work.faces[index][side as usize] = Some(face);
                self.work.fluxes[index][side as usize] = flux;
                let into = side.sign();
                self.ports[port].passing = Passing {
                    rider: 0.0,
                    flow: Content { mass: flux[0], energy: flux[2], burned: flux[3] }.times(into),
                    face_pressure: face.pressure,
                    face_velocity: face.velocity,
                };
                return;
            }
            End::Jump { pipe, side: other } => {
                let (other_pipe, other_side) = (*pipe, *other);
                // the pair is done once, by its first member
                if (other_pipe, other_side as usize) > (index, side as usize) {
                    self.jump_stream((index, side), (other_pipe, other_side));
                }
                return;
            }
        };
        let flux = through(&face, side, area);
        self.work.faces[index][side as usize] = Some(face);
        self.work.fluxes[index][side as usize] = flux;
        let into = side.sign();
        let out =
            Content { mass: -into * flux[0], energy: -into * flux[2], burned: -into * flux[3] };
        match node {
            Some(node) => {
                self.book(node, out);
                // gas at the speed of sound through the whole end
                let sound = (face.pressure / face.density * inside.gamma).sqrt();
                self.hurry(node, self.rate(node, area * sound));
            }
            None => self.work.beyond_rate.add(1.0, out),
        }
    }

    fn jump_stream(&mut self, one: (usize, Side), two: (usize, Side)) {
        let of = |(pipe, side): (usize, Side)| {
            let pipe = &self.pipes[pipe];
            (pipe.inside(&self.gas, side), pipe.end_area(side))
        };
        let ((inside1, area1), (inside2, area2)) = (of(one), of(two));
        let faces = jump(&self.gas, &[inside1, inside2], [area1, area2]);
        let fluxes = [through(&faces[0], one.1, area1), through(&faces[1], two.1, area2)];
        // mass and energy are computed where the gas leaves and booked on both sides
        let first_leaves = !matches!(faces[0].branch, Branch::Enters | Branch::EntersSonic);
        let (from, to) = if first_leaves { (0, 1) } else { (1, 0) };
        let sides = [one.1.sign(), two.1.sign()];
        let mut booked = fluxes;
        for k in [0, 2, 3] {
            booked[to][k] = -sides[from] * sides[to] * fluxes[from][k];
        }
        for (k, (pipe, side)) in [one, two].into_iter().enumerate() {
            self.work.faces[pipe][side as usize] = Some(faces[k]);
            self.work.fluxes[pipe][side as usize] = booked[k];
        }
    }

    fn orifice_stream(&mut self, index: usize, time: f64) {
        let Orifice { from, to, area, ref schedule } = self.orifices[index];
        let area = area * schedule.at(time);
        let (a, b) = (self.outside(from), self.outside(to));
        let forward = a.pressure >= b.pressure;
        let (up, down) = if forward { (a, b) } else { (b, a) };
        let state = self.gas.state(up.temperature, up.burned);
        let upstream = Upstream {
            pressure: up.pressure,
            specific_pressure_volume: state.specific_pressure_volume(),
            kappa: state.gas_constant / state.heat_capacity,
        };
        let flow = mass_flow(area, &upstream, down.pressure, EPSILON);
        let stream =
            Content { mass: flow, energy: flow * state.enthalpy, burned: flow * up.burned };
        let into = if forward { 1.0 } else { -1.0 };
        self.book(to, stream.times(into));
        self.book(from, stream.times(-into));
        let shortfall = (1.0 - down.pressure / up.pressure).max(EPSILON);
        let sound = state.specific_pressure_volume().sqrt() * state.gamma();
        let haste = area * sound * steepest(shortfall);
        // two vessels that answer to each other do so faster than either alone
        let both = self.rate(from, haste) + self.rate(to, haste);
        self.hurry(from, both);
        self.hurry(to, both);
    }

    fn book(&mut self, node: Node, rate: Content) {
        match node {
            Node::Vessel(index) => self.work.vessel_rates[index].add(1.0, rate),
            Node::Reservoir(index) => self.work.reservoir_rates[index].add(1.0, rate),
        }
    }

    /// Rate at which a volume flow [m³/s] that answers to a node's pressure moves it [1/s].
    fn rate(&self, node: Node, flow: f64) -> f64 {
        match node {
            Node::Vessel(index) => flow / self.vessels[index].volume,
            Node::Reservoir(_) => 0.0,
        }
    }

    /// Adds a rate [1/s] at which a vessel answers.
    fn hurry(&mut self, node: Node, rate: f64) {
        if let Node::Vessel(index) = node {
            self.work.haste[index] += rate;
        }
    }

    /// Does the step that was predicted, with what passes.
    pub fn advance(&mut self) {
        let dt = self.stride.dt;
        self.carry_riders(dt);
        for (pipe, ends) in self.pipes.iter_mut().zip(&self.work.fluxes) {
            pipe.advance(self.set, *ends, self.stride);
        }
        for (vessel, rate) in self.vessels.iter_mut().zip(&self.work.vessel_rates) {
            vessel.content.add(dt, *rate);
        }
        self.beyond.add(dt, self.work.beyond_rate);
        for (reservoir, rate) in self.reservoirs.iter_mut().zip(&self.work.reservoir_rates) {
            reservoir.received.add(dt, *rate);
        }
        self.time += dt;
        self.last = dt;
        self.steps += 1;
    }
}
