//! What a person reads or sees: values in, bytes out. Nothing here reads a file, asks a clock or knows a
//! command.

pub(crate) mod charts;
mod draw_error;
pub(crate) mod drawing;
pub(crate) mod faults;
pub(crate) mod over_angle;
pub(crate) mod rows;
pub(crate) mod stacks;
pub(crate) mod style;
pub(crate) mod tables;
pub(crate) mod words;
pub(crate) mod writeup;

pub(crate) use draw_error::DrawError;
