//! Quantities and changes as text that reads the same when pasted into a command line.
//!
//! A study runs what the text says, not a number that the text rounds: what is printed is what ran.

use crate::circuit::Change;
use crate::diagnostic::{FileId, Span};
use crate::quantity::{Dimension, NoNames, celsius, parse, trimmed};

/// Digits of a quantity that a study makes up.
const DIGITS: usize = 6;
/// What needs no quotes in a shell, besides letters and digits of any script.
const PLAIN: &str = "_.=+-:,/@%";

/// A quantity to six digits: `3.76 µF`, `-12.5 °C`.
pub fn quantity_text(value: f64, dimension: Dimension) -> String {
    if dimension == Dimension::KELVIN {
        return trimmed(celsius(value), "°C", DIGITS);
    }
    trimmed(value, &dimension.symbol(), DIGITS)
}

/// What such a text comes to; `None` where it is no quantity of that dimension.
pub fn quantity_value(text: &str, dimension: Dimension) -> Option<f64> {
    let span = Span { file: FileId(0), start: 0, end: 0 };
    let program = parse(text, span).ok()?.compile_as(&NoNames, dimension).ok()?;
    Some(program.evaluate::<f64>(&[])).filter(|value| value.is_finite())
}

/// A change to a quantity, and what its text comes to.
pub fn spelled(path: &str, value: f64, dimension: Dimension) -> (Change, f64) {
    let text = quantity_text(value, dimension);
    let value = quantity_value(&text, dimension).unwrap_or(value);
    (Change::new(path, text), value)
}

/// Changes as arguments of `railstep run`: `--set c_out=3.76µF --set 'rail.ambient=-20 °C'`.
pub fn set_arguments(changes: &[Change]) -> String {
    let argument = |change: &Change| {
        let joined = change.text.replace(' ', "");
        // A number and its unit need no blank, unless the unit begins with a digit: `0.4 1/V`. An
        // expression keeps its own.
        let unit = change.text.split_once(' ').map(|(_, unit)| unit);
        let joins = unit.is_some_and(|u| !u.contains(' ') && !u.starts_with(char::is_numeric));
        let text = if joins { &joined } else { &change.text };
        format!("--set {}", quoted(&format!("{}={text}", change.path)))
    };
    changes.iter().map(argument).collect::<Vec<String>>().join(" ")
}

/// The command that runs a test of a file, as far as its arguments. A name that looks like an option is joined to its
/// own.
pub fn run_command(file: &str, test: &str) -> String {
    let joint = if test.starts_with('-') { '=' } else { ' ' };
    format!("railstep run {} --test{joint}{}", quoted(file), quoted(test))
}

/// A word of a command line, in quotes where a shell would take it apart.
pub fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || c == '°' || PLAIN.contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        return word.to_owned();
    }
    format!("'{}'", word.replace('\'', r"'\''"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_of_a_test_is_never_taken_for_an_option() {
        assert_eq!(run_command("a b.toml", "it's"), r"railstep run 'a b.toml' --test 'it'\''s'");
        assert_eq!(run_command("a.toml", "-x y"), "railstep run a.toml --test='-x y'");
    }

    #[test]
    fn text_is_read_back_to_six_digits_in_every_dimension() {
        let dimensions = [
            Dimension::NONE,
            Dimension::VOLT,
            Dimension::FARAD,
            Dimension::OHM,
            Dimension::KELVIN,
            Dimension::SECOND,
            Dimension::HERTZ,
            Dimension::PER_KELVIN,
            Dimension::VOLT_PER_KELVIN,
            Dimension::AMPERE_PER_VOLT_SQUARED,
            Dimension::VOLT_PER_ROOT_HERTZ,
            Dimension::KELVIN.over(Dimension::WATT),
        ];
        for dimension in dimensions {
            for value in [1.234_567_8e-12, 2.91e-6, 0.006, 1.0, 253.15, 4.7e3, 1e7] {
                let (change, back) = spelled("x", value, dimension);
                let near = (back - value).abs()
                    <= 5e-6 * value.max(if dimension == Dimension::KELVIN { 300.0 } else { 0.0 });
                assert!(near, "{value} {} {}", change.text, dimension.symbol());
            }
        }
    }

    #[test]
    fn arguments_stand_in_quotes_only_where_a_shell_needs_them() {
        let changes = [Change::new("c_out", "3.76 µF"), Change::new("k", "2 * (a + b)")];
        assert_eq!(set_arguments(&changes), "--set c_out=3.76µF --set 'k=2 * (a + b)'");
        let slope = [Change::new("U1.output_slope", "0.4 1/V")];
        assert_eq!(set_arguments(&slope), "--set 'U1.output_slope=0.4 1/V'");
        assert_eq!(quoted("it's"), r"'it'\''s'");
        assert_eq!(quoted("rail.ambient=-20°C"), "rail.ambient=-20°C");
    }
}
