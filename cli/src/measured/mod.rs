//! Files of measurements of a running engine, loaded.

use std::path::Path;

pub(crate) use freshcharge_sim::forms::measured::{Measured, PressureTrace, Quantity, Series};
use freshcharge_sim::forms::measured::{how, read};
use freshcharge_sim::spec::EngineSpec;
use freshcharge_sim::studies::measured::together;
pub(crate) use freshcharge_sim::studies::measured::{Residual, power};
use freshcharge_sim::units::BAR;

use crate::files::{self, Failure};

/// Reads files of measurements of an engine, over speed or over the crank angle.
pub(crate) fn read_all<P: AsRef<Path>>(
    paths: &[P],
    engine: &EngineSpec,
) -> Result<Measured, Failure> {
    let mut all = Vec::new();
    for path in paths {
        let text = files::read_text(path.as_ref())?;
        let measured = read(&text, engine.ambient.pressure / BAR).map_err(|faults| {
            let report = crate::faults::report(path.as_ref(), &text, &faults);
            Failure::Faults(format!("{report}{}\n", how()))
        })?;
        all.push(measured);
    }
    Ok(together(all, engine))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all_of(text: &str) -> Result<Measured, String> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("dyno.csv");
        std::fs::write(&path, text).unwrap();
        let engine = include_str!("../../../scenarios/touring.toml");
        let engine = freshcharge_sim::scenario::read(engine).unwrap();
        read_all(&[&path], &engine.spec).map_err(|e| e.to_string())
    }

    fn of(text: &str) -> Result<Vec<Series>, String> {
        all_of(text).map(|m| m.series)
    }

    #[test]
    fn units_come_from_the_heads() {
        let all = of("# a day in May\nrpm,power_hp,fuel_kg_per_h\n6000,10,1.2\n5000,8,\n").unwrap();
        assert_eq!(all[0].points[0].0, 5000.0);
        assert!((all[0].points[1].1 - 7.456_998_7).abs() < 1e-9);
        assert_eq!(all[1].points, [(6000.0, 20.0)]);
        let torque = of("rpm,torque_nm\n6000,10\n").unwrap();
        assert!((power(&torque).unwrap()[0].1 - std::f64::consts::TAU).abs() < 1e-8);
        // fuel weighed: 30 g in two minutes
        let all = of("rpm,fuel_g,time_s\n5000,30,120\n").unwrap();
        assert_eq!(all, [Series { quantity: Quantity::Fuel, points: vec![(5000.0, 15.0)] }]);
        let all = of("rpm,compression_gauge_psi\n600,145.037738\n").unwrap();
        assert_eq!(all[0].quantity, Quantity::Gauge);
        assert!((all[0].points[0].1 - 10.0).abs() < 1e-6, "{all:?}");
        // a spreadsheet of another country
        let all = of("rpm;power_kw\n6000;10.5\n").unwrap();
        assert_eq!(all[0].points, [(6000.0, 10.5)]);
    }

    #[test]
    fn what_cannot_be_read_is_said_with_its_line() {
        for (text, words) in [
            ("power_kw\n2\n", "no column of speed"),
            ("rpm,power\n6000,5\n", "did you mean power_kw or power_hp"),
            ("rpm;power_kw\n6000;5,5\n", "has a decimal comma; write 5.5"),
            ("rpm,power_kw\n6000,five\n", ":2:6: \u{1b}[1mpower_kw = five\u{1b}[0m: is no number"),
            ("rpm,power_kw\n60,5\n", "60 is no speed"),
            ("rpm,power_kw\n", "no points"),
            ("rpm\n6000\n", "nothing is measured over speed"),
            ("rpm,fuel_g\n6000,20\n", "needs the time it took beside it, time_s"),
            ("rpm,fuel_g,time_s\n6000,20,\n", "fuel was weighed, but the time is missing"),
            ("rpm,cylinder_pressure_bar\n6000,2\n", "need their angles beside them, angle_deg"),
            ("rpm,angle_deg,cylinder_pressure\n6000,2,2\n", "did you mean cylinder_pressure_"),
        ] {
            let said = of(text).unwrap_err();
            assert!(said.contains(words), "{said}");
        }
    }

    #[test]
    fn traces_are_read_in_any_turn_and_unit_and_refused_with_their_line() {
        let rows = |pressure: fn(f64) -> f64| -> String {
            let row = |i: u32| {
                let angle = f64::from(i) * 10.0 - 180.0;
                format!("6000,{angle},{}\n", pressure(angle))
            };
            (0..36).map(row).collect()
        };
        let bar = |angle: f64| 1.2 + 0.1 * angle.to_radians().cos();
        let text = format!("rpm,angle_deg,crankcase_pressure_bar\n{}", rows(bar));
        let all = all_of(&text).unwrap();
        let trace = &all.traces[0];
        assert_eq!((trace.rpm, trace.points.len()), (6000.0, 36));
        assert!(trace.points.windows(2).all(|w| w[0].0 < w[1].0));
        assert!((trace.at(450.0).unwrap() - bar(90.0)).abs() < 1e-3);
        // the same over ambient in another unit
        let psi = |angle: f64| (1.2 + 0.1 * angle.to_radians().cos() - 1.01325) * 14.503_773_8;
        let text = format!("rpm,angle_deg,crankcase_pressure_psi_gauge\n{}", rows(psi));
        let other = &all_of(&text).unwrap().traces[0];
        for (a, b) in trace.points.iter().zip(&other.points) {
            assert!((a.1 - b.1).abs() < 1e-6, "{a:?} {b:?}");
        }
        // what stands at the events comes of itself
        let at = |q| all.series.iter().find(|s| s.quantity == q).map(|s| s.points[0].1);
        assert!(at(Quantity::CylinderAtTransfer).is_none());
        let opens = at(Quantity::CrankcaseAtTransfer).unwrap();
        assert!((opens - bar(121.0)).abs() < 2e-3, "{opens}");
        let few = "rpm,angle_deg,crankcase_pressure_bar\n6000,1,1.2\n6000,2,1.2\n";
        let mut many = "rpm,angle_deg,crankcase_pressure_bar\n".to_owned();
        (0..300).for_each(|i| many += &format!("{},{i},1.2\n", 6000 + i));
        let high = format!("rpm,angle_deg,crankcase_pressure_bar\n{}6000,181,900\n", rows(bar));
        for (text, words) in [
            (few, "2 points at 6000/min are no trace"),
            (many.as_str(), "more than 12 speeds"),
            (high.as_str(), ":38:10: "),
        ] {
            let said = all_of(text).unwrap_err();
            assert!(said.contains(words), "{said}");
        }
    }
}
