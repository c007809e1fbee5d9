//! What to say of a name that is not known.

use super::Names;
use super::function::Function;
use super::literal::letter_code;
use super::unit::{suggestion, unit};
use crate::diagnostic::nearest;

/// How many names a hint lists.
const SHOWN: usize = 8;

/// The message and the hint for `name`, which is none of `names`.
pub(super) fn unknown(name: &str, names: &dyn Names) -> (String, String) {
    if unit(name).is_some() {
        let message = format!("the unit `{name}` stands without a number");
        return (message, format!("write `1 {name}`"));
    }
    if Function::from_name(name).is_some() {
        return (format!("the function `{name}` stands alone"), format!("write `{name}(x)`"));
    }
    let message = format!("there is no value `{name}` here");
    let all = names.all();
    if let Some(meant) = nearest(name, all.iter().map(String::as_str)) {
        return (message, format!("write `{meant}`"));
    }
    let code = format!("0{name}");
    if let Some(Ok(_)) = letter_code(&code) {
        return (message, format!("write `{code}` if the letter code is meant"));
    }
    if let Some(meant) = suggestion(name) {
        return (message, format!("write `1 {meant}` if the unit is meant"));
    }
    if all.is_empty() {
        let hint = "write a quantity such as `4.7 µF`: no names can be used here";
        return (message, hint.to_owned());
    }
    let more = if all.len() > SHOWN { ", …" } else { "" };
    let some: Vec<&str> = all.iter().take(SHOWN).map(String::as_str).collect();
    (message, format!("write one of {}{more}", some.join(", ")))
}
