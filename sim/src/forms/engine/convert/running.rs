//! Crankcase, inlet, burning, heat, losses, surroundings.

use super::Conversion;
use super::ports::circle;
use crate::crank::Crank;
use crate::spec::{
    Ambient, Carburettor, Combustion, CrankTrain, Crankcase, Friction, Fuel, Heat, HeatLaw,
    InertiveDuct, InletTract, Leaks, ModelVersion, ScavengingLaw, TransferGroup, WallTemperatures,
};

impl Conversion<'_> {
    /// The crankcase, its volume brought to top dead centre with the ducts in it:
    /// V = V_tdc − A·x at piston drop x.
    pub(super) fn crankcase(
        &mut self,
        bore: f64,
        crank: &CrankTrain,
        transfers: &[TransferGroup],
    ) -> Crankcase {
        let place = self.at("crankcase");
        let travel = Crank::new(crank.radius, crank.rod, crank.pin_offset).travel();
        let bottom = place.text("measured_at") == "bottom";
        let drop = place.maybe("piston_drop_mm").unwrap_or(if bottom { travel } else { 0.0 });
        let ducts: f64 = if place.flag("includes_ducts") {
            0.0
        } else {
            transfers.iter().map(|g| g.duct_volume).sum()
        };
        Crankcase {
            volume_at_tdc: place.number("volume_cm3") + circle(bore) * drop + ducts,
            wall_conductance: place.number("wall_w_per_k"),
            wall_temperature: place.number("wall_temperature_c"),
        }
    }

    pub(super) fn carburettor(&self) -> Option<Carburettor> {
        let place = self.at("carburettor");
        place.is_there().then(|| Carburettor {
            venturi: place.number("bore_mm"),
            throttle: place.number("throttle"),
            discharge: place.number("discharge_coefficient"),
        })
    }

    pub(super) fn inlet_tract(&mut self) -> Option<InletTract> {
        let place = self.at("inlet_tract");
        if !place.is_there() {
            return None;
        }
        let area = self.one_of(&place, ("area_mm2", "diameter_mm"), circle);
        Some(InletTract {
            duct: InertiveDuct {
                length: place.number("length_mm"),
                area: area.unwrap_or(f64::NAN),
                entry_loss: place.number("entry_loss"),
                friction: place.number("friction_factor"),
                inertive: place.flag("inertive"),
            },
        })
    }

    pub(super) fn combustion(&self) -> Combustion {
        let place = self.at("combustion");
        Combustion {
            start: place.over_speed("start_deg_btdc", -1.0),
            duration: place.over_speed("duration_deg", 1.0),
            form: place.number("form"),
            completeness: place.number("completeness"),
            efficiency: place.number("efficiency"),
        }
    }

    pub(super) fn heat(&self) -> Heat {
        let place = self.at("heat");
        let law = match place.text("law").as_str() {
            "woschni" => HeatLaw::Woschni { scale: place.number("scale") },
            "adiabatic" => HeatLaw::Adiabatic,
            _ => HeatLaw::Annand {
                convective: place.number("convective"),
                radiative: place.number("radiative_w_per_m2k4"),
            },
        };
        Heat {
            law,
            walls: WallTemperatures {
                head: place.number("head_temperature_c"),
                piston: place.number("piston_temperature_c"),
                liner: place.number("liner_temperature_c"),
            },
            head_area_ratio: place.number("head_area_ratio"),
            crown_area_ratio: place.number("crown_area_ratio"),
        }
    }

    pub(super) fn friction(&self) -> Friction {
        let place = self.at("friction");
        Friction {
            constant: place.number("constant_bar"),
            per_piston_speed: place.number("per_piston_speed_bar"),
        }
    }

    pub(super) fn leaks(&self) -> Leaks {
        let place = self.at("leaks");
        Leaks { blow_by: place.number("blow_by_mm2"), crankcase: place.number("crankcase_mm2") }
    }

    pub(super) fn scavenging(&self) -> ScavengingLaw {
        let place = self.at("scavenging");
        match place.text("law").as_str() {
            "perfect-displacement" => ScavengingLaw::PerfectDisplacement,
            "two-part" => ScavengingLaw::TwoPart {
                displaced: place.number("displaced"),
                short_circuit: place.number("short_circuit"),
            },
            "curve" => ScavengingLaw::Curve {
                k0: place.number("k0"),
                k1: place.number("k1"),
                k2: place.number("k2"),
            },
            "table" => ScavengingLaw::Table {
                ratio: place.numbers("ratio").unwrap_or_default(),
                efficiency: place.numbers("efficiency").unwrap_or_default(),
            },
            "perfect-mixing" => ScavengingLaw::PerfectMixing,
            _ => self.version().unwrap_or(ModelVersion::STANDARD).scavenging(),
        }
    }

    pub(super) fn ambient(&self) -> Ambient {
        let place = self.at("ambient");
        Ambient {
            pressure: place.number("pressure_bar"),
            temperature: place.number("temperature_c"),
            relative_humidity: place.number("relative_humidity"),
        }
    }

    pub(super) fn fuel(&self) -> Fuel {
        let place = self.at("fuel");
        Fuel {
            lambda: place.number("lambda"),
            evaporated_share: place.number("evaporated_share"),
            latent_cooling: place.flag("latent_cooling"),
        }
    }
}
