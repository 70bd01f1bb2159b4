//! Named quantities: everything that follows from the measurements of an engine.
//!
//! A [`Fact`] is one named quantity; check, comparison, goals and uncertainty all speak of facts.

mod intake;
mod space;
mod stack;
mod timing;
mod windows;

pub use stack::{SquishPeak, peak_squish};

use crate::crank::Crank;
use crate::forms::engine::Scenario;
use crate::geometry;
use crate::spec::EngineSpec;

/// Part of the list a fact stands in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Section {
    /// Opening, closing, duration.
    Timing,
    /// From exhaust opening to the first transfer opening.
    Blowdown,
    /// Width, area, metal.
    Windows,
    /// Angle-areas and time-areas.
    Areas,
    /// Deck, squish, volumes, ratios.
    Stack,
    /// What depends on speed alone.
    Speed,
    /// Carburettor, intake, exhaust exit.
    Passages,
    /// Floors and skirt at the dead centres.
    DeadCentres,
}

impl Section {
    /// Its heading.
    #[must_use]
    pub fn title(self) -> &'static str {
        match self {
            Self::Timing => "Timing",
            Self::Blowdown => "Blowdown",
            Self::Windows => "Windows",
            Self::Areas => "Angle-areas and time-areas",
            Self::Stack => "Stack, squish and compression",
            Self::Speed => "With speed",
            Self::Passages => "Intake, carburettor, exhaust exit",
            Self::DeadCentres => "At the dead centres",
        }
    }
}

/// One named quantity that follows from the measurements.
#[derive(Debug, Clone, PartialEq)]
pub struct Fact {
    /// Name with its unit last, as in `blowdown_deg`; with the speed where it depends on one, as in
    /// `blowdown_ms@8000`.
    pub key: String,
    /// Where it stands.
    pub section: Section,
    /// What it is.
    pub words: String,
    /// Unit for people.
    pub unit: &'static str,
    /// Value in that unit.
    pub value: f64,
}

/// Everything that follows from the measurements of one engine.
#[derive(Debug, Clone, PartialEq)]
pub struct Facts(pub Vec<Fact>);

impl Facts {
    /// Of an engine, with what depends on speed at each of `speeds` [1/min].
    #[must_use]
    pub fn of(spec: &EngineSpec, speeds: &[f64]) -> Self {
        Self::gathered(spec, speeds, None)
    }

    /// Only what `keys` name, for searches that ask for little often.
    #[must_use]
    pub fn only(spec: &EngineSpec, speeds: &[f64], keys: &[String]) -> Self {
        Self::gathered(spec, speeds, Some(keys))
    }

    fn gathered(spec: &EngineSpec, speeds: &[f64], only: Option<&[String]>) -> Self {
        let mut list = List { spec, crank: geometry::crank(spec), only, facts: Vec::new() };
        timing::gather(&mut list, speeds);
        windows::gather(&mut list);
        if list.wants("_area_") {
            timing::areas(&mut list, speeds);
        }
        stack::gather(&mut list);
        if list.wants("@") || list.wants("rpm_at") {
            stack::with_speed(&mut list, speeds);
        }
        intake::gather(&mut list, speeds);
        space::gather(&mut list);
        Self(list.facts)
    }

    /// Of a scenario.
    #[must_use]
    pub fn of_scenario(scenario: &Scenario, speeds: &[f64]) -> Self {
        Self::of(&scenario.spec, speeds)
    }

    /// The value of a fact.
    #[must_use]
    pub fn get(&self, key: &str) -> Option<f64> {
        self.0.iter().find(|f| f.key == key).map(|f| f.value)
    }
}

/// Facts being gathered.
struct List<'a> {
    pub(super) spec: &'a EngineSpec,
    pub(super) crank: Crank<f64>,
    only: Option<&'a [String]>,
    facts: Vec<Fact>,
}

impl List<'_> {
    /// Whether any fact with these letters in its name is asked for.
    pub(super) fn wants(&self, letters: &str) -> bool {
        self.only.is_none_or(|keys| keys.iter().any(|k| k.contains(letters)))
    }

    pub(super) fn put(
        &mut self,
        section: Section,
        key: impl Into<String>,
        words: impl Into<String>,
        unit: &'static str,
        value: f64,
    ) {
        if value.is_finite() {
            let (key, words) = (key.into(), words.into());
            self.facts.push(Fact { key, section, words, unit, value });
        }
    }

    /// Height by which the crown edge lies below the top face at top dead centre, less its chamfer:
    /// an edge at depth h is met at a drop of h less this [m].
    pub(super) fn edge(&self) -> f64 {
        self.spec.stack.deck + self.spec.piston.crown_chamfer
    }

    /// Opening angle of a crown-controlled edge at a depth [m → rad].
    pub(super) fn opens(&self, depth: f64) -> Option<f64> {
        self.crank.angle_down(depth - self.edge())
    }

    /// Its closing angle [rad].
    pub(super) fn closes(&self, depth: f64) -> Option<f64> {
        self.crank.angle_up(depth - self.edge())
    }

    /// Highest roof of windows [m].
    pub(super) fn highest(windows: &[crate::spec::Window]) -> Option<f64> {
        windows.iter().map(|w| w.roof_depth).min_by(f64::total_cmp)
    }
}
