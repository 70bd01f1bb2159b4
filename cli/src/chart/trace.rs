//! Traces against crank angle and against volume: port areas, mass flows, indicator diagrams.

use freshcharge_sim::result::{Point, Trace};
use plotters::prelude::*;

use super::Chart;
use super::canvas::{
    self, AXIS, Area, BLUE, GREEN, GREY, PALE, TICK, VERMILION, fine, line, range, text,
};
use crate::files::Failure;

pub(super) type Drawn = Result<(), Box<dyn std::error::Error>>;
type Series = (&'static str, &'static str, RGBColor);

/// Draws all of them for one traced point.
pub(super) fn charts(engine: &str, point: &Point, trace: &Trace) -> Result<Vec<Chart>, Failure> {
    let rpm = point.rpm;
    let made = |name: &str, draw: &dyn Fn(&Area, &str) -> Drawn, words: &str| {
        let name = format!("{name}-{rpm:.0}rpm");
        let title = format!("{engine}: {words}, {rpm:.0}/min");
        let svg = canvas::svg(&name, |area| draw(area, &title).map_err(|e| e.to_string()))?;
        Ok(Chart { name, svg })
    };
    Ok(vec![
        made("areas", &|a, t| against_angle(a, t, trace, &AREAS), "open port areas")?,
        made("flows", &|a, t| against_angle(a, t, trace, &FLOWS), "flow through the ports")?,
        made("indicator", &|a, t| indicator(a, t, trace), "pressure and volume")?,
    ])
}

/// What a chart against crank angle shows.
struct Plan {
    axis: &'static str,
    series: [Series; 3],
    /// Shade from exhaust to transfer opening.
    blowdown: bool,
    /// Shade where a series is below zero.
    reverse: bool,
}

const AREAS: Plan = Plan {
    axis: "flow area [mm²]",
    series: [
        ("exhaust_area_mm2", "exhaust", GREEN),
        ("transfer_area_mm2", "transfers", VERMILION),
        ("intake_area_mm2", "intake", BLUE),
    ],
    blowdown: true,
    reverse: false,
};

const FLOWS: Plan = Plan {
    axis: "mass flow [g/s]",
    series: [
        ("exhaust_mass_flow_g_per_s", "exhaust, out", GREEN),
        ("transfer_mass_flow_g_per_s", "transfers, into the cylinder", VERMILION),
        ("intake_mass_flow_g_per_s", "intake, into the crankcase", BLUE),
    ],
    blowdown: false,
    reverse: true,
};

/// Axes in the common style.
pub(super) fn axes<'a, 'b>(
    plot: &'a Area<'b>,
    (x, y): (std::ops::Range<f64>, std::ops::Range<f64>),
    (x_words, y_words): (&str, &str),
    decimals: usize,
    x_decimals: usize,
) -> Result<Plot<'a, 'b>, Box<dyn std::error::Error>> {
    let mut chart = ChartBuilder::on(plot)
        .margin(fine(10))
        .margin_right(fine(32))
        .x_label_area_size(fine(46))
        .y_label_area_size(fine(62))
        .build_cartesian_2d(x, y)?;
    chart
        .configure_mesh()
        .x_desc(x_words)
        .y_desc(y_words)
        .x_labels(10)
        .y_labels(8)
        .x_label_formatter(&|v| format!("{v:.x_decimals$}"))
        .y_label_formatter(&|v| format!("{v:.decimals$}"))
        .label_style(text(TICK, &BLACK))
        .axis_desc_style(text(AXIS, &BLACK))
        .axis_style(line(BLACK, 1.0))
        .bold_line_style(line(PALE, 1.0))
        .light_line_style(TRANSPARENT)
        .set_all_tick_mark_size(fine(5))
        .draw()?;
    Ok(chart)
}

pub(super) type Plot<'a, 'b> = ChartContext<
    'a,
    SVGBackend<'b>,
    Cartesian2d<plotters::coord::types::RangedCoordf64, plotters::coord::types::RangedCoordf64>,
>;

fn against_angle(area: &Area, title: &str, trace: &Trace, plan: &Plan) -> Drawn {
    let names = plan.series.map(|(_, words, color)| (words, color));
    let plot = canvas::frame(area, title, &names)?;
    let angles = trace.column("angle_deg").unwrap_or_default();
    let column = |key: &str| trace.column(key).unwrap_or_default();
    let all = plan.series.iter().flat_map(|(key, _, _)| column(key).iter().copied());
    let y = range(all, true);
    let (first, last) =
        (angles.first().copied().unwrap_or(0.0), angles.last().copied().unwrap_or(360.0));
    let words = ("crank angle after top dead centre [°]", plan.axis);
    let mut chart = axes(&plot, (first - 6.0..last + 6.0, y.clone()), words, 0, 0)?;
    let opens = trace.event("exhaust opens").zip(trace.event("transfer opens"));
    if let Some((eo, to)) = opens.filter(|_| plan.blowdown) {
        let patch = Rectangle::new([(eo, y.start), (to, y.end)], GREY.mix(0.22).filled());
        chart.draw_series([patch])?;
        let place = (to + 3.0, y.end - 0.015 * (y.end - y.start));
        let words = format!("blowdown {:.1}°", to - eo);
        chart.draw_series([Text::new(words, place, text(TICK, &BLACK))])?;
    }
    for (key, _, color) in plan.series {
        let values = column(key);
        let points = || angles.iter().zip(values).map(|(a, v)| (*a, *v));
        if plan.reverse {
            let below = points().map(|(a, v)| (a, v.min(0.0)));
            chart.draw_series(AreaSeries::new(below, 0.0, color.mix(0.25)))?;
        }
        chart.draw_series(LineSeries::new(points(), line(color, 2.0)))?;
    }
    Ok(())
}

/// log p over log V of cylinder and crankcase.
fn indicator(area: &Area, title: &str, trace: &Trace) -> Drawn {
    let plot = canvas::frame(area, title, &[("cylinder", BLUE), ("crankcase", VERMILION)])?;
    let column = |key: &str| trace.column(key).unwrap_or_default();
    let logs = |volume: &str, pressure: &str| -> Vec<(f64, f64)> {
        column(volume).iter().zip(column(pressure)).map(|(v, p)| (v.log10(), p.log10())).collect()
    };
    let cylinder = logs("cylinder_volume_cm3", "cylinder_pressure_bar");
    let case = logs("crankcase_volume_cm3", "crankcase_pressure_bar");
    let x = range(cylinder.iter().chain(&case).map(|p| p.0), false);
    let y = range(cylinder.iter().chain(&case).map(|p| p.1), false);
    let words = ("log₁₀ of volume [cm³]", "log₁₀ of pressure, absolute [bar]");
    let mut chart = axes(&plot, (x, y), words, 1, 1)?;
    for (points, color) in [(cylinder, BLUE), (case, VERMILION)] {
        chart.draw_series(LineSeries::new(points, line(color, 2.0)))?;
    }
    Ok(())
}
