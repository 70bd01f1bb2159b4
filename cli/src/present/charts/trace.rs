//! Traces against crank angle and against volume: port areas, mass flows, indicator diagrams.

use freshcharge_sim::result::{OpeningTrace, Point, Trace, TraceEvent, VolumeTrace};
use freshcharge_sim::units::{BAR, CM3, MM, MM2};
use plotters::prelude::*;

use super::Chart;
use super::canvas::{
    self, Area, CASE, CYLINDER, Drawn, EXHAUST, FRESH_GAS, GREY, Look, SERIES, TICK, axes, range,
    text,
};
use crate::present::DrawError;
use crate::present::over_angle::{self, GRAM_PER_SECOND};

/// What is drawn, words, look.
type Series = (fn(&Trace) -> &OpeningTrace, &'static str, Look);

/// Draws all of them for one traced point.
pub(super) fn charts(engine: &str, point: &Point, trace: &Trace) -> Result<Vec<Chart>, DrawError> {
    let rpm = point.rpm;
    let made = |name: &str, draw: &dyn Fn(&Area, &str) -> Drawn, words: &str| {
        let name = format!("{name}-{rpm:.0}rpm");
        let title = format!("{engine}: {words}, {rpm:.0}/min");
        let svg = canvas::svg(&name, |area| draw(area, &title).map_err(|e| e.to_string()))?;
        Ok(Chart { name, svg })
    };
    let mut charts = vec![
        made("areas", &|a, t| against_angle(a, t, trace, &AREAS), "open port areas")?,
        made("flows", &|a, t| against_angle(a, t, trace, &FLOWS), "flow through the ports")?,
        made("indicator", &|a, t| indicator(a, t, trace), "pressure and volume")?,
    ];
    if !point.reed.is_empty() {
        charts.push(made("reed", &|a, t| lift(a, t, point, trace), "lift of the petals")?);
    }
    Ok(charts)
}

/// What a chart against crank angle shows.
struct Plan {
    axis: &'static str,
    /// What of an opening is drawn, and its unit.
    of: fn(&OpeningTrace) -> &[f64],
    unit: f64,
    series: [Series; 3],
    /// Shade from exhaust to transfer opening.
    blowdown: bool,
    /// Shade where a series is below zero.
    reverse: bool,
}

const AREAS: Plan = Plan {
    axis: "flow area [mm²]",
    of: |opening| &opening.area,
    unit: MM2,
    series: [
        (|t| &t.exhaust, "exhaust", EXHAUST),
        (|t| &t.transfer, "transfers", FRESH_GAS),
        (|t| &t.intake, "intake", CASE),
    ],
    blowdown: true,
    reverse: false,
};

const FLOWS: Plan = Plan {
    axis: "mass flow [g/s]",
    of: |opening| &opening.mass_flow,
    unit: GRAM_PER_SECOND,
    series: [
        (|t| &t.exhaust, "exhaust, out", EXHAUST),
        (|t| &t.transfer, "transfers, into the cylinder", FRESH_GAS),
        (|t| &t.intake, "intake, into the crankcase", CASE),
    ],
    blowdown: false,
    reverse: true,
};

fn against_angle(area: &Area, title: &str, trace: &Trace, plan: &Plan) -> Drawn {
    let names = plan.series.map(|(_, words, look)| (words, look));
    let plot = canvas::frame(area, title, &names)?;
    let curves = plan.series.map(|(opening, _, look)| {
        (over_angle::curve(trace, (plan.of)(opening(trace)), plan.unit), look)
    });
    let y = range(curves.iter().flat_map(|(points, _)| points.iter().map(|p| p.1)), true);
    let (first, last) = over_angle::ends(trace);
    let words = ("crank angle after top dead centre [°]", plan.axis);
    let mut chart = axes(&plot, (first - 6.0..last + 6.0, y.clone()), words, (0, 0))?;
    let at = |event| over_angle::event(trace, event);
    let opens = at(TraceEvent::ExhaustOpens).zip(at(TraceEvent::TransferOpens));
    if let Some((eo, to)) = opens.filter(|_| plan.blowdown) {
        let patch = Rectangle::new([(eo, y.start), (to, y.end)], GREY.mix(0.22).filled());
        chart.draw_series([patch])?;
        let place = (to + 3.0, y.end - 0.015 * (y.end - y.start));
        let words = format!("blowdown {:.1}°", to - eo);
        chart.draw_series([Text::new(words, place, text(TICK, &BLACK))])?;
    }
    for (points, look) in curves {
        if plan.reverse {
            let below = points.iter().map(|(a, v)| (*a, v.min(0.0)));
            chart.draw_series(AreaSeries::new(below, 0.0, look.color.mix(0.25)))?;
        }
        canvas::curve(&mut chart, points, &look)?;
    }
    Ok(())
}

/// Lift of the petals of each stage, its stop, and the angle over which gas flows back past them.
fn lift(area: &Area, title: &str, point: &Point, trace: &Trace) -> Drawn {
    let names: Vec<_> =
        point.reed.iter().zip(SERIES).map(|(r, look)| (r.name.as_str(), look.plain())).collect();
    let plot = canvas::frame(area, title, &names)?;
    let stops = || point.reed.iter().map(|r| r.stop / MM);
    let top = 1.12 * stops().fold(0.0, f64::max);
    let (first, last) = over_angle::ends(trace);
    let words = ("crank angle after top dead centre [°]", "lift of the tip [mm]");
    let x = first - 6.0..last + 6.0;
    let mut chart = axes(&plot, (x.clone(), -0.04 * top..top), words, (0, 1))?;
    let flows = over_angle::curve(trace, &trace.intake.mass_flow, GRAM_PER_SECOND).into_iter();
    let back: Vec<_> =
        flows.map(|(a, flow)| (a, if flow < 0.0 { 0.06 * top } else { 0.0 })).collect();
    if back.iter().any(|(_, height)| *height > 0.0) {
        let place = back.iter().find(|(_, height)| *height > 0.0).map_or(first, |p| p.0);
        chart.draw_series(AreaSeries::new(back, 0.0, CASE.color.mix(0.45)))?;
        let style = text(TICK, &BLACK);
        chart.draw_series([Text::new("flows back", (place, 0.11 * top), style)])?;
    }
    let stages = point.reed.iter().zip(&names).zip(&trace.reed);
    for ((stage, (words, look)), petals) in stages {
        let stop = stage.stop / MM;
        chart.draw_series(DashedLineSeries::new(
            [(x.start, stop), (x.end, stop)],
            6,
            6,
            canvas::line(look.color, 1.0),
        ))?;
        let style = text(TICK, &look.color);
        chart.draw_series([Text::new(
            format!("stop, {words}"),
            (first, stop + 0.045 * top),
            style,
        )])?;
        canvas::curve(&mut chart, over_angle::curve(trace, &petals.lift, MM), look)?;
    }
    Ok(())
}

/// log p over log V of cylinder and crankcase.
fn indicator(area: &Area, title: &str, trace: &Trace) -> Drawn {
    let plot = canvas::frame(area, title, &[("cylinder", CYLINDER), ("crankcase", CASE)])?;
    let logs = |gas: &VolumeTrace| -> Vec<(f64, f64)> {
        let both = gas.volume.iter().zip(&gas.pressure);
        both.map(|(v, p)| ((v / CM3).log10(), (p / BAR).log10())).collect()
    };
    let (cylinder, case) = (logs(&trace.cylinder), logs(&trace.crankcase));
    let x = range(cylinder.iter().chain(&case).map(|p| p.0), false);
    let y = range(cylinder.iter().chain(&case).map(|p| p.1), false);
    let words = ("log₁₀ of volume [cm³]", "log₁₀ of pressure, absolute [bar]");
    let mut chart = axes(&plot, (x, y), words, (1, 1))?;
    for (points, look) in [(cylinder, CYLINDER), (case, CASE)] {
        canvas::curve(&mut chart, points, &look)?;
    }
    Ok(())
}
