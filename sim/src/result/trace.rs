//! Quantities against crank angle over one settled cycle.

use crate::portable;

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
    /// What the volumes and then the pipes hold where the cycle starts, in the model's own order; empty
    /// without pipes. The same engine can go on from it at another speed, and without its pipes.
    pub start: Vec<f64>,
    /// Gas in the pipes, one for each side of the engine that has some.
    pub pipes: Vec<PipeTrace>,
}

/// Gas in a cell at an angle.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PipeGas {
    /// p [Pa].
    pub pressure: f64,
    /// u, away from the engine [m/s].
    pub velocity: f64,
    /// T [K].
    pub temperature: f64,
    /// Burned fraction.
    pub burned: f64,
    /// Speed of sound [m/s].
    pub sound: f64,
}

/// Gas in the pipes of one side over place and angle.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PipeTrace {
    /// "exhaust" or "inlet".
    pub side: String,
    /// Middle of each cell, from the engine [m]; volumes between pipes take no length.
    pub places: Vec<f64>,
    /// Diameter of each cell [m].
    pub diameters: Vec<f64>,
    /// Where each pipe ends, from the engine [m].
    pub ends: Vec<f64>,
    /// What the pieces are called and where each begins, from the engine [m].
    pub marks: Vec<(String, f64)>,
    /// Angle of each row [deg after top dead centre of the traced cycle].
    pub angles: Vec<f64>,
    /// Gas of every cell, row for row.
    pub gas: Vec<PipeGas>,
    /// Pressure at the face of the port [Pa], a number for each row.
    pub port_pressure: Vec<f64>,
    /// Velocity next to the port, away from the engine [m/s].
    pub port_velocity: Vec<f64>,
}

/// Pressure waves of which gas in motion is made up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WavePair {
    /// Absolute pressure of the wave that runs away from the engine, by itself [Pa].
    pub out: f64,
    /// The same of the one that comes back.
    pub back: f64,
}

impl PipeGas {
    /// Splits the gas into waves about the pressure at rest `p0` [Pa]: simple waves of finite amplitude
    /// in gas of one entropy, X = (p/p₀)^((γ−1)/2γ), X = X₊ + X₋ − 1, u = 2a₀/(γ−1)·(X₊ − X₋);
    /// S. Earnshaw, Phil. Trans. 150 (1860) 133 (from memory). γ is 1.35.
    #[must_use]
    pub fn waves(&self, p0: f64) -> WavePair {
        const GAMMA: f64 = 1.35;
        let power = (GAMMA - 1.0) / (2.0 * GAMMA);
        let x = portable::pow(self.pressure / p0, power);
        let still = self.sound / x;
        let half = 0.5 * (x + 1.0);
        let lean = 0.25 * (GAMMA - 1.0) * self.velocity / still;
        let wave = |x: f64| p0 * portable::pow(x.max(0.0), 1.0 / power);
        WavePair { out: wave(half + lean), back: wave(half - lean) }
    }
}

impl PipeTrace {
    /// Gas of all cells in a row.
    #[must_use]
    pub fn row(&self, row: usize) -> &[PipeGas] {
        let n = self.places.len();
        &self.gas[row * n..(row + 1) * n]
    }

    /// Index of the cell nearest to a place [m].
    #[must_use]
    pub fn cell_at(&self, place: f64) -> usize {
        let apart = |x: &f64| (x - place).abs();
        let nearest =
            self.places.iter().enumerate().min_by(|a, b| apart(a.1).total_cmp(&apart(b.1)));
        nearest.map_or(0, |(i, _)| i)
    }
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
