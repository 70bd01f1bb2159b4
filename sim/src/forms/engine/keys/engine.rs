//! Crank train, piston, stack, head.

use super::Unit::{CubicCentimetre as Cm3, Degree, Gram, Millimetre as Mm, One};
use super::{Key, list, number, text};

pub(super) const TOP: &[Key] = &[
    text("name", "What the engine is called.").required(),
    number(
        "model",
        One,
        1.0,
        2.0,
        "Version of the model: 1 is that of program 0.3.0, 2 keeps new and old gas apart in the cylinder.",
    ),
    text("note", "Anything worth keeping with it."),
];

pub(super) const CRANK_TRAIN: &[Key] = &[
    number("bore_mm", Mm, 15.0, 150.0, "Bore.").required().how("Bore gauge or inside caliper, across and along the gudgeon pin", 0.02),
    number("stroke_mm", Mm, 15.0, 150.0, "Stroke, twice the crank throw.").required().how("Depth gauge on the crown from top to bottom dead centre", 0.05),
    number("rod_mm", Mm, 20.0, 350.0, "Connecting rod between centres.").required().how("Maker's data, or measured between the bores", 0.2),
    number("pin_offset_mm", Mm, -10.0, 10.0, "Gudgeon pin offset, positive toward the side the crank pin moves to first after top dead centre.").or(0.0),
];

pub(super) const PISTON: &[Key] = &[
    number("compression_height_mm", Mm, 3.0, 100.0, "Gudgeon pin centre to crown edge.")
        .or_else("0.55 of the bore; matters only when pistons are swapped")
        .how("Caliper", 0.05),
    number(
        "skirt_length_mm",
        Mm,
        10.0,
        200.0,
        "Crown edge to lower skirt edge on the intake side.",
    )
    .or_else("the bore")
    .how("Caliper", 0.1),
    list("ring_depths_mm", Mm, 0.0, 50.0, "Depth of each ring's upper face below the crown edge.")
        .each("ring")
        .how("Caliper", 0.1),
    list(
        "ring_pegs_deg",
        Degree,
        -360.0,
        360.0,
        "Position of each ring's peg round the bore, 0 at the exhaust, clockwise from above.",
    )
    .each("peg")
    .how("Rubbing or protractor on the crown", 2.0),
    number("dome_volume_cm3", Cm3, -20.0, 50.0, "Volume of the crown above its edge.")
        .or(0.0)
        .how("Displacement or calculation", 0.1),
    number(
        "crown_chamfer_mm",
        Mm,
        0.0,
        5.0,
        "Height of a chamfer on the crown edge: ports open earlier by it.",
    )
    .or(0.0),
    number("mass_g", Gram, 5.0, 3000.0, "Piston, pin and rings, for inertia forces.")
        .how("Kitchen scale", 1.0),
];

pub(super) const STACK: &[Key] = &[
    list("base_gaskets_mm", Mm, 0.0, 10.0, "Base gaskets in the state to run, each as compressed.")
        .each("gasket")
        .required()
        .how("Micrometer on a used gasket: fibre loses 10 to 20 % when torqued", 0.05),
    list("spacers_mm", Mm, 0.0, 30.0, "Spacers under the cylinder.").each("spacer").or_else("none"),
    list("head_gaskets_mm", Mm, 0.0, 10.0, "Head gaskets, each as compressed.")
        .each("gasket")
        .or_else("none")
        .how("Micrometer on a used gasket", 0.02),
    number(
        "top_face_cut_mm",
        Mm,
        0.0,
        20.0,
        "What has been cut from the cylinder's top face since it was measured.",
    )
    .or(0.0),
];

pub(super) const MEASURED: &[Key] = &[
    number(
        "deck_mm",
        Mm,
        -20.0,
        30.0,
        "Crown edge below the top face at top dead centre, positive below.",
    )
    .required()
    .how("Depth gauge at four points, or on the gudgeon pin axis", 0.05),
    list("base_gaskets_mm", Mm, 0.0, 10.0, "Base gaskets when it was measured.")
        .each("gasket")
        .or_else("as to run")
        .how("Micrometer on a used gasket", 0.05),
    list("spacers_mm", Mm, 0.0, 30.0, "Spacers when it was measured.")
        .each("spacer")
        .or_else("as to run"),
    number("stroke_mm", Mm, 15.0, 150.0, "Stroke when it was measured.")
        .or_else("as to run")
        .how("Depth gauge on the crown from top to bottom dead centre", 0.05),
    number("rod_mm", Mm, 20.0, 350.0, "Rod when it was measured.")
        .or_else("as to run")
        .how("Maker's data, or measured between the bores", 0.2),
    number(
        "compression_height_mm",
        Mm,
        3.0,
        100.0,
        "Piston's compression height when it was measured.",
    )
    .or_else("as to run")
    .how("Caliper", 0.05),
];

pub(super) const HEAD: &[Key] = &[
    number(
        "land_offset_mm",
        Mm,
        -30.0,
        30.0,
        "Squish land above the head's joint plane; negative when it enters the bore.",
    )
    .or(0.0)
    .how("Depth gauge", 0.03),
    number("squish_band_mm", Mm, 0.0, 60.0, "Width of the squish band.")
        .or(0.0)
        .how("Caliper", 0.2),
    number("land_angle_deg", Degree, -20.0, 30.0, "Angle of the squish land.").or(0.0),
];

pub(super) const ASSEMBLED: &[Key] = &[
    number("volume_cm3", Cm3, 0.3, 500.0, "Clearance volume buretted with everything assembled.")
        .required()
        .how("Burette through the plug hole at top dead centre, to the plug's thread", 0.1),
    number("deck_mm", Mm, -20.0, 30.0, "Deck at that moment.").or_else("the measured deck"),
    number("head_gasket_mm", Mm, 0.0, 20.0, "Head gaskets at that moment.")
        .or_else("as to run")
        .how("Micrometer on a used gasket", 0.02),
];

pub(super) const SQUISH_PLANE: &[Key] = &[
    number("volume_cm3", Cm3, 0.1, 500.0, "Bowl volume above the squish plane.")
        .required()
        .how("Burette under a plate on the squish land", 0.1),
    number("crevices_cm3", Cm3, 0.0, 10.0, "Ring crevices, plug thread and the like.").or(0.0),
];

pub(super) const JOINT_PLANE: &[Key] = &[
    number("volume_cm3", Cm3, 0.1, 500.0, "Head volume above its joint plane.")
        .required()
        .how("Burette under a plate on the joint face", 0.1),
    number("gasket_hole_mm", Mm, 15.0, 200.0, "Diameter of the hole in the head gasket.")
        .or_else("the bore"),
    number(
        "spigot_volume_cm3",
        Cm3,
        0.0,
        50.0,
        "Volume of the head's spigot that enters the bore.",
    )
    .or(0.0),
];

pub(super) const STUD_HOLE: &[Key] = &[
    number(
        "centre_deg",
        Degree,
        -360.0,
        360.0,
        "Direction of the hole from the bore's axis, 0 at the exhaust, clockwise from above.",
    )
    .required()
    .how("Rubbing of the joint face", 1.0),
    number("distance_mm", Mm, 5.0, 300.0, "Distance of its axis from the bore's axis.")
        .required()
        .how("Caliper, half the distance of opposite holes", 0.2),
    number("diameter_mm", Mm, 2.0, 40.0, "Diameter of the hole.").required().how("Caliper", 0.1),
];
