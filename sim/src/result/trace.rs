//! Quantities against crank angle over one settled cycle.

/// Columns of equal length, named with their units, over one cycle from exhaust opening to exhaust
/// opening.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Trace {
    /// Column names, unit last (`cylinder_pressure_bar`).
    pub names: Vec<String>,
    /// One vector a column.
    pub columns: Vec<Vec<f64>>,
    /// Named event angles [deg after top dead centre of the traced cycle], in order of angle.
    pub events: Vec<(String, f64)>,
}

impl Trace {
    /// Rows.
    #[must_use]
    pub fn len(&self) -> usize {
        self.columns.first().map_or(0, Vec::len)
    }

    /// True without rows.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The column called `name`.
    #[must_use]
    pub fn column(&self, name: &str) -> Option<&[f64]> {
        let index = self.names.iter().position(|n| n == name)?;
        Some(&self.columns[index])
    }

    /// The angle of the event called `name` [deg].
    #[must_use]
    pub fn event(&self, name: &str) -> Option<f64> {
        self.events.iter().find(|(n, _)| n == name).map(|(_, a)| *a)
    }
}
