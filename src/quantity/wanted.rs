//! What to say where a quantity of another dimension is wanted.

use super::literal::letter_code;
use super::tree::{Kind, Node};
use super::{Dimension, Tree};
use crate::diagnostic::Diagnostic;

impl Tree {
    /// The whole result is of another dimension than the place wants.
    pub(super) fn not_wanted(&self, is: Dimension, wanted: Dimension) -> Diagnostic {
        let text = self.source.text.trim();
        let start = self.source.text.len() - self.source.text.trim_start().len();
        let end = start + text.len();
        let quoted = self.source.quote(start, end);
        let message = format!("{quoted} is {}, {} is wanted", is.words(), wanted.words());
        let literal = |node: &Node| matches!(node.kind, Kind::Quantity(_) | Kind::Negate(_));
        let number = if self.nodes.iter().all(literal) { number_in(text) } else { None };
        let (unit, usual) = example(wanted);
        // A bare number for a resistance is ohms left out; `4.7 K` is kiloohms mistyped.
        let bare_ohms = is.is_none() && wanted == Dimension::OHM;
        let usual = if bare_ohms { unit.clone() } else { usual };
        let hint = match number {
            Some(number) if wanted.is_none() => format!("write it without a unit: `{number}`"),
            // A power of ten serves instead of a prefix.
            Some(number) if number.contains(['e', 'E']) => {
                let symbol = if wanted == Dimension::KELVIN { usual } else { wanted.symbol() };
                format!("write it in {unit}, for example `{number} {symbol}`")
            }
            Some(number) => format!("write it in {unit}, for example `{number} {usual}`"),
            None if wanted.is_none() => format!("divide it by a quantity in {is}"),
            None => format!("write what gives {unit}, for example `4.7 {usual}`"),
        };
        Diagnostic::error(self.source.place(start, end), message).hint(hint)
    }
}

/// The number a literal begins with, sign included.
fn number_in(text: &str) -> Option<String> {
    if let Some(Ok(_)) = letter_code(text) {
        let number = text.replace(|c: char| !c.is_ascii_digit(), ".");
        return Some(number.trim_end_matches('.').to_owned());
    }
    let unsigned = text.trim_start_matches(['-', '+', ' ']);
    let count = |s: &str| s.find(|c: char| !c.is_ascii_digit()).unwrap_or(s.len());
    let mut end = count(unsigned);
    if end == 0 {
        return None;
    }
    if let Some(fraction) = unsigned.get(end..).and_then(|rest| rest.strip_prefix('.')) {
        end += 1 + count(fraction);
    }
    if let Some(rest) = unsigned.get(end..).and_then(|rest| rest.strip_prefix(['e', 'E'])) {
        let digits = rest.trim_start_matches(['-', '+']);
        let sign = rest.len() - digits.len();
        if count(digits) > 0 {
            end += 1 + sign + count(digits);
        }
    }
    let sign = if text.starts_with('-') { "-" } else { "" };
    unsigned.get(..end).map(|number| format!("{sign}{number}"))
}

/// How to name a dimension's unit, and the unit to show in an example.
pub(super) fn example(dimension: Dimension) -> (String, String) {
    const USUAL: [(Dimension, &str); 10] = [
        (Dimension::AMPERE, "mA"),
        (Dimension::SECOND, "µs"),
        (Dimension::OHM, "kΩ"),
        (Dimension::FARAD, "µF"),
        (Dimension::HENRY, "µH"),
        (Dimension::COULOMB, "nC"),
        (Dimension::HERTZ, "kHz"),
        (Dimension::SIEMENS, "mS"),
        (Dimension::VOLT_PER_ROOT_HERTZ, "nV/√Hz"),
        (Dimension::AMPERE_PER_ROOT_HERTZ, "pA/√Hz"),
    ];
    let symbol = dimension.symbol();
    if dimension == Dimension::KELVIN {
        return ("K or °C".to_owned(), "°C".to_owned());
    }
    let usual = USUAL.iter().find(|(d, _)| *d == dimension).map(|(_, unit)| (*unit).to_owned());
    (symbol.clone(), usual.unwrap_or(symbol))
}
