//! Every question a user asks of an engine: silent, values in and values out.

pub mod angles;
pub mod blowdown;
pub mod correction;
pub mod fit;
pub mod quantities;
pub mod stack_plan;
pub mod sweep;
pub mod uncertainty;
