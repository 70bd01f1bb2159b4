//! What stands beside every advised cut, in one wording.

/// Beside every advised cut: what a cut risks, and what it may not be taken for.
pub const CUT: &str = "Caution: metal taken off cannot be put back. Try the stack first, measure before the first cut and after every step, and look at ring edges and window corners after the first hour. Wear eye and face shield, mask and hearing protection; raised ports may be against the law on the road: check your local rules.";

/// Both together, as they stand on every sheet, picture and page that advises a cut.
#[must_use]
pub fn beside_a_cut() -> String {
    format!("{CUT} {MODEL}")
}

/// Beside every number that a cut is advised by: what the model does not know.
pub const MODEL: &str = "Limits of the model: given scavenging, discharge coefficients and burning, no measured engine behind it yet. Trends and differences between neighbouring builds are worth more than absolute values.";
