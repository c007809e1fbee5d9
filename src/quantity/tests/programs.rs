//! Compiled expressions: values, dimensions, slopes and limits.

use super::super::{Dimension, MAX_NESTING, MAX_TEXT_BYTES, NoNames, Program, parse};
use super::{compiled, mistakes, place, scope, value_as};
use crate::numeric::Dual;
use proptest::prelude::*;

type D = Dimension;

// The numbers are worked by hand.
#[test]
fn exact_precedence() {
    let table = [
        ("-2^2", -4.0),
        ("(-2)^2", 4.0),
        ("2^3^2", 512.0),
        ("2^-1", 0.5),
        ("2^-2^2", 0.0625),
        ("2*-3", -6.0),
        ("2--3", 5.0),
        ("- 2 * 3", -6.0),
        ("1 + 2 * 3", 7.0),
        ("1 - 2 - 3", -4.0),
        ("8 / 4 / 2", 1.0),
        ("8 / 4 * 2", 4.0),
        ("2 · 3", 6.0),
        ("(1 + 2) * 3", 9.0),
        ("2 * 3^2", 18.0),
        ("52 mV / 26 mV", 2.0),
        ("1 V / 2 mV / 5", 100.0),
        ("6 V/s * 2 s / 1 V", 12.0),
        ("10 V / min(2 V, 5 V)", 5.0),
        ("5 V/min * 60 s / 1 V", 5.0),
        ("max(1, 5) - min(2, 3)", 3.0),
        ("abs(-3)", 3.0),
        ("sqrt(16)", 4.0),
        ("sqrt(4 V^2) / 1 V", 2.0),
        ("exp(0) + ln(1) + sin(0) + cos(0) + tanh(0)", 2.0),
        ("(4 V)^0.5 / sqrt(1 V)", 2.0),
        ("2^(1/2)^2", 2.0_f64.powf(0.25)),
        ("1/60 K/W * 60 K/W", 1.0),
        ("0^1.5", 0.0),
        ("(-2)^3", -8.0),
    ];
    for (text, expected) in table {
        let found = value_as(text, D::NONE);
        // one rounding of an exponential where no power of two comes out
        assert!((found - expected).abs() <= 1e-15 * expected.abs(), "{text}: {found}");
    }
}

#[test]
fn exact_expressions_of_names() {
    // slots: v_in v_out i_out r_top r_bottom rail.nominal rail.ambient gain t
    let slots = [5.0, 3.3, 0.2, 10e3, 5e3, 3.6, 300.0, 2.0, 1e-3];
    let table = [
        ("v_in", 5.0, D::VOLT),
        ("r_bottom * (rail.nominal / 1.2 V - 1)", 10e3, D::OHM),
        ("(v_in - v_out) * i_out", 0.34, D::WATT),
        ("5 V / r_top", 0.5e-3, D::AMPERE),
        ("v_in / 2 V", 2.5, D::NONE),
        ("gain^gain", 4.0, D::NONE),
        ("v_in^2 / r_top", 2.5e-3, D::WATT),
        ("sqrt(v_in^2)", 5.0, D::VOLT),
        ("v_in^-1", 0.2, D::PER_VOLT),
        ("v_in^0", 1.0, D::NONE),
        ("min(v_in, v_out)", 3.3, D::VOLT),
        ("abs(v_out - v_in)", 1.7, D::VOLT),
        ("rail.ambient - 300 K", 0.0, D::KELVIN),
        ("i_out * t", 2e-4, D::COULOMB),
        ("1 mA * exp(v_in / 1 V)", 1e-3 * 148.413_159_102_576_6, D::AMPERE),
    ];
    for (text, expected, dimension) in table {
        let program = compiled(text);
        let found: f64 = program.evaluate(&slots);
        assert_eq!(program.dimension(), dimension, "{text}");
        // a few roundings of doubles
        assert!((found - expected).abs() <= 1e-14 * expected.abs(), "{text}: {found}");
    }
}

#[test]
fn parts_that_depend_on_no_name_are_worked_out_once() {
    assert_eq!(compiled("(2 + 3) * 4 V"), Program::constant(20.0, D::VOLT));
    assert_eq!(compiled("2 V").constant_value(), Some(2.0));
    assert_eq!(compiled("v_in").constant_value(), None);
    assert_eq!(compiled("v_in * (1 + 1)"), compiled("v_in * 2"));
    assert_eq!(compiled("v_in^(1 + 1)"), compiled("v_in^2"));
    assert_eq!(compiled("(2 - 1) * gain - (3 * 2)^2"), compiled("1 * gain - 36"));
}

#[test]
fn a_program_says_which_slots_it_reads() {
    assert_eq!(compiled("r_top / r_bottom * v_in + v_in").slots_used(), [0, 3, 4]);
    assert_eq!(compiled("3 V").slots_used(), Vec::<usize>::new());
}

#[test]
fn a_missing_slot_and_a_division_by_zero_do_not_panic() {
    assert!(compiled("v_in").evaluate::<f64>(&[]).is_nan());
    assert_eq!(compiled("1 / 0").evaluate::<f64>(&[]), f64::INFINITY);
    assert!(compiled("ln(-1)").evaluate::<f64>(&[]).is_nan());
}

/// Programs of `v_in` and `v_out` (both about 1), with slopes worth comparing.
const SLOPED: [&str; 14] = [
    "v_in * v_out / 1 V",
    "v_in / v_out * 3 V - v_out",
    "exp(v_in / 0.5 V) * v_out",
    "ln(v_in / v_out) * 1 V",
    "tanh(v_in / 1 V) * sin(v_out / 1 V)",
    "cos(v_in / v_out)",
    "sqrt(v_in * v_out)",
    "v_in^3 / 1 V^2 - 1 V^3 * v_out^-2",
    "v_in^1.5 * v_out^-0.5",
    "(v_in / 1 V)^0.3",
    "(v_in / 1 V)^(v_out / 1 V)",
    "max(v_in, 0.5 * v_out) - min(v_in, 3 * v_out)",
    "abs(v_in - 10 * v_out)",
    "-(2 A/V^2) * (v_in - 0.1 V)^2 * (1 + 0.05 1/V * v_out)",
];

// The slope of each is compared with a central difference: an independent, if coarser, definition.
#[test]
fn exact_slopes_match_central_differences() {
    for text in SLOPED {
        let program = compiled(text);
        for (a, b) in [(1.1, 0.8), (0.7, 1.3), (2.0, 1.9)] {
            let dual: Dual<f64, 2> = program.evaluate(&Dual::inputs([a, b]));
            let plain: f64 = program.evaluate(&[a, b]);
            // a dual number divides by multiplying with the inverse: one rounding more
            assert!((dual.value - plain).abs() <= 1e-14 * (1.0 + plain.abs()), "{text}");
            let h = 1e-5;
            let at = |a: f64, b: f64| program.evaluate::<f64>(&[a, b]);
            let slopes = [
                (at(a + h, b) - at(a - h, b)) / (2.0 * h),
                (at(a, b + h) - at(a, b - h)) / (2.0 * h),
            ];
            for (exact, difference) in dual.slope.into_iter().zip(slopes) {
                let error = (exact - difference).abs() / (1.0 + exact.abs());
                assert!(error < 1e-6, "{text} at {a}, {b}: {exact} and {difference}");
            }
        }
    }
}

#[test]
fn exact_slope_of_a_power_at_zero() {
    for (text, slope) in [("v_in^2", 0.0), ("v_in^1.5", 0.0), ("(v_in / 1 V)^2.3", 0.0)] {
        let dual: Dual<f64, 1> = compiled(text).evaluate(&Dual::inputs([0.0]));
        assert_eq!((dual.value, dual.slope), (0.0, [slope]), "{text}");
    }
}

#[test]
fn a_long_sum_is_no_trouble() {
    let text = vec!["v_in"; MAX_TEXT_BYTES / 5].join("+");
    assert_eq!(compiled(&text).evaluate::<f64>(&[1.0]), (MAX_TEXT_BYTES / 5) as f64);
}

#[test]
fn deep_nesting_is_refused_and_does_not_exhaust_the_stack() {
    let deep = MAX_NESTING;
    assert_eq!(value_as(&format!("{}1{}", "(".repeat(deep), ")".repeat(deep)), D::NONE), 1.0);
    for text in [
        format!("{}1{}", "(".repeat(deep + 1), ")".repeat(deep + 1)),
        format!("{}1", "-".repeat(deep + 1)),
        format!("{}1", "2^".repeat(deep + 1)),
        format!("{}1", "sqrt(".repeat(deep + 1)),
    ] {
        let found = mistakes(&text, None);
        assert_eq!(found[0].message, "the expression is nested more than 64 deep");
        assert_eq!(found[0].hint.as_deref(), Some("give an inner part a name of its own"));
    }
    let huge = "(".repeat(100_000);
    let found = mistakes(&huge, None);
    assert_eq!(found[0].message, "this expression is longer than 4096 bytes");
    assert_eq!(found[0].hint.as_deref(), Some("give its parts names of their own"));
}

#[test]
fn too_many_waiting_values_are_refused() {
    let nested =
        |depth: usize| format!("{}gain{}", "gain + (".repeat(depth - 1), ")".repeat(depth - 1));
    let slots = [1.0; 9];
    assert_eq!(compiled(&nested(32)).evaluate::<f64>(&slots), 32.0);
    let found = mistakes(&nested(33), None);
    assert_eq!(found[0].message, "33 intermediate values wait here at once, 32 can");
}

proptest! {
    #[test]
    fn parsing_never_panics(text in any::<String>()) {
        let _ = parse(&text, place(&text)).map(|tree| tree.compile(&NoNames));
    }

    #[test]
    fn parsing_what_looks_like_an_expression_never_panics(
        text in "([0-9.]{1,3}|[ (),^*/+-]|[fpnuµmkMGRLK]|V|A|Ω|°C|%|min|s|v_in|sqrt|e|²){0,24}"
    ) {
        for wanted in [D::NONE, D::KELVIN] {
            let _ = parse(&text, place(&text)).map(|tree| tree.compile_as(&scope(), wanted));
        }
    }

    #[test]
    fn mistakes_lie_inside_the_text(
        text in "([0-9.]{1,3}|[ (),^*/+-]|[fpnuµmkMGRLK]|V|A|Ω|°C|%|min|s|v_in|sqrt|e|²){0,24}"
    ) {
        let found = match parse(&text, place(&text)) {
            Err(found) => vec![found],
            Ok(tree) => tree.compile(&scope()).err().unwrap_or_default(),
        };
        for diagnostic in found {
            let Some(span) = diagnostic.span else {
                return Err(TestCaseError::fail("a mistake without a place"));
            };
            prop_assert!(100 <= span.start && span.start <= span.end);
            prop_assert!(span.end <= 100 + text.len());
            prop_assert!(text.is_char_boundary(span.start - 100));
            prop_assert!(text.is_char_boundary(span.end - 100));
            prop_assert!(diagnostic.hint.is_some(), "{}", diagnostic.message);
        }
    }
}
