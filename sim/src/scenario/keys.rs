//! Every key of an engine file in one table: what it is, its unit and range, its default, how it is
//! measured. The reader, the schema, the template and sweep axes all come from here.

/// Unit a bare number is taken in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Millimetres.
    Millimetre,
    /// Square millimetres.
    SquareMillimetre,
    /// Cubic centimetres.
    CubicCentimetre,
    /// Degrees of crank angle, or of arc.
    Degree,
    /// Bar, absolute.
    Bar,
    /// Degrees Celsius.
    Celsius,
    /// Grams.
    Gram,
    /// Watts per kelvin.
    WattPerKelvin,
    /// A plain number.
    One,
}

/// What a key holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Kind {
    /// One number between two limits, in the unit.
    Number(Unit, f64, f64),
    /// A list of numbers, each between the limits.
    Numbers(Unit, f64, f64),
    /// Rows of numbers.
    Rows(f64, f64),
    /// A number, or a table `{ rpm = [..], value = [..] }`.
    OverSpeed(Unit, f64, f64),
    /// Words.
    Text,
    /// One of these words.
    Choice(&'static [&'static str]),
    /// True or false.
    Flag,
    /// Speeds: a list, or `"from:to:step"`.
    Speeds,
}

/// What stands in for a key that is not given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fallback {
    /// Nothing: the key must be given.
    Required,
    /// Nothing: it may be left out.
    Optional,
    /// This number.
    Number(f64),
    /// These words.
    Text(&'static str),
    /// This truth.
    Flag(bool),
    /// What the words say; worked out from other keys.
    Derived(&'static str),
}

/// One key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Key {
    /// Name in its table.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// What stands in for it.
    pub fallback: Fallback,
    /// What it is.
    pub meaning: &'static str,
    /// How it is measured, with which instrument and what error is usual; empty where it is a choice.
    pub how: &'static str,
}

/// One table of the file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// Path, `[]` where it repeats; empty for the top.
    pub path: &'static str,
    /// Whether an engine file must have it.
    pub required: bool,
    /// What it describes.
    pub meaning: &'static str,
    /// Its keys.
    pub keys: &'static [Key],
}

const fn number(name: &'static str, unit: Unit, low: f64, high: f64, meaning: &'static str) -> Key {
    Key {
        name,
        kind: Kind::Number(unit, low, high),
        fallback: Fallback::Optional,
        meaning,
        how: "",
    }
}

const fn list(name: &'static str, unit: Unit, low: f64, high: f64, meaning: &'static str) -> Key {
    Key {
        name,
        kind: Kind::Numbers(unit, low, high),
        fallback: Fallback::Optional,
        meaning,
        how: "",
    }
}

impl Key {
    const fn required(self) -> Self {
        Self { fallback: Fallback::Required, ..self }
    }
    const fn or(self, value: f64) -> Self {
        Self { fallback: Fallback::Number(value), ..self }
    }
    const fn or_flag(self, value: bool) -> Self {
        Self { fallback: Fallback::Flag(value), ..self }
    }
    const fn or_text(self, value: &'static str) -> Self {
        Self { fallback: Fallback::Text(value), ..self }
    }
    const fn or_else(self, words: &'static str) -> Self {
        Self { fallback: Fallback::Derived(words), ..self }
    }
    const fn how(self, how: &'static str) -> Self {
        Self { how, ..self }
    }
    const fn kind(self, kind: Kind) -> Self {
        Self { kind, ..self }
    }
}

use Unit::{
    Bar, Celsius, CubicCentimetre as Cm3, Degree, Gram, Millimetre as Mm, One,
    SquareMillimetre as Mm2, WattPerKelvin,
};

const TOP: &[Key] = &[
    number("name", One, 0.0, 0.0, "What the engine is called.").kind(Kind::Text).required(),
    number("note", One, 0.0, 0.0, "Anything worth keeping with it.").kind(Kind::Text),
];

const CRANK_TRAIN: &[Key] = &[
    number("bore_mm", Mm, 15.0, 150.0, "Bore.").required().how("Bore gauge or inside caliper, across and along the gudgeon pin; ±0.02 mm."),
    number("stroke_mm", Mm, 15.0, 150.0, "Stroke, twice the crank throw.").required().how("Depth gauge on the crown from top to bottom dead centre; ±0.05 mm."),
    number("rod_mm", Mm, 20.0, 350.0, "Connecting rod between centres.").required().how("Maker's data; measured ±0.2 mm."),
    number("pin_offset_mm", Mm, -10.0, 10.0, "Gudgeon pin offset, positive toward the side the crank pin moves to first after top dead centre.").or(0.0),
];

const PISTON: &[Key] = &[
    number("compression_height_mm", Mm, 3.0, 100.0, "Gudgeon pin centre to crown edge.")
        .or_else("0.55 of the bore; matters only when pistons are swapped")
        .how("Caliper; ±0.05 mm."),
    number(
        "skirt_length_mm",
        Mm,
        10.0,
        200.0,
        "Crown edge to lower skirt edge on the intake side.",
    )
    .or_else("the bore")
    .how("Caliper; ±0.1 mm."),
    list("ring_depths_mm", Mm, 0.0, 50.0, "Depth of each ring's upper face below the crown edge.")
        .how("Caliper; ±0.1 mm."),
    list(
        "ring_pegs_deg",
        Degree,
        -360.0,
        360.0,
        "Position of each ring's peg round the bore, 0 at the exhaust, clockwise from above.",
    )
    .how("Rubbing or protractor on the crown; ±2°."),
    number("dome_volume_cm3", Cm3, -20.0, 50.0, "Volume of the crown above its edge.")
        .or(0.0)
        .how("Displacement or calculation; ±0.1 cm³."),
    number(
        "crown_chamfer_mm",
        Mm,
        0.0,
        5.0,
        "Height of a chamfer on the crown edge: ports open earlier by it.",
    )
    .or(0.0),
    number("mass_g", Gram, 5.0, 3000.0, "Piston, pin and rings, for inertia forces.")
        .how("Kitchen scale; ±1 g."),
];

const STACK: &[Key] = &[
    list("base_gaskets_mm", Mm, 0.0, 10.0, "Base gaskets in the state to run, each as compressed.")
        .required()
        .how("Micrometer on a used gasket; ±0.02 mm metal, ±0.05 mm fibre."),
    list("spacers_mm", Mm, 0.0, 30.0, "Spacers under the cylinder.").or_else("none"),
    list("head_gaskets_mm", Mm, 0.0, 10.0, "Head gaskets, each as compressed.")
        .or_else("none")
        .how("Micrometer on a used gasket; ±0.02 mm."),
    number(
        "top_face_cut_mm",
        Mm,
        0.0,
        20.0,
        "What has been cut from the cylinder's top face since it was measured.",
    )
    .or(0.0),
];

const MEASURED: &[Key] = &[
    number(
        "deck_mm",
        Mm,
        -20.0,
        30.0,
        "Crown edge below the top face at top dead centre, positive below.",
    )
    .required()
    .how("Depth gauge at four points, or on the gudgeon pin axis; ±0.05 mm."),
    list("base_gaskets_mm", Mm, 0.0, 10.0, "Base gaskets when it was measured.")
        .or_else("as to run"),
    list("spacers_mm", Mm, 0.0, 30.0, "Spacers when it was measured.").or_else("as to run"),
    number("stroke_mm", Mm, 15.0, 150.0, "Stroke when it was measured.").or_else("as to run"),
    number("rod_mm", Mm, 20.0, 350.0, "Rod when it was measured.").or_else("as to run"),
    number(
        "compression_height_mm",
        Mm,
        3.0,
        100.0,
        "Piston's compression height when it was measured.",
    )
    .or_else("as to run"),
];

const HEAD: &[Key] = &[
    number(
        "land_offset_mm",
        Mm,
        -30.0,
        30.0,
        "Squish land above the head's joint plane; negative when it enters the bore.",
    )
    .or(0.0)
    .how("Depth gauge; ±0.03 mm."),
    number("squish_band_mm", Mm, 0.0, 60.0, "Width of the squish band.")
        .or(0.0)
        .how("Caliper; ±0.2 mm."),
    number("land_angle_deg", Degree, -20.0, 30.0, "Angle of the squish land.").or(0.0),
];

const ASSEMBLED: &[Key] = &[
    number("volume_cm3", Cm3, 0.3, 500.0, "Clearance volume buretted with everything assembled.")
        .required()
        .how("Burette through the plug hole at top dead centre, to the plug's thread; ±0.1 cm³."),
    number("deck_mm", Mm, -20.0, 30.0, "Deck at that moment.").or_else("the measured deck"),
    number("head_gasket_mm", Mm, 0.0, 20.0, "Head gaskets at that moment.").or_else("as to run"),
];

const SQUISH_PLANE: &[Key] = &[
    number("volume_cm3", Cm3, 0.1, 500.0, "Bowl volume above the squish plane.")
        .required()
        .how("Burette under a plate on the squish land; ±0.1 cm³."),
    number("crevices_cm3", Cm3, 0.0, 10.0, "Ring crevices, plug thread and the like.").or(0.0),
];

const JOINT_PLANE: &[Key] = &[
    number("volume_cm3", Cm3, 0.1, 500.0, "Head volume above its joint plane.")
        .required()
        .how("Burette under a plate on the joint face; ±0.1 cm³."),
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

const EXHAUST: &[Key] = &[
    number("discharge_coefficient", One, 0.1, 1.2, "Discharge coefficient of the windows.")
        .or(0.75),
    number(
        "duct_exit_area_mm2",
        Mm2,
        10.0,
        20_000.0,
        "Area of the duct where it leaves the casting.",
    ),
    number("duct_exit_diameter_mm", Mm, 4.0, 150.0, "The same as a diameter.")
        .how("Caliper; ±0.1 mm."),
    number("duct_volume_cm3", Cm3, 0.0, 1000.0, "Volume of the duct in the casting.").or(0.0),
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

const DISCHARGE: &[Key] = &[
    list("opening", One, 0.0, 1.0, "Opening ratios, rising.").required(),
    list("pressure_ratio", One, 0.0, 1.0, "Pressure ratios, rising.").required(),
    list("forward", One, 0.0, 1.2, "Coefficients, a row for each opening ratio.")
        .kind(Kind::Rows(0.0, 1.2))
        .required(),
    list("reverse", One, 0.0, 1.2, "The same for the other direction.")
        .kind(Kind::Rows(0.0, 1.2))
        .required(),
];

const WINDOW: &[Key] = &[
    number(
        "centre_deg",
        Degree,
        -360.0,
        360.0,
        "Centre line round the bore, 0 at the exhaust, clockwise from above.",
    )
    .or(0.0)
    .how("Rubbing unrolled; ±1°."),
    number("chord_mm", Mm, 1.0, 150.0, "Width straight across.")
        .how("Inside caliper or dividers; ±0.1 to 0.2 mm."),
    number("arc_mm", Mm, 1.0, 250.0, "Width along the wall.").how("Rubbing; ±0.3 to 0.5 mm."),
    number(
        "roof_depth_mm",
        Mm,
        0.0,
        200.0,
        "Depth of the roof's highest point below the top face, to the bore edge of the chamfer.",
    )
    .how("Caliper's depth rod or a hooked jaw; ±0.1 mm."),
    number(
        "opens_deg_atdc",
        Degree,
        1.0,
        179.0,
        "Opening angle, instead of the roof's depth, in the measured state.",
    )
    .how("Degree disc; ±0.5 to 1°."),
    number(
        "floor_depth_mm",
        Mm,
        0.0,
        250.0,
        "Depth of the floor's lowest point below the top face.",
    )
    .or_else("the crown edge at bottom dead centre")
    .how("Caliper; ±0.1 mm."),
    number("roof_radius_mm", Mm, 0.0, 60.0, "Radius of the upper corners.")
        .or(0.0)
        .how("Radius gauge on a rubbing; ±0.5 mm."),
    number("floor_radius_mm", Mm, 0.0, 60.0, "Radius of the lower corners.")
        .or(0.0)
        .how("Radius gauge on a rubbing; ±0.5 mm."),
    number(
        "roof_arch_mm",
        Mm,
        0.0,
        40.0,
        "How much lower the roof stands at the sides than at its middle.",
    )
    .or(0.0)
    .how("Rubbing; ±0.2 mm."),
    number("axial_deg", Degree, -80.0, 80.0, "Upward angle of the duct at the window.")
        .or(0.0)
        .how("Card template or cast; ±3°."),
    number("radial_deg", Degree, -80.0, 80.0, "Angle of the duct to the radius at the window.")
        .or(0.0)
        .how("Card template or cast; ±3°."),
];

/// A window's own measured state, for angles read with another stack.
const WINDOW_MEASURED: &[Key] = &[
    number("deck_mm", Mm, -20.0, 30.0, "Deck when the angle was read.")
        .or_else("worked out from the stack"),
    list("base_gaskets_mm", Mm, 0.0, 10.0, "Base gaskets when the angle was read.")
        .or_else("as in stack.measured"),
    list("spacers_mm", Mm, 0.0, 30.0, "Spacers when the angle was read.")
        .or_else("as in stack.measured"),
    number("stroke_mm", Mm, 15.0, 150.0, "Stroke when the angle was read.")
        .or_else("as in stack.measured"),
    number("rod_mm", Mm, 20.0, 350.0, "Rod when the angle was read.")
        .or_else("as in stack.measured"),
];

const SILENCER: &[Key] = &[
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

const TRANSFER: &[Key] = &[
    number("name", One, 0.0, 0.0, "What the group is called.").kind(Kind::Text).required(),
    number("discharge_coefficient", One, 0.1, 1.2, "Discharge coefficient of the windows.")
        .or(0.75),
    number("duct_volume_cm3", Cm3, 0.5, 2000.0, "Volume of the ducts of this group together.")
        .required()
        .how("Fluid or silicone cast; ±5 %."),
    number(
        "duct_length_mm",
        Mm,
        1.0,
        600.0,
        "Length of the duct from mouth to window along its middle.",
    )
    .how("Bent wire; ±3 mm."),
    number("duct_area_mm2", Mm2, 5.0, 20_000.0, "Mean area of the ducts of this group together.")
        .or_else("volume over length"),
    number("entry_loss", One, 0.0, 5.0, "Loss at the mouth for forward flow, velocity heads.")
        .or(0.0),
    number("friction_factor", One, 0.0, 0.1, "Fanning friction factor of the duct.").or(0.0),
    number("inertive", One, 0.0, 0.0, "Whether the gas column's inertia is computed.")
        .kind(Kind::Flag)
        .or_flag(true),
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

const CRANKCASE: &[Key] = &[
    number("volume_cm3", Cm3, 10.0, 5000.0, "Crankcase volume.")
        .required()
        .how("Filled with thin oil from a jug or syringe; ±5 cm³."),
    number("measured_at", One, 0.0, 0.0, "Piston position it was measured at.")
        .kind(Kind::Choice(&["top", "bottom"]))
        .or_text("top"),
    number(
        "piston_drop_mm",
        Mm,
        0.0,
        150.0,
        "Piston position as a drop from top dead centre, instead.",
    ),
    number("includes_ducts", One, 0.0, 0.0, "Whether the transfer ducts are in it.")
        .kind(Kind::Flag)
        .or_flag(true),
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

const ROTARY: &[Key] = &[
    number(
        "opens_deg_btdc",
        Degree,
        60.0,
        200.0,
        "Where the window begins to open, before top dead centre.",
    )
    .required()
    .how("Degree disc; ±1°."),
    number(
        "closes_deg_atdc",
        Degree,
        10.0,
        120.0,
        "Where it is shut again, after top dead centre.",
    )
    .required()
    .how("Degree disc; ±1°."),
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
        .how("Rubbing; ±3 %."),
    number("discharge_coefficient", One, 0.1, 1.2, "Discharge coefficient.").or(0.75),
];

const PISTON_PORT: &[Key] =
    &[number("discharge_coefficient", One, 0.1, 1.2, "Discharge coefficient of the windows.")
        .or(0.75)];

const CARBURETTOR: &[Key] = &[
    number("bore_mm", Mm, 3.0, 100.0, "Bore at the venturi.").required().how("Caliper; ±0.1 mm."),
    number("throttle", One, 0.001, 1.0, "Open share of the venturi's area.").or(1.0),
    number("discharge_coefficient", One, 0.1, 1.2, "Discharge coefficient.").or(0.85),
];

const INLET_TRACT: &[Key] = &[
    number("length_mm", Mm, 1.0, 2000.0, "Length from venturi to port.")
        .required()
        .how("Bent wire; ±3 mm."),
    number("diameter_mm", Mm, 3.0, 150.0, "Mean diameter."),
    number("area_mm2", Mm2, 5.0, 20_000.0, "Mean area, instead."),
    number("entry_loss", One, 0.0, 5.0, "Loss at the mouth for forward flow, velocity heads.")
        .or(0.0),
    number("friction_factor", One, 0.0, 0.1, "Fanning friction factor.").or(0.0),
    number("inertive", One, 0.0, 0.0, "Whether the gas column's inertia is computed.")
        .kind(Kind::Flag)
        .or_flag(true),
];

const COMBUSTION: &[Key] = &[
    number("start_deg_btdc", Degree, -60.0, 90.0, "Start of burning before top dead centre.")
        .kind(Kind::OverSpeed(Degree, -60.0, 90.0))
        .or(10.0),
    number("duration_deg", Degree, 5.0, 180.0, "Duration of burning.")
        .kind(Kind::OverSpeed(Degree, 5.0, 180.0))
        .or(50.0),
    number("form", One, 0.1, 6.0, "Wiebe exponent m.").or(2.0),
    number("completeness", One, 1.0, 12.0, "Wiebe a.").or(6.908),
    number("efficiency", One, 0.1, 1.0, "Share of the fresh charge that burns.").or(0.9),
];

const HEAT: &[Key] = &[
    number("law", One, 0.0, 0.0, "Correlation for heat to the cylinder walls.")
        .kind(Kind::Choice(&["annand", "woschni", "adiabatic"]))
        .or_text("annand"),
    number("convective", One, 0.0, 3.0, "Annand's convective coefficient.").or(0.26),
    number("radiative_w_per_m2k4", One, 0.0, 1e-6, "Annand's radiative coefficient.").or(0.0),
    number("scale", One, 0.0, 5.0, "Multiplies Woschni's coefficient.").or(1.0),
    number("head_temperature_c", Celsius, -40.0, 500.0, "Head surface.").or(200.0),
    number("piston_temperature_c", Celsius, -40.0, 500.0, "Crown surface.").or(250.0),
    number("liner_temperature_c", Celsius, -40.0, 500.0, "Liner surface.").or(150.0),
    number("head_area_ratio", One, 0.5, 4.0, "Head surface over bore area.").or(1.2),
    number("crown_area_ratio", One, 0.5, 4.0, "Crown surface over bore area.").or(1.1),
];

const FRICTION: &[Key] = &[
    number("constant_bar", Bar, 0.0, 5.0, "Friction mean effective pressure at standstill.")
        .or(0.3),
    number("per_piston_speed_bar", Bar, 0.0, 0.5, "What each m/s of mean piston speed adds.")
        .or(0.03),
];

const LEAKS: &[Key] = &[
    number("blow_by_mm2", Mm2, 0.0, 20.0, "Effective leak area past the rings.").or(0.0),
    number("crankcase_mm2", Mm2, 0.0, 50.0, "Effective leak area of the crankcase.").or(0.0),
];

const SCAVENGING: &[Key] = &[
    number("law", One, 0.0, 0.0, "What leaves through the exhaust during scavenging.")
        .kind(Kind::Choice(&[
            "perfect-mixing",
            "perfect-displacement",
            "two-part",
            "curve",
            "table",
        ]))
        .or_text("perfect-mixing"),
    number("displaced", One, 0.0, 1.0, "Two-part: purity reached by displacement alone.").or(0.3),
    number(
        "short_circuit",
        One,
        0.0,
        0.9,
        "Two-part: share of the fresh inflow that goes straight out.",
    )
    .or(0.0),
    number("k0", One, -1.0, 1.0, "Curve: k0 of 1 - exp(k0 + k1 S + k2 S^2).").or(0.0),
    number("k1", One, -5.0, 0.0, "Curve: k1.").or(-1.0),
    number("k2", One, -5.0, 5.0, "Curve: k2.").or(0.0),
    list("ratio", One, 0.0, 20.0, "Table: scavenge ratios from 0 on, rising."),
    list("efficiency", One, 0.0, 1.0, "Table: scavenging efficiencies from 0 on, rising."),
];

const AMBIENT: &[Key] = &[
    number("pressure_bar", Bar, 0.4, 1.2, "Ambient pressure.").or(1.013_25),
    number("temperature_c", Celsius, -40.0, 60.0, "Ambient temperature.").or(20.0),
    number("relative_humidity", One, 0.0, 1.0, "Relative humidity, for power corrections only.")
        .or(0.5),
];

const FUEL: &[Key] = &[
    number("lambda", One, 0.6, 1.6, "Air-fuel ratio over the stoichiometric one.").or(0.9),
    number("evaporated_share", One, 0.0, 1.0, "Share of the fuel evaporated before the crankcase.")
        .or(1.0),
    number("latent_cooling", One, 0.0, 0.0, "Whether evaporation cools the entering mixture.")
        .kind(Kind::Flag)
        .or_flag(false),
];

const RUN: &[Key] =
    &[number("rpm", One, 0.0, 0.0, "Speeds to run at when the command line gives none.")
        .kind(Kind::Speeds)
        .or_text("4000:8000:1000")];

const fn section(path: &'static str, meaning: &'static str, keys: &'static [Key]) -> Section {
    Section { path, required: false, meaning, keys }
}

const fn needed(path: &'static str, meaning: &'static str, keys: &'static [Key]) -> Section {
    Section { path, required: true, meaning, keys }
}

/// Every table of an engine file.
pub const SECTIONS: &[Section] = &[
    needed("", "The engine.", TOP),
    needed("crank_train", "Crank, rod and bore.", CRANK_TRAIN),
    section("piston", "Piston.", PISTON),
    needed("stack", "Gaskets and spacers in the state to run.", STACK),
    needed("stack.measured", "The state in which deck and depths were measured.", MEASURED),
    needed("head", "Cylinder head.", HEAD),
    section("head.assembled", "Clearance volume buretted with everything assembled.", ASSEMBLED),
    section("head.squish_plane", "Bowl volume above the squish plane.", SQUISH_PLANE),
    section("head.joint_plane", "Head volume above its joint plane.", JOINT_PLANE),
    needed("exhaust", "Exhaust port and what lies behind.", EXHAUST),
    section("exhaust.discharge", "Discharge coefficient as a table.", DISCHARGE),
    needed("exhaust.window[]", "An exhaust window.", WINDOW),
    section("exhaust.window[].measured", "State in which its angle was read.", WINDOW_MEASURED),
    section("exhaust.silencer", "A volume behind the exhaust duct.", SILENCER),
    needed("transfer[]", "A transfer duct, or several alike.", TRANSFER),
    section("transfer[].discharge", "Discharge coefficient as a table.", DISCHARGE),
    needed("transfer[].window[]", "A transfer window.", WINDOW),
    section("transfer[].window[].measured", "State in which its angle was read.", WINDOW_MEASURED),
    needed("crankcase", "Crankcase.", CRANKCASE),
    needed("intake", "Exactly one of crank_web, disc_valve, piston_port.", &[]),
    section("intake.crank_web", "The crank web is the inlet valve.", ROTARY),
    section("intake.disc_valve", "A disc is the inlet valve.", ROTARY),
    section("intake.piston_port", "The piston skirt opens the inlet.", PISTON_PORT),
    section("intake.piston_port.window[]", "An inlet window.", WINDOW),
    section("intake.crank_web.discharge", "Discharge coefficient as a table.", DISCHARGE),
    section("intake.disc_valve.discharge", "Discharge coefficient as a table.", DISCHARGE),
    section("intake.piston_port.discharge", "Discharge coefficient as a table.", DISCHARGE),
    section("carburettor", "Carburettor.", CARBURETTOR),
    section("inlet_tract", "Tract from carburettor to port.", INLET_TRACT),
    section("combustion", "Burning.", COMBUSTION),
    section("heat", "Heat to the cylinder walls.", HEAT),
    section("friction", "Mechanical losses.", FRICTION),
    section("leaks", "Leaks.", LEAKS),
    section("scavenging", "Scavenging.", SCAVENGING),
    section("ambient", "Surroundings.", AMBIENT),
    section("fuel", "Fuel and mixture.", FUEL),
    section("run", "What to run.", RUN),
];

/// The table at a path, indices replaced by `[]`.
#[must_use]
pub fn section_at(path: &str) -> Option<&'static Section> {
    SECTIONS.iter().find(|s| s.path == path)
}

impl Section {
    /// The key called `name`.
    #[must_use]
    pub fn key(&self, name: &str) -> Option<&'static Key> {
        self.keys.iter().find(|k| k.name == name)
    }
}
