//! What passes the intake: port, valve or petals, with carburettor and column; and what moves petals.
//!
//! # Decisions
//!
//! - Carburettor and intake port in series: 1/A² = 1/(C_d A)² + 1/(C_d A_venturi)².

use super::layout::{LIFT, VELOCITY};
use super::streams::{Place, Stream, between, carried, open};
use super::tables::Port;
use super::{STAND_IN, View};
use crate::column::Column;
use crate::flow::in_series;
use crate::lane::Lane;

/// Most stages of petals.
pub const MAX_STAGES: usize = 3;

/// Rate at which what is left of a column's flow is forgotten while petals are shut [1/s].
const FORGOTTEN: f64 = 2e4;

/// How far the intake is open.
#[derive(Debug, Clone, Copy)]
pub(super) struct IntakeOpening<L: Lane> {
    /// Geometric area of port, valve or petals [m²].
    pub(super) area: L,
    /// Effective area with everything in series [m²].
    pub(super) effective: L,
    /// Share of the whole pressure drop that the petals of each stage bear.
    borne: [L; MAX_STAGES],
}

/// What passes it.
pub(super) struct IntakeFlow<L: Lane> {
    pub(super) opening: IntakeOpening<L>,
    /// Positive into the crankcase.
    pub(super) stream: Stream<L>,
    /// Acceleration of the column [kg/s²].
    pub(super) acceleration: L,
    /// Quasi-steady flow that it follows [kg/s].
    pub(super) aim: L,
    /// Pressure at the end of the column, or outside, less that of the crankcase [Pa].
    pub(super) drop: L,
}

impl<L: Lane> View<'_, L> {
    /// How far the intake is open between these pressures.
    #[inline(always)]
    pub(super) fn intake_opening(&self, outside: L, inside: L, y: &[L]) -> IntakeOpening<L> {
        let f = &self.numbers.figures;
        let (zero, one) = (L::zero(), L::one());
        let mut borne = [zero; MAX_STAGES];
        let petals = self.choices.layout.petals > 0;
        let area = if petals { self.petals(y, &mut borne) } else { self.geometry.intake };
        let opening = area / f.intake_full;
        let discharge =
            self.discharge(Port::Intake, f.intake_discharge, opening, (outside, inside));
        let block = discharge * area;
        let mut effective = block;
        let passage = petals && self.choices.skirt_intake;
        if passage {
            effective = in_series(effective, f.passage_discharge * self.geometry.intake);
        }
        if self.choices.carburettor {
            effective = in_series(effective, f.venturi);
        }
        if petals {
            // pressure drops go as the inverse squares of areas in series
            let ratio = effective / L::select(block.gt(zero), block, one);
            let shut =
                if passage { L::select(self.geometry.intake.gt(zero), one, zero) } else { one };
            let share = L::select(block.gt(zero), ratio.squared(), shut);
            for part in borne.iter_mut().take(self.choices.layout.petals) {
                *part = *part * share;
            }
        }
        IntakeOpening { area, effective, borne }
    }

    /// Area of all petals, and the share of the block's pressure drop that falls at the petals of each
    /// stage, the rest at their windows.
    #[inline(always)]
    fn petals(&self, y: &[L], borne: &mut [L; MAX_STAGES]) -> L {
        let mut area = L::zero();
        for (s, petal) in self.numbers.petals.iter().enumerate() {
            // what it gives on its stop is no passage
            let lift =
                y[self.choices.layout.petal(s) + LIFT].at_least(L::zero()).at_most(petal.stop);
            let curtain = petal.curtain * lift;
            let windows = petal.windows.squared();
            borne[s] = windows / (windows + curtain.squared());
            area += in_series(curtain, petal.windows);
        }
        area
    }

    /// Stream through the intake from the surroundings, by its column where it has one.
    #[inline(always)]
    pub(super) fn intake(&self, rest: &Place<L>, y: &[L]) -> IntakeFlow<L> {
        let zero = L::zero();
        let f = &self.numbers.figures;
        let petals = self.choices.layout.petals > 0;
        let outside = self.outside_inlet();
        let drop = f.ambient_pressure - rest.upstream.pressure;
        if !petals && !open(self.geometry.intake) {
            let opening = IntakeOpening {
                area: self.geometry.intake,
                effective: zero,
                borne: [zero; MAX_STAGES],
            };
            let stream = Stream::none();
            return IntakeFlow { opening, stream, acceleration: zero, aim: zero, drop };
        }
        let opening = self.intake_opening(f.ambient_pressure, rest.upstream.pressure, y);
        let effective = opening.effective;
        let Some(at) = self.choices.layout.inlet() else {
            let stream = between(effective, &outside, rest, f.epsilon);
            return IntakeFlow { opening, stream, acceleration: zero, aim: zero, drop };
        };
        let shut = effective.le(zero);
        let flow = L::select(shut, zero, y[at]);
        let column = Column {
            ease: f.inlet_ease,
            losses: (f.inlet_loss_forward, f.inlet_loss_reverse),
            area: L::select(shut, L::splat(STAND_IN), effective),
            from: outside.upstream,
            to: rest.upstream,
            fastest: f.fastest,
        };
        let (acceleration, aim) = column.law(flow);
        let stream = carried(flow, &outside, rest);
        let acceleration = L::select(shut, zero, acceleration);
        if !petals {
            return IntakeFlow { opening, stream, acceleration, aim, drop };
        }
        // what accelerates the column and what it loses on the way do not reach the petals
        let drop = drop - acceleration / f.inlet_ease - column.loss(flow);
        let acceleration = L::select(shut, -y[at].scale(FORGOTTEN), acceleration);
        IntakeFlow { opening, stream, acceleration, aim, drop }
    }

    /// The same where a pipe has said what passes and which pressure stands ahead.
    #[inline(always)]
    pub(super) fn intake_from_pipe(
        &self,
        stream: Stream<L>,
        ahead: L,
        rest: &Place<L>,
        y: &[L],
    ) -> IntakeFlow<L> {
        let zero = L::zero();
        let opening = self.intake_opening(ahead, rest.upstream.pressure, y);
        let drop = ahead - rest.upstream.pressure;
        IntakeFlow { opening, stream, acceleration: zero, aim: zero, drop }
    }

    /// Rates of lift and velocity of all petals.
    #[inline(always)]
    pub(super) fn move_petals(&self, intake: &IntakeFlow<L>, y: &[L], dy: &mut [L]) {
        let per_radian = self.numbers.figures.time_per_radian;
        for (s, petal) in self.numbers.petals.iter().enumerate() {
            let at = self.choices.layout.petal(s);
            let (lift, velocity) = (y[at + LIFT], y[at + VELOCITY]);
            let pressure = intake.drop * intake.opening.borne[s];
            dy[at + LIFT] = velocity * per_radian;
            dy[at + VELOCITY] = petal.motion().acceleration(lift, velocity, pressure) * per_radian;
        }
    }
}
