//! A rig's results as text: tables and a summary.

use comfy_table::{Cell, CellAlignment, ContentArrangement, Table, presets};
use freshcharge_sim::forms::rig::RigSpec;
use freshcharge_sim::pipe::State;
use freshcharge_sim::studies::rig::{Profile, Record};

fn finish(writer: csv::Writer<Vec<u8>>) -> String {
    // memory takes every byte and all of it is text
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}

/// Histories, one row a sample.
pub(crate) fn histories(record: &Record) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut heads = vec!["time_ms".to_owned()];
    for history in &record.histories {
        let name = &history.name;
        heads.push(format!("{name}_pressure_bar"));
        if history.moves {
            heads.push(format!("{name}_velocity_m_per_s"));
        }
        heads.push(format!("{name}_temperature_k"));
        heads.push(format!("{name}_burned"));
    }
    let _ = writer.write_record(&heads);
    for (row, time) in record.times.iter().enumerate() {
        let mut cells = vec![format!("{}", time * 1e3)];
        for history in &record.histories {
            let s = &history.states[row];
            cells.push(format!("{}", s.pressure * 1e-5));
            if history.moves {
                cells.push(format!("{}", s.velocity));
            }
            cells.push(format!("{}", s.temperature));
            cells.push(format!("{}", s.burned));
        }
        let _ = writer.write_record(&cells);
    }
    finish(writer)
}

/// Profiles or maps, one row a cell and time.
pub(crate) fn profiles(spec: &RigSpec, record: &Record, profiles: &[Profile]) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let heads =
        ["time_ms", "pipe", "x_mm", "pressure_bar", "velocity_m_per_s", "temperature_k", "burned"];
    let _ = writer.write_record(heads);
    for profile in profiles {
        for (x, s) in record.places[profile.pipe].iter().zip(&profile.states) {
            let State { pressure, temperature, velocity, burned } = s;
            let _ = writer.write_record([
                format!("{}", profile.time * 1e3),
                spec.pipes[profile.pipe].name.clone(),
                format!("{}", x * 1e3),
                format!("{}", pressure * 1e-5),
                format!("{velocity}"),
                format!("{temperature}"),
                format!("{burned}"),
            ]);
        }
    }
    finish(writer)
}

/// What was run and what was seen, in a few lines.
pub(crate) fn summary(spec: &RigSpec, record: &Record) -> String {
    let cells: usize = record.places.iter().map(Vec::len).sum();
    let reached = record.times.last().copied().unwrap_or(0.0);
    let mut out = format!(
        "{}: {:.3} ms in {} steps, {cells} cells\n\n",
        spec.name,
        reached * 1e3,
        record.steps
    );
    let right = |words: &str| Cell::new(words).set_alignment(CellAlignment::Right);
    let mut table = Table::new();
    table.load_style(presets::NOTHING).set_content_arrangement(ContentArrangement::Disabled);
    table.set_header([
        Cell::new("place"),
        right("lowest\nbar"),
        right("highest\nbar"),
        right("at\nms"),
        right("fastest\nm/s"),
        right("burned\nat end"),
    ]);
    for history in &record.histories {
        let pressures = || history.states.iter().map(|s| s.pressure);
        let low = pressures().fold(f64::INFINITY, f64::min);
        let (at, high) = pressures()
            .enumerate()
            .fold((0, 0.0), |best: (usize, f64), (i, p)| if p > best.1 { (i, p) } else { best });
        let fastest = history
            .states
            .iter()
            .map(|s| s.velocity)
            .fold(0.0, |a: f64, v| if v.abs() > a.abs() { v } else { a });
        let fastest = if history.moves { format!("{fastest:.1}") } else { String::new() };
        table.add_row([
            Cell::new(&history.name),
            right(&format!("{:.4}", low * 1e-5)),
            right(&format!("{:.4}", high * 1e-5)),
            right(&format!("{:.3}", record.times.get(at).map_or(0.0, |t| t * 1e3))),
            right(&fastest),
            right(&history.states.last().map_or(String::new(), |s| format!("{:.3}", s.burned))),
        ]);
    }
    if !record.histories.is_empty() {
        out.push_str(&table.to_string());
        out.push('\n');
    }
    let [before, after] = record.contents;
    let lost = (after.mass - before.mass).abs() / (before.mass + record.throughput);
    out.push_str(&format!("\nmass unaccounted for: {lost:.1e} of what was there and came in\n"));
    if let Some(stop) = &record.stop {
        out.push_str(&format!("stopped early: {stop}\n"));
    }
    out
}
