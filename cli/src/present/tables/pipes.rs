//! Tables of an engine with pipes: what the pipes add, and what finer cells change.

use std::fmt::Write as _;

use freshcharge_sim::result::Point;
use serde_json::{Value, json};

use super::layout::wrapped;
use freshcharge_sim::studies::run::{Row, Run};

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
    if let Some(halved) = &run.halved {
        grid(&mut out, run, halved);
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

/// Of a second-order method: by how much the coarser of two grids is off, in what halving moves.
const OFF: f64 = 4.0 / 3.0;

fn grid(out: &mut String, run: &Run, halved: &[Row]) {
    let cell = run.scenario.spec.cell * 1e3;
    let _ = writeln!(
        out,
        "\nCells of {cell:.1} mm against {:.1} mm: change by halving, and estimated error\nof the result above, in %:\n",
        0.5 * cell
    );
    let _ = write!(out, "  speed");
    for (_, words, _) in HEADLINES {
        let _ = write!(out, " {words:>12}");
    }
    out.push('\n');
    for (a, b) in pairs(&run.rows, halved) {
        let _ = write!(out, "{:7.0}", a.rpm);
        for (_, _, value) in HEADLINES {
            let moved = 100.0 * (value(b) / value(a) - 1.0);
            let _ = write!(out, " {:>12}", format!("{moved:+.2} ±{:.2}", OFF * moved.abs()));
        }
        out.push('\n');
    }
}

/// The same for JSON.
pub(crate) fn json(run: &Run) -> [(&'static str, Value); 2] {
    let headline = |p: &Point| -> Value {
        let all = HEADLINES.iter().map(|(key, _, value)| ((*key).to_owned(), json!(value(p))));
        Value::Object(all.chain([("rpm".to_owned(), json!(p.rpm))]).collect())
    };
    let of = |rows: &Option<Vec<Row>>| match rows {
        None => Value::Null,
        Some(rows) => rows.iter().filter_map(Row::point).map(headline).collect(),
    };
    let errors = run.halved.as_ref().map_or(Value::Null, |halved| {
        let error = |(a, b): (&Point, &Point)| -> Value {
            let all = HEADLINES.iter().map(|(key, _, value)| {
                ((*key).to_owned(), json!(OFF * (value(b) - value(a)).abs()))
            });
            Value::Object(all.chain([("rpm".to_owned(), json!(a.rpm))]).collect())
        };
        let errors: Vec<Value> = pairs(&run.rows, halved).map(error).collect();
        json!({ "half_cells": of(&run.halved), "estimated_error": errors })
    });
    [("without_pipes", of(&run.plain)), ("grid_check", errors)]
}
