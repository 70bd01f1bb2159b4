//! Results over speed, of one engine or of several.

use freshcharge_sim::result::{COLUMNS, Point};

use super::Chart;
use super::canvas::{GREY, Look};
use super::lines::{Curve, Lines};
use crate::present::DrawError;
use freshcharge_sim::studies::run::Run;

/// A chart over speed: file name, title, axis words, whether the axis starts at zero, and each
/// curve's result with its words.
struct Plan {
    name: &'static str,
    title: &'static str,
    axis: &'static str,
    from_zero: bool,
    curves: &'static [(&'static str, &'static str)],
}

const PLANS: &[Plan] = &[
    Plan {
        name: "delivery",
        title: "delivery, trapping and charging over speed",
        axis: "ratio [–]",
        from_zero: true,
        curves: &[
            ("delivery_ratio", "delivery ratio"),
            ("trapping_efficiency", "trapping efficiency"),
            ("charging_efficiency", "charging efficiency"),
        ],
    },
    Plan {
        name: "pressures-at-transfer-opening",
        title: "pressures when the transfers open",
        axis: "pressure, absolute [bar]",
        from_zero: false,
        curves: &[
            ("cylinder_pressure_at_transfer_opening_bar", "cylinder"),
            ("crankcase_pressure_at_transfer_opening_bar", "crankcase"),
        ],
    },
    Plan {
        name: "backflow",
        title: "reverse flow in the transfer ducts",
        axis: "mass per cycle [mg]",
        from_zero: true,
        curves: &[
            ("hot_backflow_mass_mg", "hot backflow"),
            ("hot_backflow_burned_mg", "burned gas in it"),
            ("late_backflow_mass_mg", "late backflow"),
        ],
    },
    Plan {
        name: "penetration",
        title: "how far gas from the cylinder comes down the ducts",
        axis: "duct volumes; above 1 it is in the crankcase [–]",
        from_zero: true,
        curves: &[("hot_backflow_penetration", "when hot backflow ends")],
    },
    Plan {
        name: "burned-gas-in-crankcase",
        title: "where the burned gas in the crankcase came from",
        axis: "share of the crankcase charge [–]",
        from_zero: true,
        curves: &[
            ("crankcase_burned_from_hot_backflow", "hot backflow"),
            ("crankcase_burned_from_late_backflow", "late backflow"),
            ("crankcase_burned_from_blow_by", "blow-by"),
        ],
    },
    Plan {
        name: "power",
        title: "brake power and torque",
        axis: "power [kW], torque [N·m]",
        from_zero: true,
        curves: &[("power_kw", "power [kW]"), ("torque_nm", "torque [N·m]")],
    },
];

/// Results drawn where several engines share a chart.
const SHARED: &[&str] = &[
    "torque_nm",
    "power_kw",
    "delivery_ratio",
    "charging_efficiency",
    "trapping_efficiency",
    "pressure_difference_at_transfer_opening_bar",
    "hot_backflow_mass_mg",
    "hot_backflow_penetration",
];

fn settled(run: &Run) -> Vec<&Point> {
    run.rows.iter().filter_map(|r| r.point()).filter(|p| p.usable()).collect()
}

/// All charts over speed; none with fewer than two speeds.
pub(super) fn charts(run: &Run) -> Result<Vec<Chart>, DrawError> {
    let points = settled(run);
    if points.len() < 2 {
        return Ok(Vec::new());
    }
    let engine = &run.scenario.spec.name;
    let mut charts = Vec::new();
    for plan in PLANS {
        let curve = |(i, (key, words)): (usize, &(&str, &str))| {
            Curve::new(i, *words, values(key, "rpm", &points))
        };
        let curves = plan.curves.iter().enumerate().map(curve).collect();
        let title = format!("{engine}: {}", plan.title);
        let lines = Lines::over_speed(plan.name, title, plan.axis, curves);
        charts.push(Lines { from_zero: plan.from_zero, ..lines }.draw()?);
    }
    charts.push(scavenging(&[run], &format!("{engine}: scavenging"))?);
    Ok(charts)
}

/// Charts of several engines over each other.
pub(super) fn overlaid(runs: &[Run]) -> Result<Vec<Chart>, DrawError> {
    let mut charts = Vec::new();
    for key in SHARED {
        let Some(column) = COLUMNS.iter().find(|c| c.key == *key) else { continue };
        let curve = |(i, run): (usize, &Run)| {
            Curve::new(i, run.scenario.spec.name.clone(), values(key, "rpm", &settled(run)))
        };
        let curves = runs.iter().enumerate().map(curve).collect();
        let name = key.replace('_', "-");
        let title = column.title.split(" [").next().unwrap_or(key);
        charts.push(Lines::over_speed(&name, title.to_owned(), column.title, curves).draw()?);
    }
    let runs: Vec<&Run> = runs.iter().collect();
    charts.push(scavenging(&runs, "scavenging")?);
    Ok(charts)
}

/// Scavenging efficiency against the mass through the transfers over the mass trapped, with what
/// perfect mixing (1 − e^{−S}) and perfect displacement (the smaller of S and 1) would give.
fn scavenging(runs: &[&Run], title: &str) -> Result<Chart, DrawError> {
    let mut curves: Vec<Curve> = Vec::new();
    let mut most: f64 = 1.0;
    for (i, run) in runs.iter().enumerate() {
        let points: Vec<(f64, f64)> = settled(run)
            .iter()
            .map(|p| &p.summary)
            .map(|s| {
                let through = s.scavenge_ratio * s.reference_mass / s.trapped_mass;
                (through, s.scavenging_efficiency)
            })
            .collect();
        most = points.iter().map(|p| p.0).fold(most, f64::max);
        curves.push(Curve::new(i, run.scenario.spec.name.clone(), points));
    }
    let at = |i: u32| most * 1.1 * f64::from(i) / 60.0;
    let theory = |words: &str, dash, law: &dyn Fn(f64) -> f64| Curve {
        words: words.to_owned(),
        points: (0..=60).map(|i| (at(i), law(at(i)))).collect(),
        look: Look { color: GREY, dash, marker: None },
    };
    curves.push(theory("perfect mixing", None, &|s| 1.0 - (-s).exp()));
    curves.push(theory("perfect displacement", Some((4, 4)), &|s| s.min(1.0)));
    Lines {
        name: "scavenging".to_owned(),
        title: title.to_owned(),
        axes: (
            "mass through the transfers over mass trapped [–]".to_owned(),
            "scavenging efficiency [–]".to_owned(),
        ),
        decimals: (1, 2),
        from_zero: true,
        curves,
        marks: Vec::new(),
    }
    .draw()
}

/// Pairs of two results.
fn values(key: &str, over: &str, points: &[&Point]) -> Vec<(f64, f64)> {
    let value = |key: &str, p: &Point| COLUMNS.iter().find(|c| c.key == key).map(|c| (c.value)(p));
    let pair = |p: &&Point| Some((value(over, p)??, value(key, p)??));
    points.iter().filter_map(pair).collect()
}
