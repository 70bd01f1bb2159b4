//! Chains of pipes.

use super::Conversion;
use crate::forms::document::{joined, numbered};
use crate::forms::fault::FaultKind;
use crate::spec::{Piece, PieceForm, Pipework};
use crate::units::BAR;

/// Pressure by which the outside of a tail may differ from the ambient one without a word [Pa].
const APART: f64 = 500.0;

impl Conversion<'_> {
    /// The pipes of the table at `path`; none where the file has no such table.
    pub(super) fn pipework(&mut self, path: &str) -> Option<Pipework> {
        let place = self.at(path);
        if !place.is_there() {
            return None;
        }
        let array = joined(path, "section");
        let mut pieces: Vec<Piece> = Vec::new();
        // diameter at the end of the piece before
        let mut before = None;
        for index in 0..self.document.count(&array) {
            let piece =
                self.piece(&numbered(&array, index), before, place.number("wall_temperature_c"));
            before = match piece.form {
                PieceForm::Section { to, .. } => Some(to),
                PieceForm::Volume(_) => None,
            };
            pieces.push(piece);
        }
        if path == "exhaust.pipe" {
            self.behind_the_tail();
        }
        Some(Pipework {
            pieces,
            friction: place.number("friction"),
            heat: place.number("heat"),
            end_correction: place.flag("end_correction"),
        })
    }

    /// Says so where what stands behind the tail of the exhaust's pipes is not the open air.
    fn behind_the_tail(&mut self) {
        let outside = self.at("exhaust").maybe("back_pressure_bar");
        let ambient = self.at("ambient").number("pressure_bar");
        if let Some(outside) = outside.filter(|p| (p - ambient).abs() > APART) {
            self.notes.push(format!(
                "the exhaust pipe opens into exhaust.back_pressure_bar = {:.3} bar instead of the ambient pressure; leave it out unless something not in the file stands behind the tail",
                outside / BAR
            ));
        }
    }

    fn piece(&mut self, path: &str, before: Option<f64>, wall: f64) -> Piece {
        let place = self.at(path);
        let name = place.text("name");
        if let Some(volume) = place.maybe("volume_cm3") {
            return Piece { name, form: PieceForm::Volume(volume) };
        }
        let from = place.maybe("from_mm").or(before);
        if from.is_none() && place.gives("length_mm") {
            let remedy = "no section with a diameter stands right before it: give the diameter where it begins";
            self.fault(FaultKind::Missing, &place.key("from_mm"), remedy);
        }
        let from = from.unwrap_or(f64::NAN);
        let form = PieceForm::Section {
            length: place.number("length_mm"),
            from,
            to: place.maybe("to_mm").unwrap_or(from),
            wall: place.maybe("wall_temperature_c").unwrap_or(wall),
        };
        Piece { name, form }
    }
}
