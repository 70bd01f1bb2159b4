//! Chains of pipes: what cannot be put together.

use super::Findings;
use crate::spec::{EngineSpec, PieceForm, Pipework};
use crate::units::{CM3, MM};

pub(super) fn check(found: &mut Findings, spec: &EngineSpec) {
    for (path, pipes) in [("exhaust.pipe", &spec.exhaust.pipe), ("inlet_pipe", &spec.inlet_pipe)] {
        if let Some(pipes) = pipes {
            order(found, path, pipes);
        }
    }
    if spec.exhaust.pipe.is_some() && spec.exhaust.silencer.is_some() {
        found.add(
            "exhaust.silencer.volume_cm3",
            "behind a pipe the silencer is one of its sections: write volume_cm3 in an [[exhaust.pipe.section]], its outlet as the section after it",
        );
    }
    if spec.inlet_pipe.is_some() && spec.inlet_tract.is_some() {
        found.add(
            "inlet_tract.length_mm",
            "the inlet is either one column [inlet_tract] or pipes [inlet_pipe]; leave one out",
        );
    }
    if spec.exhaust.pipe.is_some() {
        casting(found, spec);
    }
}

/// The chain begins and ends with a section, and no two volumes touch.
fn order(found: &mut Findings, path: &str, pipes: &Pipework) {
    let volume = |i: usize| matches!(pipes.pieces[i].form, PieceForm::Volume(_));
    let last = pipes.pieces.len().saturating_sub(1);
    for index in 0..pipes.pieces.len() {
        let key = format!("{path}.section[{index}].volume_cm3");
        if !volume(index) {
            continue;
        }
        if index == 0 || index == last {
            found.add(key, "a chain of pipes begins and ends with a section that has a length");
        } else if volume(index - 1) {
            found.add(key, "two volumes touch: make one of them, or put the pipe between them");
        }
    }
}

/// The casting's duct must be a cone.
fn casting(found: &mut Findings, spec: &EngineSpec) {
    let (exhaust, volume) = (&spec.exhaust, spec.exhaust.duct_volume);
    let Some(length) = exhaust.duct_length else { return };
    if volume > 0.0 && exhaust.duct_entry(length).is_none() {
        let remedy = format!(
            "{:.1} mm of duct with this exit hold more than its {:.1} cm³; measure both again",
            length / MM,
            volume / CM3
        );
        found.add("exhaust.duct_length_mm", remedy);
    }
}
