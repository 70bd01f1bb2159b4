//! Numbers given as arguments.

/// A number given as an argument.
pub(super) fn number(text: &str) -> Result<f64, String> {
    let finite = |text: &str| text.parse().ok().filter(|v: &f64| v.is_finite());
    finite(text).ok_or_else(|| match text.replacen(',', ".", 1) {
        point if finite(&point).is_some() => format!("write decimals with a point: {point}"),
        _ => "it is no number".to_owned(),
    })
}

/// A speed [1/min].
pub(super) fn speed(text: &str) -> Result<f64, String> {
    let possible = |v: &f64| (100.0..=30_000.0).contains(v);
    let wrong = || "it is no speed between 100 and 30000/min".to_owned();
    number(text).and_then(|v| Some(v).filter(possible).ok_or_else(wrong))
}

/// A time or an amount.
pub(super) fn not_negative(text: &str) -> Result<f64, String> {
    let wrong = || "it lies below zero".to_owned();
    number(text).and_then(|v| Some(v).filter(|v| *v >= 0.0).ok_or_else(wrong))
}
