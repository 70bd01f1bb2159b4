//! Stack, deck and clearance: from the measured state to the state to run.

use super::{Bench, Conversion};
use crate::forms::fault::FaultKind;
use crate::spec::{Clearance, CrankTrain, Head, Piston, Stack};
use crate::units::CM3;

/// A state in which something was measured, or is run [m].
#[derive(Debug, Clone, Copy)]
pub(super) struct State {
    /// Crown edge below the top face at top dead centre δ.
    pub(super) deck: f64,
    /// Base gaskets together.
    pub(super) gaskets: f64,
    /// Spacers together.
    pub(super) spacers: f64,
    /// Crank radius r.
    pub(super) radius: f64,
    /// Rod l.
    pub(super) rod: f64,
    /// Compression height k.
    pub(super) compression_height: f64,
}

impl State {
    /// Deck in another state: δ = δ₀ + (s − s₀) − (r − r₀) − (l − l₀) − (k − k₀).
    pub(super) fn deck_in(&self, to: &Self) -> f64 {
        self.deck + (to.gaskets + to.spacers - (self.gaskets + self.spacers))
            - (to.radius - self.radius)
            - (to.rod - self.rod)
            - (to.compression_height - self.compression_height)
    }
}

impl Conversion<'_> {
    /// The stack to run and the state it was measured in.
    pub(super) fn stack(&mut self, crank: &CrankTrain, piston: &Piston) -> (Stack, State) {
        let (to_run, then) = (self.at("stack"), self.at("stack.measured"));
        let list = |name: &str| to_run.numbers(name).unwrap_or_default();
        let (base_gaskets, spacers) = (list("base_gaskets_mm"), list("spacers_mm"));
        let run = State {
            deck: f64::NAN,
            gaskets: base_gaskets.iter().sum(),
            spacers: spacers.iter().sum(),
            radius: crank.radius,
            rod: crank.rod,
            compression_height: piston.compression_height,
        };
        let sum = |name: &str| then.numbers(name).map(|v| v.iter().sum::<f64>());
        let measured = State {
            deck: then.number("deck_mm"),
            gaskets: sum("base_gaskets_mm").unwrap_or(run.gaskets),
            spacers: sum("spacers_mm").unwrap_or(run.spacers),
            radius: then.maybe("stroke_mm").map_or(run.radius, |s| s / 2.0),
            rod: then.maybe("rod_mm").unwrap_or(run.rod),
            compression_height: then
                .maybe("compression_height_mm")
                .unwrap_or(run.compression_height),
        };
        let deck = measured.deck_in(&run) - to_run.number("top_face_cut_mm");
        let head_gaskets = list("head_gaskets_mm");
        (Stack { base_gaskets, spacers, head_gaskets, deck }, measured)
    }

    /// The head; of several forms of its volume the first counts and the others are compared.
    pub(super) fn head(&mut self, bench: &Bench, stack: &Stack, dome: f64) -> Head {
        let place = self.at("head");
        let with = |clearance| Head {
            clearance,
            land_offset: place.number("land_offset_mm"),
            squish_band: place.number("squish_band_mm"),
            land_angle: place.number("land_angle_deg"),
        };
        let heads: Vec<Head> =
            self.clearances(bench, stack).into_iter().flatten().map(with).collect();
        let unknown = Clearance::SquishPlane { volume: f64::NAN, crevices: 0.0 };
        let first = heads.first().copied().unwrap_or_else(|| with(unknown));
        let volumes: Vec<f64> = heads
            .iter()
            .map(|h| crate::geometry::clearance_of(h, stack, bench.bore, dome) / CM3)
            .collect();
        self.compare_volumes(&volumes);
        first
    }

    fn clearances(&self, bench: &Bench, stack: &Stack) -> [Option<Clearance>; 3] {
        let (whole, plane, joint) =
            (self.at("head.assembled"), self.at("head.squish_plane"), self.at("head.joint_plane"));
        [
            whole.is_there().then(|| Clearance::Assembled {
                volume: whole.number("volume_cm3"),
                deck: whole.maybe("deck_mm").unwrap_or(bench.measured.deck),
                head_gasket: whole.maybe("head_gasket_mm").unwrap_or_else(|| stack.head_total()),
            }),
            plane.is_there().then(|| Clearance::SquishPlane {
                volume: plane.number("volume_cm3"),
                crevices: plane.number("crevices_cm3"),
            }),
            joint.is_there().then(|| {
                let hole = joint.maybe("gasket_hole_mm").unwrap_or(bench.bore);
                Clearance::JointPlane {
                    volume: joint.number("volume_cm3"),
                    gasket_hole_area: std::f64::consts::FRAC_PI_4 * hole * hole,
                    spigot_volume: joint.number("spigot_volume_cm3"),
                }
            }),
        ]
    }

    fn compare_volumes(&mut self, volumes: &[f64]) {
        let Some((first, others)) = volumes.split_first().filter(|(_, o)| !o.is_empty()) else {
            return;
        };
        let words: Vec<String> = volumes.iter().map(|v| format!("{v:.2} cm³")).collect();
        let words = words.join(" and ");
        let worst = others.iter().map(|v| (v - first).abs()).fold(0.0, f64::max);
        // five times a burette's error on each: not a reading error any more
        if worst > 1.0_f64.max(0.1 * first.abs()) {
            let remedy = format!(
                "the forms of its volume contradict each other: as clearance they say {words}; measure again or leave one out"
            );
            self.fault(FaultKind::Contradiction, "head", remedy);
        } else {
            self.notes.push(format!(
                "the head's volume is given in several forms; as clearance they say {words}; the first is used"
            ));
        }
    }
}
