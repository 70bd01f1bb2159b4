//! A window now and then, as the cut sheet shows it.

use std::fmt::Write as _;

use freshcharge_sim::spec::Window;
use freshcharge_sim::units::MM;

use crate::chart::page::escape;

/// Height that the drawing of a window takes [mm].
pub(super) fn height(a: &Window, b: &Window) -> f64 {
    12.0 + scale_of(a, b) * (a.floor_depth.max(b.floor_depth) - a.roof_depth.min(b.roof_depth)) / MM
}

/// How much larger than life the window is drawn.
fn scale_of(a: &Window, b: &Window) -> f64 {
    (45.0 / ((a.floor_depth.max(b.floor_depth) - b.roof_depth.min(a.roof_depth)) / MM)).min(1.6)
}

/// A window before (dashed) and after, seen straight on, with the sizes to cut to.
#[allow(clippy::too_many_lines, reason = "a drawing, stroke by stroke")]
pub(super) fn window(
    (left, middle): (f64, f64),
    y: f64,
    name: &str,
    (a, b): (&Window, &Window),
) -> String {
    let scale = scale_of(a, b);
    let top = y + 6.0;
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
        "<text x=\"{middle:.2}\" y=\"{:.2}\" font-size=\"3\" text-anchor=\"middle\">{}: roof {:.2} mm below the top face</text>",
        top - 1.5,
        escape(name),
        b.roof_depth / MM
    );
    let _ = writeln!(
        out,
        "<text x=\"{:.2}\" y=\"{:.2}\" font-size=\"3\">solid: final</text><text x=\"{:.2}\" y=\"{:.2}\" font-size=\"3\">dashed: now</text>",
        left + 2.0,
        top + 4.0,
        left + 2.0,
        top + 9.0
    );
    out
}
