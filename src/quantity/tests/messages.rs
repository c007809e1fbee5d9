//! What is said of mistakes of form and of unknown names. The wording is settled here, not computed.

use super::{mistakes, place};

/// A text, the byte at which its mistake begins, what is marked there, the message, the hint.
pub(super) type Mistake = (&'static str, usize, &'static str, &'static str, &'static str);

#[track_caller]
pub(super) fn check(table: &[Mistake]) {
    for (text, start, marked, message, hint) in table {
        let found = mistakes(text, None);
        let [found] = found.as_slice() else { panic!("{text}: {found:?}") };
        assert_eq!(found.message, *message, "{text}");
        assert_eq!(found.hint.as_deref(), Some(*hint), "{text}");
        let expected = place(text).within(*start, start + marked.len());
        assert_eq!(found.span, Some(expected), "{text}");
        assert_eq!(text.get(*start..start + marked.len()), Some(*marked), "{text}");
    }
}

#[test]
fn a_mistake_of_form_says_where_it_is_and_what_to_type() {
    check(&[
        (
            "",
            0,
            "",
            "an expression is wanted here, and nothing is written",
            "write a quantity such as `4.7 µF`, or a name",
        ),
        (
            "   ",
            0,
            "   ",
            "an expression is wanted here, and nothing is written",
            "write a quantity such as `4.7 µF`, or a name",
        ),
        (".5", 0, ".5", "a number begins with a digit", "write `0.5`"),
        ("1 + .25 V", 4, ".25", "a number begins with a digit", "write `0.25`"),
        ("4. V", 1, ".", "a digit must follow the decimal point", "write `4` or `4.0`"),
        ("1.2.3", 3, ".", "a number has one decimal point", "write `1.2`"),
        (
            "4,7 V",
            1,
            ",",
            "a comma stands between arguments only",
            "write decimals with a point: `4.7`",
        ),
        ("1e999", 0, "1e999", "`1e999` is too large for a number", "write a number below 1e308"),
        (
            "1e300 GV",
            0,
            "1e300 GV",
            "`1e300 GV` is too large for a number",
            "write a number below 1e308",
        ),
        (
            "1 h^9*h^9*h^9*h^9*h^9*h^9/s^9/s^9/s^9/s^9/s^9/s^9*h^9*h^9*h^9*h^9",
            0,
            "1 h^9*h^9*h^9*h^9*h^9*h^9/s^9/s^9/s^9/s^9/s^9/s^9*h^9*h^9*h^9*h^9",
            "`1 h^9*h^9*h^9*h^9*h^9*h^9/s^9/s^9/s^9/s…` is too large for a number",
            "write a number below 1e308",
        ),
        ("4m7", 0, "4m7", "`4m7` can be read as milli and as mega", "write `4.7 mΩ` or `4.7 MΩ`"),
        (
            "47k",
            2,
            "k",
            "`k` is a prefix without a unit",
            "write the unit too, for example `47 kΩ`",
        ),
        (
            "47 M",
            3,
            "M",
            "`M` is a prefix without a unit",
            "write the unit too, for example `47 MΩ`",
        ),
        (
            "10 m",
            3,
            "m",
            "`m` is a prefix without a unit",
            "write the unit too, for example `10 mA`",
        ),
        (
            "47 n",
            3,
            "n",
            "`n` is a prefix without a unit",
            "write the unit too, for example `47 nF`",
        ),
        ("4k7 + 1 Ω", 1, "k7", "`k7` is not a unit", "a letter code stands alone: write `4.7 kΩ`"),
        ("4.7 KΩ", 4, "KΩ", "`KΩ` is not a unit", "write `4.7 kΩ`"),
        ("5 mv", 2, "mv", "`mv` is not a unit", "write `5 mV`"),
        ("5 volts", 2, "volts", "`volts` is not a unit", "write `5 V`"),
        ("3 sqrtHz", 2, "sqrtHz", "`sqrtHz` is not a unit", "write `3 √Hz`"),
        ("20 nV/√kHz", 6, "√", "`√` is not understood", "write `sqrt(x)`"),
        ("3 kHZ", 2, "kHZ", "`kHZ` is not a unit", "write `3 kHz`"),
        ("3 MHZ", 2, "MHZ", "`MHZ` is not a unit", "write `3 MHz`"),
        ("5 x", 2, "x", "`x` is not a unit", "write a unit such as V, mA or µF, or `5 * x`"),
        (
            "5 v_in",
            2,
            "v_in",
            "`v_in` is not a unit",
            "write a unit such as V, mA or µF, or `5 * v_in`",
        ),
        ("5 º", 2, "º", "`º` is not a unit", "write `5 deg`"),
        ("5 °", 2, "°", "`°` is not a unit", "write `5 deg`"),
        ("5 Ohms", 2, "Ohms", "`Ohms` is not a unit", "write `5 ohm`"),
        ("5 kOhm", 2, "kOhm", "`kOhm` is not a unit", "write `5 kohm`"),
        (
            "3 m%",
            2,
            "m",
            "`m` is a prefix without a unit",
            "write the unit too, for example `3 mA`",
        ),
        ("5 mmin", 2, "mmin", "`mmin` is not a unit", "write `5 min`"),
        (
            "60 °C/W",
            3,
            "°C/W",
            "`°C` cannot be part of a compound unit",
            "inside a compound write K: `60 K/W`",
        ),
        (
            "2 mV/°C",
            2,
            "mV/°C",
            "`°C` cannot be part of a compound unit",
            "inside a compound write K: `2 mV/K`",
        ),
        (
            "3 1/°C",
            2,
            "1/°C",
            "`°C` cannot be part of a compound unit",
            "inside a compound write K: `3 1/K`",
        ),
        (
            "3 °C^2",
            2,
            "°C^2",
            "`°C` cannot be part of a compound unit",
            "inside a compound write K: `3 K^2`",
        ),
        (
            "2 V^0.5",
            4,
            "0.5",
            "after the unit `V` a small whole exponent is wanted",
            "write `V^2`, or put the quantity in parentheses to raise all of it",
        ),
        (
            "2 V^n",
            4,
            "n",
            "after the unit `V` a small whole exponent is wanted",
            "write `V^2`, or put the quantity in parentheses to raise all of it",
        ),
        (
            "2 V^(2)",
            4,
            "(2)",
            "after the unit `V` a small whole exponent is wanted",
            "write `V^2`, or put the quantity in parentheses to raise all of it",
        ),
        (
            "2 V^10",
            4,
            "10",
            "after the unit `V` a small whole exponent is wanted",
            "write `V^2`, or put the quantity in parentheses to raise all of it",
        ),
        (
            "2 V^2^2",
            4,
            "2",
            "after the unit `V` a small whole exponent is wanted",
            "write `V^2`, or put the quantity in parentheses to raise all of it",
        ),
        (
            "2 V^",
            4,
            "",
            "after the unit `V` a small whole exponent is wanted",
            "write `V^2`, or put the quantity in parentheses to raise all of it",
        ),
        ("2 ** 3", 2, "**", "`**` is no operator", "write `^` for a power"),
        (
            "2 ·* 3",
            4,
            "*",
            "an operand is wanted here, not `*`",
            "write a quantity such as `4.7 µF`, or a name",
        ),
        (
            "2 3",
            2,
            "3",
            "an operator is missing before `3`",
            "write `+`, `-`, `*`, `/` or `^` between two operands",
        ),
        ("(1 + 2", 6, "", "a `)` is missing at the end", "write `)`"),
        ("1 + 2)", 5, ")", "`)` closes nothing", "leave it out, or write `(` before"),
        (
            "(1 2)",
            3,
            "2",
            "an operator is missing before `2`",
            "write `+`, `-`, `*`, `/` or `^` between two operands",
        ),
        (
            "1 +",
            3,
            "",
            "the expression ends where an operand is wanted",
            "write a quantity or a name after the operator",
        ),
        (
            "* 2",
            0,
            "*",
            "an operand is wanted here, not `*`",
            "write a quantity such as `4.7 µF`, or a name",
        ),
        ("2 − 1", 2, "−", "`−` is not understood", "write `-`"),
        ("2 × v_in", 2, "×", "`×` is not understood", "write `*`"),
        ("v_in²", 4, "²", "`²` is not understood", "write `^2`"),
        ("v_in = 2", 5, "=", "`=` is no operator", "write an expression with `+ - * / ^`"),
        ("[1]", 0, "[", "`[` is not understood", "write `(`"),
        ("−3", 0, "−", "`−` is not understood", "write `-`"),
        (
            "%",
            0,
            "%",
            "a number is wanted before `%`",
            "write a number and its unit; names are of A-Z, a-z, 0-9 and _",
        ),
        (
            "Ω",
            0,
            "Ω",
            "a number is wanted before `Ω`",
            "write a number and its unit; names are of A-Z, a-z, 0-9 and _",
        ),
        (
            "1, 2",
            1,
            ",",
            "a comma stands between arguments only",
            "write two arguments in a call, as in `max(x, y)`",
        ),
        (
            "#",
            0,
            "#",
            "an operand is wanted here, not `#`",
            "write a quantity such as `4.7 µF`, or a name",
        ),
        (
            "2 V # comment",
            4,
            "#",
            "an operator is missing before `#`",
            "write `+`, `-`, `*`, `/` or `^` between two operands",
        ),
        (
            "\"x\"",
            0,
            "\"",
            "an operand is wanted here, not `\"`",
            "write a quantity such as `4.7 µF`, or a name",
        ),
        ("naïve", 2, "ï", "`ï` cannot stand in a name", "write names with A-Z, a-z, 0-9 and _"),
        (
            "rail.",
            0,
            "rail.",
            "a name is wanted after the point",
            "write a name such as `rail.nominal`",
        ),
        ("sqr(4)", 0, "sqr", "`sqr` is no function", "write `sqrt`"),
        (
            "foo(4)",
            0,
            "foo",
            "`foo` is no function",
            "write `*` between them, or one of sqrt, ln, exp, tanh, sin, cos, min, max, abs",
        ),
        (
            "v_in(4)",
            0,
            "v_in",
            "`v_in` is no function",
            "write `*` between them, or one of sqrt, ln, exp, tanh, sin, cos, min, max, abs",
        ),
        ("sqrt()", 0, "sqrt()", "`sqrt` takes one argument, and none is given", "write `sqrt(x)`"),
        (
            "sqrt(1, 2)",
            0,
            "sqrt(1, 2)",
            "`sqrt` takes one argument, and 2 are given",
            "write `sqrt(x)`",
        ),
        ("min(1)", 0, "min(1)", "`min` takes two arguments, and one is given", "write `min(x, y)`"),
        (
            "max(1,2,3)",
            0,
            "max(1,2,3)",
            "`max` takes two arguments, and 3 are given",
            "write `max(x, y)`",
        ),
        (
            "min(1,",
            6,
            "",
            "the expression ends where an operand is wanted",
            "write a quantity or a name after the operator",
        ),
    ]);
}

#[test]
fn an_unknown_name_is_answered_with_the_nearest() {
    check(&[
        ("V", 0, "V", "the unit `V` stands without a number", "write `1 V`"),
        ("5/V", 2, "V", "the unit `V` stands without a number", "write `1 V`"),
        ("sqrt", 0, "sqrt", "the function `sqrt` stands alone", "write `sqrt(x)`"),
        ("v_inn", 0, "v_inn", "there is no value `v_inn` here", "write `v_in`"),
        (
            "xyzzyx",
            0,
            "xyzzyx",
            "there is no value `xyzzyx` here",
            "write one of v_in, v_out, i_out, r_top, r_bottom, rail.nominal, rail.ambient, gain, …",
        ),
        ("mv", 0, "mv", "there is no value `mv` here", "write `1 mV` if the unit is meant"),
        (
            "R47",
            0,
            "R47",
            "there is no value `R47` here",
            "write `0R47` if the letter code is meant",
        ),
        (
            "rail.nominl",
            0,
            "rail.nominl",
            "there is no value `rail.nominl` here",
            "write `rail.nominal`",
        ),
    ]);
}

#[test]
fn a_parenthesis_left_open_is_pointed_at() {
    let text = "2 * (1 + 2";
    let found = mistakes(text, None);
    assert_eq!(found[0].also, [(place(text).within(4, 5), "opened here".to_owned())]);
}
