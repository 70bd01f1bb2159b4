//! The cut sheet: what to cut, from which datum, from where to where, how exactly, checked how.

pub(super) mod drawing;
mod job;

use std::collections::BTreeSet;
use std::path::Path;

use freshcharge_sim::scenario::{Scenario, general};
use freshcharge_sim::spec::{Intake, Window};
use freshcharge_sim::studies::beside_a_cut;
use freshcharge_sim::units::{DEG, MM};
use freshcharge_sim::workshop::Facts;

use super::compare::differing;
use super::goals::{Goals, Kind, LAND_OFFSET, land_at};
use super::plan::Plan;
use crate::args::PlanArgs;
use crate::present::charts::page::{Pages, with_cautions};
use crate::present::drawing::{self as drawings, Drawing, Paper};
use crate::present::tables::layout::number;
use crate::present::writeup::template::Told;
use crate::present::writeup::{Block, Picture, Table};
use crate::session::files::{self, Failure};
pub(crate) use job::{Job, JobCut, name};

/// What has been taken off the top face.
const TOP_FACE: &str = "stack.top_face_cut_mm";
/// What is left to be filed in small steps at the end [mm].
const FINISH_ROOF: f64 = 0.3;
const FINISH_SIDE: f64 = 0.2;

/// Writes the sheet; gives where.
pub(super) fn write(
    folder: &Path,
    args: &PlanArgs,
    scenario: &Scenario,
    (goals, plan): (&Goals, &Plan),
    warnings: &[String],
) -> Result<String, Failure> {
    job::spare(folder)?;
    files::make_folder(folder)?;
    let Some(after) = goals.engine(scenario, plan.choice, &plan.solution.amounts) else {
        return Ok("none: this plan's engine cannot be built".to_owned());
    };
    let mut sheet = Sheet::planned(scenario, &after, goals, plan);
    // what speaks against the plan comes before what is always to be minded
    let against = warnings.iter().map(|w| format!("WARNING: {w}"));
    sheet.cautions.splice(0..0, against);
    let blocks = sheet.blocks();
    let told = [Told { key: "", heading: String::new(), texts: Vec::new(), blocks: &blocks }];
    crate::session::writeup::write_markdown(folder, "cut-sheet.md", &sheet.title(), &told)?;
    let pages = sheet.pages();
    for (i, page) in pages.iter().enumerate() {
        let name = format!("cut-sheet-{}", i + 1);
        let svg = page.svg();
        files::write(&folder.join(format!("{name}.svg")), svg.as_bytes())?;
        files::write(&folder.join(format!("{name}.png")), &drawings::png(&name, &svg, 1240)?)?;
    }
    files::write(&folder.join("cut-sheet.pdf"), &drawings::pages("cut-sheet", &pages, Paper::A4)?)?;
    let engine = args.file.clone();
    let job = Job {
        engine,
        model: scenario.spec.model.number(),
        stack: plan.choice,
        cuts: sheet.cuts.clone(),
        plan: goals.file.clone(),
    };
    job::save(folder, &args.file, job)?;
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

/// What to do to come from one build to another.
pub(super) struct Sheet {
    name: String,
    rows: Vec<Row>,
    stack: Vec<Vec<String>>,
    expected: Vec<Vec<String>>,
    cautions: Vec<String>,
    cuts: Vec<JobCut>,
    /// Windows that change, with their names: now and then.
    windows: Vec<(String, Window, Window)>,
}

/// A window that may be cut: what it is, its path in the engine file, whether the crown opens it.
struct Port {
    words: String,
    path: String,
    crown: bool,
    now: Window,
    then: Window,
}

const DATUM: &str = "Datum: the cylinder's top face as it is now (cut it last, if it is cut). Depths are taken from it to the bore edge, without the chamfer. Deburr before every reading. Sides first, then the roof: a roof that is still too low can be raised, one too high cannot be put back.";

pub(super) const GENERAL: &[&str] = &[
    "Measure before the first cut, and again after every step; stop at the rough size and measure twice before the last tenths.",
    "Cut from the bore outward, chamfer every edge afterwards (about 1 mm wide, 0.3 mm deep), wash everything: dust laps rings and bearings.",
    "Carbide burrs throw needles and whip above their rated speed; aluminium dust burns, plating dust harms lungs and skin: eye and face shield, mask, extraction, cylinder clamped, no gloves or loose sleeves at a turning spindle, hearing protection.",
    "Raised ports and louder exhausts may be against the law on the road and void approval and insurance: check your local rules; leave what needs a licence to those who have one.",
    "Turn the finished engine over by hand through two full turns before it runs; leak test it; start with a richer main jet and less advance, then creep up.",
];

/// Heads of the tables.
const OPERATIONS: [&str; 8] =
    ["#", "what", "from", "rough, then measure", "final", "tolerance", "check", "read"];
const STACK: [&str; 4] = ["part", "now", "to fit, as compressed", "measured"];
const EXPECTED: [&str; 4] = ["quantity", "now", "then", "measured"];
const NOTHING: &str = "Nothing is cut; only the stack changes.";
const ENTERED: &str = "Squish by solder, head torqued:  left ______  right ______  front ______  back ______ mm      Leak test ____________      Date, by ____________";

impl Sheet {
    /// From an engine to a plan for it.
    fn planned(before: &Scenario, after: &Scenario, goals: &Goals, plan: &Plan) -> Self {
        let tolerance = |kind: Kind| {
            let at = goals.kinds.iter().position(|k| *k == kind);
            at.map_or(kind.usual_tolerance(), |i| goals.operations[i].tolerance)
        };
        let c = plan.choice;
        let one = |t: f64| if t > 0.0 { format!("{t:.2} mm") } else { "none".to_owned() };
        Self::of(before, after, &tolerance, [one(c.base), one(c.spacer), one(c.head)])
    }

    /// From one build to another, each from its own file.
    pub(super) fn between(before: &Scenario, after: &Scenario) -> Self {
        let stack = &after.spec.stack;
        let then = [&stack.base_gaskets, &stack.spacers, &stack.head_gaskets].map(|t| list(t));
        let mut sheet = Self::of(before, after, &Kind::usual_tolerance, then);
        let (numbers, others) = differing(before, after);
        let rest =
            numbers.into_iter().map(|n| (n.0, format!(" {} → {}", number(n.1), number(n.2))));
        let rest = rest.chain(others.into_iter().map(|path| (path, String::new())));
        let told = |path: &str| {
            path.contains("window") || path.starts_with("stack.") || path.starts_with("head.")
        };
        let mut rest: Vec<String> =
            rest.filter(|(p, _)| !told(p)).map(|(p, change)| general(&p) + &change).collect();
        // what stands in lists, such as stud holes, is told once
        let mut seen = BTreeSet::new();
        rest.retain(|r| seen.insert(r.clone()));
        if !rest.is_empty() {
            sheet.cautions.insert(0, format!(
                "The two files also differ in what is not cut: {}. What to expect holds only with these.",
                rest.join("; ")
            ));
        }
        sheet
    }

    fn of(
        before: &Scenario,
        after: &Scenario,
        tolerance: &dyn Fn(Kind) -> f64,
        fitted: [String; 3],
    ) -> Self {
        let mut sheet = Self {
            name: before.spec.name.clone(),
            rows: Vec::new(),
            stack: Vec::new(),
            expected: Vec::new(),
            cautions: std::iter::once(beside_a_cut())
                .chain(GENERAL.iter().map(|c| (*c).to_owned()))
                .collect(),
            cuts: Vec::new(),
            windows: Vec::new(),
        };
        let ports = ports(before, after);
        // sides first, roofs and floors after them, the face after the ports
        ports.iter().for_each(|p| sheet.width(p, tolerance(Kind::Width), before.spec.bore));
        ports.iter().for_each(|p| sheet.edges(p, tolerance(Kind::Roof), before, after));
        sheet.top_face(tolerance(Kind::TopFace), before, after);
        sheet.head(tolerance, before, after);
        let changed = ports.into_iter().filter(|p| p.now != p.then);
        sheet.windows = changed.map(|p| (p.words, p.now, p.then)).collect();
        let stack = &before.spec.stack;
        let now = [&stack.base_gaskets, &stack.spacers, &stack.head_gaskets].map(|t| list(t));
        let parts = ["base gasket", "spacer", "head gasket"].into_iter().zip(now).zip(fitted);
        sheet.stack =
            parts.map(|((part, now), then)| vec![part.into(), now, then, "____".into()]).collect();
        sheet.expect(before, after);
        sheet
    }

    /// A row for metal that would have to be put back.
    fn impossible(&mut self, what: &str, from: String, to: String) {
        self.rows.push(Row {
            what: what.to_owned(),
            from,
            rough: "–".to_owned(),
            to,
            tolerance: "–".to_owned(),
            check: "NOT by cutting: metal would have to be put back. Another cylinder, a plated or welded one, or another plan".to_owned(),
        });
    }

    fn top_face(&mut self, tolerance: f64, before: &Scenario, after: &Scenario) {
        let off = before.value(TOP_FACE).unwrap_or(0.0);
        let to = after.value(TOP_FACE).unwrap_or(0.0);
        let amount = rounded(to - off);
        if amount < 0.0 {
            let words = |at: f64| format!("{at:.2} mm off");
            self.impossible("top face", words(off), words(to));
        } else if amount > 0.0 {
            self.rows.push(Row {
                what: "top face".to_owned(),
                from: format!("{off:.2} mm off so far"),
                rough: format!("{:.2} mm off", off + (amount - 0.1).max(0.0)),
                to: format!("{to:.2} mm off"),
                tolerance: format!("± {tolerance} mm"),
                check: "cylinder height by micrometer at four places; every depth is less by this afterwards".to_owned(),
            });
            self.cut(TOP_FACE, "off the top face", (off, to), tolerance);
        }
    }

    /// The step round the head's joint face, and its bowl.
    fn head(&mut self, tolerance: &dyn Fn(Kind) -> f64, before: &Scenario, after: &Scenario) {
        let from = before.value(LAND_OFFSET).unwrap_or(0.0);
        let to = after.value(LAND_OFFSET).unwrap_or(0.0);
        let amount = rounded(from - to);
        if amount > 0.0 {
            let tolerance = tolerance(Kind::HeadStep);
            self.rows.push(Row {
                what: "head, step round the joint face".to_owned(),
                from: format!("land {from:+.2} mm from the joint plane"),
                rough: format!("{:+.2} mm", from - (amount - 0.05).max(0.0)),
                to: format!("{to:+.2} mm: the joint face turned down by {amount:.2} mm outside the bore, so that the land enters it"),
                tolerance: format!("± {tolerance} mm"),
                check: "depth micrometer from the joint face to the land at four places; diameter of the step to the bore less a hand's clearance, squish by solder".to_owned(),
            });
            self.cut(LAND_OFFSET, "head land offset", (from, to), tolerance);
        } else if amount < 0.0 {
            self.rows.push(Row {
                what: "head, squish land".to_owned(),
                from: format!("land {from:+.2} mm from the joint plane"),
                rough: format!("{:+.2} mm", to - 0.05),
                to: format!("{to:+.2} mm: the land turned up by {:.2} mm", -amount),
                tolerance: format!("± {} mm", tolerance(Kind::HeadStep)),
                check: "depth micrometer from the joint face to the land at four places; squish by solder".to_owned(),
            });
        }
        let forms = ["head.assembled", "head.squish_plane", "head.joint_plane"];
        let Some(form) = forms.iter().find(|f| before.document.has(f) && after.document.has(f))
        else {
            return;
        };
        let path = format!("{form}.volume_cm3");
        let (Some(from), Some(then)) = (before.value(&path), after.value(&path)) else { return };
        // what the step alone makes of it
        let stepped = land_at(before, to).into_iter().find(|c| c.0 == path).map_or(from, |c| c.1);
        let amount = rounded(then - stepped);
        let volume = |v: f64| format!("{v:.2} cm³");
        if amount < 0.0 {
            self.impossible("head bowl", volume(from), volume(from + amount));
        } else if amount > 0.0 {
            let tolerance = tolerance(Kind::Bowl);
            self.rows.push(Row {
                what: "head bowl".to_owned(),
                from: volume(from),
                rough: volume(from + 0.7 * amount),
                to: volume(from + amount),
                tolerance: format!("± {tolerance} cm³"),
                check: "burette, in the form it was measured in; leave the squish land alone"
                    .to_owned(),
            });
            self.cut(&path, "bowl volume", (from, from + amount), tolerance);
        }
    }

    fn cut(&mut self, path: &str, what: &str, (from, to): (f64, f64), tolerance: f64) {
        let (path, what) = (path.to_owned(), what.to_owned());
        let (reading, reading_error) = (None, None);
        let name = String::new();
        self.cuts.push(JobCut { name, path, what, from, to, tolerance, reading, reading_error });
    }

    fn width(&mut self, port: &Port, tolerance: f64, bore: f64) {
        let (a, b) = (&port.now, &port.then);
        let arc = |w: &Window| bore * (w.chord / bore).asin() / MM;
        let (from, to) = (a.chord / MM, b.chord / MM);
        let amount = rounded(to - from);
        let what = format!("{}, sides", port.words);
        let chord = |w: &Window| format!("chord {:.2} mm (arc {:.2})", w.chord / MM, arc(w));
        if amount < 0.0 {
            self.impossible(&what, chord(a), chord(b));
        } else if amount > 0.0 {
            let (side, along) = (0.5 * amount, 0.5 * (arc(b) - arc(a)));
            self.rows.push(Row {
                what,
                from: chord(a),
                rough: format!("chord {:.2} mm", (to - 2.0 * FINISH_SIDE).max(from)),
                to: format!("{}: {side:.2} mm a side as chord, {along:.2} mm along the wall", chord(b)),
                tolerance: format!("± {tolerance} mm"),
                check: "inside caliper straight across at mid-height; both sides alike from the centre line".to_owned(),
            });
            let (path, words) =
                (format!("{}.chord_mm", port.path), format!("{} chord", port.words));
            self.cut(&path, &words, (from, to), tolerance);
        }
    }

    /// Roof, floor and corners of a window.
    fn edges(&mut self, port: &Port, tolerance: f64, before: &Scenario, after: &Scenario) {
        let (a, b) = (&port.now, &port.then);
        let below = |depth: f64| format!("{:.2} mm below the top face", depth / MM);
        let up = rounded((a.roof_depth - b.roof_depth) / MM);
        let what = format!("{}, roof", port.words);
        if up < 0.0 {
            self.impossible(&what, below(a.roof_depth), below(b.roof_depth));
        } else if up > 0.0 {
            self.roof(port, what, tolerance, before, after);
        }
        let down = rounded((b.floor_depth - a.floor_depth) / MM);
        let what = format!("{}, floor", port.words);
        if down < 0.0 {
            self.impossible(&what, below(a.floor_depth), below(b.floor_depth));
        } else if down > 0.0 {
            let rough = b.floor_depth.min(a.floor_depth.max(b.floor_depth - FINISH_ROOF * MM));
            self.rows.push(Row {
                what,
                from: below(a.floor_depth),
                rough: format!("{:.2} mm", rough / MM),
                to: below(b.floor_depth),
                tolerance: format!("± {tolerance} mm"),
                check: "depth rod, at the middle of the floor; look where the skirt ends"
                    .to_owned(),
            });
        }
        let shape = |w: &Window| [w.roof_radius, w.floor_radius, w.roof_arch].map(|v| v / MM);
        if shape(a).iter().zip(shape(b)).any(|(x, y)| rounded(y - x) != 0.0) {
            let words = |w: &Window| {
                let [roof, floor, arch] = shape(w);
                format!(
                    "corner radii {roof:.1} mm above, {floor:.1} mm below, roof arched by {arch:.1} mm"
                )
            };
            self.rows.push(Row {
                what: format!("{}, corners", port.words),
                from: words(a),
                rough: "–".to_owned(),
                to: words(b),
                tolerance: "± 0.5 mm".to_owned(),
                check: "radius gauge or a paper cut from the port map; a larger radius can only be had by going wider or higher".to_owned(),
            });
        }
        if rounded((b.centre - a.centre) / DEG) != 0.0 {
            let words = |w: &Window| format!("centre line at {:.1}°", w.centre / DEG);
            self.impossible(&format!("{}, place", port.words), words(a), words(b));
        }
    }

    fn roof(
        &mut self,
        port: &Port,
        what: String,
        tolerance: f64,
        before: &Scenario,
        after: &Scenario,
    ) {
        let off = before.value(TOP_FACE).unwrap_or(0.0);
        let (from, to) = (port.now.roof_depth / MM, port.then.roof_depth / MM);
        // with the planned base stack fitted the crown edge passes the new roof here
        let spec = &after.spec;
        let drop = to * MM - face(before, after) - spec.stack.deck - spec.piston.crown_chamfer;
        let crank = freshcharge_sim::geometry::crank(spec);
        let angle = crank.angle_down(drop).map_or(f64::NAN, |t| t / DEG);
        let half = (2.0 * angle).round() / 2.0;
        let check = if port.crown {
            format!(
                "scribe at {to:.2} mm; or with the planned base stack fitted set the disc to {half:.1}° after top and scribe along the crown: the caliper there must read {to:.2} mm. Depth rod, at the middle of the roof"
            )
        } else {
            format!("scribe at {to:.2} mm. Depth rod, at the middle of the roof")
        };
        self.rows.push(Row {
            what,
            from: format!("{from:.2} mm below the top face"),
            rough: format!("{:.2} mm", (to + FINISH_ROOF).min(from)),
            to: format!("{to:.2} mm below the top face"),
            tolerance: format!("± {tolerance} mm"),
            check,
        });
        let path = format!("{}.roof_depth_mm", port.path);
        // the engine file's depths are from the face as it was measured
        let words = if off > 0.0 {
            format!("{} roof, below the top face as it was before {off:.2} mm came off", port.words)
        } else {
            format!("{} roof", port.words)
        };
        self.cut(&path, &words, (from + off, to + off), tolerance);
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
                "____".to_owned(),
            ]);
        }
    }

    fn title(&self) -> String {
        format!("Cut sheet: {}", self.name)
    }

    /// Rows of the table of operations.
    fn operations(&self) -> Vec<Vec<String>> {
        let cells = |(i, r): (usize, &Row)| {
            let [what, from, rough, to, tolerance, check] =
                [&r.what, &r.from, &r.rough, &r.to, &r.tolerance, &r.check].map(Clone::clone);
            vec![format!("{}", i + 1), what, from, rough, to, tolerance, check, "____".to_owned()]
        };
        self.rows.iter().enumerate().map(cells).collect()
    }

    /// The sheet as part of a write-up.
    pub(super) fn blocks(&self) -> Vec<Block> {
        let words = |w: &str| Block::Words(w.to_owned());
        let heading = |w: &str| Block::Heading(w.to_owned());
        let mut blocks = vec![words(DATUM), heading("Operations, in this order")];
        if self.rows.is_empty() {
            blocks.push(words(NOTHING));
        } else {
            let table = Table::wordy(&OPERATIONS, self.operations());
            blocks.push(Block::Table(Table { loud: Some(4), ..table }));
        }
        for (n, (name, a, b)) in self.windows.iter().enumerate() {
            let svg = with_cautions(drawing::window(120.0, name, (a, b))).svg();
            let words = format!("{name}: the window now and then");
            blocks.push(Block::Picture(Picture::new(&format!("cut-{}", n + 1), words, svg)));
        }
        let table =
            |head: &[&str], rows: &[Vec<String>]| Block::Table(Table::wordy(head, rows.to_vec()));
        blocks.extend([
            heading("Stack"),
            table(&STACK, &self.stack),
            heading("What to expect"),
            table(&EXPECTED, &self.expected),
            words(ENTERED),
            heading("Before and while cutting"),
            Block::List(self.cautions.clone()),
        ]);
        blocks
    }

    fn pages(&self) -> Vec<Drawing> {
        let mut pages =
            Pages::new(&format!("Freshcharge {} · {}", env!("CARGO_PKG_VERSION"), self.name));
        // on paper there is room to write in the box itself
        let blank = |rows: Vec<Vec<String>>| -> Vec<Vec<String>> {
            let empty = |c: String| if c == "____" { String::new() } else { c };
            rows.into_iter().map(|r| r.into_iter().map(empty).collect()).collect()
        };
        pages.heading(&self.title());
        pages.words(DATUM);
        pages.heading("Operations, in this order");
        if self.rows.is_empty() {
            pages.words(NOTHING);
        } else {
            let rows = blank(self.operations());
            pages.table(&[0.6, 2.0, 2.4, 2.2, 3.0, 1.7, 4.4, 1.6], &OPERATIONS, &rows);
        }
        for (name, a, b) in &self.windows {
            pages.drawing(drawing::window(180.0, name, (a, b)));
        }
        pages.heading("Stack");
        pages.table(&[3.0, 3.0, 3.0, 2.0], &STACK, &blank(self.stack.clone()));
        pages.heading("What to expect");
        pages.table(&[6.0, 2.0, 2.0, 2.0], &EXPECTED, &blank(self.expected.clone()));
        pages.words(ENTERED);
        pages.heading("Cautions");
        for caution in &self.cautions {
            pages.words(&format!("•  {caution}"));
        }
        pages.finish()
    }
}

/// Thicknesses in words.
fn list(thick: &[f64]) -> String {
    let parts: Vec<String> = thick.iter().map(|t| format!("{:.2}", t / MM)).collect();
    if parts.is_empty() { "none".to_owned() } else { parts.join(" + ") + " mm" }
}

/// A difference of readings without what rounding leaves of it.
fn rounded(difference: f64) -> f64 {
    (difference * 1e6).round() / 1e6
}

/// What comes off the top face from one build to another [m].
pub(super) fn face(before: &Scenario, after: &Scenario) -> f64 {
    let off = |s: &Scenario| s.value(TOP_FACE).unwrap_or(0.0) * MM;
    off(after) - off(before)
}

/// Windows that both builds have, now and then; all depths from the face as it is now.
fn ports(before: &Scenario, after: &Scenario) -> Vec<Port> {
    let face = face(before, after);
    let mut ports = Vec::new();
    let mut add = |words: &str, path: &str, crown: bool, now: &[Window], then: &[Window]| {
        for (n, (a, b)) in now.iter().zip(then).enumerate() {
            let which =
                if now.len() > 1 { format!("{words} window {}", n + 1) } else { words.to_owned() };
            let mut then = b.clone();
            then.roof_depth += face;
            then.floor_depth += face;
            let path = format!("{path}.window[{n}]");
            ports.push(Port { words: which, path, crown, now: a.clone(), then });
        }
    };
    let (a, b) = (&before.spec, &after.spec);
    add("exhaust", "exhaust", true, &a.exhaust.windows, &b.exhaust.windows);
    for group in &a.transfers {
        let Some(then) = b.transfers.iter().find(|g| g.name == group.name) else { continue };
        let words = format!("transfer {}", group.name);
        let path = format!("transfer.{}", group.name);
        add(&words, &path, true, &group.windows, &then.windows);
    }
    if let (Intake::PistonPort { windows: now, .. }, Intake::PistonPort { windows: then, .. }) =
        (&a.intake, &b.intake)
    {
        add("inlet", "intake.piston_port", false, now, then);
    }
    ports
}
