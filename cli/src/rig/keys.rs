//! Every key of a rig file.

use freshcharge_sim::scenario::keys::Unit;

/// What a key holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Kind {
    /// A number between two limits; the symbol is its unit, the factor leads to SI.
    Number { unit: Unit, symbol: &'static str, factor: f64, low: f64, high: f64 },
    /// A list of such numbers.
    Numbers { symbol: &'static str, factor: f64, low: f64, high: f64 },
    /// Pairs of time [ms] and open share.
    Schedule,
    /// Words.
    Text,
    /// One of these words.
    Choice(&'static [&'static str]),
    /// True or false.
    Flag,
    /// Tables of this name.
    Tables(&'static [Key]),
}

/// One key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Key {
    pub(super) name: &'static str,
    pub(super) kind: Kind,
    pub(super) meaning: &'static str,
}

const fn key(name: &'static str, kind: Kind, meaning: &'static str) -> Key {
    Key { name, kind, meaning }
}

const fn number(unit: Unit, symbol: &'static str, factor: f64, low: f64, high: f64) -> Kind {
    Kind::Number { unit, symbol, factor, low, high }
}

const fn mm(low: f64, high: f64) -> Kind {
    number(Unit::Millimetre, "mm", 1e-3, low, high)
}

const fn plain(low: f64, high: f64) -> Kind {
    number(Unit::One, "", 1.0, low, high)
}

const BAR: Kind = number(Unit::Bar, "bar", 1e5, 1e-4, 1000.0);
const CELSIUS: Kind = number(Unit::Celsius, "°C", 1.0, -150.0, 3500.0);
const AREA: Kind = number(Unit::SquareMillimetre, "mm²", 1e-6, 1e-3, 1e6);

const PRESSURE: Key = key("pressure_bar", BAR, "absolute pressure at the start");
const TEMPERATURE: Key = key("temperature_c", CELSIUS, "temperature at the start");
const BURNED: Key = key("burned", plain(0.0, 1.0), "burned fraction");
const VELOCITY: Key = key(
    "velocity_m_per_s",
    number(Unit::One, "m/s", 1.0, -3000.0, 3000.0),
    "velocity along the pipe at the start",
);
const NAME: Key = key("name", Kind::Text, "a name of its own");
const FROM: Key = key("from_mm", mm(0.0, 1e6), "where it begins");
const TO: Key = key("to_mm", mm(0.0, 1e6), "where it ends");

const RESERVOIR: &[Key] = &[NAME, PRESSURE, TEMPERATURE, BURNED];

const VOLUME: Key =
    key("volume_cm3", number(Unit::CubicCentimetre, "cm³", 1e-6, 1e-3, 1e9), "its volume");
const VESSEL: &[Key] = &[NAME, VOLUME, PRESSURE, TEMPERATURE, BURNED];

const SECTION: &[Key] = &[
    key("length_mm", mm(0.01, 1e6), "its length"),
    key("diameter_mm", mm(0.1, 1e5), "its bore, or the bore where a cone begins"),
    key("diameter_to_mm", mm(0.1, 1e5), "the bore where a cone ends"),
    key("friction", Kind::Choice(&["none", "smooth"]), "law of friction"),
    key("roughness", plain(0.0, 20.0), "multiplies the friction of smooth pipes"),
    key("friction_factor", plain(0.0, 1.0), "a Fanning factor that does not change, instead"),
    key("wall_temperature_c", CELSIUS, "wall temperature; no heat flows where it is left out"),
    key(
        "heat_w_per_m2",
        number(Unit::One, "W/m²", 1.0, -1e8, 1e8),
        "heat into the gas through the wall, instead",
    ),
];

const FILL: &[Key] = &[FROM, TO, PRESSURE, TEMPERATURE, VELOCITY, BURNED];

const PULSE: &[Key] = &[
    FROM,
    TO,
    key("peak_bar", BAR, "absolute pressure at its crest"),
    key("direction", Kind::Choice(&["along", "against"]), "which way it runs"),
];

const PIPE: &[Key] = &[
    NAME,
    key("cell_mm", mm(0.01, 1e4), "cell size"),
    key("start", Kind::Text, "what stands at its start"),
    key("finish", Kind::Text, "what stands at its far end"),
    key("start_area_mm2", AREA, "C_d·A of the opening at the start"),
    key("finish_area_mm2", AREA, "C_d·A of the opening at the far end"),
    key("start_opening", Kind::Schedule, "how far the start is open over time"),
    key("finish_opening", Kind::Schedule, "how far the far end is open over time"),
    key("start_end_correction", Kind::Flag, "whether the open start acts longer than it is"),
    key("finish_end_correction", Kind::Flag, "whether the open far end acts longer than it is"),
    PRESSURE,
    TEMPERATURE,
    VELOCITY,
    BURNED,
    key("section", Kind::Tables(SECTION), "its pieces, in order"),
    key("fill", Kind::Tables(FILL), "parts that hold other gas at the start"),
    key("pulse", Kind::Tables(PULSE), "waves that run in it at the start"),
];

const ORIFICE: &[Key] = &[
    key("from", Kind::Text, "a vessel, junction or reservoir"),
    key("to", Kind::Text, "another"),
    key("area_mm2", AREA, "its C_d·A"),
    key("opening", Kind::Schedule, "how far it is open over time"),
];

const STATION: &[Key] = &[
    NAME,
    key("pipe", Kind::Text, "the pipe it sits on"),
    key("at_mm", mm(0.0, 1e6), "its place along the pipe"),
];

const TIMES: Kind = Kind::Numbers { symbol: "ms", factor: 1e-3, low: 0.0, high: 1e5 };

/// Keys of the file itself.
pub(super) const TOP: &[Key] = &[
    key("name", Kind::Text, "the rig's name"),
    key("gas", Kind::Choice(&["mixtures", "perfect"]), "which gas"),
    key("lambda", plain(0.5, 3.0), "air over stoichiometric air of the fresh charge"),
    key("gamma", plain(1.01, 2.0), "ratio of heat capacities of the perfect gas"),
    key("gas_constant", plain(0.1, 10_000.0), "R of the perfect gas in J/(kg K)"),
    key("end_ms", number(Unit::One, "ms", 1e-3, 1e-6, 1e5), "how long it runs"),
    key("cell_mm", mm(0.01, 1e4), "cell size of all pipes"),
    key("courant", plain(0.01, 0.9), "share of a cell that a signal may cross in a step"),
    key("profiles_ms", TIMES, "times of the profiles"),
    key("samples", plain(10.0, 100_000.0), "samples of the histories"),
    key("map_rows", plain(10.0, 5000.0), "rows of the maps of place and time"),
    key("reservoir", Kind::Tables(RESERVOIR), "surroundings that nothing changes"),
    key("vessel", Kind::Tables(VESSEL), "volumes"),
    key("junction", Kind::Tables(VESSEL), "small volumes that join pipes"),
    key("pipe", Kind::Tables(PIPE), "pipes"),
    key("orifice", Kind::Tables(ORIFICE), "openings between volumes"),
    key("station", Kind::Tables(STATION), "places whose histories are written"),
];
