//! Limits and guidelines as data: read, judged, quoted.

use std::path::Path;

pub(crate) use freshcharge_sim::forms::limits::Limit;
use freshcharge_sim::forms::limits::read;
use freshcharge_sim::spec::{EngineSpec, Intake};
use freshcharge_sim::studies::{Against, Item, Verdict, judge};
use freshcharge_sim::workshop::{Fact, Facts};

use crate::args::Use;
use crate::files::{self, Failure};

/// The limits that come with the program.
pub(crate) const SHIPPED: &str = include_str!("../data/limits.toml");

/// How a fact stands to a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub(crate) enum Standing {
    /// Inside, with room.
    Met,
    /// Inside, close to a bound.
    Near,
    /// Outside.
    Broken,
}

/// What a limit says of facts.
pub(crate) trait Judge {
    /// A fact with its half-width as a value to be judged.
    fn item(&self, fact: &Fact, half_width: f64) -> Item;
    /// How a fact stands: broken beyond its half-width, near where a bound lies within it or within what
    /// counts as near.
    fn stands(&self, fact: &Fact, half_width: f64) -> Standing;
    /// Whether it speaks of engines with such an intake.
    fn applies(&self, spec: &EngineSpec) -> bool;
    /// Its bounds in words.
    fn bounds(&self) -> String;
    /// The facts it speaks of: of those that depend on speed, the one at `rpm`; of windows that go by
    /// number, each.
    fn facts<'a>(&self, facts: &'a Facts, rpm: f64) -> Vec<&'a Fact>;
}

impl Judge for Limit {
    fn item(&self, fact: &Fact, half_width: f64) -> Item {
        let (least, most) = (self.least, self.most);
        Item {
            words: fact.words.clone(),
            unit: fact.unit.to_owned(),
            value: fact.value,
            error: half_width,
            against: Against::Limit { least, most, danger: self.danger },
        }
    }

    fn stands(&self, fact: &Fact, half_width: f64) -> Standing {
        let found = judge(&[self.item(fact, half_width)]);
        let room = found.reasons.first().map_or(f64::INFINITY, |r| r.room);
        match found.verdict {
            Verdict::BreaksLimit => Standing::Broken,
            Verdict::WithinReadings => Standing::Near,
            _ if room < self.near => Standing::Near,
            _ => Standing::Met,
        }
    }

    fn applies(&self, spec: &EngineSpec) -> bool {
        let own = match spec.intake {
            Intake::PistonPort { .. } => "piston-port",
            Intake::Rotary { .. } => "rotary",
            Intake::Reed { .. } => "reed",
        };
        self.intake.as_deref().is_none_or(|kind| kind == own)
    }

    fn bounds(&self) -> String {
        match (self.least, self.most) {
            (Some(least), Some(most)) => format!("{least} to {most}"),
            (Some(least), None) => format!("at least {least}"),
            (None, Some(most)) => format!("at most {most}"),
            (None, None) => "no bound".to_owned(),
        }
    }

    fn facts<'a>(&self, facts: &'a Facts, rpm: f64) -> Vec<&'a Fact> {
        let name = match self.quantity.strip_suffix('@') {
            Some(name) => format!("{name}@{rpm:.0}"),
            None => self.quantity.clone(),
        };
        let numbered = |key: &str| {
            let (head, tail) = name.split_once('_')?;
            let rest = key.strip_prefix(head)?.strip_prefix('_')?;
            let rest = rest.trim_start_matches(|c: char| c.is_ascii_digit());
            (rest.strip_prefix('_')? == tail).then_some(())
        };
        facts.0.iter().filter(|f| f.key == name || numbered(&f.key).is_some()).collect()
    }
}

/// The limits of a file, or those that come with the program, that apply to a use.
pub(crate) fn load(path: Option<&Path>, usage: Use) -> Result<Vec<Limit>, Failure> {
    let (text, name) = match path {
        Some(path) => (files::read_text(path)?, path.display().to_string()),
        None => (SHIPPED.to_owned(), "the shipped limits".to_owned()),
    };
    let limits = read(&text).map_err(|faults| {
        Failure::Faults(crate::faults::report(Path::new(&name), &text, &faults))
    })?;
    let applies = |l: &Limit| l.uses.is_empty() || l.uses.iter().any(|u| u == usage.word());
    Ok(limits.into_iter().filter(applies).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shipped_limits_can_be_read_and_each_has_a_source() {
        for usage in [Use::Utility, Use::Touring, Use::Road, Use::Race] {
            let limits = load(None, usage).unwrap();
            assert!(limits.len() > 12);
            for limit in limits {
                assert!(limit.source.len() > 10, "{limit:?}");
                assert!(limit.least.is_some() || limit.most.is_some(), "{limit:?}");
                assert!((1..=5).contains(&limit.danger), "{limit:?}");
            }
        }
    }
}
