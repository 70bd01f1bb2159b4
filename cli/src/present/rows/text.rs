//! A row as text: numbers that read back to the same bits, and a check sum at its end.

/// A number with its shortest digits; what there is not is an empty cell.
pub(crate) fn number(out: &mut Vec<u8>, value: Option<f64>) {
    if let Some(value) = value {
        if value.is_finite() {
            let mut buffer = ryu::Buffer::new();
            let text = buffer.format_finite(value);
            out.extend_from_slice(text.strip_suffix(".0").unwrap_or(text).as_bytes());
        } else {
            out.extend_from_slice(value.to_string().as_bytes());
        }
    }
}

/// Words in one line, quoted where a comma or a quote stands in them.
pub(crate) fn words(out: &mut Vec<u8>, text: &str) {
    let text = text.replace(['\n', '\r'], " ");
    if text.contains([',', '"']) {
        out.push(b'"');
        out.extend_from_slice(text.replace('"', "\"\"").as_bytes());
        out.push(b'"');
    } else {
        out.extend_from_slice(text.as_bytes());
    }
}

/// CRC-32 (polynomial 04C11DB7 reflected, as in ISO 3309) of the bytes.
pub(crate) fn check_sum(bytes: &[u8]) -> u32 {
    crc32fast::hash(bytes)
}

/// The case number of a whole and undamaged line (without its line end).
pub(crate) fn case_of(line: &[u8]) -> Option<u64> {
    let comma = line.len().checked_sub(9)?;
    let (row, sum) = line.split_at(comma);
    let sum = std::str::from_utf8(sum.strip_prefix(b",")?).ok()?;
    (u32::from_str_radix(sum, 16).ok()? == check_sum(row)).then_some(())?;
    let first = row.split(|b| *b == b',').next()?;
    std::str::from_utf8(first).ok()?.parse().ok()
}

/// Cells of a line.
pub(crate) fn cells(line: &str) -> Vec<String> {
    if !line.contains('"') {
        return line.split(',').map(str::to_owned).collect();
    }
    let mut cells = vec![String::new()];
    let mut quoted = false;
    let mut letters = line.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '"' if quoted && letters.peek() == Some(&'"') => {
                letters.next();
                if let Some(cell) = cells.last_mut() {
                    cell.push('"');
                }
            }
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(String::new()),
            other => {
                if let Some(cell) = cells.last_mut() {
                    cell.push(other);
                }
            }
        }
    }
    cells
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_check_sum_is_the_published_one_and_sees_one_digit() {
        // the check value of CRC-32 in every catalogue: nine digits give CBF43926
        assert_eq!(check_sum(b"123456789"), 0xCBF4_3926);
        let line =
            format!("17,0.5,3000,settled,,1.25,{:08x}", check_sum(b"17,0.5,3000,settled,,1.25"));
        assert_eq!(case_of(line.as_bytes()), Some(17));
        assert_eq!(case_of(line.replace("0.5", "0.6").as_bytes()), None);
        assert_eq!(case_of(&line.as_bytes()[..line.len() - 1]), None);
        assert_eq!(case_of(b""), None);
    }

    #[test]
    fn cells_read_back_as_written() {
        let mut out = Vec::new();
        words(&mut out, "a, \"b\"\nc");
        out.push(b',');
        number(&mut out, Some(0.1 + 0.2));
        out.push(b',');
        number(&mut out, None);
        out.push(b',');
        number(&mut out, Some(3000.0));
        let text = String::from_utf8(out).unwrap();
        assert_eq!(cells(&text), ["a, \"b\" c", "0.30000000000000004", "", "3000"]);
    }
}
