//! Whatever a file holds, its reader answers: with what it means, or with what is wrong and what to write instead.

use std::path::{Path, PathBuf};

use freshcharge_validation::hostile::{bytes, mutated};
use freshcharge_validation::random::Draws;

use crate::files::Failure;

/// Files tried on each reader, besides a tenth of random bytes.
const TRIES: usize = 400;

/// A repository file's text.
pub(crate) fn scenario(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios").join(name);
    std::fs::read_to_string(path).unwrap()
}

/// Gives `read` many damaged copies of a good file, under a name beside an engine file. Counts what was read
/// and what was refused; both must happen, or the damage is too small or too large to tell anything.
pub(crate) fn survives<T>(name: &str, good: &str, read: impl Fn(&Path) -> Result<T, Failure>) {
    let folder = tempfile::tempdir().unwrap();
    let path: PathBuf = folder.path().join(name);
    std::fs::write(folder.path().join("touring.toml"), scenario("touring.toml")).unwrap();
    let mut draws = Draws::new(7);
    let (mut taken, mut refused) = (0, 0);
    for index in 0..TRIES + TRIES / 10 {
        let text = if index < TRIES { mutated(good, &mut draws) } else { bytes(&mut draws) };
        std::fs::write(&path, &text).unwrap();
        match read(&path) {
            Ok(_) => taken += 1,
            Err(failure) => {
                let said = failure.to_string();
                let named = said.contains(name) || said.starts_with("cannot read ");
                assert!(named && !said.contains('\0'), "{said:?}");
                refused += 1;
            }
        }
    }
    println!("{name}: {taken} read, {refused} refused");
    assert!(taken > TRIES / 50 && refused > TRIES / 50, "{taken} read, {refused} refused");
    std::fs::write(&path, good).unwrap();
    assert!(read(&path).is_ok(), "the good file itself");
}

#[test]
fn measurements() {
    let engine = freshcharge_sim::scenario::read(&scenario("touring.toml")).unwrap().spec;
    let over_speed =
        "# a run in May\nrpm,power_kw,fuel_kg_per_h\n5000,4.1,1.5\n6000,5.2,\n7000,5.9,2.1\n";
    let mut over_angle = "rpm,angle_deg,cylinder_pressure_bar\n".to_owned();
    for angle in 80..140 {
        over_angle += &format!("6000,{angle},{}\n", 4.0 - 0.02 * f64::from(angle));
    }
    for good in [over_speed, &over_angle] {
        survives("dyno.csv", good, |path| crate::measured::read_all(&[path], &engine));
    }
}

#[test]
fn templates() {
    use crate::writeup::template::{SHIPPED, Template};
    use freshcharge_sim::forms::template::TemplateFile;
    let shipped = TemplateFile::read(SHIPPED).unwrap();
    let sections: Vec<&str> = shipped.parts.iter().filter_map(|p| p.show.as_deref()).collect();
    survives("report.toml", SHIPPED, |path| {
        let template = Template::load(Some(path))?;
        template.check(&sections, &["engine", "use"])
    });
}

#[test]
fn rigs() {
    for name in ["branched", "resonator", "shock-tube", "vessel-into-pipe"] {
        survives("rig.toml", &scenario(&format!("rigs/{name}.toml")), |path| {
            let text = crate::files::read_text(path)?;
            freshcharge_sim::forms::rig::read(&text)
                .map_err(|faults| Failure::Faults(crate::faults::report(path, &text, &faults)))
        });
    }
}

#[test]
fn engines() {
    for name in ["touring.toml", "tuned-pipe.toml", "utility.toml"] {
        survives("engine.toml", &scenario(name), crate::session::engine::load);
    }
}

#[test]
fn limits() {
    let good = include_str!("../data/limits.toml");
    survives("limits.toml", good, |path| {
        crate::limits::load(Some(path), crate::args::Use::Touring)
    });
}

/// What stands behind flags: speeds, quantities with units, timings.
#[test]
fn arguments() {
    use freshcharge_sim::scenario::{keys::Unit, parse_quantity, parse_speeds};
    let mut draws = Draws::new(11);
    let mut taken = [0; 2];
    for index in 0..4000 {
        let good = ["3000:9000:500", "30.0 ± 0.1 mm", "1.57 in", "6000,8000", "-0.4"][index % 5];
        let bytes = if index % 4 == 0 { bytes(&mut draws) } else { mutated(good, &mut draws) };
        let text = String::from_utf8_lossy(&bytes);
        if let Ok(speeds) = parse_speeds(&text) {
            assert!(speeds.iter().all(|s| s.is_finite() && *s > 0.0) && speeds.len() <= 10_000);
            taken[0] += 1;
        }
        taken[1] += usize::from(parse_quantity(&text, Unit::Millimetre).is_ok());
    }
    assert!(taken.iter().all(|n| *n > 100), "{taken:?}");
}
