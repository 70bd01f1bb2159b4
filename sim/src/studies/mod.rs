//! What a user asks of a build, answered from the model and the bench: values in, values out.

mod cautions;
mod difference;
mod peak;
mod verdict;
mod words;

pub use cautions::{CUT, MODEL, beside_a_cut};
pub use difference::{Difference, difference};
pub use peak::{Peak, peak};
pub use verdict::{Against, Item, Judgement, Reason, Verdict, judge};
pub use words::{half_width, number};
