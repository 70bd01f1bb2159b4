//! Sections as Markdown with pictures beside it, for a forum.

use std::fmt::Write as _;
use std::path::Path;

use rayon::prelude::*;

use super::template::Told;
use super::{Block, Picture, Table};
use crate::files::{self, Failure};
use crate::present::drawing::{self, turns};

/// Width of the pictures [px].
const WIDTH: u32 = 1200;

/// Words in which nothing means anything to Markdown or HTML.
pub(crate) fn plain(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    for c in words.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            c if turns(c) => {}
            c if c.is_control() => out.push(' '),
            '\\' | '`' | '*' | '_' | '[' | ']' | '#' | '|' | '~' => {
                out.push('\\');
                out.push(c);
            }
            // a link's address follows its closing bracket
            '(' if out.ends_with(']') => out.push_str("\\("),
            c => out.push(c),
        }
    }
    out
}

/// Writes a file of Markdown and its pictures into a folder; gives how many pictures there are.
pub(crate) fn write(
    folder: &Path,
    file: &str,
    title: &str,
    told: &[Told],
) -> Result<usize, Failure> {
    files::make_folder(folder)?;
    let mut out = format!("# {}\n\n", plain(title));
    let mut pictures: Vec<&Picture> = Vec::new();
    for section in told {
        let live = |b: &Block| matches!(b, Block::Live(_));
        if section.texts.is_empty() && section.blocks.iter().all(live) {
            continue;
        }
        if !section.heading.is_empty() {
            let _ = writeln!(out, "## {}\n", plain(&section.heading));
        }
        for words in &section.texts {
            let _ = writeln!(out, "{}\n", plain(words));
        }
        section.blocks.iter().for_each(|b| block(&mut out, b, &mut pictures));
    }
    files::write(&folder.join(file), out.as_bytes())?;
    pictures.par_iter().try_for_each(|p| {
        files::write(
            &folder.join(format!("{}.png", p.name)),
            &drawing::png(&p.name, &p.svg, WIDTH)?,
        )
    })?;
    Ok(pictures.len())
}

fn block<'a>(out: &mut String, block: &'a Block, pictures: &mut Vec<&'a Picture>) {
    let _ = match block {
        Block::Words(words) | Block::Note(words) => writeln!(out, "{}\n", plain(words)),
        Block::Heading(words) => writeln!(out, "### {}\n", plain(words)),
        // four spaces make it code, in which nothing means anything
        Block::Command(words) => {
            let one: String = words.chars().filter(|c| !turns(*c) && !c.is_control()).collect();
            writeln!(out, "    {one}\n")
        }
        Block::List(points) => {
            for point in points {
                let _ = writeln!(out, "- {}", plain(point));
            }
            writeln!(out)
        }
        Block::Table(table) => return self::table(out, table),
        Block::Picture(picture) if picture.in_post => {
            pictures.push(picture);
            writeln!(out, "![{}]({}.png)\n", plain(&picture.words), picture.name)
        }
        Block::Picture(_) | Block::Live(_) => Ok(()),
    };
}

fn table(out: &mut String, table: &Table) {
    let cell = |cell: &String, loud: bool| {
        if loud && !cell.is_empty() { format!("**{}**", plain(cell)) } else { plain(cell) }
    };
    let head: Vec<String> = table.head.iter().map(|h| plain(h)).collect();
    let _ = writeln!(out, "| {} |\n|{}", head.join(" | "), "---|".repeat(head.len()));
    for row in &table.rows {
        let told = |(place, words)| cell(words, row.strong || table.loud == Some(place));
        let cells: Vec<String> = row.cells.iter().enumerate().map(told).collect();
        let _ = writeln!(out, "| {} |", cells.join(" | "));
    }
    out.push('\n');
}
