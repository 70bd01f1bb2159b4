//! Stepping together with something else: whoever owns the places behind the ports tells what stands
//! there in the middle of each step, and receives what passes.

use super::{Content, End, Network, Node, Opening, Outside, Side};
use crate::pipe::State;

/// A place behind the end of a pipe that is told in the middle of each step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Port {
    /// Gas that would enter the pipe from there.
    pub outside: Outside,
    /// C_d A_t of the opening [m²].
    pub area: f64,
    /// What was found last.
    pub passing: Passing,
}

/// What passes a port.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Passing {
    /// Into the pipe, per second.
    pub flow: Content,
    /// Pressure at the pipe's face [Pa].
    pub face_pressure: f64,
    /// Velocity there, into the pipe [m/s].
    pub face_velocity: f64,
    /// Rider in what flows into the pipe, per second.
    pub rider: f64,
}

impl Network {
    /// Adds a port that is shut; gives its number.
    pub fn add_port(&mut self, outside: Outside) -> usize {
        self.ports.push(Port { outside, area: 0.0, passing: Passing::default() });
        self.ports.len() - 1
    }

    /// What stands behind a port, and how far it is open: C_d A_t [m²].
    pub fn set_port(&mut self, port: usize, outside: Outside, area: f64) {
        self.ports[port].outside = outside;
        self.ports[port].area = area;
    }

    /// The ports.
    #[must_use]
    pub fn ports(&self) -> &[Port] {
        &self.ports
    }

    /// What stands at an end of a pipe.
    #[must_use]
    pub fn end(&self, pipe: usize, side: Side) -> &End {
        &self.ends[pipe][side as usize]
    }

    /// Lets the next step lean on none before it: right after something has jumped.
    pub fn forget(&mut self) {
        self.last = 0.0;
        self.work.vessel_rates.fill(Content::default());
        self.work.faces.fill([None; 2]);
    }

    /// Gas in the cell next to an end in the middle of the step, its velocity along the pipe.
    #[must_use]
    pub fn end_state(&self, pipe: usize, side: Side) -> State {
        let pipe = &self.pipes[pipe];
        pipe.middle_state(pipe.end_cell(side))
    }

    /// Replaces what passes a port into its pipe per second, the face's thrust being left as it is: for
    /// gas whose mixture depends on how much of it leaves.
    pub fn fill_port(&mut self, port: usize, flow: Content, rider: f64) {
        for pipe in 0..self.pipes.len() {
            for side in Side::BOTH {
                if self.ends[pipe][side as usize] == End::Port(port) {
                    let flux = &mut self.work.fluxes[pipe][side as usize];
                    let along = side.sign();
                    (flux[0], flux[2], flux[3]) =
                        (along * flow.mass, along * flow.energy, along * flow.burned);
                }
            }
        }
        self.ports[port].passing.flow = flow;
        self.ports[port].passing.rider = rider;
    }

    /// Lets the gas carry a rider, of which there is none yet.
    #[must_use]
    pub fn with_rider(mut self) -> Self {
        for pipe in &mut self.pipes {
            pipe.rider.now = vec![0.0; pipe.grid().cells()];
        }
        self.vessel_riders = vec![0.0; self.vessels.len()];
        self
    }

    /// Share of the rider in the gas next to an end.
    #[must_use]
    pub fn end_rider(&self, pipe: usize, side: Side) -> f64 {
        self.pipes[pipe].end_share(side)
    }

    /// Tells each pipe what rides on gas that enters it, and books what rides into the vessels.
    pub(super) fn carry_riders(&mut self, dt: f64) {
        if self.pipes.first().is_none_or(|p| p.rider.now.is_empty()) {
            return;
        }
        let mut rates = vec![0.0; self.vessels.len()];
        for index in 0..self.pipes.len() {
            for side in Side::BOTH {
                let into = side.sign() * self.work.fluxes[index][side as usize][0];
                let share = match &self.ends[index][side as usize] {
                    End::Port(port) => {
                        let passing = &self.ports[*port].passing;
                        if into > 0.0 { passing.rider / into } else { 0.0 }
                    }
                    End::Opening(Opening { to: Node::Vessel(vessel), .. }) => {
                        let own = self.vessel_riders[*vessel] / self.vessels[*vessel].content.mass;
                        let moved =
                            if into > 0.0 { own } else { self.pipes[index].end_share(side) };
                        rates[*vessel] -= into * moved;
                        own
                    }
                    End::Jump { pipe, side: other } => self.pipes[*pipe].end_share(*other),
                    End::Opening(_) | End::Closed | End::Through => 0.0,
                };
                self.pipes[index].rider.entering[side as usize] = share;
            }
        }
        for (rider, rate) in self.vessel_riders.iter_mut().zip(rates) {
            *rider += dt * rate;
        }
    }

    /// Heat that all walls take from the gas [W] over the step.
    #[must_use]
    pub fn wall_heat(&self) -> f64 {
        self.pipes.iter().map(|pipe| pipe.wall_heat(&self.stride)).sum()
    }

    /// What a reservoir takes per second, as last worked out.
    #[must_use]
    pub fn received_rate(&self, reservoir: usize) -> Content {
        self.work.reservoir_rates[reservoir]
    }

    /// Fastest answer of a vessel to its openings [1/s], as last worked out.
    #[must_use]
    pub fn haste(&self) -> f64 {
        self.work.haste.iter().copied().fold(0.0, f64::max)
    }

    /// What pipes and vessels hold.
    #[must_use]
    pub fn held(&self) -> Content {
        let mut sum = Content::default();
        let parts = self.pipes.iter().map(super::super::Pipe::content);
        for part in parts.chain(self.vessels.iter().map(|v| v.content)) {
            sum.add(1.0, part);
        }
        sum
    }

    /// Every conserved number of pipes and vessels, to be put back by [`Self::restore`].
    #[must_use]
    pub fn stored(&self) -> Vec<f64> {
        let mut numbers = Vec::new();
        for pipe in &self.pipes {
            for cell in 0..pipe.grid().cells() {
                numbers.extend(pipe.conserved(cell));
            }
        }
        for vessel in &self.vessels {
            let Content { mass, energy, burned } = vessel.content;
            numbers.extend([mass, energy, burned]);
        }
        for pipe in &self.pipes {
            numbers.extend(&pipe.rider.now);
        }
        numbers.extend(&self.vessel_riders);
        numbers
    }

    /// Puts back what [`Self::stored`] gave.
    pub fn restore(&mut self, numbers: &[f64]) {
        let mut numbers = numbers.iter().copied();
        let mut next = || numbers.next().unwrap_or(f64::NAN);
        for pipe in &mut self.pipes {
            for cell in 0..pipe.grid().cells() {
                let held = std::array::from_fn(|_| next());
                pipe.set_conserved(cell, held);
            }
        }
        for vessel in &mut self.vessels {
            vessel.content = Content { mass: next(), energy: next(), burned: next() };
        }
        for pipe in &mut self.pipes {
            pipe.rider.now.fill_with(&mut next);
        }
        self.vessel_riders.fill_with(&mut next);
        for reservoir in &mut self.reservoirs {
            reservoir.received = Content::default();
        }
        for port in &mut self.ports {
            // shut until it is told: what was told last belongs to another state
            port.area = 0.0;
        }
        self.forget();
    }

    /// State of every cell, pipe after pipe, then of every vessel at rest.
    #[must_use]
    pub fn states(&self) -> Vec<State> {
        let mut states = Vec::new();
        for pipe in &self.pipes {
            states.extend((0..pipe.grid().cells()).map(|cell| pipe.state(cell)));
        }
        states.extend(self.vessels.iter().map(|vessel| {
            let Outside { pressure, temperature, burned } = vessel.state(&self.gas);
            State { pressure, temperature, velocity: 0.0, burned }
        }));
        states
    }

    /// Sets the state of every cell and vessel, in the order of [`Self::states`].
    pub fn set_states(&mut self, states: &[State]) {
        let mut states = states.iter();
        for pipe in &mut self.pipes {
            for cell in 0..pipe.grid().cells() {
                if let Some(state) = states.next() {
                    pipe.set_conserved(cell, super::super::conserved(&self.gas, state));
                }
            }
        }
        for (vessel, s) in self.vessels.iter_mut().zip(states) {
            let at = Outside { pressure: s.pressure, temperature: s.temperature, burned: s.burned };
            *vessel = super::Vessel::new(vessel.volume, &self.gas, &at);
        }
        self.forget();
    }
}
