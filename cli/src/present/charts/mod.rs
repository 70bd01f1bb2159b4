//! Charts: results in, SVG and PNG out.

mod blowdown;
pub(crate) mod canvas;
pub(crate) mod field;
pub(crate) mod lines;
mod map;
pub(crate) mod maps;
pub(crate) mod page;
pub(crate) mod required;
mod rig;
pub(crate) mod sketch;
mod speed;
pub(crate) mod sweep;
mod trace;
mod waves;

use crate::present::DrawError;
use freshcharge_sim::forms::rig::RigSpec;
use freshcharge_sim::studies::rig::Record;
use freshcharge_sim::studies::run::Run;

/// A drawn chart.
pub(crate) struct Chart {
    /// File name without ending.
    pub(crate) name: String,
    /// The picture.
    pub(crate) svg: String,
}

/// The charts of a run.
pub(crate) fn of_run(run: &Run) -> Result<Vec<Chart>, DrawError> {
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
pub(crate) fn overlaid(runs: &[Run]) -> Result<Vec<Chart>, DrawError> {
    speed::overlaid(runs)
}

/// The charts of a rig.
pub(crate) fn of_rig(spec: &RigSpec, record: &Record) -> Result<Vec<Chart>, DrawError> {
    let mut charts = rig::charts(spec, record)?;
    charts.extend(map::charts(spec, record)?);
    Ok(charts)
}
