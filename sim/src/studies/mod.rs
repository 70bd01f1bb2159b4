//! Questions asked of engines and rigs: values in, values out.

pub mod rig;
