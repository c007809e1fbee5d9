//! What parts with states did: how often they changed over, and how long a reset was given.
//!
//! A contact moves in straight lines; the point at which it begins to move is the flip.

use super::bench::{Bench, Finding, Options};
use super::definition::{Appears, Definition, NO_OPTION, row};
use super::families::TIME;
use super::scene::signal;
use crate::waveform::Signal;

/// A contact that moves by less stands still but for rounding.
const STANDS: f64 = 1e-9;

const fn of_states(row: Definition) -> Definition {
    Definition { appears: Appears::WithStates, ..row }
}

/// Rows of circuits whose parts have states.
pub(super) const STATE_ROWS: &[Definition] = &[
    of_states(row(
        "trips",
        "count",
        TIME,
        NO_OPTION,
        "how often parts with a state (switches with an input, lock-outs, thermal shut-downs, \
         supervisors, references with `starts_at`) changed over in the whole record",
        trips,
    )),
    of_states(row(
        "reset_time",
        "s",
        TIME,
        NO_OPTION,
        "how long a supervisor gave a reset in the whole record, from where its output begins to \
         be pulled to where it begins to be let go",
        reset_time,
    )),
];

/// A flip: when, and whether the contact begins to close.
type Flip = (f64, bool);

/// The flips of one contact in order of time.
fn flips(times_s: &[f64], state: &Signal) -> Vec<Flip> {
    let mut found: Vec<Flip> = Vec::new();
    for (k, pair) in state.values.windows(2).enumerate() {
        let closes = pair[1] > pair[0];
        let moves = (pair[1] - pair[0]).abs() > STANDS;
        if moves && found.last().is_none_or(|(_, last)| *last != closes) {
            found.push((times_s[k], closes));
        }
    }
    found
}

/// How often contacts changed over, of all parts with a state.
pub(super) fn trips(bench: &Bench, _: Options) -> Result<Finding, String> {
    let waveform = bench.waveform();
    let states = waveform.signals.iter().filter(|s| signal::is_state(&s.name));
    let all: Vec<Vec<Flip>> = states.map(|s| flips(&waveform.time_s, s)).collect();
    if all.is_empty() {
        return Err("no part has a state".to_owned());
    }
    let count: usize = all.iter().map(Vec::len).sum();
    let last = all.iter().flatten().map(|(t, _)| *t).fold(f64::NEG_INFINITY, f64::max);
    let value = count as f64;
    Ok(if count > 0 { Finding::at(value, last) } else { Finding::plain(value) })
}

/// s for which one of the supervisors gave a reset, together.
pub(super) fn reset_time(bench: &Bench, _: Options) -> Result<Finding, String> {
    let waveform = bench.waveform();
    let record = bench.scene.record()?;
    let mut given: Vec<(f64, f64)> = Vec::new();
    let mut some = false;
    for state in waveform.signals.iter().filter(|s| s.name.starts_with(signal::RESET)) {
        some = true;
        let closed_at_first = state.values.first().is_some_and(|v| *v > 0.5);
        let mut since = closed_at_first.then_some(record.from_s);
        for (t, closes) in flips(&waveform.time_s, state) {
            match (closes, since) {
                (true, None) => since = Some(t),
                (false, Some(from)) => {
                    given.push((from, t));
                    since = None;
                }
                _ => {}
            }
        }
        given.extend(since.map(|from| (from, record.to_s)));
    }
    if !some {
        return Err("the circuit has no supervisor".to_owned());
    }
    given.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut total_s, mut reached) = (0.0, f64::NEG_INFINITY);
    for (from, to) in given {
        total_s += (to - from.max(reached)).max(0.0);
        reached = reached.max(to);
    }
    Ok(Finding::plain(total_s))
}
