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
                assert!(said.len() > 10 && !said.contains('\0'), "{said:?}");
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
    let good =
        "# a run in May\nrpm,power_kw,fuel_kg_per_h\n5000,4.1,1.5\n6000,5.2,\n7000,5.9,2.1\n";
    survives("dyno.csv", good, crate::measured::read);
}

#[test]
fn rigs() {
    for name in ["branched", "resonator", "shock-tube", "vessel-into-pipe"] {
        survives("rig.toml", &scenario(&format!("rigs/{name}.toml")), |path| {
            let text = crate::files::read_text(path)?;
            crate::rig::read(&text)
                .map_err(|faults| Failure::Faults(crate::faults::report(path, &text, &faults)))
        });
    }
}

#[test]
fn engines() {
    for name in ["touring.toml", "tuned-pipe.toml", "utility.toml"] {
        survives("engine.toml", &scenario(name), crate::command::load);
    }
}
