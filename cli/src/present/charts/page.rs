//! A4 pages to print: headings, wrapped words, tables, drawings.

use std::fmt::Write as _;

use crate::present::drawing::{Drawing, Line, Type, escape};
use crate::present::style::{INK, PAGE, SECOND, print};

/// A4 [mm].
pub(crate) const WIDTH: f64 = 210.0;
/// A4 [mm].
pub(crate) const HEIGHT: f64 = 297.0;
const MARGIN: f64 = 15.0;

/// Pages being filled from top to bottom.
pub(crate) struct Pages {
    done: Vec<Drawing>,
    body: Drawing,
    /// Nothing stands on the page yet.
    empty: bool,
    y: f64,
    footer: String,
}

/// A chart with the cautions that stand beside every advised cut, on a strip under it. What is in the picture
/// keeps its place and scale.
pub(crate) fn cautioned(svg: &str) -> String {
    let same = || svg.to_owned();
    let (Some(open), Some(close)) = (svg.find('>'), svg.rfind("</svg>")) else { return same() };
    let head = &svg[..open];
    let attribute = |name: &str| {
        let begins = head.find(&format!(" {name}=\""))? + name.len() + 3;
        let ends = begins + head[begins..].find('"')?;
        Some((begins, ends))
    };
    let (Some(tall), Some(view)) = (attribute("height"), attribute("viewBox")) else {
        return same();
    };
    let numbers: Vec<f64> =
        head[view.0..view.1].split_whitespace().filter_map(|n| n.parse().ok()).collect();
    let [x, y, width, height] = numbers[..] else { return same() };
    let size = 0.0145 * width;
    // about the width of a letter of this size
    let letters = (0.92 * width / (0.53 * size)) as usize;
    let words = freshcharge_sim::studies::beside_a_cut();
    let lines = textwrap::wrap(&words, letters);
    let strip = 1.35 * size * (lines.len() as f64 + 1.0);
    let told = &head[tall.0..tall.1];
    let unit = told.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.');
    let Ok(old) = told[..told.len() - unit.len()].parse::<f64>() else { return same() };
    let mut edits = [
        (tall, format!("{:.3}{unit}", old * (height + strip) / height)),
        (view, format!("{x} {y} {width} {:.3}", height + strip)),
    ];
    edits.sort_by_key(|e| std::cmp::Reverse(e.0.0));
    let mut head = head.to_owned();
    for ((begins, ends), text) in edits {
        head.replace_range(begins..ends, &text);
    }
    let mut under = format!(
        "<rect x=\"{x}\" y=\"{:.3}\" width=\"{width}\" height=\"{strip:.3}\" fill=\"{}\"/>\n",
        y + height,
        PAGE.hex()
    );
    for (i, line) in lines.iter().enumerate() {
        let _ = writeln!(
            under,
            "<text x=\"{:.3}\" y=\"{:.3}\" font-size=\"{size:.3}\" font-family=\"Noto Sans, sans-serif\" fill=\"{}\">{}</text>",
            x + 0.04 * width,
            y + height + 1.35 * size * (i as f64 + 0.9),
            INK.hex(),
            escape(line)
        );
    }
    format!("{head}{}{under}{}", &svg[open..close], &svg[close..])
}

/// A drawing with the cautions that stand beside every advised cut, on a strip under it. What is in the drawing
/// keeps its place and scale.
pub(crate) fn with_cautions(mut drawing: Drawing) -> Drawing {
    let (width, height) = drawing.size();
    let size = 0.0145 * width;
    // about the width of a letter of this size
    let letters = (0.92 * width / (0.53 * size)) as usize;
    let words = freshcharge_sim::studies::beside_a_cut();
    let lines = textwrap::wrap(&words, letters);
    drawing.grow(1.35 * size * (lines.len() as f64 + 1.0));
    for (i, line) in lines.iter().enumerate() {
        let place = (0.04 * width, height + 1.35 * size * (i as f64 + 0.9));
        drawing.words(place, line, Type::new(size, INK));
    }
    drawing
}

impl Pages {
    /// Nothing yet; `footer` stands at the foot of every page.
    pub(crate) fn new(footer: &str) -> Self {
        let (done, body) = (Vec::new(), Drawing::new(WIDTH, HEIGHT));
        Self { done, body, empty: true, y: MARGIN, footer: footer.to_owned() }
    }

    fn room(&mut self, height: f64) {
        if self.y + height > HEIGHT - MARGIN - 6.0 && self.y > MARGIN {
            self.turn();
        }
    }

    fn turn(&mut self) {
        let body = std::mem::replace(&mut self.body, Drawing::new(WIDTH, HEIGHT));
        self.done.push(body);
        self.empty = true;
        self.y = MARGIN;
    }

    fn line(&mut self, x: f64, size: f64, bold: bool, words: &str) {
        let set = Type::new(size, INK);
        self.body.words((x, self.y), words, if bold { set.bold() } else { set });
        self.empty = false;
    }

    /// A heading; the first is the title.
    pub(crate) fn heading(&mut self, words: &str) {
        let size = if self.done.is_empty() && self.empty { 6.0 } else { 4.4 };
        self.room(size * 4.0);
        self.y += size * 1.1;
        self.line(MARGIN, size, true, words);
        self.y += size * 0.55;
    }

    /// Words wrapped to the page.
    pub(crate) fn words(&mut self, words: &str) {
        const SIZE: f64 = 3.3;
        // about the width of a letter of this size
        let letters = ((WIDTH - 2.0 * MARGIN) / (SIZE * 0.53)) as usize;
        for line in textwrap::wrap(words, letters) {
            self.room(SIZE * 1.4);
            self.y += SIZE * 1.35;
            self.line(MARGIN, SIZE, false, &line);
        }
        self.y += 1.0;
    }

    /// A table: shares of the width, head, rows. Cells are wrapped.
    pub(crate) fn table(&mut self, shares: &[f64], head: &[&str], rows: &[Vec<String>]) {
        const SIZE: f64 = print::WORDS;
        let total: f64 = shares.iter().sum();
        let full = WIDTH - 2.0 * MARGIN;
        let widths: Vec<f64> = shares.iter().map(|s| s / total * full).collect();
        let head: Vec<String> = head.iter().map(|h| (*h).to_owned()).collect();
        for (i, row) in std::iter::once(&head).chain(rows).enumerate() {
            let cells: Vec<Vec<String>> = row
                .iter()
                .zip(&widths)
                .map(|(cell, w)| {
                    let letters = ((w - 2.0) / (SIZE * 0.54)).max(4.0) as usize;
                    textwrap::wrap(cell, letters).into_iter().map(|l| l.into_owned()).collect()
                })
                .collect();
            let lines = cells.iter().map(Vec::len).max().unwrap_or(1).max(1);
            let height = lines as f64 * SIZE * 1.3 + 1.6;
            self.room(height);
            let top = self.y;
            let mut x = MARGIN;
            for (cell, width) in cells.iter().zip(&widths) {
                for (l, line) in cell.iter().enumerate() {
                    self.y = top + 0.9 + SIZE * (0.95 + 1.3 * l as f64);
                    self.line(x + 1.0, SIZE, i == 0, line);
                }
                let line = Line::new(SECOND, print::FINE);
                self.body.rectangle((x, top), (*width, height), line);
                x += width;
            }
            self.y = top + height;
        }
        self.y += 2.0;
    }

    /// A drawing at the left edge.
    pub(crate) fn drawing(&mut self, drawing: Drawing) {
        let height = drawing.size().1;
        self.room(height);
        self.body.add(drawing, (MARGIN, self.y));
        self.empty = false;
        self.y += height;
    }

    /// The pages.
    pub(crate) fn finish(mut self) -> Vec<Drawing> {
        self.turn();
        let count = self.done.len();
        for (i, page) in self.done.iter_mut().enumerate() {
            let words = format!("{} · page {} of {count}", self.footer, i + 1);
            page.words((MARGIN, HEIGHT - MARGIN * 0.7), &words, Type::new(print::NAME, SECOND));
        }
        self.done
    }
}
