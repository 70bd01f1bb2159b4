//! Pressures around blowdown: cylinder, crankcase and exhaust, port events, backflow shaded.

use freshcharge_sim::result::{Point, Trace, TraceEvent};
use freshcharge_sim::units::{BAR, DEG};
use plotters::prelude::*;

use super::Chart;
use super::canvas::{
    self, Area, CASE, CYLINDER, Drawn, EXHAUST, GREY, HOT_GAS, Look, Plot, TICK, axes, line, range,
    text,
};
use crate::present::DrawError;
use crate::present::over_angle::{self, Values};

/// Draws the chart of one traced point.
pub(super) fn chart(engine: &str, point: &Point, trace: &Trace) -> Result<Chart, DrawError> {
    let name = format!("blowdown-{:.0}rpm", point.rpm);
    let svg =
        canvas::svg(&name, |area| draw(area, engine, point, trace).map_err(|e| e.to_string()))?;
    Ok(Chart { name, svg })
}

/// Series of the chart: pressure, words, look.
const SERIES: [(Values, &str, Look); 3] = [
    (|t| &t.cylinder.pressure, "cylinder", CYLINDER),
    (|t| &t.crankcase.pressure, "crankcase", CASE),
    (|t| &t.exhaust_pressure, "exhaust", EXHAUST),
];

fn draw(area: &Area, engine: &str, point: &Point, trace: &Trace) -> Drawn {
    let at = |event, other: f64| over_angle::event(trace, event).unwrap_or(other);
    let (from, closes) = (at(TraceEvent::ExhaustOpens, 90.0), at(TraceEvent::ExhaustCloses, 270.0));
    let (start, end) = (from - 8.0, closes + 12.0);
    let curves = SERIES.map(|(pressure, _, look)| {
        let points = over_angle::curve(trace, pressure(trace), BAR).into_iter();
        (points.filter(|p| p.0 <= end).collect::<Vec<_>>(), look)
    });
    let y = range(curves.iter().flat_map(|(points, _)| points.iter().map(|p| p.1)), true);
    let title = format!("{engine}: pressures around blowdown, {:.0}/min", point.rpm);
    let piped = trace.pipes.iter().any(|pipe| pipe.side == "exhaust");
    let names = SERIES.map(|(_, words, look)| match words {
        // waves make it another pressure than a little way into the pipe
        "exhaust" if piped => ("exhaust, at the port face", look),
        _ => (words, look),
    });
    let plot = canvas::frame(area, &title, &names)?;
    let words = ("crank angle after top dead centre [°]", "pressure, absolute [bar]");
    let mut chart = axes(&plot, (start..end, y.clone()), words, (0, 1))?;
    shade_backflow(&mut chart, trace, &y)?;
    for (points, look) in curves {
        canvas::curve(&mut chart, points, &look)?;
    }
    mark_events(&mut chart, trace, &y, end)?;
    late_angle(&mut chart, trace, &y)?;
    Ok(())
}

/// Smallest flow back that is shown [kg/s].
const LEAST_FLOW: f64 = 1e-6;

/// Between the two pressures while gas flows back into the transfer ducts.
fn shade_backflow(chart: &mut Plot, trace: &Trace, y: &std::ops::Range<f64>) -> Drawn {
    let (flow, area) = (&trace.transfer.mass_flow, &trace.transfer.area);
    let back: Vec<usize> =
        (0..trace.len()).filter(|&i| area[i] > 0.0 && flow[i] < -LEAST_FLOW).collect();
    let angle = |row: usize| trace.angle[row] / DEG;
    // each run of neighbouring rows is one patch over the whole height
    let mut first = 0;
    for (i, row) in back.iter().enumerate() {
        let ends = back.get(i + 1) != Some(&(row + 1));
        if ends {
            let corners = [(angle(back[first]), y.start), (angle(*row), y.end)];
            chart.draw_series([Rectangle::new(corners, HOT_GAS.mix(0.18).filled())])?;
            first = i + 1;
        }
    }
    Ok(())
}

/// Events with their short names along the top, in two rows so that neighbours do not touch.
fn mark_events(chart: &mut Plot, trace: &Trace, y: &std::ops::Range<f64>, end: f64) -> Drawn {
    const NAMES: [(TraceEvent, &str); 5] = [
        (TraceEvent::ExhaustOpens, "EO"),
        (TraceEvent::TransferOpens, "TO"),
        (TraceEvent::BottomDeadCentre, "BDC"),
        (TraceEvent::TransferCloses, "TC"),
        (TraceEvent::ExhaustCloses, "EC"),
    ];
    for (event, short) in NAMES {
        let Some(angle) = over_angle::event(trace, event).filter(|a| *a < end) else { continue };
        let height = y.end - y.start;
        let top = y.end - 0.045 * height;
        chart.draw_series([PathElement::new([(angle, y.start), (angle, top)], line(GREY, 1.0))])?;
        let style =
            text(TICK, &RGBColor(0x40, 0x40, 0x40)).pos(plotters::style::text_anchor::Pos::new(
                plotters::style::text_anchor::HPos::Center,
                plotters::style::text_anchor::VPos::Center,
            ));
        chart.draw_series([Text::new(short, (angle, y.end - 0.022 * height), style)])?;
    }
    Ok(())
}

/// From transfer opening to the fall below crankcase pressure.
fn late_angle(chart: &mut Plot, trace: &Trace, y: &std::ops::Range<f64>) -> Drawn {
    let opens = over_angle::event(trace, TraceEvent::TransferOpens);
    let falls = over_angle::event(trace, TraceEvent::CylinderFallsBelowCrankcase);
    let (Some(opens), Some(falls)) = (opens, falls) else { return Ok(()) };
    if falls - opens < 0.3 {
        return Ok(());
    }
    let height = y.end - y.start;
    let level = y.start + 0.60 * height;
    let style = line(BLACK, 1.2);
    let tick = 0.012 * height;
    chart.draw_series([
        PathElement::new([(opens, level), (falls, level)], style),
        PathElement::new([(opens, level - tick), (opens, level + tick)], style),
        PathElement::new([(falls, level - tick), (falls, level + tick)], style),
    ])?;
    let words = format!("late by {:.1}°: gas flows back", falls - opens);
    let place = (falls + 1.5, level + 0.02 * height);
    chart.draw_series([Text::new(words, place, text(TICK, &BLACK))])?;
    Ok(())
}
