//! Names: which are refused, and how a choice of them is written in a message.

use crate::diagnostic::{Diagnostic, Span};
use crate::quantity::{reserved, valid_name};

/// `` `a` or `b` ``.
pub(super) fn one_of(words: &[&str]) -> String {
    let quoted: Vec<String> = words.iter().map(|w| format!("`{w}`")).collect();
    match quoted.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} or {last}", rest.join(", ")),
        None => String::new(),
    }
}

/// Why a name of a value or law input is refused.
pub(super) fn name_mistake(what: &str, name: &str, span: Span) -> Option<Diagnostic> {
    if let Some(mistake) = spelling_mistake(what, name, span) {
        return Some(mistake);
    }
    let taken = reserved(name)?;
    let message = format!("`{name}` cannot name {}: {taken}", with_article(what));
    let hint = format!("choose another name, such as `{name}_1`");
    Some(Diagnostic::error(span, message).hint(hint))
}

/// Why a name of a node, part, model or block is refused.
pub(super) fn spelling_mistake(what: &str, name: &str, span: Span) -> Option<Diagnostic> {
    if valid_name(name) {
        return None;
    }
    let message = format!("`{name}` cannot name {}", with_article(what));
    let hint = "a name begins with a letter or `_`, and goes on with letters, digits and `_`";
    Some(Diagnostic::error(span, message).label("not a name").hint(hint))
}

fn with_article(what: &str) -> String {
    let article = if what.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
    format!("{article} {what}")
}
