//! The mean of several turns.

use super::summary::{Balance, GroupFigures, Point, ReedFigures, Summary, Verdict};

/// Assigns to each named field of `$to` the mean of the same field over `$of`.
macro_rules! means {
    ($to:expr, $of:expr, $($field:ident),* $(,)?) => {
        $($to.$field = mean($of.iter().map(|one| one.$field));)*
    };
}

fn mean(values: impl ExactSizeIterator<Item = f64>) -> f64 {
    let count = values.len() as f64;
    values.sum::<f64>() / count
}

/// The mean of those that are there; none where one is missing.
fn mean_of_all(values: impl ExactSizeIterator<Item = Option<f64>>) -> Option<f64> {
    let all: Option<Vec<f64>> = values.collect();
    all.map(|all| mean(all.into_iter()))
}

impl Point {
    /// The mean of turns that belong together: means of masses, work, pressures and times; shares and fuel
    /// consumption from the means they are made of; of petals what is largest.
    ///
    /// # Panics
    /// Without any turn.
    #[must_use]
    pub(crate) fn mean(turns: &[Self], verdict: Verdict) -> Self {
        let last = &turns[turns.len() - 1];
        let mut out = Self { verdict, ..last.clone() };
        let summaries: Vec<&Summary> = turns.iter().map(|turn| &turn.summary).collect();
        means_of_summaries(&mut out.summary, &summaries);
        shares(&mut out.summary, &summaries);
        for (g, group) in out.groups.iter_mut().enumerate() {
            let all: Vec<&GroupFigures> = turns.iter().map(|turn| &turn.groups[g]).collect();
            means!(
                group,
                all,
                hot_mass,
                hot_burned,
                hot_duration,
                hot_peak,
                penetration,
                hot_depth,
                late_mass,
                late_burned,
                net_mass,
                largest_slug,
            );
        }
        for (s, stage) in out.reed.iter_mut().enumerate() {
            let most = |of: fn(&ReedFigures) -> f64| {
                turns.iter().map(|t| of(&t.reed[s])).fold(0.0, f64::max)
            };
            stage.lift = most(|r| r.lift);
            stage.seat_speed = most(|r| r.seat_speed);
            stage.stop_speed = most(|r| r.stop_speed);
            stage.open = most(|r| r.open);
            stage.root_stress = most(|r| r.root_stress);
            stage.fatigue_share = most(|r| r.fatigue_share);
            stage.openings = turns.iter().map(|t| t.reed[s].openings).max().unwrap_or_default();
        }
        if turns.iter().any(|turn| turn.standstill.is_none()) {
            out.standstill = None;
        }
        out
    }
}

fn means_of_summaries(out: &mut Summary, all: &[&Summary]) {
    means!(
        out,
        all,
        reference_mass,
        delivered_fresh,
        delivery_ratio,
        charging_efficiency,
        scavenging_efficiency,
        scavenge_ratio,
        trapped_mass,
        leftover_fresh,
        cylinder_pressure_eo,
        cylinder_temperature_eo,
        crankcase_pressure_eo,
        crankcase_temperature_eo,
        cylinder_pressure_to,
        cylinder_temperature_to,
        crankcase_pressure_to,
        crankcase_temperature_to,
        cylinder_pressure_ec,
        hot_backflow_mass,
        hot_backflow_burned,
        hot_backflow_duration,
        hot_backflow_peak,
        cylinder_temperature_ec,
        exhaust_temperature,
        hot_backflow_penetration,
        late_backflow_mass,
        late_backflow_burned,
        exhaust_return_mass,
        exhaust_return_fresh,
        fresh_lost,
        crankcase_burned_fraction,
        crankcase_burned_hot,
        crankcase_burned_late,
        crankcase_burned_blow_by,
        blow_by_mass,
        crankcase_leak_mass,
        imep,
        crankcase_imep,
        fmep,
        bmep,
        torque,
        power,
        fuel_mass,
        burned_mass,
        heat_released,
        heat_to_walls,
        heat_to_crankcase,
        peak_pressure,
        peak_pressure_angle,
        exhaust_pulse_level,
    );
}

/// What is made of other means, or may be missing.
fn shares(out: &mut Summary, all: &[&Summary]) {
    let (delivery, charging) = (out.delivery_ratio, out.charging_efficiency);
    out.trapping_efficiency = (delivery > 0.0).then(|| (charging / delivery).clamp(0.0, 1.0));
    out.charging_efficiency = out.trapping_efficiency.map_or(0.0, |kept| kept * delivery);
    out.late_angle = mean_of_all(all.iter().map(|s| s.late_angle));
    out.mixing_rise = mean_of_all(all.iter().map(|s| s.mixing_rise));
    out.reed_backflow_mass = mean_of_all(all.iter().map(|s| s.reed_backflow_mass));
    let work = out.torque * crate::units::TURN;
    out.bsfc = (work > 0.0).then(|| out.fuel_mass / work);
    let balances: Vec<Balance> = all.iter().map(|s| s.balance).collect();
    means!(out.balance, balances, mass, burned, energy);
}
