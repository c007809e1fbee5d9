//! States with hysteresis at rest: flipped until each agrees with what it watches.
//!
//! The search begins with every state low, as if whatever is watched had come from below, so that of
//! several consistent rests the one is found that a circuit reaches on its way up.

use super::{Failure, OperatingPoint};
use crate::system::{Pieces, System};
use std::collections::BTreeSet;

/// Rests looked at for each state before the search is given up.
const ROUNDS_A_STATE: usize = 8;

/// Puts the drives of all states where these states have them.
pub(super) fn hold(system: &System, states: &[bool], pieces: &mut Pieces) {
    for (placed, high) in system.trips.iter().zip(states) {
        pieces.hold(placed.drive, placed.trip.level(*high));
    }
}

/// Which states a point contradicts.
pub(super) fn contradicted(system: &System, states: &[bool], x: &[f64]) -> Vec<usize> {
    let both = system.trips.iter().zip(states).enumerate();
    both.filter(|(_, (placed, high))| placed.trip.excess(**high, x) > 0.0).map(|(k, _)| k).collect()
}

/// A rest that agrees with its states; `rest_of` finds one with the drives of states held as they are
/// given, from a guess.
///
/// # Errors
/// When there is no rest, or none that agrees: the states go round in a circle.
pub(super) fn find(
    system: &System,
    pieces: &Pieces,
    guess: Option<&[f64]>,
    rest_of: impl Fn(&Pieces, Option<&[f64]>) -> Result<OperatingPoint, Failure>,
) -> Result<OperatingPoint, Failure> {
    let mut states = vec![false; system.trips.len()];
    let (mut held, mut guess) = (pieces.clone(), guess.map(<[f64]>::to_vec));
    let mut seen = BTreeSet::new();
    // All together first; where that goes in a circle, one by one.
    let mut together = true;
    let mut last = Vec::new();
    for _ in 0..ROUNDS_A_STATE * (states.len() + 1) {
        hold(system, &states, &mut held);
        let rest = match rest_of(&held, guess.as_deref()) {
            Ok(rest) => rest,
            // Whatever watches a junction cuts in before one that has no steady state is hot; all
            // else is looked at again from there.
            Err(failure) => {
                let watching = watching_heat(system);
                let cold = watching.iter().copied().find(|&k| !states[k]);
                last = vec![cold.ok_or(failure)?];
                states.fill(false);
                watching.iter().for_each(|&k| states[k] = true);
                continue;
            }
        };
        last = contradicted(system, &states, &rest.z);
        let Some(&first) = last.first() else { return Ok(OperatingPoint { states, ..rest }) };
        if !seen.insert(states.clone()) {
            if !together {
                break;
            }
            together = false;
            seen.clear();
            seen.insert(states.clone());
        }
        let flipped = if together { last.as_slice() } else { &[first] };
        for &k in flipped {
            states[k] = !states[k];
        }
        guess = Some(rest.z);
    }
    Err(no_rest(system, &last))
}

/// The states that watch a junction on a heat path.
fn watching_heat(system: &System) -> Vec<usize> {
    let watches = |unknown: usize| system.heat_paths.iter().any(|path| path.junction == unknown);
    let trips = system.trips.iter().enumerate();
    trips.filter(|(_, placed)| watches(placed.trip.watched[0])).map(|(k, _)| k).collect()
}

fn no_rest(system: &System, last: &[usize]) -> Failure {
    let part = last.first().and_then(|&k| system.parts.get(system.trips[k].part));
    let name = part.map_or("a state", |p| p.name.as_str());
    let words = last.first().map_or(["goes low", "goes high"], |&k| system.trips[k].trip.words);
    Failure {
        time_s: None,
        node: None,
        part: part.map(|p| p.name.clone()),
        tried: vec!["every state flipped until it agrees with what it watches".to_owned()],
        message: format!(
            "the circuit has no rest: `{name}` {} and {} in a circle; start the test from initial \
             values to watch it",
            words[1], words[0]
        ),
    }
}
