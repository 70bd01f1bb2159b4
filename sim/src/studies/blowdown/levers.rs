//! Moves that shorten or end the backflow, each with what it holds.

use super::root::root;
use super::{difference, point};
use crate::forms::engine::Scenario;
use crate::spec::{Discharge, EngineSpec};
use crate::studies::StudyError;
use crate::studies::quantities::Facts;
use crate::units::{BAR, MM};

/// A move by an amount.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lever {
    /// Exhaust roof up [mm]; everything else stays.
    Roof,
    /// Exhaust chord wider [mm]; timing stays.
    Chord,
    /// Transfer roofs down (a cylinder with lower transfers) [mm].
    TransfersDown,
    /// Base stack thinner with the exhaust roof raised by as much, the squish held by the head gasket [mm]:
    /// only the transfers open later.
    BaseDownRoofUp,
    /// Base stack thinner, nothing else [mm]: both ports later, the squish smaller.
    BaseDown,
    /// Back pressure lower [bar].
    BackPressure,
    /// Bowl larger [cm³]: less compression, less pressure at exhaust opening.
    Bowl,
}

impl Lever {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Roof,
        Self::Chord,
        Self::TransfersDown,
        Self::BaseDownRoofUp,
        Self::BaseDown,
        Self::BackPressure,
        Self::Bowl,
    ];

    /// What is done, and what it holds.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Roof => "exhaust roof up",
            Self::Chord => "exhaust wider, timing held",
            Self::TransfersDown => "transfer roofs lower",
            Self::BaseDownRoofUp => {
                "base stack thinner, roof up as much, squish held by the head gasket"
            }
            Self::BaseDown => "base stack thinner alone",
            Self::BackPressure => "back pressure lower",
            Self::Bowl => "bowl larger",
        }
    }

    /// Unit of its amount.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::BackPressure => "bar",
            Self::Bowl => "cm³",
            _ => "mm",
        }
    }

    /// Largest amount worth trying on this engine.
    fn most(self, scenario: &Scenario) -> f64 {
        let spec = &scenario.spec;
        match self {
            Self::Roof => 10.0_f64.min(
                spec.exhaust.windows.iter().map(|w| w.roof_depth / MM).fold(99.0, f64::min) - 3.0,
            ),
            Self::Chord => {
                0.85 * spec.bore / MM
                    - spec.exhaust.windows.iter().map(|w| w.chord / MM).fold(0.0, f64::max)
            }
            Self::TransfersDown => 8.0,
            Self::BaseDownRoofUp | Self::BaseDown => spec.stack.base_total() / MM,
            Self::BackPressure => (spec.exhaust.back_pressure - 0.3 * BAR) / BAR,
            Self::Bowl => 12.0,
        }
    }
}

/// The engine with a lever moved by an amount.
///
/// # Errors
/// Why it cannot be so.
pub fn apply(scenario: &Scenario, lever: Lever, amount: f64) -> Result<Scenario, StudyError> {
    let spec = &scenario.spec;
    let off = scenario.value("stack.top_face_cut_mm").unwrap_or(0.0);
    let roofs = |by: f64| {
        let windows = spec.exhaust.windows.iter().enumerate();
        windows
            .map(move |(i, w)| {
                (format!("exhaust.window[{i}].roof_depth_mm"), w.roof_depth / MM + off - by)
            })
            .collect::<Vec<_>>()
    };
    let base = scenario.value("stack.base_total_mm").unwrap_or(0.0) - amount;
    let head = scenario.value("stack.head_total_mm").unwrap_or(0.0);
    let changes: Vec<(String, f64)> = match lever {
        Lever::Roof => roofs(amount),
        Lever::Chord => spec
            .exhaust
            .windows
            .iter()
            .enumerate()
            .map(|(i, w)| (format!("exhaust.window[{i}].chord_mm"), w.chord / MM + amount))
            .collect(),
        Lever::TransfersDown => spec
            .transfers
            .iter()
            .enumerate()
            .flat_map(|(g, t)| {
                t.windows.iter().enumerate().map(move |(i, w)| {
                    (
                        format!("transfer[{g}].window[{i}].roof_depth_mm"),
                        w.roof_depth / MM + off + amount,
                    )
                })
            })
            .collect(),
        Lever::BaseDownRoofUp => {
            let mut changes = roofs(amount);
            changes.push(("stack.base_total_mm".to_owned(), base));
            changes.push(("stack.head_total_mm".to_owned(), head + amount));
            changes
        }
        Lever::BaseDown => vec![("stack.base_total_mm".to_owned(), base)],
        Lever::BackPressure => {
            vec![(
                "exhaust.back_pressure_bar".to_owned(),
                spec.exhaust.back_pressure / BAR - amount,
            )]
        }
        Lever::Bowl => {
            let forms = ["head.assembled", "head.squish_plane", "head.joint_plane"];
            let form = forms.iter().find(|f| scenario.document.has(f)).unwrap_or(&forms[0]);
            let path = format!("{form}.volume_cm3");
            let volume = scenario.value(&path).unwrap_or(0.0);
            vec![(path, volume + amount)]
        }
    };
    let changes: Vec<(&str, f64)> = changes.iter().map(|(p, v)| (p.as_str(), *v)).collect();
    let changed = scenario.with_all(&changes).map_err(|f| StudyError::of_faults(&f))?;
    let faults = changed.faults_for_running();
    if faults.is_empty() { Ok(changed) } else { Err(StudyError::of_faults(&faults)) }
}

/// How far a lever has to go.
#[derive(Debug, Clone, PartialEq)]
pub enum Reached {
    /// By this amount the pressures at transfer opening are equal.
    At(f64),
    /// Nothing needs doing: the cylinder is below the crankcase already.
    Already,
    /// No amount is enough: the largest possible, what difference is left there [Pa], and what stops it.
    Never {
        /// Largest amount that the engine can take.
        most: f64,
        /// Pressure difference left there [Pa].
        left: f64,
        /// What stops it.
        why: Limit,
    },
}

/// What ends a lever's way.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Limit {
    /// The largest amount worth trying.
    #[error("the limit tried")]
    Tried,
    /// There is nothing left to take away.
    #[error("there is nothing to take away")]
    NothingLeft,
    /// The engine beyond has no answer.
    #[error(transparent)]
    Engine(#[from] StudyError),
}

/// What rounding and the exhaust's discharge coefficient leave of an answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Slack {
    /// Pressure difference [Pa] at the answer rounded down and up to a tenth.
    pub rounded: [f64; 2],
    /// The timing that the lever moves, at the half degrees below and above the answer; none where it moves
    /// none, or where the engine cannot stand there.
    pub half_degrees: Option<HalfDegrees>,
    /// Amounts with discharge coefficients 0.65 and 0.90; none where no amount is enough.
    pub coefficient: [Option<f64>; 2],
}

/// An answer read on the degree disc to the half degree.
#[derive(Debug, Clone, PartialEq)]
pub struct HalfDegrees {
    /// Which edge opens there.
    pub edge: &'static str,
    /// Opening angles [deg after top dead centre].
    pub angle: [f64; 2],
    /// Pressure difference left there [Pa].
    pub left: [f64; 2],
}

/// The opening that a lever moves: its words and the name of its figure.
fn moved_opening(lever: Lever) -> Option<(&'static str, &'static str)> {
    match lever {
        Lever::Roof | Lever::BaseDown => Some(("exhaust", "exhaust_opens_deg_atdc")),
        Lever::TransfersDown | Lever::BaseDownRoofUp => {
            Some(("transfers", "transfer_opens_deg_atdc"))
        }
        Lever::Chord | Lever::BackPressure | Lever::Bowl => None,
    }
}

/// Farthest that half a degree lies from an answer [mm].
const NEARBY: f64 = 0.6;

/// The half degrees around an answer and what they leave.
fn half_degrees(
    scenario: &Scenario,
    lever: Lever,
    amount: f64,
    left_at: &dyn Fn(f64) -> Result<f64, StudyError>,
) -> Option<HalfDegrees> {
    let (edge, key) = moved_opening(lever)?;
    let opens = |amount: f64| -> Result<f64, StudyError> {
        let changed = apply(scenario, lever, amount)?;
        Facts::only(&changed.spec, &[], &[key.to_owned()])
            .get(key)
            .ok_or(StudyError::NoQuantity { key })
    };
    let down = (opens(amount).ok()? * 2.0).floor() / 2.0;
    let angle = [down, down + 0.5];
    let left = |angle: f64| {
        let mut off = |amount: f64| Ok(opens(amount)? - angle);
        // an answer near the end of what the engine can take is looked at on one side only
        let ends = [amount - NEARBY, amount, amount + NEARBY];
        let [low, here, high] = ends.map(|at| off(at).ok().map(|f| (at, f)));
        let pair = [low.zip(here), here.zip(high)].into_iter().flatten();
        let (a, b) = pair.into_iter().find(|(a, b)| a.1 * b.1 <= 0.0)?;
        left_at(root(&mut off, a, b, 1e-6, 1e-7).ok()?).ok()
    };
    Some(HalfDegrees { edge, angle, left: [left(angle[0])?, left(angle[1])?] })
}

/// How far an answer of [`reach`] may be off.
///
/// # Errors
/// When the engine cannot be simulated at the rounded amounts.
pub fn slack(
    scenario: &Scenario,
    lever: Lever,
    amount: f64,
    rpm: f64,
) -> Result<Slack, StudyError> {
    let down = (amount * 10.0).floor() / 10.0;
    let at = |amount: f64| {
        Ok::<_, StudyError>(difference(&point(&apply(scenario, lever, amount)?.spec, rpm)?))
    };
    let with = |value: f64| {
        let found = reach_with(scenario, lever, rpm, &|spec| {
            spec.exhaust.discharge = Discharge::Constant(value);
        });
        match found {
            Ok(Reached::At(amount)) => Some(amount),
            Ok(Reached::Already) => Some(0.0),
            _ => None,
        }
    };
    Ok(Slack {
        rounded: [at(down)?, at(down + 0.1)?],
        half_degrees: half_degrees(scenario, lever, amount, &at),
        coefficient: [with(0.65), with(0.90)],
    })
}

/// Difference that counts as none [Pa].
const EQUAL: f64 = 20.0;

/// How far a lever has to go until cylinder and crankcase stand at one pressure when the transfers open,
/// at a speed [1/min].
///
/// # Errors
/// When the engine as it stands cannot be simulated.
pub fn reach(scenario: &Scenario, lever: Lever, rpm: f64) -> Result<Reached, StudyError> {
    reach_with(scenario, lever, rpm, &|_| ())
}

/// The same with every engine tried changed in something its file may not say.
pub(super) fn reach_with(
    scenario: &Scenario,
    lever: Lever,
    rpm: f64,
    change: &dyn Fn(&mut EngineSpec),
) -> Result<Reached, StudyError> {
    let mut f = |amount: f64| {
        let mut changed = apply(scenario, lever, amount)?;
        change(&mut changed.spec);
        Ok(difference(&point(&changed.spec, rpm)?))
    };
    let now = f(0.0)?;
    if now <= EQUAL {
        return Ok(Reached::Already);
    }
    // as far as the engine can take it
    let most = lever.most(scenario);
    let (mut good, mut left, mut bad, mut why) = (0.0, now, most, Limit::Tried);
    if most <= 1e-9 {
        return Ok(Reached::Never { most: 0.0, left: now, why: Limit::NothingLeft });
    }
    let mut at = most;
    for _ in 0..8 {
        match f(at) {
            Ok(value) if value <= 0.0 => {
                let found = root(&mut f, (good, left), (at, value), EQUAL, 1e-6)?;
                return Ok(Reached::At(found));
            }
            Ok(value) => {
                (good, left) = (at, value);
                if at >= bad - 1e-9 {
                    break;
                }
            }
            Err(reason) => {
                (bad, why) = (at, reason.into());
            }
        }
        at = 0.5 * (good + bad);
        if bad - good < 0.02 * most {
            break;
        }
    }
    Ok(Reached::Never { most: good, left, why })
}
