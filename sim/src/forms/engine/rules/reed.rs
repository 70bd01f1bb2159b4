//! Reed blocks: what cannot be built.

use super::Findings;
use crate::network::MAX_STAGES;
use crate::spec::{EngineSpec, ReedStage};
use crate::units::MM;

pub(super) fn check(found: &mut Findings, spec: &EngineSpec) {
    let Some(reed) = spec.intake.reed() else { return };
    if reed.stages.len() > MAX_STAGES {
        found.add(
            format!("intake.reed.stage[{MAX_STAGES}].name"),
            format!("at most {MAX_STAGES} stages can be computed; join petals that are alike"),
        );
    }
    for (s, stage) in reed.stages.iter().enumerate() {
        names(found, s, &reed.stages);
        one(found, &format!("intake.reed.stage[{s}]"), stage);
    }
}

fn names(found: &mut Findings, s: usize, stages: &[ReedStage]) {
    let path = format!("intake.reed.stage[{s}].name");
    let name = &stages[s].name;
    let plain = |ch: char| ch.is_ascii_alphanumeric() || ch == '-' || ch == '_';
    if !name.chars().all(plain) {
        found.add(&path, "use letters, digits, - and _ only: it becomes part of column names");
    }
    if !name.is_empty() && stages[..s].iter().any(|other| other.name == *name) {
        found.add(&path, "another stage has this name; each needs its own");
    }
}

fn one(found: &mut Findings, path: &str, stage: &ReedStage) {
    let petal = &stage.petal;
    if stage.petals.fract() != 0.0 && !stage.petals.is_nan() {
        found.add(format!("{path}.petals"), "petals are counted: write a whole number");
    }
    let reach = stage.window_length + stage.overlap;
    if reach > petal.length {
        let remedy = format!(
            "window and overlap together are {:.2} mm, the petal is {:.2} mm long",
            reach / MM,
            petal.length / MM
        );
        found.add(format!("{path}.window_length_mm"), remedy);
    }
    if stage.window_width > petal.width {
        let remedy = format!("the petal must cover it; it is {:.2} mm wide", petal.width / MM);
        found.add(format!("{path}.window_width_mm"), remedy);
    }
    if stage.stop > 0.7 * petal.length {
        let remedy = format!(
            "a petal of {:.2} mm does not bend so far: at most 0.7 of its length",
            petal.length / MM
        );
        found.add(format!("{path}.stop_mm"), remedy);
    }
}
