//! Tables of an engine with pipes: what the pipes add, and what finer cells change.

use std::fmt::Write as _;

use freshcharge_sim::result::Point;
use freshcharge_sim::studies::{GridError, grid_error};
use serde_json::{Value, json};

use super::layout::wrapped;
use freshcharge_sim::studies::run::{OtherGrids, Row, Run};

/// Headline results: key, words, value.
type Headline = (&'static str, &'static str, fn(&Point) -> f64);
const HEADLINES: [Headline; 6] = [
    ("power_kw", "power kW", |p| p.summary.power / 1e3),
    ("imep_bar", "imep bar", |p| p.summary.imep / 1e5),
    ("delivery_ratio", "delivery", |p| p.summary.delivery_ratio),
    ("trapping_efficiency", "trapping", |p| p.summary.trapping_efficiency.unwrap_or_default()),
    ("charging_efficiency", "charging", |p| p.summary.charging_efficiency),
    ("cylinder_pressure_at_transfer_opening_bar", "p(TO) bar", |p| {
        p.summary.cylinder_pressure_to / 1e5
    }),
];

/// Tables under that of the run; empty where nothing was asked for.
pub(crate) fn tables(run: &Run) -> String {
    let mut out = String::new();
    if let Some(plain) = &run.plain {
        let inlet = run.scenario.spec.inlet_pipe.is_some();
        against_plain(&mut out, &run.rows, plain, inlet);
    }
    if let Some(grids) = &run.grids {
        grid(&mut out, run, grids);
    }
    out
}

fn pairs<'a>(rows: &'a [Row], others: &'a [Row]) -> impl Iterator<Item = (&'a Point, &'a Point)> {
    rows.iter().zip(others).filter_map(|(a, b)| a.point().zip(b.point()))
}

fn against_plain(out: &mut String, rows: &[Row], plain: &[Row], inlet: bool) {
    out.push_str(
        "\nWhat the pipes add (with, without):\n\n  speed     power kW         charging     p(TO) bar  returned\n  1/min  with    without   with   w/o    with   w/o     mg\n",
    );
    for (a, b) in pairs(rows, plain) {
        let (p, q) = (&a.summary, &b.summary);
        let unsettled =
            if a.verdict.settled() && b.verdict.settled() { "" } else { "  not settled" };
        let _ = writeln!(
            out,
            "{:7.0} {:6.2} {:6.2} {:+4.0} %  {:.3}  {:.3}  {:.3}  {:.3} {:6.1}{unsettled}",
            a.rpm,
            p.power / 1e3,
            q.power / 1e3,
            100.0 * (p.power / q.power - 1.0),
            p.charging_efficiency,
            q.charging_efficiency,
            p.cylinder_pressure_to / 1e5,
            q.cylinder_pressure_to / 1e5,
            p.exhaust_return_fresh * 1e6
        );
    }
    let both = if inlet { ", and the inlet has no pipe either" } else { "" };
    let words = format!(
        "w/o: the exhaust opens straight into its outside{both}; returned: fresh charge that the pipe pushed back into the cylinder."
    );
    let _ = writeln!(out, "{}", wrapped(&words));
}

/// Errors of headline results by speed, with what halving the cells moves.
fn errors<'a>(
    run: &'a Run,
    grids: &'a OtherGrids,
) -> impl Iterator<Item = (f64, [(f64, GridError); HEADLINES.len()])> + 'a {
    let all = run.rows.iter().zip(&grids.doubled).zip(&grids.halved);
    all.filter_map(|((own, coarse), fine)| {
        let points = [coarse.point()?, own.point()?, fine.point()?];
        let of = |(_, _, value): &Headline| {
            let values = points.map(value);
            (values[2] - values[1], grid_error(values))
        };
        Some((own.rpm, std::array::from_fn(|i| of(&HEADLINES[i]))))
    })
}

fn grid(out: &mut String, run: &Run, grids: &OtherGrids) {
    let cell = run.scenario.spec.cell * 1e3;
    let _ = writeln!(
        out,
        "\nCells of {:.1}, {cell:.1} and {:.1} mm: change by halving, and the most by which the\nresult above is off for its cells, in %:\n",
        2.0 * cell,
        0.5 * cell
    );
    let _ = write!(out, "  speed");
    for (_, words, _) in HEADLINES {
        let _ = write!(out, " {words:>12}");
    }
    out.push('\n');
    for ((rpm, found), own) in errors(run, grids).zip(run.rows.iter().filter_map(Row::point)) {
        let _ = write!(out, "{rpm:7.0}");
        for ((moved, GridError { error, .. }), (_, _, value)) in found.iter().zip(HEADLINES) {
            let percent = 100.0 / value(own);
            let words = format!("{:+.2} ±{:.2}", moved * percent, error * percent.abs());
            let _ = write!(out, " {words:>12}");
        }
        out.push('\n');
    }
    out.push_str(
        "\nThree times what halving leaves of a second-order error, or 1.25 times what the\norder that the three grids show leaves, if that is more.\n",
    );
}

/// The same for JSON.
pub(crate) fn json(run: &Run) -> [(&'static str, Value); 2] {
    let headline = |p: &Point| -> Value {
        let all = HEADLINES.iter().map(|(key, _, value)| ((*key).to_owned(), json!(value(p))));
        Value::Object(all.chain([("rpm".to_owned(), json!(p.rpm))]).collect())
    };
    let of = |rows: Option<&Vec<Row>>| match rows {
        None => Value::Null,
        Some(rows) => rows.iter().filter_map(Row::point).map(headline).collect(),
    };
    let errors = run.grids.as_ref().map_or(Value::Null, |grids| {
        let each = |value: fn(&GridError) -> Value| -> Vec<Value> {
            let row = |(rpm, found): (f64, [(f64, GridError); HEADLINES.len()])| {
                let all = HEADLINES.iter().zip(&found);
                let all = all.map(|((key, ..), (_, error))| ((*key).to_owned(), value(error)));
                Value::Object(all.chain([("rpm".to_owned(), json!(rpm))]).collect())
            };
            errors(run, grids).map(row).collect()
        };
        json!({
            "half_cells": of(Some(&grids.halved)),
            "double_cells": of(Some(&grids.doubled)),
            "estimated_error": each(|e| json!(e.error)),
            "observed_order": each(|e| json!(e.order)),
        })
    });
    [("without_pipes", of(run.plain.as_ref())), ("grid_check", errors)]
}
