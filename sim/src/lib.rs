//! Gas exchange of crankcase-scavenged two-strokes.
//!
//! An engine file becomes an [`spec::EngineSpec`] (SI, complete, checked), that becomes a model of
//! volumes and links, and that a settled cycle with verdict, figures and traces. The library is
//! silent and pure: it reads no file, prints nothing, asks no clock.

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
