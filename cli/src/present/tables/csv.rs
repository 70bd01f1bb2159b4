//! Results and traces as CSV.

use freshcharge_sim::result::{COLUMNS, PipeTrace, Trace};
use freshcharge_sim::units::{BAR, CM3, DEG, MG, MM, MM2};

use freshcharge_sim::studies::run::Run;

fn finish(writer: csv::Writer<Vec<u8>>) -> String {
    // memory takes every byte and all of it is text
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}

/// One row a speed; what a point has not is an empty cell.
pub(crate) fn run(run: &Run) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let heads = COLUMNS.iter().map(|c| c.key).chain(["error"]);
    let _ = writer.write_record(heads);
    for row in &run.rows {
        let mut cells: Vec<String> = match row.point() {
            Some(point) => COLUMNS
                .iter()
                .map(|c| (c.value)(point).map_or_else(String::new, |v| format!("{v}")))
                .collect(),
            None => {
                let mut cells = vec![String::new(); COLUMNS.len()];
                cells[0] = format!("{}", row.rpm);
                cells
            }
        };
        cells.push(row.result.as_ref().err().map_or_else(String::new, ToString::to_string));
        let _ = writer.write_record(&cells);
    }
    finish(writer)
}

/// A trace, one row an angle.
pub(crate) fn trace(trace: &Trace) -> String {
    let columns = trace_columns(trace);
    let mut writer = csv::Writer::from_writer(Vec::new());
    let _ = writer.write_record(columns.iter().map(|c| &c.key));
    for row in 0..trace.len() {
        let _ =
            writer.write_record(columns.iter().map(|c| format!("{}", c.unit.of(c.values[row]))));
    }
    finish(writer)
}

/// Unit of a column.
#[derive(Debug, Clone, Copy)]
enum Unit {
    /// As it is.
    Si,
    /// So many of the SI unit are one.
    Of(f64),
    /// So many are one of the SI unit.
    Per(f64),
}

impl Unit {
    fn of(self, value: f64) -> f64 {
        match self {
            Self::Si => value,
            Self::Of(unit) => value / unit,
            Self::Per(unit) => value * unit,
        }
    }
}

const DEGREE: Unit = Unit::Of(DEG);
const MILLISECOND: Unit = Unit::Per(1e3);
const MILLIMETRE: Unit = Unit::Of(MM);
const SQUARE_MILLIMETRE: Unit = Unit::Of(MM2);
const CUBIC_CENTIMETRE: Unit = Unit::Of(CM3);
const IN_BAR: Unit = Unit::Of(BAR);
const MILLIGRAM: Unit = Unit::Of(MG);
const GRAM_PER_SECOND: Unit = Unit::Per(1e3);

/// A column of a trace: name with its unit last, values in SI units, the unit.
struct TraceColumn<'a> {
    key: String,
    values: &'a [f64],
    unit: Unit,
}

fn trace_columns(t: &Trace) -> Vec<TraceColumn<'_>> {
    let (cylinder, case) = (&t.cylinder, &t.crankcase);
    let plain: [(&str, &[f64], Unit); 31] = [
        ("angle_deg", &t.angle, DEGREE),
        ("time_ms", &t.time, MILLISECOND),
        ("piston_drop_mm", &t.piston_drop, MILLIMETRE),
        ("cylinder_volume_cm3", &cylinder.volume, CUBIC_CENTIMETRE),
        ("crankcase_volume_cm3", &case.volume, CUBIC_CENTIMETRE),
        ("cylinder_pressure_bar", &cylinder.pressure, IN_BAR),
        ("crankcase_pressure_bar", &case.pressure, IN_BAR),
        ("exhaust_pressure_bar", &t.exhaust_pressure, IN_BAR),
        ("cylinder_temperature_k", &cylinder.temperature, Unit::Si),
        ("crankcase_temperature_k", &case.temperature, Unit::Si),
        ("crankcase_rest_temperature_k", &t.crankcase_rest_temperature, Unit::Si),
        ("cylinder_burned_fraction", &cylinder.burned_fraction, Unit::Si),
        ("crankcase_burned_fraction", &case.burned_fraction, Unit::Si),
        ("exhaust_area_mm2", &t.exhaust.area, SQUARE_MILLIMETRE),
        ("exhaust_mass_flow_g_per_s", &t.exhaust.mass_flow, GRAM_PER_SECOND),
        ("exhaust_burned_mass_flow_g_per_s", &t.exhaust.burned_mass_flow, GRAM_PER_SECOND),
        ("exhaust_enthalpy_flow_w", &t.exhaust_enthalpy_flow, Unit::Si),
        ("transfer_area_mm2", &t.transfer.area, SQUARE_MILLIMETRE),
        ("transfer_mass_flow_g_per_s", &t.transfer.mass_flow, GRAM_PER_SECOND),
        ("transfer_burned_mass_flow_g_per_s", &t.transfer.burned_mass_flow, GRAM_PER_SECOND),
        ("intake_area_mm2", &t.intake.area, SQUARE_MILLIMETRE),
        ("intake_mass_flow_g_per_s", &t.intake.mass_flow, GRAM_PER_SECOND),
        ("intake_burned_mass_flow_g_per_s", &t.intake.burned_mass_flow, GRAM_PER_SECOND),
        ("blow_by_mass_flow_g_per_s", &t.blow_by_mass_flow, GRAM_PER_SECOND),
        ("crankcase_leak_mass_flow_g_per_s", &t.crankcase_leak_mass_flow, GRAM_PER_SECOND),
        ("outlet_mass_flow_g_per_s", &t.outlet_mass_flow, GRAM_PER_SECOND),
        ("burn_rate_g_per_s", &t.burn_rate, GRAM_PER_SECOND),
        ("wall_heat_w", &cylinder.wall_heat, Unit::Si),
        ("crankcase_heat_w", &case.wall_heat, Unit::Si),
        ("cylinder_mass_mg", &cylinder.mass, MILLIGRAM),
        ("crankcase_mass_mg", &case.mass, MILLIGRAM),
    ];
    let plain = plain.into_iter().map(|(key, values, unit)| (key.to_owned(), values, unit));
    let groups = t.groups.iter().flat_map(|g| {
        let own: [(&str, &[f64], Unit); 4] = [
            ("area_mm2", &g.area, SQUARE_MILLIMETRE),
            ("mass_flow_g_per_s", &g.mass_flow, GRAM_PER_SECOND),
            ("slug_volume_ratio", &g.slug_volume_ratio, Unit::Si),
            ("slug_temperature_k", &g.slug_temperature, Unit::Si),
        ];
        own.map(|(key, values, unit)| (format!("transfer_{}_{key}", g.name), values, unit))
    });
    let reed = t.reed.iter().flat_map(|r| {
        let own: [(&str, &[f64], Unit); 2] =
            [("lift_mm", &r.lift, MILLIMETRE), ("velocity_m_per_s", &r.velocity, Unit::Si)];
        own.map(|(key, values, unit)| (format!("reed_{}_{key}", r.name), values, unit))
    });
    let all = plain.chain(groups).chain(reed);
    all.map(|(key, values, unit)| TraceColumn { key, values, unit }).collect()
}

/// Gas in the pipes of one side: at the port, with the waves it is made up of about the pressure `rest`
/// [Pa], and where each piece begins; one row an angle.
pub(crate) fn pipe(pipe: &PipeTrace, rest: f64) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut heads: Vec<String> = [
        "angle_deg",
        "port_pressure_bar",
        "port_velocity_m_per_s",
        "wave_out_bar",
        "wave_back_bar",
    ]
    .map(str::to_owned)
    .to_vec();
    for (name, _) in &pipe.marks {
        let name = name.replace([' ', '-'], "_");
        for quantity in ["pressure_bar", "velocity_m_per_s", "temperature_k", "burned_fraction"] {
            heads.push(format!("{name}_{quantity}"));
        }
    }
    let _ = writer.write_record(&heads);
    let cells: Vec<usize> = pipe.marks.iter().map(|(_, x)| pipe.cell_at(*x)).collect();
    for (row, angle) in pipe.angle.iter().enumerate() {
        let gas = pipe.row(row);
        let waves = gas[0].waves(rest);
        let mut values = vec![
            angle / DEG,
            pipe.port_pressure[row] * 1e-5,
            pipe.port_velocity[row],
            waves.out * 1e-5,
            waves.back * 1e-5,
        ];
        for cell in &cells {
            let g = &gas[*cell];
            values.extend([g.pressure * 1e-5, g.velocity, g.temperature, g.burned]);
        }
        let _ = writer.write_record(values.iter().map(|v| format!("{v}")));
    }
    finish(writer)
}
