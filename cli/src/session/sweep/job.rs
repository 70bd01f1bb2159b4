//! A sweep with all that its rows tell, and the header that says so.

use freshcharge_sim::cycle::Settings;
use freshcharge_sim::result::{COLUMNS, Column};
use freshcharge_sim::sweep::{Design, Sweep};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use super::sweep_file::Asked;
use crate::files::Failure;
use crate::present::rows::Objective;

/// Rises when a row's form changes.
const FORMAT: u32 = 1;
/// Most values of an axis that the header lists; charts need no more.
const SHOWN: usize = 1000;

/// A sweep ready to run.
pub(crate) struct Job {
    /// From number to engine.
    pub(crate) sweep: Sweep,
    /// Name of the plan.
    pub(crate) name: String,
    /// Results that a row tells.
    pub(crate) results: Vec<&'static Column>,
    /// What is better.
    pub(crate) objectives: Vec<Objective>,
    engine_hash: String,
}

/// Some digits of a hash are enough to tell plans apart.
fn hash(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().take(16).map(|b| format!("{b:02x}")).collect()
}

impl Job {
    /// Checks what was asked for.
    pub(crate) fn new(asked: Asked) -> Result<Self, Failure> {
        let Asked { name, base, engine_hash, plan, results, objectives, source } = asked;
        let sweep = Sweep::new(&base, plan).map_err(|faults| source.failure(&faults))?;
        let simulated = !sweep.plan().speeds.is_empty();
        let results = results.iter().filter(|_| simulated);
        let results =
            results.filter_map(|key| COLUMNS.iter().find(|c| c.key == key.as_str())).collect();
        Ok(Self { sweep, name, results, objectives, engine_hash })
    }

    /// Names of a row's columns.
    pub(crate) fn columns(&self) -> Vec<&str> {
        let mut names = vec!["case"];
        names.extend(self.sweep.paths().iter().map(String::as_str));
        names.extend(["rpm", "outcome", "reason"]);
        names.extend(self.sweep.plan().figures.iter().map(|f| f.key));
        names.extend(self.results.iter().map(|c| c.key));
        names.push("check");
        names
    }

    /// Place of the outcome in a row.
    pub(crate) fn outcome_column(&self) -> usize {
        self.sweep.paths().len() + 2
    }

    /// Everything above the rows: the same for the same plan, engine and program, so that results of
    /// another plan are never mixed in.
    pub(crate) fn header(&self, shard: super::Shard) -> String {
        let columns = self.columns().join(",");
        format!(
            "# freshcharge sweep results, form {FORMAT}\n# schema = {}\n# plan = {}\n# engine = {}\n# program = freshcharge {}\n# model = {}\n# shard = {shard}\n# about = {}\n{columns}\n",
            hash(&columns),
            hash(&self.identity().to_string()),
            self.engine_hash,
            env!("CARGO_PKG_VERSION"),
            self.sweep.base().spec.model.number(),
            self.about(),
        )
    }

    /// All that decides a row beside the engine file.
    fn identity(&self) -> Value {
        let plan = self.sweep.plan();
        let varied = |v: &freshcharge_sim::sweep::Varied| json!([v.path, v.values]);
        let axes: Vec<Value> =
            plan.axes.iter().map(|a| a.numbers.iter().map(varied).collect()).collect();
        let sample = plan.sample.as_ref().map(|s| {
            let over: Vec<Value> = s.over.iter().map(varied).collect();
            json!([design(s.design), s.count, s.seed, s.readings, over])
        });
        let holds: Vec<Value> =
            plan.holds.iter().map(|h| json!([h.of.key, h.by, h.at, h.shelf])).collect();
        let limits: Vec<Value> =
            plan.limits.iter().map(|l| json!([l.of.key, l.least, l.most])).collect();
        let settings = Settings::sweep();
        json!({
            "axes": axes,
            "sample": sample,
            "holds": holds,
            "limits": limits,
            "speeds": plan.speeds,
            "settings": [
                settings.without_pipes.tolerance, settings.without_pipes.repeat, settings.cycles, settings.without_pipes.steps,
                settings.without_pipes.memory, settings.without_pipes.plain,
            ],
        })
    }

    /// What charts and tables need to know.
    fn about(&self) -> Value {
        let plan = self.sweep.plan();
        let axes: Vec<Value> = plan
            .axes
            .iter()
            .map(|a| a.numbers.iter().map(|v| Value::from(v.path.as_str())).collect())
            .collect();
        let values: Vec<Value> = plan
            .axes
            .iter()
            .map(|a| match a.numbers.first() {
                Some(v) if v.values.len() <= SHOWN => json!(v.values),
                _ => Value::Null,
            })
            .collect();
        let sampled: Vec<&str> =
            plan.sample.iter().flat_map(|s| s.over.iter().map(|v| v.path.as_str())).collect();
        let held: Vec<Value> = plan.holds.iter().map(|h| json!([h.of.key, h.by])).collect();
        let objectives: Vec<Value> =
            self.objectives.iter().map(|o| json!([o.key, o.rising])).collect();
        json!({
            "name": self.name,
            "engine": self.sweep.base().spec.name,
            "axes": axes,
            "sampled": sampled,
            "design": plan.sample.as_ref().map(|s| design(s.design)),
            "held": held,
            "paths": self.sweep.paths(),
            "present": self.sweep.present(),
            "objectives": objectives,
            "values": values,
            "speeds": if plan.speeds.len() <= SHOWN { json!(plan.speeds) } else { Value::Null },
            "points": plan.sample.as_ref().map_or(1, |s| s.points() as u64),
            "cases": self.sweep.cases(),
            "chains": self.sweep.chains(),
            "rows_of_combination": self.sweep.rows(),
            "chains_of_combination": self.sweep.chains_of_one(),
        })
    }
}

fn design(design: Design) -> &'static str {
    match design {
        Design::Sobol => "sobol",
        Design::LatinHypercube => "latin-hypercube",
        Design::Indices => "indices",
    }
}
