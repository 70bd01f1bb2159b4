//! An engine file with some of its numbers changed, and everything else as its owner wrote it: order,
//! comments and spaces stay.

use toml_edit::{Array, DocumentMut, Item, Table, Value as Written, value};

use super::Scenario;
use crate::forms::document::Value;

/// Digits after the point that are written [1e-6 of the key's unit]: less is rounding.
const DIGITS: f64 = 1e6;

/// The text of `before` with what `after` changed of it, and with whole lists by their paths, such as the
/// parts of a stack of which a change knows only the height. The state in which the readings were taken is
/// written with it, for the changed engine no longer is in that state.
///
/// # Errors
/// When the text is no engine file, or has a table where `after` has a number; says which.
pub fn rewritten(
    before: &Scenario,
    after: &Scenario,
    lists: &[(&str, Vec<f64>)],
) -> Result<String, String> {
    let mut text: DocumentMut =
        before.document.text.parse().map_err(|e: toml_edit::TomlError| e.to_string())?;
    for (path, entry) in after.document.entries() {
        if before.document.entry(&path).map(|e| &e.value) == Some(&entry.value) {
            continue;
        }
        match &entry.value {
            Value::Number(number) => {
                let error = before.document.tolerances.get(&path);
                put(&mut text, &path, one(*number, error.copied()))?;
            }
            Value::Numbers(numbers) => put(&mut text, &path, many(numbers))?,
            _ => return Err(format!("{path} is no number")),
        }
    }
    for (path, _) in before.document.entries() {
        if !after.document.gives(&path) {
            remove(&mut text, &path);
        }
    }
    for (path, numbers) in lists {
        put(&mut text, path, many(numbers))?;
    }
    Ok(text.to_string())
}

fn rounded(number: f64) -> f64 {
    (number * DIGITS).round() / DIGITS
}

/// A number, with its half-width where it has one.
fn one(number: f64, error: Option<f64>) -> Item {
    match error {
        Some(error) => value(format!("{} ± {error}", rounded(number))),
        None => value(rounded(number)),
    }
}

fn many(numbers: &[f64]) -> Item {
    value(numbers.iter().copied().map(rounded).collect::<Array>())
}

/// Name and, for one of an array of tables, its number.
fn step(part: &str) -> (&str, Option<usize>) {
    let numbered = part.strip_suffix(']').and_then(|p| p.rsplit_once('['));
    numbered.and_then(|(name, n)| Some((name, Some(n.parse().ok()?)))).unwrap_or((part, None))
}

/// The table at a path; made where there is none.
fn table<'a>(text: &'a mut DocumentMut, path: &str) -> Option<&'a mut Item> {
    let mut here = text.as_item_mut();
    for part in path.split('.').filter(|p| !p.is_empty()) {
        let (name, number) = step(part);
        if here.get(name).is_none() {
            here.as_table_like_mut()?.insert(name, Item::Table(Table::new()));
        }
        here = here.get_mut(name)?;
        if let Some(number) = number {
            here = here.get_mut(number)?;
        }
    }
    Some(here)
}

fn put(text: &mut DocumentMut, path: &str, mut item: Item) -> Result<(), String> {
    let (parent, name) = path.rsplit_once('.').unwrap_or(("", path));
    let wrong = || format!("{path} cannot be written");
    let table = table(text, parent).and_then(Item::as_table_like_mut).ok_or_else(wrong)?;
    // the comment behind the old number stays
    let old = table.get(name).and_then(Item::as_value).map(|v| v.decor().clone());
    if let (Some(decor), Some(new)) = (old, item.as_value_mut()) {
        *Written::decor_mut(new) = decor;
    }
    table.insert(name, item);
    Ok(())
}

fn remove(text: &mut DocumentMut, path: &str) {
    let (parent, name) = path.rsplit_once('.').unwrap_or(("", path));
    if let Some(table) = table(text, parent).and_then(Item::as_table_like_mut) {
        table.remove(name);
    }
}

#[cfg(test)]
mod tests {
    use super::super::read;
    use super::*;

    const FILE: &str = include_str!("../../../../scenarios/touring.toml");

    #[test]
    fn what_is_changed_reads_back_and_comments_stay() {
        let file = FILE
            .replace(
                "roof_depth_mm = 33.1",
                "roof_depth_mm = \"33.1 ± 0.1\" # the roof, at its middle",
            )
            .replace("volume_cm3 = 13.2", "volume_cm3 = 13.2 # by burette");
        let before = read(&file).unwrap();
        let after = before
            .with_all(&[
                ("stack.base_total_mm", 1.2),
                ("exhaust.window[0].roof_depth_mm", 32.123_456_789),
                ("transfer.main.window[1].chord_mm", 20.0),
                ("head.assembled.volume_cm3", 12.5),
            ])
            .unwrap();
        let parts = [("stack.base_gaskets_mm", vec![0.2]), ("stack.spacers_mm", vec![1.0])];
        let text = rewritten(&before, &after, &parts).unwrap();
        let back = read(&text).unwrap_or_else(|f| panic!("{f:?}\n{text}"));
        for path in [
            "stack.base_total_mm",
            "stack.head_total_mm",
            "exhaust.window[0].roof_depth_mm",
            "transfer.main.window[1].chord_mm",
            "head.assembled.volume_cm3",
            "stack.measured.deck_mm",
        ] {
            let (a, b) = (after.value(path).unwrap(), back.value(path).unwrap());
            assert!((a - b).abs() < 1e-6, "{path}: {a} {b}\n{text}");
        }
        assert!((after.spec.stack.deck - back.spec.stack.deck).abs() < 1e-9, "{text}");
        assert!(text.contains("\"32.123457 ± 0.1\" # the roof, at its middle"), "{text}");
        assert!(text.contains("# by burette"), "{text}");
        // nothing is lost: every comment of the old file stands in the new one
        for line in file.lines().filter(|l| l.starts_with('#')) {
            assert!(text.contains(line), "{line}\n{text}");
        }
        // the readings were taken with the stack of the old file
        assert_eq!(back.value("stack.measured.base_gaskets_mm[0]"), Some(0.4), "{text}");
    }
}
