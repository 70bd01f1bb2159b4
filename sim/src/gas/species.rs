//! The constituents and their heat capacities.
//!
//! Seven-coefficient polynomials c_p/R = a₁ + a₂T + a₃T² + a₄T³ + a₅T⁴, h/R = ∫c_p/R dT + a₆, of the
//! NASA Glenn set (B. J. McBride, S. Gordon, M. A. Reno, *Coefficients for Calculating
//! Thermodynamic and Transport Properties of Individual Species*, NASA TM-4513, 1993), valid 200 to
//! 6000 K with a joint at 1000 K; enthalpies include formation at 298.15 K.

/// One ideal-gas species.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Species {
    /// Chemical formula or name.
    pub name: &'static str,
    /// Molar mass [kg/mol].
    pub molar_mass: f64,
    /// a₁ … a₆ below 1000 K.
    pub low: [f64; 6],
    /// a₁ … a₆ above 1000 K.
    pub high: [f64; 6],
}

macro_rules! species {
    ($name:ident, $label:literal, $mass:literal, [$($low:literal),*], [$($high:literal),*]) => {
        #[doc = concat!("Data of ", $label, ".")]
        pub const $name: Species = Species {
            name: $label,
            molar_mass: $mass * 1e-3,
            low: [$($low),*],
            high: [$($high),*],
        };
    };
}

species!(
    N2,
    "N2",
    28.014,
    [3.53100528, -0.000123660987, -5.02999437e-07, 2.43530612e-09, -1.40881235e-12, -1046.97628],
    [2.95257626, 0.00139690057, -4.92631691e-07, 7.86010367e-11, -4.60755321e-15, -923.948645]
);
species!(
    O2,
    "O2",
    31.998,
    [3.78245636, -0.00299673415, 9.847302e-06, -9.68129508e-09, 3.24372836e-12, -1063.94356],
    [3.66096083, 0.000656365523, -1.41149485e-07, 2.05797658e-11, -1.29913248e-15, -1215.97725]
);
species!(AR, "Ar", 39.95, [2.5, 0.0, 0.0, 0.0, 0.0, -745.375], [2.5, 0.0, 0.0, 0.0, 0.0, -745.375]);
species!(
    CO2,
    "CO2",
    44.009,
    [2.35677352, 0.00898459677, -7.12356269e-06, 2.45919022e-09, -1.43699548e-13, -48371.9697],
    [4.63659493, 0.00274131991, -9.95828531e-07, 1.60373011e-10, -9.16103468e-15, -49024.9341]
);
species!(
    H2O,
    "H2O",
    18.015,
    [4.19864056, -0.0020364341, 6.52040211e-06, -5.48797062e-09, 1.77197817e-12, -30293.7267],
    [2.67703787, 0.00297318329, -7.7376969e-07, 9.44336689e-11, -4.26900959e-15, -29885.8938]
);
species!(
    CO,
    "CO",
    28.01,
    [3.57953347, -0.00061035368, 1.01681433e-06, 9.07005884e-10, -9.04424499e-13, -14344.086],
    [3.04848583, 0.00135172818, -4.85794075e-07, 7.88536486e-11, -4.69807489e-15, -14266.1171]
);
species!(
    H2,
    "H2",
    2.016,
    [2.34433112, 0.00798052075, -1.9478151e-05, 2.01572094e-08, -7.37611761e-12, -917.935173],
    [2.93286579, 0.000826607967, -1.46402335e-07, 1.54100359e-11, -6.88804432e-16, -813.065597]
);
species!(
    ISO_OCTANE,
    "C8H18",
    114.232,
    [0.815737338, 0.0732643959, 1.78300688e-05, -6.9358962e-08, 3.21629382e-11, -30477.2862],
    [15.9899273, 0.055318479, -1.95267072e-05, 3.11779172e-09, -1.85312577e-13, -35875.7973]
);
