//! Faults of a file with the line they stand in and a caret under it.

use std::fmt::Write;
use std::path::Path;

use freshcharge_sim::forms::{Faults, SHOWN, displayable, quoted};

/// Widest piece of a line that is shown [characters].
const WIDTH: usize = 100;
/// What is shown of a long line before a fault.
const BEFORE: usize = 40;

/// All faults as one report: the first fifty, and how many more there are.
pub(crate) fn report(path: &Path, text: &str, faults: &Faults) -> String {
    let file = match path {
        path if path == Path::new("-") => "standard input".to_owned(),
        path => displayable(&path.to_string_lossy()),
    };
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let bold = anstyle::Style::new().bold();
    let red = anstyle::Style::new().fg_color(Some(anstyle::AnsiColor::Red.into()));
    let mut out = String::new();
    for fault in faults.iter().take(SHOWN) {
        let found =
            if fault.found.is_empty() { String::new() } else { format!(" = {}", fault.found) };
        let key = if fault.key.is_empty() { "the file".to_owned() } else { quoted(&fault.key) };
        // writing to a String cannot fail
        let _ = writeln!(
            out,
            "{file}:{}:{}: {bold}{key}{found}{bold:#}: {}",
            fault.line, fault.column, fault.remedy
        );
        if let Some(line) = text.lines().nth(fault.line - 1) {
            let (shown, before) = piece(line, fault.column);
            let number = fault.line.to_string();
            let left = shown.chars().count().saturating_sub(before).max(1);
            let carets = "^".repeat(fault.span.len().clamp(1, left));
            let _ = writeln!(out, "  {number} | {shown}");
            let indent = " ".repeat(number.len() + 5 + before);
            let _ = writeln!(out, "{indent}{red}{carets}{red:#}");
        }
    }
    let count = faults.count();
    if count > SHOWN {
        let _ = writeln!(out, "and {} more", count - SHOWN);
    }
    let noun = if count == 1 { "fault" } else { "faults" };
    let _ = writeln!(out, "{count} {noun} in {file}; nothing was run.");
    out
}

/// A line as it is shown, long ones around a column, with what stands before that [characters].
fn piece(line: &str, column: usize) -> (String, usize) {
    let shown = |c: char| if displayable(c.encode_utf8(&mut [0; 4])).contains(c) { c } else { ' ' };
    if line.len() <= WIDTH || line.chars().nth(WIDTH).is_none() {
        return (line.chars().map(shown).collect(), column - 1);
    }
    let from = (column - 1).saturating_sub(BEFORE);
    // columns of very long lines are bytes
    let mut rest = line.len().min(from);
    while !line.is_char_boundary(rest) {
        rest -= 1;
    }
    let start = match line.char_indices().nth(from).filter(|_| line.len() <= 4000) {
        Some((at, _)) => at,
        None => rest,
    };
    let rest = line[start..].chars();
    let mut piece: String = if from > 0 { "…".to_owned() } else { String::new() };
    piece.extend(rest.take(WIDTH).map(shown));
    if line.len() > from + WIDTH {
        piece.push('…');
    }
    (piece, column - 1 - from + usize::from(from > 0))
}

/// What to write where a line or an argument gives a number with a decimal comma.
pub(crate) fn decimal_comma(line: &str) -> Option<String> {
    line.split('=').skip(1).find_map(|value| {
        let (before, after) = value.trim_start().split_once(',')?;
        let digits = after.bytes().take_while(u8::is_ascii_digit).count();
        let whole = before.trim_start_matches(['+', '-']);
        let number = !whole.is_empty() && whole.bytes().all(|b| b.is_ascii_digit()) && digits > 0;
        number.then(|| format!("write decimals with a point: {before}.{}", &after[..digits]))
    })
}
