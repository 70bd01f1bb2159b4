//! Measurements of a running engine from CSV: what a column is and its unit stand in its head.

mod head;
mod trace;

use std::path::Path;

use freshcharge_sim::result::{COLUMNS, Point};
use freshcharge_sim::spec::EngineSpec;
use freshcharge_sim::units::BAR;

use crate::files::{self, Failure};
use head::Head;
pub(crate) use trace::{PressureTrace, Residual};

/// What was measured over speed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Quantity {
    /// Power [kW].
    Power,
    /// Torque [N·m].
    Torque,
    /// Fuel [g/min].
    Fuel,
    /// Fuel in the air drawn in [g/kg].
    FuelInAir,
    /// Air drawn in [g/min].
    Air,
    /// Highest reading of a compression gauge while the engine is turned over [bar over ambient].
    Gauge,
    /// Cylinder pressure when the exhaust opens [bar].
    CylinderAtExhaust,
    /// Cylinder pressure when the transfers open [bar].
    CylinderAtTransfer,
    /// Crankcase pressure when the transfers open [bar].
    CrankcaseAtTransfer,
    /// Highest cylinder pressure [bar].
    Peak,
}

impl Quantity {
    /// Words with the unit.
    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::Power => "power [kW]",
            Self::Torque => "torque [N·m]",
            Self::Fuel => "fuel [g/min]",
            Self::FuelInAir => "fuel in air [g/kg]",
            Self::Air => "air [g/min]",
            Self::Gauge => "compression gauge [bar]",
            Self::CylinderAtExhaust => "cylinder pressure at exhaust opening [bar]",
            Self::CylinderAtTransfer => "cylinder pressure at transfer opening [bar]",
            Self::CrankcaseAtTransfer => "crankcase pressure at transfer opening [bar]",
            Self::Peak => "highest cylinder pressure [bar]",
        }
    }

    /// The same of a computed point; none of what is measured on an engine that does not run.
    pub(crate) fn of(self) -> fn(&Point) -> Option<f64> {
        fn column(key: &str, point: &Point) -> Option<f64> {
            COLUMNS.iter().find(|c| c.key == key).and_then(|c| (c.value)(point))
        }
        /// Air a cycle [mg].
        fn air(point: &Point) -> Option<f64> {
            Some(column("delivery_ratio", point)? * column("reference_mass_mg", point)?)
        }
        match self {
            Self::Power => |p| column("power_kw", p),
            Self::Torque => |p| column("torque_nm", p),
            Self::Fuel => |p| Some(column("fuel_mass_mg", p)? * 1e-3 * p.rpm),
            Self::FuelInAir => |p| Some(1e3 * column("fuel_mass_mg", p)? / air(p)?),
            Self::Air => |p| Some(air(p)? * 1e-3 * p.rpm),
            Self::Gauge => |_| None,
            Self::CylinderAtExhaust => |p| Some(p.summary.cylinder_pressure_eo / BAR),
            Self::CylinderAtTransfer => |p| Some(p.summary.cylinder_pressure_to / BAR),
            Self::CrankcaseAtTransfer => |p| Some(p.summary.crankcase_pressure_to / BAR),
            Self::Peak => |p| Some(p.summary.peak_pressure / BAR),
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

/// All that was measured.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Measured {
    /// Over speed.
    pub(crate) series: Vec<Series>,
    /// Over the crank angle.
    pub(crate) traces: Vec<PressureTrace>,
}

fn wrong(path: &Path, line: usize, why: &str) -> Failure {
    Failure::Faults(format!(
        "{}:{line}: {why}\nThe first line names the columns with their units: rpm, and at least one of {}; or rpm and angle_deg, after top dead centre, and at least one of {}, absolute, or with _gauge behind it over ambient. Then one row a point, with decimal points. Nothing was used.\n",
        path.display(),
        head::over_speed().join(", "),
        head::over_angle().join(", ")
    ))
}

/// Reads files of measurements of an engine, over speed or over the crank angle.
pub(crate) fn read_all<P: AsRef<Path>>(
    paths: &[P],
    engine: &EngineSpec,
) -> Result<Measured, Failure> {
    let mut all = Measured::default();
    for path in paths {
        let one = read(path.as_ref(), engine)?;
        all.series.extend(one.series);
        all.traces.extend(one.traces);
    }
    let at_events = trace::at_events(&all.traces, engine);
    all.series.extend(at_events);
    Ok(all)
}

/// Rows of a file, each with its line, and what its columns are.
struct Rows {
    heads: Vec<Head>,
    rows: Vec<(usize, Vec<Option<f64>>)>,
}

impl Rows {
    fn read(path: &Path) -> Result<Self, Failure> {
        let text = files::read_text(path)?;
        let text = text.trim_start_matches('\u{feff}');
        let first = text.lines().find(|l| !l.starts_with('#')).unwrap_or_default();
        let delimiter = if first.contains(';') && !first.contains(',') { b';' } else { b',' };
        let mut reader = csv::ReaderBuilder::new()
            .trim(csv::Trim::All)
            .comment(Some(b'#'))
            .delimiter(delimiter)
            .from_reader(text.as_bytes());
        let names = reader.headers().map_err(|e| wrong(path, 1, &e.to_string()))?.clone();
        let mut heads = Vec::new();
        for name in &names {
            heads.push(Head::of(name).ok_or_else(|| {
                let why = format!("{name:?} is no quantity with its unit that is known here");
                wrong(path, 1, &why)
            })?);
        }
        let mut rows = Vec::new();
        for row in reader.records() {
            let row = row.map_err(|e| {
                let line = e.position().map_or(1, |p| p.line() as usize);
                wrong(path, line, &e.to_string())
            })?;
            let line = row.position().map_or(1, |p| p.line() as usize);
            let cells: Result<Vec<_>, _> = row.iter().map(|c| number(path, line, c)).collect();
            rows.push((line, cells?));
        }
        Ok(Self { heads, rows })
    }

    fn place(&self, head: Head) -> Option<usize> {
        self.heads.iter().position(|h| *h == head)
    }
}

fn read(path: &Path, engine: &EngineSpec) -> Result<Measured, Failure> {
    let rows = Rows::read(path)?;
    let Some(speed) = rows.place(Head::Speed) else {
        return Err(wrong(path, 1, "no column of speed, rpm"));
    };
    for (line, row) in &rows.rows {
        let why = match row[speed] {
            None => "a row without speed".to_owned(),
            Some(rpm) if !(100.0..=30_000.0).contains(&rpm) => {
                format!("{rpm} is no speed in 1/min")
            }
            Some(_) => continue,
        };
        return Err(wrong(path, *line, &why));
    }
    if let Some(angle) = rows.place(Head::Angle) {
        let ambient = engine.ambient.pressure / BAR;
        let traces = trace::read(path, &rows, (speed, angle), ambient)?;
        return Ok(Measured { traces, series: Vec::new() });
    }
    Ok(Measured { series: over_speed(path, &rows, speed)?, traces: Vec::new() })
}

fn over_speed(path: &Path, rows: &Rows, speed: usize) -> Result<Vec<Series>, Failure> {
    let mut found = Vec::new();
    let time = rows.place(Head::Time);
    for (place, head) in rows.heads.iter().enumerate() {
        let (quantity, factor, over) = match head {
            Head::Over(quantity, factor) => (*quantity, *factor, None),
            // fuel weighed before and after a time
            Head::Weighed(factor) => {
                let why = "fuel that was weighed needs the time it took beside it, time_s";
                let time = time.ok_or_else(|| wrong(path, 1, why))?;
                (Quantity::Fuel, 60.0 * factor, Some(time))
            }
            Head::Pressure(..) => {
                let why = "pressures over the crank angle need their angles beside them, angle_deg";
                return Err(wrong(path, 1, why));
            }
            Head::Speed | Head::Angle | Head::Time => continue,
        };
        let mut points = Vec::new();
        for (line, row) in &rows.rows {
            let Some(value) = row[place] else { continue };
            let over = over.map_or(Some(1.0), |time: usize| row[time]);
            let Some(over) = over.filter(|t| *t > 0.0) else {
                return Err(wrong(
                    path,
                    *line,
                    "fuel was weighed, but the time is missing or zero",
                ));
            };
            points.push((row[speed].unwrap_or(f64::NAN), factor * value / over));
        }
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        if !points.is_empty() {
            found.push(Series { quantity, points });
        }
    }
    match (found.is_empty(), rows.heads.len()) {
        (false, _) => Ok(found),
        (true, 1) => Err(wrong(path, 1, "nothing is measured over speed")),
        (true, _) => Err(wrong(path, 2, "no points")),
    }
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

    fn all_of(text: &str) -> Result<Measured, String> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("dyno.csv");
        std::fs::write(&path, text).unwrap();
        let engine = include_str!("../../../scenarios/touring.toml");
        let engine = freshcharge_sim::scenario::read(engine).unwrap();
        read_all(&[&path], &engine.spec).map_err(|e| e.to_string())
    }

    fn of(text: &str) -> Result<Vec<Series>, String> {
        all_of(text).map(|m| m.series)
    }

    #[test]
    fn units_come_from_the_heads() {
        let all = of("# a day in May\nrpm,power_hp,fuel_kg_per_h\n6000,10,1.2\n5000,8,\n").unwrap();
        assert_eq!(all[0].points[0].0, 5000.0);
        assert!((all[0].points[1].1 - 7.456_998_7).abs() < 1e-9);
        assert_eq!(all[1].points, [(6000.0, 20.0)]);
        let torque = of("rpm,torque_nm\n6000,10\n").unwrap();
        assert!((power(&torque).unwrap()[0].1 - std::f64::consts::TAU).abs() < 1e-8);
        // fuel weighed: 30 g in two minutes
        let all = of("rpm,fuel_g,time_s\n5000,30,120\n").unwrap();
        assert_eq!(all, [Series { quantity: Quantity::Fuel, points: vec![(5000.0, 15.0)] }]);
        let all = of("rpm,compression_gauge_psi\n600,145.037738\n").unwrap();
        assert_eq!(all[0].quantity, Quantity::Gauge);
        assert!((all[0].points[0].1 - 10.0).abs() < 1e-6, "{all:?}");
        // a spreadsheet of another country
        let all = of("rpm;power_kw\n6000;10.5\n").unwrap();
        assert_eq!(all[0].points, [(6000.0, 10.5)]);
    }

    #[test]
    fn what_cannot_be_read_is_said_with_its_line() {
        for (text, words) in [
            ("power_kw\n2\n", "no column of speed"),
            ("rpm,power\n6000,5\n", "\"power\" is no quantity"),
            ("rpm;power_kw\n6000;5,5\n", ":2: 5,5 has a decimal comma; write 5.5"),
            ("rpm,power_kw\n6000,five\n", ":2: \"five\" is no number"),
            ("rpm,power_kw\n60,5\n", "60 is no speed"),
            ("rpm,power_kw\n", "no points"),
            ("rpm\n6000\n", "nothing is measured over speed"),
            ("rpm,fuel_g\n6000,20\n", "needs the time it took beside it, time_s"),
            ("rpm,fuel_g,time_s\n6000,20,\n", ":2: fuel was weighed, but the time is missing"),
            ("rpm,cylinder_pressure_bar\n6000,2\n", "need their angles beside them, angle_deg"),
            ("rpm,angle_deg,cylinder_pressure\n6000,2,2\n", "\"cylinder_pressure\" is no quantity"),
        ] {
            let said = of(text).unwrap_err();
            assert!(said.contains(words), "{said}");
        }
    }

    #[test]
    fn traces_are_read_in_any_turn_and_unit_and_refused_with_their_line() {
        let rows = |pressure: fn(f64) -> f64| -> String {
            let row = |i: u32| {
                let angle = f64::from(i) * 10.0 - 180.0;
                format!("6000,{angle},{}\n", pressure(angle))
            };
            (0..36).map(row).collect()
        };
        let bar = |angle: f64| 1.2 + 0.1 * angle.to_radians().cos();
        let text = format!("rpm,angle_deg,crankcase_pressure_bar\n{}", rows(bar));
        let all = all_of(&text).unwrap();
        let trace = &all.traces[0];
        assert_eq!((trace.rpm, trace.points.len()), (6000.0, 36));
        assert!(trace.points.windows(2).all(|w| w[0].0 < w[1].0));
        assert!((trace.at(450.0).unwrap() - bar(90.0)).abs() < 1e-3);
        // the same over ambient in another unit
        let psi = |angle: f64| (1.2 + 0.1 * angle.to_radians().cos() - 1.01325) * 14.503_773_8;
        let text = format!("rpm,angle_deg,crankcase_pressure_psi_gauge\n{}", rows(psi));
        let other = &all_of(&text).unwrap().traces[0];
        for (a, b) in trace.points.iter().zip(&other.points) {
            assert!((a.1 - b.1).abs() < 1e-6, "{a:?} {b:?}");
        }
        // what stands at the events comes of itself
        let at = |q| all.series.iter().find(|s| s.quantity == q).map(|s| s.points[0].1);
        assert!(at(Quantity::CylinderAtTransfer).is_none());
        let opens = at(Quantity::CrankcaseAtTransfer).unwrap();
        assert!((opens - bar(121.0)).abs() < 2e-3, "{opens}");
        let few = "rpm,angle_deg,crankcase_pressure_bar\n6000,1,1.2\n6000,2,1.2\n";
        let mut many = "rpm,angle_deg,crankcase_pressure_bar\n".to_owned();
        (0..300).for_each(|i| many += &format!("{},{i},1.2\n", 6000 + i));
        let high = format!("rpm,angle_deg,crankcase_pressure_bar\n{}6000,181,900\n", rows(bar));
        for (text, words) in [
            (few, "2 points at 6000/min are no trace"),
            (many.as_str(), "more than 12 speeds"),
            (high.as_str(), ":38: 900 bar"),
        ] {
            let said = all_of(text).unwrap_err();
            assert!(said.contains(words), "{said}");
        }
    }
}
