//! What was typed at a prompt, as the key's kind wants it, and what was understood.

use freshcharge_sim::scenario::keys::{Fallback, Key, Kind, Unit};
use freshcharge_sim::scenario::parse_quantity;

/// An answer understood.
#[derive(Debug, PartialEq)]
pub(super) struct Typed {
    /// As it stands in a file.
    pub(super) value: String,
    /// In words.
    pub(super) words: String,
}

/// Whether a key holds a list of numbers.
pub(super) fn is_list(key: &Key) -> bool {
    matches!(key.kind, Kind::Numbers(..))
}

/// Reads an answer.
///
/// # Errors
/// What to type instead.
pub(super) fn typed(key: &Key, answer: &str) -> Result<Typed, String> {
    let answer = answer.trim();
    match key.kind {
        Kind::Number(unit, ..) | Kind::OverSpeed(unit, ..) => one(key, answer, unit),
        Kind::Numbers(unit, ..) => list(key, answer, unit),
        Kind::Choice(choices) => choice(choices, answer),
        Kind::Flag => choice(&["true", "false"], answer)
            .map(|t| Typed { value: t.words.clone(), words: t.words }),
        Kind::Text | Kind::Speeds => {
            let bare = answer.trim_matches('"');
            Ok(Typed { value: text(bare), words: bare.to_owned() })
        }
        Kind::Count(..) | Kind::Reading(..) => one(key, answer, Unit::One),
        Kind::Rows(..) | Kind::Schedule | Kind::Range | Kind::Words | Kind::Choices(_) => {
            Ok(Typed { value: answer.to_owned(), words: answer.to_owned() })
        }
    }
}

/// The angle in an answer to a roof's depth, as `98.5 deg`.
pub(super) fn angle(answer: &str) -> Option<String> {
    let bare = ["degrees", "deg", "°"].iter().find_map(|unit| answer.trim().strip_suffix(unit))?;
    let bare = point(bare.trim());
    bare.parse::<f64>().is_ok().then_some(bare)
}

/// Words as a file has them.
pub(super) fn text(words: &str) -> String {
    serde_json::to_string(words).unwrap_or_default()
}

/// The numbers of a list of a file added up, as one number of a file.
pub(super) fn sum(list: &str) -> String {
    let inner = list.trim().trim_matches(['[', ']']);
    let numbers = inner.split(',').map(|n| n.trim().trim_matches('"').trim());
    let millimetres =
        numbers.filter(|n| !n.is_empty()).filter_map(|n| parse_quantity(n, Unit::Millimetre).ok());
    format!("{:?}", (millimetres.sum::<f64>() * 1e6).round() / 1e6)
}

fn choice(choices: &[&str], answer: &str) -> Result<Typed, String> {
    let bare = answer.trim_matches('"').to_lowercase();
    let mut fitting = choices.iter().filter(|c| !bare.is_empty() && c.starts_with(&bare));
    match (fitting.next(), fitting.next()) {
        (Some(only), None) => Ok(Typed { value: text(only), words: (*only).to_owned() }),
        _ => Err(format!("type one of {}", choices.join(", "))),
    }
}

/// A decimal comma made a point: the comma stands between digits.
fn point(number: &str) -> String {
    let chars: Vec<char> = number.chars().collect();
    let between = |i: usize| {
        let before = i.checked_sub(1).is_some_and(|b| chars[b].is_ascii_digit());
        before && chars.get(i + 1).is_some_and(char::is_ascii_digit)
    };
    let commas = chars.iter().filter(|c| **c == ',').count();
    if commas != 1 || number.contains('.') {
        return number.to_owned();
    }
    let swap = |(i, c): (usize, &char)| if *c == ',' && between(i) { '.' } else { *c };
    chars.iter().enumerate().map(swap).collect()
}

/// One number as a file has it, with its value in the key's unit. What carries another unit or a
/// tolerance stays as it was typed, in quotes.
fn number(answer: &str, unit: Unit) -> Result<(String, f64), String> {
    let bare = answer.trim().trim_matches('"').trim();
    let halves = ["±", "+-", "+/-"].iter().find_map(|s| bare.split_once(s).map(|h| (*s, h)));
    let written = match halves {
        Some((sign, (main, spread))) => format!("{}{sign}{}", point(main), point(spread)),
        None => point(bare),
    };
    let value = parse_quantity(&written, unit)?;
    let symbol = unit.symbol();
    let own =
        written.strip_suffix(symbol).filter(|_| !symbol.is_empty()).unwrap_or(&written).trim();
    let plain = own.parse::<f64>().is_ok_and(|v| v == value);
    // TOML wants a digit on both sides of the point
    let file = if plain { format!("{value:?}") } else { text(&written) };
    Ok((file, value))
}

fn one(key: &Key, answer: &str, unit: Unit) -> Result<Typed, String> {
    if answer.eq_ignore_ascii_case("none")
        && matches!(key.fallback, Fallback::Number(n) if n == 0.0)
    {
        return Ok(Typed { value: "0.0".to_owned(), words: "none".to_owned() });
    }
    let (value, number) = number(answer, unit)?;
    // whole numbers are counted where there is no unit: six petals, not 6.0
    let counted = unit == Unit::One && number.fract() == 0.0;
    let value = if counted { format!("{number:.0}") } else { value };
    let words = if value.starts_with('"') {
        format!("{}, which is {}", value.trim_matches('"'), shown(number, unit, 2))
    } else {
        shown(number, unit, 2)
    };
    Ok(Typed { value, words })
}

/// A number with its unit: at least one decimal of a length, at most `digits`.
fn shown(number: f64, unit: Unit, digits: usize) -> String {
    let scale = 10_f64.powi(digits as i32);
    let rounded = (number * scale).round() / scale;
    match unit {
        Unit::One => format!("{rounded}"),
        Unit::Degree => format!("{rounded}°"),
        unit => format!("{rounded} {}", unit.symbol()),
    }
}

fn list(key: &Key, answer: &str, unit: Unit) -> Result<Typed, String> {
    let each = if key.each.is_empty() { "value" } else { key.each };
    let bare = answer.trim().trim_start_matches('[').trim_end_matches(']').trim();
    if bare.is_empty() || ["none", "no", "0"].contains(&bare.to_lowercase().as_str()) {
        return Ok(Typed { value: "[]".to_owned(), words: format!("no {each}") });
    }
    let (mut values, mut numbers) = (Vec::new(), Vec::new());
    for item in items(bare)? {
        let (count, item) = times(&item);
        let (value, number) = number(&item, unit)?;
        for _ in 0..count {
            values.push(value.clone());
            numbers.push(number);
        }
    }
    let words = counted(each, &numbers, unit);
    Ok(Typed { value: format!("[{}]", values.join(", ")), words })
}

/// `2 x 0.5` as two of 0.5.
fn times(item: &str) -> (usize, String) {
    let parts = item.split_once(['x', '×']);
    let count = parts.and_then(|(n, _)| n.trim().parse::<usize>().ok());
    match (count, parts) {
        (Some(count @ 1..=20), Some((_, rest))) => (count, rest.trim().to_owned()),
        _ => (1, item.to_owned()),
    }
}

/// The numbers of a list, each with its unit. Spaces and semicolons separate them, and so does a comma
/// with a space behind it, or one among numbers that have points; a comma between digits is a decimal one.
fn items(bare: &str) -> Result<Vec<String>, String> {
    let separated = bare.replace(", ", "; ").replace(" and ", "; ");
    let mut items: Vec<String> = Vec::new();
    for part in separated.split(';').filter(|p| !p.trim().is_empty()) {
        let mut joins = false;
        for word in part.split_whitespace() {
            let digit = word.chars().any(|c| c.is_ascii_digit());
            let sign = ["±", "+-", "+/-", "x", "×"].contains(&word);
            match items.last_mut().filter(|_| joins || sign || !digit) {
                Some(last) => {
                    last.push(' ');
                    last.push_str(word);
                }
                None => items.push(word.to_owned()),
            }
            joins = sign;
        }
    }
    let mut all = Vec::new();
    for item in items {
        let commas = item.matches(',').count();
        // a size and its error have a decimal comma each
        let halves = ["±", "+-", "+/-"].iter().filter(|sign| item.contains(**sign)).count();
        let decimal = halves == 1 && commas <= 2 && !item.contains('.');
        if decimal {
            all.push(item);
        } else if commas > 0 && item.contains('.') {
            all.extend(item.split(',').map(|p| p.trim().to_owned()));
        } else if commas > 1 {
            return Err("separate them with spaces or semicolons, such as 0,5 0,3".to_owned());
        } else {
            all.push(item.trim_end_matches(',').to_owned());
        }
    }
    Ok(all)
}

/// `two gaskets, 0.40 and 0.10 mm, 0.50 mm together`.
fn counted(each: &str, numbers: &[f64], unit: Unit) -> String {
    const WORDS: [&str; 7] = ["no", "one", "two", "three", "four", "five", "six"];
    let n = numbers.len();
    let count = WORDS.get(n).map_or(n.to_string(), |w| (*w).to_owned());
    let symbol = if unit == Unit::Degree { "°".to_owned() } else { format!(" {}", unit.symbol()) };
    let figures: Vec<String> = numbers.iter().map(|v| format!("{v:.2}")).collect();
    let figures = match figures.split_last() {
        Some((last, before)) if !before.is_empty() => format!("{} and {last}", before.join(", ")),
        _ => figures.concat(),
    };
    let plural = if n == 1 { "" } else { "s" };
    let mut words = format!("{count} {each}{plural}, {figures}{symbol}");
    if n > 1 && unit == Unit::Millimetre && each != "ring" {
        words += &format!(", {:.2} mm together", numbers.iter().sum::<f64>());
    }
    words
}

#[cfg(test)]
mod tests {
    use freshcharge_sim::scenario::keys::section_at;

    use super::*;

    fn read(table: &str, key: &str, answer: &str) -> Result<(String, String), String> {
        let key = section_at(table).unwrap().key(key).unwrap();
        typed(key, answer).map(|t| (t.value, t.words))
    }

    #[test]
    fn lists_are_read_as_they_are_meant_and_read_back() {
        for (answer, value, words) in [
            ("0,5", "[0.5]", "one gasket, 0.50 mm"),
            ("0.5", "[0.5]", "one gasket, 0.50 mm"),
            ("0.5 mm", "[0.5]", "one gasket, 0.50 mm"),
            ("0,5mm", "[0.5]", "one gasket, 0.50 mm"),
            ("none", "[]", "no gasket"),
            ("0,4 0,1", "[0.4, 0.1]", "two gaskets, 0.40 and 0.10 mm, 0.50 mm together"),
            ("0,4; 0,1", "[0.4, 0.1]", "two gaskets, 0.40 and 0.10 mm, 0.50 mm together"),
            ("0.4, 0.1", "[0.4, 0.1]", "two gaskets, 0.40 and 0.10 mm, 0.50 mm together"),
            ("0.4,0.1", "[0.4, 0.1]", "two gaskets, 0.40 and 0.10 mm, 0.50 mm together"),
            ("[0.4, 0.1]", "[0.4, 0.1]", "two gaskets, 0.40 and 0.10 mm, 0.50 mm together"),
            ("0.4 mm 0.1 mm", "[0.4, 0.1]", "two gaskets, 0.40 and 0.10 mm, 0.50 mm together"),
            ("2 x 0,5", "[0.5, 0.5]", "two gaskets, 0.50 and 0.50 mm, 1.00 mm together"),
            ("20 thou", "[\"20 thou\"]", "one gasket, 0.51 mm"),
            ("0,5 ± 0,05", "[\"0.5 ± 0.05\"]", "one gasket, 0.50 mm"),
        ] {
            let found = read("stack", "base_gaskets_mm", answer);
            assert_eq!(found, Ok((value.to_owned(), words.to_owned())), "{answer}");
        }
        let refused = read("stack", "base_gaskets_mm", "0,4,0,1").unwrap_err();
        assert!(refused.contains("spaces or semicolons"), "{refused}");
        assert!(read("stack", "base_gaskets_mm", "thick").is_err());
    }

    #[test]
    fn a_number_is_a_number_whatever_its_key_is_called() {
        for (table, key) in [
            ("exhaust.window[]", "roof_radius_mm"),
            ("intake.reed.stage[]", "thickness_mm"),
            ("crank_train", "bore_mm"),
        ] {
            for answer in ["5.0", "5,0", "5", "5 mm", "5,0 mm"] {
                let found = read(table, key, answer);
                assert_eq!(found, Ok(("5.0".to_owned(), "5 mm".to_owned())), "{key} {answer}");
            }
        }
        let spread = read("exhaust.window[]", "chord_mm", "34,0 mm ± 0,1").unwrap();
        assert_eq!(spread.0, "\"34.0 mm ± 0.1\"");
        assert_eq!(read("intake.reed.stage[]", "petals", "6").unwrap().0, "6");
        assert_eq!(read("intake.reed.stage[]", "material", "c").unwrap().0, "\"carbon\"");
        assert!(read("crankcase", "measured_at", "middle").unwrap_err().contains("top, bottom"));
        assert_eq!(angle("98,5 deg").as_deref(), Some("98.5"));
        assert_eq!(angle("98,5"), None);
        assert_eq!(sum("[0.3, \"0.2 mm\"]"), "0.5");
    }
}
