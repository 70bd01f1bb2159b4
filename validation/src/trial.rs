//! Many random engines, with counts of how they went.

use std::fmt;
use std::sync::Arc;

use freshcharge_sim::cycle::{Chain, CycleError, Settings, solve};
use freshcharge_sim::model::{Engine, Model};
use freshcharge_sim::result::{Point, Verdict};
use freshcharge_sim::scenario;
use freshcharge_sim::spec::{EngineSpec, ModelVersion};

use crate::bounds;
use crate::random::{self, Draws, Sample};

/// How many went how.
#[derive(Debug, Default)]
pub struct Tally {
    /// Drawn.
    pub tried: usize,
    /// Refused by the reader or the model, with the key of the first fault.
    pub refused: Counts,
    /// Settled.
    pub settled: usize,
    /// Would not run: nothing is delivered.
    pub standing: usize,
    /// Repeating after several turns only.
    pub of_several_turns: Vec<usize>,
    /// Not settled, by the quantity that still drifts.
    pub not_settled: Counts,
    /// Not computed, by cause.
    pub failed: Counts,
    /// Of those not settled, the ones that make power.
    pub open_with_power: Vec<usize>,
    /// Settled or repeating ones that make power.
    pub with_power: usize,
    /// Numbers of those that panicked.
    pub panicked: Vec<usize>,
    /// Broken bounds, in words.
    pub broken: Vec<String>,
    /// What was not computed, in words.
    pub examples: Vec<String>,
    /// Largest balance error, with its engine.
    pub worst_balance: (f64, usize),
    /// Most evaluations of the right-hand side, with their engine.
    pub slowest: (u64, usize),
    /// Largest residual of one that did not settle, with its engine.
    pub worst_residual: (f64, usize),
}

/// Engines of one cause whose numbers are printed.
const MOST_NAMED: usize = 30;

/// Numbers of the engines by cause.
pub type Counts = std::collections::BTreeMap<String, Vec<usize>>;

fn total(counts: &Counts) -> usize {
    counts.values().map(Vec::len).sum()
}

/// The larger of two numbers with their engines; a NaN is the largest.
fn worse<T: PartialOrd>(a: (T, usize), b: (T, usize)) -> (T, usize) {
    if b.0 <= a.0 { a } else { b }
}

impl Tally {
    /// Cases not settled.
    #[must_use]
    pub fn open(&self) -> usize {
        total(&self.not_settled)
    }

    /// Cases not computed.
    #[must_use]
    pub fn failures(&self) -> usize {
        total(&self.failed)
    }

    /// Cases refused.
    #[must_use]
    pub fn refusals(&self) -> usize {
        total(&self.refused)
    }

    /// An engine that panicked.
    #[must_use]
    pub fn panicked(index: usize) -> Self {
        Self { tried: 1, panicked: vec![index], ..Self::default() }
    }

    /// Counts the engines of another tally too.
    pub fn add(&mut self, other: Self) {
        self.tried += other.tried;
        self.settled += other.settled;
        self.standing += other.standing;
        self.of_several_turns.extend(other.of_several_turns);
        for (mine, counts) in [
            (&mut self.refused, other.refused),
            (&mut self.not_settled, other.not_settled),
            (&mut self.failed, other.failed),
        ] {
            for (cause, engines) in counts {
                mine.entry(cause).or_default().extend(engines);
            }
        }
        self.panicked.extend(other.panicked);
        self.open_with_power.extend(other.open_with_power);
        self.with_power += other.with_power;
        self.broken.extend(other.broken);
        self.examples.extend(other.examples);
        self.worst_balance = worse(self.worst_balance, other.worst_balance);
        self.slowest = worse(self.slowest, other.slowest);
        self.worst_residual = worse(self.worst_residual, other.worst_residual);
    }

    fn refuse(&mut self, cause: String, index: usize) {
        self.refused.entry(cause).or_default().push(index);
    }

    fn take(&mut self, index: usize, rpm: f64, result: &Result<Point, CycleError>, balance: f64) {
        let point = match result {
            Ok(point) => point,
            Err(error) => {
                self.failed.entry(cause(error)).or_default().push(index);
                self.examples.push(format!("engine {index} at {rpm:.0}/min: {error}"));
                return;
            }
        };
        match &point.verdict {
            _ if point.standstill.is_some() => self.standing += 1,
            Verdict::Settled { .. } => self.settled += 1,
            Verdict::Repeats { .. } => self.of_several_turns.push(index),
            Verdict::NotSettled { residual, slowest, .. } => {
                self.not_settled.entry(slowest.clone()).or_default().push(index);
                self.worst_residual = worse(self.worst_residual, (*residual, index));
            }
        }
        if point.summary.power > 0.0 && point.standstill.is_none() {
            if point.verdict.settled() {
                self.with_power += 1;
            } else {
                self.open_with_power.push(index);
            }
        }
        let held = bounds::keeps(point, balance).and_then(|()| bounds::keeps_trapping(point));
        if let Err(words) = held {
            self.broken
                .push(format!("engine {index} at {rpm:.0}/min: {words}; {:?}", point.verdict));
        }
        self.worst_balance = worse(self.worst_balance, (bounds::worst_balance(point), index));
        self.slowest = worse(self.slowest, (point.work.evaluations, index));
    }
}

/// An error without its numbers.
fn cause(error: &CycleError) -> String {
    match error {
        CycleError::OutOfBounds { part, quantity, .. } => {
            format!("{part}: {quantity} out of bounds")
        }
        CycleError::Pipe { .. } => "a cell of a pipe out of bounds".to_owned(),
        CycleError::TooManySteps { .. } => "too many steps in a cycle".to_owned(),
        other => other.to_string(),
    }
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        writeln!(
            f,
            "{} engines: {} refused, {} settled, {} repeating after several turns, {} would not run, {} not settled, {} not computed, {} panicked, {} with a broken bound",
            self.tried,
            self.refusals(),
            self.settled,
            self.of_several_turns.len(),
            self.standing,
            self.open(),
            self.failures(),
            self.panicked.len(),
            self.broken.len()
        )?;
        for (title, counts) in [
            ("refused", &self.refused),
            ("still drifts", &self.not_settled),
            ("failed", &self.failed),
        ] {
            for (cause, engines) in counts {
                let first = &engines[..engines.len().min(MOST_NAMED)];
                writeln!(f, "  {title}: {} × {cause}: {first:?}", engines.len())?;
            }
        }
        writeln!(
            f,
            "  of those that make power {} have an answer, {} have none: {:?}",
            self.with_power,
            self.open_with_power.len(),
            self.open_with_power
        )?;
        writeln!(
            f,
            "  worst balance {:.1e} (engine {})",
            self.worst_balance.0, self.worst_balance.1
        )?;
        writeln!(f, "  most evaluations {} (engine {})", self.slowest.0, self.slowest.1)?;
        writeln!(
            f,
            "  worst residual {:.1e} (engine {})",
            self.worst_residual.0, self.worst_residual.1
        )?;
        for index in &self.panicked {
            writeln!(f, "  PANIC: engine {index}")?;
        }
        for words in self.broken.iter().take(20).chain(self.examples.iter().take(20)) {
            writeln!(f, "  {words}")?;
        }
        Ok(())
    }
}

/// The engine of a number: the same whatever was drawn before it.
#[must_use]
pub fn sample(seed: u64, index: usize, pipes: bool) -> Sample {
    let mixed = seed.wrapping_mul(0x2545_f491_4f6c_dd1d).wrapping_add(index as u64);
    random::engine(&mut Draws::new(mixed.wrapping_mul(0x9e6c_63d0_876a_68ee)), pipes)
}

fn model_of(sample: &Sample, version: ModelVersion) -> Result<Model, String> {
    let scenario = scenario::read(&sample.text).map_err(|faults| {
        faults.first().map_or_else(String::new, |f| {
            f.to_string().chars().filter(|c| !c.is_ascii_digit()).take(90).collect()
        })
    })?;
    let spec = EngineSpec { model: version, ..scenario.spec };
    let model = Engine::new(&spec).and_then(|e| e.at_speed(sample.rpm));
    model.map_err(|e| e.to_string())
}

/// Settles the engines of a range of numbers by a version of the model.
#[must_use]
pub fn run(seed: u64, range: std::ops::Range<usize>, pipes: bool, version: ModelVersion) -> Tally {
    // pipes sum more, and cells lose more digits
    let balance = if pipes { 1e-9 } else { 1e-11 };
    let tally = std::cell::RefCell::new(Tally::default());
    let mut numbers = range;
    let mut source = || {
        loop {
            let index = numbers.next()?;
            let drawn = sample(seed, index, pipes);
            let mut tally = tally.borrow_mut();
            tally.tried += 1;
            match model_of(&drawn, version) {
                Ok(model) => return Some(Chain { index, models: vec![Ok(Arc::new(model))] }),
                Err(cause) => tally.refuse(cause, index),
            }
        }
    };
    solve(&Settings::sweep(), &mut source, &mut |index, _, result| {
        let mut tally = tally.borrow_mut();
        let rpm = sample(seed, index, pipes).rpm;
        tally.take(index, rpm, &result, balance);
    });
    tally.into_inner()
}
