//! Quantities in quotes: "1.57 in", "40 thou", "30.0 ± 0.1 mm".

use super::fault::quoted;
use super::keys::Unit;

impl Unit {
    /// Its symbol as written in a file.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::SquareMillimetre => "mm²",
            Self::CubicCentimetre => "cm³",
            Self::Degree => "deg",
            Self::Bar => "bar",
            Self::Celsius => "°C",
            Self::Gram => "g",
            Self::WattPerKelvin => "W/K",
            Self::Hertz => "Hz",
            Self::Gigapascal => "GPa",
            Self::Megapascal => "MPa",
            Self::KilogramPerCubicMetre => "kg/m³",
            Self::Millisecond => "ms",
            Self::MetrePerSecond => "m/s",
            Self::WattPerSquareMetre => "W/m²",
            Self::One => "",
        }
    }

    /// Symbols that can be converted into it, with factor and offset.
    fn accepted(self) -> &'static [(&'static str, f64, f64)] {
        match self {
            Self::Millimetre => &[
                ("mm", 1.0, 0.0),
                ("cm", 10.0, 0.0),
                ("m", 1000.0, 0.0),
                ("in", 25.4, 0.0),
                ("\"", 25.4, 0.0),
                ("inch", 25.4, 0.0),
                ("thou", 0.0254, 0.0),
            ],
            Self::SquareMillimetre => {
                &[("mm2", 1.0, 0.0), ("mm²", 1.0, 0.0), ("cm2", 100.0, 0.0), ("in2", 645.16, 0.0)]
            }
            Self::CubicCentimetre => &[
                ("cm3", 1.0, 0.0),
                ("cm³", 1.0, 0.0),
                ("cc", 1.0, 0.0),
                ("ml", 1.0, 0.0),
                ("l", 1000.0, 0.0),
                ("in3", 16.387_064, 0.0),
            ],
            Self::Degree => &[("deg", 1.0, 0.0), ("°", 1.0, 0.0)],
            Self::Bar => &[
                ("bar", 1.0, 0.0),
                ("mbar", 1e-3, 0.0),
                ("hPa", 1e-3, 0.0),
                ("kPa", 1e-2, 0.0),
                ("Pa", 1e-5, 0.0),
                ("psi", 0.068_947_572_931_683_6, 0.0),
            ],
            Self::Celsius => &[
                ("C", 1.0, 0.0),
                ("°C", 1.0, 0.0),
                ("K", 1.0, -273.15),
                ("F", 5.0 / 9.0, -160.0 / 9.0),
                ("°F", 5.0 / 9.0, -160.0 / 9.0),
            ],
            Self::Gram => &[("g", 1.0, 0.0), ("kg", 1000.0, 0.0), ("oz", 28.349_523_125, 0.0)],
            Self::WattPerKelvin => &[("W/K", 1.0, 0.0)],
            Self::Hertz => &[("Hz", 1.0, 0.0)],
            Self::Gigapascal => &[("GPa", 1.0, 0.0), ("MPa", 1e-3, 0.0)],
            Self::Megapascal => &[("MPa", 1.0, 0.0), ("N/mm²", 1.0, 0.0)],
            Self::KilogramPerCubicMetre => &[
                ("kg/m³", 1.0, 0.0),
                ("kg/m3", 1.0, 0.0),
                ("g/cm³", 1e3, 0.0),
                ("g/cm3", 1e3, 0.0),
            ],
            Self::Millisecond => &[("ms", 1.0, 0.0), ("s", 1000.0, 0.0), ("µs", 1e-3, 0.0)],
            Self::MetrePerSecond => &[("m/s", 1.0, 0.0)],
            Self::WattPerSquareMetre => &[("W/m²", 1.0, 0.0), ("W/m2", 1.0, 0.0)],
            Self::One => &[("", 1.0, 0.0), ("%", 0.01, 0.0)],
        }
    }

    /// The accepted symbols in words.
    fn choices(self) -> String {
        let symbols: Vec<_> =
            self.accepted().iter().map(|a| a.0).filter(|s| !s.is_empty()).collect();
        symbols.join(", ")
    }
}

/// A number in the key's unit, with the tolerance it was given with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Quantity {
    pub(super) value: f64,
    pub(super) tolerance: Option<f64>,
}

/// What a number of this unit looks like, for those who wrote something else.
pub(super) fn wanted(unit: Unit) -> String {
    match unit {
        Unit::One => "write a number".to_owned(),
        Unit::Millimetre => {
            "write a number in mm, or a quoted number with its unit such as \"1.57 in\"".to_owned()
        }
        unit => {
            let symbol = unit.symbol();
            format!("write a number in {symbol}, or a quoted one such as \"20 {symbol}\"")
        }
    }
}

/// Reads a quoted quantity.
pub(super) fn parse(text: &str, unit: Unit) -> Result<Quantity, String> {
    let text = text.trim();
    if text.contains(',') {
        return Err(format!("write decimals with a point: {}", quoted(&text.replace(',', "."))));
    }
    let split_at = ["±", "+-", "+/-"].iter().find_map(|sign| text.split_once(sign));
    let (main, spread) = split_at.map_or((text, None), |(main, spread)| (main, Some(spread)));
    let (value, symbol) = split(main, unit)?;
    let spread = spread.map(|s| split(s, unit)).transpose()?;
    let otherwise = |symbol: &'static str, other| if symbol.is_empty() { other } else { symbol };
    let own = known(symbol, unit)?;
    let of_spread = spread.map(|(_, symbol)| known(symbol, unit)).transpose()?.unwrap_or("");
    let symbol = otherwise(otherwise(own, of_spread), unit.symbol());
    let (factor, offset) = conversion(symbol, unit);
    let (spread_factor, _) = conversion(otherwise(of_spread, symbol), unit);
    Ok(Quantity {
        value: value * factor + offset,
        tolerance: spread.map(|(half_width, _)| (half_width * spread_factor).abs()),
    })
}

/// The symbol as this unit knows it; nothing for nothing.
fn known(symbol: &str, unit: Unit) -> Result<&'static str, String> {
    if symbol.is_empty() {
        return Ok("");
    }
    let accepted = unit.accepted().iter().find(|a| a.0 == symbol);
    accepted.map(|a| a.0).ok_or_else(|| {
        let symbol = quoted(symbol);
        if unit == Unit::One {
            format!("{symbol:?} does not belong here: this is a plain number")
        } else {
            format!("unit {symbol:?} is not known here; use one of {}", unit.choices())
        }
    })
}

/// Factor and offset of a symbol that the unit knows.
fn conversion(symbol: &str, unit: Unit) -> (f64, f64) {
    let accepted = unit.accepted().iter().find(|a| a.0 == symbol);
    accepted.map_or((1.0, 0.0), |a| (a.1, a.2))
}

/// Number and what follows it.
fn split(text: &str, unit: Unit) -> Result<(f64, &str), String> {
    let text = text.trim();
    let end = text
        .char_indices()
        .find(|(i, c)| {
            let exponent = matches!(c, 'e' | 'E')
                && text[i + 1..].starts_with(|d: char| d.is_ascii_digit() || d == '-');
            !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+') || exponent)
        })
        .map_or(text.len(), |(i, _)| i);
    match text[..end].trim().parse::<f64>() {
        Ok(value) if value.is_finite() => Ok((value, text[end..].trim())),
        _ => Err(wanted(unit)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_and_tolerances_are_understood() {
        let value = |text, unit| parse(text, unit).unwrap().value;
        assert!((value("1.57 in", Unit::Millimetre) - 39.878).abs() < 1e-12);
        assert!((value("40 thou", Unit::Millimetre) - 1.016).abs() < 1e-12);
        assert!((value("68 F", Unit::Celsius) - 20.0).abs() < 1e-12);
        assert!((value("14.696 psi", Unit::Bar) - 1.01325).abs() < 1e-5);
        let with = parse("30.0 ± 0.1 mm", Unit::Millimetre).unwrap();
        assert_eq!(with.tolerance, Some(0.1));
        let inches = parse("1.0 +- 0.01 in", Unit::Millimetre).unwrap();
        assert!((inches.tolerance.unwrap() - 0.254).abs() < 1e-12);
        assert!(parse("39,5 mm", Unit::Millimetre).unwrap_err().contains("39.5"));
        assert!(parse("3 furlongs", Unit::Millimetre).unwrap_err().contains("thou"));
        assert!(parse("wide", Unit::Millimetre).is_err());
        let mixed = parse("1.57 in +/- 0.1 mm", Unit::Millimetre).unwrap();
        assert_eq!(mixed.tolerance, Some(0.1));
        let warm = parse("68 +- 9 F", Unit::Celsius).unwrap();
        assert!((warm.value - 20.0).abs() < 1e-12 && (warm.tolerance.unwrap() - 5.0).abs() < 1e-12);
    }
}
