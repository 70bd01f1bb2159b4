//! A tolerance is a named thing with a reason.

use crate::record::Entry;

/// How far a value may lie from its reference, and why that far.
#[derive(Debug, Clone, Copy)]
pub struct Tolerance {
    relative: f64,
    absolute: f64,
    reason: &'static str,
}

impl Tolerance {
    /// Relative to the reference.
    #[must_use]
    pub const fn relative(relative: f64, reason: &'static str) -> Self {
        Self { relative, absolute: 0.0, reason }
    }

    /// In the quantity's own unit.
    #[must_use]
    pub const fn absolute(absolute: f64, reason: &'static str) -> Self {
        Self { relative: 0.0, absolute, reason }
    }

    /// Either of the two is enough.
    #[must_use]
    pub const fn or_absolute(self, absolute: f64) -> Self {
        Self { absolute, ..self }
    }

    /// Whether `value` is near enough to `reference`.
    #[must_use]
    pub fn holds(&self, value: f64, reference: f64) -> bool {
        // a NaN holds nothing
        (value - reference).abs() <= self.relative * reference.abs() + self.absolute
    }

    /// Demands that `value` is near enough to `reference`.
    ///
    /// # Panics
    /// When it is not, saying by how much and what the tolerance rests on.
    #[track_caller]
    pub fn check(&self, what: &str, value: f64, reference: f64) {
        let allowed = self.relative * reference.abs() + self.absolute;
        let file = std::panic::Location::caller().file();
        Entry::check(file, what, (value, reference), allowed, self.reason).write();
        assert!(
            self.holds(value, reference),
            "{what}: {value:e} against {reference:e}, off by {:e} (relative {:e}); allowed {:e} relative, {:e} absolute: {}",
            value - reference,
            (value - reference) / reference,
            self.relative,
            self.absolute,
            self.reason
        );
    }
}
