//! Every key of an engine file in one table: what it is, its unit and range, its default, how it is
//! measured. The reader, the schema, the template and sweep axes all come from here.

mod engine;
mod ports;
mod running;
mod sections;

pub use super::super::keys::*;
pub use sections::{FORM, SECTIONS, section_at};
