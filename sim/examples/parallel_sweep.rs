//! Torque over exhaust roof and speed on all cores, into an array.

use freshcharge_sim::prelude::*;
use ndarray::Array2;
use rayon::prelude::*;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let engine = Engine::from_toml(include_str!("../../scenarios/touring.toml"))?;
    let raised: Vec<f64> = (0..5).map(|i| 0.5 * f64::from(i)).collect();
    let speeds: Vec<f64> = (0..6).map(|i| 4000.0 + 1000.0 * f64::from(i)).collect();
    let path = "exhaust.window.roof_depth_mm";
    let roof = engine.value(path).ok_or("the exhaust windows have different roofs")?;
    let engines: Vec<Engine> =
        raised.iter().map(|by| engine.with(path, roof - by)).collect::<Result<_, _>>()?;
    let torques: Vec<f64> = (0..engines.len() * speeds.len())
        .into_par_iter()
        .map(|i| {
            let (engine, rpm) = (&engines[i / speeds.len()], speeds[i % speeds.len()]);
            Ok(engine.at(rpm)?.run_with(&Settings::sweep())?.summary.torque)
        })
        .collect::<Result<_, Error>>()?;
    let torque = Array2::from_shape_vec((engines.len(), speeds.len()), torques)?;

    println!("torque [N m]; down: exhaust roof raised [mm], across: speed [1/min]");
    println!("       {}", speeds.iter().map(|s| format!("{s:8.0}")).collect::<String>());
    for (by, row) in raised.iter().zip(torque.rows()) {
        println!("{by:6.1} {}", row.iter().map(|t| format!("{t:8.2}")).collect::<String>());
    }
    Ok(())
}
