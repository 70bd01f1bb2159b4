//! Questions asked of engines and rigs: values in, values out.

pub mod measured;
pub mod rig;
