//! Sections as one page of HTML that needs nothing else.

use std::fmt::Write as _;

use super::template::Told;
use super::{Block, Picture, Table};
use crate::present::drawing::escape;

/// What a page consists of beside its sections.
pub(crate) struct Frame<'a> {
    /// What may run and be shown on it.
    pub(crate) policy: &'a str,
    /// Its style.
    pub(crate) style: &'a str,
    /// The script at its end, when all of it has been read.
    pub(crate) script: &'a str,
    /// Its title.
    pub(crate) title: &'a str,
}

/// Style behind every other: whoever cuts metal reads the cautions and what the model leaves out, whatever a
/// template makes of the rest. What sections inherit begins anew there.
const ALWAYS_SHOWN: &str = "html,body{display:block!important;visibility:visible!important;opacity:1!important;width:auto!important;min-width:20rem!important;height:auto!important;max-height:none!important;overflow:visible!important}
#cautions,#model{all:initial!important;display:block!important;margin:2rem 0!important;font:16px/1.5 'Noto Sans',system-ui,sans-serif!important;color:black!important;background:white!important;overflow-wrap:anywhere!important}
#cautions *,#model *{all:revert!important}
#cautions h2,#model h2{font-size:1.25rem!important;border-bottom:1px solid gray!important}
";

/// Sections as a page.
pub(crate) fn page(frame: &Frame, told: &[Told]) -> String {
    let Frame { policy, style, script, title } = frame;
    let title = escape(title);
    let mut out = format!(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width,initial-scale=1\"><meta http-equiv=\"Content-Security-Policy\" content=\"{policy}\"><title>{title}</title><style>{style}</style><style>{ALWAYS_SHOWN}</style></head><body>\n<h1>{title}</h1>\n"
    );
    for section in told {
        let live = matches!(section.blocks, [Block::Live(_)]);
        // what only answers stays hidden until its script has found it
        let hidden = if live { " hidden" } else { "" };
        let _ = match section.key {
            "" => writeln!(out, "<section>"),
            key => writeln!(out, "<section id=\"{key}\"{hidden}>"),
        };
        if !section.heading.is_empty() {
            let _ = writeln!(out, "<h2>{}</h2>", escape(&section.heading));
        }
        for words in &section.texts {
            let _ = writeln!(out, "<p>{}</p>", escape(words));
        }
        section.blocks.iter().for_each(|b| block(&mut out, b));
        out.push_str("</section>\n");
    }
    let _ = writeln!(out, "<script>{script}</script>\n</body></html>");
    out
}

fn block(out: &mut String, block: &Block) {
    let _ = match block {
        Block::Words(words) => writeln!(out, "<p>{}</p>", escape(words)),
        Block::Note(words) => writeln!(out, "<p class=\"note\">{}</p>", escape(words)),
        Block::Heading(words) => writeln!(out, "<h3>{}</h3>", escape(words)),
        Block::Command(words) => writeln!(out, "<pre><code>{}</code></pre>", escape(words)),
        Block::List(points) => {
            out.push_str("<ul>\n");
            for point in points {
                let _ = writeln!(out, "<li>{}</li>", escape(point));
            }
            writeln!(out, "</ul>")
        }
        Block::Table(table) => return self::table(out, table),
        Block::Picture(picture) if picture.on_page => return figure(out, picture),
        Block::Picture(_) => Ok(()),
        Block::Live(markup) => writeln!(out, "{markup}"),
    };
}

fn table(out: &mut String, table: &Table) {
    let class = if table.wordy { " class=\"words\"" } else { "" };
    let _ = write!(out, "<div class=\"wide\"><table{class}><tr>");
    for head in &table.head {
        let _ = write!(out, "<th>{}</th>", escape(head));
    }
    out.push_str("</tr>\n");
    for row in &table.rows {
        out.push_str(if row.strong { "<tr class=\"broken\">" } else { "<tr>" });
        for (place, cell) in row.cells.iter().enumerate() {
            let class = if table.loud == Some(place) { " class=\"loud\"" } else { "" };
            // on a narrow screen each cell stands under the last, with its head before it
            let head = match table.head.get(place).filter(|_| table.wordy) {
                Some(head) => format!(" data-head=\"{}\"", escape(head)),
                None => String::new(),
            };
            let _ = write!(out, "<td{class}{head}>{}</td>", escape(cell));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</table></div>\n");
}

fn figure(out: &mut String, picture: &Picture) {
    // inline pictures take their size from the page
    let body = picture.svg.find("<svg").map_or(picture.svg.as_str(), |at| &picture.svg[at + 4..]);
    let words = escape(&picture.words);
    let _ = writeln!(out, "<figure><svg role=\"img\" aria-label=\"{words}\"{body}</figure>");
}
