//! What every point must keep, settled or not.

use freshcharge_sim::result::{COLUMNS, Point};

/// The largest of a point's balances, as a share of what passed through.
#[must_use]
pub fn worst_balance(point: &Point) -> f64 {
    let b = &point.summary.balance;
    // a NaN must not vanish in a maximum
    [b.mass, b.burned, b.energy].iter().fold(0.0, |most, x| {
        let x = x.abs();
        if x > most || x.is_nan() { x } else { most }
    })
}

/// Demands that a point is finite, balanced and within what its quantities can be.
///
/// # Errors
/// The first bound that does not hold, in words.
pub fn keeps(p: &Point, most_imbalance: f64) -> Result<(), String> {
    let s = &p.summary;
    let demand = |held: bool, words: &dyn Fn() -> String| if held { Ok(()) } else { Err(words()) };
    let balance = worst_balance(p);
    demand(balance <= most_imbalance, &|| format!("{:?}", s.balance))?;
    for column in COLUMNS {
        if let Some(value) = (column.value)(p) {
            demand(value.is_finite(), &|| format!("{} = {value}", column.key))?;
        }
    }
    let product = s.delivery_ratio * s.trapping_efficiency.unwrap_or_default();
    let gap = s.charging_efficiency - product;
    demand(gap.abs() <= 1e-15, &|| format!("charging is not delivery times trapping: {gap:e}"))?;
    for (name, share) in [
        ("scavenging efficiency", s.scavenging_efficiency),
        ("burned share of the crankcase", s.crankcase_burned_fraction),
        ("of it from hot backflow", s.crankcase_burned_hot),
        ("of it from late backflow", s.crankcase_burned_late),
        ("of it from blow-by", s.crankcase_burned_blow_by),
    ] {
        demand((0.0..=1.0).contains(&share), &|| format!("{name} {share}"))?;
    }
    let peak = s.peak_pressure * (1.0 + 100.0 * p.verdict.residual());
    demand(peak >= s.cylinder_pressure_eo, &|| format!("peak {peak:e} below exhaust opening"))?;
    for (name, positive) in [
        ("trapped mass", s.trapped_mass),
        ("cylinder pressure", s.cylinder_pressure_to),
        ("crankcase pressure", s.crankcase_pressure_to),
        ("cylinder temperature", s.cylinder_temperature_to),
        ("crankcase temperature", s.crankcase_temperature_to),
    ] {
        demand(positive > 0.0, &|| format!("{name} {positive:e}"))?;
    }
    // below 1e-11 kg both are integration error
    let (hot, burned) = (s.hot_backflow_mass, s.hot_backflow_burned);
    demand(burned <= hot * (1.0 + 1e-9) + 1e-11, &|| format!("{burned:e} burned of {hot:e}"))?;
    let parts = s.crankcase_burned_hot + s.crankcase_burned_late + s.crankcase_burned_blow_by;
    let rest = parts - s.crankcase_burned_fraction;
    demand(rest.abs() < 1e-12, &|| format!("burned gas by source does not add up: {rest:e}"))
}

/// Demands what holds of trapping: a share where anything is delivered, else none.
///
/// # Errors
/// The bound that does not hold, in words.
pub fn keeps_trapping(p: &Point) -> Result<(), String> {
    match (p.summary.trapping_efficiency, p.standstill) {
        (Some(share), None) if (0.0..=1.0).contains(&share) => Ok(()),
        (None, Some(_)) => Ok(()),
        (trapping, standstill) => Err(format!("trapping {trapping:?}, {standstill:?}")),
    }
}
