//! Results and traces as CSV.

use freshcharge_sim::result::{COLUMNS, Trace};

use crate::command::Run;

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
