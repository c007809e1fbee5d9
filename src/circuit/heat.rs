//! What heat paths name: parts that can be heated, each by one path, and sinks without a circle.

use super::Circuit;
use super::part::Part;
use super::setting::Setting;
use crate::device::HEATED_KINDS;
use crate::diagnostic::{Diagnostic, Diagnostics, Span, nearest};
use std::collections::{BTreeMap, BTreeSet};

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
    let by_name: BTreeMap<&str, &Part> = parts.iter().map(|p| (p.name.as_str(), p)).collect();
    let look = Look { parts, by_name: &by_name, unread };
    let circles = circles(paths.clone(), &by_name);
    let mut heated: BTreeMap<&str, (&str, Span)> = BTreeMap::new();
    for path in paths {
        if let Some((span, _)) = &path.temperature {
            let message = format!("heat path `{}` has a `temperature`", path.name);
            let hint = "write `ambient` for what is around it, or `held_at` for its junction";
            told.push(Diagnostic::error(*span, message).label("found by the run").hint(hint));
        }
        for (name, span) in names(path, "part").iter().chain(names(path, "parts")) {
            let Some(part) = look.find(name, *span, &HEATED_KINDS, told) else { continue };
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
            let sink = look.find(name, *span, &[HEAT_PATH], told);
            if sink.is_some() && circles.contains(path.name.as_str()) {
                let message = format!("heat from `{}` leads back to it", path.name);
                let hint = "end one of these heat paths at ambient: take its `sink` out";
                told.push(Diagnostic::error(*span, message).label("a circle").hint(hint));
            }
        }
    }
}

/// The names of all parts whose sinks lead back to them; each is visited once.
fn circles<'p>(
    paths: impl Iterator<Item = &'p Part>,
    by_name: &BTreeMap<&str, &'p Part>,
) -> BTreeSet<&'p str> {
    let next = |at: &'p Part| by_name.get(names(at, "sink").first()?.0.as_str()).copied();
    let mut seen: BTreeSet<&str> = BTreeSet::new();
    let mut round = BTreeSet::new();
    for path in paths {
        let mut way: Vec<&'p str> = Vec::new();
        let mut at = Some(path);
        while let Some(part) = at.filter(|part| !seen.contains(part.name.as_str())) {
            seen.insert(&part.name);
            way.push(&part.name);
            at = next(part);
        }
        let back = at.and_then(|part| way.iter().position(|name| *name == part.name));
        round.extend(back.into_iter().flat_map(|first| way[first..].iter().copied()));
    }
    round
}

/// All parts, found by their names.
struct Look<'p, 'm> {
    parts: &'p [Part],
    by_name: &'m BTreeMap<&'p str, &'p Part>,
    unread: &'m [String],
}

impl<'p> Look<'p, '_> {
    fn find(
        &self,
        name: &str,
        span: Span,
        kinds: &[&str],
        told: &mut Diagnostics,
    ) -> Option<&'p Part> {
        let fits = |part: &&Part| kinds.contains(&part.kind.name);
        let found = self.by_name.get(name).copied();
        if found.is_some_and(|part| fits(&part)) {
            return found;
        }
        if told.is_full() || found.is_none() && self.unread.iter().any(|other| other == name) {
            return None;
        }
        let listed = kinds.iter().map(|kind| format!("`{kind}`")).collect::<Vec<_>>().join(", ");
        let message = match found {
            Some(part) => format!("`{name}` is of kind `{}`, not one of {listed}", part.kind.name),
            None => format!("there is no part `{name}`"),
        };
        let others = self.parts.iter().filter(fits).map(|part| part.name.as_str());
        let hint = match nearest(name, others) {
            Some(near) => format!("write `\"{near}\"`"),
            None => format!("name a part of kind {listed}"),
        };
        told.push(Diagnostic::error(span, message).label("does not fit here").hint(hint));
        None
    }
}
