//! Numbers as they stand in reasons and settings.

use crate::quantity::trimmed;

/// A quantity with an engineering prefix and at most four significant digits, without trailing
/// zeros: `55.1 mV`, `38.2 µs`; unit `1` is written in percent.
pub(super) fn quantity(value: f64, unit: &str) -> String {
    match unit {
        "1" => trimmed(value * 100.0, "%", DIGITS),
        _ => trimmed(value, unit, DIGITS),
    }
}

const DIGITS: usize = 4;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities_carry_engineering_prefixes() {
        assert_eq!(quantity(0.0551, "V"), "55.1 mV");
        assert_eq!(quantity(-0.014, "V"), "-14 mV");
        assert_eq!(quantity(38.25e-6, "s"), "38.25 µs");
        assert_eq!(quantity(0.999_99, "V"), "1 V");
        assert_eq!(quantity(2.8, "V"), "2.8 V");
        assert_eq!(quantity(0.873, "1"), "87.3 %");
        assert_eq!(quantity(0.0, "V"), "0 V");
        assert_eq!(quantity(12_346.0, "Hz"), "12.35 kHz");
        assert_eq!(quantity(100.0, "V"), "100 V");
    }
}
