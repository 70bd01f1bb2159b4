//! Exhaust, transfers, crankcase, intake.

use super::Unit::{
    Bar, Celsius, CubicCentimetre as Cm3, Degree, Gigapascal, Hertz, KilogramPerCubicMetre,
    Megapascal, Millimetre as Mm, One, SquareMillimetre as Mm2, WattPerKelvin,
};
use super::{Key, Kind, choice, flag, list, number, text};

pub(super) const EXHAUST: &[Key] = &[
    number("discharge_coefficient", One, 0.1, 1.2, "Discharge coefficient of the windows.")
        .or(0.75),
    number(
        "duct_exit_area_mm2",
        Mm2,
        10.0,
        20_000.0,
        "Area of the duct where it leaves the casting.",
    ),
    number(
        "duct_exit_diameter_mm",
        Mm,
        4.0,
        150.0,
        "Diameter of the duct where it leaves the casting, instead of its area.",
    )
    .how("Caliper", 0.1),
    number("duct_volume_cm3", Cm3, 0.0, 1000.0, "Volume of the duct in the casting.").or(0.0),
    number(
        "duct_length_mm",
        Mm,
        1.0,
        300.0,
        "Length of the duct in the casting along its middle; with a pipe behind it only.",
    )
    .or_else("volume over exit area")
    .how("Bent wire", 2.0),
    number(
        "ledge_loss_outward",
        One,
        0.0,
        5.0,
        "Loss of a ledge at the joint for outward flow, velocity heads.",
    )
    .or(0.0),
    number("ledge_loss_inward", One, 0.0, 5.0, "The same for inward flow.").or(0.0),
    number(
        "back_pressure_bar",
        Bar,
        0.2,
        5.0,
        "Mean pressure behind the exhaust, or outside the silencer.",
    )
    .or_else("ambient pressure"),
    number(
        "gas_temperature_c",
        Celsius,
        -20.0,
        1200.0,
        "Temperature of the burned gas that stands there.",
    )
    .or(400.0),
];

pub(super) const DISCHARGE: &[Key] = &[
    list("opening", One, 0.0, 1.0, "Opening ratios, rising.").required(),
    list("pressure_ratio", One, 0.0, 1.0, "Pressure ratios, rising.").required(),
    Key::of("forward", Kind::Rows(0.0, 1.2), "Coefficients, a row for each opening ratio.")
        .required(),
    Key::of("reverse", Kind::Rows(0.0, 1.2), "The same for the other direction.").required(),
];

const CENTRE: Key = number(
    "centre_deg",
    Degree,
    -360.0,
    360.0,
    "Centre line round the bore, 0 at the exhaust, clockwise from above.",
)
.or(0.0)
.how("Rubbing unrolled", 1.0);
const CHORD: Key = number("chord_mm", Mm, 1.0, 150.0, "Width straight across.")
    .how("Inside caliper or dividers", 0.15);
const ARC: Key =
    number("arc_mm", Mm, 1.0, 250.0, "Width along the wall.").how("Rubbing, unrolled", 0.4);
const ROOF_DEPTH: Key = number(
    "roof_depth_mm",
    Mm,
    0.0,
    200.0,
    "Depth of the roof's highest point below the top face, to the bore edge of the chamfer.",
)
.how("Caliper's depth rod or a hooked jaw", 0.1);
const OPENS: Key = number(
    "opens_deg_atdc",
    Degree,
    1.0,
    179.0,
    "Opening angle, instead of the roof's depth, in the measured state.",
)
.how("Degree disc and a light, from a true top dead centre", 0.5);
const FLOOR_DEPTH: Key = number(
    "floor_depth_mm",
    Mm,
    0.0,
    250.0,
    "Depth of the floor's lowest point below the top face.",
)
.or_else("the crown edge at bottom dead centre")
.how("Caliper", 0.1);
const ROOF_RADIUS: Key = number("roof_radius_mm", Mm, 0.0, 60.0, "Radius of the upper corners.")
    .or(0.0)
    .how("Radius gauge on a rubbing", 0.5);
const FLOOR_RADIUS: Key = number("floor_radius_mm", Mm, 0.0, 60.0, "Radius of the lower corners.")
    .or(0.0)
    .how("Radius gauge on a rubbing", 0.5);
const ROOF_ARCH: Key = number(
    "roof_arch_mm",
    Mm,
    0.0,
    40.0,
    "How much lower the roof stands at the sides than at its middle.",
)
.or(0.0)
.how("Rubbing", 0.2);
const AXIAL: Key =
    number("axial_deg", Degree, -80.0, 80.0, "Upward angle of the duct at the window.")
        .or(0.0)
        .how("Card template or cast", 3.0);
const RADIAL: Key =
    number("radial_deg", Degree, -80.0, 80.0, "Angle of the duct to the radius at the window.")
        .or(0.0)
        .how("Card template or cast", 3.0);

/// A window that the crown edge opens.
pub(super) const WINDOW: &[Key] = &[
    CENTRE,
    CHORD,
    ARC,
    ROOF_DEPTH,
    OPENS,
    FLOOR_DEPTH,
    ROOF_RADIUS,
    FLOOR_RADIUS,
    ROOF_ARCH,
    AXIAL,
    RADIAL,
];

/// A window that the skirt opens.
pub(super) const INLET_WINDOW: &[Key] = &[
    CENTRE,
    CHORD,
    ARC,
    ROOF_DEPTH.required(),
    FLOOR_DEPTH.required(),
    ROOF_RADIUS,
    FLOOR_RADIUS,
    ROOF_ARCH,
    AXIAL,
    RADIAL,
];

/// A window's own measured state, for angles read with another stack.
pub(super) const WINDOW_MEASURED: &[Key] = &[
    number("deck_mm", Mm, -20.0, 30.0, "Deck when the angle was read.")
        .or_else("worked out from the stack"),
    list("base_gaskets_mm", Mm, 0.0, 10.0, "Base gaskets when the angle was read.")
        .each("gasket")
        .or_else("as in stack.measured"),
    list("spacers_mm", Mm, 0.0, 30.0, "Spacers when the angle was read.")
        .each("spacer")
        .or_else("as in stack.measured"),
    number("stroke_mm", Mm, 15.0, 150.0, "Stroke when the angle was read.")
        .or_else("as in stack.measured"),
    number("rod_mm", Mm, 20.0, 350.0, "Rod when the angle was read.")
        .or_else("as in stack.measured"),
];

pub(super) const SILENCER: &[Key] = &[
    number("volume_cm3", Cm3, 10.0, 50_000.0, "Volume of the silencer.").required(),
    number("outlet_diameter_mm", Mm, 2.0, 150.0, "Diameter of its outlet."),
    number("outlet_area_mm2", Mm2, 3.0, 20_000.0, "Area of its outlet."),
    number("outlet_discharge_coefficient", One, 0.1, 1.2, "Discharge coefficient of the outlet.")
        .or(0.8),
    number(
        "wall_w_per_k",
        WattPerKelvin,
        0.0,
        100.0,
        "Heat transfer coefficient times wetted area.",
    )
    .or(0.0),
    number("wall_temperature_c", Celsius, -40.0, 1000.0, "Wall temperature.").or(200.0),
];

/// Pipes of one side.
pub(super) const PIPE: &[Key] = &[
    number("friction", One, 0.0, 20.0, "Multiplies the friction of a smooth pipe.").or(1.0),
    number("heat", One, 0.0, 20.0, "Multiplies the heat that friction's analogy gives.").or(1.0),
    number("wall_temperature_c", Celsius, -40.0, 1000.0, "Wall temperature of its sections.")
        .or(300.0),
    flag("end_correction", "Whether the open end acts longer than it is.").or_flag(true),
];

/// The same of the inlet, whose walls are as warm as the surroundings.
pub(super) const INLET_PIPE: &[Key] = &[
    number("friction", One, 0.0, 20.0, "Multiplies the friction of a smooth pipe.").or(1.0),
    number("heat", One, 0.0, 20.0, "Multiplies the heat that friction's analogy gives.").or(1.0),
    number("wall_temperature_c", Celsius, -40.0, 300.0, "Wall temperature of its sections.")
        .or(30.0),
    flag("end_correction", "Whether the open end acts longer than it is.").or_flag(true),
];

/// A piece of them.
pub(super) const PIPE_SECTION: &[Key] = &[
    text("name", "What the piece is called."),
    number("length_mm", Mm, 2.0, 5000.0, "Length along its middle.")
        .how("Tape along the middle", 2.0),
    number("volume_cm3", Cm3, 5.0, 50_000.0, "A volume without waves, instead of a length.")
        .how_share("Filled with water", 0.02),
    number("from_mm", Mm, 4.0, 300.0, "Inner diameter where it begins.")
        .or_else("where the section before ends")
        .how("Caliper, less the sheet", 0.3),
    number("to_mm", Mm, 4.0, 300.0, "Inner diameter where it ends.")
        .or_else("as it begins")
        .how("Caliper, less the sheet", 0.3),
    number("wall_temperature_c", Celsius, -40.0, 1000.0, "Wall temperature.")
        .or_else("that of all sections"),
];

pub(super) const TRANSFER: &[Key] = &[
    text("name", "What the group is called.").required(),
    number("discharge_coefficient", One, 0.1, 1.2, "Discharge coefficient of the windows.")
        .or(0.75),
    number("duct_volume_cm3", Cm3, 0.5, 2000.0, "Volume of the ducts of this group together.")
        .required()
        .how_share("Fluid or silicone cast", 0.05),
    number(
        "duct_length_mm",
        Mm,
        1.0,
        600.0,
        "Length of the duct from mouth to window along its middle.",
    )
    .how("Bent wire", 3.0),
    number("duct_area_mm2", Mm2, 5.0, 20_000.0, "Mean area of the ducts of this group together.")
        .or_else("volume over length"),
    number("entry_loss", One, 0.0, 5.0, "Loss at the mouth for forward flow, velocity heads.")
        .or(0.0),
    number("friction_factor", One, 0.0, 0.1, "Fanning friction factor of the duct.").or(0.0),
    flag("inertive", "Whether the gas column's inertia is computed.").or_flag(true),
    number(
        "wall_w_per_k",
        WattPerKelvin,
        0.0,
        100.0,
        "Heat transfer coefficient times wetted area for returned gas.",
    )
    .or(0.0),
    number("wall_temperature_c", Celsius, -40.0, 400.0, "Duct wall temperature.").or(120.0),
];

pub(super) const CRANKCASE: &[Key] = &[
    number("volume_cm3", Cm3, 10.0, 5000.0, "Crankcase volume.")
        .required()
        .how("Filled with thin oil from a jug or syringe", 5.0),
    choice("measured_at", &["top", "bottom"], "Piston position it was measured at.").or_text("top"),
    number(
        "piston_drop_mm",
        Mm,
        0.0,
        150.0,
        "Piston position as a drop from top dead centre, instead.",
    ),
    flag("includes_ducts", "Whether the transfer ducts are in it.").or_flag(true),
    number(
        "wall_w_per_k",
        WattPerKelvin,
        0.0,
        100.0,
        "Heat transfer coefficient times wetted area.",
    )
    .or(0.0),
    number("wall_temperature_c", Celsius, -40.0, 300.0, "Wall temperature.").or(90.0),
];

pub(super) const ROTARY: &[Key] = &[
    number(
        "opens_deg_btdc",
        Degree,
        60.0,
        200.0,
        "Where the window begins to open, before top dead centre.",
    )
    .required()
    .how("Degree disc", 1.0),
    number(
        "closes_deg_atdc",
        Degree,
        10.0,
        120.0,
        "Where it is shut again, after top dead centre.",
    )
    .required()
    .how("Degree disc", 1.0),
    number(
        "ramp_deg",
        Degree,
        0.5,
        90.0,
        "Angle over which it goes from shut to open: the window's own width seen from the shaft.",
    )
    .or(20.0),
    number("window_area_mm2", Mm2, 5.0, 20_000.0, "Area fully open.")
        .required()
        .how_share("Rubbing on squared paper", 0.03),
    number("discharge_coefficient", One, 0.1, 1.2, "Discharge coefficient.").or(0.75),
];

pub(super) const PISTON_PORT: &[Key] =
    &[number("discharge_coefficient", One, 0.1, 1.2, "Discharge coefficient of the windows.")
        .or(0.75)];

pub(super) const REED: &[Key] = &[
    number("discharge_coefficient", One, 0.1, 1.2, "Discharge coefficient of the block.").or(0.75),
    number(
        "window_discharge_coefficient",
        One,
        0.1,
        1.2,
        "Discharge coefficient of windows in the bore behind the block.",
    )
    .or(0.75),
];

pub(super) const REED_STAGE: &[Key] = &[
    text("name", "What these petals are called.").required(),
    number("petals", One, 1.0, 24.0, "How many petals, all alike.").required(),
    choice("material", &["steel", "glass", "carbon"], "What they are made of.").required(),
    number("length_mm", Mm, 5.0, 120.0, "Free length from the clamped edge to the tip.")
        .required()
        .how("Caliper", 0.2),
    number("width_mm", Mm, 3.0, 120.0, "Width of a petal.").required().how("Caliper", 0.1),
    number("thickness_mm", Mm, 0.05, 2.0, "Thickness.").required().how("Micrometer", 0.01),
    number("modulus_gpa", Gigapascal, 1.0, 400.0, "Modulus of elasticity along the petal.")
        .or_else("that of the material"),
    number("density_kg_per_m3", KilogramPerCubicMetre, 500.0, 20_000.0, "Density.")
        .or_else("that of the material"),
    number(
        "fatigue_stress_mpa",
        Megapascal,
        5.0,
        2000.0,
        "Bending stress that lasts, swinging between nothing and it.",
    )
    .or_else("that of the material"),
    number(
        "frequency_hz",
        Hertz,
        5.0,
        5000.0,
        "Natural frequency as measured on the block; it takes the place of the modulus.",
    )
    .or_else("that of a cantilever of these dimensions")
    .how_share("Plucked beside a microphone", 0.02),
    number("damping_ratio", One, 0.0, 0.9, "Damping of its free vibration over critical damping.")
        .or(0.03),
    number(
        "restitution",
        One,
        0.05,
        1.0,
        "Share of its speed with which it leaves seat or stop after hitting it.",
    )
    .or(0.3),
    number("window_length_mm", Mm, 2.0, 120.0, "Length of the window under a petal, along it.")
        .required()
        .how("Caliper", 0.1),
    number("window_width_mm", Mm, 2.0, 120.0, "Width of that window, ribs left out.")
        .required()
        .how("Caliper", 0.1),
    number("tip_overlap_mm", Mm, 0.0, 20.0, "From the window's end to the petal's tip.").or(1.5),
    number("stop_mm", Mm, 0.3, 40.0, "Lift of the tip at the stop.").required().how("Caliper", 0.2),
];
