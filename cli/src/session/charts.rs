//! Charts as files: SVG, and PNG in two widths.

use std::path::Path;

use rayon::prelude::*;

use super::files::{self, Failure};
use super::sweep::ResultsFile;
use crate::present::charts::{self, Chart, canvas};

/// Widths of the PNG pictures [px].
const PNG_WIDTHS: [u32; 2] = [800, 1600];

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

/// The usual charts of a sweep's results.
pub(crate) fn of_sweep(results: &Path) -> Result<Vec<Chart>, Failure> {
    let mut table = ResultsFile::open(results)?;
    let header = table.header.clone();
    charts::sweep::usual(&header, table.rows())
}
