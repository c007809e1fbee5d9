//! What heat paths name: parts that can be heated, each by one path, and sinks without a circle.

use super::Circuit;
use super::part::Part;
use super::setting::Setting;
use crate::device::HEATED_KINDS;
use crate::diagnostic::{Diagnostic, Diagnostics, Span, nearest};
use std::collections::BTreeMap;

const HEAT_PATH: &str = "heat-path";

/// The names behind a key of a part, with their places.
fn names<'p>(part: &'p Part, key: &str) -> &'p [(String, Span)] {
    match part.settings.get(key) {
        Some((_, Setting::Parts(names))) => names,
        _ => &[],
    }
}

impl Circuit {
    /// The heat path of this name, or the one that the part of this name heats.
    pub fn heat_path(&self, name: &str) -> Option<&str> {
        let heats = |path: &&Part| {
            let mut named = names(path, "part").iter().chain(names(path, "parts"));
            path.name == name || named.any(|(part, _)| part == name)
        };
        let paths = self.parts.iter().filter(|part| part.kind.name == HEAT_PATH);
        paths.filter(|path| !path.unused).find(heats).map(|path| path.name.as_str())
    }
}

/// Tells everything wrong with what heat paths name.
pub(super) fn check_heat(parts: &[Part], unread: &[String], told: &mut Diagnostics) {
    let paths = parts.iter().filter(|part| part.kind.name == HEAT_PATH);
    let mut heated: BTreeMap<&str, (&str, Span)> = BTreeMap::new();
    for path in paths {
        if let Some((span, _)) = &path.temperature {
            let message = format!("heat path `{}` has a `temperature`", path.name);
            let hint = "write `ambient` for what is around it, or `held_at` for its junction";
            told.push(Diagnostic::error(*span, message).label("found by the run").hint(hint));
        }
        for (name, span) in names(path, "part").iter().chain(names(path, "parts")) {
            let Some(part) = found(name, *span, parts, unread, &HEATED_KINDS, told) else {
                continue;
            };
            if let Some((other, first)) = heated.insert(&part.name, (&path.name, *span)) {
                let message = format!("`{name}` heats both `{other}` and `{}`", path.name);
                let mistake = Diagnostic::error(*span, message).label("second time");
                let hint = "name it in one heat path; let one path be the `sink` of the other";
                told.push(mistake.hint(hint).also(first, "first time"));
            }
            if let Some((own, _)) = part.temperature.as_ref().filter(|_| !part.unused) {
                let message =
                    format!("`{name}` has a `temperature`, but heat path `{}` finds it", path.name);
                let mistake = Diagnostic::error(*own, message).label("cannot be both");
                let hint = format!("take `temperature` out, or write `held_at` in `{}`", path.name);
                told.push(mistake.hint(hint).also(*span, "heated here"));
            }
        }
        for (name, span) in names(path, "sink") {
            let sink = found(name, *span, parts, unread, &[HEAT_PATH], told);
            if sink.is_some() && leads_back(path, parts) {
                let message = format!("heat from `{}` leads back to it", path.name);
                let hint = "end one of these heat paths at ambient: take its `sink` out";
                told.push(Diagnostic::error(*span, message).label("a circle").hint(hint));
            }
        }
    }
}

fn leads_back(from: &Part, parts: &[Part]) -> bool {
    let mut at = from;
    for _ in 0..parts.len() {
        let Some((name, _)) = names(at, "sink").first() else { return false };
        if *name == from.name {
            return true;
        }
        let Some(next) = parts.iter().find(|part| part.name == *name) else { return false };
        at = next;
    }
    // A circle farther on, which is told at the paths in it.
    false
}

fn found<'p>(
    name: &str,
    span: Span,
    parts: &'p [Part],
    unread: &[String],
    kinds: &[&str],
    told: &mut Diagnostics,
) -> Option<&'p Part> {
    let fits = |part: &&Part| kinds.contains(&part.kind.name);
    let found = parts.iter().find(|part| part.name == name);
    if found.is_some_and(|part| fits(&part)) {
        return found;
    }
    if found.is_none() && unread.iter().any(|other| other == name) {
        return None;
    }
    let listed = kinds.iter().map(|kind| format!("`{kind}`")).collect::<Vec<_>>().join(", ");
    let message = match found {
        Some(part) => format!("`{name}` is of kind `{}`, not one of {listed}", part.kind.name),
        None => format!("there is no part `{name}`"),
    };
    let hint = match nearest(name, parts.iter().filter(fits).map(|part| part.name.as_str())) {
        Some(near) => format!("write `\"{near}\"`"),
        None => format!("name a part of kind {listed}"),
    };
    told.push(Diagnostic::error(span, message).label("does not fit here").hint(hint));
    None
}
