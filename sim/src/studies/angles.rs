//! The conventions in which timings are told, turned into each other.

/// One timing in every convention, for a port symmetrical about bottom dead centre [deg].
#[derive(Debug, Clone, PartialEq)]
pub struct Conversion {
    /// What it was taken for.
    pub what: String,
    /// Opens after top dead centre.
    pub opens_atdc: f64,
    /// Opens before bottom dead centre.
    pub opens_bbdc: f64,
    /// Closes after bottom dead centre.
    pub closes_abdc: f64,
    /// Closes before top dead centre.
    pub closes_btdc: f64,
    /// Duration.
    pub duration: f64,
}

impl Conversion {
    fn of(what: impl Into<String>, duration: f64) -> Self {
        let half = 0.5 * duration;
        Self {
            what: what.into(),
            opens_atdc: 180.0 - half,
            opens_bbdc: half,
            closes_abdc: half,
            closes_btdc: 180.0 - half,
            duration,
        }
    }
}

/// Understands `177` (a duration), `91.5 atdc`, `88.5 bbdc`, `88.5 abdc`, `91.5 btdc`, the shorthand
/// `121/177` of transfer and exhaust durations in either order, and `121/177/28` with the blowdown.
///
/// # Errors
/// What to write instead.
pub fn convert(text: &str) -> Result<Vec<Conversion>, String> {
    let lower = text.trim().to_lowercase();
    if lower.contains('/') {
        return pair(&lower);
    }
    let digits = lower.find(|c: char| c.is_ascii_alphabetic() || c == '°').unwrap_or(lower.len());
    if digits == 0 {
        return Err(format!("{text:?} is no timing; write 177, 91.5 atdc, 88.5 bbdc or 121/177"));
    }
    let (number, unit) = lower.split_at(digits);
    let value = angle(number)?;
    let unit = unit.trim_start_matches("deg").trim_start_matches('°').trim();
    let duration = match unit {
        "" | "duration" => value,
        "atdc" | "btdc" => 360.0 - 2.0 * value,
        "bbdc" | "abdc" => 2.0 * value,
        _ => {
            return Err(format!(
                "{unit} is no way to tell an angle; write atdc, bbdc, abdc, btdc, or a duration without any"
            ));
        }
    };
    if !(0.0..360.0).contains(&duration) {
        return Err(format!("a duration of {duration:.1}° cannot be; it lies between 0 and 360°"));
    }
    Ok(vec![Conversion::of(format!("{value} {unit}").trim_end().to_owned(), duration)])
}

fn angle(text: &str) -> Result<f64, String> {
    let value: f64 = text.trim().parse().map_err(|_| {
        format!("{:?} is no number; write 177, 91.5 atdc, 88.5 bbdc or 121/177", text.trim())
    })?;
    if value.is_finite() && (0.0..360.0).contains(&value) {
        Ok(value)
    } else {
        Err(format!("{value} is no angle between 0 and 360°"))
    }
}

fn pair(text: &str) -> Result<Vec<Conversion>, String> {
    let numbers = text.split('/').map(angle).collect::<Result<Vec<f64>, String>>()?;
    let (a, b, told) = match numbers[..] {
        [a, b] => (a, b, None),
        [a, b, c] => (a, b, Some(c)),
        _ => return Err("write transfer/exhaust, or transfer/exhaust/blowdown".to_owned()),
    };
    // the exhaust is always the longer
    let (transfer, exhaust) = if a <= b { (a, b) } else { (b, a) };
    let blowdown = 0.5 * (exhaust - transfer);
    if let Some(told) = told.filter(|t| (t - blowdown).abs() > 0.26) {
        let raw = (told - (exhaust - transfer)).abs() < 0.26;
        let why =
            if raw { "that is the raw difference of the durations" } else { "it does not fit" };
        return Err(format!("blowdown {told}: {why}; (exhaust − transfer)/2 = {blowdown:.1}°"));
    }
    let mut out = vec![Conversion::of("transfer", transfer), Conversion::of("exhaust", exhaust)];
    out.push(Conversion { duration: blowdown, ..Conversion::of("blowdown", 0.0) });
    Ok(out)
}
