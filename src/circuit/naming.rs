//! Names: which are refused, and how a choice of them is written in a message.

use crate::diagnostic::{Diagnostic, Diagnostics, Span, nearest};
use crate::document::{Node, wrong_form};
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

/// A list of words longer than this is not repeated at every slip.
const MOST_LISTED: usize = 12;

/// One of the words a key takes.
pub(super) fn word(
    key: &str,
    words: &'static [&'static str],
    node: &Node,
    told: &mut Diagnostics,
) -> Option<&'static str> {
    let all = one_of(words);
    let Some(text) = node.as_text() else {
        told.push(wrong_form(key, node, &all));
        return None;
    };
    let found = words.iter().copied().find(|w| *w == text);
    if found.is_none() {
        let hint = match nearest(text, words.iter().copied()) {
            Some(near) => format!("write `\"{near}\"`"),
            None => format!("write {all}"),
        };
        let message = format!("`{key}` cannot be `{text}`");
        let label = if words.len() > MOST_LISTED {
            "not one of its words".to_owned()
        } else {
            format!("expected {all}")
        };
        told.push(Diagnostic::error(node.content_span(), message).label(label).hint(hint));
    }
    found
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
