//! The page of checks: what was compared with what, how far apart the two are, how far they may be and why.

mod page;
mod sources;

use std::collections::BTreeMap;

pub use page::page;
pub use sources::{Basis, Kind, Sources};

use crate::record::Entry;

/// One comparison.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Comparison {
    /// Ours.
    pub value: f64,
    /// The reference.
    pub reference: f64,
    /// How far apart they may be.
    pub allowed: f64,
}

impl Comparison {
    /// Share of the tolerance that is used, with the sign of the difference.
    #[must_use]
    pub fn used(&self) -> f64 {
        let difference = self.value - self.reference;
        if self.allowed > 0.0 {
            difference / self.allowed
        } else if difference == 0.0 {
            0.0
        } else {
            f64::INFINITY.copysign(difference)
        }
    }
}

/// All comparisons of one thing by one test.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// The test.
    pub test: String,
    /// What it compares.
    pub what: String,
    /// Every comparison, in order.
    pub all: Vec<Comparison>,
    /// Why they may differ that far, where the tolerance is used most.
    pub reason: String,
    /// What the reference rests on; none where nobody has said.
    pub basis: Option<Basis>,
    worst: usize,
}

impl Check {
    /// The comparison that uses most of its tolerance.
    #[must_use]
    pub fn worst(&self) -> &Comparison {
        &self.all[self.worst]
    }

    /// The largest share of a tolerance that is used.
    #[must_use]
    pub fn used(&self) -> f64 {
        self.worst().used().abs()
    }

    /// Whether it rests on something outside this project.
    #[must_use]
    pub fn external(&self) -> bool {
        self.basis.as_ref().is_some_and(|b| b.kind != Kind::Own)
    }

    /// Whether only the digits of the reference are what separates the two: such a check uses nearly all of its
    /// tolerance whenever it is made of many comparisons.
    #[must_use]
    pub fn to_the_digit(&self) -> bool {
        self.reason.contains("digit")
    }

    /// What it is, in words.
    #[must_use]
    pub fn title(&self) -> String {
        format!("{} ({})", self.what, self.test.replace('_', " "))
    }
}

/// Checks from the lines of a run, in order of their names.
#[must_use]
pub fn gathered(log: &str, sources: &Sources) -> Vec<Check> {
    let mut checks: BTreeMap<(String, String), Check> = BTreeMap::new();
    for entry in log.lines().filter_map(Entry::parse) {
        let Entry::Check { test, what, value, reference, allowed, reason, .. } = entry else {
            continue;
        };
        let now = Comparison { value, reference, allowed };
        let check = checks.entry((test.clone(), what.clone())).or_insert_with(|| Check {
            basis: sources.of(&test, &what).cloned(),
            reason: reason.clone(),
            all: Vec::new(),
            worst: 0,
            test,
            what,
        });
        check.all.push(now);
        if check.all.len() == 1 || now.used().abs() > check.used() {
            check.worst = check.all.len() - 1;
            check.reason = reason;
        }
    }
    checks.into_values().collect()
}

/// The three checks against the outside world with the least margin, of those that `wanted` picks.
#[must_use]
pub fn tightest(checks: &[Check], wanted: impl Fn(&Check) -> bool) -> Vec<&Check> {
    let mut order: Vec<&Check> = checks.iter().filter(|c| c.external() && wanted(c)).collect();
    order.sort_by(|a, b| b.used().total_cmp(&a.used()));
    order.truncate(3);
    order
}

/// How many checks rest on what: (all, external, with a named publication).
#[must_use]
pub fn counts(checks: &[Check]) -> (usize, usize, usize) {
    let published = |c: &&Check| c.basis.as_ref().is_some_and(|b| b.kind == Kind::Published);
    let external = checks.iter().filter(|c| c.external()).count();
    (checks.len(), external, checks.iter().filter(published).count())
}

/// Every comparison as CSV.
#[must_use]
pub fn as_csv(checks: &[Check]) -> Vec<u8> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let heads = [
        "kind",
        "source",
        "test",
        "what",
        "reference",
        "ours",
        "difference",
        "allowed",
        "used",
        "holds",
        "reason",
    ];
    // memory takes every byte
    let _ = writer.write_record(heads);
    for check in checks {
        let (kind, source) =
            check.basis.as_ref().map_or(("", ""), |b| (b.kind.word(), b.source.as_str()));
        for c in &check.all {
            let number = |v: f64| format!("{v:e}");
            let holds = c.used().abs() <= 1.0;
            let numbers = [c.reference, c.value, c.value - c.reference, c.allowed, c.used().abs()]
                .map(number);
            let mut row: Vec<&str> = vec![kind, source, &check.test, &check.what];
            row.extend(numbers.iter().map(String::as_str));
            row.extend([if holds { "yes" } else { "NO" }, &check.reason]);
            let _ = writer.write_record(row);
        }
    }
    writer.into_inner().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(test: &str, what: &str, numbers: (f64, f64), allowed: f64) -> String {
        let [what, test] = [what, test].map(str::to_owned);
        let (value, reference) = numbers;
        Entry::Check {
            test,
            file: String::new(),
            what,
            value,
            reference,
            allowed,
            reason: "why".to_owned(),
        }
        .line()
    }

    #[test]
    fn what_uses_most_of_its_tolerance_is_told() {
        let log = [
            line("burning_follows_the_wiebe_table", "x", (1.0, 1.1), 1.0),
            line("burning_follows_the_wiebe_table", "x", (1.0, 0.5), 1.0),
            line("results_and_work_are_as_frozen", "bmep", (1.0, 1.0), 0.0),
            line("a_test_that_nobody_has_sorted", "y", (2.0, 1.0), 0.5),
        ]
        .join("\n");
        let checks = gathered(&log, &Sources::all());
        assert_eq!(counts(&checks), (3, 1, 1));
        let wiebe = checks.iter().find(|c| c.what == "x").unwrap();
        assert_eq!((wiebe.used(), wiebe.worst().reference), (0.5, 0.5));
        let nobody = checks.iter().find(|c| c.what == "y").unwrap();
        assert_eq!((nobody.used(), &nobody.basis), (2.0, &None));
        assert_eq!(tightest(&checks, |_| true), [wiebe]);
        assert!(tightest(&checks, Check::to_the_digit).is_empty());
        let page = page(&checks, true);
        assert!(page.contains("Wiebe") && page.contains("nobody has said what it rests on"));
        let text = String::from_utf8(as_csv(&checks)).unwrap();
        assert_eq!(text.lines().count(), 5);
    }
}
