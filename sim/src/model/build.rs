//! Specification and speed to a model.

use std::sync::Arc;

use super::initial::{Volumes, cold_start};
use super::{Engine, Model, ModelError, Pipes, Reference, StageReference, Timing};
use crate::crank::Crank;
use crate::engine::scavenging::{ExitCurve, LeavingCurve, LeavingForm};
use crate::gas::{Blend, Gas, LATENT_HEAT, Mixture, air_fuel_ratio};
use crate::geometry::reed;
use crate::network::layout::{LIFT, Layout, MASS, VELOCITY};
use crate::network::{
    Case, CaseTables, Choices, Figures, GroupNumbers, HeatChoice, HeatFigures, MAX_GROUPS,
    MAX_STAGES, Numbers, PetalNumbers,
};
use crate::portable;
use crate::spec::{
    Discharge, DischargeTable, EngineSpec, HeatLaw, InertiveDuct, Intake, Reed, ReedStage,
    ScavengingLaw, TransferGroup, Window, Zones,
};
use crate::units::{CM3, DEG, TURN, angular_speed};
use crate::window::AreaTable;

/// Half-width ε of the regularised flow function.
pub(super) const EPSILON: f64 = 2e-4;
/// m_δ over the mass that fills the duct at ambient state.
const BLEND_SHARE: f64 = 1e-2;
/// Mass below which a zone of the cylinder passes over into the whole, over that of the swept volume.
const ZONE_FLOOR: f64 = 1e-6;
/// m_f over m_δ.
const FLOOR_SHARE: f64 = 1e-6;
/// Flow of a gas column below which the tolerance is absolute [kg/s]: about its peak, for what is asked
/// is the flow delivered over a cycle, not its last digits while the window closes.
const TYPICAL_FLOW: f64 = 0.1;
/// Lift of a petal below which the tolerance is absolute, over that at the stop: as for columns.
const TYPICAL_LIFTS: f64 = 1.0;
/// Temperature at which heat released is counted [K].
const STANDARD_TEMPERATURE: f64 = 298.15;

impl Engine {
    /// Builds what does not depend on speed.
    ///
    /// # Errors
    /// When the engine cannot turn or breathe: see [`ModelError`].
    pub fn new(spec: &EngineSpec) -> Result<Self, ModelError> {
        let count = spec.transfers.len();
        if count == 0 || count > MAX_GROUPS {
            return Err(ModelError::Groups { count });
        }
        let stages = spec.intake.reed().map_or(1, |r| r.stages.len());
        if stages == 0 || stages > MAX_STAGES {
            return Err(ModelError::Stages { count: stages });
        }
        let gap = crate::geometry::squish_gap(spec);
        if gap < 0.0 {
            return Err(ModelError::Touches { gap_mm: gap * 1e3, by_mm: -gap * 1e3 });
        }
        let crank = crank_of(spec);
        let timing = Timing::of(spec, &crank)?;
        let clearance = crate::geometry::clearance_volume(spec);
        let least_case = spec.crankcase.volume_at_tdc - bore_area(spec) * crank.travel();
        for (what, value) in [
            ("the clearance volume", clearance),
            ("the crankcase at bottom dead centre", least_case),
        ] {
            if value <= 0.0 {
                return Err(ModelError::NoVolume { what, value_cm3: value / CM3 });
            }
        }
        let fuel = &spec.fuel;
        let fresh = Mixture::fresh(fuel.lambda, fuel.evaporated_share);
        let burned = Mixture::burned(fuel.lambda);
        let gas = Gas::new(&fresh, &burned);
        Ok(Self {
            tables: Arc::new(tables(spec)?),
            leaving: match spec.model.zones {
                Zones::One => LeavingForm::Mixing,
                Zones::Two => LeavingCurve::of(&spec.scavenging)?.0,
            },
            spec: spec.clone(),
            timing,
            clearance,
            pipes: Pipes::of(spec, &gas)?.map(Arc::new),
            gas,
            fresh,
            burned,
        })
    }

    /// The specification it was built from.
    #[must_use]
    pub fn spec(&self) -> &EngineSpec {
        &self.spec
    }

    /// Angles that define results.
    #[must_use]
    pub fn timing(&self) -> &Timing {
        &self.timing
    }

    /// The engine at a speed [1/min].
    ///
    /// # Errors
    /// When burning does not fit into the closed period at this speed.
    pub fn at_speed(&self, rpm: f64) -> Result<Model, ModelError> {
        let burn = self.burn_period(rpm)?;
        let layout = self.layout();
        let crank = crank_of(&self.spec);
        let area = bore_area(&self.spec);
        let drop = crank.at(self.timing.exhaust_opens).drop;
        let silencer = self.silencer_volume();
        let volumes = Volumes {
            cylinder: self.clearance + area * drop,
            crankcase: self.spec.crankcase.volume_at_tdc - area * drop,
            silencer,
        };
        let cold = cold_start(&layout, &self.gas, self.spec.ambient.pressure, &volumes);
        let petals = self.spec.intake.reed().map_or_else(Vec::new, petals);
        let groups: Vec<_> = self.spec.transfers.iter().map(|g| self.group(g)).collect();
        let reference = self.reference(rpm, area * crank.travel());
        Ok(Model {
            scale: scale(&layout, &cold, &reference, &petals),
            events: self.timing.events(burn),
            timing: self.timing.clone(),
            cold_start: cold,
            reference,
            reverse_held: false,
            pipes: self.pipes.clone(),
            case: Case {
                choices: self.choices(layout),
                numbers: Numbers {
                    crank,
                    gas: self.gas,
                    figures: self.figures(rpm, burn),
                    heat: self.heat(rpm, area * crank.travel()),
                    groups,
                    petals,
                },
                tables: Arc::clone(&self.tables),
            },
        })
    }

    /// Start and end of burning in the traced cycle [rad].
    fn burn_period(&self, rpm: f64) -> Result<(f64, f64), ModelError> {
        let c = &self.spec.combustion;
        let start = TURN + c.start.at(rpm);
        let end = start + c.duration.at(rpm);
        let (closes, opens) = (self.timing.exhaust_closes, self.timing.exhaust_opens + TURN);
        if start < closes || end > opens {
            let after_top = |a: f64| (a - TURN) / DEG;
            return Err(ModelError::BurnsOpen {
                rpm,
                start_deg: after_top(start),
                end_deg: after_top(end),
                closes_deg: after_top(closes),
                opens_deg: after_top(opens),
            });
        }
        Ok((start, end))
    }

    fn layout(&self) -> Layout {
        let spec = &self.spec;
        let mut columns = [false; MAX_GROUPS];
        for (column, group) in columns.iter_mut().zip(&spec.transfers) {
            *column = group.duct.is_some_and(|d| d.inertive);
        }
        let inlet = spec.inlet_tract.is_some_and(|t| t.duct.inertive);
        let petals = spec.intake.reed().map_or(0, |r| r.stages.len());
        let layout =
            Layout::new(spec.transfers.len(), spec.exhaust.silencer.is_some(), columns, inlet)
                .with_petals(petals);
        match spec.model.zones {
            Zones::One => layout,
            Zones::Two => layout.with_two_zones(),
        }
    }

    fn choices(&self, layout: Layout) -> Choices {
        let table = |d: &Discharge| matches!(d, Discharge::Table(_));
        let spec = &self.spec;
        Choices {
            layout,
            heat: match spec.heat.law {
                HeatLaw::Adiabatic => HeatChoice::Adiabatic,
                HeatLaw::Annand { .. } => HeatChoice::Annand,
                HeatLaw::Woschni { .. } => HeatChoice::Woschni,
            },
            rotary_intake: matches!(spec.intake, Intake::Rotary { .. }),
            skirt_intake: self.tables.intake.is_some(),
            // before pipes it stands at their mouth
            carburettor: spec.carburettor.is_some() && spec.inlet_pipe.is_none(),
            exit: exit_in_series(spec),
            scavenging_table: self.tables.scavenging.is_some(),
            leaving: self.leaving,
            discharge_tables: table(&spec.exhaust.discharge)
                || spec.transfers.iter().any(|g| table(&g.discharge))
                || table(spec.intake.discharge()),
        }
    }

    /// Silencer with the casting's duct [m³]; zero without a silencer.
    fn silencer_volume(&self) -> f64 {
        let exhaust = &self.spec.exhaust;
        exhaust.silencer.map_or(0.0, |s| s.volume + exhaust.duct_volume)
    }

    #[allow(clippy::too_many_lines, reason = "one list of numbers, field by field")]
    fn figures(&self, rpm: f64, burn: (f64, f64)) -> Figures<f64> {
        let spec = &self.spec;
        let (exhaust, combustion) = (&spec.exhaust, &spec.combustion);
        let fresh = self.gas.at(0.0).state(spec.ambient.temperature);
        let back = self.gas.at(1.0).state(exhaust.outside_temperature);
        // before a pipe the exit is its bore: only the ledge's loss is left
        let own = if exhaust.pipe.is_some() { 0.0 } else { 1.0 };
        let exit =
            |loss: f64| exhaust.exit_area.unwrap_or(0.0) / (own + loss).max(LEAST_LOSS).sqrt();
        let silencer = exhaust.silencer.as_ref();
        let intake_full = match (&spec.intake, &self.tables.intake) {
            (Intake::Rotary { valve, .. }, _) => valve.area,
            (Intake::PistonPort { .. }, Some(table)) => table.full(),
            (Intake::PistonPort { .. }, None) => 0.0,
            (Intake::Reed { reed, .. }, _) => {
                reed.stages.iter().map(crate::geometry::reed::area_at_stop).sum()
            }
        };
        let rotary = rotary(&spec.intake);
        let inlet = spec.inlet_tract.map_or((0.0, 0.0, 0.0), |t| ease_and_losses(&t.duct));
        let short_circuit = match spec.scavenging {
            ScavengingLaw::TwoPart { short_circuit, .. } => short_circuit,
            _ => 0.0,
        };
        Figures {
            time_per_radian: 1.0 / angular_speed(rpm),
            bore_area: bore_area(spec),
            clearance: self.clearance,
            crankcase_at_top: spec.crankcase.volume_at_tdc,
            epsilon: EPSILON,
            ambient_pressure: spec.ambient.pressure,
            per_ambient_pressure: 1.0 / spec.ambient.pressure,
            fresh_rt: fresh.specific_pressure_volume(),
            fresh_kappa: fresh.gas_constant / fresh.heat_capacity,
            fresh_enthalpy: fresh.enthalpy - latent_heat(spec),
            back_pressure: exhaust.back_pressure,
            back_rt: back.specific_pressure_volume(),
            back_kappa: back.gas_constant / back.heat_capacity,
            back_enthalpy: back.enthalpy,
            back_burned: 1.0,
            exhaust_discharge: constant(&exhaust.discharge),
            exhaust_full: self.tables.exhaust.full(),
            exit_outward: exit(exhaust.ledge_loss_outward),
            exit_inward: exit(exhaust.ledge_loss_inward),
            silencer_volume: self.silencer_volume(),
            outlet: silencer.map_or(0.0, |s| s.outlet_discharge * s.outlet_area),
            silencer_conductance: silencer.map_or(0.0, |s| s.wall_conductance),
            silencer_wall: silencer.map_or(300.0, |s| s.wall_temperature),
            intake_discharge: constant(spec.intake.discharge()),
            intake_full,
            passage_discharge: match spec.intake {
                Intake::Reed { window_discharge, .. } => window_discharge,
                _ => 1.0,
            },
            venturi: spec.carburettor.map_or(0.0, |c| {
                c.discharge * c.throttle * std::f64::consts::FRAC_PI_4 * c.venturi * c.venturi
            }),
            rotary_opens: rotary.0,
            rotary_period: rotary.1,
            rotary_steepness: 1.0 / rotary.2,
            blow_by: spec.leaks.blow_by,
            leak: spec.leaks.crankcase,
            crankcase_conductance: spec.crankcase.wall_conductance,
            crankcase_wall: spec.crankcase.wall_temperature,
            burn_start: burn.0,
            burn_rate: 1.0 / (burn.1 - burn.0),
            burn_form: combustion.form,
            burn_completeness: combustion.completeness,
            burn_normal: 1.0 / (1.0 - portable::exp(-combustion.completeness)),
            burn_efficiency: combustion.efficiency,
            short_circuit,
            zone_floor: ZONE_FLOOR
                * spec.ambient.pressure
                * bore_area(spec)
                * crank_of(spec).travel()
                / (self.fresh.gas_constant * spec.ambient.temperature),
            zone_exchange: spec.zone_exchange,
            inlet_ease: inlet.0,
            inlet_loss_forward: inlet.1,
            inlet_loss_reverse: inlet.2,
            fastest: crate::column::FASTEST,
        }
    }

    fn heat(&self, rpm: f64, swept: f64) -> HeatFigures<f64> {
        let spec = &self.spec;
        let area = bore_area(spec);
        let (convective, radiative) = match spec.heat.law {
            HeatLaw::Adiabatic => (0.0, 0.0),
            HeatLaw::Annand { convective, radiative } => (convective, radiative),
            HeatLaw::Woschni { scale } => (scale, 0.0),
        };
        HeatFigures {
            bore: spec.bore,
            piston_speed: mean_piston_speed(spec, rpm),
            convective,
            radiative,
            bore_power: portable::pow(spec.bore, -0.2),
            head_area: spec.heat.head_area_ratio * area,
            crown_area: spec.heat.crown_area_ratio * area,
            perimeter: std::f64::consts::PI * spec.bore,
            liner_at_top: spec.stack.deck.max(0.0),
            head_wall: spec.heat.walls.head,
            crown_wall: spec.heat.walls.piston,
            liner_wall: spec.heat.walls.liner,
            swept,
        }
    }

    fn duct_mass(&self, group: &TransferGroup) -> f64 {
        let ambient = &self.spec.ambient;
        ambient.pressure * group.duct_volume / (self.fresh.gas_constant * ambient.temperature)
    }

    fn group(&self, group: &TransferGroup) -> GroupNumbers<f64> {
        let index = self.spec.transfers.iter().position(|g| g == group).unwrap_or(0);
        let blend_mass = BLEND_SHARE * self.duct_mass(group);
        let column = group.duct.as_ref().map_or((0.0, 0.0, 0.0), ease_and_losses);
        GroupNumbers {
            discharge: constant(&group.discharge),
            full: self.tables.transfers[index].full(),
            per_duct_volume: 1.0 / group.duct_volume,
            per_blend_mass: 1.0 / blend_mass,
            floor_mass: FLOOR_SHARE * blend_mass,
            conductance: group.wall_conductance,
            wall: group.wall_temperature,
            column_ease: column.0,
            loss_forward: column.1,
            loss_reverse: column.2,
        }
    }

    fn reference(&self, rpm: f64, swept: f64) -> Reference {
        let spec = &self.spec;
        let afr = air_fuel_ratio(spec.fuel.lambda);
        let air = Mixture::dry_air().gas_constant;
        let friction = &spec.friction;
        let (p, t) = (spec.ambient.pressure, spec.ambient.temperature);
        Reference {
            rpm,
            angular_speed: angular_speed(rpm),
            swept,
            mass: p * swept / (air * t),
            air_share: afr / (1.0 + afr),
            fmep: friction.constant + friction.per_piston_speed * mean_piston_speed(spec, rpm),
            heat_per_mass: self.fresh.enthalpy(STANDARD_TEMPERATURE)
                - self.burned.enthalpy(STANDARD_TEMPERATURE),
            group_names: spec.transfers.iter().map(|g| g.name.clone()).collect(),
            duct_volumes: spec.transfers.iter().map(|g| g.duct_volume).collect(),
            duct_masses: spec.transfers.iter().map(|g| self.duct_mass(g)).collect(),
            stages: spec
                .intake
                .reed()
                .map_or_else(Vec::new, |r| r.stages.iter().map(stage).collect()),
            ambient_temperature: t,
            ambient_pressure: p,
        }
    }

    /// Gas at burned fraction `b`.
    #[must_use]
    pub fn gas_at(&self, b: f64) -> Blend<'_, f64> {
        self.gas.at(b)
    }
}

/// Heat that evaporating fuel takes from the entering mixture [J/kg of fresh gas].
pub(super) fn latent_heat(spec: &EngineSpec) -> f64 {
    let fuel = &spec.fuel;
    if !fuel.latent_cooling {
        return 0.0;
    }
    fuel.evaporated_share * LATENT_HEAT / (1.0 + air_fuel_ratio(fuel.lambda))
}

/// Least loss in series with a window, in velocity heads of the duct's exit: none, so to speak.
const LEAST_LOSS: f64 = 1e-9;

/// Whether the duct's exit, or its ledge before a pipe, throttles in series with the window.
fn exit_in_series(spec: &EngineSpec) -> bool {
    let e = &spec.exhaust;
    let ledge = e.ledge_loss_outward > 0.0 || e.ledge_loss_inward > 0.0;
    e.exit_area.is_some() && (e.pipe.is_none() || ledge)
}

fn crank_of(spec: &EngineSpec) -> Crank<f64> {
    let c = &spec.crank_train;
    Crank::new(c.radius, c.rod, c.pin_offset)
}

fn bore_area(spec: &EngineSpec) -> f64 {
    std::f64::consts::FRAC_PI_4 * spec.bore * spec.bore
}

/// A_d/L [m] and the losses of a column over the square of its mass flow and the density, forward and
/// in reverse [1/m⁴].
fn ease_and_losses(duct: &InertiveDuct) -> (f64, f64, f64) {
    let diameter = (4.0 * duct.area / std::f64::consts::PI).sqrt();
    let friction = 4.0 * duct.friction * duct.length / diameter;
    let per_square = 0.5 / (duct.area * duct.area);
    (duct.area / duct.length, (duct.entry_loss + friction) * per_square, friction * per_square)
}

/// Opening, open period and ramp of a rotary inlet [rad]; placeholders for others.
fn rotary(intake: &Intake) -> (f64, f64, f64) {
    match intake {
        Intake::Rotary { valve, .. } => (valve.opens, valve.closes - valve.opens, valve.ramp),
        _ => (0.0, 0.0, 1.0),
    }
}

/// Twice the true travel per turn [m/s].
fn mean_piston_speed(spec: &EngineSpec, rpm: f64) -> f64 {
    2.0 * crank_of(spec).travel() * rpm / 60.0
}

/// The constant of a discharge coefficient; a table's place is taken at run time.
fn constant(discharge: &Discharge) -> f64 {
    match discharge {
        Discharge::Constant(value) => *value,
        Discharge::Table(_) => f64::NAN,
    }
}

fn table_of(discharge: &Discharge) -> Option<DischargeTable> {
    match discharge {
        Discharge::Constant(_) => None,
        Discharge::Table(table) => Some(table.clone()),
    }
}

fn tables(spec: &EngineSpec) -> Result<CaseTables, ModelError> {
    let crown = spec.stack.deck + spec.piston.crown_chamfer;
    let table = |windows: &[Window], port: &str| {
        AreaTable::crown(windows, crown)
            .map_err(|fault| ModelError::Window { port: port.to_owned(), fault: fault.to_string() })
    };
    let skirt = spec.stack.deck + spec.piston.skirt_length;
    let windows = spec.intake.windows();
    let opened = matches!(spec.intake, Intake::PistonPort { .. }) || !windows.is_empty();
    let built = opened.then(|| AreaTable::skirt(windows, skirt)).transpose();
    let intake = built.map_err(|fault| ModelError::Window {
        port: "inlet".to_owned(),
        fault: fault.to_string(),
    })?;
    let transfers: Result<Vec<_>, _> = spec
        .transfers
        .iter()
        .map(|g| table(&g.windows, &format!("transfer group {}", g.name)))
        .collect();
    Ok(CaseTables {
        exhaust: table(&spec.exhaust.windows, "exhaust")?,
        transfers: transfers?,
        intake,
        scavenging: ExitCurve::of(&spec.scavenging)?,
        leaving: LeavingCurve::of(&spec.scavenging)?.1,
        exhaust_discharge: table_of(&spec.exhaust.discharge),
        transfer_discharge: spec.transfers.iter().map(|g| table_of(&g.discharge)).collect(),
        intake_discharge: table_of(spec.intake.discharge()),
    })
}

/// Size of each normed state below which the tolerance is absolute: that of the cold start for
/// volumes, the filled duct for slugs, the stop for petals.
fn scale(
    layout: &Layout,
    cold: &[f64],
    reference: &Reference,
    petals: &[PetalNumbers<f64>],
) -> Vec<f64> {
    let mut scale = vec![0.0; layout.normed()];
    let volumes = [Some(Layout::CYLINDER), Some(Layout::CRANKCASE)]
        .into_iter()
        .chain([layout.silencer.then(|| layout.silencer())]);
    for at in volumes.flatten() {
        let mass = cold[at + MASS];
        // 1e5 J/kg: of the order of R·T, the pressure's share of the energy
        scale[at..at + 3].copy_from_slice(&[mass, mass * 1e5, mass]);
    }
    for g in 0..layout.groups {
        let (at, mass) = (layout.slug(g), cold[Layout::CRANKCASE + MASS]);
        let potential = mass * reference.ambient_temperature;
        scale[at..at + 3].copy_from_slice(&[mass, mass, potential]);
    }
    let flows = (0..layout.groups).filter_map(|g| layout.column(g)).chain(layout.inlet());
    for at in flows {
        scale[at] = TYPICAL_FLOW;
    }
    if layout.two_zones {
        let (at, mass) = (layout.zones(), cold[Layout::CYLINDER + MASS]);
        let potential = mass * reference.ambient_temperature;
        scale[at..at + 4].copy_from_slice(&[mass, mass, potential, potential]);
    }
    for (s, petal) in petals.iter().enumerate() {
        let at = layout.petal(s);
        scale[at + LIFT] = TYPICAL_LIFTS * petal.stop;
        scale[at + VELOCITY] = TYPICAL_LIFTS * petal.stop * petal.stiffness.sqrt();
    }
    scale
}

fn stage(stage: &ReedStage) -> StageReference {
    let petal = &stage.petal;
    StageReference {
        name: stage.name.clone(),
        frequency: reed::natural_frequency(petal),
        stress_per_lift: reed::root_stress(petal),
        fatigue_stress: petal.fatigue_stress,
    }
}

/// Numbers of the petals.
fn petals(reed: &Reed) -> Vec<PetalNumbers<f64>> {
    let of = |stage: &ReedStage| {
        let omega = reed::pulsatance(&stage.petal);
        PetalNumbers {
            stiffness: omega * omega,
            damping: 2.0 * stage.petal.damping * omega,
            load: reed::load_area(stage) / reed::modal_mass(&stage.petal),
            contact: (reed.contact * omega).powi(2),
            dissipation: reed::dissipation(&stage.petal),
            stop: stage.stop,
            curtain: reed::curtain(stage),
            windows: reed::windows(stage),
        }
    };
    reed.stages.iter().map(of).collect()
}
