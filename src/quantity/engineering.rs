//! Numbers for people: significant digits and an SI prefix.

use super::unit::PREFIXES;

/// Units that stand as they are: no prefix belongs to them.
const PLAIN: [&str; 8] = ["", "%", "ppm", "dB", "deg", "°C", "min", "h"];

/// `value` with `unit`, rounded to `digits` significant digits (1 to 17): `20.4 mV`, `4.70 µF`,
/// `-40.0 °C`.
///
/// The value is in `unit` itself, which must carry no prefix. A prefix from f to G is put before
/// it, except where none belongs: `%`, `ppm`, `dB`, `deg`, `°C`, `min`, `h`, `1/V`, `V^2`, `√Hz`,
/// and seconds above 1. Values beyond the prefixes are written with a power of ten.
pub fn engineering(value: f64, unit: &str, digits: usize) -> String {
    let digits = digits.clamp(1, 17);
    let with = |number: String, prefix: &str| {
        if unit.is_empty() { number } else { format!("{number} {prefix}{unit}") }
    };
    if value.is_nan() {
        return with("NaN".to_owned(), "");
    }
    if value.is_infinite() {
        return with(if value > 0.0 { "inf" } else { "-inf" }.to_owned(), "");
    }
    if value == 0.0 {
        return with("0".to_owned(), "");
    }
    let (rounded, ten) = rounded(value, digits);
    let plain_range = if takes_prefix(unit) { -18..15 } else { -4..7 };
    if !plain_range.contains(&ten) {
        return with(format!("{rounded}e{ten}"), "");
    }
    let scale = if takes_prefix(unit) { scale(ten, unit) } else { 0 };
    let prefix = PREFIXES
        .iter()
        .find(|(_, power)| *power == scale)
        .map_or_else(String::new, |(letter, _)| letter.to_string());
    with(shifted(&rounded, ten - scale), &prefix)
}

/// As [`engineering`], without zeros at the end of a fraction: `2.8 V`, `600 µs`, `25 °C`.
pub fn trimmed(value: f64, unit: &str, digits: usize) -> String {
    let written = engineering(value, unit, digits);
    let (number, unit) = written.split_once(' ').unwrap_or((&written, ""));
    if !number.contains('.') || number.contains('e') {
        return written;
    }
    let number = number.trim_end_matches('0').trim_end_matches('.');
    if unit.is_empty() { number.to_owned() } else { format!("{number} {unit}") }
}

/// The digits of `value` as `-d.ddd`, and its power of ten after rounding.
fn rounded(value: f64, digits: usize) -> (String, i32) {
    let written = format!("{value:.*e}", digits - 1);
    let (mantissa, ten) = written.split_once('e').unwrap_or((&written, "0"));
    (mantissa.to_owned(), ten.parse().unwrap_or(0))
}

/// The power of ten of the prefix for a number of magnitude `ten`.
fn scale(ten: i32, unit: &str) -> i32 {
    // Kiloseconds are no use to anybody.
    let largest = if unit == "s" { 0 } else { 9 };
    (ten.div_euclid(3) * 3).clamp(-15, largest)
}

/// Whether a prefix before `unit` scales the whole of it by that prefix.
fn takes_prefix(unit: &str) -> bool {
    let first = unit.split(['/', '*', '·']).next().unwrap_or_default();
    !PLAIN.contains(&unit)
        && !PLAIN.contains(&first)
        && first != "1"
        && !first.contains(['^', '²', '³', '√'])
}

/// `d.ddd` with its decimal point moved `places` to the right, never rounded again.
fn shifted(mantissa: &str, places: i32) -> String {
    let (sign, unsigned) = match mantissa.strip_prefix('-') {
        Some(unsigned) => ("-", unsigned),
        None => ("", mantissa),
    };
    let digits: String = unsigned.chars().filter(char::is_ascii_digit).collect();
    let moved = places.unsigned_abs() as usize;
    if places < 0 {
        return format!("{sign}0.{}{digits}", "0".repeat(moved.saturating_sub(1)));
    }
    let whole: String = digits.chars().chain(std::iter::repeat('0')).take(moved + 1).collect();
    let fraction: String = digits.chars().skip(moved + 1).collect();
    let point = if fraction.is_empty() { "" } else { "." };
    format!("{sign}{whole}{point}{fraction}")
}
