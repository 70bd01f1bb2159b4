//! What was measured, held against what is computed.

use std::path::Path;

use freshcharge_sim::result::{Point, Trace, TraceEvent};
use freshcharge_sim::studies::measured::computed_pressure;
use freshcharge_sim::units::BAR;

use super::Material;
use crate::chart::lines::{Curve, Lines};
use crate::command::motored;
use crate::files::Failure;
use crate::measured::{Measured, PressureTrace, Quantity, Residual, Series};
use crate::present::over_angle;
use crate::writeup::{Block, Picture, Table};
use freshcharge_sim::studies::run::Run;

/// Most speeds computed beside those of the run: a logger may have written hundreds.
const MOST: usize = 24;
/// Traces that are drawn; of further ones the table tells.
const DRAWN: usize = 4;

/// Speeds at which the builds are computed once more, to be held against what was measured there.
pub(super) fn speeds(measured: &Measured) -> Vec<f64> {
    let runs = measured.series.iter().filter(|s| s.quantity != Quantity::Gauge);
    let mut all: Vec<f64> = runs.flat_map(|s| s.points.iter().map(|p| p.0)).collect();
    let mut traced: Vec<f64> = measured.traces.iter().map(|t| t.rpm).collect();
    for list in [&mut all, &mut traced] {
        list.sort_by(f64::total_cmp);
        list.dedup();
    }
    if all.len() > MOST {
        all = (0..MOST).map(|i| all[i * (all.len() - 1) / (MOST - 1)]).collect();
    }
    all.extend(traced);
    all.sort_by(f64::total_cmp);
    all.dedup();
    all
}

/// Quantities that come from traces.
const AT_EVENTS: &[Quantity] = &[
    Quantity::CylinderAtExhaust,
    Quantity::CylinderAtTransfer,
    Quantity::CrankcaseAtTransfer,
    Quantity::Peak,
];

/// The section.
pub(super) fn blocks(material: &Material) -> Result<Vec<Block>, Failure> {
    let mut blocks = Vec::new();
    let apart = |s: &&Series| s.quantity == Quantity::Gauge || AT_EVENTS.contains(&s.quantity);
    for series in material.measured.series.iter().filter(|s| !apart(s)) {
        over_speed(&mut blocks, material, series)?;
    }
    gauge(&mut blocks, material);
    traces(&mut blocks, material)?;
    if !blocks.is_empty() {
        blocks.push(Block::Note("As measured, without correction (freshcharge correct does that). Wheel power lacks what gears or belt take (5 to 10 %, 10 to 15 %; common practice, no source), and inertia runs differ from steady ones. A fit of uncertain inputs to these data is freshcharge fit.".to_owned()));
    }
    Ok(blocks)
}

/// Builds with all speeds at which they were computed: name and points in order of speed.
fn computed<'m>(material: &'m Material) -> Vec<(&'m str, Vec<&'m Point>)> {
    let pairs = material.runs.iter().zip(&material.beside);
    let all = pairs.map(|(run, beside)| {
        let rows = run.rows.iter().chain(&beside.rows);
        let mut points: Vec<&Point> =
            rows.filter_map(|r| r.point()).filter(|p| p.usable()).collect();
        points.sort_by(|a, b| a.rpm.total_cmp(&b.rpm));
        points.dedup_by(|a, b| a.rpm == b.rpm);
        (run.scenario.spec.name.as_str(), points)
    });
    all.collect()
}

/// Value of a curve at a place, along straight lines.
fn at(curve: &[(f64, f64)], place: f64) -> Option<f64> {
    let exact = curve.iter().find(|p| p.0 == place).map(|p| p.1);
    exact.or_else(|| {
        let pair = curve.windows(2).find(|w| (w[0].0..=w[1].0).contains(&place))?;
        let share = (place - pair[0].0) / (pair[1].0 - pair[0].0);
        Some(pair[0].1 + share * (pair[1].1 - pair[0].1))
    })
}

/// One quantity over speed: table, what is left between, picture.
fn over_speed(
    blocks: &mut Vec<Block>,
    material: &Material,
    series: &Series,
) -> Result<(), Failure> {
    let of = series.quantity.of();
    let builds: Vec<(&str, Vec<(f64, f64)>)> = computed(material)
        .into_iter()
        .map(|(name, points)| (name, points.iter().filter_map(|p| Some((p.rpm, of(p)?))).collect()))
        .collect();
    let words = series.quantity.words();
    let mut head = vec!["1/min".to_owned(), format!("measured {words}")];
    for (name, _) in &builds {
        head.extend([format!("computed, {name}"), "difference".to_owned()]);
    }
    let mut table = Table::new(head);
    let mut off: Vec<Vec<f64>> = vec![Vec::new(); builds.len()];
    for (rpm, value) in &series.points {
        let mut cells = vec![format!("{rpm:.0}"), format!("{value:.3}")];
        for ((_, curve), off) in builds.iter().zip(&mut off) {
            match at(curve, *rpm) {
                Some(ours) => {
                    off.push(100.0 * (ours / value - 1.0));
                    let share = 100.0 * (ours / value - 1.0);
                    cells.extend([format!("{ours:.3}"), format!("{share:+.1} %")]);
                }
                None => cells.extend(["not computed".to_owned(), String::new()]),
            }
        }
        table.row(cells, false);
    }
    let title = words.split(" [").next().unwrap_or(words);
    blocks.push(Block::Heading(format!("{}{}", title[..1].to_uppercase(), &title[1..])));
    for ((name, _), off) in builds.iter().zip(&off).filter(|(_, off)| !off.is_empty()) {
        let n = off.len() as f64;
        let mean = off.iter().sum::<f64>() / n;
        let rms = (off.iter().map(|o| o * o).sum::<f64>() / n).sqrt();
        blocks.push(Block::Words(format!(
            "{name}: the computed {title} lies {mean:+.1} % off on average, {rms:.1} % in the root mean square of {n:.0} points."
        )));
    }
    // hundreds of rows of a logger are better seen than read
    if series.points.len() <= 2 * MOST {
        blocks.push(Block::Table(table));
    }
    if series.points.len() > 1 {
        let measured = Curve::new(builds.len(), "measured", series.points.clone());
        let mut curves: Vec<Curve> = builds
            .into_iter()
            .enumerate()
            .map(|(i, (name, curve))| Curve::new(i, format!("computed, {name}"), curve))
            .collect();
        curves.push(measured);
        let file = format!("measured-{}", title.replace(' ', "-"));
        let lines =
            Lines::over_speed(&file, format!("{title}, measured and computed"), words, curves);
        blocks.push(Block::Picture(Picture::new(&file, lines.title.clone(), lines.draw()?.svg)));
    }
    Ok(())
}

/// What traces show when ports open, beside the same of the builds, in one table.
fn at_events(material: &Material) -> Table {
    let mut head = vec!["quantity".to_owned(), "1/min".to_owned(), "measured".to_owned()];
    let builds = computed(material);
    for (name, _) in &builds {
        head.extend([format!("computed, {name}"), "difference".to_owned()]);
    }
    let mut table = Table::new(head);
    let series = material.measured.series.iter().filter(|s| AT_EVENTS.contains(&s.quantity));
    for (series, (rpm, value)) in series.flat_map(|s| s.points.iter().map(move |p| (s, p))) {
        let mut cells =
            vec![series.quantity.words().to_owned(), format!("{rpm:.0}"), format!("{value:.3}")];
        for (_, points) in &builds {
            let point = points.iter().find(|p| p.rpm == *rpm);
            let ours = point.and_then(|p| series.quantity.of()(p));
            cells.extend(ours.map_or(["not computed".to_owned(), String::new()], |ours| {
                [format!("{ours:.3}"), format!("{:+.1} %", 100.0 * (ours / value - 1.0))]
            }));
        }
        table.row(cells, false);
    }
    table
}

/// Readings of a compression gauge.
fn gauge(blocks: &mut Vec<Block>, material: &Material) {
    let readings = material.measured.series.iter().filter(|s| s.quantity == Quantity::Gauge);
    let points: Vec<(f64, f64)> = readings.flat_map(|s| s.points.iter().copied()).collect();
    if points.is_empty() {
        return;
    }
    let mut head = vec!["1/min".to_owned(), "gauge reads, bar over ambient".to_owned()];
    for run in &material.runs {
        head.extend([format!("predicted, {}", run.scenario.spec.name), "usual".to_owned()]);
    }
    let mut table = Table::new(head);
    for (rpm, bar) in points {
        let mut cells = vec![format!("{rpm:.0}"), format!("{bar:.2}")];
        for run in &material.runs {
            let found = motored::predicted(Path::new(&run.file), &run.scenario, rpm);
            cells.extend(
                found.map_or(["not computed".to_owned(), String::new()], |(bar, usual)| {
                    [format!("{bar:.2}"), format!("{:.1} to {:.1}", usual[0], usual[1])]
                }),
            );
        }
        table.row(cells, false);
    }
    blocks.push(Block::Heading("Compression gauge".to_owned()));
    blocks.push(Block::Table(table));
    blocks.push(Block::Note("Predicted for an engine at ambient temperature with its throttle open and a gauge without volume of its own; freshcharge run --motored takes the gauge's volume, the leak and the engine's temperature. Usual is p0·CR^1.2 to p0·CR^1.3 less leakage (common practice, no source). Readings tell rings and trapped compression of one engine apart from day to day; gauges differ by 0.2 to 0.5 bar.".to_owned()));
}

/// The computed trace of a build at a speed.
fn traced(run: &Run, rpm: f64) -> Option<&Trace> {
    let row = run.rows.iter().find(|r| r.rpm == rpm)?;
    row.result.as_ref().ok().and_then(|(_, trace)| trace.as_ref())
}

/// Heads of the table of residuals.
const RESIDUAL: [&str; 9] = [
    "trace",
    "1/min",
    "build",
    "mean bar",
    "root mean square bar",
    "largest bar",
    "at °",
    "read later by °",
    "leaves bar",
];

/// Pressures over the crank angle: one table of all, pictures of the first.
fn traces(blocks: &mut Vec<Block>, material: &Material) -> Result<(), Failure> {
    if material.measured.traces.is_empty() {
        return Ok(());
    }
    let mut table = Table::new(RESIDUAL);
    let mut notes = Vec::new();
    let mut pictures = Vec::new();
    for (n, measured) in material.measured.traces.iter().enumerate() {
        let mut residuals = Vec::new();
        for beside in &material.beside {
            let Some(trace) = traced(beside, measured.rpm) else { continue };
            let Some(residual) = Residual::of(measured, trace) else { continue };
            let name = beside.scenario.spec.name.as_str();
            let (shift, left) = residual.shifted;
            let (angle, most) = residual.largest;
            table.row(
                vec![
                    measured.place.words().to_owned(),
                    format!("{:.0}", measured.rpm),
                    name.to_owned(),
                    format!("{:+.3}", residual.mean),
                    format!("{:.3}", residual.rms),
                    format!("{most:+.3}"),
                    format!("{angle:.0}"),
                    format!("{shift:+.1}"),
                    format!("{left:.3}"),
                ],
                false,
            );
            residuals.push((name, trace, residual));
        }
        // which build was measured nobody says: the one that lies closer is the one to doubt
        let closest = residuals.iter().min_by(|a, b| a.2.rms.total_cmp(&b.2.rms));
        notes.extend(closest.and_then(|(name, _, residual)| doubt(measured, name, residual)));
        if n < DRAWN && !residuals.is_empty() {
            pictures.extend(drawn(measured, &residuals)?);
        }
    }
    blocks.push(Block::Heading("Pressure over the crank angle".to_owned()));
    blocks.push(Block::Words("Differences are computed less measured, over all measured angles. The last two columns read the measured trace later by some degrees and let its level go free: what is left then is not the mark's and not the sensor's doing.".to_owned()));
    blocks.push(Block::Table(table));
    if !notes.is_empty() {
        blocks.push(Block::List(notes));
    }
    let events = at_events(material);
    if !events.rows.is_empty() {
        blocks.push(Block::Words(
            "The same when the ports of the build told of here open:".to_owned(),
        ));
        blocks.push(Block::Table(events));
    }
    blocks.extend(pictures);
    Ok(())
}

/// Words where the mark of the top dead centre or the sensor's zero would explain most of what is between.
fn doubt(measured: &PressureTrace, name: &str, residual: &Residual) -> Option<String> {
    let (shift, left) = residual.shifted;
    (left < 0.6 * residual.rms && (shift.abs() >= 0.3 || residual.mean.abs() > 0.5 * residual.rms))
        .then(|| {
            format!(
                "{} at {:.0}/min against {name}: read {shift:+.1}° later and with its level free, the trace would lie within {left:.3} bar instead of {:.3}. Check the mark of the top dead centre and the sensor's zero before believing either curve.",
                measured.place.words(),
                measured.rpm,
                residual.rms
            )
        })
}

/// The whole turn, the part with open ports, and the difference.
fn drawn(
    measured: &PressureTrace,
    residuals: &[(&str, &Trace, Residual)],
) -> Result<Vec<Block>, Failure> {
    let place = measured.place.words();
    let (_, first, any) = &residuals[0];
    let window = (
        over_angle::event(first, TraceEvent::ExhaustOpens).unwrap_or(90.0) - 10.0,
        over_angle::event(first, TraceEvent::ExhaustCloses).unwrap_or(270.0) + 10.0,
    );
    let inside = |points: &[(f64, f64)], (from, to): (f64, f64)| -> Vec<(f64, f64)> {
        points.iter().copied().filter(|p| (from..=to).contains(&p.0)).collect()
    };
    let all = (f64::NEG_INFINITY, f64::INFINITY);
    let curve = |i: usize, words: String, points| {
        let curve = Curve::new(i, words, points);
        Curve { look: curve.look.plain(), ..curve }
    };
    let overlay = |range| -> Vec<Curve> {
        let mut curves: Vec<Curve> = residuals
            .iter()
            .enumerate()
            .map(|(i, (name, trace, _))| {
                let points =
                    over_angle::curve(trace, computed_pressure(trace, measured.place), BAR);
                curve(i, format!("computed, {name}"), inside(&points, range))
            })
            .collect();
        curves.push(curve(residuals.len(), "measured".to_owned(), inside(&any.measured, range)));
        curves
    };
    let apart = residuals.iter().enumerate().map(|(i, (name, _, residual))| {
        curve(i, format!("computed less measured, {name}"), residual.difference.clone())
    });
    let events = |names: &[(TraceEvent, &str)]| -> Vec<(f64, String)> {
        let at = |event| over_angle::event(first, event);
        names.iter().filter_map(|(e, short)| Some((at(*e)?, (*short).to_owned()))).collect()
    };
    let mut blocks = Vec::new();
    let absolute = "pressure, absolute [bar]";
    let few: &[(TraceEvent, &str)] = &[
        (TraceEvent::ExhaustOpens, "EO"),
        (TraceEvent::TransferOpens, "TO"),
        (TraceEvent::ExhaustCloses, "EC"),
    ];
    for (part, words, axis, curves, marks) in [
        ("whole", "measured and computed", absolute, overlay(all), &[][..]),
        ("open", "measured and computed while ports are open", absolute, overlay(window), few),
        ("apart", "computed less measured", "difference [bar]", apart.collect(), few),
    ] {
        let name = format!("measured-{place}-{part}-{:.0}rpm", measured.rpm);
        let lines = Lines {
            name: name.clone(),
            title: format!("pressure, {place}, {:.0}/min: {words}", measured.rpm),
            axes: ("crank angle after top dead centre [°]".to_owned(), axis.to_owned()),
            decimals: (0, 1),
            from_zero: false,
            curves,
            marks: events(marks),
        };
        blocks.push(Block::Picture(Picture::new(&name, lines.title.clone(), lines.draw()?.svg)));
    }
    Ok(blocks)
}
