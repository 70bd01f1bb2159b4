//! Dormand–Prince 5(4) as data.
//!
//! J. R. Dormand and P. J. Prince, *A family of embedded Runge–Kutta formulae*, J. Comput. Appl.
//! Math. 6 (1980) 19–26; dense output after E. Hairer, S. P. Nørsett and G. Wanner, *Solving
//! Ordinary Differential Equations I*, 2nd ed. (1993), sec. II.6.

/// Stages, the last being the first of the next step.
pub const STAGES: usize = 7;
/// Declared order of the solution that is carried on.
pub const ORDER: f64 = 5.0;

/// Nodes c.
pub const NODES: [f64; STAGES] = [0.0, 0.2, 0.3, 0.8, 8.0 / 9.0, 1.0, 1.0];

/// Lower triangle a, row by row; the last row is b, the fifth-order weights.
pub const WEIGHTS: [[f64; 6]; STAGES] = [
    [0.0; 6],
    [0.2, 0.0, 0.0, 0.0, 0.0, 0.0],
    [3.0 / 40.0, 9.0 / 40.0, 0.0, 0.0, 0.0, 0.0],
    [44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0, 0.0, 0.0, 0.0],
    [19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0, 0.0, 0.0],
    [9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0, 0.0],
    [35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0],
];

/// Fifth-order less fourth-order weights.
pub const ERROR: [f64; STAGES] = [
    71.0 / 57600.0,
    0.0,
    -71.0 / 16695.0,
    71.0 / 1920.0,
    -17253.0 / 339_200.0,
    22.0 / 525.0,
    -1.0 / 40.0,
];

/// Dense output: weights of the fourth-degree correction.
pub const DENSE: [f64; STAGES] = [
    -12_715_105_075.0 / 11_282_082_432.0,
    0.0,
    87_487_479_700.0 / 32_700_410_799.0,
    -10_690_763_975.0 / 1_880_347_072.0,
    701_980_252_875.0 / 199_316_789_632.0,
    -1_453_857_185.0 / 822_651_844.0,
    69_997_945.0 / 29_380_423.0,
];
