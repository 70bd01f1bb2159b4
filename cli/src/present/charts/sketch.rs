//! Results over speed as letters, for a terminal far from any screen.

use std::fmt::Write as _;

use freshcharge_sim::result::{COLUMNS, Point};

use freshcharge_sim::studies::run::Run;

/// Height of a sketch [lines].
const HEIGHT: usize = 10;
/// Width between the axis and the right edge [columns].
const WIDTH: usize = 64;

/// A sketch: title, and each curve's result with its letter.
type Plan = (&'static str, &'static [(&'static str, char, &'static str)]);

const PLANS: &[Plan] = &[
    (
        "delivery and charging [–]",
        &[("delivery_ratio", 'd', "delivery"), ("charging_efficiency", 'c', "charging")],
    ),
    (
        "pressures at transfer opening [bar]",
        &[
            ("cylinder_pressure_at_transfer_opening_bar", 'o', "cylinder"),
            ("crankcase_pressure_at_transfer_opening_bar", 'x', "crankcase"),
        ],
    ),
    ("torque [N·m]", &[("torque_nm", '*', "torque")]),
];

/// All sketches of a run; words instead where there is nothing to sketch.
pub(crate) fn run(run: &Run) -> String {
    let points: Vec<&Point> = run.rows.iter().filter_map(|r| r.point()).collect();
    if points.len() < 2 {
        return "\nA sketch needs at least two speeds.\n".to_owned();
    }
    let mut out = String::new();
    for (title, curves) in PLANS {
        let values = |key: &str| -> Vec<f64> {
            let column = COLUMNS.iter().find(|c| c.key == key);
            let value = |p: &&Point| column.and_then(|c| (c.value)(p)).unwrap_or(f64::NAN);
            points.iter().map(value).collect()
        };
        let all: Vec<_> = curves.iter().map(|(key, mark, _)| (*mark, values(key))).collect();
        let names: Vec<_> =
            curves.iter().map(|(_, mark, words)| format!("{mark} {words}")).collect();
        let _ = writeln!(out, "\n{title}: {}", names.join(", "));
        let speeds: Vec<f64> = points.iter().map(|p| p.rpm).collect();
        sketch(&speeds, &all, &mut out);
    }
    out
}

fn sketch(x: &[f64], curves: &[(char, Vec<f64>)], out: &mut String) {
    let finite = || curves.iter().flat_map(|(_, v)| v).copied().filter(|v| v.is_finite());
    let (low, high) =
        finite().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    let span = if high > low { high - low } else { 1.0 };
    let width = x[x.len() - 1] - x[0];
    let mut field = vec![vec![' '; WIDTH]; HEIGHT];
    for (mark, values) in curves {
        for (place, value) in x.iter().zip(values).filter(|(_, v)| v.is_finite()) {
            let column = ((place - x[0]) / width * (WIDTH - 1) as f64).round() as usize;
            let row = ((high - value) / span * (HEIGHT - 1) as f64).round() as usize;
            field[row.min(HEIGHT - 1)][column.min(WIDTH - 1)] = *mark;
        }
    }
    for (row, letters) in field.iter().enumerate() {
        let value = high - span * row as f64 / (HEIGHT - 1) as f64;
        let words: String = letters.iter().collect();
        let label = if row % 3 == 0 { format!("{value:8.3}") } else { " ".repeat(8) };
        let _ = writeln!(out, "{label} |{}", words.trim_end());
    }
    let _ = writeln!(out, "{:8} +{}", "", "-".repeat(WIDTH));
    let right = format!("{:.0}", x[x.len() - 1]);
    let _ =
        writeln!(out, "{:10}{:<w$}{right}", "", format!("{:.0}", x[0]), w = WIDTH - right.len());
}
