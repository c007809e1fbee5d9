//! Text to a tree: operators, parentheses, calls and names.
//!
//! Precedence, loosest first: `+ -`, then `* /`, then the sign, then `^` (from the right). A
//! number with its unit is one operand.

use super::Tree;
use super::function::Function;
use super::literal::letter_code;
use super::tree::{Infix, Kind, Node, Source};
use super::unit::begins_unit;
use crate::diagnostic::{Diagnostic, Span, nearest};

/// Longest expression read, in bytes.
pub const MAX_TEXT_BYTES: usize = 4096;

/// Deepest nesting of parentheses, signs and exponents: the parser calls itself for each.
pub const MAX_NESTING: usize = 64;

/// What the loosest operators bind with; the sign lies between `*` and `^`.
const SUM: u8 = 1;
const PRODUCT: u8 = 2;
const POWER: u8 = 3;

/// Parses an expression.
///
/// `span` is the place of the text in its file: mistakes are placed inside it if its length is
/// that of `text`, else (where the file spells the text with escapes) at the whole of it.
///
/// # Errors
/// The first mistake in the text's form. Names and dimensions are looked at by
/// [`Tree::compile`].
pub fn parse(text: &str, span: Span) -> Result<Tree, Diagnostic> {
    let source = Source { text: text.to_owned(), span };
    if text.len() > MAX_TEXT_BYTES {
        let message = format!("this expression is longer than {MAX_TEXT_BYTES} bytes");
        return Err(Diagnostic::error(span, message).hint("give its parts names of their own"));
    }
    let mut parser = Parser { text, at: 0, nesting: 0, nodes: Vec::new(), source: &source };
    parser.whole()?;
    let nodes = parser.nodes;
    Ok(Tree { source, nodes })
}

/// Reads a text from left to right.
pub(super) struct Parser<'a> {
    pub(super) text: &'a str,
    /// The byte to read next.
    pub(super) at: usize,
    nesting: usize,
    nodes: Vec<Node>,
    source: &'a Source,
}

impl Parser<'_> {
    pub(super) fn peek(&self) -> Option<char> {
        self.text.get(self.at..).and_then(|rest| rest.chars().next())
    }

    pub(super) fn advance(&mut self) {
        self.at += self.peek().map_or(0, char::len_utf8);
    }

    pub(super) fn blanks(&mut self) {
        while self.peek().is_some_and(char::is_whitespace) {
            self.advance();
        }
    }

    /// Steps over decimal digits and counts them.
    pub(super) fn digits(&mut self) -> usize {
        let start = self.at;
        while self.peek().is_some_and(|c| c.is_ascii_digit()) {
            self.advance();
        }
        self.at - start
    }

    pub(super) fn error(&self, start: usize, end: usize, message: impl Into<String>) -> Diagnostic {
        Diagnostic::error(self.source.place(start, end), message)
    }

    pub(super) fn quote(&self, start: usize, end: usize) -> String {
        self.source.quote(start, end)
    }

    /// An error at the next character, or at the end.
    fn error_here(&self, message: impl Into<String>) -> Diagnostic {
        let end = self.at + self.peek().map_or(0, char::len_utf8);
        self.error(self.at, end, message)
    }

    fn push(&mut self, kind: Kind, start: usize) -> usize {
        self.nodes.push(Node { kind, start, end: self.at });
        self.nodes.len() - 1
    }

    fn start_of(&self, node: usize) -> usize {
        self.nodes.get(node).map_or(0, |n| n.start)
    }

    fn whole(&mut self) -> Result<(), Diagnostic> {
        self.blanks();
        if self.peek().is_none() {
            return Err(self
                .error(0, self.text.len(), "an expression is wanted here, and nothing is written")
                .hint("write a quantity such as `4.7 µF`, or a name"));
        }
        let code = self.text.trim();
        match letter_code(code) {
            Some(Ok(quantity)) => {
                let start = self.at;
                self.at += code.len();
                self.push(Kind::Quantity(quantity), start);
                return Ok(());
            }
            Some(Err((message, hint))) => {
                return Err(self.error(self.at, self.at + code.len(), message).hint(hint));
            }
            None => {}
        }
        self.expression(SUM)?;
        match self.peek() {
            None => Ok(()),
            Some(_) => Err(self.not_expected()),
        }
    }

    /// Why the next character cannot continue a complete expression.
    fn not_expected(&self) -> Diagnostic {
        let Some(found) = self.peek() else {
            return self.error_here("the expression ends too early");
        };
        match found {
            ')' => self.error_here("`)` closes nothing").hint("leave it out, or write `(` before"),
            ',' => self.error_here("a comma stands between arguments only").hint(self.no_comma()),
            '=' | '<' | '>' | '!' | '&' | '|' | '?' => self
                .error_here(format!("`{found}` is no operator"))
                .hint("write an expression with `+ - * / ^`"),
            _ if found.is_alphabetic() && self.after_name() => self
                .error_here(format!("`{found}` cannot stand in a name"))
                .hint("write names with A-Z, a-z, 0-9 and _"),
            _ => match look_alike(found) {
                Some(meant) => self
                    .error_here(format!("`{found}` is not understood"))
                    .hint(format!("write `{meant}`")),
                None => self
                    .error_here(format!("an operator is missing before `{found}`"))
                    .hint("write `+`, `-`, `*`, `/` or `^` between two operands"),
            },
        }
    }

    /// Whether a letter of a name or a digit stands right before the next character.
    fn after_name(&self) -> bool {
        let before = self.text.get(..self.at).unwrap_or_default();
        before.ends_with(|c: char| c.is_ascii_alphanumeric() || c == '_')
    }

    /// What to write instead of a comma outside a call.
    fn no_comma(&self) -> String {
        let before = self.text.get(..self.at).unwrap_or_default();
        let after = self.text.get(self.at + 1..).unwrap_or_default();
        let not_digit = |c: char| !c.is_ascii_digit();
        let whole = before
            .rfind(not_digit)
            .map_or(before, |i| before.get(i..).unwrap_or_default().trim_start_matches(not_digit));
        let fraction =
            after.get(..after.find(not_digit).unwrap_or(after.len())).unwrap_or_default();
        if whole.is_empty() || fraction.is_empty() {
            "write two arguments in a call, as in `max(x, y)`".to_owned()
        } else {
            format!("write decimals with a point: `{whole}.{fraction}`")
        }
    }

    /// Operands joined by operators that bind at least as tightly as `loosest`.
    fn expression(&mut self, loosest: u8) -> Result<usize, Diagnostic> {
        let mut left = self.operand()?;
        loop {
            self.blanks();
            let (infix, binding) = match self.peek() {
                Some('+') => (Infix::Add, SUM),
                Some('-') => (Infix::Subtract, SUM),
                Some('*' | '·') => (Infix::Multiply, PRODUCT),
                Some('/') => (Infix::Divide, PRODUCT),
                Some('^') => (Infix::Power, POWER),
                _ => return Ok(left),
            };
            if binding < loosest {
                return Ok(left);
            }
            let start = self.at;
            self.advance();
            if self.text.get(start..).is_some_and(|rest| rest.starts_with("**")) {
                return Err(self
                    .error(start, start + 2, "`**` is no operator")
                    .hint("write `^` for a power"));
            }
            let right = match infix {
                Infix::Power => self.nested(|p| p.expression(POWER))?,
                _ => self.expression(binding + 1)?,
            };
            self.end_at_last();
            left = self.push(Kind::Infix(infix, left, right), self.start_of(left));
        }
    }

    /// Blanks after an operand do not belong to it.
    fn end_at_last(&mut self) {
        let before = self.text.get(..self.at).unwrap_or_default();
        self.at = before.trim_end().len();
    }

    /// Runs `inner` one level deeper.
    fn nested(
        &mut self,
        inner: impl FnOnce(&mut Self) -> Result<usize, Diagnostic>,
    ) -> Result<usize, Diagnostic> {
        if self.nesting >= MAX_NESTING {
            return Err(self
                .error_here(format!("the expression is nested more than {MAX_NESTING} deep"))
                .hint("give an inner part a name of its own"));
        }
        self.nesting += 1;
        let result = inner(self);
        self.nesting -= 1;
        result
    }

    /// A quantity, a name, a call, a parenthesis, or any of them behind a sign.
    fn operand(&mut self) -> Result<usize, Diagnostic> {
        self.blanks();
        let start = self.at;
        let Some(first) = self.peek() else {
            return Err(self
                .error_here("the expression ends where an operand is wanted")
                .hint("write a quantity or a name after the operator"));
        };
        match first {
            '0'..='9' => {
                let quantity = self.quantity()?;
                Ok(self.push(Kind::Quantity(quantity), start))
            }
            '-' => {
                self.advance();
                let inner = self.nested(|p| p.expression(POWER))?;
                Ok(self.negate(inner, start))
            }
            '+' => {
                self.advance();
                let inner = self.nested(|p| p.expression(POWER))?;
                self.end_at_last();
                self.widen(inner, start);
                Ok(inner)
            }
            '(' => {
                self.advance();
                let inner = self.nested(|p| p.expression(SUM))?;
                self.close(start)?;
                self.widen(inner, start);
                Ok(inner)
            }
            'A'..='Z' | 'a'..='z' | '_' => self.name_or_call(),
            _ => Err(self.no_operand(first)),
        }
    }

    fn no_operand(&self, first: char) -> Diagnostic {
        let rest = self.text.get(self.at..).unwrap_or_default();
        if first == '.'
            && rest.get(1..).is_some_and(|r| r.starts_with(|c: char| c.is_ascii_digit()))
        {
            let digits: String = rest.chars().skip(1).take_while(char::is_ascii_digit).collect();
            return self
                .error(self.at, self.at + 1 + digits.len(), "a number begins with a digit")
                .hint(format!("write `0.{digits}`"));
        }
        if let Some(meant) = look_alike(first) {
            return self
                .error_here(format!("`{first}` is not understood"))
                .hint(format!("write `{meant}`"));
        }
        if begins_unit(first) {
            return self
                .error_here(format!("a number is wanted before `{first}`"))
                .hint("write a number and its unit; names are of A-Z, a-z, 0-9 and _");
        }
        self.error_here(format!("an operand is wanted here, not `{first}`"))
            .hint("write a quantity such as `4.7 µF`, or a name")
    }

    /// The negative of a node; a temperature in °C takes its sign before it becomes kelvin.
    fn negate(&mut self, inner: usize, start: usize) -> usize {
        let written = |n: &Node| self.text.as_bytes().get(n.start).is_some_and(u8::is_ascii_digit);
        let is_literal = self.nodes.get(inner).is_some_and(written);
        if is_literal
            && let Some(Node { kind: Kind::Quantity(q), start: begin, .. }) =
                self.nodes.get_mut(inner)
            && q.celsius
        {
            q.value = -q.value;
            *begin = start;
            return inner;
        }
        self.end_at_last();
        self.push(Kind::Negate(inner), start)
    }

    /// Lets a node's place reach from `start` to here.
    fn widen(&mut self, node: usize, start: usize) {
        let end = self.at;
        if let Some(node) = self.nodes.get_mut(node) {
            (node.start, node.end) = (start, end);
        }
    }

    /// Steps over `)`.
    fn close(&mut self, open: usize) -> Result<(), Diagnostic> {
        self.blanks();
        match self.peek() {
            Some(')') => {
                self.advance();
                Ok(())
            }
            None => Err(self
                .error_here("a `)` is missing at the end")
                .hint("write `)`")
                .also(self.source.place(open, open + 1), "opened here")),
            Some(_) => Err(self.not_expected()),
        }
    }

    fn name_or_call(&mut self) -> Result<usize, Diagnostic> {
        let start = self.at;
        loop {
            while self.peek().is_some_and(|c| c.is_ascii_alphanumeric() || c == '_') {
                self.advance();
            }
            if self.peek() != Some('.') {
                break;
            }
            self.advance();
            if !self.peek().is_some_and(|c| c.is_ascii_alphabetic() || c == '_') {
                return Err(self
                    .error(start, self.at, "a name is wanted after the point")
                    .hint("write a name such as `rail.nominal`"));
            }
        }
        let end = self.at;
        self.blanks();
        if self.peek() == Some('(') {
            return self.call(start, end);
        }
        self.at = end;
        let name = self.text.get(start..end).unwrap_or_default().to_owned();
        Ok(self.push(Kind::Name(name), start))
    }

    /// A call; stands at `(`.
    fn call(&mut self, start: usize, end: usize) -> Result<usize, Diagnostic> {
        let name = self.text.get(start..end).unwrap_or_default();
        let Some(function) = Function::from_name(name) else {
            let all: Vec<&str> = Function::names().collect();
            let hint = match nearest(name, all.iter().copied()) {
                Some(meant) => format!("write `{meant}`"),
                None => format!("write `*` between them, or one of {}", all.join(", ")),
            };
            return Err(self.error(start, end, format!("`{name}` is no function")).hint(hint));
        };
        let open = self.at;
        self.advance();
        let mut arguments = Vec::new();
        self.blanks();
        if self.peek() != Some(')') {
            loop {
                arguments.push(self.nested(|p| p.expression(SUM))?);
                self.blanks();
                if self.peek() != Some(',') {
                    break;
                }
                self.advance();
            }
        }
        self.close(open)?;
        match (function.arity(), arguments.as_slice()) {
            (1, [x]) => Ok(self.push(Kind::Call(function, *x), start)),
            (2, [a, b]) => Ok(self.push(Kind::CallTwo(function, *a, *b), start)),
            (arity, given) => {
                let (wanted, example) = if arity == 1 {
                    ("one argument", format!("{}(x)", function.name()))
                } else {
                    ("two arguments", format!("{}(x, y)", function.name()))
                };
                let given = match given.len() {
                    0 => "none is given".to_owned(),
                    1 => "one is given".to_owned(),
                    count => format!("{count} are given"),
                };
                let message = format!("`{name}` takes {wanted}, and {given}");
                Err(self.error(start, self.at, message).hint(format!("write `{example}`")))
            }
        }
    }
}

/// What was meant by a character that only looks like one of ours.
fn look_alike(c: char) -> Option<&'static str> {
    match c {
        '\u{2212}' | '\u{2013}' | '\u{2014}' => Some("-"),
        '×' | '\u{22C5}' | '\u{2219}' => Some("*"),
        '÷' | '\u{2044}' => Some("/"),
        '²' => Some("^2"),
        '³' => Some("^3"),
        '√' => Some("sqrt(x)"),
        '[' | '{' => Some("("),
        ']' | '}' => Some(")"),
        _ => None,
    }
}
