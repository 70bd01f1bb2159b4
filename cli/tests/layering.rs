//! The floors of the command line, executed: a module uses modules of its own floor and of lower ones only.
//!
//! What is read or seen knows nobody; the session, which surrounds the work of a command, knows what is
//! read or seen; commands know both.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

const FLOORS: &[&[&str]] = &[&["present"], &["session"], &["args"], &["commands"]];

/// The start of the program and what holds readers against damaged files stand above all floors.
const ABOVE: &[&str] = &["main", "hostile"];

fn floor(module: &str) -> Option<usize> {
    FLOORS.iter().position(|floor| floor.contains(&module))
}

fn sources(folder: &std::path::Path, found: &mut Vec<std::path::PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

#[test]
fn modules_know_only_their_own_floor_and_lower_ones() {
    let root = std::path::Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/src"));
    let mut files = Vec::new();
    sources(root, &mut files);
    assert!(files.len() > 60);
    let mut upward = Vec::new();
    for file in files {
        let inside = file.strip_prefix(root).unwrap();
        let module = inside.iter().next().unwrap().to_str().unwrap().trim_end_matches(".rs");
        if ABOVE.contains(&module) {
            continue;
        }
        let own = floor(module).unwrap_or_else(|| panic!("{module} stands on no floor"));
        for line in std::fs::read_to_string(&file).unwrap().lines() {
            for used in line.split("crate::").skip(1) {
                let letters = used.chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '_');
                let name: String = letters.collect();
                if floor(&name).is_some_and(|other| other > own) {
                    upward.push(format!("{} uses {name}", inside.display()));
                }
            }
        }
    }
    assert!(upward.is_empty(), "{}", upward.join("\n"));
}
