//! Required against actual blowdown over speed.

use freshcharge_sim::inquiry::Required;

use super::Chart;
use super::lines::{Curve, Lines};
use crate::present::DrawError;

/// Draws the chart.
pub(crate) fn chart(engine: &str, needs: &[Required]) -> Result<Chart, DrawError> {
    let points = |value: &dyn Fn(&Required) -> Option<f64>| -> Vec<(f64, f64)> {
        needs.iter().filter_map(|r| Some((r.rpm, value(r)?))).collect()
    };
    let curves = vec![
        Curve::new(0, "this engine", points(&|r| Some(r.actual))),
        Curve::new(1, "(a) pressures equal", points(&|r| r.equal)),
        Curve::new(2, "(b) costs under 1 %", points(&|r| r.harmless)),
        Curve::new(3, "(c) most torque", points(&|r| r.best_torque)),
    ];
    let always = needs.iter().all(|r| r.roof.is_none_or(|m| m > 0.0));
    let ending = if always { "; blows back at every speed shown" } else { "" };
    let title = format!("{engine}: blowdown required and there{ending}");
    let mut lines = Lines::over_speed("required-blowdown", title, "blowdown [°]", curves);
    // where (a) passes the engine's own, gas starts to come back
    let cross = needs.windows(2).find_map(|w| {
        let gap = |r: &Required| r.equal.map(|e| e - r.actual);
        let (a, b) = (gap(&w[0])?, gap(&w[1])?);
        (a <= 0.0 && b > 0.0).then(|| w[0].rpm + (w[1].rpm - w[0].rpm) * a / (a - b))
    });
    if let Some(rpm) = cross {
        lines.marks.push((rpm, format!("blows back from {:.0}/min", (rpm / 50.0).round() * 50.0)));
    }
    lines.draw()
}
