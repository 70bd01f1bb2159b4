//! Required blowdown in its three senses, by the exhaust roof, other things held.
//!
//! # Decisions
//!
//! - The roof is searched from 4 mm lower to 9 mm higher than it is, as far as the engine can take it.

use super::levers::{Lever, apply};
use super::root::{highest, root};
use super::{counterfactual, difference, point};
use crate::forms::engine::Scenario;
use crate::studies::StudyError;
use crate::studies::quantities::Facts;

/// Required blowdown of an engine at one speed [deg]; none where there is none within what was tried.
#[derive(Debug, Clone, PartialEq)]
pub struct Required {
    /// Speed [1/min].
    pub rpm: f64,
    /// Blowdown there is.
    pub actual: f64,
    /// (a) Pressures equal at transfer opening: the upper bound.
    pub equal: Option<f64>,
    /// (b) Smallest that costs less than 1 % of charging efficiency against the counterfactual.
    pub harmless: Option<f64>,
    /// (c) The one that gives most brake torque.
    pub best_torque: Option<f64>,
    /// Difference left at the highest roof tried [bar], where there is no (a).
    pub nearest_miss: Option<f64>,
    /// Roof raised for (a) [mm]; negative when it may be lower.
    pub roof: Option<f64>,
}

/// How far the roof is lowered and raised in the search [mm].
const LOWEST: f64 = -4.0;
const HIGHEST: f64 = 9.0;
/// Difference that counts as none [Pa]; roof's resolution [mm], 0.02° of blowdown.
const EQUAL: f64 = 20.0;
const NARROW: f64 = 0.01;

/// All three at a speed [1/min].
///
/// # Errors
/// When the engine as it stands cannot be simulated.
pub fn required(scenario: &Scenario, rpm: f64) -> Result<Required, StudyError> {
    let blowdown = |roof: f64| -> Result<f64, StudyError> {
        let changed = apply(scenario, Lever::Roof, roof)?;
        Facts::only(&changed.spec, &[], &["blowdown_deg".to_owned()])
            .get("blowdown_deg")
            .ok_or(StudyError::NoQuantity { key: "blowdown" })
    };
    let mut excess = |roof: f64| -> Result<f64, StudyError> {
        Ok(difference(&point(&apply(scenario, Lever::Roof, roof)?.spec, rpm)?))
    };
    let now = excess(0.0)?;
    let (low, high) = (lowest(scenario), highest_roof(scenario));
    let mut nearest_miss = None;
    // towards higher roofs the difference falls
    let roof = if now > 0.0 {
        let top = excess(high)?;
        if top > 0.0 {
            nearest_miss = Some(top / 1e5);
            None
        } else {
            Some(root(&mut excess, (0.0, now), (high, top), EQUAL, 1e-5)?)
        }
    } else {
        let bottom = excess(low)?;
        if bottom < 0.0 {
            None
        } else {
            Some(root(&mut excess, (low, bottom), (0.0, now), EQUAL, 1e-5)?)
        }
    };
    let equal = roof.map(blowdown).transpose()?;
    let mut cost = |roof: f64| -> Result<f64, StudyError> {
        let spec = apply(scenario, Lever::Roof, roof)?.spec;
        let (real, held) = (point(&spec, rpm)?, counterfactual(&spec, rpm)?);
        Ok(1.0 - real.summary.charging_efficiency / held.summary.charging_efficiency - 0.01)
    };
    // nothing flows back beyond (a): the cost falls from a short blowdown to there
    let end = roof.unwrap_or(high);
    let harmless = {
        let (at_low, at_end) = (cost(low)?, cost(end)?);
        if at_end > 0.0 {
            None
        } else if at_low <= 0.0 {
            Some(low)
        } else {
            Some(root(&mut cost, (low, at_low), (end, at_end), 1e-5, NARROW)?)
        }
    };
    let mut torque = |roof: f64| -> Result<f64, StudyError> {
        Ok(point(&apply(scenario, Lever::Roof, roof)?.spec, rpm)?.summary.torque)
    };
    let best = highest(&mut torque, (low, high), 0.05)?;
    let inside = best > low + 0.1 && best < high - 0.1;
    Ok(Required {
        rpm,
        actual: blowdown(0.0)?,
        equal,
        harmless: harmless.map(blowdown).transpose()?,
        best_torque: if inside { Some(blowdown(best)?) } else { None },
        nearest_miss,
        roof,
    })
}

/// Lowest roof at which the exhaust still opens before the transfers [mm raised].
fn lowest(scenario: &Scenario) -> f64 {
    (0..=8)
        .map(|i| LOWEST * (1.0 - f64::from(i) / 8.0))
        .find(|r| {
            apply(scenario, Lever::Roof, *r)
                .is_ok_and(|s| Facts::of(&s.spec, &[]).get("blowdown_deg").is_some_and(|b| b > 3.0))
        })
        .unwrap_or(0.0)
}

/// Highest roof that the engine can take.
fn highest_roof(scenario: &Scenario) -> f64 {
    (0..=8)
        .map(|i| HIGHEST * (1.0 - f64::from(i) / 9.0))
        .find(|r| apply(scenario, Lever::Roof, *r).is_ok())
        .unwrap_or(0.0)
}
