//! What makes a report's charts answer: the numbers behind them, and the script that draws them.

use base64::Engine as _;
use freshcharge_sim::result::{COLUMNS, Trace};
use freshcharge_sim::units::{BAR, DEG};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use super::Material;
use crate::measured::{self, Measured, Quantity};
use crate::present::over_angle::{GRAM_PER_SECOND, Values};
use crate::present::style;

/// The script, part of the program, after the style that it draws in.
pub(super) fn script() -> String {
    let style = style::script();
    let head = "\"use strict\";\n";
    let body = include_str!("../../../data/explore.js");
    body.replacen(head, &format!("{head}const STYLE = {style};\n"), 1)
}

/// Its style.
pub(super) const STYLE: &str = ".chart svg{width:100%;height:auto;touch-action:none}.legend label{margin-right:1rem;white-space:nowrap}.legend svg{width:34px;height:8px;margin:0 .3rem;vertical-align:middle}.read{font-size:.9rem;color:var(--second);min-height:1.5em}#explore select,#grid select,input[type=range]{margin-right:.7rem;max-width:100%}#grid label{margin-right:1rem;display:inline-block;max-width:100%}@media print{#explore,#grid{display:none}}";

/// Results that can be chosen: keys of columns, power first.
const RESULTS: &[&str] = &[
    "power_kw",
    "torque_nm",
    "delivery_ratio",
    "charging_efficiency",
    "trapping_efficiency",
    "scavenging_efficiency",
    "cylinder_pressure_at_exhaust_opening_bar",
    "cylinder_pressure_at_transfer_opening_bar",
    "crankcase_pressure_at_transfer_opening_bar",
    "hot_backflow_mass_mg",
    "late_angle_deg",
    "bsfc_g_per_kwh",
    "peak_pressure_bar",
];

/// Curves that share an axis.
struct Traced {
    words: &'static str,
    unit: f64,
    curves: &'static [(&'static str, Values)],
}

/// What can be seen over the crank angle.
const TRACED: &[Traced] = &[
    Traced {
        words: "pressure [bar]",
        unit: BAR,
        curves: &[("cylinder", |t| &t.cylinder.pressure), ("crankcase", |t| &t.crankcase.pressure)],
    },
    Traced {
        words: "mass flow [g/s]",
        unit: GRAM_PER_SECOND,
        curves: &[
            ("exhaust", |t| &t.exhaust.mass_flow),
            ("transfers", |t| &t.transfer.mass_flow),
            ("intake", |t| &t.intake.mass_flow),
        ],
    },
    Traced {
        words: "temperature [K]",
        unit: 1.0,
        curves: &[
            ("cylinder", |t| &t.cylinder.temperature),
            ("crankcase", |t| &t.crankcase.temperature),
        ],
    },
];

/// Degrees between the points that a page keeps of a trace.
const EVERY: f64 = 2.0;

/// What may run on the page: this script and no other.
pub(super) fn policy() -> String {
    let digest = Sha256::digest(script().as_bytes());
    let digest = base64::engine::general_purpose::STANDARD.encode(digest);
    format!(
        "default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src 'sha256-{digest}'"
    )
}

/// A block of data that the script finds by its name.
pub(super) fn block(name: &str, data: &Value) -> String {
    // the only way out of a block of data is its end tag
    let text = data.to_string().replace('<', "\\u003c");
    format!("<script type=\"application/json\" id=\"{name}\">{text}</script>")
}

/// A number with four digits, which is what a chart shows.
fn short(value: f64) -> Value {
    if !value.is_finite() {
        return Value::Null;
    }
    let text = format!("{value:.3e}");
    text.parse::<f64>().map_or(Value::Null, |v| json!(v))
}

/// Results over speed and traces of all builds, and what was measured.
pub(super) fn data(material: &Material) -> Value {
    let columns: Vec<_> =
        RESULTS.iter().filter_map(|key| COLUMNS.iter().find(|c| c.key == *key)).collect();
    let measured: Vec<Value> =
        columns.iter().map(|c| measured(&material.measured, c.key)).collect();
    let traces: Vec<Value> = material
        .measured
        .traces
        .iter()
        .map(|t| {
            let (x, y): (Vec<Value>, Vec<Value>) =
                t.points.iter().map(|p| (short(p.0), short(p.1))).unzip();
            json!({ "rpm": t.rpm, "name": t.place.words(), "x": x, "y": y })
        })
        .collect();
    json!({
        "results": columns.iter().map(|c| c.title).collect::<Vec<_>>(),
        "traced": TRACED.iter().map(|t| t.words).collect::<Vec<_>>(),
        "measured": measured,
        "measured_traces": traces,
        "builds": (0..material.runs.len()).map(|i| build(material, i)).collect::<Vec<_>>(),
    })
}

/// What was measured of a result, as lists of speeds and values.
fn measured(measured: &Measured, key: &str) -> Value {
    let points = match key {
        "power_kw" => measured::power(&measured.series),
        "torque_nm" => {
            let torque = measured.series.iter().find(|s| s.quantity == Quantity::Torque);
            torque.map(|s| s.points.clone())
        }
        _ => None,
    };
    points.map_or(Value::Null, |points| {
        let (x, y): (Vec<f64>, Vec<f64>) = points.into_iter().unzip();
        json!([x, y])
    })
}

fn build(material: &Material, index: usize) -> Value {
    let run = &material.runs[index];
    let points: Vec<_> = run.rows.iter().filter_map(|r| r.point()).collect();
    let results: Vec<Vec<Value>> = RESULTS
        .iter()
        .filter_map(|key| COLUMNS.iter().find(|c| c.key == *key))
        .map(|c| points.iter().map(|p| (c.value)(p).map_or(Value::Null, short)).collect())
        .collect();
    // traces of the run, and of the speeds at which pressures were measured
    let traced = |rpm: f64| material.measured.traces.iter().any(|t| t.rpm == rpm);
    let known = |rpm: f64| run.rows.iter().any(|r| r.rpm == rpm);
    let beside = material.beside.get(index).into_iter().flat_map(|b| &b.rows);
    let more = beside.filter(|r| traced(r.rpm) && !known(r.rpm));
    let traces: Vec<Value> = run
        .rows
        .iter()
        .chain(more)
        .filter_map(|row| match &row.result {
            Ok((point, Some(trace))) => Some(one(point.rpm, trace)),
            _ => None,
        })
        .collect();
    json!({
        "name": run.scenario.spec.name,
        "speeds": points.iter().map(|p| p.rpm).collect::<Vec<_>>(),
        "results": results,
        "traces": traces,
    })
}

fn one(rpm: f64, trace: &Trace) -> Value {
    let angles: Vec<f64> = trace.angle.iter().map(|a| a / DEG).collect();
    // the first point of every two degrees, and the last of all
    let mut kept: Vec<usize> = Vec::new();
    let mut next = f64::NEG_INFINITY;
    for (i, angle) in angles.iter().enumerate() {
        if *angle >= next || i + 1 == angles.len() {
            kept.push(i);
            next = angle + EVERY - 1e-9;
        }
    }
    let of = |curves: &[(&str, Values)], unit: f64| -> Vec<Value> {
        let one = |(words, values): &(&str, Values)| {
            let values = values(trace);
            let y: Vec<Value> = kept.iter().map(|i| short(values[*i] / unit)).collect();
            json!({ "name": words, "y": y })
        };
        curves.iter().map(one).collect()
    };
    let marks: Vec<Value> = trace
        .events
        .iter()
        .map(|(event, angle)| json!({ "name": event.words(), "x": short(angle / DEG) }))
        .collect();
    json!({
        "rpm": rpm,
        "x": kept.iter().map(|i| short(angles[*i])).collect::<Vec<_>>(),
        "y": TRACED.iter().map(|t| of(t.curves, t.unit)).collect::<Vec<_>>(),
        "marks": marks,
    })
}
