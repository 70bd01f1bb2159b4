//! SVG of ours as PNG, with the embedded fonts only, so that every machine draws the same.

use std::sync::Arc;

use resvg::{tiny_skia, usvg};

use crate::present::DrawError;

/// The font that everything is set in.
pub(crate) const FONT: &str = "Noto Sans";
const REGULAR: &[u8] = include_bytes!("../../../fonts/NotoSans-Regular-sub.ttf");
const BOLD: &[u8] = include_bytes!("../../../fonts/NotoSans-Bold-sub.ttf");

/// The font's file, in bold or not.
pub(crate) fn font(bold: bool) -> &'static [u8] {
    if bold { BOLD } else { REGULAR }
}

/// PNG of a picture at a width [px]; its height follows.
pub(crate) fn png(name: &str, svg: &str, width: u32) -> Result<Vec<u8>, DrawError> {
    let fail = |why: String| DrawError::Picture { what: name.to_owned(), why };
    let tree = tree(name, svg)?;
    let scale = width as f32 / tree.size().width();
    let height = (tree.size().height() * scale).round() as u32;
    let mut pixels = tiny_skia::Pixmap::new(width, height)
        .ok_or_else(|| fail(format!("no picture of {width} by {height}")))?;
    let transform = tiny_skia::Transform::from_scale(scale, scale);
    resvg::render(&tree, transform, &mut pixels.as_mut());
    pixels.encode_png().map_err(|e| fail(e.to_string()))
}

/// A picture read into shapes, its words as outlines of letters.
pub(super) fn tree(name: &str, svg: &str) -> Result<usvg::Tree, DrawError> {
    let mut fonts = usvg::fontdb::Database::new();
    fonts.load_font_data(REGULAR.to_vec());
    fonts.load_font_data(BOLD.to_vec());
    let options = usvg::Options { fontdb: Arc::new(fonts), ..usvg::Options::default() };
    usvg::Tree::from_str(svg, &options)
        .map_err(|e| DrawError::Picture { what: name.to_owned(), why: e.to_string() })
}
