//! Numbers with units, and letter codes: the operands an expression spells out.

use super::Dimension;
use super::function::Function;
use super::parser::Parser;
use super::tree::Quantity;
use super::unit::{Unit, begins_unit, prefix, suggestion, unit, valid_name};
use crate::diagnostic::Diagnostic;

/// The largest exponent a unit may carry (`V^9`): more is a slip of the finger.
const MAX_UNIT_EXPONENT: i32 = 9;

/// A power of ten far beyond what a double holds, and far from overflowing when units add theirs.
const BEYOND: i64 = 1_000_000;

/// A unit being put together from its factors.
struct Compound {
    dimension: Dimension,
    ten: i32,
    factor: f64,
    celsius: bool,
    factors: usize,
}

impl Compound {
    fn new() -> Self {
        Self { dimension: Dimension::NONE, ten: 0, factor: 1.0, celsius: false, factors: 0 }
    }

    /// Multiplies by `unit^exponent`; `None` if that leaves the range of exponents.
    fn include(&mut self, unit: Unit, exponent: i32) -> Option<()> {
        let power = unit.dimension.power(f64::from(exponent))?;
        self.dimension = self.dimension.checked_times(power)?;
        self.ten = self.ten.saturating_add(unit.ten.saturating_mul(exponent));
        self.factor *= unit.factor.powi(exponent);
        self.celsius |= unit.celsius;
        self.factors += 1;
        Some(())
    }
}

/// A code after IEC 60062, in which a letter stands for the decimal point: `4k7`, `0R47`, `4n7`.
///
/// `None` if `text` is none; an error if its letter has two readings.
pub(super) fn letter_code(text: &str) -> Option<Result<Quantity, (String, String)>> {
    let (before, rest) = text.split_at(text.find(|c: char| !c.is_ascii_digit())?);
    let letter = rest.chars().next()?;
    let after = rest.get(letter.len_utf8()..)?;
    let digits = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    if !digits(before) || !(digits(after) || letter == 'R' && after.is_empty()) {
        return None;
    }
    let (ten, dimension) = match letter {
        'R' => (0, Dimension::OHM),
        'L' => (-3, Dimension::OHM),
        'k' | 'K' => (3, Dimension::OHM),
        'M' | 'G' => (prefix(letter)?, Dimension::OHM),
        'p' | 'n' | 'u' | 'µ' | '\u{03BC}' => (prefix(letter)?, Dimension::FARAD),
        'm' => {
            let message = format!("`{text}` can be read as milli and as mega");
            let hint = format!("write `{before}.{after} mΩ` or `{before}.{after} MΩ`");
            return Some(Err((message, hint)));
        }
        _ => return None,
    };
    let value = format!("{before}.{after}e{ten}").parse().ok()?;
    Some(Ok(Quantity { value, dimension, celsius: false, bare: false }))
}

impl Parser<'_> {
    /// A number and, if one follows, its unit.
    pub(super) fn quantity(&mut self) -> Result<Quantity, Diagnostic> {
        let start = self.at;
        let (mantissa, exponent) = self.number()?;
        let number_end = self.at;
        self.blanks();
        let unit_start = self.at;
        let compound = self.unit_after_number(number_end, start)?;
        let Some(compound) = compound else {
            self.at = number_end;
            let value = self.scaled(&mantissa, exponent, 1.0, start)?;
            return Ok(Quantity { value, dimension: Dimension::NONE, celsius: false, bare: true });
        };
        if compound.celsius && (compound.factors > 1 || compound.dimension != Dimension::KELVIN) {
            let written = self.text.get(start..self.at).unwrap_or_default();
            let kelvin = written.replace("°C", "K").replace('\u{2103}', "K");
            return Err(self
                .error(unit_start, self.at, "`°C` cannot be part of a compound unit")
                .hint(format!("inside a compound write K: `{kelvin}`")));
        }
        let ten = exponent.saturating_add(i64::from(compound.ten));
        let value = self.scaled(&mantissa, ten, compound.factor, start)?;
        let (dimension, celsius) = (compound.dimension, compound.celsius);
        Ok(Quantity { value, dimension, celsius, bare: false })
    }

    /// Scaling in decimal keeps `4.7 µF` equal to 4.7e-6 to the last bit.
    fn scaled(
        &self,
        mantissa: &str,
        ten: i64,
        factor: f64,
        start: usize,
    ) -> Result<f64, Diagnostic> {
        let decimal: f64 = format!("{mantissa}e{ten}").parse().unwrap_or(f64::INFINITY);
        let value = decimal * factor;
        if value.is_finite() {
            return Ok(value);
        }
        let text = self.quote(start, self.at);
        Err(self
            .error(start, self.at, format!("{text} is too large for a number"))
            .hint("write a number below 1e308"))
    }

    /// The mantissa's text and the exponent of ten; stands at a digit.
    fn number(&mut self) -> Result<(String, i64), Diagnostic> {
        let start = self.at;
        self.digits();
        if self.peek() == Some('.') {
            let whole = self.text.get(start..self.at).unwrap_or_default();
            self.advance();
            if self.digits() == 0 {
                return Err(self
                    .error(self.at - 1, self.at, "a digit must follow the decimal point")
                    .hint(format!("write `{whole}` or `{whole}.0`")));
            }
        }
        let mantissa = self.text.get(start..self.at).unwrap_or_default().to_owned();
        if self.peek() == Some('.') {
            return Err(self
                .error(self.at, self.at + 1, "a number has one decimal point")
                .hint(format!("write `{mantissa}`")));
        }
        Ok((mantissa, self.exponent_of_ten()))
    }

    /// `e-6`, if it follows; a lone `e` is left for the unit to complain of.
    fn exponent_of_ten(&mut self) -> i64 {
        let before = self.at;
        if !matches!(self.peek(), Some('e' | 'E')) {
            return 0;
        }
        self.advance();
        let sign_at = self.at;
        if matches!(self.peek(), Some('+' | '-')) {
            self.advance();
        }
        if self.digits() == 0 {
            self.at = before;
            return 0;
        }
        let written = self.text.get(sign_at..self.at).unwrap_or_default();
        let beyond = if written.starts_with('-') { -BEYOND } else { BEYOND };
        written.parse::<i64>().unwrap_or(beyond).clamp(-BEYOND, BEYOND)
    }

    /// The unit after a number, or `None` where none follows. Greedy over `/`, `*`, `^integer`,
    /// but only while unit words follow.
    fn unit_after_number(
        &mut self,
        number_end: usize,
        start: usize,
    ) -> Result<Option<Compound>, Diagnostic> {
        let mut compound = Compound::new();
        if self.at > number_end && self.peek() == Some('1') && self.reciprocal() {
            self.unit_factor(&mut compound, -1, start)?;
        } else if self.peek().is_some_and(begins_unit) {
            self.unit_factor(&mut compound, 1, start)?;
        } else {
            return Ok(None);
        }
        loop {
            let before = self.at;
            self.blanks();
            let sign = match self.peek() {
                Some('/') => -1,
                Some('*' | '·') => 1,
                _ => 0,
            };
            if sign == 0 {
                self.at = before;
                break;
            }
            self.advance();
            self.blanks();
            if !self.at_unit() {
                self.at = before;
                break;
            }
            self.unit_factor(&mut compound, sign, start)?;
        }
        Ok(Some(compound))
    }

    /// Steps over `1/` if a unit follows it.
    fn reciprocal(&mut self) -> bool {
        let before = self.at;
        self.advance();
        self.blanks();
        if self.peek() == Some('/') {
            self.advance();
            self.blanks();
            if self.at_unit() {
                return true;
            }
        }
        self.at = before;
        false
    }

    /// Whether a unit word stands here: `min(` is a call, and not minutes.
    fn at_unit(&self) -> bool {
        let end = self.word_end();
        let word = self.text.get(self.at..end).unwrap_or_default();
        let called = Function::from_name(word).is_some()
            && self.text.get(end..).unwrap_or_default().trim_start().starts_with('(');
        !called && unit(word).is_some()
    }

    /// One past the word that begins here; `%` is a word of its own.
    fn word_end(&self) -> usize {
        let rest = self.text.get(self.at..).unwrap_or_default();
        if rest.starts_with('%') {
            return self.at + 1;
        }
        let mut end = 0;
        let mut letters = rest.chars().peekable();
        while let Some(c) = letters.next() {
            let dotted = c == '.' && letters.peek().is_some_and(char::is_ascii_alphabetic);
            let raised = matches!(c, '²' | '³' | '%');
            if raised || !(begins_unit(c) || c.is_numeric() || dotted) {
                break;
            }
            end += c.len_utf8();
        }
        self.at + end
    }

    /// One unit word with its exponent.
    fn unit_factor(
        &mut self,
        compound: &mut Compound,
        sign: i32,
        number_start: usize,
    ) -> Result<(), Diagnostic> {
        let start = self.at;
        let end = self.word_end();
        let word = self.text.get(start..end).unwrap_or_default();
        let Some(found) = unit(word) else {
            return Err(self.unknown_unit(number_start, start, end));
        };
        self.at = end;
        let exponent = self.unit_exponent(start)?;
        compound.include(found, sign * exponent).ok_or_else(|| {
            self.error(start, self.at, "the exponents of this unit are too large")
                .hint("write a unit such as `A/V^2`")
        })
    }

    /// The exponent after a unit word: 1 where none is written.
    fn unit_exponent(&mut self, word_start: usize) -> Result<i32, Diagnostic> {
        if let Some(raised @ ('²' | '³')) = self.peek() {
            self.advance();
            return Ok(if raised == '²' { 2 } else { 3 });
        }
        let before = self.at;
        self.blanks();
        if self.peek() != Some('^') {
            self.at = before;
            return Ok(1);
        }
        self.advance();
        self.blanks();
        let start = self.at;
        if self.peek() == Some('-') {
            self.advance();
        }
        let count = self.digits();
        let written = self.text.get(start..self.at).unwrap_or_default();
        let exponent = written.parse::<i32>().ok().filter(|e| e.abs() <= MAX_UNIT_EXPONENT);
        // A power of the whole quantity must not be taken for one of its unit.
        let more = self.peek().is_some_and(|c| c == '.' || c.is_alphanumeric()) || {
            let rest = self.text.get(self.at..).unwrap_or_default();
            rest.trim_start().starts_with('^')
        };
        match exponent {
            Some(exponent) if count > 0 && !more => Ok(exponent),
            _ => {
                let word = self.text.get(word_start..before).unwrap_or_default();
                let run = |c: char| c.is_alphanumeric() || matches!(c, '.' | '_' | '-' | '(' | ')');
                let rest = self.text.get(start..).unwrap_or_default();
                let end = start + rest.find(|c: char| !run(c)).unwrap_or(rest.len());
                let message = format!("after the unit `{word}` a small whole exponent is wanted");
                Err(self.error(start, end, message).hint(format!(
                    "write `{word}^2`, or put the quantity in parentheses to raise all of it"
                )))
            }
        }
    }

    fn unknown_unit(&self, number_start: usize, start: usize, end: usize) -> Diagnostic {
        let word = self.text.get(start..end).unwrap_or_default();
        let number = self.text.get(number_start..start).unwrap_or_default().trim_end();
        let mut letters = word.chars();
        let first = letters.next().unwrap_or(' ');
        let rest = letters.as_str();
        if rest.is_empty() && (prefix(first).is_some() || first == 'K') {
            let unit = match first {
                'k' | 'M' | 'G' => "Ω",
                'm' => "A",
                _ => "F",
            };
            return self
                .error(start, end, format!("`{word}` is a prefix without a unit"))
                .hint(format!("write the unit too, for example `{number} {word}{unit}`"));
        }
        let error = self.error(start, end, format!("`{word}` is not a unit"));
        let code = format!("{number}{word}");
        if let Some(Ok(_)) = letter_code(&code) {
            return error.hint(format!(
                "a letter code stands alone: write `{number}.{rest} {}`",
                match first {
                    'R' => "Ω".to_owned(),
                    'L' => "mΩ".to_owned(),
                    'k' | 'K' => "kΩ".to_owned(),
                    'M' | 'G' => format!("{first}Ω"),
                    other => format!("{other}F"),
                }
            ));
        }
        match suggestion(word) {
            Some(meant) => error.hint(format!("write `{number} {meant}`")),
            None if word.split('.').all(valid_name) => {
                error.hint(format!("write a unit such as V, mA or µF, or `{number} * {word}`"))
            }
            None => error.hint("write a unit such as V, mA or µF"),
        }
    }
}
