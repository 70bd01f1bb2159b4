//! Tables of a case: areas over piston drop, the scavenging curve, discharge coefficients.

use crate::engine::scavenging::{ExitCurve, LeavingCurve};
use crate::spec::DischargeTable;
use crate::window::AreaTable;

/// Tables of one case.
#[derive(Debug, Clone, PartialEq)]
pub struct CaseTables {
    /// Flow area of the exhaust windows.
    pub exhaust: AreaTable,
    /// Flow area of each transfer group.
    pub transfers: Vec<AreaTable>,
    /// Flow area of a piston-controlled intake.
    pub intake: Option<AreaTable>,
    /// Scavenging law; none for perfect mixing.
    pub scavenging: Option<ExitCurve>,
    /// The same for a cylinder with two zones; none where it has a closed form.
    pub leaving: Option<LeavingCurve>,
    /// Discharge tables where they are not constants.
    pub exhaust_discharge: Option<DischargeTable>,
    /// The same of each transfer group.
    pub transfer_discharge: Vec<Option<DischargeTable>>,
    /// The same of the intake.
    pub intake_discharge: Option<DischargeTable>,
}

/// A port with a discharge coefficient.
#[derive(Debug, Clone, Copy)]
pub(super) enum Port {
    Exhaust,
    Transfer(usize),
    Intake,
}

impl CaseTables {
    /// Discharge table of a port; none where it is a constant.
    pub(super) fn discharge(&self, port: Port) -> Option<&DischargeTable> {
        match port {
            Port::Exhaust => self.exhaust_discharge.as_ref(),
            Port::Transfer(g) => self.transfer_discharge[g].as_ref(),
            Port::Intake => self.intake_discharge.as_ref(),
        }
    }
}

/// C_d of a table for the given direction, bilinear in opening and pressure ratio.
pub(super) fn tabulated(table: &DischargeTable, opening: f64, ratio: f64, forward: bool) -> f64 {
    let values = if forward { &table.forward } else { &table.reverse };
    let (row, u) = place(&table.opening, opening);
    let (column, v) = place(&table.pressure_ratio, ratio);
    let (rows, columns) = (table.opening.len(), table.pressure_ratio.len());
    let at = |r: usize, c: usize| values[r.min(rows - 1) * columns + c.min(columns - 1)];
    let low = at(row, column) * (1.0 - v) + at(row, column + 1) * v;
    let high = at(row + 1, column) * (1.0 - v) + at(row + 1, column + 1) * v;
    low * (1.0 - u) + high * u
}

/// Interval of `x` among rising `points` and the share within it, held at the ends.
fn place(points: &[f64], x: f64) -> (usize, f64) {
    let above = points.partition_point(|p| *p <= x);
    if above == 0 {
        return (0, 0.0);
    }
    match points.get(above) {
        None => (points.len() - 1, 0.0),
        Some(next) => (above - 1, (x - points[above - 1]) / (next - points[above - 1])),
    }
}
