//! Gas exchange of crankcase-scavenged two-strokes.
//!
//! An engine file becomes an [`spec::EngineSpec`] (SI, complete, checked), that becomes a model of
//! volumes and links, and that a settled cycle with verdict, figures and traces. The library is
//! silent and pure: it reads no file, prints nothing, asks no clock.

pub mod column;
pub mod crank;
pub mod cycle;
pub mod engine;
pub mod flow;
pub mod forms;
pub mod gas;
pub mod geometry;
pub mod inquiry;
pub mod lane;
pub mod math;
pub mod model;
pub mod network;
pub mod ode;
pub mod pipe;
pub mod result;
pub mod spec;
pub mod studies;
pub mod sweep;
pub mod units;
pub mod window;
pub mod workshop;

pub use forms::engine as scenario;
