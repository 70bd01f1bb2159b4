//! Where the integrator must land, and what happens there.

use super::ModelError;
use crate::crank::Crank;
use crate::spec::{EngineSpec, Intake, Window};
use crate::units::{DEG, TURN};

/// A known angle of the cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Event {
    /// θ in the traced cycle, from exhaust opening on [rad].
    pub angle: f64,
    /// What happens.
    pub kind: EventKind,
}

/// What happens at an event.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EventKind {
    /// The first window of a transfer group opens.
    GroupOpens(usize),
    /// The last window of a transfer group closes.
    GroupCloses(usize),
    /// The first transfer window of all opens.
    TransferOpens,
    /// The last transfer window of all closes.
    TransferCloses,
    /// The last exhaust window closes.
    ExhaustCloses,
    /// The intake opens.
    IntakeOpens,
    /// The intake closes.
    IntakeCloses,
    /// Burning starts.
    BurnStarts,
    /// Burning ends.
    BurnEnds,
    /// An area has a kink.
    Kink,
    /// The exhaust opens: the cycle ends and the next begins.
    ExhaustOpens,
}

/// Angles closer than this are one [rad].
const SAME_ANGLE: f64 = 1e-9;

/// Angles that define results, in the traced cycle [rad].
#[derive(Debug, Clone, PartialEq)]
pub struct Timing {
    /// Exhaust opening, where the cycle starts.
    pub exhaust_opens: f64,
    /// Exhaust closing.
    pub exhaust_closes: f64,
    /// First transfer opening.
    pub transfer_opens: f64,
    /// Last transfer closing.
    pub transfer_closes: f64,
    /// Opening of each group.
    pub group_opens: Vec<f64>,
    /// Closing of each group.
    pub group_closes: Vec<f64>,
    /// Intake opening and closing, the first of each within the cycle.
    pub intake: Option<(f64, f64)>,
    /// Further angles with a kink in some area.
    pub kinks: Vec<f64>,
}

/// Drops at which a crown-controlled window starts to open and is fully open [m].
fn crown_edges(spec: &EngineSpec, window: &Window) -> (f64, f64) {
    let edge = spec.stack.deck + spec.piston.crown_chamfer;
    (window.roof_depth - edge, window.floor_depth - edge)
}

/// Drops at which a skirt-controlled window is shut and fully open, on the way up [m].
fn skirt_edges(spec: &EngineSpec, window: &Window) -> (f64, f64) {
    let edge = spec.stack.deck + spec.piston.skirt_length;
    (window.floor_depth - edge, window.roof_depth - edge)
}

impl Timing {
    /// From an engine.
    ///
    /// # Errors
    /// When a port never opens or a transfer opens before the exhaust.
    pub fn of(spec: &EngineSpec, crank: &Crank<f64>) -> Result<Self, ModelError> {
        let mut kinks = Vec::new();
        let exhaust = port_period(spec, crank, &spec.exhaust.windows, "exhaust", &mut kinks)?;
        let mut group_opens = Vec::new();
        let mut group_closes = Vec::new();
        for group in &spec.transfers {
            let name = format!("transfer group {}", group.name);
            let (opens, closes) = port_period(spec, crank, &group.windows, &name, &mut kinks)?;
            if opens <= exhaust.0 {
                let by_deg = (exhaust.0 - opens) / DEG;
                return Err(ModelError::TransferFirst { group: group.name.clone(), by_deg });
            }
            group_opens.push(opens);
            group_closes.push(closes);
        }
        let first = group_opens.iter().copied().fold(f64::INFINITY, f64::min);
        let last = group_closes.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let intake = intake_period(spec, crank, exhaust.0, &mut kinks)?;
        Ok(Self {
            exhaust_opens: exhaust.0,
            exhaust_closes: exhaust.1,
            transfer_opens: first,
            transfer_closes: last,
            group_opens,
            group_closes,
            intake,
            kinks,
        })
    }

    /// All events of a cycle in order, with burning from `burn.0` to `burn.1` [rad].
    #[must_use]
    pub fn events(&self, burn: (f64, f64)) -> Vec<Event> {
        let mut events = vec![
            Event { angle: self.transfer_opens, kind: EventKind::TransferOpens },
            Event { angle: self.transfer_closes, kind: EventKind::TransferCloses },
            Event { angle: self.exhaust_closes, kind: EventKind::ExhaustCloses },
            Event { angle: burn.0, kind: EventKind::BurnStarts },
            Event { angle: burn.1, kind: EventKind::BurnEnds },
        ];
        for (g, angle) in self.group_opens.iter().enumerate() {
            events.push(Event { angle: *angle, kind: EventKind::GroupOpens(g) });
        }
        for (g, angle) in self.group_closes.iter().enumerate() {
            events.push(Event { angle: *angle, kind: EventKind::GroupCloses(g) });
        }
        if let Some((opens, closes)) = self.intake {
            events.push(Event { angle: opens, kind: EventKind::IntakeOpens });
            events.push(Event { angle: closes, kind: EventKind::IntakeCloses });
        }
        let within = |a: f64| into_cycle(a, self.exhaust_opens);
        let kinks = self.kinks.iter().map(|a| within(*a));
        events.extend(
            kinks
                .filter(|a| a - self.exhaust_opens > SAME_ANGLE)
                .map(|angle| Event { angle, kind: EventKind::Kink }),
        );
        events.sort_by(|a, b| a.angle.total_cmp(&b.angle));
        let end = Event { angle: self.exhaust_opens + TURN, kind: EventKind::ExhaustOpens };
        events.push(end);
        events
    }
}

/// The same angle, a whole number of turns on, within the cycle that starts at `start`.
#[must_use]
pub(super) fn into_cycle(angle: f64, start: f64) -> f64 {
    let mut angle = angle;
    while angle < start {
        angle += TURN;
    }
    while angle >= start + TURN {
        angle -= TURN;
    }
    angle
}

/// First opening and last closing of crown-controlled windows; their kinks are added.
fn port_period(
    spec: &EngineSpec,
    crank: &Crank<f64>,
    windows: &[Window],
    port: &str,
    kinks: &mut Vec<f64>,
) -> Result<(f64, f64), ModelError> {
    let mut period = (f64::INFINITY, f64::NEG_INFINITY);
    for window in windows {
        let (roof, floor) = crown_edges(spec, window);
        let angles = crank.angle_down(roof).zip(crank.angle_up(roof));
        let Some((opens, closes)) = angles else {
            let beyond = if roof < 0.0 { -roof } else { roof - crank.travel() };
            return Err(ModelError::NeverOpens { port: port.to_owned(), beyond_mm: beyond * 1e3 });
        };
        for angle in [Some(opens), Some(closes), crank.angle_down(floor), crank.angle_up(floor)] {
            kinks.extend(angle);
        }
        period = (period.0.min(opens), period.1.max(closes));
    }
    if period.0.is_finite() {
        Ok(period)
    } else {
        Err(ModelError::NeverOpens { port: port.to_owned(), beyond_mm: f64::INFINITY })
    }
}

/// Opening and closing of the intake, each as its first angle within the cycle.
fn intake_period(
    spec: &EngineSpec,
    crank: &Crank<f64>,
    start: f64,
    kinks: &mut Vec<f64>,
) -> Result<Option<(f64, f64)>, ModelError> {
    let within = |a: f64| into_cycle(a, start);
    match &spec.intake {
        Intake::Rotary { valve, .. } => {
            kinks.push(valve.opens + valve.ramp);
            kinks.push(valve.closes - valve.ramp);
            Ok(Some((within(valve.opens), within(valve.closes))))
        }
        Intake::PistonPort { windows, .. } | Intake::Reed { windows, .. } => {
            let mut period: Option<(f64, f64)> = None;
            for window in windows {
                let (shut, full) = skirt_edges(spec, window);
                let Some((closes, opens)) = crank.angle_down(shut).zip(crank.angle_up(shut)) else {
                    if shut > crank.travel() {
                        // the skirt never covers it: open throughout
                        continue;
                    }
                    let beyond_mm = -shut * 1e3;
                    return Err(ModelError::NeverOpens { port: "inlet".to_owned(), beyond_mm });
                };
                kinks.extend([closes, opens]);
                kinks.extend(crank.angle_down(full).into_iter().chain(crank.angle_up(full)));
                let (o, c) = period.unwrap_or((opens, closes));
                period = Some((o.min(opens), c.max(closes)));
            }
            Ok(period.map(|(o, c)| (within(o), within(c))))
        }
    }
}
