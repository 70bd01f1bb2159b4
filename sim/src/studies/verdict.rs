//! Every judgement of the program: values, errors and what they are held against in, a verdict with its
//! reasons out.
//!
//! A value held against a limit *breaks* it when it lies outside by more than its error, is *within the
//! error of the readings* when the limit lies inside its error, and else breaks nothing. A value held
//! against the one before is *worth it* when it is better by more than the error of the difference,
//! *worse* when it is worse by more, and else *within the error*. Nothing else in the program words a
//! judgement of these; goals of a plan are limits with the band of the tolerances as error, and what
//! backflow costs is a value held against the one without it.

use super::words::{half_width, number};

/// What a value, or a build, is worth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// Outside a limit by more than the error.
    BreaksLimit,
    /// Below the value before by more than the error of the difference.
    Worse,
    /// A limit lies within the error of the value.
    WithinReadings,
    /// The difference is no larger than its error.
    WithinError,
    /// Inside every limit by more than the error.
    BreaksNothing,
    /// Better than the value before by more than the error of the difference.
    WorthIt,
}

impl Verdict {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::BreaksLimit => "breaks a limit",
            Self::Worse => "worse",
            Self::WithinReadings => "within the error of your readings",
            Self::WithinError => "within the error",
            Self::BreaksNothing => "breaks nothing",
            Self::WorthIt => "worth it",
        }
    }
}

/// What a value is held against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Against {
    /// Bounds, and how dangerous it is to break them.
    Limit {
        /// Lower bound.
        least: Option<f64>,
        /// Upper bound.
        most: Option<f64>,
        /// 5 where breaking it can destroy the engine at once, 1 where it only costs power.
        danger: u8,
    },
    /// The value before; more is better, or less.
    Base {
        /// It.
        value: f64,
        /// Whether a larger value is the better one.
        more_is_better: bool,
    },
}

/// One value to be judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// What it is.
    pub words: String,
    /// Unit for people.
    pub unit: String,
    /// Value.
    pub value: f64,
    /// Half-width ± of the value, or of its difference from the one before.
    pub error: f64,
    /// What it is held against.
    pub against: Against,
}

/// The judgement of one item.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reason {
    /// Which item.
    pub item: usize,
    /// Its verdict.
    pub verdict: Verdict,
    /// Room to the nearest bound, or gain over the value before, in the item's unit; negative is bad.
    pub room: f64,
    /// Danger of the limit; 0 of a comparison.
    pub danger: u8,
}

/// A verdict with its reasons, worst first and among equals the most dangerous.
#[derive(Debug, Clone, PartialEq)]
pub struct Judgement {
    /// Over all items.
    pub verdict: Verdict,
    /// One an item.
    pub reasons: Vec<Reason>,
}

impl Item {
    /// The value with its unit.
    fn shown(&self) -> String {
        let unit = if self.unit == "–" { "" } else { &self.unit };
        format!("{} {unit}", number(self.value)).trim_end().to_owned()
    }

    /// What it is held against, in words.
    fn bounds(&self) -> String {
        match self.against {
            Against::Limit { least: Some(l), most: Some(m), .. } => format!("{l} to {m}"),
            Against::Limit { least: Some(l), .. } => format!("at least {l}"),
            Against::Limit { most: Some(m), .. } => format!("at most {m}"),
            Against::Limit { .. } => "no bound".to_owned(),
            Against::Base { value, .. } => number(value),
        }
    }
}

impl Judgement {
    /// The verdict with the numbers that make it, to stand behind "it": the words of every verdict, in one
    /// place.
    #[must_use]
    pub fn sentence(&self, items: &[Item]) -> String {
        let of = |verdict: Verdict| {
            let told = self.reasons.iter().filter(move |r| r.verdict == verdict);
            told.map(|r| &items[r.item])
        };
        let limit = |it: &Item| format!("{} {} ({})", it.words, it.shown(), it.bounds());
        match self.verdict {
            Verdict::BreaksLimit => {
                let broken: Vec<String> = of(Verdict::BreaksLimit).map(limit).collect();
                match broken.len() {
                    1 => format!("breaks a limit: {}", broken[0]),
                    n => format!("breaks {n} limits, most dangerous first: {}", broken.join("; ")),
                }
            }
            Verdict::WithinReadings => {
                let close: Vec<String> = of(Verdict::WithinReadings)
                    .map(|it| {
                        format!(
                            "{} {} ± {} ({})",
                            it.words,
                            it.shown(),
                            half_width(it.error),
                            it.bounds()
                        )
                    })
                    .collect();
                format!("stands within the error of your readings of a limit: {}", close.join("; "))
            }
            Verdict::BreaksNothing => self.verdict.words().to_owned(),
            verdict => format!("{}: {}", self.values(items), verdict.words()),
        }
    }

    /// What is compared, in numbers alone.
    #[must_use]
    pub fn values(&self, items: &[Item]) -> String {
        let told = items.iter().filter_map(|it| match it.against {
            Against::Base { value, .. } => Some(format!(
                "{} {} instead of {} ({:+.2} ± {})",
                it.words,
                it.shown(),
                number(value),
                it.value - value,
                half_width(it.error)
            )),
            Against::Limit { .. } => None,
        });
        told.collect::<Vec<_>>().join(", ")
    }
}

/// A hair's breadth of rounding breaks no limit.
const HAIR: f64 = 1e-9;

/// Judges values. A broken limit outweighs any gain; where some values gain and others lose, what is
/// gained and lost in parts of the values before is added up, with the errors added in squares.
#[must_use]
pub fn judge(items: &[Item]) -> Judgement {
    let mut reasons: Vec<Reason> =
        items.iter().enumerate().map(|(item, it)| one(item, it)).collect();
    reasons.sort_by(|a, b| a.verdict.cmp(&b.verdict).then(b.danger.cmp(&a.danger)));
    let worst = |limits: bool| {
        let kind = |r: &&Reason| matches!(items[r.item].against, Against::Limit { .. }) == limits;
        reasons.iter().filter(kind).map(|r| r.verdict).min()
    };
    let verdict = match (worst(true), balance(items)) {
        (Some(limit), Some(gain)) => limit.min(gain),
        (limit, gain) => limit.or(gain).unwrap_or(Verdict::BreaksNothing),
    };
    Judgement { verdict, reasons }
}

/// The verdict of one item.
fn one(item: usize, it: &Item) -> Reason {
    let error = it.error.abs();
    match it.against {
        Against::Limit { least, most, danger } => {
            let room = [least.map(|l| it.value - l), most.map(|m| m - it.value)];
            // what is not a number has no room that anybody knows
            let least = |a: f64, b: f64| if a < b || a.is_nan() { a } else { b };
            let room = room.into_iter().flatten().fold(f64::INFINITY, least);
            let verdict = if room < -error - HAIR {
                Verdict::BreaksLimit
            } else if room > error || (error == 0.0 && room >= -HAIR) {
                Verdict::BreaksNothing
            } else {
                Verdict::WithinReadings
            };
            Reason { item, verdict, room, danger }
        }
        Against::Base { value, more_is_better } => {
            let gain = if more_is_better { it.value - value } else { value - it.value };
            Reason { item, verdict: weighed(gain, error), room: gain, danger: 0 }
        }
    }
}

fn weighed(gain: f64, error: f64) -> Verdict {
    if gain > error {
        Verdict::WorthIt
    } else if gain < -error {
        Verdict::Worse
    } else {
        Verdict::WithinError
    }
}

/// The verdict of all comparisons together; none where there is none.
fn balance(items: &[Item]) -> Option<Verdict> {
    let (mut gain, mut squares, mut count) = (0.0, 0.0, 0);
    for (item, it) in items.iter().enumerate() {
        let Against::Base { value, .. } = it.against else { continue };
        let scale = value.abs().max(f64::MIN_POSITIVE);
        gain += one(item, it).room / scale;
        squares += (it.error / scale).powi(2);
        count += 1;
    }
    (count > 0).then(|| weighed(gain, squares.sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limit(value: f64, error: f64, danger: u8) -> Item {
        let against = Against::Limit { least: Some(1.0), most: Some(2.0), danger };
        Item { words: "w".to_owned(), unit: "mm".to_owned(), value, error, against }
    }

    fn base(value: f64, error: f64) -> Item {
        let against = Against::Base { value: 10.0, more_is_better: true };
        Item { words: "t".to_owned(), unit: "N·m".to_owned(), value, error, against }
    }

    #[test]
    fn a_limit_is_broken_only_beyond_the_error() {
        let of = |v, e| judge(&[limit(v, e, 1)]).verdict;
        assert_eq!(of(1.5, 0.1), Verdict::BreaksNothing);
        assert_eq!(of(1.05, 0.1), Verdict::WithinReadings);
        assert_eq!(of(0.95, 0.1), Verdict::WithinReadings);
        assert_eq!(of(0.85, 0.1), Verdict::BreaksLimit);
        assert_eq!(of(2.0, 0.0), Verdict::BreaksNothing);
        assert_eq!(of(2.0 + 1e-6, 0.0), Verdict::BreaksLimit);
        assert_eq!(of(f64::NAN, 0.1), Verdict::WithinReadings);
    }

    #[test]
    fn a_gain_counts_only_beyond_the_error() {
        let of = |v, e| judge(&[base(v, e)]).verdict;
        assert_eq!(of(10.3, 0.2), Verdict::WorthIt);
        assert_eq!(of(10.1, 0.2), Verdict::WithinError);
        assert_eq!(of(9.7, 0.2), Verdict::Worse);
        // what is gained here and lost there is added up
        assert_eq!(judge(&[base(10.3, 0.1), base(9.4, 0.1)]).verdict, Verdict::Worse);
        assert_eq!(judge(&[base(10.3, 0.1), base(9.7, 0.1)]).verdict, Verdict::WithinError);
    }

    #[test]
    fn a_broken_limit_outweighs_a_gain_and_the_dangerous_come_first() {
        let items = [base(12.0, 0.1), limit(2.5, 0.1, 1), limit(0.5, 0.1, 5), limit(1.5, 0.1, 5)];
        let found = judge(&items);
        assert_eq!(found.verdict, Verdict::BreaksLimit);
        let order: Vec<usize> = found.reasons.iter().map(|r| r.item).collect();
        assert_eq!(order, [2, 1, 3, 0]);
        assert_eq!(judge(&[]).verdict, Verdict::BreaksNothing);
    }
}
