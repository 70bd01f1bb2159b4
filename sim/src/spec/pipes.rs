//! Pipes with waves in them.

/// Pipes of one side of the engine. Exhaust: from the casting outward. Inlet: from the outside to the
/// engine.
#[derive(Debug, Clone, PartialEq)]
pub struct Pipework {
    /// Its pieces in the order of flow.
    pub pieces: Vec<Piece>,
    /// Multiplies the friction of a smooth pipe.
    pub friction: f64,
    /// Multiplies the heat of Reynolds' analogy.
    pub heat: f64,
    /// Whether the open end acts longer than it is.
    pub end_correction: bool,
}

/// One piece of a chain of pipes.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// What the builder calls it; empty where it has no name.
    pub name: String,
    /// What it is.
    pub form: PieceForm,
}

/// What a piece is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PieceForm {
    /// Straight or conical.
    Section {
        /// Length [m].
        length: f64,
        /// Diameter where it begins [m].
        from: f64,
        /// Diameter where it ends [m].
        to: f64,
        /// Wall temperature [K].
        wall: f64,
    },
    /// A volume without waves [m³].
    Volume(f64),
}

impl Pipework {
    /// Length of all sections [m].
    #[must_use]
    pub fn length(&self) -> f64 {
        let lengths = self.pieces.iter().map(|p| match p.form {
            PieceForm::Section { length, .. } => length,
            PieceForm::Volume(_) => 0.0,
        });
        lengths.sum()
    }
}
