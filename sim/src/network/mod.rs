//! The network: volumes, the links between them, and the right-hand side they form.
//!
//! A link computes one stream per evaluation; it is booked twice with opposite signs, so that mass,
//! burned mass and energy balance to rounding whatever the streams are.

mod booking;
mod contents;
mod cylinder;
mod intake;
pub mod layout;
mod numbers;
mod piped;
mod signals;
mod streams;
mod tables;
mod zones;

use std::sync::Arc;

use crate::crank::Drop;
use crate::engine::scavenging::LeavingForm;
use crate::flow::Upstream;
use crate::lane::{Lane, Mask};
use crate::ode::System;
use crate::window::AreaTable;
use booking::{Booking, Flows, Inside};
pub use contents::MAX_GROUPS;
use contents::{Shares, Slug, of_crankcase, of_volume, untold};
pub use intake::MAX_STAGES;
use layout::Layout;
pub use numbers::{Figures, GroupNumbers, HeatFigures, Numbers, PetalNumbers, Phase};
pub use piped::{AtPort, Given, Half, Passed, Spare};
pub(crate) use signals::Course;
pub use signals::Signals;
use streams::{
    Facing, Gates, Place, Stream, TransferStreams, between, open, transfer, transfer_by_column,
};
pub use tables::CaseTables;
use tables::Port;
use zones::{Entering, Parts, Zones};

/// Effective area that stands in for a shut window where other lanes are open [m²].
const STAND_IN: f64 = 1e-6;

/// Which sub-models a group of lanes shares.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Choices {
    /// Which parts there are.
    pub layout: Layout,
    /// Heat correlation.
    pub heat: HeatChoice,
    /// Whether the intake is a rotary valve.
    pub rotary_intake: bool,
    /// Whether the piston's skirt opens windows in it.
    pub skirt_intake: bool,
    /// Whether a carburettor stands in series with the intake.
    pub carburettor: bool,
    /// Whether the exhaust duct's exit stands in series with the window.
    pub exit: bool,
    /// Whether the scavenging law has a table.
    pub scavenging_table: bool,
    /// How the law reads for a cylinder with two zones.
    pub leaving: LeavingForm,
    /// Whether any discharge coefficient is a table.
    pub discharge_tables: bool,
}

/// Heat correlation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeatChoice {
    /// None.
    Adiabatic,
    /// Annand.
    Annand,
    /// Woschni.
    Woschni,
}

/// One case, ready to be put into a lane.
#[derive(Debug, Clone)]
pub struct Case {
    /// Sub-models.
    pub choices: Choices,
    /// Numbers.
    pub numbers: Numbers<f64>,
    /// Tables.
    pub tables: Arc<CaseTables>,
}

/// The network of one or several lanes.
#[derive(Debug, Clone)]
pub struct Network<L: Lane> {
    choices: Choices,
    numbers: Numbers<L>,
    tables: Vec<Arc<CaseTables>>,
    /// What changes between segments.
    pub phase: Phase<L>,
    /// 1 where the quadratures are asked for.
    pub sums: L,
    /// 1 for each group while its reverse flow still counts as hot.
    pub hot: Vec<L>,
    /// What the last observed evaluation saw.
    pub signals: Signals<L>,
    /// The same where a lane last started anew.
    pub first_signals: Signals<L>,
    geometry: Geometry<L>,
    slugs: Vec<Slug<L>>,
    transfers: Vec<TransferStreams<L>>,
    /// Volume flow out through the exhaust when pipes said so last [m³/s].
    exhaust_volume: L,
}

impl<L: Lane> Network<L> {
    /// The same case in every lane.
    #[must_use]
    pub fn new(case: &Case) -> Self {
        let groups = case.choices.layout.groups;
        Self {
            choices: case.choices,
            numbers: Numbers::splat(&case.numbers),
            tables: vec![Arc::clone(&case.tables); L::WIDTH],
            phase: Phase::splat(&Phase::default()),
            hot: vec![L::one(); groups],
            signals: Signals::zero(),
            first_signals: Signals::zero(),
            sums: L::one(),
            geometry: Geometry::unknown(),
            slugs: vec![Slug::empty(); groups],
            transfers: vec![TransferStreams::none(); groups],
            exhaust_volume: L::zero(),
        }
    }

    /// Puts a case into one lane; it must share the group's choices.
    pub fn set_lane(&mut self, lane: usize, case: &Case) {
        debug_assert_eq!(self.choices, case.choices);
        self.numbers.set_lane(lane, &case.numbers);
        self.tables[lane] = Arc::clone(&case.tables);
        self.geometry = Geometry::unknown();
    }

    /// Sub-models.
    #[must_use]
    pub fn choices(&self) -> &Choices {
        &self.choices
    }
}

impl<L: Lane> Network<L> {
    /// Piston and areas at a crank angle.
    #[inline(always)]
    fn at_angle(&self, theta: L) -> Geometry<L> {
        let position = self.numbers.crank.at(theta);
        let drop = position.drop;
        let mut transfers = [L::zero(); MAX_GROUPS];
        for (g, area) in transfers.iter_mut().enumerate().take(self.choices.layout.groups) {
            *area = self.area(|t| &t.transfers[g], drop);
        }
        let exhaust = self.area(|t| &t.exhaust, drop);
        let intake = self.intake_area(theta, drop);
        Geometry { theta, position, exhaust, intake, transfers }
    }

    /// Geometric flow area of a table in every lane.
    #[inline(always)]
    fn area(&self, table: impl Fn(&CaseTables) -> &AreaTable, drop: L) -> L {
        AreaTable::at(|i| table(&self.tables[i]), drop)
    }

    /// Open area of the intake [m²], without discharge coefficient.
    #[inline(always)]
    fn intake_area(&self, theta: L, drop: L) -> L {
        if self.choices.skirt_intake {
            return AreaTable::at(
                |i| self.tables[i].intake.as_ref().unwrap_or(&self.tables[i].exhaust),
                drop,
            );
        }
        let f = &self.numbers.figures;
        if !self.choices.rotary_intake {
            // petals alone decide
            return L::one();
        }
        // angle since opening, taken within one turn
        let turns = (theta - f.rotary_opens).scale(1.0 / crate::units::TURN);
        const ROUND: f64 = 6_755_399_441_055_744.0;
        let whole = turns.plus(-0.5).plus(ROUND).plus(-ROUND);
        let since = (turns - whole).scale(crate::units::TURN);
        let left = f.rotary_period - since;
        let share = since.at_most(left) * f.rotary_steepness;
        f.intake_full * share.at_least(L::zero()).at_most(L::one())
    }
}

/// What follows from the crank angle alone: piston and areas. The last two stages of a step stand at one
/// angle, and so does the first of a step that starts anew.
#[derive(Debug, Clone, Copy)]
struct Geometry<L: Lane> {
    theta: L,
    position: Drop<L>,
    exhaust: L,
    intake: L,
    transfers: [L; MAX_GROUPS],
}

impl<L: Lane> Geometry<L> {
    /// At no angle.
    fn unknown() -> Self {
        let (zero, theta) = (L::zero(), L::splat(f64::NAN));
        let position = Drop { drop: zero, slope: zero, curvature: zero };
        Self { theta, position, exhaust: zero, intake: zero, transfers: [zero; MAX_GROUPS] }
    }

    /// Whether every lane stands at this angle.
    #[inline(always)]
    fn holds_at(&self, theta: L) -> bool {
        !self.theta.le(theta).and(theta.le(self.theta)).not().any()
    }
}

/// What the physics reads: all of a network but its work space.
struct View<'a, L: Lane> {
    choices: &'a Choices,
    numbers: &'a Numbers<L>,
    tables: &'a [Arc<CaseTables>],
    phase: &'a Phase<L>,
    hot: &'a [L],
    geometry: &'a Geometry<L>,
}

impl<L: Lane> View<'_, L> {
    /// Gas behind the exhaust, or the silencer.
    #[inline(always)]
    fn outside_exhaust(&self) -> Place<L> {
        let f = &self.numbers.figures;
        let zero = L::zero();
        Place {
            upstream: Upstream {
                pressure: f.back_pressure,
                specific_pressure_volume: f.back_rt,
                kappa: f.back_kappa,
            },
            enthalpy: f.back_enthalpy,
            shares: Shares { burned: f.back_burned, old: f.back_burned, hot: zero, late: zero },
        }
    }

    /// Fresh gas outside the inlet.
    #[inline(always)]
    fn outside_inlet(&self) -> Place<L> {
        let f = &self.numbers.figures;
        let zero = L::zero();
        Place {
            upstream: Upstream {
                pressure: f.ambient_pressure,
                specific_pressure_volume: f.fresh_rt,
                kappa: f.fresh_kappa,
            },
            enthalpy: f.fresh_enthalpy,
            shares: Shares { burned: zero, old: zero, hot: zero, late: zero },
        }
    }

    /// Discharge coefficient of a port: the constant, or the table of each lane.
    #[inline(always)]
    fn discharge(&self, port: Port, constant: L, opening: L, pressures: (L, L)) -> L {
        if !self.choices.discharge_tables {
            return constant;
        }
        let forward = pressures.1.le(pressures.0);
        let ratio = L::select(forward, pressures.1 / pressures.0, pressures.0 / pressures.1);
        L::from_fn(|i| match self.tables[i].discharge(port) {
            None => constant.lane(i),
            Some(table) => {
                tables::tabulated(table, opening.lane(i), ratio.lane(i), forward.lane(i))
            }
        })
    }

    /// Streams of transfer group `g`, and the acceleration of its column where it has one; none while
    /// its windows are shut.
    #[allow(clippy::too_many_arguments, reason = "one kernel, all of it needed, inlined once")]
    #[inline(always)]
    fn transfer(
        &self,
        g: usize,
        area: L,
        facing: Option<&Facing<L>>,
        cylinder: &Place<L>,
        slug: &Slug<L>,
        rest: &Place<L>,
        y: &[L],
    ) -> (TransferStreams<L>, L) {
        let group = &self.numbers.groups[g];
        if !open(area) {
            return (TransferStreams::none(), L::zero());
        }
        let pressures = (rest.upstream.pressure, cylinder.upstream.pressure);
        let opening = area / group.full;
        let discharge = self.discharge(Port::Transfer(g), group.discharge, opening, pressures);
        let gates = Gates {
            reverse: self.phase.reverse_gate,
            hot: self.hot[g],
            epsilon: self.numbers.figures.epsilon,
            fastest: self.numbers.figures.fastest,
        };
        let effective = discharge * area;
        let (streams, acceleration) = match (self.choices.layout.column(g), facing) {
            (None, None) => (TransferStreams::none(), L::zero()),
            (None, Some(facing)) => {
                (transfer(effective, facing, cylinder, slug, rest, group, &gates), L::zero())
            }
            (Some(at), _) => {
                // a lane whose window is shut has no flow and no drive; its area only stands in
                let shut = effective.le(L::zero());
                let effective = L::select(shut, L::splat(STAND_IN), effective);
                let flow = L::select(shut, L::zero(), y[at]);
                let (streams, acceleration) =
                    transfer_by_column(effective, flow, cylinder, slug, rest, group, &gates);
                (streams, L::select(shut, L::zero(), acceleration))
            }
        };
        (TransferStreams { area, ..streams }, acceleration)
    }

    #[inline(always)]
    fn leak_stream(&self, area: L, from: &Place<L>, to: &Place<L>) -> Stream<L> {
        if !open(area) {
            return Stream::none();
        }
        between(area, from, to, self.numbers.figures.epsilon)
    }

    /// What stands in every volume.
    #[inline(always)]
    fn inside(&self, y: &[L], slugs: &mut [Slug<L>]) -> Inside<L> {
        let (f, gas, layout) = (&self.numbers.figures, &self.numbers.gas, &self.choices.layout);
        let Drop { drop, slope, .. } = self.geometry.position;
        let volume = f.clearance + f.bore_area * drop;
        let case_volume = f.crankcase_at_top - f.bore_area * drop;
        let groups = &self.numbers.groups;
        let mut silencer = None;
        if layout.silencer {
            let (at, old) = (layout.silencer(), layout.silencer_old());
            silencer = Some(of_volume(gas, y, at, old, f.silencer_volume));
        }
        let (at, old) = (Layout::CYLINDER, layout.cylinder_old());
        let apart = self.phase.scavenging.gt(L::splat(0.5));
        let two = layout.two_zones && apart.any();
        let mut cylinder = if two && !apart.not().any() {
            untold(y, at, old)
        } else {
            of_volume(gas, y, at, old, volume)
        };
        let (mut zones, mut back_old) = (None, L::one());
        if two {
            let both = Zones::of(gas, layout, f, apart, y, &cylinder, volume);
            cylinder = both.mixed(&cylinder);
            back_old = both.old_in_backflow();
            zones = Some(both);
        }
        let one = (Place::from(&cylinder), cylinder.state.temperature);
        let back = match &zones {
            Some(both) => both.backflow(back_old, &one.0, one.1),
            None => one,
        };
        Inside {
            drop,
            volume,
            case_volume,
            swept_rate: f.bore_area * slope,
            cylinder,
            zones,
            back: back.0,
            back_temperature: back.1,
            back_old,
            case: of_crankcase(gas, layout, f, groups, y, case_volume, slugs),
            silencer,
        }
    }

    /// Streams of the transfer groups and their columns' accelerations.
    #[allow(clippy::too_many_arguments, reason = "one kernel, all of it needed, inlined once")]
    #[inline(always)]
    fn transfer_flows(
        &self,
        inside: &Inside<L>,
        slugs: &[Slug<L>],
        transfers: &mut [TransferStreams<L>],
        y: &[L],
        dy: &mut [L],
    ) {
        let f = &self.numbers.figures;
        let in_cylinder = inside.back;
        let in_rest = Place::from(&inside.case.rest);
        let mut facing = None;
        for (g, (streams, slug)) in transfers.iter_mut().zip(slugs).enumerate() {
            let area = self.geometry.transfers[g];
            if open(area) && facing.is_none() && self.choices.layout.column(g).is_none() {
                facing = Some(Facing::of(&in_cylinder, &in_rest, f.epsilon));
            }
            let acceleration;
            (*streams, acceleration) =
                self.transfer(g, area, facing.as_ref(), &in_cylinder, slug, &in_rest, y);
            if let Some(at) = self.choices.layout.column(g) {
                dy[at] = acceleration * f.time_per_radian;
            }
        }
    }

    /// Stream through the exhaust and, with two zones, what comes into them and what leaves them.
    #[allow(clippy::type_complexity, reason = "a stream and where it comes from")]
    #[allow(clippy::manual_map, reason = "what calculates with lanes is no closure")]
    #[inline(always)]
    fn exhaust_flow(
        &self,
        inside: &Inside<L>,
        slugs: &[Slug<L>],
        transfers: &[TransferStreams<L>],
        behind: &Place<L>,
        given: Option<&piped::Streams<L>>,
    ) -> (Stream<L>, Option<(Entering<L>, Parts<L>)>) {
        let rest = &inside.case.rest.state;
        let entering = match &inside.zones {
            Some(zones) => Some(zones.entering(transfers, slugs, rest)),
            None => None,
        };
        let (exhaust, parts) = match given.and_then(|g| g.exhaust) {
            Some(given) => given,
            None => {
                let area = self.geometry.exhaust;
                self.exhaust(area, inside, behind, transfers, entering.as_ref())
            }
        };
        let exhaust = match given.and_then(|g| g.spare) {
            // zones give no more than they have anyway
            Some(spare) if inside.zones.is_none() => {
                spare.hold(&exhaust, &Place::from(&inside.cylinder), transfers)
            }
            _ => exhaust,
        };
        (exhaust, entering.map(|entering| (entering, parts)))
    }

    /// Every other stream and heat flow; what passes the ends of pipes is `given`.
    #[allow(clippy::too_many_arguments, reason = "one kernel, all of it needed, inlined once")]
    #[inline(always)]
    fn flows(
        &self,
        theta: L,
        inside: &Inside<L>,
        slugs: &[Slug<L>],
        transfers: &[TransferStreams<L>],
        given: Option<&piped::Streams<L>>,
        y: &[L],
        dy: &mut [L],
    ) -> Flows<L> {
        let f = &self.numbers.figures;
        let outside = self.outside_exhaust();
        let behind = match &inside.silencer {
            Some(silencer) => Place::from(silencer),
            None => outside,
        };
        let in_cylinder = Place::from(&inside.cylinder);
        let in_rest = Place::from(&inside.case.rest);
        let (exhaust, zones) = self.exhaust_flow(inside, slugs, transfers, &behind, given);
        let (wall_heat, zone_heat) = self.cylinder_heats(inside);
        let burning = self.burning(theta, inside.cylinder.shares.burned);
        let intake = match given.and_then(|g| g.intake) {
            Some((stream, pressure)) => self.intake_from_pipe(stream, pressure, &in_rest, y),
            None => self.intake(&in_rest, y),
        };
        if let Some(at) = self.choices.layout.inlet() {
            dy[at] = intake.acceleration * f.time_per_radian;
        }
        self.move_petals(&intake, y, dy);
        let outlet = match &inside.silencer {
            Some(s) => between(f.outlet, &Place::from(s), &outside, f.epsilon),
            None => given.and_then(|g| g.outlet).unwrap_or(exhaust),
        };
        let rest_temperature = inside.case.rest.state.temperature;
        Flows {
            exhaust_area: self.geometry.exhaust,
            exhaust,
            exhaust_pressure: given
                .and_then(|g| g.exhaust_pressure)
                .unwrap_or(behind.upstream.pressure),
            intake_area: intake.opening.area,
            intake: intake.stream,
            intake_aim: intake.aim,
            blow_by: self.leak_stream(f.blow_by, &in_cylinder, &in_rest),
            leak: self.leak_stream(f.leak, &in_rest, &self.outside_inlet()),
            leaky: open(f.blow_by) || open(f.leak),
            outlet,
            burning: given.and_then(|g| g.spare).map_or(burning, |s| burning.at_most(s.fresh)),
            wall_heat,
            zone_heat,
            zones,
            case_heat: f.crankcase_conductance * (rest_temperature - f.crankcase_wall),
            silencer_heat: inside.silencer.as_ref().map_or(L::zero(), |s| {
                f.silencer_conductance * (s.state.temperature - f.silencer_wall)
            }),
            pipe_heat: given.map_or(L::zero(), |given| given.pipe_heat),
        }
    }
}

impl<L: Lane> System<L> for Network<L> {
    #[inline(always)]
    fn rates(&mut self, theta: L, y: &[L], dy: &mut [L], dq: &mut [L], observed: bool) {
        if !self.geometry.holds_at(theta) {
            self.geometry = self.at_angle(theta);
        }
        let summed = self.sums();
        let Self {
            choices, numbers, tables, phase, hot, signals, geometry, slugs, transfers, ..
        } = self;
        let view = View { choices, numbers, tables, phase, hot, geometry };
        let per_radian = numbers.figures.time_per_radian;

        let inside = view.inside(y, slugs);
        dy.fill(L::zero());
        view.transfer_flows(&inside, slugs, transfers, y, dy);
        let flows = view.flows(theta, &inside, slugs, transfers, None, y, dy);
        let booking = Booking { layout: &choices.layout, inside: &inside, flows: &flows };
        booking.plain(per_radian, dy);
        if let Some(zones) = &inside.zones {
            zones.book(&choices.layout, &numbers.figures, &inside, &flows, transfers, dy);
        }
        if summed {
            booking.integrals(per_radian, dq);
        }
        for g in 0..slugs.len() {
            booking.group(g, &numbers.groups[g], &slugs[g], &transfers[g], per_radian, dy, dq);
        }
        if observed {
            signals.record(&inside, &flows);
            signals.groups(slugs, transfers);
            signals.petals(&choices.layout, y);
            signals.slope(&numbers.gas, &inside, dy);
        }
    }

    fn started(&mut self, _lanes: L::Mask) {
        self.first_signals = self.signals;
    }

    #[inline(always)]
    fn sums(&self) -> bool {
        self.sums.gt(L::zero()).any()
    }
}
