//! `freshcharge angles`: timings from one convention into the others.

use std::fmt::Write as _;

use freshcharge_sim::geometry;
use freshcharge_sim::units::{DEG, MM};
use freshcharge_sim::workshop;

use super::run::load;
use crate::Outcome;
use crate::args::AnglesArgs;
use crate::files::{self, Failure};

/// Runs the command.
pub(crate) fn run(args: &AnglesArgs) -> Result<Outcome, Failure> {
    let engine = args.engine.as_deref().map(load).transpose()?;
    let mut text = String::from(
        "Symmetrical about bottom dead centre; atdc/btdc after/before top, bbdc/abdc before/after bottom.\n\n",
    );
    for timing in &args.timing {
        let converted = workshop::convert(timing).map_err(|remedy| Failure::Argument {
            flag: "angles",
            value: timing.clone(),
            remedy,
        })?;
        for c in converted {
            let ms = args.rpm.map(|rpm| c.duration / (6.0 * rpm) * 1e3);
            let ms = ms.map_or(String::new(), |ms| format!(", {ms:.3} ms"));
            if c.what == "blowdown" {
                let _ =
                    writeln!(text, "{:<14} {:.2}°{ms}  (exhaust − transfer)/2", c.what, c.duration);
                continue;
            }
            let _ = write!(
                text,
                "{:<14} duration {:.2}°{ms}: opens {:.2}° atdc = {:.2}° bbdc, closes {:.2}° abdc = {:.2}° btdc",
                c.what, c.duration, c.opens_atdc, c.opens_bbdc, c.closes_abdc, c.closes_btdc
            );
            if let Some((scenario, _)) = &engine {
                let spec = &scenario.spec;
                let drop = geometry::crank(spec).at(c.opens_atdc * DEG).drop;
                let depth = drop + spec.stack.deck + spec.piston.crown_chamfer;
                let _ = write!(text, "; roof {:.2} mm below the top face", depth / MM);
            }
            text.push('\n');
        }
    }
    files::print(&text)?;
    Ok(Outcome::Done)
}
