//! Numbers written for people, names that are refused, and preferred numbers.

use super::super::series::Series;
use super::super::{engineering, reserved, trimmed, valid_name};
use proptest::prelude::*;

#[test]
fn exact_engineering_notation() {
    let table = [
        (0.0204, "V", 3, "20.4 mV"),
        (4.7e-6, "F", 3, "4.70 µF"),
        (-40.0, "°C", 3, "-40.0 °C"),
        (0.005, "%", 2, "0.0050 %"),
        (1234.0, "", 3, "1230"),
        (0.0123, "", 2, "0.012"),
        (0.9996, "V", 3, "1.00 V"),
        (0.000_999_96, "V", 4, "1.000 mV"),
        (999.96e-9, "A", 4, "1.000 µA"),
        (-2.0e-3, "V/K", 2, "-2.0 mV/K"),
        (1.24, "A/V^2", 3, "1.24 A/V^2"),
        (0.02, "1/V", 2, "0.020 1/V"),
        (1e-6, "V^2", 2, "1.0e-6 V^2"),
        (1500.0, "s", 3, "1500 s"),
        (2.5e-6, "s", 2, "2.5 µs"),
        (160e3, "Ω", 3, "160 kΩ"),
        (123.0, "V", 2, "120 V"),
        (5e12, "Ω", 2, "5000 GΩ"),
        (3e-16, "F", 2, "0.30 fF"),
        (1e300, "V", 2, "1.0e300 V"),
        (12_345_678.0, "", 3, "1.23e7"),
        (-60.0, "dB", 3, "-60.0 dB"),
        (0.0, "V", 3, "0 V"),
        (-0.0, "", 3, "0"),
        (f64::NAN, "V", 3, "NaN V"),
        (f64::INFINITY, "V", 3, "inf V"),
        (f64::NEG_INFINITY, "", 3, "-inf"),
        (1.0, "V", 0, "1 V"),
        (20.3e-9, "V/√Hz", 3, "20.3 nV/√Hz"),
        (0.5e-12, "A/√Hz", 2, "500 fA/√Hz"),
        (1500.0, "√Hz", 3, "1500 √Hz"),
    ];
    for (value, unit, digits, expected) in table {
        assert_eq!(engineering(value, unit, digits), expected, "{value} {unit} {digits}");
    }
}

proptest! {
    #[test]
    fn engineering_notation_reads_back_to_half_a_last_digit(
        mantissa in 1.0_f64..10.0, ten in -14_i32..11, digits in 1_i32..10
    ) {
        let value = mantissa * 10_f64.powi(ten);
        let text = engineering(value, "V", digits.unsigned_abs() as usize);
        let back = super::value_as(&text, super::Dimension::VOLT);
        // half a unit of the last digit kept, and the rounding of the double itself
        let half = 0.5 * 10_f64.powi(1 - digits) + 1e-14;
        prop_assert!(((back - value) / 10_f64.powi(ten)).abs() <= half, "{text} for {value}");
    }
}

#[test]
fn names_that_mean_something_else_are_refused() {
    let table = [
        ("V", Some("it is a unit")),
        ("h", Some("it is a unit")),
        ("ohm", Some("it is a unit")),
        ("mV", Some("it is a unit with a prefix")),
        ("uF", Some("it is a unit with a prefix")),
        ("kohm", Some("it is a unit with a prefix")),
        ("rtHz", Some("it is a unit")),
        ("nrtHz", None),
        ("sqrt", Some("it is a function")),
        ("min", Some("it is a function")),
        ("t", Some("it is the time")),
        ("v_in", None),
        ("k", None),
        ("R1", None),
        ("kmin", None),
        ("mdB", None),
        ("v", None),
    ];
    for (name, expected) in table {
        assert_eq!(reserved(name), expected, "{name}");
    }
}

#[test]
fn a_name_is_of_plain_letters_digits_and_underscores() {
    for name in ["a", "_", "R_TOP", "x1"] {
        assert!(valid_name(name), "{name}");
    }
    for name in ["", "1x", "r-top", "rail.nominal", "µ", "a b"] {
        assert!(!valid_name(name), "{name}");
    }
}

#[test]
fn exact_nearest_of_a_series() {
    assert_eq!(Series::E6.nearest(5.0e-6), Some(4.7e-6));
    assert_eq!(Series::E6.nearest(9.0e3), Some(10e3));
    assert_eq!(Series::E3.nearest(8.0), Some(10.0));
    assert_eq!(Series::E12.nearest(4.7e-12), Some(4.7e-12));
    assert_eq!(Series::E192.nearest(9.99e5), Some(1e6));
    // by ratio: 1.5/1.23 > 1.23/1.0
    assert_eq!(Series::E6.nearest(1.22), Some(1.0));
    assert_eq!(Series::E6.nearest(1.23), Some(1.5));
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(Series::E6.nearest(bad), None);
    }
    assert!(Series::E192.nearest(f64::MAX).is_some());
    assert!(Series::E192.nearest(5e-324).is_some());
}

#[test]
fn exact_range_of_a_series() {
    let microfarads = [1e-6, 1.5e-6, 2.2e-6, 3.3e-6, 4.7e-6, 6.8e-6, 10e-6, 15e-6, 22e-6];
    assert_eq!(Series::E6.within(1e-6, 22e-6), microfarads);
    assert_eq!(Series::E3.within(5.0, 9.0), Vec::<f64>::new());
    assert_eq!(Series::E3.within(1000.0, 1000.0), [1000.0]);
    for (low, high) in [(0.0, 1.0), (2.0, 1.0), (f64::NAN, 1.0), (1.0, f64::INFINITY)] {
        assert_eq!(Series::E3.within(low, high), Vec::<f64>::new());
    }
}

#[test]
fn a_series_is_found_by_its_name() {
    for series in Series::ALL {
        assert_eq!(Series::from_name(series.name()), Some(series));
    }
    assert_eq!(Series::from_name("e6"), None);
    assert_eq!(Series::from_name("E5"), None);
}

#[test]
fn exact_trimmed_numbers_end_in_no_idle_zero() {
    let cases = [
        (2.8, "V", "2.8 V"),
        (600e-6, "s", "600 µs"),
        (0.0, "A", "0 A"),
        (1200.0, "Hz", "1.2 kHz"),
        (100.0, "", "100"),
        (0.62, "", "0.62"),
        (1e9, "%", "1.000e9 %"),
    ];
    for (value, unit, expected) in cases {
        assert_eq!(trimmed(value, unit, 4), expected);
    }
}
