//! Numbers with units and letter codes: what each spelling stands for.
//!
//! The expected values are the definitions themselves: SI prefixes and units (SI brochure), and
//! the letter codes of IEC 60062. They are compared bit for bit: a decimal number with a decimal
//! prefix is one decimal number, and is read as the double nearest to it.

use super::super::{Dimension, Program, parse};
use super::{compiled, mistakes, parsed, place, value_as};

type D = Dimension;

#[track_caller]
fn check(table: &[(&str, f64, Dimension)]) {
    for (text, expected, dimension) in table {
        let program = compiled(text);
        assert_eq!(program, Program::constant(*expected, *dimension), "{text}");
    }
}

#[test]
fn exact_numbers() {
    check(&[
        ("4.7", 4.7, D::NONE),
        ("1e-6", 1e-6, D::NONE),
        ("1E+3", 1000.0, D::NONE),
        ("007.50", 7.5, D::NONE),
        (" 12 ", 12.0, D::NONE),
        ("1e-400", 0.0, D::NONE),
        ("1e-99999999999999999999", 0.0, D::NONE),
        ("-3", -3.0, D::NONE),
        ("+3", 3.0, D::NONE),
    ]);
}

#[test]
fn exact_units() {
    check(&[
        ("5 V", 5.0, D::VOLT),
        ("5V", 5.0, D::VOLT),
        ("5\u{a0}V", 5.0, D::VOLT),
        ("150 mA", 0.15, D::AMPERE),
        ("0.15 Ω", 0.15, D::OHM),
        ("0.15 \u{2126}", 0.15, D::OHM),
        ("0.15 ohm", 0.15, D::OHM),
        ("160 kΩ", 160e3, D::OHM),
        ("160 kohm", 160e3, D::OHM),
        ("6 mΩ", 6e-3, D::OHM),
        ("6 MΩ", 6e6, D::OHM),
        ("2 GΩ", 2e9, D::OHM),
        ("3 mS", 3e-3, D::SIEMENS),
        ("3 ms", 3e-3, D::SECOND),
        ("4.7 µF", 4.7e-6, D::FARAD),
        ("4.7 \u{3bc}F", 4.7e-6, D::FARAD),
        ("4.7 uF", 4.7e-6, D::FARAD),
        ("4.7e0 uF", 4.7e-6, D::FARAD),
        ("3 fF", 3e-15, D::FARAD),
        ("10 pF", 10e-12, D::FARAD),
        ("4 nH", 4e-9, D::HENRY),
        ("1 kW", 1000.0, D::WATT),
        ("2 mJ", 2e-3, D::JOULE),
        ("7 nC", 7e-9, D::COULOMB),
        ("50 Hz", 50.0, D::HERTZ),
        ("1 mHz", 1e-3, D::HERTZ),
        ("1 MHz", 1e6, D::HERTZ),
        ("3 min", 180.0, D::SECOND),
        ("2 h", 7200.0, D::SECOND),
        ("300 K", 300.0, D::KELVIN),
        ("47K", 47.0, D::KELVIN),
        ("2 mK", 2e-3, D::KELVIN),
        ("0.5 %", 0.005, D::NONE),
        ("20%", 0.2, D::NONE),
        ("50 ppm", 50e-6, D::NONE),
        ("-60 dB", -60.0, D::DECIBEL),
        ("45 deg", 45.0, D::DEGREE),
    ]);
}

#[test]
fn exact_compound_units() {
    let volt_per_second = D::VOLT.over(D::SECOND);
    let kelvin_per_watt = D::KELVIN.over(D::WATT);
    check(&[
        ("1.24 A/V^2", 1.24, D::AMPERE_PER_VOLT_SQUARED),
        ("1.24 A/V²", 1.24, D::AMPERE_PER_VOLT_SQUARED),
        ("1.24 mA / V ^ 2", 1.24e-3, D::AMPERE_PER_VOLT_SQUARED),
        ("-2 mV/K", -2e-3, D::VOLT_PER_KELVIN),
        ("60 K/W", 60.0, kelvin_per_watt),
        ("0.05 1/V", 0.05, D::PER_VOLT),
        ("0.05 1 / V", 0.05, D::PER_VOLT),
        ("3 1/V^2", 3.0, D::PER_VOLT.times(D::PER_VOLT)),
        ("3.3 V/µs", 3.3e6, volt_per_second),
        ("6 V / s", 6.0, volt_per_second),
        ("6 V/min", 0.1, volt_per_second),
        ("2 A*s", 2.0, D::COULOMB),
        ("2 A·s", 2.0, D::COULOMB),
        ("2 mA*h", 7.2, D::COULOMB),
        ("2 V*s/A", 2.0, D::HENRY),
        ("1 V/A/s", 1.0, D::OHM.over(D::SECOND)),
        ("2 V^-1", 2.0, D::PER_VOLT),
        ("3 mV^2", 3e-6, D::VOLT.times(D::VOLT)),
        ("0.1 %/V", 1e-3, D::PER_VOLT),
        ("100 ppm/K", 1e-4, D::PER_KELVIN),
        ("20 nV/Hz", 20e-9, D::VOLT.times(D::SECOND)),
        ("20 nV/√Hz", 20e-9, D::VOLT_PER_ROOT_HERTZ),
        ("20nV / √Hz", 20e-9, D::VOLT_PER_ROOT_HERTZ),
        ("20 nV/rtHz", 20e-9, D::VOLT_PER_ROOT_HERTZ),
        ("0.5 pA/√Hz", 0.5e-12, D::AMPERE_PER_ROOT_HERTZ),
        ("3 √Hz", 3.0, D::ROOT_HERTZ),
        ("3 √Hz^2", 3.0, D::HERTZ),
        ("20 nV/rtHz*√Hz", 20e-9, D::VOLT),
    ]);
}

// 0 °C is 273.15 K: the definition of the Celsius temperature, SI brochure, 9th edition, 2.3.1.
#[test]
fn exact_celsius() {
    check(&[
        ("25 °C", 298.15, D::KELVIN),
        ("26.85 °C", 300.0, D::KELVIN),
        ("0 °C", 273.15, D::KELVIN),
        ("-40 °C", 233.15, D::KELVIN),
        ("- 40°C", 233.15, D::KELVIN),
        ("+85 °C", 358.15, D::KELVIN),
        ("(-40 \u{2103})", 233.15, D::KELVIN),
        ("25 °C + 10 K", 308.15, D::KELVIN),
        ("25 °C - 10 K + 1 K", 289.15, D::KELVIN),
        ("max(25 °C, 300 K)", 300.0, D::KELVIN),
    ]);
    // a varying temperature less one in °C is a difference, and may be scaled
    let slots = [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 308.15];
    for text in ["2 * (rail.ambient - 25 °C)", "-2 * (25 °C - rail.ambient)"] {
        let found = compiled(text).evaluate::<f64>(&slots);
        // the rounding of 308.15 K
        assert!((found - 20.0).abs() < 1e-12, "{text}: {found}");
    }
}

#[test]
fn a_temperature_in_celsius_is_never_scaled_or_added_to() {
    for text in [
        "2 * 25 °C",
        "25 °C * 2",
        "25 °C / 10 K",
        "10 K + 25 °C",
        "10 K - 25 °C",
        "25 °C + 10 °C",
        "rail.ambient + 10 °C",
        "(25 °C + 1 K) * 2",
        "max(25 °C, 300 K) * 2",
        "-(25 °C)",
        "--25 °C",
        "(25 °C)^2",
        "abs(25 °C)",
        "sqrt(25 °C)",
    ] {
        let found = mistakes(text, None);
        assert_eq!(found.len(), 1, "{text}: {found:?}");
        assert!(found[0].message.contains("°C"), "{text}: {found:?}");
    }
}

// IEC 60062: the letter stands for the decimal point; R, K (also k), M, G for 1, 1e3, 1e6, 1e9 Ω,
// L for 1e-3 Ω; p, n, µ for 1e-12, 1e-9, 1e-6 F. From memory.
#[test]
fn published_letter_codes() {
    check(&[
        ("4k7", 4700.0, D::OHM),
        ("4K7", 4700.0, D::OHM),
        (" 4k7 ", 4700.0, D::OHM),
        ("4R7", 4.7, D::OHM),
        ("0R47", 0.47, D::OHM),
        ("100R", 100.0, D::OHM),
        ("2L2", 2.2e-3, D::OHM),
        ("1M0", 1e6, D::OHM),
        ("2G2", 2.2e9, D::OHM),
        ("59k04", 59_040.0, D::OHM),
        ("4p7", 4.7e-12, D::FARAD),
        ("4n7", 4.7e-9, D::FARAD),
        ("4u7", 4.7e-6, D::FARAD),
        ("4µ7", 4.7e-6, D::FARAD),
        ("4\u{3bc}7", 4.7e-6, D::FARAD),
    ]);
}

#[test]
fn a_written_zero_suits_every_dimension() {
    for dimension in [D::VOLT, D::OHM, D::KELVIN, D::DECIBEL, D::AMPERE_PER_VOLT_SQUARED, D::NONE] {
        for text in ["0", "0.0", "-0", "(0)", "0 + 0", "abs(0)", "max(0, -0)"] {
            assert_eq!(value_as(text, dimension), 0.0, "{text} as {dimension}");
        }
    }
    assert_eq!(compiled("max(0, v_in)").dimension(), D::VOLT);
    assert_eq!(compiled("v_in - 0").dimension(), D::VOLT);
    assert_eq!(compiled("0 * v_in").dimension(), D::VOLT);
    assert_eq!(compiled("0").dimension(), D::NONE);
}

#[test]
fn every_symbol_of_a_dimension_can_be_typed() {
    let dimensions = [
        D::VOLT,
        D::OHM,
        D::FARAD,
        D::HERTZ,
        D::AMPERE_PER_VOLT_SQUARED,
        D::VOLT_PER_KELVIN,
        D::PER_VOLT,
        D::PER_KELVIN,
        D::KELVIN.over(D::WATT),
        D::VOLT.over(D::SECOND),
        D::NONE.over(D::WATT),
        D::DECIBEL.over(D::SECOND),
        D::HENRY.times(D::FARAD),
        D::ROOT_HERTZ,
        D::VOLT_PER_ROOT_HERTZ,
        D::AMPERE_PER_ROOT_HERTZ,
    ];
    for dimension in dimensions {
        let text = format!("3 {dimension}");
        assert_eq!(compiled(&text).dimension(), dimension, "{text}");
    }
}

#[test]
fn a_place_in_an_escaped_text_is_the_whole_text() {
    let text = "4.7 µF + nothing";
    let whole = crate::diagnostic::Span { end: 150, ..place(text) };
    let tree = parsed(text, whole);
    assert_eq!(tree.names(), [("nothing".to_owned(), whole)]);
    assert_eq!(tree.span(), whole);
    assert_eq!(parse("4.7 µF +", whole).map_err(|d| d.span), Err(Some(whole)));
}

#[test]
fn names_are_listed_once_at_their_first_place() {
    let text = "(v_in) - rail.nominal + v_in";
    let names = parsed(text, place(text)).names();
    let expected = [
        ("v_in".to_owned(), place(text).within(1, 5)),
        ("rail.nominal".to_owned(), place(text).within(9, 21)),
    ];
    assert_eq!(names, expected);
}
