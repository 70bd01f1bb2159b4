//! What an evaluation of the right-hand side saw: for events, peaks and traces.

use super::booking::{Flows, Inside};
use super::contents::{MAX_GROUPS, Slug};
use super::intake::MAX_STAGES;
use super::layout::{BURNED, ENERGY, LIFT, Layout, MASS, VELOCITY};
use super::streams::TransferStreams;
use crate::gas::Gas;
use crate::lane::Lane;

/// Pressures, temperatures, areas and flows at one angle.
#[derive(Debug, Clone, Copy, Default)]
pub struct Signals<L: Lane> {
    /// Piston drop [m].
    pub drop: L,
    /// Cylinder volume [m³].
    pub volume: L,
    /// Crankcase volume [m³].
    pub case_volume: L,
    /// Cylinder pressure [Pa].
    pub cylinder_pressure: L,
    /// Its derivative by angle [Pa/rad].
    pub cylinder_pressure_slope: L,
    /// Cylinder temperature [K].
    pub cylinder_temperature: L,
    /// Burned share of the cylinder.
    pub cylinder_burned: L,
    /// Crankcase pressure [Pa].
    pub case_pressure: L,
    /// Mean crankcase temperature [K].
    pub case_temperature: L,
    /// Burned share of the crankcase.
    pub case_burned: L,
    /// Temperature of the crankcase's gas outside the returned slugs [K].
    pub rest_temperature: L,
    /// Pressure behind the exhaust window [Pa].
    pub exhaust_pressure: L,
    /// Geometric exhaust flow area [m²].
    pub exhaust_area: L,
    /// Flow out through the exhaust [kg/s].
    pub exhaust_flow: L,
    /// Its burned mass [kg/s].
    pub exhaust_burned_flow: L,
    /// Its enthalpy [W].
    pub exhaust_enthalpy_flow: L,
    /// Flow out of the last opening of the exhaust side [kg/s].
    pub outlet_flow: L,
    /// Geometric intake area [m²].
    pub intake_area: L,
    /// Flow into the crankcase [kg/s].
    pub intake_flow: L,
    /// Its burned mass [kg/s].
    pub intake_burned_flow: L,
    /// Blow-by into the crankcase [kg/s].
    pub blow_by_flow: L,
    /// Leak out of the crankcase [kg/s].
    pub leak_flow: L,
    /// Burning [kg/s].
    pub burning: L,
    /// Heat to the cylinder walls [W].
    pub wall_heat: L,
    /// Heat to crankcase and duct walls [W].
    pub case_heat: L,
    /// Geometric flow area of each transfer group [m²].
    pub transfer_areas: [L; MAX_GROUPS],
    /// Flow of each transfer group into the cylinder [kg/s].
    pub transfer_flows: [L; MAX_GROUPS],
    /// Burned mass in it [kg/s].
    pub transfer_burned_flows: [L; MAX_GROUPS],
    /// V_s/V_d of each group.
    pub slug_fills: [L; MAX_GROUPS],
    /// Slug temperature of each group [K].
    pub slug_temperatures: [L; MAX_GROUPS],
    /// Lift of the petals of each stage [m].
    pub petal_lifts: [L; MAX_STAGES],
    /// Their velocity [m/s].
    pub petal_velocities: [L; MAX_STAGES],
}

/// The signals of one lane that the course of a cycle depends on.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Course {
    pub(crate) volume: f64,
    pub(crate) cylinder_pressure: f64,
    pub(crate) cylinder_pressure_slope: f64,
    pub(crate) cylinder_temperature: f64,
    pub(crate) cylinder_burned: f64,
    pub(crate) case_pressure: f64,
    pub(crate) case_temperature: f64,
    pub(crate) case_burned: f64,
    pub(crate) exhaust_flow: f64,
    pub(crate) outlet_flow: f64,
    pub(crate) intake_flow: f64,
    pub(crate) transfer_flows: [f64; MAX_GROUPS],
    pub(crate) slug_fills: [f64; MAX_GROUPS],
    pub(crate) petal_lifts: [f64; MAX_STAGES],
    pub(crate) petal_velocities: [f64; MAX_STAGES],
}

impl<L: Lane> Signals<L> {
    /// All zero.
    #[must_use]
    pub fn zero() -> Self {
        Signals::<f64>::default().map(L::splat)
    }

    /// One lane's signals that the course of a cycle depends on.
    #[inline(always)]
    #[must_use]
    pub(crate) fn course(&self, lane: usize) -> Course {
        let of = |value: &L| value.lane(lane);
        Course {
            volume: of(&self.volume),
            cylinder_pressure: of(&self.cylinder_pressure),
            cylinder_pressure_slope: of(&self.cylinder_pressure_slope),
            cylinder_temperature: of(&self.cylinder_temperature),
            cylinder_burned: of(&self.cylinder_burned),
            case_pressure: of(&self.case_pressure),
            case_temperature: of(&self.case_temperature),
            case_burned: of(&self.case_burned),
            exhaust_flow: of(&self.exhaust_flow),
            outlet_flow: of(&self.outlet_flow),
            intake_flow: of(&self.intake_flow),
            transfer_flows: self.transfer_flows.each_ref().map(of),
            slug_fills: self.slug_fills.each_ref().map(of),
            petal_lifts: self.petal_lifts.each_ref().map(of),
            petal_velocities: self.petal_velocities.each_ref().map(of),
        }
    }

    /// The same signals in other lanes.
    #[must_use]
    pub fn map<M: Lane>(&self, f: impl Fn(L) -> M) -> Signals<M> {
        Signals {
            drop: f(self.drop),
            volume: f(self.volume),
            case_volume: f(self.case_volume),
            cylinder_pressure: f(self.cylinder_pressure),
            cylinder_pressure_slope: f(self.cylinder_pressure_slope),
            cylinder_temperature: f(self.cylinder_temperature),
            cylinder_burned: f(self.cylinder_burned),
            case_pressure: f(self.case_pressure),
            case_temperature: f(self.case_temperature),
            case_burned: f(self.case_burned),
            rest_temperature: f(self.rest_temperature),
            exhaust_pressure: f(self.exhaust_pressure),
            exhaust_area: f(self.exhaust_area),
            exhaust_flow: f(self.exhaust_flow),
            exhaust_burned_flow: f(self.exhaust_burned_flow),
            exhaust_enthalpy_flow: f(self.exhaust_enthalpy_flow),
            outlet_flow: f(self.outlet_flow),
            intake_area: f(self.intake_area),
            intake_flow: f(self.intake_flow),
            intake_burned_flow: f(self.intake_burned_flow),
            blow_by_flow: f(self.blow_by_flow),
            leak_flow: f(self.leak_flow),
            burning: f(self.burning),
            wall_heat: f(self.wall_heat),
            case_heat: f(self.case_heat),
            transfer_areas: self.transfer_areas.map(&f),
            transfer_flows: self.transfer_flows.map(&f),
            transfer_burned_flows: self.transfer_burned_flows.map(&f),
            slug_fills: self.slug_fills.map(&f),
            slug_temperatures: self.slug_temperatures.map(&f),
            petal_lifts: self.petal_lifts.map(&f),
            petal_velocities: self.petal_velocities.map(&f),
        }
    }

    /// Takes over what an evaluation saw.
    #[inline(always)]
    pub(super) fn record(&mut self, inside: &Inside<L>, flows: &Flows<L>) {
        self.drop = inside.drop;
        self.volume = inside.volume;
        self.case_volume = inside.case_volume;
        self.cylinder_pressure = inside.cylinder.pressure;
        self.cylinder_temperature = inside.cylinder.state.temperature;
        self.cylinder_burned = inside.cylinder.shares.burned;
        self.case_pressure = inside.case.mixed.pressure;
        self.case_temperature = inside.case.mixed.state.temperature;
        self.case_burned = inside.case.mixed.shares.burned;
        self.rest_temperature = inside.case.rest.state.temperature;
        self.exhaust_pressure = flows.exhaust_pressure;
        self.exhaust_area = flows.exhaust_area;
        self.exhaust_flow = flows.exhaust.mass;
        self.exhaust_burned_flow = flows.exhaust.burned;
        self.exhaust_enthalpy_flow = flows.exhaust.enthalpy;
        self.outlet_flow = flows.outlet.mass;
        self.intake_area = flows.intake_area;
        self.intake_flow = flows.intake.mass;
        self.intake_burned_flow = flows.intake.burned;
        self.blow_by_flow = flows.blow_by.mass;
        self.leak_flow = flows.leak.mass;
        self.burning = flows.burning;
        self.wall_heat = flows.wall_heat;
        self.case_heat = flows.case_heat;
    }

    /// The same of the transfer groups.
    #[inline(always)]
    pub(super) fn groups(&mut self, slugs: &[Slug<L>], transfers: &[TransferStreams<L>]) {
        for (g, (slug, t)) in slugs.iter().zip(transfers).enumerate() {
            self.transfer_areas[g] = t.area;
            self.transfer_flows[g] = t.net;
            self.transfer_burned_flows[g] =
                t.from_slug.burned + t.from_rest.burned - t.reverse.burned;
            self.slug_fills[g] = slug.fill;
            self.slug_temperatures[g] = slug.contents.state.temperature;
        }
    }

    /// The same of the petals.
    #[inline(always)]
    pub(super) fn petals(&mut self, layout: &Layout, y: &[L]) {
        for s in 0..layout.petals {
            let at = layout.petal(s);
            self.petal_lifts[s] = y[at + LIFT];
            self.petal_velocities[s] = y[at + VELOCITY];
        }
    }

    /// dp/dθ of the cylinder from the rates of its states.
    #[inline(always)]
    pub(super) fn slope(&mut self, gas: &Gas<L>, inside: &Inside<L>, dy: &[L]) {
        let c = &inside.cylinder;
        let (t, r) = (c.state.temperature, c.state.gas_constant);
        let at = Layout::CYLINDER;
        let per_mass = L::one() / c.mass;
        let growth = dy[at + MASS] * per_mass;
        let db = dy[at + BURNED] * per_mass - c.shares.burned * growth;
        let (h_fresh, h_burned) = gas.enthalpies(t);
        let (r_fresh, r_burned) = gas.gas_constants();
        let dr = (r_burned - r_fresh) * db;
        let energy_by_burned = (h_burned - h_fresh) - (r_burned - r_fresh) * t;
        let du = dy[at + ENERGY] * per_mass - c.state.energy() * growth;
        let dt = (du - energy_by_burned * db) / (c.state.heat_capacity - r);
        let relative = growth + dr / r + dt / t - inside.swept_rate / inside.volume;
        self.cylinder_pressure_slope = c.pressure * relative;
    }
}
