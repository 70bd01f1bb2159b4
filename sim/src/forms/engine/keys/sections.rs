//! The tables of an engine file in the order in which a workshop fills them in.

use super::engine::{
    ASSEMBLED, CRANK_TRAIN, HEAD, JOINT_PLANE, MEASURED, PISTON, SQUISH_PLANE, STACK, STUD_HOLE,
    TOP,
};
use super::ports::{
    CRANKCASE, DISCHARGE, EXHAUST, INLET_PIPE, INLET_WINDOW, PIPE, PIPE_SECTION, PISTON_PORT, REED,
    REED_STAGE, ROTARY, SILENCER, TRANSFER, WINDOW, WINDOW_MEASURED,
};
use super::running::{
    AMBIENT, CARBURETTOR, COMBUSTION, FRICTION, FUEL, HEAT, INLET_TRACT, LEAKS, RUN, SCAVENGING,
};
use super::{Either, Form, Key, Section};

const fn table(path: &'static str, meaning: &'static str, keys: &'static [Key]) -> Section {
    Section::of(path, meaning, keys)
}

const fn needed(names: &'static [&'static str]) -> Either {
    Either { names, required: true, exclusive: false }
}

const fn instead(names: &'static [&'static str]) -> Either {
    Either { names, required: false, exclusive: true }
}

const COEFFICIENT: Either = instead(&["discharge_coefficient", "discharge"]);
const WIDTH: Either = needed(&["chord_mm", "arc_mm"]);
const EXHAUST_FORMS: &[Either] = &[
    COEFFICIENT,
    Either {
        names: &["duct_exit_area_mm2", "duct_exit_diameter_mm"],
        required: false,
        exclusive: false,
    },
];
const WINDOW_FORMS: &[Either] = &[WIDTH, needed(&["roof_depth_mm", "opens_deg_atdc"])];
const OUTLET: &[Either] = &[needed(&["outlet_area_mm2", "outlet_diameter_mm"])];
const INTAKES: &[Either] = &[Either {
    names: &["crank_web", "disc_valve", "piston_port", "reed"],
    required: true,
    exclusive: true,
}];
const HEADS: &[Either] = &[needed(&["assembled", "squish_plane", "joint_plane"])];
const PIECE: &[Either] =
    &[Either { names: &["length_mm", "volume_cm3"], required: true, exclusive: true }];
const TABLE: &str = "Discharge coefficient over opening ratio and pressure ratio.";
const READ: &str = "State in which its angle was read.";

/// Every table of an engine file.
pub const SECTIONS: &[Section] = &[
    table("", "The engine.", TOP).required(),
    table("crank_train", "Crank, rod and bore.", CRANK_TRAIN).required(),
    table("piston", "Piston.", PISTON),
    table("stack", "Gaskets and spacers in the state to run.", STACK).required(),
    table("stack.measured", "The state in which deck and depths were measured.", MEASURED)
        .required(),
    table("head", "Cylinder head.", HEAD).required().either(HEADS),
    table("head.assembled", "Clearance volume buretted with everything assembled.", ASSEMBLED)
        .optional(),
    table("head.squish_plane", "Bowl volume above the squish plane.", SQUISH_PLANE).optional(),
    table("head.joint_plane", "Head volume above its joint plane.", JOINT_PLANE).optional(),
    table("stud_hole[]", "A hole along the cylinder for a stud.", STUD_HOLE).optional(),
    table("exhaust", "Exhaust port and what lies behind.", EXHAUST)
        .required()
        .either(EXHAUST_FORMS),
    table("exhaust.discharge", TABLE, DISCHARGE).optional(),
    table("exhaust.window[]", "An exhaust window.", WINDOW).required().either(WINDOW_FORMS),
    table("exhaust.window[].measured", READ, WINDOW_MEASURED).optional(),
    table("exhaust.silencer", "A volume behind the exhaust duct.", SILENCER)
        .optional()
        .either(OUTLET),
    table("exhaust.pipe", "Pipes behind the casting, with waves in them.", PIPE).optional(),
    table(
        "exhaust.pipe.section[]",
        "A piece of the exhaust, from the casting outward.",
        PIPE_SECTION,
    )
    .required()
    .either(PIECE),
    table("transfer[]", "A transfer duct, or several alike.", TRANSFER)
        .required()
        .either(&[COEFFICIENT]),
    table("transfer[].discharge", TABLE, DISCHARGE).optional(),
    table("transfer[].window[]", "A transfer window.", WINDOW).required().either(WINDOW_FORMS),
    table("transfer[].window[].measured", READ, WINDOW_MEASURED).optional(),
    table("crankcase", "Crankcase.", CRANKCASE)
        .required()
        .either(&[instead(&["piston_drop_mm", "measured_at"])]),
    table("intake", "Exactly one of crank_web, disc_valve, piston_port, reed.", &[])
        .required()
        .either(INTAKES),
    table("intake.crank_web", "The crank web is the inlet valve.", ROTARY)
        .optional()
        .either(&[COEFFICIENT]),
    table("intake.crank_web.discharge", TABLE, DISCHARGE).optional(),
    table("intake.disc_valve", "A disc is the inlet valve.", ROTARY)
        .optional()
        .either(&[COEFFICIENT]),
    table("intake.disc_valve.discharge", TABLE, DISCHARGE).optional(),
    table("intake.piston_port", "The piston skirt opens the inlet.", PISTON_PORT)
        .optional()
        .either(&[COEFFICIENT]),
    table("intake.piston_port.discharge", TABLE, DISCHARGE).optional(),
    table("intake.piston_port.window[]", "An inlet window.", INLET_WINDOW)
        .required()
        .either(&[WIDTH]),
    table("intake.reed", "Petals that lift where the crankcase draws.", REED)
        .optional()
        .either(&[COEFFICIENT]),
    table("intake.reed.discharge", TABLE, DISCHARGE).optional(),
    table("intake.reed.stage[]", "Petals of one kind, side by side.", REED_STAGE).required(),
    table(
        "intake.reed.window[]",
        "A window in the bore behind the block, opened by the skirt; none where the block leads straight into the crankcase.",
        INLET_WINDOW,
    )
    .optional()
    .either(&[WIDTH]),
    table("carburettor", "Carburettor.", CARBURETTOR).optional(),
    table("inlet_tract", "Tract from carburettor to port.", INLET_TRACT)
        .optional()
        .either(&[needed(&["area_mm2", "diameter_mm"])]),
    table("inlet_pipe", "Pipes from the outside to the engine, with waves in them.", INLET_PIPE)
        .optional(),
    table("inlet_pipe.section[]", "A piece of the inlet, from the outside inward.", PIPE_SECTION)
        .required()
        .either(PIECE),
    table("combustion", "Burning.", COMBUSTION),
    table("heat", "Heat to the cylinder walls.", HEAT),
    table("friction", "Mechanical losses.", FRICTION),
    table("leaks", "Leaks.", LEAKS),
    table("scavenging", "Scavenging.", SCAVENGING),
    table("ambient", "Surroundings.", AMBIENT),
    table("fuel", "Fuel and mixture.", FUEL),
    table("run", "What to run.", RUN),
];

/// Engine files.
pub const FORM: &Form = &Form { name: "engine file", tolerances: true, sections: SECTIONS };

/// The table at a path, indices replaced by `[]`.
#[must_use]
pub fn section_at(path: &str) -> Option<&'static Section> {
    FORM.section(path)
}
