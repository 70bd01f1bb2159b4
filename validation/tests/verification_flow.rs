//! Verification: orifice, vessels, gas, burning, heat transfer against closed forms and tables.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::engine::combustion::{Wiebe, burned_share};
use freshcharge_sim::engine::wall_heat::{Exposure, annand, viscosity, woschni};
use freshcharge_sim::flow::{Upstream, flow_function, mass_flow};
use freshcharge_sim::gas::species::{AR, CO, CO2, H2, H2O, N2, O2, Species};
use freshcharge_sim::gas::{Gas, Mixture, air_fuel_ratio};
use freshcharge_sim::ode::{StepControl, Stepper, System};
use freshcharge_validation::{Tolerance, reference};

/// Half-width of the regularised flow function, as the engine uses it.
const EPSILON: f64 = 2e-4;
const KAPPA: f64 = 0.4 / 1.4;
const R: f64 = 287.0;

#[test]
fn flow_function_follows_saint_venant_and_wantzel() {
    let table = reference!("orifice_flow_function.csv");
    let printed = Tolerance::relative(5e-10, "half a unit of the tenth printed digit");
    let mut compared = 0;
    for row in 0..table.len() {
        let (gamma, ratio) = (table.number(row, "gamma"), table.number(row, "pr"));
        if !(1.08..1.68).contains(&gamma) || 1.0 - ratio < EPSILON {
            continue;
        }
        let kappa = (gamma - 1.0) / gamma;
        printed.check("psi", flow_function(ratio, kappa, EPSILON), table.number(row, "psi"));
        compared += 1;
    }
    assert!(compared > 60, "{compared}");
}

#[test]
fn choked_flow_is_the_critical_flow_function_of_iso_9300() {
    let table = reference!("critical_flow_function.csv");
    let printed = Tolerance::relative(2e-9, "nine printed digits");
    let mut compared = 0;
    for row in 0..table.len() {
        let Some(gamma) = table.text(row, "gas").strip_prefix("ideal gas gamma=") else { continue };
        let gamma: f64 = gamma.parse().unwrap();
        let psi = flow_function(0.1, (gamma - 1.0) / gamma, EPSILON);
        printed.check("critical flow function", psi, table.number(row, "C_star"));
        compared += 1;
    }
    assert!(compared >= 4);
}

/// Two vessels of perfect gas joined by an orifice, or one vessel and a reservoir of infinite size.
struct Vessels {
    area: f64,
    volumes: [f64; 2],
    /// Pressure and R·T of the second when it is a reservoir.
    reservoir: Option<(f64, f64)>,
}

impl Vessels {
    fn side(&self, y: &[f64], i: usize) -> (f64, f64) {
        if let (1, Some(fixed)) = (i, self.reservoir) {
            return fixed;
        }
        // p V = (γ − 1) U, R T = p V / m
        let pv = 0.4 * y[2 * i + 1];
        (pv / self.volumes[i], if y[2 * i] > 0.0 { pv / y[2 * i] } else { R * 300.0 })
    }
}

impl System<f64> for Vessels {
    fn rates(&mut self, _t: f64, y: &[f64], dy: &mut [f64], _dq: &mut [f64], _observed: bool) {
        let (a, b) = (self.side(y, 0), self.side(y, 1));
        let (from, to, sign) = if a.0 >= b.0 { (a, b, 1.0) } else { (b, a, -1.0) };
        let upstream =
            Upstream { pressure: from.0, specific_pressure_volume: from.1, kappa: KAPPA };
        let flow = sign * mass_flow(self.area, &upstream, to.0, EPSILON);
        let enthalpy = flow * from.1 / KAPPA;
        dy.copy_from_slice(&[-flow, -enthalpy, flow, enthalpy]);
    }
}

/// Integrates to `end` with the engine's own integrator.
fn integrate(system: &mut Vessels, y: [f64; 4], times: &[f64]) -> Vec<[f64; 4]> {
    let scale = [1e-4, 10.0, 1e-4, 10.0];
    let mut stepper = Stepper::<f64>::new(4, 4, 0);
    stepper.y.copy_from_slice(&y);
    let (mut t, mut h) = (0.0, 1e-6);
    let mut control = StepControl::default();
    let mut states = Vec::new();
    for &end in times {
        while t < end {
            let lands = t + h >= end;
            let step = if lands { end - t } else { h };
            match control.judge(stepper.attempt(system, t, step, 1e-10, &scale)) {
                Ok(factor) => {
                    stepper.accept(true);
                    t = if lands { end } else { t + step };
                    h = if lands { h.max(step * factor) } else { step * factor };
                }
                Err(factor) => h = step * factor,
            }
        }
        states.push([stepper.y[0], stepper.y[1], stepper.y[2], stepper.y[3]]);
    }
    states
}

#[test]
fn a_vessel_empties_as_the_closed_form_says() {
    let table = reference!("blowdown_vessel.csv");
    let (volume, p0, t0) = (250e-6, 5e5, 300.0);
    let mut vessels =
        Vessels { area: 20e-6, volumes: [volume, 1.0], reservoir: Some((101_325.0, R * 300.0)) };
    let start = [p0 * volume / (R * t0), p0 * volume / 0.4, 0.0, 0.0];
    // the last row stands where the back pressure is reached: inside the regularised layer
    let rows = table.len() - 1;
    let times: Vec<f64> = (0..rows).map(|i| table.number(i, "t_s")).collect();
    let near = Tolerance::relative(2e-8, "integrator at 1e-10, ten printed digits");
    for (row, y) in integrate(&mut vessels, start, &times).iter().enumerate() {
        let pressure = 0.4 * y[1] / volume;
        if pressure < 101_325.0 * (1.0 + 2.0 * EPSILON) {
            continue;
        }
        near.check("pressure", pressure, table.number(row, "p_ode_Pa"));
        near.check("mass", y[0], table.number(row, "m_kg"));
        near.check("temperature", pressure * volume / (y[0] * R), table.number(row, "T_K"));
    }
}

#[test]
fn an_evacuated_vessel_fills_at_gamma_times_the_outside_temperature() {
    let table = reference!("charging_evacuated_vessel.csv");
    let mut vessels =
        Vessels { area: 10e-6, volumes: [1e-3, 1.0], reservoir: Some((101_325.0, R * 300.0)) };
    let times: Vec<f64> = (0..table.len()).map(|i| table.number(i, "t_s")).collect();
    // 1e-9 of the final content stands in for the void, where a temperature has no meaning
    let seed = 1e-9 * 101_325.0 * 1e-3;
    let start = [seed / (R * 420.0), seed / 0.4, 0.0, 0.0];
    let near = Tolerance::relative(5e-8, "the seed of 1e-9 and ten printed digits");
    for (row, y) in integrate(&mut vessels, start, &times).iter().enumerate() {
        let pressure = 0.4 * y[1] / 1e-3;
        if 1.0 - pressure / 101_325.0 < 2.0 * EPSILON {
            continue;
        }
        near.check("pressure", pressure, table.number(row, "p_ode_Pa"));
        near.check("temperature", pressure * 1e-3 / (y[0] * R), table.number(row, "T_K"));
    }
}

#[test]
fn two_vessels_come_to_the_common_pressure() {
    let table = reference!("two_vessel_equalisation.csv");
    let near = Tolerance::relative(5e-6, "what flows inside the regularised layer");
    for row in 0..table.len() {
        let n = |head| table.number(row, head);
        let mut vessels =
            Vessels { area: 20e-6, volumes: [n("V1_m3"), n("V2_m3")], reservoir: None };
        let content = |p: f64, v: f64, t: f64| [p * v / (R * t), p * v / 0.4];
        let a = content(n("p1_Pa"), n("V1_m3"), n("T1_K"));
        let b = content(n("p2_Pa"), n("V2_m3"), n("T2_K"));
        let end = integrate(&mut vessels, [a[0], a[1], b[0], b[1]], &[5.0])[0];
        let p1 = 0.4 * end[1] / n("V1_m3");
        near.check("pressure 1", p1, n("p_f_Pa"));
        near.check("pressure 2", 0.4 * end[3] / n("V2_m3"), n("p_f_Pa"));
        near.check("temperature 1", p1 * n("V1_m3") / (end[0] * R), n("T1_f_K"));
        near.check("mass 1", end[0], n("m1_f_kg"));
        near.check("mass 2", end[2], n("m2_f_kg"));
    }
}

fn species(name: &str) -> Option<Species> {
    [N2, O2, AR, CO2, H2O, CO, H2].into_iter().find(|s| s.name == name)
}

#[test]
fn species_follow_the_published_polynomials() {
    let table = reference!("gas_properties_species.csv");
    let r = freshcharge_sim::units::MOLAR_GAS_CONSTANT;
    let printed = Tolerance::relative(2e-7, "eight printed digits").or_absolute(1e-6);
    let heat = |c: &[f64; 6], t: f64| r * (c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * c[4]))));
    let enthalpy = |c: &[f64; 6], t: f64| {
        let sum = c[0] + t * (c[1] / 2.0 + t * (c[2] / 3.0 + t * (c[3] / 4.0 + t * c[4] / 5.0)));
        r * (c[5] + t * sum)
    };
    for row in 0..table.len() {
        let s = species(table.text(row, "species")).unwrap();
        let t = table.number(row, "T_K");
        let c = if t < 1000.0 { &s.low } else { &s.high };
        printed.check("cp", heat(c, t), table.number(row, "cp_J_molK"));
        let rise = enthalpy(c, t) - enthalpy(&s.low, 298.15);
        printed.check("h", rise / 1e3, table.number(row, "h_minus_h298_kJ_mol"));
    }
    assert!(table.len() >= 45);
}

#[test]
fn mixtures_follow_cantera() {
    let table = reference!("gas_mixtures.csv");
    // the table's air holds 0.036 % CO2, ours none: 1e-4 in R, 3e-4 in cp
    let near = Tolerance::relative(4e-4, "CO2 in the table's air");
    let mut compared = 0;
    for row in 0..table.len() {
        let t = table.number(row, "T_K");
        let mixture = match table.text(row, "mixture") {
            "dry_air" => Mixture::dry_air(),
            "burned_isooctane_C8H18_phi0.9" => Mixture::burned(1.0 / 0.9),
            "burned_isooctane_C8H18_phi1" => Mixture::burned(1.0),
            "burned_isooctane_C8H18_phi1.0" => Mixture::burned(1.0),
            "burned_isooctane_C8H18_phi1.15" => Mixture::burned(1.0 / 1.15),
            _ => continue,
        };
        near.check("R", mixture.gas_constant, table.number(row, "R_J_kgK"));
        near.check("cp", mixture.heat_capacity(t) / 1e3, table.number(row, "cp_kJ_kgK"));
        let gas = Gas::new(&mixture, &mixture);
        let gamma = gas.at(0.0).state(t).gamma();
        near.check("gamma", gamma, table.number(row, "gamma"));
        compared += 1;
    }
    assert!(compared >= 21, "{compared}");
}

#[test]
fn fuel_needs_the_published_air_and_releases_the_published_heat() {
    let table = reference!("fuel_values.csv");
    let value = |what: &str| {
        let row = (0..table.len()).find(|r| table.text(*r, "quantity") == what);
        table.number(row.unwrap(), "value")
    };
    // the table's air holds CO2: O2 20.946 % of 28.965729 g/mol; ours is N2, O2, Ar alone
    let total = 0.780_84 + 0.209_46 + 0.009_365;
    let molar = (0.780_84 * 28.014 + 0.209_46 * 31.998 + 0.009_365 * 39.95) / total;
    let other_air = (0.209_46 / (0.209_46 / total)) * molar / 28.965_729;
    Tolerance::relative(2e-7, "eight printed digits").check(
        "air-fuel ratio",
        air_fuel_ratio(1.0),
        value("AFR isooctane C8H18") * other_air,
    );
    // heat of the vapour at 298 K per mass of stoichiometric mixture
    let (fresh, burned) = (Mixture::fresh(1.0, 1.0), Mixture::burned(1.0));
    let released = fresh.enthalpy(298.15) - burned.enthalpy(298.15);
    let per_fuel = released * (1.0 + air_fuel_ratio(1.0)) / 1e6;
    let lower = value("isooctane LHV (gaseous fuel 298 K)");
    Tolerance::relative(1e-3, "enthalpy of formation of the fuel, two published sets").check(
        "lower heating value",
        per_fuel,
        lower,
    );
}

#[test]
fn burning_follows_the_wiebe_table() {
    let table = reference!("wiebe.csv");
    let printed =
        Tolerance::relative(6e-9, "half a unit of the ninth printed digit").or_absolute(1e-9);
    for row in 0..table.len() {
        let n = |head| table.number(row, head);
        let (a, m, y) = (n("a"), n("m"), n("y"));
        // the table's form is not normalised to reach 1
        let norm = 1.0 - (-a).exp();
        printed.check("x", burned_share(y, m, a) * norm, n("x"));
        if y > 0.0 && y < 1.0 {
            let wiebe = Wiebe { form: m, completeness: a, normal: 1.0 };
            printed.check("dx/dy", wiebe.rate(y), n("dxdy"));
        }
    }
    assert!(table.len() > 5);
}

#[test]
fn heat_transfer_follows_the_worked_state() {
    let table = reference!("heat_transfer_worked.csv");
    let value = |what: &str| {
        let row = (0..table.len()).find(|r| table.text(*r, "correlation").starts_with(what));
        table.number(row.unwrap(), "h_W_m2K")
    };
    let gas =
        Exposure { pressure: 30e5, temperature: 2000.0, density: 5.226_48, heat_capacity: 1250.0 };
    let printed =
        Tolerance::relative(5e-5, "the table uses Sutherland's law with its older constants");
    printed.check("viscosity", viscosity(2000.0_f64), 6.178_99e-5);
    for a in [0.26, 0.35, 0.49, 0.8] {
        let h = annand(&gas, a, 0.054, 19.9833);
        printed.check("Annand", h, value(&format!("Annand a={a} b=0.7")));
    }
    let bore_power = 0.054_f64.powf(-0.2);
    let h = woschni(&gas, bore_power, 6.18 * 19.9833);
    printed.check("Woschni", h, value("Woschni gas exchange C1=6.18 C2=0 (no swirl) [3.26"));
    let h = woschni(&gas, bore_power, 2.28 * 19.9833);
    printed.check("Woschni", h, value("Woschni compression C1=2.28 C2=0 [3.26"));
}

/// A box at constant pressure that fresh gas enters and whose mixture leaves, in units of pV/(R T_f).
struct Mixing {
    gas: Gas<f64>,
    /// Entering temperature [K].
    entering: f64,
}

impl System<f64> for Mixing {
    fn rates(&mut self, _l: f64, y: &[f64], dy: &mut [f64], _dq: &mut [f64], _observed: bool) {
        let [mass, energy, burned] = [y[0], y[1], y[2]];
        let share = burned / mass;
        let state = self.gas.at(share).from_energy(energy / mass);
        let inflow = self.gas.at(0.0).state(self.entering);
        // constant volume and pressure with one heat capacity: as much enthalpy leaves as enters
        let out = inflow.enthalpy / state.enthalpy;
        dy.copy_from_slice(&[1.0 - out, inflow.enthalpy - out * state.enthalpy, -out * share]);
    }
}

#[test]
fn perfect_mixing_with_a_cold_and_a_hot_residual() {
    let table = reference!("scavenging_nonisothermal_mixing.csv");
    // one constant heat capacity for both, no formation enthalpy
    let plain = [1005.0, 0.0, 0.0, 0.0, 0.0, 0.0];
    let mixture = Mixture { gas_constant: R, low: plain, high: plain };
    let printed = Tolerance::absolute(2e-8, "integrator, nine printed digits");
    let mut compared = 0;
    for row in 0..table.len() {
        let (theta, end) = (table.number(row, "theta"), table.number(row, "L"));
        let entering = 300.0;
        let mut mixing = Mixing { gas: Gas::new(&mixture, &mixture), entering };
        let inside = entering / theta;
        // m = pV/(R T_b) = θ in the table's unit
        let energy = theta * (1005.0 - R) * inside;
        let mut stepper = Stepper::<f64>::new(3, 3, 0);
        stepper.y[..3].copy_from_slice(&[theta, energy, theta]);
        let (mut at, mut h) = (0.0, 1e-3);
        let mut control = StepControl::default();
        while at < end {
            let lands = at + h >= end;
            let step = if lands { end - at } else { h };
            let error = stepper.attempt(&mut mixing, at, step, 1e-10, &[1e-3, 100.0, 1e-3]);
            match control.judge(error) {
                Ok(factor) => {
                    stepper.accept(true);
                    at = if lands { end } else { at + step };
                    h = if lands { h.max(step * factor) } else { step * factor };
                }
                Err(factor) => h = step * factor,
            }
        }
        let [mass, burned] = [stepper.y[0], stepper.y[2]];
        printed.check("purity", 1.0 - burned / mass, table.number(row, "mass_purity"));
        printed.check("total mass", mass, table.number(row, "total_mass_closed_form"));
        let fresh = table.number(row, "fresh_mass_closed_form");
        printed.check("fresh mass", mass - burned, fresh);
        compared += 1;
    }
    assert!(compared >= 12, "{compared}");
}
