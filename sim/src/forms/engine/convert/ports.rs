//! Exhaust, transfers, intake and their windows.

use super::{Bench, Conversion, State, crank_of};
use crate::forms::document::{joined, numbered};
use crate::forms::fault::FaultKind;
use crate::forms::place::Place;
use crate::forms::value::rising;
use crate::portable;
use crate::spec::{
    Discharge, DischargeTable, Exhaust, InertiveDuct, Intake, Petal, PetalMaterial, Reed,
    ReedStage, RotaryInlet, Silencer, TransferGroup, Window,
};
use crate::units::{DEG, MM};

/// Two readings of one edge that lie further apart than this are no reading error [m].
const ABSURD: f64 = 3.0 * MM;
/// Readings closer than this agree [m].
const AGREES: f64 = 0.05 * MM;

pub(super) fn circle(diameter: f64) -> f64 {
    std::f64::consts::FRAC_PI_4 * diameter * diameter
}

impl Conversion<'_> {
    pub(super) fn exhaust(&mut self) -> Exhaust {
        let place = self.at("exhaust");
        let exit = ("duct_exit_area_mm2", "duct_exit_diameter_mm");
        Exhaust {
            windows: Vec::new(),
            discharge: self.discharge("exhaust"),
            exit_area: self.one_of(&place, exit, circle),
            duct_volume: place.number("duct_volume_cm3"),
            ledge_loss_outward: place.number("ledge_loss_outward"),
            ledge_loss_inward: place.number("ledge_loss_inward"),
            back_pressure: place
                .maybe("back_pressure_bar")
                .unwrap_or_else(|| self.at("ambient").number("pressure_bar")),
            outside_temperature: place.number("gas_temperature_c"),
            silencer: self.silencer(),
            duct_length: place.maybe("duct_length_mm"),
            pipe: None,
        }
    }

    fn silencer(&mut self) -> Option<Silencer> {
        let place = self.at("exhaust.silencer");
        if !place.is_there() {
            return None;
        }
        let outlet = self.one_of(&place, ("outlet_area_mm2", "outlet_diameter_mm"), circle);
        Some(Silencer {
            volume: place.number("volume_cm3"),
            outlet_area: outlet.unwrap_or(f64::NAN),
            outlet_discharge: place.number("outlet_discharge_coefficient"),
            wall_conductance: place.number("wall_w_per_k"),
            wall_temperature: place.number("wall_temperature_c"),
        })
    }

    pub(super) fn transfer(&mut self, g: usize, bench: &Bench) -> TransferGroup {
        let place = self.at(numbered("transfer", g));
        let duct_volume = place.number("duct_volume_cm3");
        let duct = place.maybe("duct_length_mm").map(|length| InertiveDuct {
            length,
            area: place.maybe("duct_area_mm2").unwrap_or(duct_volume / length),
            entry_loss: place.number("entry_loss"),
            friction: place.number("friction_factor"),
            inertive: place.flag("inertive"),
        });
        TransferGroup {
            name: place.text("name"),
            windows: self.windows(&place.path, bench, true),
            discharge: self.discharge(&place.path),
            duct_volume,
            duct,
            wall_conductance: place.number("wall_w_per_k"),
            wall_temperature: place.number("wall_temperature_c"),
        }
    }

    fn discharge(&mut self, path: &str) -> Discharge {
        let place = self.at(joined(path, "discharge"));
        if !place.is_there() {
            return Discharge::Constant(self.at(path).number("discharge_coefficient"));
        }
        let list = |name: &str| place.numbers(name).unwrap_or_default();
        let (opening, pressure_ratio) = (list("opening"), list("pressure_ratio"));
        for (name, values) in [("opening", &opening), ("pressure_ratio", &pressure_ratio)] {
            if place.gives(name) && (values.is_empty() || !rising(values)) {
                let remedy = "must rise from one number to the next";
                self.fault(FaultKind::Implausible, &place.key(name), remedy);
            }
        }
        let mut table = |name: &str| {
            let rows = place.rows(name).unwrap_or_default();
            let (high, wide) = (opening.len(), pressure_ratio.len());
            if place.gives(name) && (rows.len() != high || rows.iter().any(|r| r.len() != wide)) {
                let remedy = format!(
                    "needs {high} rows of {wide} numbers, one row for each opening, one number for each pressure ratio"
                );
                self.fault(FaultKind::Contradiction, &place.key(name), remedy);
            }
            rows.concat()
        };
        let (forward, reverse) = (table("forward"), table("reverse"));
        Discharge::Table(DischargeTable { opening, pressure_ratio, forward, reverse })
    }

    pub(super) fn intake(&mut self, bench: &Bench) -> Intake {
        let kinds = ["crank_web", "disc_valve", "piston_port", "reed"];
        let given = kinds.into_iter().find(|k| self.document.has(&format!("intake.{k}")));
        let kind = given.unwrap_or("crank_web");
        let place = self.at(format!("intake.{kind}"));
        let discharge = self.discharge(&place.path);
        if kind == "piston_port" {
            let windows = self.windows(&place.path, bench, false);
            return Intake::PistonPort { windows, discharge };
        }
        if kind == "reed" {
            return Intake::Reed {
                reed: Reed::new(self.stages()),
                discharge,
                windows: self.windows(&place.path, bench, false),
                window_discharge: place.number("window_discharge_coefficient"),
            };
        }
        let valve = RotaryInlet {
            opens: -place.number("opens_deg_btdc"),
            closes: place.number("closes_deg_atdc"),
            ramp: place.number("ramp_deg"),
            area: place.number("window_area_mm2"),
        };
        Intake::Rotary { valve, disc: kind == "disc_valve", discharge }
    }

    fn stages(&self) -> Vec<ReedStage> {
        let array = "intake.reed.stage";
        (0..self.document.count(array)).map(|s| self.stage(&numbered(array, s))).collect()
    }

    fn stage(&self, path: &str) -> ReedStage {
        let place = self.at(path);
        let material = match place.text("material").as_str() {
            "glass" => PetalMaterial::Glass,
            "carbon" => PetalMaterial::Carbon,
            _ => PetalMaterial::Steel,
        };
        ReedStage {
            name: place.text("name"),
            petals: place.number("petals"),
            petal: Petal {
                length: place.number("length_mm"),
                width: place.number("width_mm"),
                thickness: place.number("thickness_mm"),
                modulus: place.maybe("modulus_gpa").unwrap_or(material.modulus()),
                density: place.maybe("density_kg_per_m3").unwrap_or(material.density()),
                measured_frequency: place.maybe("frequency_hz"),
                damping: place.number("damping_ratio"),
                restitution: place.number("restitution"),
                fatigue_stress: place
                    .maybe("fatigue_stress_mpa")
                    .unwrap_or(material.fatigue_stress()),
            },
            window_length: place.number("window_length_mm"),
            window_width: place.number("window_width_mm"),
            overlap: place.number("tip_overlap_mm"),
            stop: place.number("stop_mm"),
        }
    }

    /// Windows of a port; `crown` when the crown edge opens them, else the skirt.
    pub(super) fn windows(&mut self, port: &str, bench: &Bench, crown: bool) -> Vec<Window> {
        let array = joined(port, "window");
        (0..self.document.count(&array))
            .map(|i| self.window(&numbered(&array, i), bench, crown))
            .collect()
    }

    fn window(&mut self, path: &str, bench: &Bench, crown: bool) -> Window {
        let place = self.at(path);
        let bore = bench.bore;
        let half_round = std::f64::consts::FRAC_PI_2 * bore;
        // an arc beyond half round has no chord
        let straight =
            |arc: f64| if arc > half_round { f64::NAN } else { bore * portable::sin(arc / bore) };
        if place.maybe("arc_mm").is_some_and(|arc| arc > half_round) {
            let remedy = format!("reaches further than half round the bore of {:.2} mm", bore / MM);
            self.fault(FaultKind::Implausible, &place.key("arc_mm"), remedy);
        }
        let chord = self.one_of(&place, ("chord_mm", "arc_mm"), straight);
        let roof = if crown { self.roof(&place, bench) } else { place.number("roof_depth_mm") };
        let measured = &bench.measured;
        let floor = place
            .maybe("floor_depth_mm")
            .unwrap_or_else(|| measured.deck + crank_of(measured, bench.pin_offset).travel());
        Window {
            centre: place.number("centre_deg"),
            chord: chord.unwrap_or(f64::NAN),
            roof_depth: roof - bench.cut,
            floor_depth: floor - bench.cut,
            roof_radius: place.number("roof_radius_mm"),
            floor_radius: place.number("floor_radius_mm"),
            roof_arch: place.number("roof_arch_mm"),
            axial_angle: place.number("axial_deg"),
            radial_angle: place.number("radial_deg"),
        }
    }

    /// Depth of a roof below the top face as it was, from a depth or from an angle in its state.
    fn roof(&mut self, place: &Place, bench: &Bench) -> f64 {
        let by_depth = place.maybe("roof_depth_mm");
        let Some(angle) = place.maybe("opens_deg_atdc") else {
            return by_depth.unwrap_or(f64::NAN);
        };
        let state = self.window_state(&place.path, &bench.measured);
        let crank = crank_of(&state, bench.pin_offset);
        let edge = state.deck + bench.chamfer;
        let by_angle = crank.at(angle).drop + edge;
        let Some(depth) = by_depth else { return by_angle };
        let apart = depth - by_angle;
        let degrees = match crank.angle_down(depth - edge) {
            Some(by_depth) => format!(", {:+.2}°", (by_depth - angle) / DEG),
            None => String::new(),
        };
        let by = format!("{:+.2} mm{degrees}", apart / MM);
        if apart.abs() > ABSURD {
            let remedy = format!(
                "lies {by} from what opens_deg_atdc says ({:.2} mm); measure again or leave one out",
                by_angle / MM
            );
            self.fault(FaultKind::Contradiction, &place.key("roof_depth_mm"), remedy);
        } else {
            let verb = if apart.abs() < AGREES { "agree to" } else { "disagree by" };
            self.notes.push(format!(
                "{}: roof_depth_mm and opens_deg_atdc {verb} {by}; the depth is used",
                place.path
            ));
        }
        depth
    }

    /// State in which a window's angle was read.
    fn window_state(&self, path: &str, measured: &State) -> State {
        let place = self.at(joined(path, "measured"));
        if !place.is_there() {
            return *measured;
        }
        let sum = |name: &str| place.numbers(name).map(|v| v.iter().sum::<f64>());
        let mut state = State {
            deck: f64::NAN,
            gaskets: sum("base_gaskets_mm").unwrap_or(measured.gaskets),
            spacers: sum("spacers_mm").unwrap_or(measured.spacers),
            radius: place.maybe("stroke_mm").map_or(measured.radius, |s| s / 2.0),
            rod: place.maybe("rod_mm").unwrap_or(measured.rod),
            compression_height: measured.compression_height,
        };
        state.deck = place.maybe("deck_mm").unwrap_or_else(|| measured.deck_in(&state));
        state
    }
}
