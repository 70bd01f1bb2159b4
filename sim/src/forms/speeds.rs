//! Speeds as written on a command line or in a file.

use super::fault::quoted;

/// Speeds from `"from:to:step"` or `"a,b,c"` [1/min].
///
/// # Errors
/// What to write instead.
pub fn parse_speeds(text: &str) -> Result<Vec<f64>, String> {
    let number =
        |part: &str| {
            part.trim().parse::<f64>().ok().filter(|v| (100.0..=30_000.0).contains(v)).ok_or_else(
                || format!("{:?} is not a speed between 100 and 30000/min", quoted(part)),
            )
        };
    if !text.contains(':') {
        return text.split(',').map(number).collect();
    }
    let parts: Vec<&str> = text.split(':').collect();
    let [from, to, step] = parts[..] else {
        return Err("write speeds as from:to:step, such as 3000:9000:500".to_owned());
    };
    let (from, to) = (number(from)?, number(to)?);
    let step: f64 = step
        .trim()
        .parse()
        .ok()
        .filter(|s: &f64| *s > 0.0)
        .ok_or_else(|| format!("{:?} is not a step above zero", quoted(step)))?;
    if to < from {
        return Err(format!("the speeds fall: write {to}:{from}:{step}"));
    }
    // a tiny step makes more than any whole number holds
    let count = ((to - from) / step + 1e-9).floor() + 1.0;
    if count > 10_000.0 {
        return Err(format!("{count} speeds are too many; use a larger step"));
    }
    Ok((0..count as usize).map(|i| from + step * i as f64).collect())
}
