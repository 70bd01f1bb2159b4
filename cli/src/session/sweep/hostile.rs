//! Damaged plans and results.

use crate::hostile::{scenario, survives};
use crate::sweep::{ResultsFile, sweep_file};

#[test]
fn plans() {
    for name in ["deck-height.toml", "tolerances.toml"] {
        let good = scenario(name);
        survives("plan.toml", &good, |path| sweep_file::read(path, &[], None));
    }
}

/// A results file of forty rows.
fn forty_rows() -> String {
    let head =
        "# freshcharge sweep results 1\n# about = {\"cases\":3,\"objectives\":[]}\n# shard = 1/1\n";
    let rows: String = (0..40)
        .map(|case| {
            let row = format!("{case},settled,6000,{}", 4.0 + 0.1 * f64::from(case));
            format!("{row},{:08x}\n", crc32fast::hash(row.as_bytes()))
        })
        .collect();
    format!("{head}case,outcome,rpm,power_kw,check\n{rows}")
}

#[test]
fn results_saved_with_other_line_ends_are_read_whole() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("results.csv");
    std::fs::write(&path, forty_rows().replace('\n', "\r\n")).unwrap();
    let mut table = ResultsFile::open(&path).unwrap();
    assert_eq!(table.header.columns.last().unwrap(), "check");
    let mut rows = 0;
    while let Some(row) = table.next().unwrap() {
        assert_eq!(row.number(2), Some(6000.0));
        rows += 1;
    }
    assert_eq!((rows, table.damaged), (40, 0));
}

#[test]
fn results() {
    let good = forty_rows();
    survives("results.csv", &good, |path| {
        let mut table = ResultsFile::open(path)?;
        let mut sum = 0.0;
        while let Some(row) = table.next()? {
            sum += row.number(3).unwrap_or(0.0);
            sum += f64::from(u8::from(table.outcome(&row).is_some()));
        }
        Ok(sum)
    });
}
