//! The listing of a dropout test, one row a condition, and what it comes to over all of them.

use super::curves::gains_db;
use super::{Met, Story};
use crate::analysis::{Sought, SweepPoint, Watched};
use crate::curve::{Cell, Listing};
use crate::measure::{Absence, DROPOUT_DEFINITIONS, DropoutDefinition};
use crate::quantity::trimmed;
use crate::trial::run::Prepared;
use crate::trial::steady::place::{Place, unit_of};
use std::fmt::Write as _;

const NAME: &str = "dropout";
/// Digits of what the conclusion tells.
const DIGITS: usize = 4;
/// The level of the source at which the amplifier comes to its limit is found to this, in V.
const LIMIT_RESOLUTION_V: f64 = 1e-6;

const LOAD: usize = 0;
const AMBIENT: usize = 1;
const INPUT: usize = 7;
const DROPOUT: usize = 6;

/// The definition that the file judges by; 2 % below when it judges by none.
fn judged(room: &Prepared) -> DropoutDefinition {
    let asked = room.requirements.iter().find(|r| r.name == NAME);
    asked.and_then(|r| r.definition).unwrap_or(DropoutDefinition::ShareBelow(0.02))
}

/// One row.
pub(super) fn row(
    place: &mut Place<'_>,
    story: &Story,
    met: &[(DropoutDefinition, Result<Met, Absence>)],
) -> Listing {
    let judged = judged(place.room);
    let load_unit = place.load.map_or("A", |load| unit_of(load.dimension));
    let title = format!(
        "dropout, and where regulation ends as the input falls (\"judged\" and \"input\": {})",
        judged.words()
    );
    let mut listing = Listing::new(
        NAME,
        title,
        &[
            ("load", load_unit),
            ("ambient", "°C"),
            ("reference_output", "V"),
            ("below_100_mv", "V"),
            ("below_2_percent", "V"),
            ("fully_on", "V"),
            ("judged", "V"),
            ("input", "V"),
            ("input_at_amplifier_limit", "V"),
            ("loop_gain_there", "dB"),
        ],
    );
    let held = |name: &str| place.held.iter().find(|h| h.name == name).map(|h| h.value);
    let at = |definition| {
        let found = met.iter().find(|(known, _)| *known == definition);
        found.and_then(|(_, met)| met.as_ref().ok())
    };
    let headroom = |definition| at(definition).map(|met| story.ends.headroom_v(&met.point.z));
    let mut cells = vec![Cell::from(held("load")), Cell::from(held("ambient"))];
    cells.push(Cell::from(story.reference.as_ref().ok().map(|r| r.output_v)));
    cells.extend(DROPOUT_DEFINITIONS.map(|definition| Cell::from(headroom(definition))));
    cells.push(Cell::from(headroom(judged)));
    cells.push(Cell::from(at(judged).map(|met| story.ends.input_v(&met.point.z))));
    let limit = amplifier_limit(place, story);
    cells.push(Cell::from(limit.as_ref().map(|point| story.ends.input_v(&point.z))));
    let gain = limit.and_then(|point| gains_db(place, &[point])?.pop());
    cells.push(Cell::from(gain));
    listing.push(cells);
    listing
}

/// The last rest of the falling sweep ahead of the amplifier's limit.
fn amplifier_limit(place: &mut Place<'_>, story: &Story) -> Option<SweepPoint> {
    let is_limited = |z: &[f64]| f64::from(u8::from(place.out_of_regulation_at(z).is_some()));
    let first = story.falling.iter().position(|p| is_limited(&p.z) > 0.0)?;
    let (before, after) = (story.falling.get(first.checked_sub(1)?)?, &story.falling[first]);
    let mut rest = place.rest.clone();
    rest.put(story.source.drive, before);
    let to = (&is_limited as Watched<'_>, 0.5);
    match rest.seek(story.source.drive, after.level, to, (0.0, LIMIT_RESOLUTION_V)) {
        Ok(Sought::Jumps(_)) => Some(rest.here(story.source.drive)),
        _ => Some(before.clone()),
    }
}

/// At which condition regulation goes first, from the rows of all of them.
pub(in crate::trial::steady) fn conclude(room: &Prepared, listings: &[Listing]) -> Option<String> {
    let listing = listings.iter().find(|l| l.name == NAME)?;
    let number = |row: &[Cell], k: usize| match row.get(k) {
        Some(Cell::Number(value)) => Some(*value),
        _ => None,
    };
    let known: Vec<(f64, &Vec<Cell>)> =
        listing.rows.iter().filter_map(|row| Some((number(row, INPUT)?, row))).collect();
    let first = known.iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
    let last = known.iter().min_by(|a, b| a.0.total_cmp(&b.0))?;
    let at = |(input, row): &(f64, &Vec<Cell>)| {
        let load = number(row, LOAD).map(|v| trimmed(v, listing.columns[LOAD].unit, DIGITS));
        let ambient = number(row, AMBIENT).map(|v| trimmed(v, "°C", DIGITS));
        let condition: Vec<String> = [load, ambient].into_iter().flatten().collect();
        let input = trimmed(*input, "V", DIGITS);
        let dropout = number(row, DROPOUT).map(|v| trimmed(v, "V", DIGITS)).unwrap_or_default();
        (condition.join(" and "), input, dropout)
    };
    let definition = judged(room).words();
    let (condition, input, dropout) = at(first);
    let mut told = if known.len() == 1 {
        format!("regulation ends ({definition}) with {input} at the input pin: dropout {dropout}")
    } else {
        let (mildest, its_input, its_dropout) = at(last);
        format!(
            "regulation goes first at {condition}: {definition} with {input} at the input pin, \
             dropout {dropout}; last at {mildest}: with {its_input}, dropout {its_dropout}"
        )
    };
    if known.len() < listing.rows.len() {
        let missing = listing.rows.len() - known.len();
        let all = listing.rows.len();
        let _ = write!(told, "; {missing} of {all} conditions do not get there");
    }
    Some(told)
}
