//! From the file as written to the engine as meant: defaults filled, SI, depths in the state to run.

use super::document::{Document, Value, key_at};
use super::fault::Fault;
use super::keys::{Fallback, Unit};
use crate::crank::Crank;
use crate::spec::{
    Ambient, Carburettor, Clearance, Combustion, CrankTrain, Crankcase, Discharge, DischargeTable,
    EngineSpec, Exhaust, Friction, Fuel, Head, Heat, HeatLaw, InertiveDuct, InletTract, Intake,
    Leaks, Piston, RotaryInlet, ScavengingLaw, Silencer, SpeedTable, Stack, TransferGroup,
    WallTemperatures, Window,
};
use crate::units::{BAR, CM3, DEG, ICE_POINT, MM, MM2};

/// A conversion under way.
pub(super) struct Conversion<'a> {
    pub(super) document: &'a Document,
    pub(super) faults: Vec<Fault>,
    pub(super) notes: Vec<String>,
}

/// The state in which something was measured [m].
#[derive(Debug, Clone, Copy)]
struct State {
    deck: f64,
    base: f64,
    radius: f64,
    rod: f64,
    compression_height: f64,
}

/// One number of a unit in SI.
fn to_si(unit: Unit, value: f64) -> f64 {
    match unit {
        Unit::Millimetre => value * MM,
        Unit::SquareMillimetre => value * MM2,
        Unit::CubicCentimetre => value * CM3,
        Unit::Degree => value * DEG,
        Unit::Bar => value * BAR,
        Unit::Celsius => value + ICE_POINT,
        Unit::Gram => value * 1e-3,
        Unit::WattPerKelvin | Unit::One => value,
    }
}

fn unit_of(path: &str) -> (Unit, Fallback) {
    use super::keys::Kind;
    let Some((_, key)) = key_at(path) else { return (Unit::One, Fallback::Optional) };
    let unit = match key.kind {
        Kind::Number(unit, ..) | Kind::Numbers(unit, ..) | Kind::OverSpeed(unit, ..) => unit,
        _ => Unit::One,
    };
    (unit, key.fallback)
}

impl<'a> Conversion<'a> {
    pub(super) fn new(document: &'a Document) -> Self {
        Self { document, faults: Vec::new(), notes: Vec::new() }
    }

    pub(super) fn fault(&mut self, path: &str, remedy: impl Into<String>) {
        let fault = self.document.fault(path, remedy);
        self.faults.push(fault);
    }

    pub(super) fn given(&self, path: &str) -> bool {
        self.document.entries.contains_key(path)
    }

    /// A number in SI; none when neither the file nor the table of keys gives one.
    pub(super) fn maybe(&self, path: &str) -> Option<f64> {
        let (unit, fallback) = unit_of(path);
        match (self.document.entries.get(path).map(|e| &e.value), fallback) {
            (Some(Value::Number(value)), _) => Some(to_si(unit, *value)),
            (None, Fallback::Number(value)) => Some(to_si(unit, value)),
            _ => None,
        }
    }

    /// A number in SI that must be there: the reader has seen to it.
    fn number(&self, path: &str) -> f64 {
        self.maybe(path).unwrap_or(f64::NAN)
    }

    fn numbers(&self, path: &str) -> Option<Vec<f64>> {
        match &self.document.entries.get(path)?.value {
            Value::Numbers(values) => {
                let (unit, _) = unit_of(path);
                Some(values.iter().map(|v| to_si(unit, *v)).collect())
            }
            _ => None,
        }
    }

    fn text(&self, path: &str) -> String {
        match (self.document.entries.get(path).map(|e| &e.value), unit_of(path).1) {
            (Some(Value::Text(text)), _) => text.clone(),
            (None, Fallback::Text(text)) => text.to_owned(),
            _ => String::new(),
        }
    }

    fn flag(&self, path: &str) -> bool {
        match (self.document.entries.get(path).map(|e| &e.value), unit_of(path).1) {
            (Some(Value::Flag(flag)), _) => *flag,
            (None, Fallback::Flag(flag)) => flag,
            _ => false,
        }
    }

    /// Values over speed, times `sign`.
    fn over_speed(&self, path: &str, sign: f64) -> SpeedTable {
        let (unit, _) = unit_of(path);
        match self.document.entries.get(path).map(|e| &e.value) {
            Some(Value::OverSpeed(rpm, values)) => SpeedTable {
                rpm: rpm.clone(),
                value: values.iter().map(|v| sign * to_si(unit, *v)).collect(),
            },
            _ => SpeedTable::constant(sign * self.number(path)),
        }
    }

    /// One of two keys that say the same in different words; `convert` brings the second into the
    /// first.
    fn one_of(&mut self, first: &str, second: &str, convert: impl Fn(f64) -> f64) -> Option<f64> {
        let (a, b) = (self.maybe(first), self.maybe(second).map(convert));
        if let (Some(a), Some(b)) = (a, b)
            && (a - b).abs() > 1e-3 * a.abs()
        {
            let name = second.rsplit('.').next().unwrap_or(second);
            self.fault(first, format!("disagrees with {name}; give one of the two"));
        }
        a.or(b)
    }

    pub(super) fn run_speeds(&self) -> Vec<f64> {
        self.numbers("run.rpm")
            .unwrap_or_else(|| super::parse_speeds("4000:8000:1000").unwrap_or_default())
    }

    /// The engine. Faults are gathered; with any, it must not be used.
    pub(super) fn spec(&mut self) -> EngineSpec {
        let bore = self.number("crank_train.bore_mm");
        let crank_train = CrankTrain {
            radius: self.number("crank_train.stroke_mm") / 2.0,
            rod: self.number("crank_train.rod_mm"),
            pin_offset: self.number("crank_train.pin_offset_mm"),
        };
        let piston = self.piston(bore);
        let (stack, measured) = self.stack(&crank_train, &piston);
        let exhaust = Exhaust {
            windows: self.windows("exhaust", &measured, &stack, &crank_train, true),
            ..self.exhaust()
        };
        let transfers = (0..self.document.count("transfer"))
            .map(|g| self.transfer(g, &measured, &stack, &crank_train))
            .collect();
        EngineSpec {
            name: self.text("name"),
            bore,
            head: self.head(bore, &measured, &stack),
            exhaust,
            transfers,
            crankcase: self.crankcase(bore, &crank_train),
            intake: self.intake(&measured, &stack, &crank_train),
            carburettor: self.document.has("carburettor").then(|| Carburettor {
                venturi: self.number("carburettor.bore_mm"),
                throttle: self.number("carburettor.throttle"),
                discharge: self.number("carburettor.discharge_coefficient"),
            }),
            inlet_tract: self.inlet_tract(),
            combustion: Combustion {
                start: self.over_speed("combustion.start_deg_btdc", -1.0),
                duration: self.over_speed("combustion.duration_deg", 1.0),
                form: self.number("combustion.form"),
                completeness: self.number("combustion.completeness"),
                efficiency: self.number("combustion.efficiency"),
            },
            heat: self.heat(),
            friction: Friction {
                constant: self.number("friction.constant_bar"),
                per_piston_speed: self.number("friction.per_piston_speed_bar"),
            },
            leaks: Leaks {
                blow_by: self.number("leaks.blow_by_mm2"),
                crankcase: self.number("leaks.crankcase_mm2"),
            },
            scavenging: self.scavenging(),
            ambient: Ambient {
                pressure: self.number("ambient.pressure_bar"),
                temperature: self.number("ambient.temperature_c"),
                relative_humidity: self.number("ambient.relative_humidity"),
            },
            fuel: Fuel {
                lambda: self.number("fuel.lambda"),
                evaporated_share: self.number("fuel.evaporated_share"),
                latent_cooling: self.flag("fuel.latent_cooling"),
            },
            crank_train,
            piston,
            stack,
        }
    }

    fn piston(&mut self, bore: f64) -> Piston {
        Piston {
            compression_height: self.maybe("piston.compression_height_mm").unwrap_or(0.55 * bore),
            skirt_length: self.maybe("piston.skirt_length_mm").unwrap_or(bore),
            ring_depths: self.numbers("piston.ring_depths_mm").unwrap_or_default(),
            ring_pegs: self.numbers("piston.ring_pegs_deg").unwrap_or_default(),
            dome_volume: self.number("piston.dome_volume_cm3"),
            crown_chamfer: self.number("piston.crown_chamfer_mm"),
            mass: self.maybe("piston.mass_g"),
        }
    }

    /// The stack to run and the state it was measured in.
    fn stack(&mut self, crank: &CrankTrain, piston: &Piston) -> (Stack, State) {
        let list = |path: &str| self.numbers(path).unwrap_or_default();
        let (base_gaskets, spacers) = (list("stack.base_gaskets_mm"), list("stack.spacers_mm"));
        let head_gaskets = list("stack.head_gaskets_mm");
        let base: f64 = base_gaskets.iter().chain(&spacers).sum();
        let measured_base = |path: &str, run: &[f64]| -> f64 {
            self.numbers(path).unwrap_or_else(|| run.to_vec()).iter().sum()
        };
        let measured = State {
            deck: self.number("stack.measured.deck_mm"),
            base: measured_base("stack.measured.base_gaskets_mm", &base_gaskets)
                + measured_base("stack.measured.spacers_mm", &spacers),
            radius: self.maybe("stack.measured.stroke_mm").map_or(crank.radius, |s| s / 2.0),
            rod: self.maybe("stack.measured.rod_mm").unwrap_or(crank.rod),
            compression_height: self
                .maybe("stack.measured.compression_height_mm")
                .unwrap_or(piston.compression_height),
        };
        let run = State {
            deck: f64::NAN,
            base,
            radius: crank.radius,
            rod: crank.rod,
            compression_height: piston.compression_height,
        };
        let deck = moved_deck(&measured, &run) - self.number("stack.top_face_cut_mm");
        (Stack { base_gaskets, spacers, head_gaskets, deck }, measured)
    }

    fn head(&mut self, bore: f64, measured: &State, stack: &Stack) -> Head {
        let forms: Vec<Clearance> = [
            self.document.has("head.assembled").then(|| Clearance::Assembled {
                volume: self.number("head.assembled.volume_cm3"),
                deck: self.maybe("head.assembled.deck_mm").unwrap_or(measured.deck),
                head_gasket: self
                    .maybe("head.assembled.head_gasket_mm")
                    .unwrap_or_else(|| stack.head_total()),
            }),
            self.document.has("head.squish_plane").then(|| Clearance::SquishPlane {
                volume: self.number("head.squish_plane.volume_cm3"),
                crevices: self.number("head.squish_plane.crevices_cm3"),
            }),
            self.document.has("head.joint_plane").then(|| {
                let hole = self.maybe("head.joint_plane.gasket_hole_mm").unwrap_or(bore);
                Clearance::JointPlane {
                    volume: self.number("head.joint_plane.volume_cm3"),
                    gasket_hole_area: std::f64::consts::FRAC_PI_4 * hole * hole,
                    spigot_volume: self.number("head.joint_plane.spigot_volume_cm3"),
                }
            }),
        ]
        .into_iter()
        .flatten()
        .collect();
        if forms.is_empty() {
            self.fault(
                "head",
                "no volume: add [head.assembled], [head.squish_plane] or [head.joint_plane] with volume_cm3",
            );
        }
        let none = Clearance::SquishPlane { volume: f64::NAN, crevices: 0.0 };
        let head = |clearance| Head {
            clearance,
            land_offset: self.number("head.land_offset_mm"),
            squish_band: self.number("head.squish_band_mm"),
            land_angle: self.number("head.land_angle_deg"),
        };
        let heads: Vec<Head> = forms.iter().map(|f| head(*f)).collect();
        let first = heads.first().copied().unwrap_or_else(|| head(none));
        if heads.len() > 1 {
            let dome = self.number("piston.dome_volume_cm3");
            let volumes: Vec<String> = heads
                .iter()
                .map(|h| {
                    let volume = crate::geometry::clearance_of(h, stack, bore, dome);
                    format!("{:.2} cm³", volume / CM3)
                })
                .collect();
            self.notes.push(format!(
                "the head's volume is given in several forms; as clearance they say {}; the first is used",
                volumes.join(" and ")
            ));
        }
        first
    }

    fn exhaust(&mut self) -> Exhaust {
        let area = |d: f64| std::f64::consts::FRAC_PI_4 * d * d;
        let exit_area =
            self.one_of("exhaust.duct_exit_area_mm2", "exhaust.duct_exit_diameter_mm", area);
        let silencer = self.document.has("exhaust.silencer").then(|| {
            let outlet = self.one_of(
                "exhaust.silencer.outlet_area_mm2",
                "exhaust.silencer.outlet_diameter_mm",
                area,
            );
            if outlet.is_none() {
                self.fault("exhaust.silencer", "missing: outlet_diameter_mm or outlet_area_mm2");
            }
            let number = |key: &str| self.number(&format!("exhaust.silencer.{key}"));
            Silencer {
                volume: number("volume_cm3"),
                outlet_area: outlet.unwrap_or(f64::NAN),
                outlet_discharge: number("outlet_discharge_coefficient"),
                wall_conductance: number("wall_w_per_k"),
                wall_temperature: number("wall_temperature_c"),
            }
        });
        Exhaust {
            windows: Vec::new(),
            discharge: self.discharge("exhaust"),
            exit_area,
            duct_volume: self.number("exhaust.duct_volume_cm3"),
            ledge_loss_outward: self.number("exhaust.ledge_loss_outward"),
            ledge_loss_inward: self.number("exhaust.ledge_loss_inward"),
            back_pressure: self
                .maybe("exhaust.back_pressure_bar")
                .unwrap_or_else(|| self.number("ambient.pressure_bar")),
            outside_temperature: self.number("exhaust.gas_temperature_c"),
            silencer,
        }
    }

    fn transfer(
        &mut self,
        g: usize,
        measured: &State,
        stack: &Stack,
        crank: &CrankTrain,
    ) -> TransferGroup {
        let path = format!("transfer[{g}]");
        let number = |key: &str| self.number(&format!("{path}.{key}"));
        let duct_volume = number("duct_volume_cm3");
        let length = self.maybe(&format!("{path}.duct_length_mm"));
        let duct = length.map(|length| InertiveDuct {
            length,
            area: self.maybe(&format!("{path}.duct_area_mm2")).unwrap_or(duct_volume / length),
            entry_loss: number("entry_loss"),
            friction: number("friction_factor"),
            inertive: self.flag(&format!("{path}.inertive")),
        });
        let (wall_conductance, wall_temperature) =
            (number("wall_w_per_k"), number("wall_temperature_c"));
        TransferGroup {
            name: self.text(&format!("{path}.name")),
            windows: self.windows(&path, measured, stack, crank, true),
            discharge: self.discharge(&path),
            duct_volume,
            duct,
            wall_conductance,
            wall_temperature,
        }
    }

    fn discharge(&mut self, path: &str) -> Discharge {
        let table = format!("{path}.discharge");
        if !self.document.has(&table) {
            return Discharge::Constant(self.number(&format!("{path}.discharge_coefficient")));
        }
        let list = |key: &str| self.numbers(&format!("{table}.{key}")).unwrap_or_default();
        let (opening, pressure_ratio) = (list("opening"), list("pressure_ratio"));
        let rows = |key: &str| match self.document.entries.get(&format!("{table}.{key}")) {
            Some(super::document::Entry { value: Value::Rows(rows), .. }) => rows.clone(),
            _ => Vec::new(),
        };
        let (forward, reverse) = (rows("forward"), rows("reverse"));
        for (key, values) in [("opening", &opening), ("pressure_ratio", &pressure_ratio)] {
            if values.is_empty() || !values.windows(2).all(|w| w[1] > w[0]) {
                self.fault(&format!("{table}.{key}"), "must rise from one number to the next");
            }
        }
        for (key, rows) in [("forward", &forward), ("reverse", &reverse)] {
            let fits =
                rows.len() == opening.len() && rows.iter().all(|r| r.len() == pressure_ratio.len());
            if !fits {
                let (rows, columns) = (opening.len(), pressure_ratio.len());
                let remedy = format!("needs {rows} rows of {columns} numbers");
                self.fault(&format!("{table}.{key}"), remedy);
            }
        }
        Discharge::Table(DischargeTable {
            opening,
            pressure_ratio,
            forward: forward.concat(),
            reverse: reverse.concat(),
        })
    }

    /// Windows of a port; `crown` when the crown edge opens them, else the skirt.
    fn windows(
        &mut self,
        port: &str,
        measured: &State,
        stack: &Stack,
        crank: &CrankTrain,
        crown: bool,
    ) -> Vec<Window> {
        (0..self.document.count(&format!("{port}.window")))
            .map(|i| {
                let path = format!("{port}.window[{i}]");
                self.window(&path, measured, stack, crank, crown)
            })
            .collect()
    }

    fn window(
        &mut self,
        path: &str,
        measured: &State,
        stack: &Stack,
        crank: &CrankTrain,
        crown: bool,
    ) -> Window {
        let key = |name: &str| format!("{path}.{name}");
        let bore = self.number("crank_train.bore_mm");
        let straight = |arc: f64| bore * (arc / bore).sin();
        let chord = self.one_of(&key("chord_mm"), &key("arc_mm"), straight);
        if chord.is_none() {
            self.fault(path, "missing: chord_mm (straight across) or arc_mm (along the wall)");
        }
        if let Some(arc) = self.maybe(&key("arc_mm"))
            && arc > std::f64::consts::FRAC_PI_2 * bore
        {
            self.fault(&key("arc_mm"), "reaches further than half round the bore");
        }
        let cut = self.number("stack.top_face_cut_mm");
        let by_depth = self.maybe(&key("roof_depth_mm"));
        let by_angle = self.maybe(&key("opens_deg_atdc")).and_then(|angle| {
            if !crown {
                self.fault(&key("opens_deg_atdc"), "an inlet window is entered by depth");
                return None;
            }
            let state = self.window_state(path, measured);
            let crank =
                Crank::new(state.radius, state.rod, self.number("crank_train.pin_offset_mm"));
            let chamfer = self.number("piston.crown_chamfer_mm");
            Some(crank.at(angle).drop + state.deck + chamfer)
        });
        self.compare_edges(path, by_depth, by_angle, measured);
        let roof = by_depth.or(by_angle);
        if roof.is_none() {
            self.fault(path, "missing: roof_depth_mm or opens_deg_atdc");
        }
        let floor = self.maybe(&key("floor_depth_mm")).map(|f| f - cut).unwrap_or_else(|| {
            let run = Crank::new(crank.radius, crank.rod, crank.pin_offset);
            stack.deck + run.travel()
        });
        let number = |name: &str| self.number(&key(name));
        Window {
            centre: number("centre_deg"),
            chord: chord.unwrap_or(f64::NAN),
            roof_depth: roof.map_or(f64::NAN, |r| r - cut),
            floor_depth: floor,
            roof_radius: number("roof_radius_mm"),
            floor_radius: number("floor_radius_mm"),
            roof_arch: number("roof_arch_mm"),
            axial_angle: number("axial_deg"),
            radial_angle: number("radial_deg"),
        }
    }

    /// State in which a window's angle was read.
    fn window_state(&self, path: &str, measured: &State) -> State {
        let at = format!("{path}.measured");
        if !self.document.has(&at) {
            return *measured;
        }
        let sum = |key: &str| self.numbers(&format!("{at}.{key}")).map(|v| v.iter().sum::<f64>());
        let part = |key: &str, other: f64| self.maybe(&format!("{at}.{key}")).unwrap_or(other);
        let base = match (sum("base_gaskets_mm"), sum("spacers_mm")) {
            (None, None) => measured.base,
            (gaskets, spacers) => gaskets.unwrap_or(0.0) + spacers.unwrap_or(0.0),
        };
        let mut state = State {
            deck: f64::NAN,
            base,
            radius: part("stroke_mm", 2.0 * measured.radius) / 2.0,
            rod: part("rod_mm", measured.rod),
            ..*measured
        };
        state.deck = part("deck_mm", moved_deck(measured, &state));
        state
    }

    /// Both entry forms of an edge: says how far they disagree.
    fn compare_edges(
        &mut self,
        path: &str,
        depth: Option<f64>,
        angle: Option<f64>,
        measured: &State,
    ) {
        let (Some(depth), Some(from_angle)) = (depth, angle) else { return };
        let offset = self.number("crank_train.pin_offset_mm");
        let crank = Crank::new(measured.radius, measured.rod, offset);
        let edge = measured.deck + self.number("piston.crown_chamfer_mm");
        let angles = crank.angle_down(depth - edge).zip(crank.angle_down(from_angle - edge));
        let degrees = angles.map_or(f64::NAN, |(a, b)| (a - b) / DEG);
        let millimetres = (depth - from_angle) / MM;
        if millimetres.abs() > 3.0 {
            let remedy = format!(
                "disagrees with opens_deg_atdc by {millimetres:.2} mm; measure again or leave one out"
            );
            self.fault(&format!("{path}.roof_depth_mm"), remedy);
        } else {
            self.notes.push(format!(
                "{path}: roof_depth_mm and opens_deg_atdc disagree by {millimetres:+.2} mm, {degrees:+.2}°; the depth is used"
            ));
        }
    }

    fn crankcase(&mut self, bore: f64, crank: &CrankTrain) -> Crankcase {
        let area = std::f64::consts::FRAC_PI_4 * bore * bore;
        let travel = Crank::new(crank.radius, crank.rod, crank.pin_offset).travel();
        let drop = self.maybe("crankcase.piston_drop_mm").unwrap_or_else(|| {
            if self.text("crankcase.measured_at") == "bottom" { travel } else { 0.0 }
        });
        let ducts: f64 = (0..self.document.count("transfer"))
            .map(|g| self.number(&format!("transfer[{g}].duct_volume_cm3")))
            .sum();
        let without = if self.flag("crankcase.includes_ducts") { 0.0 } else { ducts };
        let volume_at_tdc = self.number("crankcase.volume_cm3") + area * drop + without;
        if volume_at_tdc - area * travel <= ducts {
            let least = (area * travel + ducts) / CM3;
            let remedy = format!(
                "too small: with the piston at the top the crankcase must hold more than the swept volume and the ducts, {least:.1} cm³"
            );
            self.fault("crankcase.volume_cm3", remedy);
        }
        Crankcase {
            volume_at_tdc,
            wall_conductance: self.number("crankcase.wall_w_per_k"),
            wall_temperature: self.number("crankcase.wall_temperature_c"),
        }
    }

    fn intake(&mut self, measured: &State, stack: &Stack, crank: &CrankTrain) -> Intake {
        let kinds = ["crank_web", "disc_valve", "piston_port"];
        let given: Vec<&str> =
            kinds.into_iter().filter(|k| self.document.has(&format!("intake.{k}"))).collect();
        if given.len() != 1 {
            self.fault(
                "intake",
                "give exactly one of [intake.crank_web], [intake.disc_valve], [intake.piston_port]",
            );
        }
        let kind = given.first().copied().unwrap_or("crank_web");
        let path = format!("intake.{kind}");
        let discharge = self.discharge(&path);
        if kind == "piston_port" {
            let windows = self.windows(&path, measured, stack, crank, false);
            if windows.is_empty() && self.document.has(&path) {
                self.fault(&path, "missing: add [[intake.piston_port.window]]");
            }
            return Intake::PistonPort { windows, discharge };
        }
        let number = |key: &str| self.number(&format!("{path}.{key}"));
        let valve = RotaryInlet {
            opens: -number("opens_deg_btdc"),
            closes: number("closes_deg_atdc"),
            ramp: number("ramp_deg"),
            area: number("window_area_mm2"),
        };
        Intake::Rotary { valve, disc: kind == "disc_valve", discharge }
    }

    fn inlet_tract(&mut self) -> Option<InletTract> {
        if !self.document.has("inlet_tract") {
            return None;
        }
        let area = self.one_of("inlet_tract.area_mm2", "inlet_tract.diameter_mm", |d| {
            std::f64::consts::FRAC_PI_4 * d * d
        });
        if area.is_none() {
            self.fault("inlet_tract", "missing: diameter_mm or area_mm2");
        }
        Some(InletTract {
            duct: InertiveDuct {
                length: self.number("inlet_tract.length_mm"),
                area: area.unwrap_or(f64::NAN),
                entry_loss: self.number("inlet_tract.entry_loss"),
                friction: self.number("inlet_tract.friction_factor"),
                inertive: self.flag("inlet_tract.inertive"),
            },
        })
    }

    fn heat(&mut self) -> Heat {
        let law = match self.text("heat.law").as_str() {
            "woschni" => HeatLaw::Woschni { scale: self.number("heat.scale") },
            "adiabatic" => HeatLaw::Adiabatic,
            _ => HeatLaw::Annand {
                convective: self.number("heat.convective"),
                radiative: self.number("heat.radiative_w_per_m2k4"),
            },
        };
        Heat {
            law,
            walls: WallTemperatures {
                head: self.number("heat.head_temperature_c"),
                piston: self.number("heat.piston_temperature_c"),
                liner: self.number("heat.liner_temperature_c"),
            },
            head_area_ratio: self.number("heat.head_area_ratio"),
            crown_area_ratio: self.number("heat.crown_area_ratio"),
        }
    }

    fn scavenging(&mut self) -> ScavengingLaw {
        let number = |key: &str| self.number(&format!("scavenging.{key}"));
        match self.text("scavenging.law").as_str() {
            "perfect-displacement" => ScavengingLaw::PerfectDisplacement,
            "two-part" => ScavengingLaw::TwoPart {
                displaced: number("displaced"),
                short_circuit: number("short_circuit"),
            },
            "curve" => {
                ScavengingLaw::Curve { k0: number("k0"), k1: number("k1"), k2: number("k2") }
            }
            "table" => ScavengingLaw::Table {
                ratio: self.numbers("scavenging.ratio").unwrap_or_default(),
                efficiency: self.numbers("scavenging.efficiency").unwrap_or_default(),
            },
            _ => ScavengingLaw::PerfectMixing,
        }
    }
}

/// Deck in another state: δ = δ₀ + (s − s₀) − (r − r₀) − (l − l₀) − (k − k₀).
fn moved_deck(from: &State, to: &State) -> f64 {
    from.deck + (to.base - from.base)
        - (to.radius - from.radius)
        - (to.rod - from.rod)
        - (to.compression_height - from.compression_height)
}
