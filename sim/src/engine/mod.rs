//! What makes volumes an engine: burning, wall heat, scavenging. Pointwise kernels that see no
//! network.

pub mod combustion;
pub mod reed;
pub mod scavenging;
pub mod wall_heat;
