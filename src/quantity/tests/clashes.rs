//! What is said where dimensions clash. The wording is settled here, not computed.

use super::super::Dimension as D;
use super::messages::check;
use super::{mistakes, place};

#[test]
fn dimensions_that_clash_are_both_named() {
    check(&[
        (
            "-300 °C + 1 K",
            0,
            "-300 °C",
            "`-300 °C` is below absolute zero",
            "write a temperature from -273.15 °C up",
        ),
        ("3 k°C", 2, "k°C", "`k°C` is not a unit", "write `3 °C`"),
        (
            "1 V^9*V^9*V^9*V^9*V^9*V^9*V^9*V^9",
            30,
            "V^9",
            "the exponents of this unit are too large",
            "write a unit such as `A/V^2`",
        ),
        (
            "min(1 V, 2 A)",
            0,
            "min(1 V, 2 A)",
            "`1 V` is a voltage and `2 A` is a current: they cannot be compared",
            "write both in V or both in A",
        ),
        (
            "v_in + i_out",
            0,
            "v_in + i_out",
            "`v_in` is a voltage and `i_out` is a current: they cannot be added",
            "write both in V or both in A",
        ),
        (
            "v_in - 5",
            0,
            "v_in - 5",
            "`v_in` is a voltage and `5` is a plain number: they cannot be subtracted",
            "give the number a unit: `5 V`",
        ),
        (
            "5 + v_in",
            0,
            "5 + v_in",
            "`5` is a plain number and `v_in` is a voltage: they cannot be added",
            "give the number a unit: `5 V`",
        ),
        (
            "v_in + r_top * i_out * gain + 1 A",
            0,
            "v_in + r_top * i_out * gain + 1 A",
            "`v_in + r_top * i_out * gain` is a voltage and `1 A` is a current: they cannot be added",
            "write both in V or both in A",
        ),
        (
            "v_in + 3 %",
            0,
            "v_in + 3 %",
            "`v_in` is a voltage and `3 %` is a plain number: they cannot be added",
            "write both in V",
        ),
        (
            "exp(v_in)",
            4,
            "v_in",
            "`exp` takes a plain number, `v_in` is a voltage",
            "divide it by a quantity in V",
        ),
        (
            "sin(45 deg)",
            4,
            "45 deg",
            "`sin` takes a plain number, `45 deg` is an angle in degrees",
            "write it in radians, a plain number: 180 deg are 3.14159265",
        ),
        (
            "sqrt(v_in)^3 * sqrt(sqrt(v_in))",
            15,
            "sqrt(sqrt(v_in))",
            "the square root of `sqrt(v_in)` has no unit",
            "divide it by a quantity in V^(1/2) before",
        ),
        (
            "v_in^gain",
            5,
            "gain",
            "`v_in` is a voltage, and its exponent `gain` varies",
            "write a number, or divide `v_in` by 1 V",
        ),
        (
            "v_in^0.3",
            5,
            "0.3",
            "`v_in` is a voltage, and V to the `0.3` is no unit",
            "write a small whole or half exponent",
        ),
        ("2^v_in", 2, "v_in", "the exponent `v_in` is a voltage", "divide it by a quantity in V"),
        (
            "v_in^(1/3)",
            5,
            "(1/3)",
            "`v_in` is a voltage, and V to the `(1/3)` is no unit",
            "write a small whole or half exponent",
        ),
        (
            "10 K + 25 °C",
            7,
            "25 °C",
            "`25 °C` cannot be used here: °C stands alone or ± K",
            "write differences in K, as in `25 °C + 10 K`",
        ),
        (
            "2 * 25 °C",
            4,
            "25 °C",
            "`25 °C` cannot be used here: °C stands alone or ± K",
            "write differences in K, as in `25 °C + 10 K`",
        ),
        (
            "-(25 °C)",
            0,
            "-(25 °C)",
            "`(25 °C)` is a temperature in °C and cannot be negated",
            "write the sign at the number: `-40 °C`",
        ),
        (
            "v_in^25 * v_in^25 * v_in^25",
            0,
            "v_in^25 * v_in^25 * v_in^25",
            "the exponents of this product's unit are too large",
            "multiply fewer quantities",
        ),
    ]);
}

#[test]
fn a_result_of_another_dimension_is_told_with_the_unit_to_write() {
    let table = [
        (
            "4.7 V",
            D::FARAD,
            "`4.7 V` is a voltage, a capacitance is wanted",
            "write it in F, for example `4.7 µF`",
        ),
        (
            "680",
            D::OHM,
            "`680` is a plain number, a resistance is wanted",
            "write it in Ω, for example `680 Ω`",
        ),
        (
            "5",
            D::VOLT,
            "`5` is a plain number, a voltage is wanted",
            "write it in V, for example `5 V`",
        ),
        (
            "5 V",
            D::NONE,
            "`5 V` is a voltage, a plain number is wanted",
            "write it without a unit: `5`",
        ),
        (
            "-3 V",
            D::KELVIN,
            "`-3 V` is a voltage, a temperature is wanted",
            "write it in K or °C, for example `-3 °C`",
        ),
        (
            "25 C",
            D::KELVIN,
            "`25 C` is a charge, a temperature is wanted",
            "write it in K or °C, for example `25 °C`",
        ),
        (
            "v_in / i_out",
            D::VOLT,
            "`v_in / i_out` is a resistance, a voltage is wanted",
            "write what gives V, for example `4.7 V`",
        ),
        (
            "v_in",
            D::NONE,
            "`v_in` is a voltage, a plain number is wanted",
            "divide it by a quantity in V",
        ),
        (
            "v_in",
            D::KELVIN,
            "`v_in` is a voltage, a temperature is wanted",
            "write what gives K or °C, for example `4.7 °C`",
        ),
        (
            "1.2 V",
            D::VOLT_PER_KELVIN,
            "`1.2 V` is a voltage, a quantity in V/K is wanted",
            "write it in V/K, for example `1.2 V/K`",
        ),
        (
            "4k7",
            D::FARAD,
            "`4k7` is a resistance, a capacitance is wanted",
            "write it in F, for example `4.7 µF`",
        ),
        (
            "3 dB",
            D::NONE,
            "`3 dB` is a ratio in decibels, a plain number is wanted",
            "write it without a unit: `3`",
        ),
        (
            "3 V",
            D::DECIBEL,
            "`3 V` is a voltage, a ratio in decibels is wanted",
            "write it in dB, for example `3 dB`",
        ),
        (
            "20 nV",
            D::VOLT_PER_ROOT_HERTZ,
            "`20 nV` is a voltage, a noise voltage density is wanted",
            "write it in V/√Hz, for example `20 nV/√Hz`",
        ),
        (
            "3 nV/√Hz",
            D::AMPERE_PER_ROOT_HERTZ,
            "`3 nV/√Hz` is a noise voltage density, a noise current density is wanted",
            "write it in A/√Hz, for example `3 pA/√Hz`",
        ),
        (
            "3 V",
            D::DEGREE,
            "`3 V` is a voltage, an angle in degrees is wanted",
            "write it in deg, for example `3 deg`",
        ),
    ];
    for (text, wanted, message, hint) in table {
        let found = mistakes(text, Some(wanted));
        let [found] = found.as_slice() else { panic!("{text}: {found:?}") };
        assert_eq!((found.message.as_str(), found.hint.as_deref()), (message, Some(hint)));
        assert_eq!(found.span, Some(place(text)));
    }
}

#[test]
fn all_mistakes_of_names_and_dimensions_are_told_at_once() {
    let text = "nope + nada * v_in + (i_out + v_in)";
    let found: Vec<_> = mistakes(text, None).into_iter().map(|d| d.span).collect();
    let places = [(0, 4), (7, 11), (21, 35)].map(|(a, b)| Some(place(text).within(a, b)));
    assert_eq!(found, places);
}

#[test]
fn long_texts_are_quoted_in_part() {
    let text = "v_in + v_in + v_in + v_in + v_in + v_in + v_in";
    let message = "`v_in + v_in + v_in + v_in + v_in + v_in…` is a voltage, a current is wanted";
    assert_eq!(mistakes(text, Some(D::AMPERE))[0].message, message);
}
