//! A4 pages to print: headings, wrapped words, tables, drawings.

use crate::present::drawing::{Drawing, Line, Type};
use crate::present::style::{INK, SECOND, print};

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
