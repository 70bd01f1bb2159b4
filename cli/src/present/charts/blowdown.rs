//! Pressures around blowdown: cylinder, crankcase and exhaust, port events, backflow shaded.

use freshcharge_sim::result::{Point, Trace};
use plotters::prelude::*;

use super::Chart;
use super::canvas::{
    self, Area, CASE, CYLINDER, Drawn, EXHAUST, GREY, HOT_GAS, Look, Plot, TICK, axes, line, range,
    text,
};
use crate::present::DrawError;

/// Draws the chart of one traced point.
pub(super) fn chart(engine: &str, point: &Point, trace: &Trace) -> Result<Chart, DrawError> {
    let name = format!("blowdown-{:.0}rpm", point.rpm);
    let svg =
        canvas::svg(&name, |area| draw(area, engine, point, trace).map_err(|e| e.to_string()))?;
    Ok(Chart { name, svg })
}

/// Series of the chart: column, words, look.
const SERIES: [(&str, &str, Look); 3] = [
    ("cylinder_pressure_bar", "cylinder", CYLINDER),
    ("crankcase_pressure_bar", "crankcase", CASE),
    ("exhaust_pressure_bar", "exhaust", EXHAUST),
];

fn draw(area: &Area, engine: &str, point: &Point, trace: &Trace) -> Drawn {
    let angles = trace.column("angle_deg").unwrap_or_default();
    let at = |name: &str, other: f64| trace.event(name).unwrap_or(other);
    let (from, closes) = (at("exhaust opens", 90.0), at("exhaust closes", 270.0));
    let (start, end) = (from - 8.0, closes + 12.0);
    let pressures = |key: &str| trace.column(key).unwrap_or_default();
    let seen = SERIES.iter().flat_map(|(key, _, _)| {
        let values = pressures(key);
        angles.iter().zip(values).filter(|(a, _)| **a <= end).map(|(_, v)| *v)
    });
    let y = range(seen, true);
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
    shade_backflow(&mut chart, angles, trace, &y)?;
    for (key, _, look) in SERIES {
        let points = angles.iter().zip(pressures(key)).map(|(a, v)| (*a, *v));
        canvas::curve(&mut chart, points.filter(|p| p.0 <= end), &look)?;
    }
    mark_events(&mut chart, trace, &y, end)?;
    late_angle(&mut chart, trace, &y)?;
    Ok(())
}

/// Between the two pressures while gas flows back into the transfer ducts.
fn shade_backflow(
    chart: &mut Plot,
    angles: &[f64],
    trace: &Trace,
    y: &std::ops::Range<f64>,
) -> Drawn {
    let column = |key: &str| trace.column(key).unwrap_or_default();
    let (flow, area) = (column("transfer_mass_flow_g_per_s"), column("transfer_area_mm2"));
    let back: Vec<usize> =
        (0..angles.len()).filter(|&i| area[i] > 0.0 && flow[i] < -1e-3).collect();
    // each run of neighbouring rows is one patch over the whole height
    let mut first = 0;
    for (i, row) in back.iter().enumerate() {
        let ends = back.get(i + 1) != Some(&(row + 1));
        if ends {
            let corners = [(angles[back[first]], y.start), (angles[*row], y.end)];
            chart.draw_series([Rectangle::new(corners, HOT_GAS.mix(0.18).filled())])?;
            first = i + 1;
        }
    }
    Ok(())
}

/// Events with their short names along the top, in two rows so that neighbours do not touch.
fn mark_events(chart: &mut Plot, trace: &Trace, y: &std::ops::Range<f64>, end: f64) -> Drawn {
    const NAMES: [(&str, &str); 5] = [
        ("exhaust opens", "EO"),
        ("transfer opens", "TO"),
        ("bottom dead centre", "BDC"),
        ("transfer closes", "TC"),
        ("exhaust closes", "EC"),
    ];
    for (event, short) in NAMES {
        let Some(angle) = trace.event(event).filter(|a| *a < end) else { continue };
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
    let opens = trace.event("transfer opens");
    let falls = trace.event("cylinder falls below crankcase");
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
