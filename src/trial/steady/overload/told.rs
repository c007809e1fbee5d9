//! What an overload test tells: where the rail can rest with each load, and what becomes of it.

use super::Story;
use crate::curve::{Cell, Listing};
use crate::trial::steady::place::Place;

/// A row for every rest of every load.
pub(super) fn listings(place: &Place<'_>, story: &Story) -> Vec<Listing> {
    let mut listing = Listing::new(
        "rests",
        "where the rail can rest: the regulator's current equals the load's; stable rests hold, \
         unstable ones are edges between them",
        &[
            ("source", "V"),
            ("ambient", "°C"),
            ("load", ""),
            ("output", "V"),
            ("current", "A"),
            ("pass_power", "W"),
            ("rest", ""),
        ],
    );
    let held = |name: &str| place.held.iter().find(|h| h.name == name).map(|h| h.value);
    for fate in &story.fates {
        for crossing in &fate.crossings {
            let word = if crossing.stable { "stable" } else { "unstable" };
            listing.push([
                Cell::from(held("source")),
                Cell::from(held("ambient")),
                Cell::from(fate.line.words.as_str()),
                Cell::from(crossing.spot.output_v),
                Cell::from(crossing.spot.current_a),
                Cell::from(crossing.spot.pass_w),
                Cell::from(word),
            ]);
        }
    }
    if listing.rows.is_empty() { Vec::new() } else { vec![listing] }
}

/// A sentence a load, and what else must be known.
pub(super) fn notes(place: &Place<'_>, story: &Story) -> Vec<String> {
    let fates = story.fates.iter().map(|fate| format!("{}: {}", fate.line.words, fate.words()));
    let all = fates.chain(story.hysteresis.clone()).chain(story.ended.clone());
    if place.condition.is_empty() {
        return all.collect();
    }
    all.map(|words| format!("{}: {words}", place.condition)).collect()
}
