//! What an engine file that `new` writes has in it: its tables and keys in the order of the questions, and
//! starting values, which are those of an invented single.

use crate::args::Intake;

/// Where an entry's value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum From {
    /// Asked for; until answered, the starting value.
    Asked,
    /// Asked for; until answered, the same as the entry at this path, lists added up where one number
    /// is wanted.
    Like(&'static str),
    /// Written as it stands.
    Fixed,
    /// The same as the entry at this path.
    Same(&'static str),
    /// The same with the other sign.
    Mirrored(&'static str),
}

/// One entry of the file to be.
pub(super) struct Entry {
    /// Table header as it stands in the file; the entry's own where the header repeats.
    pub(super) header: &'static str,
    /// Path of its table, indices included.
    pub(super) table: &'static str,
    pub(super) key: &'static str,
    /// Starting value.
    pub(super) start: &'static str,
    pub(super) from: From,
}

const fn ask(
    header: &'static str,
    table: &'static str,
    key: &'static str,
    start: &'static str,
) -> Entry {
    Entry { header, table, key, start, from: From::Asked }
}

const fn set(
    header: &'static str,
    table: &'static str,
    key: &'static str,
    start: &'static str,
    from: From,
) -> Entry {
    Entry { header, table, key, start, from }
}

const fn like(
    header: &'static str,
    table: &'static str,
    key: &'static str,
    other: &'static str,
) -> Entry {
    Entry { header, table, key, start: "", from: From::Like(other) }
}

const RIGHT: &str = "transfer[0].window[0]";
const LEFT: &str = "transfer[0].window[1]";
const BOOST: &str = "transfer[1].window[0]";
const WINDOW: &str = "[[transfer.window]]";

/// What every engine has. Starting values are those of an invented single.
const COMMON: &[Entry] = &[
    ask("", "", "name", "\"My engine\""),
    set("", "", "model", "1", From::Fixed),
    ask("[crank_train]", "crank_train", "bore_mm", "54.0"),
    ask("[crank_train]", "crank_train", "stroke_mm", "52.0"),
    ask("[crank_train]", "crank_train", "rod_mm", "105.0"),
    ask("[piston]", "piston", "skirt_length_mm", "58.0"),
    ask("[stack.measured]", "stack.measured", "base_gaskets_mm", "[0.4]"),
    ask("[stack.measured]", "stack.measured", "spacers_mm", "[]"),
    ask("[stack.measured]", "stack.measured", "deck_mm", "0.3"),
    like("[stack]", "stack", "base_gaskets_mm", "stack.measured.base_gaskets_mm"),
    like("[stack]", "stack", "spacers_mm", "stack.measured.spacers_mm"),
    ask("[stack]", "stack", "head_gaskets_mm", "[0.5]"),
    ask("[head]", "head", "land_offset_mm", "0.4"),
    ask("[head]", "head", "squish_band_mm", "8.0"),
    like("[head.assembled]", "head.assembled", "head_gasket_mm", "stack.head_gaskets_mm"),
    ask("[head.assembled]", "head.assembled", "volume_cm3", "12.8"),
    ask("[exhaust]", "exhaust", "duct_exit_diameter_mm", "30.0"),
    ask("[[exhaust.window]]", "exhaust.window[0]", "chord_mm", "34.0"),
    ask("[[exhaust.window]]", "exhaust.window[0]", "roof_depth_mm", "33.0"),
    ask("[[exhaust.window]]", "exhaust.window[0]", "roof_radius_mm", "5.0"),
    ask("[[exhaust.window]]", "exhaust.window[0]", "roof_arch_mm", "1.0"),
    ask("[[exhaust.window]]", "exhaust.window[0]", "floor_radius_mm", "5.0"),
    set("[[transfer]]", "transfer[0]", "name", "\"main\"", From::Fixed),
    ask("[[transfer]]", "transfer[0]", "duct_volume_cm3", "34.0"),
    ask("[[transfer]]", "transfer[0]", "duct_length_mm", "75.0"),
    ask(WINDOW, RIGHT, "centre_deg", "78.0"),
    ask(WINDOW, RIGHT, "chord_mm", "18.5"),
    ask(WINDOW, RIGHT, "roof_depth_mm", "42.0"),
    ask(WINDOW, RIGHT, "roof_radius_mm", "3.0"),
    ask(WINDOW, RIGHT, "radial_deg", "25.0"),
    set(WINDOW, LEFT, "centre_deg", "", From::Mirrored(RIGHT)),
    set(WINDOW, LEFT, "chord_mm", "", From::Same(RIGHT)),
    set(WINDOW, LEFT, "roof_depth_mm", "", From::Same(RIGHT)),
    set(WINDOW, LEFT, "roof_radius_mm", "", From::Same(RIGHT)),
    set(WINDOW, LEFT, "radial_deg", "", From::Same(RIGHT)),
    set("[[transfer]]", "transfer[1]", "name", "\"boost\"", From::Fixed),
    ask("[[transfer]]", "transfer[1]", "duct_volume_cm3", "9.0"),
    ask("[[transfer]]", "transfer[1]", "duct_length_mm", "60.0"),
    set(WINDOW, BOOST, "centre_deg", "180.0", From::Fixed),
    ask(WINDOW, BOOST, "chord_mm", "14.0"),
    ask(WINDOW, BOOST, "roof_depth_mm", "42.2"),
    ask(WINDOW, BOOST, "axial_deg", "50.0"),
    ask("[crankcase]", "crankcase", "measured_at", "\"top\""),
    ask("[crankcase]", "crankcase", "volume_cm3", "420.0"),
];

const CRANK_WEB: &[Entry] = &[
    ask("[intake.crank_web]", "intake.crank_web", "opens_deg_btdc", "115.0"),
    ask("[intake.crank_web]", "intake.crank_web", "closes_deg_atdc", "52.0"),
    ask("[intake.crank_web]", "intake.crank_web", "ramp_deg", "22.0"),
    ask("[intake.crank_web]", "intake.crank_web", "window_area_mm2", "400.0"),
];

const DISC_VALVE: &[Entry] = &[
    ask("[intake.disc_valve]", "intake.disc_valve", "opens_deg_btdc", "138.0"),
    ask("[intake.disc_valve]", "intake.disc_valve", "closes_deg_atdc", "68.0"),
    ask("[intake.disc_valve]", "intake.disc_valve", "ramp_deg", "26.0"),
    ask("[intake.disc_valve]", "intake.disc_valve", "window_area_mm2", "560.0"),
];

const INLET: &str = "intake.piston_port.window[0]";
const INLET_HEADER: &str = "[[intake.piston_port.window]]";
const PISTON_PORT: &[Entry] = &[
    ask(INLET_HEADER, INLET, "centre_deg", "180.0"),
    ask(INLET_HEADER, INLET, "chord_mm", "28.0"),
    ask(INLET_HEADER, INLET, "roof_depth_mm", "62.0"),
    ask(INLET_HEADER, INLET, "floor_depth_mm", "80.0"),
    ask(INLET_HEADER, INLET, "roof_radius_mm", "4.0"),
    ask(INLET_HEADER, INLET, "floor_radius_mm", "4.0"),
];

const STAGE: &str = "intake.reed.stage[0]";
const STAGE_HEADER: &str = "[[intake.reed.stage]]";
const REED: &[Entry] = &[
    set(STAGE_HEADER, STAGE, "name", "\"main\"", From::Fixed),
    ask(STAGE_HEADER, STAGE, "petals", "6"),
    ask(STAGE_HEADER, STAGE, "material", "\"glass\""),
    ask(STAGE_HEADER, STAGE, "length_mm", "34.0"),
    ask(STAGE_HEADER, STAGE, "width_mm", "20.0"),
    ask(STAGE_HEADER, STAGE, "thickness_mm", "0.45"),
    ask(STAGE_HEADER, STAGE, "window_length_mm", "24.0"),
    ask(STAGE_HEADER, STAGE, "window_width_mm", "16.0"),
    ask(STAGE_HEADER, STAGE, "stop_mm", "8.0"),
];

const LAST: &[Entry] = &[
    ask("[carburettor]", "carburettor", "bore_mm", "22.0"),
    set("[run]", "run", "rpm", "\"3000:9000:1000\"", From::Fixed),
];

/// Entries of an engine with this inlet, in order.
pub(super) fn entries(intake: Intake) -> Vec<&'static Entry> {
    let inlet = match intake {
        Intake::CrankWeb => CRANK_WEB,
        Intake::DiscValve => DISC_VALVE,
        Intake::PistonPort => PISTON_PORT,
        Intake::Reed => REED,
    };
    COMMON
        .iter()
        // the crank web or disc covers an inlet, so the boost port has its own wall: every
        // kind may have one; a skirt-controlled inlet usually stands where it would
        .filter(|e| intake != Intake::PistonPort || !e.table.starts_with("transfer[1]"))
        .chain(inlet)
        .chain(LAST)
        .collect()
}
