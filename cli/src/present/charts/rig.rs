//! Charts of a rig: histories and profiles.

use freshcharge_sim::pipe::State;

use super::Chart;
use super::canvas::{self, Area, Drawn, Look, SERIES, axes, range};
use crate::present::DrawError;
use freshcharge_sim::forms::rig::RigSpec;
use freshcharge_sim::studies::rig::Record;

/// What is drawn of a state: file name, axis words, value.
pub(super) struct Quantity {
    pub(super) name: &'static str,
    pub(super) words: &'static str,
    pub(super) axis: &'static str,
    pub(super) value: fn(&State) -> f64,
}

/// All of them.
pub(super) const QUANTITIES: [Quantity; 3] = [
    Quantity {
        name: "pressure",
        words: "pressure",
        axis: "pressure, absolute [bar]",
        value: |s| s.pressure * 1e-5,
    },
    Quantity {
        name: "velocity",
        words: "velocity",
        axis: "velocity along the pipe [m/s]",
        value: |s| s.velocity,
    },
    Quantity {
        name: "burned",
        words: "burned gas",
        axis: "burned fraction [–]",
        value: |s| s.burned,
    },
];

/// A curve: its words and its points.
struct Curve {
    words: String,
    points: Vec<(f64, f64)>,
}

/// Range of the axis across, words of the axis across and of the one up.
type Axes<'a> = (std::ops::Range<f64>, &'a str, &'a str);

/// Histories at stations and of vessels, profiles of each pipe.
pub(super) fn charts(spec: &RigSpec, record: &Record) -> Result<Vec<Chart>, DrawError> {
    let mut charts = Vec::new();
    for quantity in &QUANTITIES {
        let mut curves: Vec<Curve> = record
            .histories
            .iter()
            .filter(|h| h.moves || quantity.name != "velocity")
            .map(|h| Curve {
                words: h.name.clone(),
                points: record
                    .times
                    .iter()
                    .zip(&h.states)
                    .map(|(t, s)| (t * 1e3, (quantity.value)(s)))
                    .collect(),
            })
            .collect();
        curves.truncate(SERIES.len());
        let title = format!("{}: {} over time", spec.name, quantity.words);
        let name = format!("history-{}", quantity.name);
        let across = 0.0..spec.end * 1e3;
        charts.extend(made(name, &title, (across, "time [ms]", quantity.axis), &curves)?);
    }
    for (index, pipe) in spec.pipes.iter().enumerate() {
        for quantity in &QUANTITIES {
            let curves = profiles(record, index, quantity);
            let title = format!("{}: {} along {}", spec.name, quantity.words, pipe.name);
            let name = format!("profile-{}-{}", file_name(&pipe.name), quantity.name);
            let length: f64 = pipe.sections.iter().map(|s| s.length).sum();
            let axes = (0.0..length * 1e3, "place along the pipe [mm]", quantity.axis);
            charts.extend(made(name, &title, axes, &curves)?);
        }
    }
    Ok(charts)
}

/// The last profiles of a pipe, as many as there are colours.
fn profiles(record: &Record, pipe: usize, quantity: &Quantity) -> Vec<Curve> {
    let own = record.profiles.iter().filter(|p| p.pipe == pipe);
    let curves = own.map(|p| Curve {
        words: format!("{:.2} ms", p.time * 1e3),
        points: record.places[pipe]
            .iter()
            .zip(&p.states)
            .map(|(x, s)| (x * 1e3, (quantity.value)(s)))
            .collect(),
    });
    curves.take(SERIES.len()).collect()
}

/// A name as part of a file name.
pub(super) fn file_name(name: &str) -> String {
    name.chars()
        .map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' })
        .collect()
}

/// The chart; none where every curve is the same number throughout.
fn made(
    name: String,
    title: &str,
    axes: Axes,
    curves: &[Curve],
) -> Result<Option<Chart>, DrawError> {
    let mut values = curves.iter().flat_map(|c| c.points.iter().map(|p| p.1));
    let Some(first) = values.next() else { return Ok(None) };
    if values.all(|v| v == first) {
        return Ok(None);
    }
    let svg =
        canvas::svg(&name, |area| draw(area, title, &axes, curves).map_err(|e| e.to_string()))?;
    Ok(Some(Chart { name, svg }))
}

fn draw(area: &Area, title: &str, (across, x, y): &Axes, curves: &[Curve]) -> Drawn {
    let names: Vec<(&str, Look)> =
        curves.iter().zip(SERIES).map(|(c, look)| (c.words.as_str(), look.plain())).collect();
    let plot = canvas::frame(area, title, &names)?;
    let up = range(curves.iter().flat_map(|c| c.points.iter().map(|p| p.1)), false);
    let digits = (decimals(up.end - up.start), decimals(across.end - across.start));
    let mut chart = axes(&plot, (across.clone(), up), (x, y), (digits.1, digits.0))?;
    for (curve, look) in curves.iter().zip(SERIES) {
        canvas::curve(&mut chart, curve.points.iter().copied(), &look)?;
    }
    Ok(())
}

/// Decimals that tell about eight ticks over a width apart.
pub(super) fn decimals(width: f64) -> usize {
    (1.0 - (width / 8.0).log10()).floor().clamp(0.0, 6.0) as usize
}
