//! How sure an answer is: each uncertain input over its plausible range.

use super::levers::{Lever, Reached, reach_with};
use crate::forms::engine::Scenario;
use crate::spec::{Discharge, EngineSpec, ScavengingLaw};
use crate::units::{BAR, DEG};

/// An uncertain input and what the answer becomes at both ends of its range.
#[derive(Debug, Clone, PartialEq)]
pub struct Doubt {
    /// Which input, and the range.
    pub words: &'static str,
    /// Roof needed for equal pressures at each end [mm]; none where no roof is enough or none is needed.
    pub roof: [Option<f64>; 2],
}

type Change = fn(&mut EngineSpec, f64);

fn set_discharge(d: &mut Discharge, value: f64) {
    if let Discharge::Constant(c) = d {
        *c = value;
    }
}

/// Inputs with their two ends. Discharge coefficients: 0.65 to 0.90 (plausible range for ports); the others
/// are chosen here, without source.
const INPUTS: &[(&str, [f64; 2], Change)] = &[
    ("exhaust discharge coefficient 0.65 to 0.90", [0.65, 0.90], |s, v| {
        set_discharge(&mut s.exhaust.discharge, v);
    }),
    ("transfer discharge coefficient 0.65 to 0.90", [0.65, 0.90], |s, v| {
        for g in &mut s.transfers {
            set_discharge(&mut g.discharge, v);
        }
    }),
    ("burning starts 5° earlier or later", [-5.0, 5.0], |s, v| {
        for start in &mut s.combustion.start.value {
            *start += v * DEG;
        }
    }),
    ("burning takes 10° less or more", [-10.0, 10.0], |s, v| {
        for duration in &mut s.combustion.duration.value {
            *duration += v * DEG;
        }
    }),
    ("walls 50 K colder or hotter", [-50.0, 50.0], |s, v| {
        let w = &mut s.heat.walls;
        for wall in [&mut w.head, &mut w.piston, &mut w.liner] {
            *wall += v;
        }
    }),
    ("scavenging half displacement, or with a tenth short-circuited", [0.5, -0.1], |s, v| {
        s.scavenging =
            ScavengingLaw::TwoPart { displaced: v.max(0.0), short_circuit: (-v).max(0.0) };
    }),
    ("back pressure 0.05 bar lower or higher", [-0.05, 0.05], |s, v| {
        s.exhaust.back_pressure += v * BAR;
    }),
];

/// The roof needed for equal pressures at a speed [1/min], with each input at its ends.
#[must_use]
pub fn doubts(scenario: &Scenario, rpm: f64) -> Vec<Doubt> {
    let answer =
        |change: Change, value: f64| match reach_with(scenario, Lever::Roof, rpm, &|spec| {
            change(spec, value)
        }) {
            Ok(Reached::At(amount)) => Some(amount),
            Ok(Reached::Already) => Some(0.0),
            _ => None,
        };
    INPUTS
        .iter()
        .map(|(words, ends, change)| Doubt { words, roof: ends.map(|v| answer(*change, v)) })
        .collect()
}
