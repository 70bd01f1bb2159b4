//! Results as JSON.

use freshcharge_sim::result::{COLUMNS, GroupFigures, Point};
use freshcharge_sim::spec::ModelVersion;
use serde_json::{Map, Value, json};

use super::plus_minus;
use freshcharge_sim::studies::run::{Row, Run};

/// Rises when a key changes its meaning or goes.
pub(crate) const SCHEMA_VERSION: u32 = 1;

/// What the numbers of a result depend on.
pub(crate) const DEPENDS_ON: &str = "input_sha256, program_version and the arguments; not on the processor, the number of threads or the system's libraries";

/// A result as text, under what every one is headed with: schema, program, version of the model, the hash
/// of the engine file.
pub(crate) fn headed(hash: &str, model: ModelVersion, mut value: Value) -> String {
    value["model"] = model.number().into();
    value["schema_version"] = SCHEMA_VERSION.into();
    value["program_version"] = env!("CARGO_PKG_VERSION").into();
    value["input_sha256"] = hash.into();
    value["depends_on"] = DEPENDS_ON.into();
    let mut text = serde_json::to_string_pretty(&value).unwrap_or_default();
    text.push('\n');
    text
}

/// The whole run.
pub(crate) fn run(run: &Run) -> String {
    let defaults: Vec<Value> = run
        .scenario
        .defaults
        .iter()
        .map(|d| json!({ "key": d.key, "value": d.value, "meaning": d.meaning }))
        .collect();
    let mut value = json!({
        "program": "freshcharge",
        "engine": run.scenario.spec.name,
        "bare_windows": run.scenario.spec == run.scenario.spec.with_bare_windows(),
        "input_file": run.file,
        "points": run.rows.iter().map(point).collect::<Vec<_>>(),
        "defaults": defaults,
        "notes": run.scenario.notes,
    });
    if let Some(found) = &run.plus_minus {
        value["plus_minus"] = plus_minus::as_json(found);
    }
    for (key, tables) in super::pipes::json(run) {
        if !tables.is_null() {
            value[key] = tables;
        }
    }
    headed(&run.hash, run.scenario.spec.model, value)
}

fn point(row: &Row) -> Value {
    let Some(p) = row.point() else {
        let error = row.result.as_ref().err().map(ToString::to_string);
        return json!({ "rpm": row.rpm, "settled": false, "outcome": "faulty", "error": error });
    };
    let mut map = Map::new();
    for column in COLUMNS {
        map.insert(column.key.to_owned(), (column.value)(p).map_or(Value::Null, Value::from));
    }
    map.insert("settled".to_owned(), Value::Bool(p.verdict.settled()));
    map.insert("cycles".to_owned(), Value::from(p.verdict.cycles()));
    map.insert("outcome".to_owned(), Value::from(p.outcome()));
    map.insert("would_not_run".to_owned(), Value::Bool(p.standstill.is_some()));
    if let Some(why) = &p.standstill {
        map.insert("would_not_run_because".to_owned(), Value::from(why.to_string()));
    }
    map.insert("transfer_groups".to_owned(), p.groups.iter().map(group).collect());
    map.insert("work".to_owned(), work(p));
    Value::Object(map)
}

fn group(g: &GroupFigures) -> Value {
    json!({
        "name": g.name,
        "opens_deg_atdc": g.opens.to_degrees(),
        "hot_backflow_mass_mg": g.hot_mass * 1e6,
        "hot_backflow_burned_mg": g.hot_burned * 1e6,
        "hot_backflow_duration_deg": g.hot_duration.to_degrees(),
        "hot_backflow_peak_g_per_s": g.hot_peak * 1e3,
        "hot_backflow_penetration": g.penetration,
        "hot_depth": g.hot_depth,
        "late_backflow_mass_mg": g.late_mass * 1e6,
        "late_backflow_burned_mg": g.late_burned * 1e6,
        "net_mass_mg": g.net_mass * 1e6,
        "largest_slug": g.largest_slug,
    })
}

fn work(p: &Point) -> Value {
    json!({
        "steps": p.work.steps,
        "rejected_steps": p.work.rejected,
        "evaluations": p.work.evaluations,
    })
}
