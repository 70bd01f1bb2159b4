//! Every question a user asks of an engine: silent, values in and values out.

pub mod angles;
pub mod blowdown;
pub mod correction;
pub mod fit;
pub mod measured;
pub mod plus_minus;
pub mod quantities;
pub mod rig;
pub mod run;
pub mod stack_plan;
pub mod sweep;
pub mod uncertainty;

mod cautions;
mod difference;
mod error;
mod grid_error;
mod peak;
mod verdict;
mod words;

pub use cautions::{CUT, MODEL, beside_a_cut};
pub use difference::{Difference, difference};
pub use error::StudyError;
pub use grid_error::{GridError, grid_error};
pub use peak::{Peak, peak};
pub use verdict::{Against, Item, Judgement, Reason, Verdict, judge};
pub use words::{half_width, number};
