use freshcharge_sim::{cycle::*, model::*, spec::*};
use std::sync::Arc;
fn w(chord: f64, roof: f64, floor: f64) -> Window {
    Window {
        centre: 0.,
        chord,
        roof_depth: roof,
        floor_depth: floor,
        roof_radius: 0.,
        floor_radius: 0.,
        roof_arch: 0.,
        axial_angle: 0.,
        radial_angle: 0.,
    }
}
pub fn spec() -> EngineSpec {
    let d = std::f64::consts::PI / 180.;
    EngineSpec {
        name: "t".into(),
        crank_train: CrankTrain {
            radius: 0.026,
            rod: 0.105,
            pin_offset: 0.,
        },
        bore: 0.054,
        piston: Piston {
            compression_height: 0.03,
            skirt_length: 0.054,
            ring_depths: vec![],
            ring_pegs: vec![],
            dome_volume: 2e-6,
            crown_chamfer: 0.,
            mass: None,
        },
        stack: Stack {
            base_gaskets: vec![0.0004],
            spacers: vec![],
            head_gaskets: vec![0.0005],
            deck: 0.0003,
        },
        head: Head {
            clearance: Clearance::Assembled {
                volume: 12.5e-6,
                deck: 0.0003,
                head_gasket: 0.0005,
            },
            land_offset: 0.0004,
            squish_band: 0.008,
            land_angle: 0.,
        },
        exhaust: Exhaust {
            windows: vec![w(0.036, 0.031, 0.052)],
            discharge: Discharge::Constant(0.78),
            exit_area: None,
            duct_volume: 0.,
            ledge_loss_outward: 0.,
            ledge_loss_inward: 0.,
            back_pressure: 1.05e5,
            outside_temperature: 700.,
            silencer: None,
        },
        transfers: vec![
            TransferGroup {
                name: "main".into(),
                windows: vec![w(0.02, 0.042, 0.052); 2],
                discharge: Discharge::Constant(0.78),
                duct_volume: 30e-6,
                duct: None,
                wall_conductance: 0.,
                wall_temperature: 400.,
            },
            TransferGroup {
                name: "boost".into(),
                windows: vec![w(0.015, 0.0425, 0.052)],
                discharge: Discharge::Constant(0.78),
                duct_volume: 10e-6,
                duct: None,
                wall_conductance: 0.,
                wall_temperature: 400.,
            },
        ],
        crankcase: Crankcase {
            volume_at_tdc: 420e-6,
            wall_conductance: 0.5,
            wall_temperature: 363.,
        },
        intake: Intake::Rotary {
            valve: RotaryInlet {
                opens: -115. * d,
                closes: 55. * d,
                ramp: 20. * d,
                area: 4.5e-4,
            },
            disc: false,
            discharge: Discharge::Constant(0.75),
        },
        carburettor: Some(Carburettor {
            venturi: 0.022,
            throttle: 1.,
            discharge: 0.85,
        }),
        inlet_tract: None,
        combustion: Combustion {
            start: SpeedTable::constant(-12. * d),
            duration: SpeedTable::constant(52. * d),
            form: 2.0,
            completeness: 6.908,
            efficiency: 0.9,
        },
        heat: Heat {
            law: HeatLaw::Annand {
                convective: 0.26,
                radiative: 0.,
            },
            walls: WallTemperatures {
                head: 473.,
                piston: 523.,
                liner: 423.,
            },
            head_area_ratio: 1.2,
            crown_area_ratio: 1.1,
        },
        friction: Friction {
            constant: 0.3e5,
            per_piston_speed: 0.03e5,
        },
        leaks: Leaks {
            blow_by: 0.,
            crankcase: 0.,
        },
        scavenging: ScavengingLaw::PerfectMixing,
        ambient: Ambient {
            pressure: 101325.,
            temperature: 293.15,
            relative_humidity: 0.5,
        },
        fuel: Fuel {
            lambda: 0.9,
            evaporated_share: 1.,
            latent_cooling: false,
        },
    }
}
fn main() {
    let s = spec();
    let e = Engine::new(&s).unwrap();
    for rpm in [3000., 4000., 5000., 6000., 7000., 8000., 9000.] {
        let m = Arc::new(e.at_speed(rpm).unwrap());
        let t = std::time::Instant::now();
        let p = settle(&m, &Settings::single());
        let dt = t.elapsed();
        match p {
            Ok(p) => {
                let q = &p.summary;
                println!(
                    "{rpm} {:?} DR {:.5} TE {:.4} p_eo {:.3} T {:.0} p_to {:.3}/{:.3} hot {:.3}mg dur {:.2} pen {:.3} late {:?} P {:.3}kW peak {:.2}@{:.1} bal {:.1e} {:.1e} {:.1e} {:?} {:?}",
                    p.verdict,
                    q.delivery_ratio,
                    q.trapping_efficiency,
                    q.cylinder_pressure_eo / 1e5,
                    q.cylinder_temperature_eo,
                    q.cylinder_pressure_to / 1e5,
                    q.crankcase_pressure_to / 1e5,
                    q.hot_backflow_mass * 1e6,
                    q.hot_backflow_duration.to_degrees(),
                    q.hot_backflow_penetration,
                    q.late_angle.map(f64::to_degrees),
                    q.power / 1e3,
                    q.peak_pressure / 1e5,
                    q.peak_pressure_angle.to_degrees(),
                    q.balance.mass,
                    q.balance.burned,
                    q.balance.energy,
                    p.work,
                    dt
                )
            }
            Err(e) => println!("{rpm} ERR {e}"),
        }
    }
}
