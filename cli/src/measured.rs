//! Measurements of a running engine from CSV: what a column is and its unit stand in its head.

use std::path::Path;

use freshcharge_sim::result::{COLUMNS, Point};

use crate::files::{self, Failure};

/// What was measured over speed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Quantity {
    /// Power [kW].
    Power,
    /// Torque [N·m].
    Torque,
    /// Fuel [g/min].
    Fuel,
}

impl Quantity {
    /// Words with the unit.
    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::Power => "power [kW]",
            Self::Torque => "torque [N·m]",
            Self::Fuel => "fuel [g/min]",
        }
    }

    /// The same of a computed point.
    pub(crate) fn of(self) -> fn(&Point) -> Option<f64> {
        fn column(key: &str, point: &Point) -> Option<f64> {
            COLUMNS.iter().find(|c| c.key == key).and_then(|c| (c.value)(point))
        }
        match self {
            Self::Power => |p| column("power_kw", p),
            Self::Torque => |p| column("torque_nm", p),
            Self::Fuel => |p| Some(column("fuel_mass_mg", p)? * 1e-3 * p.rpm),
        }
    }
}

/// A measured column: speed [1/min] and value, in order of speed.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Series {
    /// What.
    pub(crate) quantity: Quantity,
    /// Points.
    pub(crate) points: Vec<(f64, f64)>,
}

/// Heads of columns, their quantity, and the factor into its unit: the horsepower of 550 ft·lbf/s and the
/// metric one of 75 kgf·m/s, both by definition.
const HEADS: &[(&str, Quantity, f64)] = &[
    ("power_kw", Quantity::Power, 1.0),
    ("power_hp", Quantity::Power, 0.745_699_87),
    ("power_ps", Quantity::Power, 0.735_498_75),
    ("torque_nm", Quantity::Torque, 1.0),
    ("torque_lbft", Quantity::Torque, 1.355_817_95),
    ("fuel_g_per_min", Quantity::Fuel, 1.0),
    ("fuel_kg_per_h", Quantity::Fuel, 1000.0 / 60.0),
];
const SPEED: &[&str] = &["rpm", "speed_rpm"];

fn wrong(path: &Path, line: usize, why: &str) -> Failure {
    Failure::Faults(format!(
        "{}:{line}: {why}\nThe first line names the columns with their units: rpm, and at least one of {}. Then one row a point, with decimal points. Nothing was used.\n",
        path.display(),
        HEADS.iter().map(|h| h.0).collect::<Vec<_>>().join(", ")
    ))
}

/// Reads a file of measurements over speed.
pub(crate) fn read(path: &Path) -> Result<Vec<Series>, Failure> {
    let text = files::read_text(path)?;
    let text = text.trim_start_matches('\u{feff}');
    let first = text.lines().find(|l| !l.starts_with('#')).unwrap_or_default();
    let delimiter = if first.contains(';') && !first.contains(',') { b';' } else { b',' };
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .comment(Some(b'#'))
        .delimiter(delimiter)
        .from_reader(text.as_bytes());
    let heads = reader.headers().map_err(|e| wrong(path, 1, &e.to_string()))?.clone();
    let named = |head: &str| head.trim().to_lowercase();
    let speed = heads.iter().position(|h| SPEED.contains(&named(h).as_str()));
    let speed = speed.ok_or_else(|| {
        wrong(path, 1, &format!("no column of speed among \"{}\"", joined(&heads)))
    })?;
    let mut columns: Vec<(usize, f64, Series)> = Vec::new();
    for (place, head) in heads.iter().enumerate().filter(|(i, _)| *i != speed) {
        let Some((_, quantity, factor)) = HEADS.iter().find(|h| h.0 == named(head)) else {
            let why = format!("{head:?} is no quantity with its unit that is known here");
            return Err(wrong(path, 1, &why));
        };
        columns.push((place, *factor, Series { quantity: *quantity, points: Vec::new() }));
    }
    if columns.is_empty() {
        return Err(wrong(path, 1, "nothing is measured over speed"));
    }
    for row in reader.records() {
        let row = row.map_err(|e| {
            let line = e.position().map_or(1, |p| p.line() as usize);
            wrong(path, line, &e.to_string())
        })?;
        let line = row.position().map_or(1, |p| p.line() as usize);
        let read = |place: usize| number(path, line, row.get(place).unwrap_or_default());
        let Some(rpm) = read(speed)? else {
            return Err(wrong(path, line, "a row without speed"));
        };
        if !(100.0..=30_000.0).contains(&rpm) {
            return Err(wrong(path, line, &format!("{rpm} is no speed in 1/min")));
        }
        for (place, factor, series) in &mut columns {
            if let Some(value) = read(*place)? {
                series.points.push((rpm, *factor * value));
            }
        }
    }
    let mut found: Vec<Series> = columns.into_iter().map(|c| c.2).collect();
    found.retain(|s| !s.points.is_empty());
    for series in &mut found {
        series.points.sort_by(|a, b| a.0.total_cmp(&b.0));
    }
    if found.is_empty() { Err(wrong(path, 2, "no points")) } else { Ok(found) }
}

fn joined(heads: &csv::StringRecord) -> String {
    heads.iter().collect::<Vec<_>>().join(", ")
}

/// A cell's number; none where it is empty.
fn number(path: &Path, line: usize, cell: &str) -> Result<Option<f64>, Failure> {
    if cell.is_empty() {
        return Ok(None);
    }
    match cell.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(Some(value)),
        _ if cell.contains(',') => {
            let point = cell.replace(',', ".");
            Err(wrong(path, line, &format!("{cell} has a decimal comma; write {point}")))
        }
        _ => Err(wrong(path, line, &format!("{cell:?} is no number"))),
    }
}

/// Power over speed: as measured, else from torque.
pub(crate) fn power(all: &[Series]) -> Option<Vec<(f64, f64)>> {
    let of = |quantity| all.iter().find(|s| s.quantity == quantity);
    let from_torque = |s: &Series| {
        let kw = |(rpm, nm): &(f64, f64)| (*rpm, nm * rpm * std::f64::consts::TAU / 60e3);
        s.points.iter().map(kw).collect()
    };
    of(Quantity::Power).map(|s| s.points.clone()).or_else(|| of(Quantity::Torque).map(from_torque))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(text: &str) -> Result<Vec<Series>, String> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("dyno.csv");
        std::fs::write(&path, text).unwrap();
        read(&path).map_err(|e| e.to_string())
    }

    #[test]
    fn units_come_from_the_heads() {
        let all = of("# a day in May\nrpm,power_hp,fuel_kg_per_h\n6000,10,1.2\n5000,8,\n").unwrap();
        assert_eq!(all[0].points[0].0, 5000.0);
        assert!((all[0].points[1].1 - 7.456_998_7).abs() < 1e-9);
        assert_eq!(all[1].points, [(6000.0, 20.0)]);
        let torque = of("rpm,torque_nm\n6000,10\n").unwrap();
        assert!((power(&torque).unwrap()[0].1 - std::f64::consts::TAU).abs() < 1e-8);
        // a spreadsheet of another country
        let all = of("rpm;power_kw\n6000;10.5\n").unwrap();
        assert_eq!(all[0].points, [(6000.0, 10.5)]);
    }

    #[test]
    fn what_cannot_be_read_is_said_with_its_line() {
        for (text, words) in [
            ("speed,kw\n1,2\n", "no column of speed"),
            ("rpm,power\n6000,5\n", "\"power\" is no quantity"),
            ("rpm;power_kw\n6000;5,5\n", ":2: 5,5 has a decimal comma; write 5.5"),
            ("rpm,power_kw\n6000,five\n", ":2: \"five\" is no number"),
            ("rpm,power_kw\n60,5\n", "60 is no speed"),
            ("rpm,power_kw\n", "no points"),
        ] {
            let said = of(text).unwrap_err();
            assert!(said.contains(words), "{said}");
        }
    }
}
