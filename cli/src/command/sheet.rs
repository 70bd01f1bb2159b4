//! The cut sheet: what to cut, from which datum, from where to where, how exactly, checked how.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::spec::Window;
use freshcharge_sim::units::{DEG, MM};
use freshcharge_sim::workshop::Facts;
use serde::{Deserialize, Serialize};

use super::goals::{Choice, Goals, GoalsFile, Kind};
use super::plan::Plan;
use crate::args::PlanArgs;
use crate::chart::canvas;
use crate::chart::page::Pages;
use crate::chart::pdf::{self, Paper};
use crate::export::layout::number;
use crate::files::{self, Failure};

/// A job: what was planned, and readings as they come.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Job {
    /// Engine file, relative to the job file.
    pub(crate) engine: PathBuf,
    /// What will stand between cases, cylinder and head.
    pub(crate) stack: Choice,
    /// What is cut.
    #[serde(default, rename = "cut")]
    pub(crate) cuts: Vec<JobCut>,
    /// Goals, shelf and operations of the plan.
    pub(crate) plan: GoalsFile,
}

/// One edge or face to be cut.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct JobCut {
    /// Key of the engine file it changes.
    pub(crate) path: String,
    /// What it is.
    pub(crate) what: String,
    /// Where it stood.
    pub(crate) from: f64,
    /// Where it shall stand.
    pub(crate) to: f64,
    /// How exactly.
    pub(crate) tolerance: f64,
    /// What was read last; leave out until there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) reading: Option<f64>,
    /// Error of that reading, ±.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) reading_error: Option<f64>,
}

/// What is left to be filed in small steps at the end [mm].
const FINISH_ROOF: f64 = 0.3;
const FINISH_SIDE: f64 = 0.2;

/// Writes the sheet; gives where.
pub(super) fn write(
    folder: &Path,
    args: &PlanArgs,
    scenario: &Scenario,
    goals: &Goals,
    plan: &Plan,
) -> Result<String, Failure> {
    files::make_folder(folder)?;
    let Some(after) = goals.engine(scenario, plan.choice, &plan.solution.amounts) else {
        return Ok("none: this plan's engine cannot be built".to_owned());
    };
    let sheet = Sheet::new(scenario, &after, goals, plan);
    files::write(&folder.join("cut-sheet.md"), sheet.markdown().as_bytes())?;
    let pages = sheet.pages();
    for (i, svg) in pages.iter().enumerate() {
        let name = format!("cut-sheet-{}", i + 1);
        files::write(&folder.join(format!("{name}.svg")), svg.as_bytes())?;
        files::write(&folder.join(format!("{name}.png")), &canvas::png_of(&name, svg, 1240)?)?;
    }
    files::write(&folder.join("cut-sheet.pdf"), &pdf::pages("cut-sheet", &pages, Paper::A4)?)?;
    let engine = std::path::absolute(&args.file).unwrap_or_else(|_| args.file.clone());
    let job =
        Job { engine, stack: plan.choice, cuts: sheet.cuts.clone(), plan: goals.file.clone() };
    let text = toml::to_string(&job)
        .map_err(|e| Failure::Chart { what: "the job file".to_owned(), why: e.to_string() })?;
    let head = "# Job file: fill in reading (and reading_error) of each cut as you go, then freshcharge recheck it.\n";
    files::write(&folder.join("job.toml"), format!("{head}{text}").as_bytes())?;
    Ok(format!(
        "{}, cut-sheet.pdf to print, job.toml for recheck",
        folder.join("cut-sheet.md").display()
    ))
}

/// A row of the table of operations.
struct Row {
    what: String,
    from: String,
    rough: String,
    to: String,
    tolerance: String,
    check: String,
}

struct Sheet {
    name: String,
    rows: Vec<Row>,
    stack: Vec<Vec<String>>,
    expected: Vec<Vec<String>>,
    cautions: Vec<&'static str>,
    cuts: Vec<JobCut>,
    windows: Vec<(Window, Window)>,
}

const DATUM: &str = "Datum: the cylinder's top face as it is now (cut it last, if it is cut). Depths are taken from it to the bore edge, without the chamfer. Deburr before every reading. Sides first, then the roof: a roof that is still too low can be raised, one too high cannot be put back.";

const GENERAL: &[&str] = &[
    "Measure before the first cut, and again after every step; stop at the rough size and measure twice before the last tenths.",
    "Cut from the bore outward, chamfer every edge afterwards (about 1 mm wide, 0.3 mm deep), wash everything: dust laps rings and bearings.",
    "Carbide burrs throw needles and whip above their rated speed; aluminium dust burns, plating dust harms lungs and skin: eye and face shield, mask, extraction, cylinder clamped, no gloves or loose sleeves at a turning spindle, hearing protection.",
    "Raised ports and louder exhausts may be against the law on the road and void approval and insurance: check your local rules; leave what needs a licence to those who have one.",
    "Turn the finished engine over by hand through two full turns before it runs; leak test it; start with a richer main jet and less advance, then creep up.",
];

impl Sheet {
    fn new(before: &Scenario, after: &Scenario, goals: &Goals, plan: &Plan) -> Self {
        let mut sheet = Self {
            name: before.spec.name.clone(),
            rows: Vec::new(),
            stack: Vec::new(),
            expected: Vec::new(),
            cautions: GENERAL.to_vec(),
            cuts: Vec::new(),
            windows: before
                .spec
                .exhaust
                .windows
                .iter()
                .zip(&after.spec.exhaust.windows)
                .map(|(a, b)| (a.clone(), b.clone()))
                .collect(),
        };
        // all depths of the sheet are from the face as it is now
        let off = |s: &Scenario| s.value("stack.top_face_cut_mm").unwrap_or(0.0) * MM;
        for (_, b) in &mut sheet.windows {
            b.roof_depth += off(after) - off(before);
            b.floor_depth += off(after) - off(before);
        }
        // sides first, roof last, the face after the ports
        for kind in [Kind::Width, Kind::Roof, Kind::TopFace, Kind::HeadStep, Kind::Bowl] {
            let at = goals.kinds.iter().position(|k| *k == kind);
            let Some(i) = at.filter(|i| plan.solution.amounts[*i] > 1e-6) else { continue };
            let (amount, tolerance) = (plan.solution.amounts[i], goals.operations[i].tolerance);
            sheet.operation(kind, amount, tolerance, before, after);
        }
        sheet.stack_rows(before, plan);
        sheet.expect(before, after);
        sheet
    }

    fn operation(
        &mut self,
        kind: Kind,
        amount: f64,
        tolerance: f64,
        before: &Scenario,
        after: &Scenario,
    ) {
        let off = before.value("stack.top_face_cut_mm").unwrap_or(0.0);
        let pm = |unit: &str| format!("± {tolerance} {unit}");
        let several = before.spec.exhaust.windows.len() > 1;
        match kind {
            Kind::Width | Kind::Roof => {
                let pairs = self.windows.clone();
                for (n, (a, b)) in pairs.iter().enumerate() {
                    let which = if several {
                        format!("exhaust window {}", n + 1)
                    } else {
                        "exhaust".to_owned()
                    };
                    if kind == Kind::Width {
                        self.width(n, &which, (a, b), amount, tolerance, before.spec.bore);
                    } else {
                        self.roof(n, &which, a, amount, tolerance, off, after);
                    }
                }
            }
            Kind::TopFace => {
                self.rows.push(Row {
                    what: "top face".to_owned(),
                    from: format!("{off:.2} mm off so far"),
                    rough: format!("{:.2} mm off", off + (amount - 0.1).max(0.0)),
                    to: format!("{:.2} mm off", off + amount),
                    tolerance: pm("mm"),
                    check: "cylinder height by micrometer at four places; every depth is less by this afterwards".to_owned(),
                });
                self.cut("stack.top_face_cut_mm", "off the top face", off, off + amount, tolerance);
            }
            Kind::HeadStep => {
                let from = before.value("head.land_offset_mm").unwrap_or(0.0);
                let to = from - amount;
                self.rows.push(Row {
                    what: "head, step round the joint face".to_owned(),
                    from: format!("land {from:+.2} mm from the joint plane"),
                    rough: format!("{:+.2} mm", from - (amount - 0.05).max(0.0)),
                    to: format!("{to:+.2} mm: the joint face turned down by {amount:.2} mm outside the bore, so that the land enters it"),
                    tolerance: pm("mm"),
                    check: "depth micrometer from the joint face to the land at four places; diameter of the step to the bore less a hand's clearance, squish by solder".to_owned(),
                });
                self.cut("head.land_offset_mm", "head land offset", from, to, tolerance);
            }
            Kind::Bowl => {
                let forms = ["head.assembled", "head.squish_plane", "head.joint_plane"];
                let form = forms.iter().find(|f| before.document.has(f)).unwrap_or(&forms[0]);
                let path = format!("{form}.volume_cm3");
                let from = before.value(&path).unwrap_or(f64::NAN);
                self.rows.push(Row {
                    what: "head bowl".to_owned(),
                    from: format!("{from:.2} cm³"),
                    rough: format!("{:.2} cm³", from + 0.7 * amount),
                    to: format!("{:.2} cm³", from + amount),
                    tolerance: pm("cm³"),
                    check: "burette, in the form it was measured in; leave the squish land alone"
                        .to_owned(),
                });
                self.cut(&path, "bowl volume", from, from + amount, tolerance);
            }
        }
    }

    fn cut(&mut self, path: &str, what: &str, from: f64, to: f64, tolerance: f64) {
        let (path, what) = (path.to_owned(), what.to_owned());
        self.cuts.push(JobCut {
            path,
            what,
            from,
            to,
            tolerance,
            reading: None,
            reading_error: None,
        });
    }

    #[allow(clippy::too_many_arguments, reason = "one row of the sheet, all of it told in it")]
    fn width(
        &mut self,
        n: usize,
        which: &str,
        (a, b): (&Window, &Window),
        amount: f64,
        tolerance: f64,
        bore: f64,
    ) {
        let arc = |w: &Window| bore * (w.chord / bore).asin() / MM;
        let (from, to) = (a.chord / MM, b.chord / MM);
        let side = 0.5 * amount;
        let along = 0.5 * (arc(b) - arc(a));
        self.rows.push(Row {
            what: format!("{which}, sides"),
            from: format!("chord {from:.2} mm (arc {:.2})", arc(a)),
            rough: format!("chord {:.2} mm", (to - 2.0 * FINISH_SIDE).max(from)),
            to: format!("chord {to:.2} mm (arc {:.2}): {side:.2} mm a side as chord, {along:.2} mm along the wall", arc(b)),
            tolerance: format!("± {tolerance} mm"),
            check: "inside caliper straight across at mid-height; both sides alike from the centre line".to_owned(),
        });
        self.cut(
            &format!("exhaust.window[{n}].chord_mm"),
            &format!("{which} chord"),
            from,
            to,
            tolerance,
        );
    }

    #[allow(clippy::too_many_arguments, reason = "one row of the sheet, all of it told in it")]
    fn roof(
        &mut self,
        n: usize,
        which: &str,
        a: &Window,
        amount: f64,
        tolerance: f64,
        off: f64,
        after: &Scenario,
    ) {
        let from = a.roof_depth / MM;
        let to = from - amount;
        let spec = &after.spec;
        // with the planned base stack fitted the crown edge passes the new roof here
        let crank = freshcharge_sim::geometry::crank(spec);
        let drop = spec.exhaust.windows[n].roof_depth - spec.stack.deck - spec.piston.crown_chamfer;
        let angle = crank.angle_down(drop).map_or(f64::NAN, |t| t / DEG);
        let half = (2.0 * angle).round() / 2.0;
        self.rows.push(Row {
            what: format!("{which}, roof"),
            from: format!("{from:.2} mm below the top face"),
            rough: format!("{:.2} mm", (to + FINISH_ROOF).min(from)),
            to: format!("{to:.2} mm below the top face"),
            tolerance: format!("± {tolerance} mm"),
            check: format!(
                "scribe at {to:.2} mm; or with the planned base stack fitted set the disc to {half:.1}° after top and scribe along the crown: the caliper there must read {to:.2} mm. Depth rod, at the middle of the roof"
            ),
        });
        self.cut(
            &format!("exhaust.window[{n}].roof_depth_mm"),
            &format!("{which} roof"),
            from + off,
            to + off,
            tolerance,
        );
    }

    fn stack_rows(&mut self, before: &Scenario, plan: &Plan) {
        let list = |thick: &[f64]| {
            let parts: Vec<String> = thick.iter().map(|t| format!("{:.2}", t / MM)).collect();
            if parts.is_empty() { "none".to_owned() } else { parts.join(" + ") + " mm" }
        };
        let stack = &before.spec.stack;
        let c = plan.choice;
        let one = |t: f64| if t > 0.0 { format!("{t:.2} mm") } else { "none".to_owned() };
        self.stack = vec![
            vec!["base gasket".into(), list(&stack.base_gaskets), one(c.base), String::new()],
            vec!["spacer".into(), list(&stack.spacers), one(c.spacer), String::new()],
            vec!["head gasket".into(), list(&stack.head_gaskets), one(c.head), String::new()],
        ];
    }

    fn expect(&mut self, before: &Scenario, after: &Scenario) {
        const SHOWN: &[&str] = &[
            "exhaust_opens_deg_atdc",
            "exhaust_duration_deg",
            "transfer_opens_deg_atdc",
            "transfer_duration_deg",
            "blowdown_deg",
            "deck_mm",
            "squish_mm",
            "clearance_cm3",
            "geometric_ratio",
            "trapped_ratio",
            "exhaust_chord_to_bore",
            "exhaust_bridge_mm",
        ];
        let (a, b) = (Facts::of_scenario(before, &[]), Facts::of_scenario(after, &[]));
        for key in SHOWN {
            let Some(fact) = a.0.iter().find(|f| f.key == *key) else { continue };
            let Some(then) = b.get(key) else { continue };
            // by hand no angle is cut to better than half a degree
            let shown = |v: f64| {
                if fact.unit == "°" {
                    format!("{:.1}", (2.0 * v).round() / 2.0)
                } else {
                    number(v)
                }
            };
            self.expected.push(vec![
                fact.words.clone(),
                shown(fact.value),
                format!("{} {}", shown(then), fact.unit.trim_matches('–')),
                String::new(),
            ]);
        }
    }

    fn markdown(&self) -> String {
        let mut out =
            format!("# Cut sheet: {}\n\n{DATUM}\n\n## Operations, in this order\n\n", self.name);
        if self.rows.is_empty() {
            out.push_str("Nothing is cut; only the stack changes.\n");
        } else {
            out.push_str("| # | what | from | rough, then measure | final | tolerance | check | read |\n|---|---|---|---|---|---|---|---|\n");
        }
        for (i, r) in self.rows.iter().enumerate() {
            let _ = writeln!(
                out,
                "| {} | {} | {} | {} | **{}** | {} | {} | ____ |",
                i + 1,
                r.what,
                r.from,
                r.rough,
                r.to,
                r.tolerance,
                r.check
            );
        }
        out.push_str(
            "\n## Stack\n\n| part | now | to fit, as compressed | measured |\n|---|---|---|---|\n",
        );
        for row in &self.stack {
            let _ = writeln!(out, "| {} | {} | {} | ____ |", row[0], row[1], row[2]);
        }
        out.push_str(
            "\n## What to expect\n\n| quantity | now | then | measured |\n|---|---|---|---|\n",
        );
        for row in &self.expected {
            let _ = writeln!(out, "| {} | {} | {} | ____ |", row[0], row[1], row[2]);
        }
        out.push_str("\nSquish by solder, head torqued: left ____ right ____ front ____ back ____ mm. Leak test: ____. Date, by: ____\n\n## Cautions\n\n");
        for caution in &self.cautions {
            let _ = writeln!(out, "- {caution}");
        }
        out
    }

    fn pages(&self) -> Vec<String> {
        let mut pages =
            Pages::new(&format!("Freshcharge {} · {}", env!("CARGO_PKG_VERSION"), self.name));
        pages.heading(&format!("Cut sheet: {}", self.name));
        pages.words(DATUM);
        pages.heading("Operations, in this order");
        if self.rows.is_empty() {
            pages.words("Nothing is cut; only the stack changes.");
        } else {
            let rows: Vec<Vec<String>> = self
                .rows
                .iter()
                .enumerate()
                .map(|(i, r)| {
                    vec![
                        format!("{}", i + 1),
                        r.what.clone(),
                        r.from.clone(),
                        r.rough.clone(),
                        r.to.clone(),
                        r.tolerance.clone(),
                        r.check.clone(),
                        String::new(),
                    ]
                })
                .collect();
            let head =
                ["#", "what", "from", "rough, then measure", "final", "tolerance", "check", "read"];
            pages.table(&[0.6, 2.0, 2.4, 2.2, 3.0, 1.7, 4.4, 1.6], &head, &rows);
        }
        for (a, b) in &self.windows {
            if a != b {
                let scale = drawing_scale(a, b);
                let height = 12.0 + scale * (a.floor_depth - a.roof_depth.min(b.roof_depth)) / MM;
                pages.drawing(height, |x, y| window_drawing(x, y, a, b));
            }
        }
        pages.heading("Stack");
        pages.table(
            &[3.0, 3.0, 3.0, 2.0],
            &["part", "now", "to fit, as compressed", "measured"],
            &self.stack,
        );
        pages.heading("What to expect");
        pages.table(
            &[6.0, 2.0, 2.0, 2.0],
            &["quantity", "now", "then", "measured"],
            &self.expected,
        );
        pages.words("Squish by solder, head torqued:  left ______  right ______  front ______  back ______ mm      Leak test ____________      Date, by ____________");
        pages.heading("Cautions");
        for caution in &self.cautions {
            pages.words(&format!("•  {caution}"));
        }
        pages.finish()
    }
}

/// How much larger than life the window is drawn.
fn drawing_scale(a: &Window, b: &Window) -> f64 {
    (45.0 / ((a.floor_depth - b.roof_depth.min(a.roof_depth)) / MM)).min(1.6)
}

/// The exhaust window before (dashed) and after, seen straight on, with the sizes to cut to.
#[allow(clippy::too_many_lines, reason = "a drawing, stroke by stroke")]
fn window_drawing(x: f64, y: f64, a: &Window, b: &Window) -> String {
    let scale = drawing_scale(a, b);
    let (middle, top) = (x + 90.0, y + 6.0);
    let roof = b.roof_depth.min(a.roof_depth);
    let outline = |w: &Window| {
        let half = 0.5 * w.chord / MM * scale;
        let up = |d: f64| top + (d - roof) / MM * scale;
        let (arch, r) = (w.roof_arch / MM * scale, w.roof_radius / MM * scale);
        let f = w.floor_radius / MM * scale;
        let (rt, rs, fl) = (up(w.roof_depth), up(w.roof_depth) + arch, up(w.floor_depth));
        format!(
            "M {:.2} {:.2} Q {:.2} {:.2} {:.2} {rs:.2} Q {middle:.2} {:.2} {:.2} {rs:.2} Q {:.2} {:.2} {:.2} {:.2} L {:.2} {:.2} Q {:.2} {fl:.2} {:.2} {fl:.2} L {:.2} {fl:.2} Q {:.2} {fl:.2} {:.2} {:.2} Z",
            middle - half,
            rs + r,
            middle - half,
            rs,
            middle - half + r,
            2.0 * rt - rs,
            middle + half - r,
            middle + half,
            rs,
            middle + half,
            rs + r,
            middle + half,
            fl - f,
            middle + half,
            middle + half - f,
            middle - half + f,
            middle - half,
            middle - half,
            fl - f,
        )
    };
    let mut out = String::new();
    let _ = writeln!(
        out,
        "<path d=\"{}\" fill=\"#eee\" stroke=\"#000\" stroke-width=\"0.5\"/>",
        outline(b)
    );
    let _ = writeln!(
        out,
        "<path d=\"{}\" fill=\"none\" stroke=\"#555\" stroke-width=\"0.35\" stroke-dasharray=\"1.5 1\"/>",
        outline(a)
    );
    let half = 0.5 * b.chord / MM * scale;
    let level = top + 0.55 * (b.floor_depth - roof) / MM * scale;
    let _ = writeln!(
        out,
        "<path d=\"M {:.2} {level:.2} H {:.2}\" stroke=\"#000\" stroke-width=\"0.25\"/><text x=\"{middle:.2}\" y=\"{:.2}\" font-size=\"3\" text-anchor=\"middle\">chord {:.2} mm</text>",
        middle - half,
        middle + half,
        level - 1.0,
        b.chord / MM
    );
    let _ = writeln!(
        out,
        "<text x=\"{middle:.2}\" y=\"{:.2}\" font-size=\"3\" text-anchor=\"middle\">roof {:.2} mm below the top face</text>",
        top - 1.5,
        b.roof_depth / MM
    );
    let _ = writeln!(
        out,
        "<text x=\"{:.2}\" y=\"{:.2}\" font-size=\"3\">solid: final</text><text x=\"{:.2}\" y=\"{:.2}\" font-size=\"3\">dashed: now</text>",
        x + 2.0,
        top + 4.0,
        x + 2.0,
        top + 9.0
    );
    out
}
