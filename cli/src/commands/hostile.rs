//! Damaged goals and jobs.

use super::goals::Goals;
use crate::hostile::{scenario, survives};

#[test]
fn goals() {
    let engine = freshcharge_sim::scenario::read(&scenario("touring.toml")).unwrap();
    survives("goals.toml", &scenario("goals.toml"), |path| Goals::read(path, &engine));
}

#[test]
fn jobs() {
    let goals = scenario("goals.toml");
    let nested: String = goals
        .lines()
        .map(|l| l.replacen('[', "[plan.", usize::from(l.starts_with('['))) + "\n")
        .collect();
    let good = format!(
        "engine = \"touring.toml\"\nmodel = {}\n[stack]\nbase = 0.4\nspacer = 0.5\nhead = 0.5\n{nested}\n\
         [[cut]]\npath = \"exhaust.window.roof_depth_mm\"\nwhat = \"roof\"\nfrom = 33.1\nto = 32.5\ntolerance = 0.1\nreading = 32.8\n",
        freshcharge_sim::spec::ModelVersion::STANDARD.number()
    );
    survives("job.toml", &good, super::recheck::read);
}
