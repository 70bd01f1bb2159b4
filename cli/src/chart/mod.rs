//! Charts: results in, SVG and PNG out.

mod blowdown;
pub(crate) mod canvas;
pub(crate) mod field;
pub(crate) mod lines;
mod map;
pub(crate) mod maps;
pub(crate) mod page;
pub(crate) mod pdf;
pub(crate) mod required;
mod rig;
pub(crate) mod sketch;
mod speed;
pub(crate) mod sweep;
mod trace;
mod waves;

use std::path::Path;

use rayon::prelude::*;

use crate::command::Run;
use crate::files::{self, Failure};
use freshcharge_sim::forms::rig::RigSpec;
use freshcharge_sim::studies::rig::Record;

/// A drawn chart.
pub(crate) struct Chart {
    /// File name without ending.
    pub(crate) name: String,
    /// The picture.
    pub(crate) svg: String,
}

/// Widths of the PNG pictures [px].
const PNG_WIDTHS: [u32; 2] = [800, 1600];

/// Draws and writes the charts of a run; gives the names of what was written.
pub(crate) fn write_run(folder: &Path, run: &Run) -> Result<Vec<String>, Failure> {
    write(folder, &of_run(run)?)
}

/// The charts of a run.
pub(crate) fn of_run(run: &Run) -> Result<Vec<Chart>, Failure> {
    let mut charts = speed::charts(run)?;
    for row in &run.rows {
        if let Ok((point, Some(trace))) = &row.result {
            charts.push(blowdown::chart(&run.scenario.spec.name, point, trace)?);
            charts.extend(trace::charts(&run.scenario.spec.name, point, trace)?);
            charts.extend(waves::charts(&run.scenario.spec, point, trace)?);
        }
    }
    Ok(charts)
}

/// Charts of several engines over each other.
pub(crate) fn overlaid(runs: &[Run]) -> Result<Vec<Chart>, Failure> {
    speed::overlaid(runs)
}

/// Draws and writes charts of several engines over each other.
pub(crate) fn write_overlaid(folder: &Path, runs: &[Run]) -> Result<Vec<String>, Failure> {
    write(folder, &overlaid(runs)?)
}

/// Draws and writes the charts of a rig; gives the names of what was written.
pub(crate) fn write_rig(
    folder: &Path,
    spec: &RigSpec,
    record: &Record,
) -> Result<Vec<String>, Failure> {
    let mut charts = rig::charts(spec, record)?;
    charts.extend(map::charts(spec, record)?);
    write(folder, &charts)
}

/// Writes charts as SVG and as PNG in each width; gives the names of the SVG files.
pub(crate) fn write(folder: &Path, charts: &[Chart]) -> Result<Vec<String>, Failure> {
    if !charts.is_empty() {
        files::make_folder(folder)?;
    }
    // pixels take longer than shapes: charts side by side
    charts
        .par_iter()
        .map(|chart| {
            let svg = folder.join(format!("{}.svg", chart.name));
            files::write(&svg, chart.svg.as_bytes())?;
            for width in PNG_WIDTHS {
                let png = folder.join(format!("{}-{width}.png", chart.name));
                files::write(&png, &canvas::png(chart, width)?)?;
            }
            Ok(svg.display().to_string())
        })
        .collect()
}
