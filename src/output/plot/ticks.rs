//! Ticks at 1, 2 or 5 times a power of ten, each with its own prefix and unit.

use crate::output::number::{prefix_of, unit_suffix};

/// Values on an axis beyond this are taken for faults of the data: their spans would overflow.
pub(super) const LARGEST: f64 = 1e30;

/// Positions within `low..=high` with their texts, about `wanted` of them.
pub(super) fn ticks((low, high): (f64, f64), wanted: usize, unit: &str) -> Vec<(f64, String)> {
    let span = high - low;
    if !(span.is_finite() && span > 0.0 && low.abs() <= LARGEST && high.abs() <= LARGEST) {
        return Vec::new();
    }
    let step = step(span / wanted.max(1) as f64);
    let (factor, prefix) = prefix_of(low.abs().max(high.abs()), unit);
    let decimals = -((step / factor).log10() + 1e-9).floor();
    let decimals = decimals.clamp(0.0, 12.0) as usize;
    let first = (low / step).ceil();
    let mut found = Vec::new();
    // The step is at least span/wanted, so one more than `wanted` is the most there can be.
    for n in 0..=wanted + 1 {
        let value = (first + n as f64) * step;
        if value > high + step * 1e-9 {
            break;
        }
        found.push((value, label(value / factor, decimals, prefix, unit)));
    }
    found
}

/// The same, with a finer step where there would be fewer than the two ticks it takes to read an
/// axis: a step may be up to five times as long as asked for.
pub(super) fn readable(range: (f64, f64), wanted: usize, unit: &str) -> Vec<(f64, String)> {
    (wanted..=wanted + 4)
        .map(|wanted| ticks(range, wanted, unit))
        .find(|found| found.len() > 1)
        .unwrap_or_default()
}

/// A number of an axis, `decimals` digits behind the point, with its prefix and unit.
pub(super) fn label(scaled: f64, decimals: usize, prefix: &str, unit: &str) -> String {
    let number = format!("{scaled:.decimals$}");
    let zero = number.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
    let number = if zero { "0".to_owned() } else { number.replace('-', "−") };
    format!("{number}{}", unit_suffix(prefix, unit))
}

/// The smallest of 1, 2, 5 · 10^n that is at least `least`.
fn step(least: f64) -> f64 {
    let decade = 10f64.powf(least.log10().floor());
    // Allows for the rounding of the logarithm, lest 2 become 5.
    let least = least * (1.0 - 1e-9);
    [1.0, 2.0, 5.0].into_iter().map(|m| m * decade).find(|s| *s >= least).unwrap_or(10.0 * decade)
}

#[cfg(test)]
mod tests {
    use super::ticks;

    fn texts(range: (f64, f64), wanted: usize, unit: &str) -> Vec<String> {
        ticks(range, wanted, unit).into_iter().map(|(_, text)| text).collect()
    }

    #[test]
    fn ticks_are_round_and_carry_prefix_and_unit() {
        assert_eq!(
            texts((0.0, 7.0e-4), 7, "s"),
            ["0 s", "100 µs", "200 µs", "300 µs", "400 µs", "500 µs", "600 µs", "700 µs"]
                .map(|t| if t == "0 s" { "0 µs".to_owned() } else { t.to_owned() })
        );
        assert_eq!(texts((2.776, 2.803), 5, "V"), ["2.78 V", "2.79 V", "2.80 V"]);
        assert_eq!(texts((-0.021, 0.02), 4, "V"), ["−20 mV", "0 mV", "20 mV"]);
        assert_eq!(texts((0.0, 0.9), 3, "1"), ["0 %", "50 %"]);
        assert_eq!(texts((59e-6, 75e-6), 4, "s"), ["60 µs", "65 µs", "70 µs", "75 µs"]);
    }

    #[test]
    fn a_range_that_is_none_has_no_ticks() {
        for range in [(1.0, 1.0), (2.0, 1.0), (f64::NAN, 1.0), (0.0, f64::INFINITY), (0.0, 1e300)] {
            assert!(ticks(range, 5, "V").is_empty(), "{range:?}");
        }
    }
}
