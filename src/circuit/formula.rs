//! The text or number behind a key as a formula, compiled where it is used.

use crate::diagnostic::{Diagnostic, FileId, Span};
use crate::document::{Node, wrong_form};
use crate::quantity::{Dimension, Names, Program, Tree, parse};

/// A formula not yet bound to names.
#[derive(Clone, Debug)]
pub(super) struct Formula {
    /// Where it stands.
    pub(super) span: Span,
    /// As written.
    pub(super) text: String,
    body: Body,
    /// Whether it stands in no file.
    nowhere: bool,
}

#[derive(Clone, Debug)]
enum Body {
    Tree(Tree),
    Number(f64),
}

impl Formula {
    /// The formula a node holds: a text, or a bare number.
    pub(super) fn read(key: &str, node: &Node) -> Result<Self, Diagnostic> {
        let span = node.content_span();
        if let Some(number) = node.as_number() {
            let (text, body) = (format!("{number}"), Body::Number(number));
            return Ok(Self { span, text, body, nowhere: false });
        }
        match node.as_text() {
            Some(text) => Self::parse(text, span, false),
            None => Err(wrong_form(key, node, "a quantity in quotes")),
        }
    }

    /// A formula from the command line, or from a text whose place is known.
    pub(super) fn of_text(text: &str, span: Option<Span>) -> Result<Self, Diagnostic> {
        let nowhere = Span { file: FileId(usize::MAX), start: 0, end: text.len() };
        Self::parse(text, span.unwrap_or(nowhere), span.is_none())
    }

    fn parse(text: &str, span: Span, nowhere: bool) -> Result<Self, Diagnostic> {
        match parse(text, span) {
            Ok(tree) => Ok(Self { span, text: text.to_owned(), body: Body::Tree(tree), nowhere }),
            Err(mistake) => Err(placed(mistake, nowhere, text)),
        }
    }

    /// The names in it.
    pub(super) fn names(&self) -> Vec<String> {
        match &self.body {
            Body::Tree(tree) => tree.names().into_iter().map(|(name, _)| name).collect(),
            Body::Number(_) => Vec::new(),
        }
    }

    /// Binds it to names; `wanted` is the dimension it must have, if that is known.
    pub(super) fn compile(
        &self,
        names: &dyn Names,
        wanted: Option<Dimension>,
    ) -> Result<Program, Vec<Diagnostic>> {
        let compiled = match (&self.body, wanted) {
            (Body::Number(number), wanted) => {
                return self.number(*number, wanted.unwrap_or(Dimension::NONE));
            }
            (Body::Tree(tree), Some(wanted)) => tree.compile_as(names, wanted),
            (Body::Tree(tree), None) => tree.compile(names),
        };
        compiled.map_err(|mistakes| {
            mistakes.into_iter().map(|m| placed(m, self.nowhere, &self.text)).collect()
        })
    }

    fn number(&self, number: f64, wanted: Dimension) -> Result<Program, Vec<Diagnostic>> {
        if wanted.is_none() || number == 0.0 {
            return Ok(Program::constant(number, wanted));
        }
        let message = format!("`{number}` is a plain number, {} is wanted", wanted.words());
        // Nearly every temperature is meant in °C.
        let unit = if wanted == Dimension::KELVIN { "°C".to_owned() } else { wanted.to_string() };
        Err(vec![
            Diagnostic::error(self.span, message)
                .label(format!("expected {}", wanted.words()))
                .hint(format!("write it in quotes with its unit, such as `\"{number} {unit}\"`")),
        ])
    }

    /// A mistake about the whole formula.
    pub(super) fn mistake(&self, message: String) -> Diagnostic {
        placed(Diagnostic::error(self.span, message), self.nowhere, &self.text)
    }
}

fn placed(mut mistake: Diagnostic, nowhere: bool, text: &str) -> Diagnostic {
    if nowhere {
        mistake.span = None;
        mistake.also.clear();
        mistake.message = format!("in `{text}`: {}", mistake.message);
    }
    mistake
}
