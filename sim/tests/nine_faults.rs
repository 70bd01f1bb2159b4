//! A file with nine faults gets nine faults, each with its line, whatever kind of file it is.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::forms::goals::Written;
use freshcharge_sim::forms::sweep::SweepFile;
use freshcharge_sim::forms::template::TemplateFile;
use freshcharge_sim::forms::{Faults, job, limits, measured, rig};
use freshcharge_sim::{scenario, sweep};

/// Every line of the file that ends with `# fault` has a fault, and no other has.
fn nine(kind: &str, text: &str, faults: &Faults) {
    println!("{kind}:\n{faults}");
    let wanted: Vec<usize> = text
        .lines()
        .enumerate()
        .filter(|(_, line)| line.ends_with("# fault"))
        .map(|(index, _)| index + 1)
        .collect();
    let found: Vec<usize> = faults.iter().map(|f| f.line).collect();
    assert_eq!(wanted.len(), 9, "{kind}");
    assert_eq!(found, wanted, "{kind}:\n{faults}");
    assert!(faults.iter().all(|f| f.column > 0 && f.remedy.len() > 10), "{kind}");
}

#[test]
fn sweep_files() {
    let text = r#"nmae = "deck" # fault
engine = "touring.toml"
rpm = "9000:3000:500" # fault
figures = ["squish"] # fault
results = ["powr_kw"] # fault
[[axis]]
path = "stack.base_totl_mm"
values = "0.4" # fault
[[axis]]
path = "stack.head_total_mm"
from = 0.1
to = 0.5
step = -0.1
count = 2.5 # fault
[sample]
design = "random" # fault
count = 16
[[limit]]
of = "squish_mmm" # fault
least = "thin" # fault
"#;
    let file = SweepFile::read(text).unwrap();
    let base = scenario::read(include_str!("../../scenarios/touring.toml")).unwrap();
    nine("sweep file", text, &sweep::request(&file, &base, &[], None).unwrap_err());
}

#[test]
fn goals_files() {
    let text = r#"[goals]
blowdown_deg = [25.0, 20.0] # fault
squish_mm = { lest = 1.0 } # fault
trapped_ratio = "high" # fault
[shelf]
base_gaskets_mm = [0.2, -0.3] # fault
spacers_mm = [] # fault
head_gasket_mm = [0.5] # fault
[operations.roof]
most_mm = "2 furlongs" # fault
cost = true # fault
[operations.lathe] # fault
"#;
    let written = Written::read(text);
    nine("goals file", text, &written.faults.in_order());
}

#[test]
fn rig_files() {
    let text = r#"name = "branch"
end_ms = "soon" # fault
gass = "perfect" # fault
[[reservoir]]
name = "outside"
pressure_bar = -1.0 # fault
[[vessel]]
name = "a.b" # fault
volume_cm3 = 10.0
[[pipe]]
name = "one"
start = "outsde" # fault
finish = "closed"
finish_area_mm2 = 3.0 # fault
[[pipe.section]]
length_mm = "10 °C" # fault
diameter_mm = 20.0
friction = "rough" # fault
[[station]]
pipe = "two" # fault
at_mm = 5.0
"#;
    nine("rig file", text, &rig::read(text).unwrap_err());
}

#[test]
fn limits_files() {
    let text = r#"[[limit]]
quantty = "squish_mm" # fault
least = "wide" # fault
source = "practice"
confidence = 3 # fault
[[limit]]
quantity = "squish_mm"
least = 2.0 # fault
most = 1.0
near = -0.1 # fault
use = ["racing"] # fault
source = "practice"
confidence = "practice"
danger = 9 # fault
intake = "petals" # fault
[[limits]] # fault
"#;
    nine("limits file", text, &limits::read(text).unwrap_err());
}

#[test]
fn templates() {
    let text = r##"title = "{engin}" # fault
stile = "" # fault
style = "#cautions{display:none}" # fault
[[section]]
show = "engines" # fault
heading = 3 # fault
[[section]]
show = true # fault
[[section]]
heading = "alone" # fault
[[section]]
text = "{powr} kW" # fault
tex = "" # fault
"##;
    let file = TemplateFile::read(text).unwrap();
    let faults = file.check(&["engine", "cautions"], &["engine", "power"]).unwrap_err();
    nine("template", text, &faults);
}

#[test]
fn job_files() {
    let text = r#"engine = "touring.toml"
modle = 1 # fault
[stack]
base = "thick" # fault
spacer = -1.0 # fault
haed = 0.5 # fault
[[cut]]
path = "exhaust.window.roof_depth_mm"
what = "roof"
from = 33.1
to = [32.5] # fault
tolerance = -0.1 # fault
reading = "soon" # fault
[plan.goals]
squish_mm = [1.0] # fault
[plan.shelf]
base_gaskets_mm = 0.3 # fault
spacers_mm = [0.0]
head_gaskets_mm = [0.5]
"#;
    let (_, written) = job::read(text).unwrap();
    nine("job file", text, &written.faults.in_order());
}

#[test]
fn measurements() {
    // CSV has no comments within a line: the lines with faults are named here
    let rows = "rpm,power_kw,torqe_nm,fuel_g\n\
                5000,4.1,7,20\n50,4.2,7,20\n6000,five,7,20\n,4.4,7,20\n6500,4.5\n\
                7000;4,7,20\n7500,4.6,7,x\n8000,inf,7,20\n";
    let faults = measured::read(rows, 1.013).unwrap_err();
    println!("measured CSV:\n{faults}");
    let lines: Vec<usize> = faults.iter().map(|f| f.line).collect();
    assert_eq!(lines, [1, 1, 3, 4, 5, 6, 7, 8, 9], "{faults}");
}
