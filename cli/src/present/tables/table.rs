//! The table of a run.

use comfy_table::{Cell, CellAlignment, ContentArrangement, Table, presets};

use freshcharge_sim::studies::run::Run;

/// Column heads: two lines each.
const HEADS: &[&str] = &[
    "speed\n1/min",
    "power\nkW",
    "torq.\nN·m",
    "deliv\nratio",
    "trap.\neff.",
    "charg\neff.",
    "p(EO)\nbar",
    "p(TO)\nbar",
    "pc(TO)\nbar",
    "back\nmg",
    "late\ndeg",
    "pene-\ntr.",
    "sett-\nled",
];

const LEGEND: &str = "\
EO, TO: exhaust and first transfer opening; p cylinder, pc crankcase, absolute;
back: hot backflow; late: from TO until the cylinder falls below the crankcase;
penetr.: duct volumes filled from the cylinder; settled: cycles it took.
";

/// Table with one row a speed.
pub(crate) fn run(run: &Run) -> String {
    let mut table = Table::new();
    table
        .load_style(presets::NOTHING)
        .set_content_arrangement(ContentArrangement::Disabled)
        .set_header(HEADS.iter().map(|h| Cell::new(h).set_alignment(CellAlignment::Right)));
    for row in &run.rows {
        let cells = match row.point() {
            None => {
                let mut cells = vec![format!("{:.0}", row.rpm)];
                cells.resize(HEADS.len() - 1, "–".to_owned());
                cells.push("failed".to_owned());
                cells
            }
            Some(p) => {
                let s = &p.summary;
                let late =
                    s.late_angle.map_or("–".to_owned(), |a| format!("{:.1}", a.to_degrees()));
                let cycles = p.verdict.cycles();
                let verdict = match (&p.standstill, p.verdict.turns()) {
                    (Some(_), _) => "stops".to_owned(),
                    (None, Some(1)) => format!("{cycles}"),
                    (None, Some(turns)) => format!("{cycles}/{turns}"),
                    (None, None) => "no".to_owned(),
                };
                vec![
                    format!("{:.0}", p.rpm),
                    format!("{:.2}", s.power / 1e3),
                    format!("{:.2}", s.torque),
                    format!("{:.3}", s.delivery_ratio),
                    s.trapping_efficiency.map_or("–".to_owned(), |t| format!("{t:.3}")),
                    format!("{:.3}", s.charging_efficiency),
                    format!("{:.2}", s.cylinder_pressure_eo / 1e5),
                    format!("{:.3}", s.cylinder_pressure_to / 1e5),
                    format!("{:.3}", s.crankcase_pressure_to / 1e5),
                    format!("{:.3}", s.hot_backflow_mass * 1e6),
                    late,
                    format!("{:.2}", s.hot_backflow_penetration),
                    verdict,
                ]
            }
        };
        table.add_row(cells.into_iter().map(|c| Cell::new(c).set_alignment(CellAlignment::Right)));
    }
    for column in table.column_iter_mut() {
        column.set_padding((0, 1));
    }
    format!("{}\n\n{table}\n{LEGEND}", run.scenario.spec.name)
}
