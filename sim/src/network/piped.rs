//! An evaluation in two halves, for an engine with pipes: first what stands at the ports, then, once the
//! pipes have said what passes them, everything else. The physics is the one of [`super::View`].
//!
//! # Decisions
//!
//! - Over a step no more burned gas leaves the cylinder than there is and comes in, and no more charge
//!   burns: laws by which burned gas leaves until none is left would step over zero.

use super::layout::Layout;
use super::streams::{Stream, TransferStreams};
use super::zones::{Entering, Parts};
use super::{Booking, Inside, Network, Place, View};
use crate::lane::{Lane, Mask};

/// Gas at an engine's port and its opening toward a pipe.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtPort {
    /// p [Pa].
    pub pressure: f64,
    /// T [K].
    pub temperature: f64,
    /// Burned share of what would leave.
    pub burned: f64,
    /// C_d A [m²].
    pub area: f64,
}

/// The first half of an evaluation.
pub struct Half {
    inside: Inside<f64>,
    /// Behind the exhaust windows.
    pub exhaust: AtPort,
    /// Behind the intake.
    pub intake: AtPort,
    /// Where the cylinder has two zones: what comes in through the transfers, and shares of what would
    /// leave.
    leaving: Option<(Entering<f64>, Parts<f64>)>,
}

/// What passes the engine's end of a pipe: mass [kg/s], energy [W], burned and old mass [kg/s].
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Passed {
    /// ṁ, positive out of the cylinder or into the crankcase.
    pub mass: f64,
    /// Energy with it.
    pub energy: f64,
    /// Burned mass with it.
    pub burned: f64,
    /// Old mass with it: burned gas and leftovers.
    pub old: f64,
}

/// What the cylinder has to give over a step that does not ask again [kg/s]: more would take a share below 0
/// or above 1, where a law says that only burned gas leaves, or charge burns that has leaked away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spare<L: Lane> {
    /// Burned gas in it at the step's start, over the step.
    pub burned: L,
    /// Fresh gas likewise.
    pub fresh: L,
    /// The new zone likewise, where there are two.
    pub new: L,
    /// The old zone likewise.
    pub residual: L,
}

/// What the pipes say.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Given {
    /// Out of the cylinder, where the exhaust is a pipe.
    pub exhaust: Option<Passed>,
    /// Pressure at its face [Pa].
    pub exhaust_pressure: f64,
    /// Out of its open end.
    pub outlet: Passed,
    /// Into the crankcase, where the inlet is a pipe.
    pub intake: Option<Passed>,
    /// Pressure to which the gas at its face would rise at rest [Pa].
    pub intake_pressure: f64,
    /// Heat to all pipe walls [W].
    pub pipe_heat: f64,
    /// What the cylinder has to give; none outside a step.
    pub spare: Option<Spare<f64>>,
}

/// What stands in for streams of the network's own making.
pub(super) struct Streams<L: Lane> {
    pub(super) exhaust: Option<(Stream<L>, Parts<L>)>,
    pub(super) exhaust_pressure: Option<L>,
    pub(super) outlet: Option<Stream<L>>,
    /// Stream and the pressure ahead of the intake.
    pub(super) intake: Option<(Stream<L>, L)>,
    pub(super) pipe_heat: L,
    pub(super) spare: Option<Spare<L>>,
}

impl<L: Lane> Spare<L> {
    /// The stream out of the cylinder with no more burned gas than there is and comes in: the rest leaves
    /// as it is mixed there.
    #[inline(always)]
    pub(super) fn hold(
        &self,
        out: &Stream<L>,
        cylinder: &Place<L>,
        transfers: &[TransferStreams<L>],
    ) -> Stream<L> {
        let mut limit = self.burned;
        for t in transfers {
            limit += t.from_slug.burned + t.from_rest.burned;
        }
        let mixed = Stream::of(out.mass, cylinder.enthalpy, &cylinder.shares);
        let (over, apart) = (out.burned - limit, out.burned - mixed.burned);
        let exceeds = over.gt(L::zero()).and(apart.gt(L::zero()));
        let share = L::select(exceeds, (over / apart).at_most(L::one()), L::zero());
        let of = |out: L, mixed: L| out + share * (mixed - out);
        Stream {
            mass: out.mass,
            enthalpy: of(out.enthalpy, mixed.enthalpy),
            burned: of(out.burned, mixed.burned),
            old: of(out.old, mixed.old),
            hot: of(out.hot, mixed.hot),
            late: of(out.late, mixed.late),
        }
    }
}

impl Passed {
    /// As a stream.
    fn stream(&self) -> Stream<f64> {
        Stream {
            mass: self.mass,
            enthalpy: self.energy,
            burned: self.burned,
            old: self.old,
            hot: 0.0,
            late: 0.0,
        }
    }
}

/// Flows that the gas columns follow, at their places in the state.
fn tell_aims(layout: &Layout, transfers: &[TransferStreams<f64>], intake: f64, aims: &mut [f64]) {
    for (g, t) in transfers.iter().enumerate() {
        if let Some(at) = layout.column(g) {
            aims[at] = t.aim;
        }
    }
    if let Some(at) = layout.inlet() {
        aims[at] = intake;
    }
}

impl Half {
    /// Volume flow of what leaves the cylinder, at its pressure [m³/s].
    fn volume_of(&self, out: &Stream<f64>) -> f64 {
        let cylinder = &self.inside.cylinder;
        let spv = cylinder.state.specific_pressure_volume();
        let mixed = out.mass / cylinder.pressure * spv;
        match (&self.leaving, &self.inside.zones) {
            (Some((entering, shares)), Some(zones)) if out.mass > 0.0 => {
                out.mass / zones.leaving_density(shares, entering)
            }
            _ => mixed,
        }
    }
}

impl View<'_, f64> {
    /// What passes the port to the exhaust's pipe, and from which zones it comes.
    fn through_port(
        &self,
        passed: &Passed,
        half: &Half,
        transfers: &[TransferStreams<f64>],
        given: &Given,
    ) -> (Stream<f64>, Parts<f64>) {
        let inside = &half.inside;
        if let Some(leaving) = &half.leaving {
            return self.through_zones(passed, inside, leaving, given.spare.as_ref());
        }
        if passed.mass <= 0.0 {
            return (passed.stream(), Parts::none());
        }
        let place = Place::from(&inside.cylinder);
        let plain = Stream::of(passed.mass, place.enthalpy, &place.shares);
        (self.scavenged(plain, true, &inside.cylinder, transfers), Parts::none())
    }

    /// What passes the exhaust's pipe, and from which zones it comes: the shares foreseen, of what flows.
    fn through_zones(
        &self,
        passed: &Passed,
        inside: &Inside<f64>,
        (entering, shares): &(Entering<f64>, Parts<f64>),
        spare: Option<&Spare<f64>>,
    ) -> (Stream<f64>, Parts<f64>) {
        let Some(zones) = inside.zones.as_ref().filter(|_| passed.mass > 0.0) else {
            let mut parts = Parts::none();
            if passed.mass < 0.0 {
                let gas = self.numbers.gas.at(passed.burned / passed.mass);
                let near = inside.cylinder.state.temperature;
                parts.returning = gas.from_enthalpy(passed.energy / passed.mass, near);
            }
            return (passed.stream(), parts);
        };
        let parts = shares.of_mass(passed.mass);
        let parts = spare.map_or(parts, |spare| zones.hold(spare, &parts, entering));
        (zones.stream(&parts, entering), parts)
    }
}

/// Mass flow for which the leaving mixture is asked while nothing leaves yet [kg/s].
const FIRST_FLOW: f64 = 1e-6;

impl Network<f64> {
    /// The first half at θ [rad]: what stands at the ports when the pipes' gas next to them has these
    /// pressures [Pa] and `flow` [kg/s] left through the exhaust last.
    pub fn look(
        &mut self,
        theta: f64,
        y: &[f64],
        dy: &mut [f64],
        (exhaust, intake): (f64, f64),
        flow: f64,
    ) -> Half {
        if !self.geometry.holds_at(theta) {
            self.geometry = self.at_angle(theta);
        }
        let Self {
            choices,
            numbers,
            tables,
            phase,
            hot,
            geometry,
            slugs,
            transfers,
            exhaust_volume,
            ..
        } = self;
        let view = View { choices, numbers, tables, phase, hot, geometry };
        let inside = view.inside(y, slugs);
        dy.fill(0.0);
        view.transfer_flows(&inside, slugs, transfers, y, dy);
        let area = geometry.exhaust;
        let opening = view.exhaust_opening(area, (inside.cylinder.pressure, exhaust));
        let place = Place::from(&inside.cylinder);
        let plain = Stream::of(flow.max(FIRST_FLOW), place.enthalpy, &place.shares);
        let (leaves, leaving) = match &inside.zones {
            None => (view.scavenged(plain, true, &inside.cylinder, transfers), None),
            Some(zones) => {
                let entering = zones.entering(transfers, slugs, &inside.case.rest.state);
                let would = view.leaving(zones, &entering);
                let shares = zones.mass_shares(*exhaust_volume, &would, &entering);
                (zones.stream(&shares, &entering), Some((entering, shares)))
            }
        };
        let burned = leaves.burned / leaves.mass;
        let cylinder = inside.cylinder.state.temperature;
        let temperature = match leaving {
            None => cylinder,
            // the temperature that has the enthalpy of what leaves
            Some(_) => {
                numbers.gas.at(burned).from_enthalpy(leaves.enthalpy / leaves.mass, cylinder)
            }
        };
        let port = view.intake_opening(intake, inside.case.rest.pressure, y);
        Half {
            exhaust: AtPort {
                pressure: inside.cylinder.pressure,
                temperature,
                burned: burned.clamp(0.0, 1.0),
                area: if area > 0.0 { opening } else { 0.0 },
            },
            intake: AtPort {
                pressure: inside.case.rest.pressure,
                temperature: inside.case.rest.state.temperature,
                burned: inside.case.rest.shares.burned.clamp(0.0, 1.0),
                area: if port.effective > 0.0 { port.effective } else { 0.0 },
            },
            inside,
            leaving,
        }
    }

    /// The second half: all rates. Gives back what leaves the cylinder, its mixture by the scavenging
    /// law, and what enters the crankcase, as booked. `aims` receives the flow that each gas column
    /// follows.
    #[allow(
        clippy::too_many_arguments,
        reason = "the rates of a right-hand side with what is given"
    )]
    pub fn finish(
        &mut self,
        theta: f64,
        y: &[f64],
        dy: &mut [f64],
        dq: &mut [f64],
        half: &Half,
        given: &Given,
        aims: &mut [f64],
    ) -> (Passed, Passed) {
        let Self {
            choices,
            numbers,
            tables,
            phase,
            hot,
            signals,
            geometry,
            slugs,
            transfers,
            exhaust_volume,
            ..
        } = self;
        let view = View { choices, numbers, tables, phase, hot, geometry };
        let per_radian = numbers.figures.time_per_radian;
        let inside = &half.inside;
        let exhaust =
            given.exhaust.map(|passed| view.through_port(&passed, half, transfers, given));
        *exhaust_volume = exhaust.map_or(0.0, |(out, _)| half.volume_of(&out));
        let intake = given.intake.map(|passed| {
            if passed.mass >= 0.0 {
                return (passed.stream(), given.intake_pressure);
            }
            let place = Place::from(&inside.case.rest);
            (Stream::of(passed.mass, place.enthalpy, &place.shares), given.intake_pressure)
        });
        let streams = Streams {
            exhaust,
            exhaust_pressure: given.exhaust.map(|_| given.exhaust_pressure),
            outlet: given.exhaust.map(|_| given.outlet.stream()),
            intake,
            pipe_heat: given.pipe_heat,
            spare: given.spare,
        };
        let flows = view.flows(theta, inside, slugs, transfers, Some(&streams), y, dy);
        let booking = Booking { layout: &choices.layout, inside, flows: &flows };
        booking.plain(per_radian, dy);
        if let Some(zones) = &inside.zones {
            zones.book(&choices.layout, &numbers.figures, inside, &flows, transfers, dy);
        }
        booking.integrals(per_radian, dq);
        for g in 0..slugs.len() {
            booking.group(g, &numbers.groups[g], &slugs[g], &transfers[g], per_radian, dy, dq);
        }
        tell_aims(&choices.layout, transfers, flows.intake_aim, aims);
        signals.record(inside, &flows);
        signals.groups(slugs, transfers);
        signals.petals(&choices.layout, y);
        signals.slope(&numbers.gas, inside, dy);
        let passed = |s: &Stream<f64>| Passed {
            mass: s.mass,
            energy: s.enthalpy,
            burned: s.burned,
            old: s.old,
        };
        (passed(&flows.exhaust), passed(&flows.intake))
    }
}
