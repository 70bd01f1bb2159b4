//! What stands on layers of a drawing as DXF (R12, text): millimetres, rightward and upward from the zero.

use std::fmt::Write as _;

use super::{Anchor, Drawing, Point, Shape, Type, Vertex, turns};

/// Height of a capital letter over the size of type, of the font that drawings are set in.
const CAPITAL: f64 = 0.714;

/// The drawing's layers.
pub(super) fn of(drawing: &Drawing) -> String {
    let items = drawing.items.iter().filter_map(|item| Some((item.layer?, &item.shape)));
    let mut layers: Vec<&str> = items.clone().map(|(layer, _)| layer).collect();
    layers.sort_unstable();
    layers.dedup();
    let mut out = String::from(
        "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1009\n9\n$INSUNITS\n70\n4\n9\n$MEASUREMENT\n70\n1\n0\nENDSEC\n0\nSECTION\n2\nTABLES\n0\nTABLE\n2\nLAYER\n",
    );
    // writing to a String cannot fail
    let _ = writeln!(out, "70\n{}", layers.len());
    for (i, layer) in layers.iter().enumerate() {
        let _ = writeln!(out, "0\nLAYER\n2\n{layer}\n70\n0\n62\n{}\n6\nCONTINUOUS", i % 6 + 1);
    }
    out.push_str("0\nENDTAB\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n");
    let to = |p: Point| (p.0 - drawing.origin.0, drawing.origin.1 - p.1);
    for (layer, shape) in items {
        match shape {
            Shape::Outline { vertices, closed, .. } => {
                polyline(&mut out, layer, vertices, *closed, to);
            }
            Shape::Words { at, words, set } => text(&mut out, layer, to(*at), words, set),
        }
    }
    out.push_str("0\nENDSEC\n0\nEOF\n");
    out
}

fn polyline(
    out: &mut String,
    layer: &str,
    vertices: &[Vertex],
    closed: bool,
    to: impl Fn(Point) -> Point,
) {
    let flag = u8::from(closed);
    let _ = writeln!(out, "0\nPOLYLINE\n8\n{layer}\n66\n1\n70\n{flag}\n10\n0.0\n20\n0.0\n30\n0.0");
    for vertex in vertices {
        let (x, y) = to(vertex.at);
        let _ = writeln!(out, "0\nVERTEX\n8\n{layer}\n10\n{x:.6}\n20\n{y:.6}\n30\n0.0");
        if vertex.bulge != 0.0 {
            // counter-clockwise is positive here
            let _ = writeln!(out, "42\n{:.9}", -vertex.bulge);
        }
    }
    let _ = writeln!(out, "0\nSEQEND\n8\n{layer}");
}

fn text(out: &mut String, layer: &str, (x, y): Point, words: &str, set: &Type) {
    let plain = |c: char| match c {
        '°' => "%%d".to_owned(),
        c if c.is_control() => " ".to_owned(),
        c if turns(c) => String::new(),
        c if c.is_ascii() => c.to_string(),
        // this form knows no other letters
        _ => "?".to_owned(),
    };
    let words: String = words.chars().map(plain).collect();
    let anchor = match set.anchor {
        Anchor::Start => 0,
        Anchor::Middle => 1,
        Anchor::End => 2,
    };
    let _ = writeln!(
        out,
        "0\nTEXT\n8\n{layer}\n10\n{x:.6}\n20\n{y:.6}\n30\n0.0\n40\n{:.3}\n1\n{words}\n50\n{:.3}\n72\n{anchor}\n11\n{x:.6}\n21\n{y:.6}\n31\n0.0",
        CAPITAL * set.size,
        -set.turn
    );
}
