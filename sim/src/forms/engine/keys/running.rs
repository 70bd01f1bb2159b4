//! Mixture in, burning, heat, losses, surroundings, speeds.

use super::Unit::{Bar, Celsius, Degree, Millimetre as Mm, One, SquareMillimetre as Mm2};
use super::{Key, Kind, choice, flag, list, number, over_speed};

pub(super) const CARBURETTOR: &[Key] = &[
    number("bore_mm", Mm, 3.0, 100.0, "Bore at the venturi.").required().how("Caliper", 0.1),
    number("throttle", One, 0.001, 1.0, "Open share of the venturi's area.").or(1.0),
    number("discharge_coefficient", One, 0.1, 1.2, "Discharge coefficient.").or(0.85),
];

pub(super) const INLET_TRACT: &[Key] = &[
    number("length_mm", Mm, 1.0, 2000.0, "Length from venturi to port.")
        .required()
        .how("Bent wire", 3.0),
    number("diameter_mm", Mm, 3.0, 150.0, "Mean diameter."),
    number("area_mm2", Mm2, 5.0, 20_000.0, "Mean area, instead."),
    number("entry_loss", One, 0.0, 5.0, "Loss at the mouth for forward flow, velocity heads.")
        .or(0.0),
    number("friction_factor", One, 0.0, 0.1, "Fanning friction factor.").or(0.0),
    flag("inertive", "Whether the gas column's inertia is computed.").or_flag(true),
];

pub(super) const COMBUSTION: &[Key] = &[
    over_speed("start_deg_btdc", Degree, -60.0, 90.0, "Start of burning before top dead centre.")
        .or(10.0),
    over_speed("duration_deg", Degree, 5.0, 180.0, "Duration of burning.").or(50.0),
    number("form", One, 0.1, 6.0, "Wiebe exponent m.").or(2.0),
    number("completeness", One, 1.0, 12.0, "Wiebe a.").or(6.908),
    number("efficiency", One, 0.1, 1.0, "Share of the fresh charge that burns.").or(0.9),
];

pub(super) const HEAT: &[Key] = &[
    choice(
        "law",
        &["annand", "woschni", "adiabatic"],
        "Correlation for heat to the cylinder walls.",
    )
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

pub(super) const FRICTION: &[Key] = &[
    number("constant_bar", Bar, 0.0, 5.0, "Friction mean effective pressure at standstill.")
        .or(0.3),
    number("per_piston_speed_bar", Bar, 0.0, 0.5, "What each m/s of mean piston speed adds.")
        .or(0.03),
];

pub(super) const LEAKS: &[Key] = &[
    number("blow_by_mm2", Mm2, 0.0, 20.0, "Effective leak area past the rings.").or(0.0),
    number("crankcase_mm2", Mm2, 0.0, 50.0, "Effective leak area of the crankcase.").or(0.0),
];

pub(super) const SCAVENGING: &[Key] = &[
    choice(
        "law",
        &["perfect-mixing", "perfect-displacement", "two-part", "curve", "table"],
        "What leaves through the exhaust during scavenging.",
    )
    .or_else(
        "curve 1 - exp(-S - 0.3863 S^2), loop scavenging from memory; perfect-mixing in model 1",
    ),
    number("displaced", One, 0.0, 1.0, "Two-part: purity reached by displacement alone.").or(0.3),
    number(
        "short_circuit",
        One,
        0.0,
        0.9,
        "Two-part: share of the fresh inflow that goes straight out.",
    )
    .or(0.0),
    number(
        "zone_exchange",
        One,
        0.0,
        100.0,
        "Volume of old gas that the entering charge mixes with itself, over its own; model 2.",
    )
    .or(0.0),
    number("k0", One, -1.0, 1.0, "Curve: k0 of 1 - exp(k0 + k1 S + k2 S^2).").or(0.0),
    number("k1", One, -5.0, 0.0, "Curve: k1.").or(-1.0),
    number("k2", One, -5.0, 5.0, "Curve: k2.").or(0.0),
    list("ratio", One, 0.0, 20.0, "Table: scavenge ratios from 0 on, rising."),
    list("efficiency", One, 0.0, 1.0, "Table: scavenging efficiencies from 0 on, rising."),
];

pub(super) const AMBIENT: &[Key] = &[
    number("pressure_bar", Bar, 0.4, 1.2, "Ambient pressure.").or(1.013_25),
    number("temperature_c", Celsius, -40.0, 60.0, "Ambient temperature.").or(20.0),
    number("relative_humidity", One, 0.0, 1.0, "Relative humidity, for power corrections only.")
        .or(0.5),
];

pub(super) const FUEL: &[Key] = &[
    number("lambda", One, 0.6, 1.6, "Air-fuel ratio over the stoichiometric one.").or(0.9),
    number("evaporated_share", One, 0.0, 1.0, "Share of the fuel evaporated before the crankcase.")
        .or(1.0),
    flag("latent_cooling", "Whether evaporation cools the entering mixture.").or_flag(false),
];

pub(super) const RUN: &[Key] = &[
    Key::of("rpm", Kind::Speeds, "Speeds to run at when the command line gives none.")
        .or_text("4000:8000:1000"),
    number("cells_mm", Mm, 1.0, 50.0, "Size of the cells that pipes are cut into.").or(10.0),
];
