//! Rows counted by outcome, and the best so far.

use std::collections::BTreeMap;
use std::fmt::Write;

use super::job::Job;
use crate::present::rows::text::cells;
use crate::present::rows::{OUTCOMES, Objective, Outcome};

/// Counts of rows, and the best row of each objective.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Tally {
    /// Rows of each outcome.
    pub(crate) outcomes: BTreeMap<Outcome, u64>,
    /// Refused rows by what refused them.
    pub(crate) refused: BTreeMap<String, u64>,
    /// Best value of each objective with its case.
    pub(crate) best: Vec<Option<(f64, u64)>>,
}

impl Tally {
    /// One more row.
    pub(crate) fn add(&mut self, outcome: Outcome, refused_by: Option<&str>) {
        *self.outcomes.entry(outcome).or_default() += 1;
        if let Some(by) = refused_by {
            if let Some(count) = self.refused.get_mut(by) {
                *count += 1;
            } else {
                self.refused.insert(by.to_owned(), 1);
            }
        }
    }

    /// A value of an objective; of equal ones the first case counts.
    pub(crate) fn offer(&mut self, which: usize, objective: &Objective, value: f64, case: u64) {
        if self.best.len() <= which {
            self.best.resize(which + 1, None);
        }
        let better = self.best[which].is_none_or(|(best, its)| {
            objective.better(value, best) || (value == best && case < its)
        });
        if better && value.is_finite() {
            self.best[which] = Some((value, case));
        }
    }

    /// All of another.
    pub(crate) fn join(&mut self, other: &Self, objectives: &[Objective]) {
        for (outcome, count) in &other.outcomes {
            *self.outcomes.entry(*outcome).or_default() += count;
        }
        for (by, count) in &other.refused {
            *self.refused.entry(by.clone()).or_default() += count;
        }
        for (which, best) in other.best.iter().enumerate() {
            if let (Some((value, case)), Some(objective)) = (best, objectives.get(which)) {
                self.offer(which, objective, *value, *case);
            }
        }
    }

    /// A row of an earlier run.
    pub(crate) fn read(&mut self, job: &Job, line: &str, case: u64) {
        let cells = cells(line);
        let place = job.outcome_column();
        let Some(outcome) = cells.get(place).and_then(|w| Outcome::called(w)) else { return };
        let reason = cells.get(place + 1).and_then(|r| r.split_once(':'));
        let by = reason.filter(|_| outcome == Outcome::Refused);
        self.add(outcome, by.map(|(by, _)| by.trim_start_matches("hold ")));
        if outcome == Outcome::Refused || outcome == Outcome::Faulty {
            return;
        }
        let columns = job.columns();
        for (which, objective) in job.objectives.iter().enumerate() {
            let place = columns.iter().position(|c| *c == objective.key);
            let cell = place.and_then(|p| cells.get(p)).and_then(|c| c.parse().ok());
            if let Some(value) =
                cell.filter(|_| !matches!(outcome, Outcome::NotSettled | Outcome::WouldNotRun))
            {
                self.offer(which, objective, value, case);
            }
        }
    }

    /// Rows in all.
    pub(crate) fn rows(&self) -> u64 {
        self.outcomes.values().sum()
    }

    /// Rows of an outcome.
    pub(crate) fn of(&self, outcome: Outcome) -> u64 {
        self.outcomes.get(&outcome).copied().unwrap_or_default()
    }

    /// In one line.
    pub(crate) fn words(&self) -> String {
        let mut out = String::new();
        for (outcome, word) in OUTCOMES {
            let count = self.of(outcome);
            if count > 0 {
                let comma = if out.is_empty() { "" } else { ", " };
                // writing to a String cannot fail
                let _ = write!(out, "{comma}{count} {}", word.replace('_', " "));
            }
        }
        if !self.refused.is_empty() {
            let mut by: Vec<_> = self.refused.iter().collect();
            by.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
            let named: Vec<String> = by.iter().take(4).map(|(k, n)| format!("{k} {n}")).collect();
            let more = if by.len() > 4 { ", …" } else { "" };
            let _ = write!(out, " (by {}{more})", named.join(", "));
        }
        out
    }
}
