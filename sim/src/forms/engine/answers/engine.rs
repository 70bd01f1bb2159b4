//! What is usual of crank train, piston, stack, head, crankcase and carburettor. Every range is common
//! practice, no source; it is wide on purpose, since an answer inside it is not asked about.

use super::{Here, Rule, Usual, between, nothing, rule, times};
use crate::geometry::{self, bore_area, swept_volume};
use crate::spec::Clearance;
use crate::units::{CM3, MM};

pub(super) const RULES: &[Rule] = &[
    rule(&["crank_train.stroke_mm"], |h| times(0.65, 1.5, h.spec.bore, "the bore"), swept),
    rule(
        &["crank_train.rod_mm"],
        |h| times(1.6, 2.5, 2.0 * h.spec.crank_train.radius, "the stroke"),
        |h| {
            let train = &h.spec.crank_train;
            Some(format!("a rod {:.2} times the stroke", train.rod / (2.0 * train.radius)))
        },
    ),
    rule(&["piston.skirt_length_mm"], |h| times(0.7, 1.6, h.spec.bore, "the bore"), nothing),
    rule(
        &["stack.base_gaskets_mm", "stack.measured.base_gaskets_mm", "stack.head_gaskets_mm"],
        |_| between(0.1, 1.5, "each gasket"),
        nothing,
    ),
    rule(
        &["stack.spacers_mm", "stack.measured.spacers_mm"],
        |_| between(0.2, 8.0, "each spacer"),
        nothing,
    ),
    rule(
        &["stack.measured.deck_mm", "head.assembled.deck_mm"],
        |_| between(-1.5, 2.0, "the crown stands near the top face"),
        nothing,
    ),
    rule(&["head.assembled.head_gasket_mm"], |_| between(0.0, 3.0, "all together"), nothing),
    rule(&["head.land_offset_mm"], land, |h| {
        Some(format!("a squish gap of {:.2} mm", geometry::squish_gap(h.spec) / MM))
    }),
    rule(
        &["head.squish_band_mm"],
        |h| between(0.0, 0.35 * h.spec.bore / MM, "up to 0.35 times the bore, 0 for none"),
        nothing,
    ),
    rule(&["head.assembled.volume_cm3"], clearance, |h| {
        let ratio = geometry::geometric_ratio(h.spec);
        Some(format!("a compression ratio of {ratio:.1} over the full stroke"))
    }),
    rule(&["crankcase.volume_cm3"], crankcase, |h| {
        let ratio = geometry::crankcase_ratio(h.spec);
        Some(format!("a crankcase ratio of {ratio:.2}"))
    }),
    rule(&["carburettor.bore_mm"], |h| times(0.3, 0.75, h.spec.bore, "the bore"), nothing),
];

fn swept(here: &Here) -> Option<String> {
    let stroke = 2.0 * here.spec.crank_train.radius;
    let volume = bore_area(here.spec) * stroke / CM3;
    Some(format!("{volume:.1} cm³"))
}

/// Land offset that leaves a usual squish gap.
fn land(here: &Here) -> Option<Usual> {
    let stack = &here.spec.stack;
    let without = (stack.deck + stack.head_total()) / MM;
    between(0.5 - without, 2.0 - without, "a squish gap of 0.5 to 2.0 mm")
}

/// Clearance volume that makes a usual ratio and is not filled by the squish band alone.
fn clearance(here: &Here) -> Option<Usual> {
    let spec = here.spec;
    let swept = swept_volume(spec) / CM3;
    let ratio = between(swept / 16.0, swept / 5.0, "a ratio of 6 to 17 over the full stroke")?;
    let band = 2.0 * squish_band_volume(spec) / CM3;
    if band > ratio.low && band < ratio.high {
        let why = "the squish band holds less than half of it, and the ratio is above 6";
        return between(band, ratio.high, why);
    }
    Some(ratio)
}

/// Volume between squish band and crown edge, both taken as flat [m³].
pub(in crate::forms) fn squish_band_volume(spec: &crate::spec::EngineSpec) -> f64 {
    let width = spec.head.squish_band;
    std::f64::consts::PI * width * (spec.bore - width) * geometry::squish_gap(spec).max(0.0)
}

/// Crankcase volume as measured that makes a usual ratio V/(V − V_h).
fn crankcase(here: &Here) -> Option<Usual> {
    let swept = swept_volume(here.spec) / CM3;
    let at_top = |ratio: f64| swept * ratio / (ratio - 1.0);
    let bottom = here.text("crankcase.measured_at") == Some("bottom");
    let less = if bottom { swept } else { 0.0 };
    let low = at_top(1.65) - less;
    between(low, at_top(1.2) - less, "a crankcase ratio of 1.2 to 1.65")
}

/// Whether the clearance is given as buretted in the assembled engine.
pub(in crate::forms) fn assembled(spec: &crate::spec::EngineSpec) -> bool {
    matches!(spec.head.clearance, Clearance::Assembled { .. })
}
