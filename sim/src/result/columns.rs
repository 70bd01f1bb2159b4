//! Every result by the name, unit and words it carries in tables, JSON, CSV, sweeps and charts.

use super::summary::Point;
use crate::units::{BAR, DEG, MG, MM};

/// One named result of a point.
pub struct Column {
    /// Key in JSON, CSV and sweeps, unit last.
    pub key: &'static str,
    /// Words for a table head or an axis, unit in brackets.
    pub title: &'static str,
    /// What it is.
    pub meaning: &'static str,
    /// Its value; none where the point has none.
    pub value: fn(&Point) -> Option<f64>,
}

macro_rules! columns {
    ($($key:literal, $title:literal, $meaning:literal, $value:expr;)*) => {
        /// Every result, in the order of tables. A new result is one line here.
        pub const COLUMNS: &[Column] = &[$(Column {
            key: $key,
            title: $title,
            meaning: $meaning,
            value: $value,
        }),*];
    };
}

const J_PER_KWH: f64 = 3.6e6;

columns! {
    "rpm", "speed [1/min]", "Crank speed.", |p| Some(p.rpm);
    "power_kw", "power [kW]", "Brake power.", |p| Some(p.summary.power / 1e3);
    "torque_nm", "torque [N·m]", "Brake torque.", |p| Some(p.summary.torque);
    "bmep_bar", "bmep [bar]", "Brake mean effective pressure: cylinder and crankcase work less friction.", |p| Some(p.summary.bmep / BAR);
    "imep_bar", "imep [bar]", "Indicated mean effective pressure of the cylinder.", |p| Some(p.summary.imep / BAR);
    "crankcase_imep_bar", "crankcase imep [bar]", "Indicated mean effective pressure of the crankcase; negative when it takes work.", |p| Some(p.summary.crankcase_imep / BAR);
    "fmep_bar", "fmep [bar]", "Friction mean effective pressure.", |p| Some(p.summary.fmep / BAR);
    "bsfc_g_per_kwh", "bsfc [g/kWh]", "Fuel through the intake over brake work.", |p| p.summary.bsfc.map(|b| b * 1e3 * J_PER_KWH);
    "delivery_ratio", "delivery ratio [–]", "Air through the intake over dry air at ambient state filling the swept volume.", |p| Some(p.summary.delivery_ratio);
    "trapping_efficiency", "trapping efficiency [–]", "Fresh charge delivered in this cycle and kept at exhaust closing, over that through the intake; at most 1, empty where nothing is delivered.", |p| p.summary.trapping_efficiency;
    "charging_efficiency", "charging efficiency [–]", "Delivery ratio times trapping efficiency.", |p| Some(p.summary.charging_efficiency);
    "scavenging_efficiency", "scavenging efficiency [–]", "Fresh gas over all gas in the cylinder at exhaust closing.", |p| Some(p.summary.scavenging_efficiency);
    "scavenge_ratio", "scavenge ratio [–]", "Net mass through the transfer windows over the reference mass.", |p| Some(p.summary.scavenge_ratio);
    "trapped_mass_mg", "trapped mass [mg]", "All gas in the cylinder at exhaust closing.", |p| Some(p.summary.trapped_mass / MG);
    "leftover_fresh_mg", "unburned leftover [mg]", "Fresh gas left unburned from the cycle before, at exhaust closing.", |p| Some(p.summary.leftover_fresh / MG);
    "cylinder_pressure_at_exhaust_opening_bar", "cylinder pressure at exhaust opening [bar]", "Absolute.", |p| Some(p.summary.cylinder_pressure_eo / BAR);
    "cylinder_temperature_at_exhaust_opening_k", "cylinder temperature at exhaust opening [K]", "Mean gas temperature.", |p| Some(p.summary.cylinder_temperature_eo);
    "crankcase_pressure_at_exhaust_opening_bar", "crankcase pressure at exhaust opening [bar]", "Absolute.", |p| Some(p.summary.crankcase_pressure_eo / BAR);
    "cylinder_pressure_at_transfer_opening_bar", "cylinder pressure at transfer opening [bar]", "Absolute, when the first transfer window opens.", |p| Some(p.summary.cylinder_pressure_to / BAR);
    "cylinder_temperature_at_transfer_opening_k", "cylinder temperature at transfer opening [K]", "Mean gas temperature when the first transfer window opens.", |p| Some(p.summary.cylinder_temperature_to);
    "crankcase_pressure_at_transfer_opening_bar", "crankcase pressure at transfer opening [bar]", "Absolute, when the first transfer window opens.", |p| Some(p.summary.crankcase_pressure_to / BAR);
    "crankcase_temperature_at_transfer_opening_k", "crankcase temperature at transfer opening [K]", "Mean gas temperature when the first transfer window opens.", |p| Some(p.summary.crankcase_temperature_to);
    "pressure_difference_at_transfer_opening_bar", "cylinder less crankcase pressure at transfer opening [bar]", "Positive: flow starts in reverse.", |p| Some((p.summary.cylinder_pressure_to - p.summary.crankcase_pressure_to) / BAR);
    "pressure_ratio_at_transfer_opening", "cylinder over crankcase pressure at transfer opening [–]", "Above 1 flow starts in reverse.", |p| Some(p.summary.cylinder_pressure_to / p.summary.crankcase_pressure_to);
    "cylinder_pressure_at_exhaust_closing_bar", "cylinder pressure at exhaust closing [bar]", "Absolute, when the last exhaust window closes: compression starts from it.", |p| Some(p.summary.cylinder_pressure_ec / BAR);
    "cylinder_temperature_at_exhaust_closing_k", "cylinder temperature at exhaust closing [K]", "Mean gas temperature when the last exhaust window closes.", |p| Some(p.summary.cylinder_temperature_ec);
    "exhaust_temperature_k", "exhaust temperature [K]", "Of all that leaves the exhaust over a cycle, mixed: the temperature that has its enthalpy.", |p| Some(p.summary.exhaust_temperature);
    "pressure_rise_by_mixing_percent", "pressure rise by mixing [%]", "Rise of the cylinder's pressure at exhaust closing when new and old gas, until then apart, mix; model 2.", |p| p.summary.mixing_rise.map(|r| 100.0 * r);
    "late_angle_deg", "late angle [deg]", "From the first transfer opening until the cylinder falls below crankcase pressure.", |p| p.summary.late_angle.map(|a| a / DEG);
    "hot_backflow_mass_mg", "hot backflow [mg]", "Gas that flows from the cylinder into the transfer ducts before they first flow forward.", |p| Some(p.summary.hot_backflow_mass / MG);
    "hot_backflow_burned_mg", "burned gas in hot backflow [mg]", "Burned share of the hot backflow.", |p| Some(p.summary.hot_backflow_burned / MG);
    "hot_backflow_duration_deg", "hot backflow lasts [deg]", "Longest of any transfer group.", |p| Some(p.summary.hot_backflow_duration / DEG);
    "hot_backflow_duration_ms", "hot backflow lasts [ms]", "Longest of any transfer group.", |p| Some(p.summary.hot_backflow_duration / crate::units::angular_speed(p.rpm) * 1e3);
    "hot_backflow_peak_g_per_s", "hot backflow peak [g/s]", "Largest reverse mass flow of all groups together.", |p| Some(p.summary.hot_backflow_peak * 1e3);
    "hot_backflow_penetration", "penetration [duct volumes]", "How far gas from the cylinder has come down the ducts when hot backflow ends; above 1 it has reached the crankcase.", |p| Some(p.summary.hot_backflow_penetration);
    "late_backflow_mass_mg", "late backflow [mg]", "Reverse flow later in the transfer period.", |p| Some(p.summary.late_backflow_mass / MG);
    "late_backflow_burned_mg", "burned gas in late backflow [mg]", "Burned share of the late backflow.", |p| Some(p.summary.late_backflow_burned / MG);
    "exhaust_return_mass_mg", "exhaust return [mg]", "Gas that flows from the exhaust back into the cylinder.", |p| Some(p.summary.exhaust_return_mass / MG);
    "exhaust_return_fresh_mg", "fresh charge returned [mg]", "Fresh part of the exhaust return: charge that the exhaust pushed back into the cylinder.", |p| Some(p.summary.exhaust_return_fresh / MG);
    "fresh_lost_mg", "fresh charge lost [mg]", "Fresh gas through the exhaust, net.", |p| Some(p.summary.fresh_lost / MG);
    "crankcase_burned_fraction", "burned share in the crankcase [–]", "At transfer opening, by mass.", |p| Some(p.summary.crankcase_burned_fraction);
    "crankcase_burned_from_hot_backflow", "of it from hot backflow [–]", "Share of the crankcase charge.", |p| Some(p.summary.crankcase_burned_hot);
    "crankcase_burned_from_late_backflow", "of it from late backflow [–]", "Share of the crankcase charge.", |p| Some(p.summary.crankcase_burned_late);
    "crankcase_burned_from_blow_by", "of it from blow-by [–]", "Share of the crankcase charge.", |p| Some(p.summary.crankcase_burned_blow_by);
    "blow_by_mass_mg", "blow-by [mg]", "Net mass past the rings into the crankcase.", |p| Some(p.summary.blow_by_mass / MG);
    "crankcase_leak_mass_mg", "crankcase leak [mg]", "Net mass out through the crankcase leak.", |p| Some(p.summary.crankcase_leak_mass / MG);
    "reed_lift_mm", "reed lift [mm]", "Highest lift of a petal's tip, of all stages.", |p| p.most_of_reed(|r| r.lift / MM);
    "reed_open_deg", "reed open [deg]", "Angle over which a petal is off its seat, longest of all stages.", |p| p.most_of_reed(|r| r.open / DEG);
    "reed_openings", "reed openings", "Times a petal leaves its seat in a cycle; more than one: it bounces or flutters.", |p| p.most_of_reed(|r| f64::from(r.openings));
    "reed_seat_velocity_m_per_s", "reed onto seat [m/s]", "Largest speed of a petal's tip onto its seat.", |p| p.most_of_reed(|r| r.seat_speed);
    "reed_stop_velocity_m_per_s", "reed onto stop [m/s]", "Largest speed of a petal's tip onto its stop; zero where it does not get there.", |p| p.most_of_reed(|r| r.stop_speed);
    "reed_root_stress_mpa", "reed root stress [MPa]", "Bending stress at a petal's clamp at its highest lift.", |p| p.most_of_reed(|r| r.root_stress / 1e6);
    "reed_stress_to_fatigue", "reed stress over fatigue stress [–]", "The same over the stress that lasts.", |p| p.most_of_reed(|r| r.fatigue_share);
    "reed_backflow_mass_mg", "back past the reed [mg]", "Gas that flows from the crankcase out through the intake before the petals are shut.", |p| p.summary.reed_backflow_mass.map(|m| m / MG);
    "fuel_mass_mg", "fuel [mg]", "Fuel through the intake per cycle.", |p| Some(p.summary.fuel_mass / MG);
    "burned_mass_mg", "burned mass [mg]", "Fresh gas burned per cycle.", |p| Some(p.summary.burned_mass / MG);
    "heat_released_j", "heat released [J]", "By burning, per cycle.", |p| Some(p.summary.heat_released);
    "heat_to_walls_j", "heat to cylinder walls [J]", "Per cycle.", |p| Some(p.summary.heat_to_walls);
    "heat_to_crankcase_j", "heat to crankcase walls [J]", "Per cycle; negative when the walls warm the charge.", |p| Some(p.summary.heat_to_crankcase);
    "peak_pressure_bar", "peak pressure [bar]", "Largest cylinder pressure, absolute.", |p| Some(p.summary.peak_pressure / BAR);
    "peak_pressure_angle_deg", "peak pressure at [deg]", "After top dead centre.", |p| Some(p.summary.peak_pressure_angle / DEG);
    "exhaust_pulse_level_db", "exhaust pulse level [dB]", "20·log₁₀ of the steepest change of outlet mass flow; differences between builds only.", |p| Some(p.summary.exhaust_pulse_level);
    "reference_mass_mg", "reference mass [mg]", "Dry air at ambient state filling the swept volume.", |p| Some(p.summary.reference_mass / MG);
    "settled", "settled", "1 when the cycle returned to its start, after one turn or after the turns beside it.", |p| Some(f64::from(u8::from(p.verdict.settled())));
    "repeats_after_turns", "repeats after [turns]", "Turns after which the state repeats; more than 1: figures are means over them. Empty where it does not repeat.", |p| p.verdict.turns().map(f64::from);
    "would_not_run", "would not run", "1 when no fresh charge is delivered.", |p| Some(f64::from(u8::from(p.standstill.is_some())));
    "cycles", "cycles", "Cycles computed.", |p| Some(f64::from(p.verdict.cycles()));
    "residual", "residual", "Largest relative change over the last cycle.", |p| Some(p.verdict.residual());
    "mass_balance", "mass balance", "In less out less stored, over the mass through the intake.", |p| Some(p.summary.balance.mass);
    "energy_balance", "energy balance", "In less out less stored, over the heat released.", |p| Some(p.summary.balance.energy);
    "burned_balance", "burned-gas balance", "In less out less stored plus burned, over the mass through the intake.", |p| Some(p.summary.balance.burned);
}
