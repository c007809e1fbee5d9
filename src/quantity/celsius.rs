//! Degrees Celsius from kelvins.

/// 0 °C in K, by definition of the scale (BIPM, The International System of Units, 9th edition, 2.3.1).
pub const ZERO_CELSIUS_K: f64 = 273.15;

/// °C from K, without the rounding of the difference: -40 °C reads -40, not -39.99999999999997.
pub fn celsius(kelvin: f64) -> f64 {
    ((kelvin - ZERO_CELSIUS_K) * 1e9).round() / 1e9
}
