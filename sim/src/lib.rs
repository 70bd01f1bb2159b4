//! Gas exchange of crankcase-scavenged two-strokes.
//!
//! An engine file becomes an [`spec::EngineSpec`] (SI, complete, checked), that becomes a model of
//! volumes and links, and that a settled cycle with verdict, figures and traces. The library is
//! silent and pure: it reads no file, prints nothing, asks no clock.
//!
//! # From another program
//!
//! [`prelude`] holds what most programs need. This one tells the delivery ratio over ten blowdowns, the
//! exhaust roof raised half a millimetre at a time and everything else held:
//!
//! ```
//! use freshcharge_sim::prelude::*;
//!
//! fn main() -> Result<(), Box<dyn std::error::Error>> {
//!     let engine = Engine::from_toml(&std::fs::read_to_string("../scenarios/touring.toml")?)?;
//!     let roof = "exhaust.window.roof_depth_mm";
//!     let now = engine.value(roof).ok_or("the roofs differ")?;
//!     for step in 0..10 {
//!         let changed = engine.with(roof, now + 2.0 - 0.5 * f64::from(step))?;
//!         let blowdown = changed.quantity("blowdown_deg").ok_or("no blowdown")?;
//!         let point = changed.at(7000.0)?.run()?;
//!         println!("{blowdown:5.1} deg  {:.4}", point.summary.delivery_ratio);
//!     }
//!     Ok(())
//! }
//! ```
//!
//! Step by step:
//!
//! 1. [`Engine::from_toml`](prelude::Engine::from_toml) reads the text of an engine file; what is wrong
//!    with it comes back as a list of faults, each with its line and what to write instead.
//! 2. [`with`](prelude::Engine::with) changes a number by the path of its key, in the unit that the key
//!    names. The engine itself stays as it is; changes that no engine can have are refused.
//!    [`quantity`](prelude::Engine::quantity) tells what follows from the measurements alone.
//! 3. [`at`](prelude::Engine::at) takes a speed in revolutions a minute, and
//!    [`run`](prelude::OperatingPoint::run) settles the cycle. A cycle that does not repeat is an error, so
//!    that no figure of it is taken for a result.
//! 4. A [`Point`](result::Point) holds the figures, in SI units and with angles in radians.
//!    [`result::COLUMNS`] has them by name in the units of the trade.
//! 5. [`trace`](prelude::OperatingPoint::trace) gives what happens over the cycle besides, as arrays of one
//!    length:
//!
//! ```
//! use freshcharge_sim::prelude::*;
//!
//! # let text = std::fs::read_to_string("../scenarios/touring.toml")?;
//! let (_, trace) = Engine::from_toml(&text)?.at(7000.0)?.trace()?;
//! let opens = trace.event(TraceEvent::TransferOpens).ok_or("no transfers")?;
//! let row = trace.angle.partition_point(|angle| *angle < opens);
//! let (cylinder, case) = (trace.cylinder.pressure[row], trace.crankcase.pressure[row]);
//! println!("{:.0} Pa more in the cylinder when the transfers open", cylinder - case);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # Many engines at once
//!
//! Engines are `Send`, `Sync` and cheap to copy, so that any pool of threads will do; with rayon:
//!
//! ```
//! use freshcharge_sim::prelude::*;
//! use rayon::prelude::*;
//!
//! # let text = std::fs::read_to_string("../scenarios/touring.toml")?;
//! let engine = Engine::from_toml(&text)?;
//! let torques: Vec<f64> = [5000.0, 6000.0, 7000.0]
//!     .into_par_iter()
//!     .map(|rpm| Ok(engine.at(rpm)?.run()?.summary.torque))
//!     .collect::<Result<_, Error>>()?;
//! assert_eq!(torques.len(), 3);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! [`cycle::solve`] works on several engines side by side in each thread where the processor has wide
//! vectors, which suits sweeps of thousands; results are the same to the last bit.
//!
//! `sim/examples` holds three short programs: `blowdown`, `parallel_sweep` (into an array) and
//! `pipe_alone` (waves in a [`pipe::Network`] without an engine).
//!
//! # What it is worth
//!
//! Volumes are uniform in pressure, the scavenging law is a model, and discharge coefficients are estimates
//! unless they were measured: differences between builds of one engine are worth more than absolute
//! figures. Before metal is cut, check squish, ring pegs and clearances on the engine itself.

#![cfg_attr(
    test,
    allow(
        clippy::disallowed_methods,
        reason = "tests hold the portable functions against the system's"
    )
)]

pub mod column;
pub mod crank;
pub mod cycle;
pub mod engine;
pub mod flow;
pub mod forms;
pub mod gas;
pub mod geometry;
pub mod lane;
pub mod math;
pub mod model;
pub mod network;
pub mod ode;
pub mod pipe;
pub mod portable;
pub mod prelude;
pub mod result;
pub mod spec;
pub mod studies;
pub mod units;
pub mod window;

pub use forms::engine as scenario;
pub use studies::sweep;

/// Why a short blowdown blows back, and inputs found from measurements.
pub mod inquiry {
    pub use crate::studies::blowdown::*;
    pub use crate::studies::fit::*;
}

/// What the bench works with.
pub mod workshop {
    pub use crate::studies::angles::*;
    pub use crate::studies::correction::*;
    pub use crate::studies::quantities::*;
    pub use crate::studies::stack_plan::*;
    pub use crate::studies::uncertainty::*;
}
