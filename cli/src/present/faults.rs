//! Faults of an engine file with the line they stand in and a caret under it.

use std::fmt::Write;
use std::path::Path;

use freshcharge_sim::scenario::Fault;

/// All faults as one report.
pub(crate) fn report(path: &Path, text: &str, faults: &[Fault]) -> String {
    let file =
        if path == Path::new("-") { "standard input".into() } else { path.to_string_lossy() };
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let bold = anstyle::Style::new().bold();
    let red = anstyle::Style::new().fg_color(Some(anstyle::AnsiColor::Red.into()));
    let mut out = String::new();
    for fault in faults {
        let found =
            if fault.found.is_empty() { String::new() } else { format!(" = {}", fault.found) };
        let key = if fault.key.is_empty() { "the file" } else { &fault.key };
        // writing to a String cannot fail
        let _ = writeln!(
            out,
            "{file}:{}:{}: {bold}{key}{found}{bold:#}: {}",
            fault.line, fault.column, fault.remedy
        );
        if let Some(line) = text.lines().nth(fault.line - 1).filter(|l| l.len() < 200) {
            let number = fault.line.to_string();
            let width =
                fault.span.len().clamp(1, line.len().saturating_sub(fault.column - 1).max(1));
            let carets = "^".repeat(width);
            let _ = writeln!(out, "  {number} | {line}");
            let indent = " ".repeat(number.len() + 5 + fault.column - 1);
            let _ = writeln!(out, "{indent}{red}{carets}{red:#}");
        }
    }
    let count = faults.len();
    let noun = if count == 1 { "fault" } else { "faults" };
    let _ = writeln!(out, "{count} {noun} in {file}; nothing was run.");
    out
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

/// What to write instead of a line that is no TOML: the parser's words, unless the slip is a common one.
pub(crate) fn syntax_remedy(text: &str, error: &toml::de::Error) -> String {
    let start = error.span().map_or(0, |s| s.start.min(text.len()));
    let line = text.as_bytes()[..start].iter().filter(|b| **b == b'\n').count();
    let comma = text.lines().nth(line).and_then(decimal_comma);
    comma.unwrap_or_else(|| error.message().replace('\n', " "))
}
