//! JSON Schema of an engine file, from the table of keys: for completion and checks in an editor.

use freshcharge_sim::scenario::keys::{
    Either, Fallback, Key, Kind, Presence, SECTIONS, Section, Unit,
};
use serde_json::{Map, Value, json};

/// The whole schema (draft 2020-12).
pub(crate) fn schema() -> String {
    let mut value = table("");
    value["$schema"] = json!("https://json-schema.org/draft/2020-12/schema");
    value["title"] = json!("Freshcharge engine file");
    let mut text = serde_json::to_string_pretty(&value).unwrap_or_default();
    text.push('\n');
    text
}

/// The table at a path.
fn table(path: &str) -> Value {
    let section = SECTIONS.iter().find(|s| s.path == path);
    let mut properties = Map::new();
    let mut required = Vec::new();
    for key in section.map_or(&[][..], |s| s.keys) {
        properties.insert(key.name.to_owned(), describe(key));
        if key.fallback == Fallback::Required {
            required.push(key.name.to_owned());
        }
    }
    for (name, child) in children(path) {
        let array = child.path.ends_with("[]");
        let inner = table(child.path);
        let value =
            if array { json!({ "type": "array", "minItems": 1, "items": inner }) } else { inner };
        properties.insert(name.to_owned(), value);
        if child.presence == Presence::Required {
            required.push(name.to_owned());
        }
    }
    let mut value = json!({
        "type": "object",
        "description": section.map_or("", |s| s.meaning),
        "properties": properties,
        "required": required,
        "additionalProperties": false,
    });
    let rules: Vec<Value> = section.map_or(&[][..], |s| s.either).iter().flat_map(either).collect();
    if !rules.is_empty() {
        value["allOf"] = Value::Array(rules);
    }
    value
}

/// Rules of keys that stand for each other: one must be there, or no two may be.
fn either(either: &Either) -> Vec<Value> {
    let given = |name: &&str| json!({ "required": [name] });
    let mut rules = Vec::new();
    if either.required {
        rules.push(json!({ "anyOf": either.names.iter().map(given).collect::<Vec<_>>() }));
    }
    if either.exclusive {
        for (i, first) in either.names.iter().enumerate() {
            for second in &either.names[i + 1..] {
                rules.push(json!({ "not": { "required": [first, second] } }));
            }
        }
    }
    rules
}

/// Tables directly inside the one at `path`, by their names.
fn children(path: &str) -> impl Iterator<Item = (&'static str, &'static Section)> {
    let prefix = if path.is_empty() { String::new() } else { format!("{path}.") };
    SECTIONS.iter().filter_map(move |section| {
        let rest = section.path.strip_prefix(&prefix)?;
        let name = rest.strip_suffix("[]").unwrap_or(rest);
        let direct = !name.is_empty() && !name.contains(['.', '[']);
        direct.then_some((name, section))
    })
}

/// What a key may hold.
fn describe(key: &Key) -> Value {
    let number = |unit: Unit, low: f64, high: f64| {
        let unit = unit.symbol();
        json!({ "anyOf": [
            { "type": "number", "minimum": low, "maximum": high },
            {
                "type": "string",
                "pattern": "^\\s*[-+]?[0-9.]",
                "description": format!("number with a unit, and ± tolerance; without a unit: {unit}"),
            },
        ] })
    };
    let list = |items: Value| json!({ "type": "array", "items": items });
    let mut value = match key.kind {
        Kind::Number(unit, low, high) => number(unit, low, high),
        Kind::Numbers(unit, low, high) => list(number(unit, low, high)),
        Kind::Rows(low, high) => list(list(number(Unit::One, low, high))),
        Kind::OverSpeed(unit, low, high) => {
            let one = number(unit, low, high);
            let table = json!({
                "type": "object",
                "properties": {
                    "rpm": list(json!({ "type": "number" })),
                    "value": list(one.clone()),
                },
                "required": ["rpm", "value"],
                "additionalProperties": false,
            });
            json!({ "anyOf": [one, table] })
        }
        Kind::Schedule => list(list(json!({ "type": "number", "minimum": 0 }))),
        Kind::Range => json!({ "anyOf": [
            list(json!({ "type": "number" })),
            { "type": "object", "properties": { "least": {}, "most": {} } },
        ] }),
        Kind::Count(low, high) => json!({ "type": "integer", "minimum": low, "maximum": high }),
        Kind::Reading(low, high) => json!({ "anyOf": [
            { "type": "number", "minimum": low, "maximum": high }, { "type": "string" },
        ] }),
        Kind::Words => list(json!({ "type": "string" })),
        Kind::Choices(choices) => list(json!({ "enum": choices })),
        Kind::Text => json!({ "type": "string" }),
        Kind::Choice(choices) => json!({ "enum": choices }),
        Kind::Flag => json!({ "type": "boolean" }),
        Kind::Speeds => {
            json!({ "anyOf": [{ "type": "string" }, list(json!({ "type": "number" }))] })
        }
    };
    let how = if key.how.is_empty() { String::new() } else { format!(" {}", key.how) };
    value["description"] = json!(format!("{}{how}", key.meaning));
    match key.fallback {
        Fallback::Number(default) => value["default"] = json!(default),
        Fallback::Text(default) => value["default"] = json!(default),
        Fallback::Flag(default) => value["default"] = json!(default),
        _ => {}
    }
    value
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_and_table_is_in_the_schema() {
        let value: Value = serde_json::from_str(&schema()).unwrap();
        for section in SECTIONS {
            let mut at = &value;
            for part in section.path.split('.').filter(|p| !p.is_empty()) {
                let name = part.strip_suffix("[]").unwrap_or(part);
                at = &at["properties"][name];
                if part.ends_with("[]") {
                    at = &at["items"];
                }
            }
            for key in section.keys {
                assert!(at["properties"][key.name].is_object(), "{} {}", section.path, key.name);
            }
        }
    }
}
