//! A drawing as SVG.

use std::fmt::Write as _;

use super::raster::FONT;
use super::{Anchor, Drawing, Finish, Frame, Point, Shape, Type, Vertex};
use crate::present::style::PAGE;

/// True for a character that turns the direction of what follows.
pub(crate) fn turns(c: char) -> bool {
    matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}' | '\u{61c}')
}

/// Characters that mean something in XML, told so that they do not; control characters left out.
pub(crate) fn escape(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    for c in words.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // direction marks would turn what follows around
            c if turns(c) => {}
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// The drawing on a white sheet.
pub(super) fn of(drawing: &Drawing) -> String {
    let (width, height) = drawing.size();
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width:.3}mm\" height=\"{height:.3}mm\" viewBox=\"0 0 {width:.3} {height:.3}\" font-family=\"{FONT}, sans-serif\">\n<rect width=\"{width:.3}\" height=\"{height:.3}\" fill=\"{}\"/>\n",
        PAGE.hex()
    );
    let mut clip = None;
    let mut clips = 0;
    for item in &drawing.items {
        if item.clip != clip {
            if clip.is_some() {
                out.push_str("</g>\n");
            }
            if let Some(frame) = item.clip {
                clips += 1;
                clipped(&mut out, clips, frame);
            }
            clip = item.clip;
        }
        match &item.shape {
            Shape::Outline { vertices, closed, finish } => {
                outline(&mut out, vertices, *closed, finish);
            }
            Shape::Words { at, words, set } => text(&mut out, *at, words, set),
        }
    }
    if clip.is_some() {
        out.push_str("</g>\n");
    }
    out.push_str("</svg>\n");
    out
}

/// Opens a group of which only what is inside the frame is seen.
fn clipped(out: &mut String, number: u32, ((x, y), (width, height)): Frame) {
    // writing to a String cannot fail
    let _ = writeln!(
        out,
        "<clipPath id=\"clip{number}\"><rect x=\"{x:.3}\" y=\"{y:.3}\" width=\"{width:.3}\" height=\"{height:.3}\"/></clipPath>\n<g clip-path=\"url(#clip{number})\">"
    );
}

fn outline(out: &mut String, vertices: &[Vertex], closed: bool, finish: &Finish) {
    out.push_str("<path d=\"");
    let mut before: Option<Vertex> = None;
    let round =
        vertices.first().filter(|_| closed && vertices.last().is_some_and(|v| v.bulge != 0.0));
    for vertex in vertices.iter().chain(round) {
        let (x, y) = vertex.at;
        let _ = match before {
            None => write!(out, "M {x:.3} {y:.3}"),
            Some(from) if from.bulge == 0.0 => write!(out, " L {x:.3} {y:.3}"),
            Some(from) => {
                let b = from.bulge;
                let chord = (x - from.at.0).hypot(y - from.at.1);
                let radius = 0.25 * chord * (1.0 + b * b) / b.abs();
                let (large, clockwise) = (u8::from(b.abs() > 1.0 + 1e-9), u8::from(b > 0.0));
                write!(out, " A {radius:.3} {radius:.3} 0 {large} {clockwise} {x:.3} {y:.3}")
            }
        };
        before = Some(*vertex);
    }
    out.push_str(if closed { " Z\"" } else { "\"" });
    let _ = match finish.fill {
        None => write!(out, " fill=\"none\""),
        Some((colour, 1.0)) => write!(out, " fill=\"{}\"", colour.hex()),
        Some((colour, opacity)) => {
            write!(out, " fill=\"{}\" fill-opacity=\"{opacity}\"", colour.hex())
        }
    };
    if let Some(line) = finish.line {
        let _ = write!(out, " stroke=\"{}\" stroke-width=\"{}\"", line.colour.hex(), line.weight);
        if let Some((on, off)) = line.dash {
            let _ = write!(out, " stroke-dasharray=\"{on} {off}\"");
        }
        if line.opacity < 1.0 {
            let _ = write!(out, " stroke-opacity=\"{}\"", line.opacity);
        }
    }
    out.push_str("/>\n");
}

fn text(out: &mut String, (x, y): Point, words: &str, set: &Type) {
    let place = if set.turn == 0.0 {
        format!("x=\"{x:.3}\" y=\"{y:.3}\"")
    } else {
        format!("transform=\"translate({x:.3} {y:.3}) rotate({:.3})\"", set.turn)
    };
    let anchor = match set.anchor {
        Anchor::Start => "",
        Anchor::Middle => " text-anchor=\"middle\"",
        Anchor::End => " text-anchor=\"end\"",
    };
    let bold = if set.bold { " font-weight=\"bold\"" } else { "" };
    let _ = writeln!(
        out,
        "<text {place} font-size=\"{}\" fill=\"{}\"{anchor}{bold}>{}</text>",
        set.size,
        set.colour.hex(),
        escape(words)
    );
}
