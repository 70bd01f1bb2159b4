//! The layers of the library, executed: a module may use modules of lower rank only.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

const LAYERS: &[&[&str]] = &[
    &["units", "lane", "math", "portable"],
    &["crank", "gas", "ode", "flow"],
    &["column"],
    &["spec", "result"],
    &["window", "engine"],
    &["geometry", "network", "pipe"],
    &["model"],
    &["forms", "cycle"],
    &["studies"],
    &["prelude"],
];

fn rank(module: &str) -> Option<usize> {
    LAYERS.iter().position(|layer| layer.contains(&module))
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
fn modules_know_only_lower_layers() {
    let root = std::path::Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/src"));
    let mut files = Vec::new();
    sources(root, &mut files);
    assert!(files.len() > 20);
    for file in files {
        let inside = file.strip_prefix(root).unwrap();
        let module = inside.iter().next().unwrap().to_str().unwrap().trim_end_matches(".rs");
        if module == "lib" {
            continue;
        }
        let own = rank(module).unwrap_or_else(|| panic!("{module} stands in no layer"));
        for line in std::fs::read_to_string(&file).unwrap().lines() {
            for used in line.split("crate::").skip(1) {
                let name: String =
                    used.chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '_').collect();
                let Some(other) = rank(&name) else { continue };
                assert!(
                    name == module || other < own,
                    "{} (layer {own}) uses {name} (layer {other})",
                    inside.display()
                );
            }
        }
    }
}

#[test]
fn every_path_the_developers_guide_names_exists() {
    let root = std::path::Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/.."));
    let guide = std::fs::read_to_string(root.join("DEVELOPERS.md")).unwrap();
    let mut named = 0;
    for word in guide.split('`').skip(1).step_by(2) {
        let top = word.split('/').next().unwrap_or_default();
        let folders = ["sim", "cli", "validation", "scenarios", "benches", ".ci"];
        if word.contains('/') && !word.contains(' ') && folders.contains(&top) {
            assert!(root.join(word).exists(), "DEVELOPERS.md names {word}");
            named += 1;
        }
    }
    assert!(named > 15, "{named}");
}
