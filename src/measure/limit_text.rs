//! Limits as a file writes them: `<= 30 mV`, `>= 45 deg`, `2.744 V .. 2.856 V`; each bound may be
//! an expression of the circuit's values.

use super::requirement::Limit;
use crate::diagnostic::{Diagnostic, Span};
use crate::quantity::{Dimension, Names, Program, parse};

/// A limit whose bounds are still expressions.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitProgram {
    form: Form,
    span: Span,
}

#[derive(Clone, Debug, PartialEq)]
enum Form {
    AtMost(Program),
    AtLeast(Program),
    Between(Program, Program),
}

impl LimitProgram {
    /// Reads a limit of dimension `wanted`. `span` is the place of `text` in its file.
    ///
    /// # Errors
    /// Every mistake found: no relation, a bound that is no expression, a name out of scope, a
    /// bound of another dimension.
    pub fn parse(
        text: &str,
        span: Span,
        wanted: Dimension,
        names: &dyn Names,
    ) -> Result<Self, Vec<Diagnostic>> {
        let bound = |part: &str| compile(text, part, span, wanted, names);
        let form = match split(text) {
            Some(Parts::AtMost(high)) => Form::AtMost(bound(high)?),
            Some(Parts::AtLeast(low)) => Form::AtLeast(bound(low)?),
            Some(Parts::Between(low, high)) => match (bound(low), bound(high)) {
                (Ok(low), Ok(high)) => Form::Between(low, high),
                (Err(low), Err(high)) => return Err([low, high].concat()),
                (Err(mistakes), Ok(_)) | (Ok(_), Err(mistakes)) => return Err(mistakes),
            },
            None => return Err(vec![no_relation(text, span, wanted)]),
        };
        Ok(Self { form, span })
    }

    /// The limit, names read from `slots`, in SI units.
    ///
    /// # Errors
    /// A bound that is not finite, or a range whose ends are in the wrong order.
    pub fn evaluate(&self, slots: &[f64]) -> Result<Limit, Vec<Diagnostic>> {
        let bounds = match &self.form {
            Form::AtMost(high) => Limit::AtMost(high.evaluate(slots)),
            Form::AtLeast(low) => Limit::AtLeast(low.evaluate(slots)),
            Form::Between(low, high) => Limit::Between(low.evaluate(slots), high.evaluate(slots)),
        };
        let (finite, ordered) = match bounds {
            Limit::AtMost(x) | Limit::AtLeast(x) => (x.is_finite(), true),
            Limit::Between(low, high) => (low.is_finite() && high.is_finite(), low <= high),
        };
        if !finite {
            let mistake = Diagnostic::error(self.span, "this limit is not a finite number");
            return Err(vec![mistake.hint("look for a division by zero")]);
        }
        if !ordered {
            let message = "this range ends below its beginning";
            let mistake = Diagnostic::error(self.span, message);
            return Err(vec![mistake.hint("write the lower end first")]);
        }
        Ok(bounds)
    }
}

/// Reads a limit of dimension `wanted` and evaluates it with the values in `slots`.
///
/// # Errors
/// As [`LimitProgram::parse`] and [`LimitProgram::evaluate`].
pub fn parse_limit(
    text: &str,
    span: Span,
    wanted: Dimension,
    names: &dyn Names,
    slots: &[f64],
) -> Result<Limit, Vec<Diagnostic>> {
    LimitProgram::parse(text, span, wanted, names)?.evaluate(slots)
}

enum Parts<'a> {
    AtMost(&'a str),
    AtLeast(&'a str),
    Between(&'a str, &'a str),
}

fn split(text: &str) -> Option<Parts<'_>> {
    let trimmed = text.trim_start();
    let after = |signs: [&str; 2]| signs.iter().find_map(|sign| trimmed.strip_prefix(sign));
    if let Some(high) = after(["<=", "≤"]) {
        return Some(Parts::AtMost(high));
    }
    if let Some(low) = after([">=", "≥"]) {
        return Some(Parts::AtLeast(low));
    }
    text.split_once("..").map(|(low, high)| Parts::Between(low, high))
}

/// The part of `text` that is one bound, as a program; mistakes are placed at that part.
fn compile(
    text: &str,
    part: &str,
    span: Span,
    wanted: Dimension,
    names: &dyn Names,
) -> Result<Program, Vec<Diagnostic>> {
    let bound = part.trim();
    if bound.is_empty() {
        let message = "a bound is missing here";
        let mistake = Diagnostic::error(span, message).hint(example(wanted));
        return Err(vec![mistake]);
    }
    // `part` and `bound` are slices of `text`: their addresses tell where they begin.
    let start = bound.as_ptr() as usize - text.as_ptr() as usize;
    let spelled_plainly = span.end.checked_sub(span.start) == Some(text.len());
    let place = if spelled_plainly { span.within(start, start + bound.len()) } else { span };
    let tree = parse(bound, place).map_err(|mistake| vec![mistake])?;
    tree.compile_as(names, wanted)
}

fn no_relation(text: &str, span: Span, wanted: Dimension) -> Diagnostic {
    let message = format!("`{text}` says no limit");
    let strict = text.trim_start().starts_with(['<', '>', '=']);
    let label = if strict { "expected `<=` or `>=`" } else { "expected `<=`, `>=` or a range" };
    Diagnostic::error(span, message).label(label).hint(example(wanted))
}

fn example(wanted: Dimension) -> String {
    let symbol = wanted.symbol();
    let unit = if symbol.is_empty() { "" } else { " " };
    format!(
        "write `<= 1{unit}{symbol}`, `>= 1{unit}{symbol}` or `1{unit}{symbol} .. 2{unit}{symbol}`"
    )
}
