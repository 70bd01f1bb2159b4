//! The visual language in one place: type, spacing, line weights and colours, the same in every chart,
//! print and page.
//!
//! The five colours of what an engine holds differ in lightness as well as in hue, so that a print in grey
//! and a reader who confuses red with green tell them apart; the tests below say how far.

use serde_json::{Value, json};

/// A colour of the screen, sRGB.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Colour(pub(crate) u8, pub(crate) u8, pub(crate) u8);

impl Colour {
    /// As pages and drawings write it.
    pub(crate) fn hex(self) -> String {
        format!("#{:02X}{:02X}{:02X}", self.0, self.1, self.2)
    }
}

/// Dark blue: the cylinder.
pub(crate) const CYLINDER: Colour = Colour(0x0F, 0x34, 0x6A);
/// Orange: hot gas.
pub(crate) const HOT_GAS: Colour = Colour(0xC9, 0x59, 0x1A);
/// Light blue: fresh gas.
pub(crate) const FRESH_GAS: Colour = Colour(0x0C, 0x97, 0xEC);
/// Purple: the exhaust.
pub(crate) const EXHAUST: Colour = Colour(0xA4, 0x37, 0x86);
/// Dark green: the crankcase.
pub(crate) const CRANKCASE: Colour = Colour(0x14, 0x57, 0x34);

/// The page.
pub(crate) const PAGE: Colour = Colour(0xFF, 0xFF, 0xFF);
/// Axes, outlines, type.
pub(crate) const INK: Colour = Colour(0x00, 0x00, 0x00);
/// Type of the second rank, and lines that only help.
pub(crate) const SECOND: Colour = Colour(0x44, 0x44, 0x44);
/// Events and rules.
pub(crate) const RULE: Colour = Colour(0x80, 0x80, 0x80);
/// Grid.
pub(crate) const GRID: Colour = Colour(0xDD, 0xDD, 0xDD);
/// Areas: a window, a wall.
pub(crate) const AREA: Colour = Colour(0xE8, 0xEE, 0xF4);

/// Curves of a chart that stand for nothing in the engine, such as builds: colour, and dash with gap [px].
pub(crate) const SERIES: [(Colour, Option<(u32, u32)>); 5] = [
    (CYLINDER, None),
    (HOT_GAS, Some((9, 4))),
    (FRESH_GAS, Some((3, 3))),
    (EXHAUST, Some((14, 5))),
    (CRANKCASE, Some((6, 2))),
];

/// Charts and pages on a screen [px].
pub(crate) mod screen {
    /// Type of a chart's title.
    pub(crate) const TITLE: u32 = 19;
    /// Type of axis descriptions and legends.
    pub(crate) const AXIS: u32 = 15;
    /// Type of tick labels and event names.
    pub(crate) const TICK: u32 = 13;
    /// Weight of a curve.
    pub(crate) const CURVE: f64 = 2.0;
    /// Weight of a curve's stretch in the legend.
    pub(crate) const LEGEND: f64 = 2.5;
    /// Weight of axes and grid.
    pub(crate) const AXES: f64 = 1.0;
    /// Room round a plot.
    pub(crate) const ROOM: u32 = 10;
}

/// Drawings on paper [mm].
pub(crate) mod print {
    /// Type of a sheet's title.
    pub(crate) const TITLE: f64 = 5.0;
    /// Type of words.
    pub(crate) const WORDS: f64 = 3.0;
    /// Type of names in a drawing, and of what stands at its foot.
    pub(crate) const NAME: f64 = 2.6;
    /// Type of scales and small labels.
    pub(crate) const SCALE: f64 = 2.2;
    /// Weight of what is to be cut to.
    pub(crate) const CUT: f64 = 0.5;
    /// Weight of an outline.
    pub(crate) const OUTLINE: f64 = 0.35;
    /// Weight of a frame and of a bar to measure.
    pub(crate) const FRAME: f64 = 0.3;
    /// Weight of a scale's strokes.
    pub(crate) const FINE: f64 = 0.2;
    /// Weight of a scale's smallest strokes.
    pub(crate) const HAIR: f64 = 0.15;
    /// Dash and gap of a level.
    pub(crate) const LEVEL: (f64, f64) = (3.0, 1.5);
    /// Dash and gap of an outline that is not the final one.
    pub(crate) const OTHER: (f64, f64) = (2.0, 1.0);
    /// Dash and gap of what lies behind.
    pub(crate) const BEHIND: (f64, f64) = (1.0, 1.0);
    /// Room at the edges of a sheet.
    pub(crate) const ROOM: f64 = 8.0;
}

/// The colours as variables of a page's style.
pub(crate) fn css() -> String {
    let named = [
        ("page", PAGE),
        ("ink", INK),
        ("second", SECOND),
        ("rule", RULE),
        ("grid", GRID),
        ("cylinder", CYLINDER),
        ("hot", HOT_GAS),
        ("fresh", FRESH_GAS),
        ("exhaust", EXHAUST),
        ("crankcase", CRANKCASE),
    ];
    let all: Vec<String> =
        named.iter().map(|(name, colour)| format!("--{name}:{}", colour.hex())).collect();
    format!(":root{{{}}}", all.join(";"))
}

/// The colours and the curves' dashes for a page's script.
pub(crate) fn script() -> Value {
    let mut series: Vec<Value> = SERIES
        .iter()
        .map(|(colour, dash)| {
            json!([colour.hex(), dash.map_or(String::new(), |(on, off)| format!("{on} {off}"))])
        })
        .collect();
    // what was measured is dotted ink among the curves
    series.insert(2, json!([INK.hex(), "2 3"]));
    json!({
        "page": PAGE.hex(),
        "ink": INK.hex(),
        "second": SECOND.hex(),
        "rule": RULE.hex(),
        "grid": GRID.hex(),
        "mark": HOT_GAS.hex(),
        "series": series,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const ENGINE: [(&str, Colour); 5] = [
        ("cylinder", CYLINDER),
        ("hot gas", HOT_GAS),
        ("fresh gas", FRESH_GAS),
        ("exhaust", EXHAUST),
        ("crankcase", CRANKCASE),
    ];

    /// Linear light of sRGB, IEC 61966-2-1.
    fn linear(colour: Colour) -> [f64; 3] {
        [colour.0, colour.1, colour.2].map(|c| {
            let c = f64::from(c) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        })
    }

    /// Luminance contrast, WCAG 2.1.
    fn contrast(a: Colour, b: Colour) -> f64 {
        let luminance = |c: Colour| {
            let [r, g, b] = linear(c);
            0.2126 * r + 0.7152 * g + 0.0722 * b + 0.05
        };
        let (a, b) = (luminance(a), luminance(b));
        a.max(b) / a.min(b)
    }

    /// CIE 1976 L*a*b* under D65 of linear light.
    fn lab([r, g, b]: [f64; 3]) -> [f64; 3] {
        let f = |t: f64| {
            if t > 216.0 / 24389.0 { t.cbrt() } else { (24389.0 / 27.0 * t + 16.0) / 116.0 }
        };
        let x = f((0.412_456 * r + 0.357_576 * g + 0.180_438 * b) / 0.950_47);
        let y = f(0.212_673 * r + 0.715_152 * g + 0.072_175 * b);
        let z = f((0.019_334 * r + 0.119_192 * g + 0.950_304 * b) / 1.088_83);
        [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
    }

    /// What a deuteranope sees. Machado, Oliveira and Fernandes (2009), "A physiologically-based model for
    /// simulation of color vision deficiency", IEEE Trans. Visualization and Computer Graphics 15(6),
    /// 1291–1298; matrix for deuteranomaly of severity 1.0, on linear light.
    fn deuteranope([r, g, b]: [f64; 3]) -> [f64; 3] {
        const SEEN: [[f64; 3]; 3] = [
            [0.367_322, 0.860_646, -0.227_968],
            [0.280_085, 0.672_501, 0.047_413],
            [-0.011_820, 0.042_940, 0.968_881],
        ];
        SEEN.map(|row| (row[0] * r + row[1] * g + row[2] * b).clamp(0.0, 1.0))
    }

    fn apart(a: [f64; 3], b: [f64; 3]) -> f64 {
        a.iter().zip(b).map(|(x, y)| (x - y).powi(2)).sum::<f64>().sqrt()
    }

    #[test]
    fn the_measures_are_the_published_ones() {
        let (white, black, red) = (PAGE, INK, Colour(255, 0, 0));
        // black on white has the largest contrast there is, 21 to 1 (WCAG 2.1)
        assert!((contrast(white, black) - 21.0).abs() < 1e-9);
        // L*a*b* of sRGB red under D65: 53.24, 80.09, 67.20 (Lindbloom's calculator)
        let found = lab(linear(red));
        assert!(apart(found, [53.24, 80.09, 67.20]) < 0.05, "{found:?}");
        // grey stays grey to a deuteranope, and red comes near to a green of some lightness
        let grey = deuteranope(linear(Colour(128, 128, 128)));
        assert!(grey.iter().all(|c| (c - grey[0]).abs() < 1e-5), "{grey:?}");
        let [r, g, _] = deuteranope(linear(red));
        assert!(r - g < 0.1, "{r} {g}");
    }

    #[test]
    fn colours_stay_apart_in_grey_for_deuteranopes_and_on_the_page() {
        for (i, (name, a)) in ENGINE.iter().enumerate() {
            // WCAG 2.1, 1.4.11: graphics have at least 3 to 1 to what is beside them
            let page = contrast(*a, PAGE);
            println!("{name} {}: {page:.2} to 1 on the page", a.hex());
            assert!(page >= 3.0, "{name} on the page: {page:.2}");
            for (other, b) in &ENGINE[..i] {
                let grey = contrast(*a, *b);
                let (x, y) = (linear(*a), linear(*b));
                let seen = apart(lab(x), lab(y));
                let confused = apart(lab(deuteranope(x)), lab(deuteranope(y)));
                println!("  {other}: {grey:.2} in grey, {seen:.0} seen, {confused:.0} deuteranope");
                // a third more light, and more than ten times what is just noticed (about 2.3)
                assert!(grey >= 1.35, "{name} and {other} in grey: {grey:.2}");
                assert!(confused >= 25.0, "{name} and {other} to a deuteranope: {confused:.0}");
            }
        }
    }

    #[test]
    fn curves_that_stand_for_nothing_differ_in_colour_and_in_dash() {
        for (i, a) in SERIES.iter().enumerate() {
            assert!(SERIES[..i].iter().all(|b| a.0 != b.0 && a.1 != b.1));
        }
    }

    #[test]
    fn no_other_place_names_a_colour() {
        let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
        let mut folders = vec![root.join("src"), root.join("data")];
        let mut found = Vec::new();
        while let Some(folder) = folders.pop() {
            for entry in std::fs::read_dir(folder).unwrap() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    folders.push(path);
                    continue;
                }
                let own = path.ends_with("present/style.rs");
                let Ok(text) = std::fs::read_to_string(&path) else { continue };
                for (number, line) in text.lines().enumerate().filter(|_| !own) {
                    // #abc or #aabbcc as a value
                    let named = line.split('#').skip(1).any(|rest| {
                        let digits: String =
                            rest.chars().take_while(char::is_ascii_alphanumeric).collect();
                        matches!(digits.len(), 3 | 6)
                            && digits.chars().all(|c| c.is_ascii_hexdigit())
                    });
                    if named && !line.trim_start().starts_with("//") {
                        found.push(format!("{}:{}: {line}", path.display(), number + 1));
                    }
                }
            }
        }
        assert!(found.is_empty(), "{}", found.join("\n"));
    }
}
