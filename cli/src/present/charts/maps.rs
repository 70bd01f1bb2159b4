//! Pressure difference, backflow and penetration over speed and blowdown, and over speed and chord.

use freshcharge_sim::inquiry::{self, Lever, apply, difference};
use freshcharge_sim::result::Point;
use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::units::{BAR, MG, MM};
use freshcharge_sim::workshop::Facts;
use ndarray::Array2;
use rayon::prelude::*;

use super::Chart;
use super::field::Field;
use crate::present::DrawError;

/// Places along each axis.
const ALONG: usize = 9;
const UPRIGHT: usize = 9;

/// What a map shows: file name, words, value, and a level drawn strong with its words.
type Shown = (&'static str, &'static str, fn(&Point) -> f64, Option<(f64, &'static str)>);

const SHOWN: [Shown; 3] = [
    (
        "pressure-difference",
        "cylinder less crankcase pressure at transfer opening [bar]",
        |p| difference(p) / BAR,
        Some((0.0, "equal")),
    ),
    ("hot-backflow", "hot backflow [mg]", |p| p.summary.hot_backflow_mass / MG, None),
    (
        "penetration",
        "penetration [duct volumes]",
        |p| p.summary.hot_backflow_penetration,
        Some((1.0, "reaches the crankcase")),
    ),
];

/// Points that the maps take.
pub(crate) const POINTS: usize = 2 * ALONG * UPRIGHT;

/// Six maps; `done` is called after each point.
pub(crate) fn charts(
    scenario: &Scenario,
    speeds: &[f64],
    done: &(dyn Fn() + Sync),
) -> Result<Vec<Chart>, DrawError> {
    let (first, last) = (speeds[0], speeds[speeds.len() - 1]);
    let (first, last) = if last > first { (first, last) } else { (0.6 * first, 1.3 * first) };
    let x: Vec<f64> =
        (0..ALONG).map(|i| first + (last - first) * i as f64 / (ALONG - 1) as f64).collect();
    let blowdown = |s: &Scenario| Facts::of(&s.spec, &[]).get("blowdown_deg").unwrap_or(f64::NAN);
    let chord = scenario.spec.exhaust.windows.first().map_or(0.0, |w| w.chord / MM);
    let widest = 0.72 * scenario.spec.bore / MM - chord;
    let mut charts = Vec::new();
    for (lever, from, to, words) in [
        (Lever::Roof, -2.0, 4.0, "blowdown [°], by the exhaust roof"),
        (Lever::Chord, -6.0, widest.max(1.0), "exhaust chord [mm]"),
    ] {
        let amounts: Vec<f64> =
            (0..UPRIGHT).map(|j| from + (to - from) * j as f64 / (UPRIGHT - 1) as f64).collect();
        let engines: Vec<Option<Scenario>> =
            amounts.iter().map(|a| apply(scenario, lever, *a).ok()).collect();
        // evenly spaced millimetres of roof are nearly evenly spaced degrees
        let y: Vec<f64> = match lever {
            Lever::Roof => engines.iter().map(|e| e.as_ref().map_or(f64::NAN, blowdown)).collect(),
            _ => amounts.iter().map(|a| chord + a).collect(),
        };
        if y.iter().any(|v| !v.is_finite()) {
            continue;
        }
        let cases: Vec<(usize, usize)> =
            (0..UPRIGHT).flat_map(|j| (0..ALONG).map(move |i| (i, j))).collect();
        let found: Vec<Option<Point>> = cases
            .par_iter()
            .map(|(i, j)| {
                let point = engines[*j].as_ref().and_then(|e| inquiry::point(&e.spec, x[*i]).ok());
                done();
                point
            })
            .collect();
        // one point for every place, so that the shape always fits
        let Ok(points) = Array2::from_shape_vec((UPRIGHT, ALONG), found) else { continue };
        let own = if lever == Lever::Roof { blowdown(scenario) } else { chord };
        let suffix = if lever == Lever::Roof { "blowdown" } else { "chord" };
        for (name, title, value, strong) in SHOWN {
            let field = Field {
                name: format!("map-{name}-{suffix}"),
                title: format!("{}: {title}", scenario.spec.name),
                words: ["speed [1/min]".to_owned(), words.to_owned(), title.to_owned()],
                x: x.clone(),
                y: y.clone(),
                values: points.map(|p| p.as_ref().map_or(f64::NAN, value)),
                strong: strong.map(|(level, words)| (level, words.to_owned())),
                own: Some((own, "this engine".to_owned())),
            };
            charts.push(field.draw()?);
        }
    }
    Ok(charts)
}
