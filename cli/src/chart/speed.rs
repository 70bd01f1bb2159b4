//! Results over speed.

use freshcharge_sim::result::{COLUMNS, Point};
use plotters::prelude::*;

use super::Chart;
use super::canvas::{
    self, AXIS, Area, BLUE, GREEN, PALE, TICK, VERMILION, fine, line, range, text,
};
use crate::command::Run;
use crate::files::Failure;

/// One curve: result, words, colour.
type Curve = (&'static str, &'static str, RGBColor);

/// A chart over speed: file name, title, axis words, whether the axis starts at zero, curves.
struct Plan {
    name: &'static str,
    title: &'static str,
    axis: &'static str,
    from_zero: bool,
    curves: &'static [Curve],
}

const PLANS: &[Plan] = &[
    Plan {
        name: "delivery",
        title: "delivery, trapping and charging over speed",
        axis: "ratio [–]",
        from_zero: true,
        curves: &[
            ("delivery_ratio", "delivery ratio", BLUE),
            ("trapping_efficiency", "trapping efficiency", VERMILION),
            ("charging_efficiency", "charging efficiency", GREEN),
        ],
    },
    Plan {
        name: "pressures-at-transfer-opening",
        title: "pressures when the transfers open",
        axis: "pressure, absolute [bar]",
        from_zero: false,
        curves: &[
            ("cylinder_pressure_at_transfer_opening_bar", "cylinder", BLUE),
            ("crankcase_pressure_at_transfer_opening_bar", "crankcase", VERMILION),
        ],
    },
    Plan {
        name: "backflow",
        title: "reverse flow in the transfer ducts",
        axis: "mass per cycle [mg]",
        from_zero: true,
        curves: &[
            ("hot_backflow_mass_mg", "hot backflow", VERMILION),
            ("hot_backflow_burned_mg", "burned gas in it", BLUE),
            ("late_backflow_mass_mg", "late backflow", GREEN),
        ],
    },
    Plan {
        name: "penetration",
        title: "how far gas from the cylinder comes down the ducts",
        axis: "duct volumes; above 1 it is in the crankcase [–]",
        from_zero: true,
        curves: &[("hot_backflow_penetration", "when hot backflow ends", VERMILION)],
    },
];

/// All charts over speed; none with fewer than two speeds.
pub(super) fn charts(run: &Run) -> Result<Vec<Chart>, Failure> {
    let points: Vec<&Point> =
        run.rows.iter().filter_map(|r| r.point()).filter(|p| p.verdict.settled()).collect();
    if points.len() < 2 {
        return Ok(Vec::new());
    }
    PLANS
        .iter()
        .map(|plan| {
            let svg = canvas::svg(plan.name, |area| {
                draw(area, &run.scenario.spec.name, plan, &points).map_err(|e| e.to_string())
            })?;
            Ok(Chart { name: plan.name.to_owned(), svg })
        })
        .collect()
}

fn values(key: &str, points: &[&Point]) -> Vec<(f64, f64)> {
    let column = COLUMNS.iter().find(|c| c.key == key);
    points.iter().filter_map(|p| Some((p.rpm, column.and_then(|c| (c.value)(p))?))).collect()
}

type Drawn = Result<(), Box<dyn std::error::Error>>;

fn draw(area: &Area, engine: &str, plan: &Plan, points: &[&Point]) -> Drawn {
    let all: Vec<_> = plan.curves.iter().map(|(key, _, _)| values(key, points)).collect();
    let y = range(all.iter().flatten().map(|v| v.1), plan.from_zero);
    let (first, last) = (points[0].rpm, points[points.len() - 1].rpm);
    let room = 0.03 * (last - first);
    let names: Vec<_> = plan.curves.iter().map(|(_, words, color)| (*words, *color)).collect();
    let plot = canvas::frame(area, &format!("{engine}: {}", plan.title), &names)?;
    let mut chart = ChartBuilder::on(&plot)
        .margin(fine(10))
        .margin_right(fine(32))
        .x_label_area_size(fine(46))
        .y_label_area_size(fine(62))
        .build_cartesian_2d(first - room..last + room, y)?;
    chart
        .configure_mesh()
        .x_desc("speed [1/min]")
        .y_desc(plan.axis)
        .x_labels(8)
        .y_labels(8)
        .x_label_formatter(&|v| format!("{v:.0}"))
        .y_label_formatter(&|v| format!("{v:.2}"))
        .label_style(text(TICK, &BLACK))
        .axis_desc_style(text(AXIS, &BLACK))
        .axis_style(line(BLACK, 1.0))
        .bold_line_style(line(PALE, 1.0))
        .light_line_style(TRANSPARENT)
        .set_all_tick_mark_size(fine(5))
        .draw()?;
    for ((_, _, color), values) in plan.curves.iter().zip(&all) {
        let style = line(*color, 2.0);
        let color = *color;
        chart.draw_series(LineSeries::new(values.iter().copied(), style))?;
        let dots = values.iter().map(|v| Circle::new(*v, fine(3) as i32, color.filled()));
        chart.draw_series(dots)?;
    }
    Ok(())
}
