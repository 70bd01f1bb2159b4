use freshcharge_sim::{cycle::*, model::*, scenario};
use std::sync::Arc;
fn main() {
    for f in std::env::args().skip(1) {
        let t = std::fs::read_to_string(&f).unwrap();
        let sc = match scenario::read(&t) {
            Ok(s) => s,
            Err(e) => {
                for x in e {
                    println!("{f}: {x}");
                }
                continue;
            }
        };
        println!("{f} notes {:?} defaults {}", sc.notes, sc.defaults.len());
        let e = match Engine::new(&sc.spec) {
            Ok(e) => e,
            Err(e) => {
                println!("{e}");
                continue;
            }
        };
        let ti = e.timing();
        println!(
            "EO {:.2} TO {:.2} blowdown {:.2} CR {:.2} squish {:.2}",
            ti.exhaust_opens.to_degrees(),
            ti.transfer_opens.to_degrees(),
            (ti.transfer_opens - ti.exhaust_opens).to_degrees(),
            freshcharge_sim::geometry::geometric_ratio(&sc.spec),
            freshcharge_sim::geometry::squish_gap(&sc.spec) * 1e3
        );
        let speeds = if std::env::var("RPM").is_ok() {
            scenario::parse_speeds(&std::env::var("RPM").unwrap()).unwrap()
        } else {
            sc.run_speeds.clone()
        };
        for &rpm in &speeds {
            let m = match e.at_speed(rpm) {
                Ok(m) => Arc::new(m),
                Err(e) => {
                    println!("{rpm} {e}");
                    continue;
                }
            };
            let t = std::time::Instant::now();
            match settle(&m, &Settings::single()) {
                Ok(p) => {
                    let q = &p.summary;
                    println!(
                        "{rpm} c{} r{:.0e} DR {:.4} TE {:.3} SE {:.3} p_eo {:.3} T {:.0} to {:.3}/{:.3} hot {:.3}mg b{:.3} dur {:.2} pen {:.3} late {:.2} lateback {:.3} P {:.3}kW bmep {:.2} peak {:.1}@{:.1} bal {:.0e} {:.0e} {:.0e} {:?} {:.1?}",
                        p.verdict.cycles(),
                        p.verdict.residual(),
                        q.delivery_ratio,
                        q.trapping_efficiency,
                        q.scavenging_efficiency,
                        q.cylinder_pressure_eo / 1e5,
                        q.cylinder_temperature_eo,
                        q.cylinder_pressure_to / 1e5,
                        q.crankcase_pressure_to / 1e5,
                        q.hot_backflow_mass * 1e6,
                        q.hot_backflow_burned * 1e6,
                        q.hot_backflow_duration.to_degrees(),
                        q.hot_backflow_penetration,
                        q.late_angle.map_or(f64::NAN, f64::to_degrees),
                        q.late_backflow_mass * 1e6,
                        q.power / 1e3,
                        q.bmep / 1e5,
                        q.peak_pressure / 1e5,
                        q.peak_pressure_angle.to_degrees(),
                        q.balance.mass,
                        q.balance.burned,
                        q.balance.energy,
                        p.work.evaluations,
                        t.elapsed()
                    )
                }
                Err(e) => println!("{rpm} ERR {e}"),
            }
        }
    }
}
