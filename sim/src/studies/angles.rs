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

/// Why words are no timing.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AngleError {
    /// Nothing like a timing.
    #[error("{found:?} is no timing; write 177, 91.5 atdc, 88.5 bbdc or 121/177")]
    NoTiming {
        /// What was written.
        found: String,
    },
    /// An unknown word behind the number.
    #[error(
        "{found} is no way to tell an angle; write atdc, bbdc, abdc, btdc, or a duration without any"
    )]
    NoConvention {
        /// What was written.
        found: String,
    },
    /// A duration beyond a turn.
    #[error("a duration of {degrees:.1}° cannot be; it lies between 0 and 360°")]
    NoDuration {
        /// The duration [deg].
        degrees: f64,
    },
    /// Something else where a number belongs.
    #[error("{found:?} is no number; write 177, 91.5 atdc, 88.5 bbdc or 121/177")]
    NoNumber {
        /// What was written.
        found: String,
    },
    /// An angle beyond a turn.
    #[error("{degrees} is no angle between 0 and 360°")]
    NoAngle {
        /// The angle [deg].
        degrees: f64,
    },
    /// More than three numbers.
    #[error("write transfer/exhaust, or transfer/exhaust/blowdown")]
    Count {
        /// How many were written.
        found: usize,
    },
    /// A blowdown that contradicts the durations.
    #[error("blowdown {told}: {}; (exhaust − transfer)/2 = {is:.1}°", if *.raw { "that is the raw difference of the durations" } else { "it does not fit" })]
    Blowdown {
        /// The blowdown as written [deg].
        told: f64,
        /// The one that the durations make [deg].
        is: f64,
        /// Whether the difference of the durations was written, which is twice as much.
        raw: bool,
    },
}

/// Understands `177` (a duration), `91.5 atdc`, `88.5 bbdc`, `88.5 abdc`, `91.5 btdc`, the shorthand
/// `121/177` of transfer and exhaust durations in either order, and `121/177/28` with the blowdown.
///
/// # Errors
/// What to write instead.
pub fn convert(text: &str) -> Result<Vec<Conversion>, AngleError> {
    let lower = text.trim().to_lowercase();
    if lower.contains('/') {
        return pair(&lower);
    }
    let digits = lower.find(|c: char| c.is_ascii_alphabetic() || c == '°').unwrap_or(lower.len());
    if digits == 0 {
        return Err(AngleError::NoTiming { found: text.to_owned() });
    }
    let (number, unit) = lower.split_at(digits);
    let value = angle(number)?;
    let unit = unit.trim_start_matches("deg").trim_start_matches('°').trim();
    let duration = match unit {
        "" | "duration" => value,
        "atdc" | "btdc" => 360.0 - 2.0 * value,
        "bbdc" | "abdc" => 2.0 * value,
        _ => {
            return Err(AngleError::NoConvention { found: unit.to_owned() });
        }
    };
    if !(0.0..360.0).contains(&duration) {
        return Err(AngleError::NoDuration { degrees: duration });
    }
    Ok(vec![Conversion::of(format!("{value} {unit}").trim_end().to_owned(), duration)])
}

fn angle(text: &str) -> Result<f64, AngleError> {
    let text = text.trim();
    let value: f64 = text.parse().map_err(|_| AngleError::NoNumber { found: text.to_owned() })?;
    if value.is_finite() && (0.0..360.0).contains(&value) {
        Ok(value)
    } else {
        Err(AngleError::NoAngle { degrees: value })
    }
}

fn pair(text: &str) -> Result<Vec<Conversion>, AngleError> {
    let numbers = text.split('/').map(angle).collect::<Result<Vec<f64>, AngleError>>()?;
    let (a, b, told) = match numbers[..] {
        [a, b] => (a, b, None),
        [a, b, c] => (a, b, Some(c)),
        _ => return Err(AngleError::Count { found: numbers.len() }),
    };
    // the exhaust is always the longer
    let (transfer, exhaust) = if a <= b { (a, b) } else { (b, a) };
    let blowdown = 0.5 * (exhaust - transfer);
    if let Some(told) = told.filter(|t| (t - blowdown).abs() > 0.26) {
        let raw = (told - (exhaust - transfer)).abs() < 0.26;
        return Err(AngleError::Blowdown { told, is: blowdown, raw });
    }
    let mut out = vec![Conversion::of("transfer", transfer), Conversion::of("exhaust", exhaust)];
    out.push(Conversion { duration: blowdown, ..Conversion::of("blowdown", 0.0) });
    Ok(out)
}
