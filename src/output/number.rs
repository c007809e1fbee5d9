//! Numbers for people: how each unit of a report is written, and axes with one prefix.
//!
//! Files for machines (CSV, JSON) carry full digits and never come here.

use crate::quantity::{self, ZERO_CELSIUS_K};

/// SI prefixes from 10^-15 to 10^9, in steps of a thousand.
const PREFIXES: [&str; 9] = ["f", "p", "n", "µ", "m", "", "k", "M", "G"];
const LOWEST_EXPONENT: i32 = -15;
/// Decimals of a number without a prefix.
const MOST_DECIMALS: i32 = 4;
const HIGHEST_EXPONENT: i32 = 9;

/// The unit of a difference of temperatures, which stays in kelvins.
const RISE: &str = "K above ambient";

/// `value` in SI base units as text, rounded to `digits` significant digits:
/// `20.4 mV`, `-40.0 µs`, `83.1 %` for unit `1`, `12` for unit `count`, `52.0°` for unit `deg`, `36.9 °C` for unit `K`.
///
/// A value that is not finite reads `undefined`.
pub(super) fn engineering(value: f64, unit: &str, digits: usize) -> String {
    if !value.is_finite() {
        return "undefined".to_owned();
    }
    match unit {
        "1" => quantity::engineering(value * 100.0, "%", digits),
        "1/V" => format!("{} %/V", quantity::engineering(value * 100.0, "", digits)),
        "deg" => format!("{}°", plain(value, digits)),
        "dB" => format!("{} dB", plain(value, digits)),
        "count" if is_count(value) => format!("{value}"),
        "" | "count" => plain(value, digits),
        "K" => format!("{} °C", celsius(value - ZERO_CELSIUS_K)),
        RISE => quantity::engineering(value, "K", digits),
        _ => quantity::engineering(value, unit, digits),
    }
}

/// `1 test`, `3 tests`.
pub(super) fn counted(count: usize, what: &str) -> String {
    if count == 1 { format!("1 {what}") } else { format!("{count} {what}s") }
}

/// Whether a bare number is read as a count of something.
fn is_count(value: f64) -> bool {
    value.fract() == 0.0 && (0.0..1e6).contains(&value)
}

/// Without a prefix: for degrees, decibels and ratios, of which nobody takes thousandths.
fn plain(value: f64, digits: usize) -> String {
    let before = if value == 0.0 { 0 } else { decade(value) };
    let after = (digits as i32 - 1 - before).clamp(0, MOST_DECIMALS) as usize;
    let text = format!("{value:.after$}");
    if text.starts_with('-') && text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.')) {
        return text.trim_start_matches('-').to_owned();
    }
    text
}

/// The difference of two values as text: like [`engineering`], but kelvins stay kelvins.
pub(super) fn difference(value: f64, unit: &str, digits: usize) -> String {
    if unit == "K" && value.is_finite() {
        quantity::engineering(value, "K", digits)
    } else {
        engineering(value, unit, digits)
    }
}

/// Like [`engineering`] with at most four digits, without zeros at the end of a fraction: for
/// what was given rather than worked out.
pub(super) fn trimmed(value: f64, unit: &str) -> String {
    const DIGITS: usize = 4;
    if !value.is_finite() {
        return "undefined".to_owned();
    }
    match unit {
        "1" => quantity::trimmed(value * 100.0, "%", DIGITS),
        "K" | "count" => engineering(value, unit, DIGITS),
        _ => quantity::trimmed(value, unit, DIGITS),
    }
}

/// `value ± uncertainty` with no digit of the value below the uncertainty, at most four digits.
pub(super) fn with_uncertainty(value: f64, uncertainty: Option<f64>, unit: &str) -> String {
    const MOST_DIGITS: i32 = 4;
    /// Far below the last digit shown.
    const NEGLIGIBLE: f64 = 1e-6;
    let Some(uncertainty) = uncertainty.map(f64::abs).filter(|u| u.is_finite()) else {
        return engineering(value, unit, MOST_DIGITS as usize);
    };
    if unit == "count" && is_count(value) && uncertainty == 0.0 {
        return format!("{value}");
    }
    if value != 0.0 && uncertainty <= NEGLIGIBLE * value.abs() {
        return format!("{} ± < 1 ppm", engineering(value, unit, MOST_DIGITS as usize));
    }
    let digits = if uncertainty > 0.0 && value != 0.0 && value.is_finite() {
        (decade(value) - decade(uncertainty) + 1).clamp(2, MOST_DIGITS)
    } else {
        MOST_DIGITS
    };
    format!(
        "{} ± {}",
        engineering(value, unit, digits as usize),
        difference(uncertainty, unit, 2).trim_start_matches('-')
    )
}

/// A voltage; one that is smaller than what the solution was aimed at is noise and told as such.
pub(super) fn above_noise(volt: f64, accuracy_v: f64) -> String {
    let bound = || trimmed(accuracy_v, "V");
    if volt == 0.0 || volt.abs() >= accuracy_v || volt.is_nan() {
        with_uncertainty(volt, None, "V")
    } else if volt > 0.0 {
        format!("< {}", bound())
    } else {
        format!("> -{}", bound())
    }
}

/// What a whole axis that reaches `largest` is divided by, and the prefix that stands for it.
pub(super) fn prefix_of(largest: f64, unit: &str) -> (f64, &'static str) {
    if unit == "1" {
        return (0.01, "");
    }
    if unit.contains('^')
        || matches!(unit, "" | "count" | "deg" | "dB" | "°C" | "K")
        || !largest.is_finite()
        || largest <= 0.0
    {
        return (1.0, "");
    }
    let thousands =
        (decade(largest * (1.0 + 1e-9)).div_euclid(3) * 3).clamp(LOWEST_EXPONENT, HIGHEST_EXPONENT);
    (10f64.powi(thousands), prefix_at(thousands))
}

/// What follows a number scaled by [`prefix_of`].
pub(super) fn unit_suffix(prefix: &str, unit: &str) -> String {
    match unit {
        "" | "count" => String::new(),
        "1" => " %".to_owned(),
        "deg" => "°".to_owned(),
        _ => format!(" {prefix}{unit}"),
    }
}

fn prefix_at(thousands: i32) -> &'static str {
    usize::try_from((thousands - LOWEST_EXPONENT) / 3)
        .ok()
        .and_then(|i| PREFIXES.get(i))
        .unwrap_or(&"")
}

/// Exponent of ten of the leading digit.
fn decade(value: f64) -> i32 {
    value.abs().log10().floor() as i32
}

/// Temperatures are told to a tenth: four digits of kelvins would hide it, four of °C exceed it.
fn celsius(value: f64) -> String {
    let text = format!("{value:.1}");
    let text = text.strip_suffix(".0").unwrap_or(&text);
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::{difference, engineering, with_uncertainty};

    #[test]
    fn prefixes_follow_the_value_and_the_rounding() {
        let cases = [
            (0.0204, "V", 3, "20.4 mV"),
            (-4e-5, "s", 3, "-40.0 µs"),
            (2.8, "V", 4, "2.800 V"),
            (0.000_999_96, "V", 4, "1.000 mV"),
            (999.96, "Hz", 4, "1.000 kHz"),
            (0.0, "A", 3, "0 A"),
            (4.7e-6, "F", 2, "4.7 µF"),
            (0.831, "1", 3, "83.1 %"),
            (12.0, "count", 3, "12"),
            (52.04, "deg", 3, "52.0°"),
            (310.05, "K", 4, "36.9 °C"),
            (298.15, "K", 4, "25 °C"),
            (273.15, "K", 4, "0 °C"),
            (85.14, "K above ambient", 4, "85.14 K"),
            (-61.25, "dB", 3, "-61.2 dB"),
            (f64::NAN, "V", 3, "undefined"),
            (f64::INFINITY, "V", 3, "undefined"),
            (f64::MAX, "V", 3, "1.80e308 V"),
        ];
        for (value, unit, digits, expected) in cases {
            assert_eq!(engineering(value, unit, digits), expected, "{value} {unit}");
        }
    }

    #[test]
    fn no_digit_stands_below_the_uncertainty() {
        assert_eq!(with_uncertainty(0.020_412, Some(2e-6), "V"), "20.41 mV ± 2.0 µV");
        assert_eq!(with_uncertainty(0.020_412, Some(5e-4), "V"), "20.4 mV ± 500 µV");
        assert_eq!(with_uncertainty(0.020_412, None, "V"), "20.41 mV");
        assert_eq!(with_uncertainty(0.020_412, Some(f64::NAN), "V"), "20.41 mV");
        assert_eq!(with_uncertainty(0.0, Some(1e-6), "V"), "0 V ± 1.0 µV");
        assert_eq!(with_uncertainty(310.05, Some(0.02), "K"), "36.9 °C ± 20 mK");
    }

    #[test]
    fn a_difference_of_temperatures_is_in_kelvins() {
        assert_eq!(difference(12.0, "K", 3), "12.0 K");
    }
}
