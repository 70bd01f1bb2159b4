//! Every key of a rig file.

use super::super::keys::Unit::{
    Bar, Celsius, CubicCentimetre as Cm3, MetrePerSecond, Millimetre as Mm, Millisecond, One,
    SquareMillimetre as Mm2, WattPerSquareMetre,
};
use super::super::keys::{
    Either, Form, Key, Section, choice, count, flag, list, number, schedule, text,
};

const PRESSURE: Key =
    number("pressure_bar", Bar, 1e-4, 1000.0, "absolute pressure at the start").or(1.013_25);
const TEMPERATURE: Key =
    number("temperature_c", Celsius, -150.0, 3500.0, "temperature at the start").or(20.0);
const BURNED: Key = number("burned", One, 0.0, 1.0, "burned fraction").or(0.0);
const VELOCITY: Key = number(
    "velocity_m_per_s",
    MetrePerSecond,
    -3000.0,
    3000.0,
    "velocity along the pipe at the start",
)
.or(0.0);
const NAME: Key = text("name", "a name of its own").required();
const FROM: Key = number("from_mm", Mm, 0.0, 1e6, "where it begins");
const TO: Key = number("to_mm", Mm, 0.0, 1e6, "where it ends");

/// Gas in part of a pipe, in which the pipe's own stands for what is not given.
const fn own(key: Key) -> Key {
    key.or_else("as in the rest of the pipe")
}

const RESERVOIR: &[Key] = &[NAME, PRESSURE, TEMPERATURE, BURNED];
const VOLUME: Key = number("volume_cm3", Cm3, 1e-3, 1e9, "its volume");
const VESSEL: &[Key] = &[NAME, VOLUME.required(), PRESSURE, TEMPERATURE, BURNED];
const JUNCTION: &[Key] = &[
    NAME,
    VOLUME.or_else("about one cell of the widest pipe that ends in it"),
    PRESSURE,
    TEMPERATURE,
    BURNED,
];

const SECTION: &[Key] = &[
    number("length_mm", Mm, 0.01, 1e6, "its length").required(),
    number("diameter_mm", Mm, 0.1, 1e5, "its bore, or the bore where a cone begins").required(),
    number("diameter_to_mm", Mm, 0.1, 1e5, "the bore where a cone ends").or_else("no cone"),
    choice("friction", &["none", "smooth"], "law of friction").or_text("smooth"),
    number("roughness", One, 0.0, 20.0, "multiplies the friction of smooth pipes").or(1.0),
    number("friction_factor", One, 0.0, 1.0, "a Fanning factor that does not change, instead"),
    number(
        "wall_temperature_c",
        Celsius,
        -150.0,
        3500.0,
        "wall temperature; no heat flows where it is left out",
    ),
    number(
        "heat_w_per_m2",
        WattPerSquareMetre,
        -1e8,
        1e8,
        "heat into the gas through the wall, instead",
    ),
];
const WALL: &[Either] = &[
    Either { names: &["friction", "friction_factor"], required: false, exclusive: true },
    Either { names: &["roughness", "friction_factor"], required: false, exclusive: true },
    Either { names: &["wall_temperature_c", "heat_w_per_m2"], required: false, exclusive: true },
];

const FILL: &[Key] = &[FROM, TO, own(PRESSURE), own(TEMPERATURE), own(VELOCITY), own(BURNED)];

const PULSE: &[Key] = &[
    FROM,
    TO,
    number("peak_bar", Bar, 1e-4, 1000.0, "absolute pressure at its crest").required(),
    choice("direction", &["along", "against"], "which way it runs").or_text("along"),
];

const fn area(name: &'static str, meaning: &'static str) -> Key {
    number(name, Mm2, 1e-3, 1e6, meaning)
}

const CELL: Key = number("cell_mm", Mm, 0.01, 1e4, "cell size");
const PIPE: &[Key] = &[
    NAME,
    CELL.or_else("that of the file"),
    text("start", "what stands at its start").required(),
    text("finish", "what stands at its far end").required(),
    area("start_area_mm2", "C_d·A of the opening at the start").or_else("unthrottled"),
    area("finish_area_mm2", "C_d·A of the opening at the far end").or_else("unthrottled"),
    schedule("start_opening", "how far the start is open over time").or_else("always open"),
    schedule("finish_opening", "how far the far end is open over time").or_else("always open"),
    flag("start_end_correction", "whether the open start acts longer than it is").or_flag(false),
    flag("finish_end_correction", "whether the open far end acts longer than it is").or_flag(false),
    PRESSURE,
    TEMPERATURE,
    VELOCITY,
    BURNED,
];

const ORIFICE: &[Key] = &[
    text("from", "a vessel, junction or reservoir").required(),
    text("to", "another").required(),
    area("area_mm2", "its C_d·A").required(),
    schedule("opening", "how far it is open over time").or_else("always open"),
];

const STATION: &[Key] = &[
    text("name", "a name of its own").or_else("the pipe's name and the place"),
    text("pipe", "the pipe it sits on").required(),
    number("at_mm", Mm, 0.0, 1e6, "its place along the pipe").required(),
];

const TOP: &[Key] = &[
    text("name", "the rig's name").required(),
    choice("gas", &["mixtures", "perfect"], "which gas").or_text("mixtures"),
    number("lambda", One, 0.5, 3.0, "air over stoichiometric air of the fresh charge").or(0.9),
    number("gamma", One, 1.01, 2.0, "ratio of heat capacities of the perfect gas").or(1.4),
    number("gas_constant", One, 0.1, 10_000.0, "R of the perfect gas in J/(kg K)").or(287.0),
    number("end_ms", Millisecond, 1e-6, 1e5, "how long it runs").required(),
    CELL.or(10.0),
    number("courant", One, 0.01, 0.9, "share of a cell that a signal may cross in a step").or(0.5),
    list("profiles_ms", Millisecond, 0.0, 1e5, "times of the profiles").or_else("the end"),
    count("samples", 10.0, 100_000.0, "samples of the histories").or(1000.0),
    count("map_rows", 10.0, 5000.0, "rows of the maps of place and time").or(200.0),
];

const fn table(path: &'static str, meaning: &'static str, keys: &'static [Key]) -> Section {
    Section::of(path, meaning, keys).optional()
}

/// Every table of a rig file.
pub(super) const FORM: &Form = &Form {
    name: "rig file",
    tolerances: false,
    sections: &[
        table("", "The rig.", TOP).required(),
        table("reservoir[]", "Surroundings that nothing changes.", RESERVOIR),
        table("vessel[]", "A volume.", VESSEL),
        table("junction[]", "A small volume that joins pipes.", JUNCTION),
        table("pipe[]", "A pipe.", PIPE),
        table("pipe[].section[]", "A piece of the pipe, in order.", SECTION)
            .required()
            .either(WALL)
            .at_most(1000),
        table("pipe[].fill[]", "A part that holds other gas at the start.", FILL),
        table("pipe[].pulse[]", "A wave that runs in it at the start.", PULSE),
        table("orifice[]", "An opening between volumes.", ORIFICE),
        table("station[]", "A place whose history is written.", STATION),
    ],
};
