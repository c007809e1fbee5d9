//! Numbers as they stand in reasons and settings.

/// A quantity with an engineering prefix and at most four significant digits: `55.1 mV`,
/// `38.2 µs`; unit `1` is written in percent.
pub(super) fn quantity(value: f64, unit: &str) -> String {
    if unit == "1" {
        return format!("{} %", digits(value * 100.0));
    }
    if value == 0.0 || !value.is_finite() {
        return format!("{value} {unit}");
    }
    const PREFIXES: [(i32, &str); 8] =
        [(9, "G"), (6, "M"), (3, "k"), (0, ""), (-3, "m"), (-6, "µ"), (-9, "n"), (-12, "p")];
    let size = value.abs() * (1.0 + 5e-5);
    let (exponent, prefix) = PREFIXES
        .into_iter()
        .find(|(exponent, _)| size >= 10f64.powi(*exponent))
        .unwrap_or((-12, "p"));
    format!("{} {prefix}{unit}", digits(value / 10f64.powi(exponent)))
}

/// Four significant digits, without trailing zeros.
fn digits(value: f64) -> String {
    let before_point = if value == 0.0 { 1.0 } else { value.abs().log10().floor() + 1.0 };
    let decimals = (4.0 - before_point).clamp(0.0, 9.0) as usize;
    let text = format!("{value:.decimals$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

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
        assert_eq!(quantity(12_345.0, "Hz"), "12.35 kHz");
    }
}
