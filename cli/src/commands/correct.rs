//! `freshcharge correct`: measured power to standard air.

use std::fmt::Write as _;

use freshcharge_sim::workshop::{Standard, TestAir, factor, saturation_pressure};

use crate::Outcome;
use crate::args::CorrectArgs;
use crate::session::files::{self, Failure};

/// Runs the command.
pub(crate) fn run(args: &CorrectArgs) -> Result<Outcome, Failure> {
    let inside = (500.0..=1100.0).contains(&args.pressure)
        && (-40.0..=60.0).contains(&args.temperature)
        && (0.0..=100.0).contains(&args.humidity);
    if !inside {
        return Err(Failure::Argument {
            flag: "correct",
            value: format!("{} mbar, {} °C, {} %", args.pressure, args.temperature, args.humidity),
            remedy: "write pressure in mbar (500 to 1100), temperature in °C (-40 to 60), humidity in % (0 to 100)".to_owned(),
        });
    }
    let vapour = args.humidity / 100.0 * saturation_pressure(args.temperature);
    let air = TestAir { pressure: args.pressure / 10.0, temperature: args.temperature, vapour };
    let mut text = format!(
        "{:.1} mbar, {:.1} °C, vapour {:.1} mbar\n",
        args.pressure,
        args.temperature,
        10.0 * vapour
    );
    for standard in Standard::ALL {
        let (factor, within) = factor(standard, &air);
        let note = if within { "" } else { "  outside what the standard allows: do not quote it" };
        let power = args.power.map_or(String::new(), |p| format!("  {:.2} kW", factor * p));
        let _ = writeln!(text, "{:<10} factor {factor:.4}{power}{note}", standard.name());
    }
    text.push_str("Factors multiply the measured power; they were made for four-strokes and are only usual for two-strokes.\n");
    files::print(&text)?;
    Ok(Outcome::Done)
}
