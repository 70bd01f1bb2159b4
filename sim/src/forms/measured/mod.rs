//! Measurements of a running engine from CSV: what a column is and its unit stand in its head.

mod head;

use head::Head;
pub use head::Place;

use super::fault::{Fault, FaultKind, Faults, Lines, quoted};
use super::nearest::or_nearest;

/// Fewest points of a trace.
const FEWEST: usize = 12;
/// Most speeds at which traces of one place are read.
const SPEEDS: usize = 12;
/// Pressures that there can be [bar].
const PRESSURES: std::ops::Range<f64> = 0.0..400.0;
/// Speeds that there can be [1/min].
const SPEED: std::ops::RangeInclusive<f64> = 100.0..=30_000.0;

/// What was measured over speed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
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
    pub fn words(self) -> &'static str {
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
}

/// A measured column: speed [1/min] and value, in order of speed.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// What.
    pub quantity: Quantity,
    /// Points.
    pub points: Vec<(f64, f64)>,
}

/// All that was measured.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Measured {
    /// Over speed.
    pub series: Vec<Series>,
    /// Over the crank angle.
    pub traces: Vec<PressureTrace>,
}

/// A pressure measured over the crank angle at one speed.
#[derive(Debug, Clone, PartialEq)]
pub struct PressureTrace {
    /// Speed [1/min].
    pub rpm: f64,
    /// Where.
    pub place: Place,
    /// Crank angle [deg after top dead centre, 0 to 360] and absolute pressure [bar], in order of angle.
    pub points: Vec<(f64, f64)>,
}

/// How such a file is written.
#[must_use]
pub fn how() -> String {
    format!(
        "The first line names the columns with their units: rpm, and at least one of {}; or rpm and angle_deg, after top dead centre, and at least one of {}, absolute, or with _gauge behind it over ambient. Then one row a point, with decimal points.",
        head::over_speed().join(", "),
        head::over_angle().join(", ")
    )
}

/// Rows of a file, each with its line, and what its columns are.
struct Reading<'t> {
    text: &'t str,
    lines: Lines,
    delimiter: char,
    /// Line of the heads.
    first: usize,
    columns: Vec<Option<Head>>,
    rows: Vec<(usize, Vec<Option<f64>>)>,
    faults: Faults,
}

/// Reads a file of measurements, over speed or over the crank angle, around which the air has a pressure
/// [bar].
///
/// # Errors
/// Every fault found, in order of line.
pub fn read(text: &str, ambient: f64) -> Result<Measured, Faults> {
    let text = text.trim_start_matches('\u{feff}');
    let mut reading = Reading::of(text);
    reading.rows();
    let speed = reading.place(Head::Speed);
    let angle = reading.place(Head::Angle);
    let Some(speed) = speed else {
        if reading.columns.iter().all(Option::is_some) {
            reading.head(None, FaultKind::Missing, "no column of speed, rpm".to_owned());
        }
        return Err(reading.faults.in_order());
    };
    reading.speeds(speed);
    let measured = match angle {
        Some(angle) => {
            Measured { traces: reading.traces(speed, angle, ambient), series: Vec::new() }
        }
        None => Measured { series: reading.series(speed), traces: Vec::new() },
    };
    reading.faults.none_or()?;
    Ok(measured)
}

impl<'t> Reading<'t> {
    fn of(text: &'t str) -> Self {
        let line = |l: &&str| !l.starts_with('#') && !l.trim().is_empty();
        let first = text.lines().position(|l| line(&l)).unwrap_or(0);
        let heads = text.lines().nth(first).unwrap_or_default();
        let delimiter = if heads.contains(';') && !heads.contains(',') { ';' } else { ',' };
        let lines = Lines::of(text);
        let (columns, rows, faults) = (Vec::new(), Vec::new(), Faults::default());
        let mut reading = Self { text, lines, delimiter, first: first + 1, columns, rows, faults };
        for (place, name) in heads.split(delimiter).map(unquoted).enumerate() {
            let head = Head::of(name);
            if head.is_none() {
                let known = head::over_speed().into_iter().chain(head::over_angle());
                let why = "no quantity with its unit that is known here";
                let remedy =
                    or_nearest(why, name, known.chain(["rpm", "angle_deg"].map(str::to_owned)));
                reading.head(Some(place), FaultKind::Unknown, remedy);
            }
            reading.columns.push(head);
        }
        reading
    }

    /// Numbers of every row.
    fn rows(&mut self) {
        let (text, delimiter, width) = (self.text, self.delimiter, self.columns.len());
        for (index, content) in text.lines().enumerate().skip(self.first) {
            if content.starts_with('#') || content.trim().is_empty() {
                continue;
            }
            let line = index + 1;
            let cells = content.split(delimiter).count();
            if cells != width {
                let comma = delimiter == ',' && cells > width;
                let commas = if comma { "; write decimals with a point" } else { "" };
                let remedy = format!("has {cells} cells under {width} heads{commas}");
                self.cell(line, None, FaultKind::WrongKind, || remedy);
                continue;
            }
            let mut row = Vec::with_capacity(width);
            for (place, cell) in content.split(delimiter).map(unquoted).enumerate() {
                row.push(self.number(line, place, cell));
            }
            self.rows.push((line, row));
        }
    }

    /// A cell's number; none where it is empty or has a fault.
    fn number(&mut self, line: usize, place: usize, cell: &str) -> Option<f64> {
        if cell.is_empty() {
            return None;
        }
        match cell.parse::<f64>() {
            Ok(value) if value.is_finite() => return Some(value),
            _ if cell.contains(',') => {
                let why =
                    || format!("has a decimal comma; write {}", quoted(&cell.replace(',', ".")));
                self.cell(line, Some(place), FaultKind::WrongKind, why);
            }
            _ => {
                let why = || "is no number".to_owned();
                self.cell(line, Some(place), FaultKind::WrongKind, why);
            }
        }
        None
    }

    fn place(&self, head: Head) -> Option<usize> {
        self.columns.iter().position(|c| *c == Some(head))
    }

    /// Adds a fault at a head, or at all of them.
    fn head(&mut self, place: Option<usize>, kind: FaultKind, remedy: String) {
        self.cell(self.first, place, kind, || remedy);
    }

    /// Adds a fault at a cell, or at a whole line.
    fn cell(
        &mut self,
        line: usize,
        place: Option<usize>,
        kind: FaultKind,
        remedy: impl FnOnce() -> String,
    ) {
        let (text, delimiter, lines, first) = (self.text, self.delimiter, &self.lines, self.first);
        self.faults.add_with(|| {
            let content = lines.line(text, line);
            let start = content.as_ptr() as usize - text.as_ptr() as usize;
            let parts: Vec<&str> = content.split(delimiter).collect();
            let part = place.and_then(|p| parts.get(p).copied()).unwrap_or(content);
            let start = start + (part.as_ptr() as usize - content.as_ptr() as usize);
            let start = start + (part.len() - part.trim_start().len());
            let (line, column) = lines.position(text, start);
            let heads = lines.line(text, first);
            let name = place.and_then(|p| heads.split(delimiter).nth(p)).map(unquoted);
            let found = if line == first { "" } else { part };
            Fault {
                kind,
                span: start..start + part.trim().len(),
                line,
                column,
                key: name.unwrap_or(if line == first { "the heads" } else { "the row" }).to_owned(),
                found: quoted(found),
                remedy: remedy(),
            }
        });
    }

    /// Rows whose speed no engine turns at.
    fn speeds(&mut self, speed: usize) {
        let rows = std::mem::take(&mut self.rows);
        for (line, row) in &rows {
            let empty = self.lines.line(self.text, *line).split(self.delimiter).nth(speed);
            match row[speed] {
                None if empty.is_some_and(|c| unquoted(c).is_empty()) => {
                    self.cell(*line, None, FaultKind::Missing, || "a row without speed".to_owned());
                }
                Some(rpm) if !SPEED.contains(&rpm) => {
                    let why = || format!("{rpm} is no speed in 1/min");
                    self.cell(*line, Some(speed), FaultKind::OutOfRange, why);
                }
                _ => {}
            }
        }
        self.rows = rows;
    }

    fn series(&mut self, speed: usize) -> Vec<Series> {
        let mut found = Vec::new();
        let time = self.place(Head::Time);
        let rows = std::mem::take(&mut self.rows);
        for place in 0..self.columns.len() {
            let head = self.columns[place];
            let (quantity, factor, over) = match head {
                Some(Head::Over(quantity, factor)) => (quantity, factor, None),
                // fuel weighed before and after a time
                Some(Head::Weighed(factor)) if time.is_some() => {
                    (Quantity::Fuel, 60.0 * factor, time)
                }
                Some(Head::Weighed(_)) => {
                    let why = "fuel that was weighed needs the time it took beside it, time_s";
                    self.head(Some(place), FaultKind::Missing, why.to_owned());
                    continue;
                }
                Some(Head::Pressure(..)) => {
                    let why =
                        "pressures over the crank angle need their angles beside them, angle_deg";
                    self.head(Some(place), FaultKind::Missing, why.to_owned());
                    continue;
                }
                Some(Head::Speed | Head::Angle | Head::Time) | None => continue,
            };
            let mut points = Vec::new();
            for (line, row) in &rows {
                let Some(value) = row[place] else { continue };
                let over = over.map_or(Some(1.0), |time: usize| row[time]);
                let Some(over) = over.filter(|t| *t > 0.0) else {
                    let why = || "fuel was weighed, but the time is missing or zero".to_owned();
                    self.cell(*line, Some(place), FaultKind::Missing, why);
                    continue;
                };
                points.push((row[speed].unwrap_or(f64::NAN), factor * value / over));
            }
            points.sort_by(|a, b| a.0.total_cmp(&b.0));
            if !points.is_empty() {
                found.push(Series { quantity, points });
            }
        }
        if found.is_empty() && self.faults.is_empty() {
            let alone = self.columns.len() == 1;
            let why = if alone { "nothing is measured over speed" } else { "no points" };
            self.head(None, FaultKind::Missing, why.to_owned());
        }
        self.rows = rows;
        found
    }

    fn traces(&mut self, speed: usize, angle: usize, ambient: f64) -> Vec<PressureTrace> {
        let mut traces: Vec<(usize, PressureTrace)> = Vec::new();
        let rows = std::mem::take(&mut self.rows);
        for place in 0..self.columns.len() {
            let (at, factor, gauge) = match self.columns[place] {
                Some(Head::Pressure(at, factor, gauge)) => (at, factor, gauge),
                Some(Head::Speed | Head::Angle) | None => continue,
                Some(_) => {
                    let why = "only pressures stand over the crank angle".to_owned();
                    self.head(Some(place), FaultKind::Contradiction, why);
                    continue;
                }
            };
            for (line, row) in &rows {
                let (Some(rpm), Some(value)) = (row[speed], row[place]) else { continue };
                let Some(angle) = row[angle].filter(|a| a.abs() <= 1080.0) else {
                    let why = || "a pressure without a crank angle in degrees".to_owned();
                    self.cell(*line, Some(angle), FaultKind::Missing, why);
                    continue;
                };
                let bar = factor * value + if gauge { ambient } else { 0.0 };
                if !PRESSURES.contains(&bar) {
                    let why = || {
                        format!(
                            "{bar} bar is no absolute pressure of an engine; readings over ambient have _gauge in their head"
                        )
                    };
                    self.cell(*line, Some(place), FaultKind::OutOfRange, why);
                    continue;
                }
                let same = |t: &&mut (usize, PressureTrace)| t.1.rpm == rpm && t.1.place == at;
                let point = (angle.rem_euclid(360.0), bar);
                if let Some(trace) = traces.iter_mut().find(same) {
                    trace.1.points.push(point);
                } else if traces.iter().filter(|t| t.1.place == at).count() < SPEEDS {
                    let trace = PressureTrace { rpm, place: at, points: vec![point] };
                    traces.push((*line, trace));
                } else {
                    let why = || {
                        format!(
                            "more than {SPEEDS} speeds; write the mean speed of a trace into each of its rows"
                        )
                    };
                    self.cell(*line, Some(speed), FaultKind::OutOfRange, why);
                    break;
                }
            }
        }
        self.rows = rows;
        self.whole(&mut traces);
        traces.into_iter().map(|t| t.1).collect()
    }

    /// Puts traces in order of angle; those of too few points are faults.
    fn whole(&mut self, traces: &mut [(usize, PressureTrace)]) {
        let good = self.faults.is_empty();
        for (line, trace) in &mut *traces {
            trace.points.sort_by(|a, b| a.0.total_cmp(&b.0));
            let (count, rpm) = (trace.points.len(), trace.rpm);
            if good && count < FEWEST {
                let why = || {
                    format!(
                        "{count} points at {rpm}/min are no trace; at least {FEWEST} are needed"
                    )
                };
                self.cell(*line, None, FaultKind::Missing, why);
            }
        }
        if traces.is_empty() && self.faults.is_empty() {
            self.head(None, FaultKind::Missing, "no points".to_owned());
        }
    }
}

/// A cell without blanks and quotes around it.
fn unquoted(cell: &str) -> &str {
    let cell = cell.trim();
    cell.strip_prefix('"').and_then(|c| c.strip_suffix('"')).map_or(cell, str::trim)
}
