//! Limits and guidelines as data: read, judged, quoted.

use std::path::Path;

use freshcharge_sim::spec::{EngineSpec, Intake};
use freshcharge_sim::studies::{Against, Item, Verdict, judge};
use freshcharge_sim::workshop::{Fact, Facts};
use serde::Deserialize;

use crate::args::Use;
use crate::files::{self, Failure};

/// The limits that come with the program.
pub(crate) const SHIPPED: &str = include_str!("../data/limits.toml");

/// One limit.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Limit {
    /// Name of the fact, ending with @ where it depends on speed.
    pub(crate) quantity: String,
    /// Lower bound.
    pub(crate) least: Option<f64>,
    /// Upper bound.
    pub(crate) most: Option<f64>,
    /// How close to a bound counts as near.
    #[serde(default)]
    pub(crate) near: f64,
    /// Uses it applies to; all when empty.
    #[serde(default, rename = "use")]
    pub(crate) uses: Vec<Use>,
    /// Kind of intake it applies to; all when left out.
    pub(crate) intake: Option<Kind>,
    /// What breaking it can do: 5 destroys the engine at once, 1 costs power or is only unusual.
    #[serde(default = "middling")]
    pub(crate) danger: u8,
    /// Where it comes from.
    pub(crate) source: String,
    /// How far to trust it.
    pub(crate) confidence: String,
    /// What to bear in mind.
    #[serde(default)]
    pub(crate) caution: String,
}

fn middling() -> u8 {
    3
}

/// A kind of intake.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Kind {
    /// Windows that the skirt opens.
    PistonPort,
    /// Crank web or disc.
    Rotary,
    /// Petals.
    Reed,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    limit: Vec<Limit>,
}

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

impl Limit {
    /// A fact with its half-width as a value to be judged.
    pub(crate) fn item(&self, fact: &Fact, half_width: f64) -> Item {
        let (least, most) = (self.least, self.most);
        Item {
            words: fact.words.clone(),
            unit: fact.unit.to_owned(),
            value: fact.value,
            error: half_width,
            against: Against::Limit { least, most, danger: self.danger },
        }
    }

    /// How a fact stands: broken beyond its half-width, near where a bound lies within it or within what
    /// counts as near.
    pub(crate) fn stands(&self, fact: &Fact, half_width: f64) -> Standing {
        let found = judge(&[self.item(fact, half_width)]);
        let room = found.reasons.first().map_or(f64::INFINITY, |r| r.room);
        match found.verdict {
            Verdict::BreaksLimit => Standing::Broken,
            Verdict::WithinReadings => Standing::Near,
            _ if room < self.near => Standing::Near,
            _ => Standing::Met,
        }
    }

    /// Whether it speaks of engines with such an intake.
    pub(crate) fn applies(&self, spec: &EngineSpec) -> bool {
        let own = match spec.intake {
            Intake::PistonPort { .. } => Kind::PistonPort,
            Intake::Rotary { .. } => Kind::Rotary,
            Intake::Reed { .. } => Kind::Reed,
        };
        self.intake.is_none_or(|kind| kind == own)
    }

    /// Its bounds in words.
    pub(crate) fn bounds(&self) -> String {
        match (self.least, self.most) {
            (Some(least), Some(most)) => format!("{least} to {most}"),
            (Some(least), None) => format!("at least {least}"),
            (None, Some(most)) => format!("at most {most}"),
            (None, None) => "no bound".to_owned(),
        }
    }

    /// The facts it speaks of: of those that depend on speed, the one at `rpm`; of windows that go by
    /// number, each.
    pub(crate) fn facts<'a>(&self, facts: &'a Facts, rpm: f64) -> Vec<&'a Fact> {
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
    let file: File = toml::from_str(&text).map_err(|error| {
        let line = error.span().map_or(1, |s| 1 + text[..s.start].matches('\n').count());
        Failure::Faults(format!(
            "{name}:{line}: {}\nA limit has quantity, least or most, near, use, intake, danger, source, confidence, caution; nothing was checked.\n",
            crate::faults::syntax_remedy(&text, &error)
        ))
    })?;
    Ok(file.limit.into_iter().filter(|l| l.uses.is_empty() || l.uses.contains(&usage)).collect())
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
