//! Delivery ratio over ten blowdowns: the exhaust roof raised step by step, everything else held.

use freshcharge_sim::prelude::*;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let text = include_str!("../../scenarios/touring.toml");
    let (engine, roof) = (Engine::from_toml(text)?, "exhaust.window.roof_depth_mm");
    let now = engine.value(roof).ok_or("the exhaust windows have different roofs")?;
    println!("roof [mm]  blowdown [deg]  delivery ratio [-]");
    for step in 0..10 {
        let depth = now + 2.0 - 0.5 * f64::from(step);
        let changed = engine.with(roof, depth)?;
        let blowdown = changed.quantity("blowdown_deg").ok_or("no blowdown")?;
        let point = changed.at(7000.0)?.run()?;
        println!("{depth:9.1}  {blowdown:14.1}  {:18.4}", point.summary.delivery_ratio);
    }
    Ok(())
}
