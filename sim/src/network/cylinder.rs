//! The cylinder: what leaves through the exhaust and with which mixture, burning, heat to its walls.

use super::booking::Inside;
use super::contents::Contents;
use super::streams::{Exit, Place, Stream, TransferStreams, between, leaving, open, volume_share};
use super::tables::Port;
use super::zones::{Entering, Leaving, Parts, Zones};
use super::{HeatChoice, View};
use crate::engine::combustion::Wiebe;
use crate::engine::scavenging::{ExitCurve, LeavingCurve, LeavingForm, displaced};
use crate::engine::wall_heat::{Exposure, annand, woschni};
use crate::flow::{flow_function, in_series};
use crate::lane::{Lane, Mask, exp, ln};

impl<L: Lane> View<'_, L> {
    /// Stream through the exhaust windows, positive out of the cylinder, and from which zones it comes.
    #[inline(always)]
    pub(super) fn exhaust(
        &self,
        area: L,
        inside: &Inside<L>,
        behind: &Place<L>,
        transfers: &[TransferStreams<L>],
        entering: Option<&Entering<L>>,
    ) -> (Stream<L>, Parts<L>) {
        if !open(area) {
            return (Stream::none(), Parts::none());
        }
        let cylinder = &inside.cylinder;
        let pressures = (cylinder.pressure, behind.upstream.pressure);
        let effective = self.exhaust_opening(area, pressures);
        let place = Place::from(cylinder);
        let plain = between(effective, &place, behind, self.numbers.figures.epsilon);
        let outward = pressures.1.le(pressures.0);
        let (Some(zones), Some(entering)) = (&inside.zones, entering) else {
            return (self.scavenged(plain, outward, cylinder, transfers), Parts::none());
        };
        let leaving = self.leaving(zones, entering);
        let ratio = pressures.1 / pressures.0;
        let epsilon = self.numbers.figures.epsilon;
        let k = effective * pressures.0.sqrt() * flow_function(ratio, leaving.kappa, epsilon);
        let parts = zones.parts(k, &leaving, entering);
        let by_law = outward.and(zones.apart);
        let gas_constant = self.numbers.gas.at(behind.shares.burned).gas_constant();
        let returning = behind.upstream.specific_pressure_volume / gas_constant;
        let out = pick(by_law, &zones.stream(&parts, entering), &plain);
        (out, parts.where_leaving(by_law, returning))
    }

    /// What would leave by the scavenging law.
    #[inline(always)]
    pub(super) fn leaving(&self, zones: &Zones<L>, entering: &Entering<L>) -> Leaving<L> {
        let share = zones.share.at_least(L::zero()).at_most(L::one());
        let curve = match self.choices.leaving {
            LeavingForm::Mixing => share,
            LeavingForm::Displacement => displaced(share),
            LeavingForm::Table => LeavingCurve::at(
                |i| self.tables[i].leaving.as_ref().expect("choice says so"),
                share,
            ),
        };
        zones.leaving(curve, self.numbers.figures.short_circuit, entering)
    }

    /// Heat from the cylinder's gas to its walls [W], and of it from the new and the old zone: each has the
    /// share of the area that it has of the volume.
    #[inline(always)]
    pub(super) fn cylinder_heats(&self, inside: &Inside<L>) -> (L, [L; 2]) {
        let (zero, volume, drop) = (L::zero(), inside.volume, inside.drop);
        let Some(zones) = &inside.zones else {
            return (self.cylinder_heat(&inside.cylinder, volume, drop), [zero; 2]);
        };
        let of_new = self.cylinder_heat(&zones.contents(&zones.new, volume), volume, drop);
        let of_old = self.cylinder_heat(&zones.contents(&zones.residual, volume), volume, drop);
        let share = zones.share;
        let heat = [share * of_new, (L::one() - share) * of_old];
        let mut all = heat[0] + heat[1];
        if zones.apart.not().any() {
            let one = self.cylinder_heat(&inside.cylinder, volume, drop);
            all = L::select(zones.apart, all, one);
        }
        (all, heat)
    }

    /// Effective area of the exhaust between these pressures, the duct's exit in series.
    #[inline(always)]
    pub(super) fn exhaust_opening(&self, area: L, pressures: (L, L)) -> L {
        let f = &self.numbers.figures;
        let discharge =
            self.discharge(Port::Exhaust, f.exhaust_discharge, area / f.exhaust_full, pressures);
        let effective = discharge * area;
        if !self.choices.exit {
            return effective;
        }
        let outward = pressures.1.le(pressures.0);
        in_series(effective, L::select(outward, f.exit_outward, f.exit_inward))
    }

    /// What leaves by the scavenging law with the mass of `plain`; `plain` where no law applies.
    #[inline(always)]
    pub(super) fn scavenged(
        &self,
        plain: Stream<L>,
        outward: L::Mask,
        cylinder: &Contents<L>,
        transfers: &[TransferStreams<L>],
    ) -> Stream<L> {
        let f = &self.numbers.figures;
        if !self.phase.scavenging.gt(L::splat(0.5)).any() {
            return plain;
        }
        let share = volume_share(&self.numbers.gas, cylinder.shares.burned);
        let leaving_share = if self.choices.scavenging_table {
            ExitCurve::at(|i| self.tables[i].scavenging.as_ref().expect("choice says so"), share)
        } else {
            share
        };
        let (fresh, new) = entering(transfers);
        let exit = Exit {
            scavenging: self.phase.scavenging,
            leaving: leaving_share,
            short_circuit: f.short_circuit,
            entering_fresh: fresh,
            entering_new: new,
        };
        let out = leaving(&self.numbers.gas, plain.mass, cylinder, &exit);
        let use_law = outward.and(self.phase.scavenging.gt(L::splat(0.5)));
        pick(use_law, &out, &plain)
    }

    /// Rate of burning [kg/s].
    #[inline(always)]
    pub(super) fn burning(&self, theta: L, burned: L) -> L {
        let f = &self.numbers.figures;
        let charge = self.phase.burning * self.phase.charge;
        if !charge.gt(L::zero()).any() {
            return L::zero();
        }
        let y = (theta - f.burn_start) * f.burn_rate;
        let wiebe =
            Wiebe { form: f.burn_form, completeness: f.burn_completeness, normal: f.burn_normal };
        let left = (L::one() - burned).scale(1.0 / LAST_FRESH);
        let left = left.at_least(L::zero()).at_most(L::one());
        left * f.burn_efficiency * charge * wiebe.rate(y) * f.burn_rate / f.time_per_radian
    }

    /// Heat from the cylinder's gas to its walls [W].
    #[inline(always)]
    pub(super) fn cylinder_heat(&self, cylinder: &Contents<L>, volume: L, drop: L) -> L {
        let h = &self.numbers.heat;
        if self.choices.heat == HeatChoice::Adiabatic {
            return L::zero();
        }
        let t = cylinder.state.temperature;
        let exposure = Exposure {
            pressure: cylinder.pressure,
            temperature: t,
            density: cylinder.mass / volume,
            heat_capacity: cylinder.state.heat_capacity,
        };
        let coefficient = if self.choices.heat == HeatChoice::Annand {
            annand(&exposure, h.convective, h.bore, h.piston_speed)
        } else {
            h.convective * woschni(&exposure, h.bore_power, self.woschni_speed(cylinder, volume))
        };
        let liner = h.perimeter * (h.liner_at_top + drop);
        let convective = h.head_area * (t - h.head_wall)
            + h.crown_area * (t - h.crown_wall)
            + liner * (t - h.liner_wall);
        let t4 = fourth(t);
        let radiative = h.head_area * (t4 - fourth(h.head_wall))
            + h.crown_area * (t4 - fourth(h.crown_wall))
            + liner * (t4 - fourth(h.liner_wall));
        coefficient * convective + h.radiative * radiative
    }

    /// Woschni's gas speed w [m/s]: C₁·c_m + C₂·(V_s T_r)/(p_r V_r)·(p − p_motored).
    #[inline(always)]
    fn woschni_speed(&self, cylinder: &Contents<L>, volume: L) -> L {
        let phase = &self.phase;
        let motored = phase.reference_pressure
            * exp(ln(phase.reference_volume / volume).scale(MOTORED_EXPONENT));
        let excess = (cylinder.pressure - motored).at_least(L::zero());
        phase.woschni_speed * self.numbers.heat.piston_speed + phase.woschni_burning * excess
    }
}

/// Fourth power.
#[inline(always)]
fn fourth<L: Lane>(x: L) -> L {
    x.squared().squared()
}

/// Purity below which burning fades: where charge has leaked away past the rings, what is left cannot
/// burn as much as was trapped.
const LAST_FRESH: f64 = 0.002;
/// Polytropic exponent of Woschni's motored pressure.
const MOTORED_EXPONENT: f64 = 1.33;

/// Fresh and new fresh mass entering the cylinder through the transfers [kg/s].
#[inline(always)]
fn entering<L: Lane>(transfers: &[TransferStreams<L>]) -> (L, L) {
    let (mut fresh, mut new) = (L::zero(), L::zero());
    for t in transfers {
        let forward = t.from_slug.with(&t.from_rest);
        fresh += forward.mass - forward.burned;
        new += forward.mass - forward.old;
    }
    (fresh, new)
}

#[inline(always)]
fn pick<L: Lane>(mask: L::Mask, yes: &Stream<L>, no: &Stream<L>) -> Stream<L> {
    Stream {
        mass: L::select(mask, yes.mass, no.mass),
        enthalpy: L::select(mask, yes.enthalpy, no.enthalpy),
        burned: L::select(mask, yes.burned, no.burned),
        old: L::select(mask, yes.old, no.old),
        hot: L::select(mask, yes.hot, no.hot),
        late: L::select(mask, yes.late, no.late),
    }
}
