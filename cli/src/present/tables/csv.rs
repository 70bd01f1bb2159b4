//! Results and traces as CSV.

use freshcharge_sim::result::{COLUMNS, PipeTrace, Trace};

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
    let mut writer = csv::Writer::from_writer(Vec::new());
    let _ = writer.write_record(&trace.names);
    for row in 0..trace.len() {
        let _ = writer.write_record(trace.columns.iter().map(|c| format!("{}", c[row])));
    }
    finish(writer)
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
    for (row, angle) in pipe.angles.iter().enumerate() {
        let gas = pipe.row(row);
        let waves = gas[0].waves(rest);
        let mut values = vec![
            *angle,
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
