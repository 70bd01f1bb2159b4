//! The questions in words: what to measure, with what, from where to where, in which unit, what is usual.

use freshcharge_sim::scenario::Usual;
use freshcharge_sim::scenario::keys::{Key, Kind, Unit};

use super::template::Entry;

/// The question for an entry; `number` of `all`.
pub(super) fn words(
    entry: &Entry,
    key: &Key,
    usual: Option<&Usual>,
    (number, all): (usize, usize),
) -> String {
    let part = part(entry.table);
    let part = if part.is_empty() { String::new() } else { format!("{part}: ") };
    let mut out = format!("\n{number} of {all}. {part}{}\n", key.meaning);
    for line in hints(entry) {
        out += &format!("  {line}\n");
    }
    let how = key.measuring();
    if !how.is_empty() {
        out += &format!("  Measure with: {how}\n");
    }
    out += &format!("  Type {}.", form(key));
    if let Some(usual) = usual {
        out += &format!(" Usual: {}", usual.words(key.kind.unit()));
    }
    out.push('\n');
    out
}

/// What is to be typed.
fn form(key: &Key) -> String {
    let unit = |unit: Unit| match unit {
        Unit::One => "a number".to_owned(),
        Unit::Degree => "degrees".to_owned(),
        unit => unit.symbol().to_owned(),
    };
    match key.kind {
        Kind::Numbers(u, ..) => {
            format!("each in {}, separated by spaces or semicolons; none if there is none", unit(u))
        }
        Kind::Choice(choices) => choices.join(" or "),
        Kind::Flag => "true or false".to_owned(),
        Kind::Text | Kind::Speeds => "words".to_owned(),
        kind => unit(kind.unit()),
    }
}

/// The part of the engine that a table stands for.
fn part(table: &str) -> &'static str {
    match table {
        "crank_train" => "Crank train",
        "piston" => "Piston",
        "stack.measured" => "Stack as it was when you measured",
        "stack" => "Stack as the engine is to run",
        "head" => "Head",
        "head.assembled" => "Head, buretted on the assembled engine",
        "exhaust" => "Exhaust",
        "exhaust.window[0]" => "Exhaust window",
        "transfer[0]" => "Main transfers, both sides together",
        "transfer[0].window[0]" => {
            "Main transfer, right-hand window; the left is taken as its mirror"
        }
        "transfer[1]" => "Boost port opposite the exhaust",
        "transfer[1].window[0]" => "Boost window",
        "crankcase" => "Crankcase",
        "intake.crank_web" => "Crank web inlet",
        "intake.disc_valve" => "Disc valve inlet",
        "intake.piston_port.window[0]" => "Inlet window, opened by the skirt",
        "intake.reed.stage[0]" => "Reed petals",
        "carburettor" => "Carburettor",
        _ => "",
    }
}

/// From where to where, and what is easily mistaken.
fn hints(entry: &Entry) -> &'static [&'static str] {
    let window = entry.table.contains("window");
    match (entry.table, entry.key) {
        (_, "stroke_mm") => {
            &["From the crown at the top to the crown at the bottom, not the crank throw."]
        }
        (_, "rod_mm") => &["From the middle of the big end to the middle of the gudgeon pin."],
        (_, "skirt_length_mm") => {
            &["From the crown's edge, not its dome, straight down to the lowest edge."]
        }
        ("stack.measured", "base_gaskets_mm" | "spacers_mm") => {
            &["Those that lay under the cylinder while you took the depths below."]
        }
        ("stack", "base_gaskets_mm" | "spacers_mm") => {
            &["Those you will fit. Enter: the same as measured."]
        }
        ("stack.measured", "deck_mm") => &[
            "At the crown's edge, with head and head gasket off; a minus before it where the crown stands proud.",
        ],
        ("stack", "head_gaskets_mm") => &["Thickness as squeezed, not new."],
        ("head", "land_offset_mm") => &["From the joint face up to the squish land."],
        ("head", "squish_band_mm") => &["From the bore's edge inward to the bowl, on one side."],
        ("head.assembled", "head_gasket_mm") => {
            &["Those that were fitted while you buretted, added up. Enter: the same as to run."]
        }
        ("head.assembled", "volume_cm3") => {
            &["Take off what the plug's thread holds above the bowl if you filled to its top."]
        }
        ("exhaust", "duct_exit_diameter_mm") => &[
            "Inside, where the pipe bolts on. For another shape, the diameter of a circle of the same area.",
        ],
        ("crankcase", "measured_at") => &["Where the piston stood when you filled the crankcase."],
        ("crankcase", "volume_cm3") => {
            &["With the transfer ducts, up to the inlet valve or reed block."]
        }
        (_, "roof_depth_mm") if entry.table.starts_with("intake") => {
            &["From the top face straight down to the upper edge of the window."]
        }
        (_, "roof_depth_mm") => &[
            "From the top face straight down to the upper edge of the window.",
            "Or the angle at which it opens, after top dead centre, as 98.5 deg.",
        ],
        (_, "floor_depth_mm") => {
            &["From the top face straight down to the lower edge of the window."]
        }
        (_, "chord_mm") if window => {
            &["Straight from side wall to side wall at the widest place, not along the bore."]
        }
        (_, "centre_deg") => &["Middle of the window, 0 at the exhaust's middle, 180 opposite."],
        (_, "radial_deg") => &["0 points at the bore's axis."],
        (_, "axial_deg") => &["0 is level, 90 straight up."],
        (_, "roof_arch_mm") => &["0 for a straight roof."],
        (_, "roof_radius_mm" | "floor_radius_mm") => {
            &["The radius, not the diameter of the gauge; 0 for a sharp corner."]
        }
        (_, "duct_volume_cm3") if entry.table.starts_with("transfer") => {
            &["From the crankcase to the windows."]
        }
        (_, "stop_mm") => &["From the closed tip to the stop plate, straight."],
        _ => &[],
    }
}
