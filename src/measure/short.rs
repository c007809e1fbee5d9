//! A short across the output: currents, energy, and whether the rail comes back.

use super::bench::{Bench, Finding, Options, State, unreached};
use super::scene::{Bound, Dwell, Role, TAIL, signal};
use super::timing::last_entry;
use super::words::quantity;
use crate::waveform::{Side, Window};

type Found = Result<Finding, String>;

/// Half of the window, as a share of nominal, where none is given.
const OTHERWISE: f64 = 0.05;

/// From the first touch of the short to its last.
fn shorted(bench: &Bench) -> Result<Window, String> {
    match bench.all_edges()?.as_slice() {
        [first, .., last] => Ok(Window::new(first.start_s, last.end_s)),
        _ => Err("the short does not end".to_owned()),
    }
}

/// From when the short begins to go to the end of the record.
fn afterwards(bench: &Bench) -> Result<Window, String> {
    let start_s = bench.all_edges()?.last().map_or(0.0, |e| e.start_s);
    Ok(Window::new(start_s, bench.scene.record()?.to_s))
}

fn dwell<'a>(bench: &Bench<'a>, role: Role) -> Result<&'a Dwell, String> {
    let found = bench.scene.dwells.iter().find(|d| d.role == role);
    found.ok_or_else(|| format!("the test has no {} dwell", role.word()))
}

pub(super) fn current_peak(bench: &Bench, _: Options) -> Found {
    let current = bench.scene.signal(signal::SHORT_CURRENT)?;
    let found = bench.peak_current(current, bench.scene.record()?)?;
    Ok(Finding::at(found.value, found.time_s))
}

pub(super) fn current_settled(bench: &Bench, _: Options) -> Found {
    let tail = dwell(bench, Role::Loaded)?.window.last(TAIL);
    Ok(Finding::plain(bench.mean_current(bench.scene.signal(signal::SHORT_CURRENT)?, tail)?))
}

pub(super) fn energy(bench: &Bench, _: Options) -> Found {
    let window = shorted(bench)?;
    let power = bench.mean(bench.scene.signal(signal::PASS_POWER)?, window)?;
    Ok(Finding::plain(power * window.length_s()))
}

pub(super) fn overshoot(bench: &Bench, _: Options) -> Found {
    let before = bench.level_of(Role::Before)?;
    let found = bench.highest(afterwards(bench)?)?;
    Ok(Finding::at(bench.sense() * (found.value - before), found.time_s))
}

pub(super) fn recovered(bench: &Bench, _: Options) -> Found {
    let (low_v, high_v) = match bench.scene.rail.window {
        Bound::Within { low_v, high_v } => (low_v, high_v),
        Bound::NotGiven | Bound::Off => {
            let nominal = bench.nominal()?;
            let half = OTHERWISE * nominal.abs();
            (nominal - half, nominal + half)
        }
    };
    let (output, window) = (bench.output()?, afterwards(bench)?);
    let (centre, half) = (f64::midpoint(low_v, high_v), 0.5 * (high_v - low_v));
    let end = bench.waveform().at(output, window.to_s, Side::Before);
    let end = end.ok_or_else(unreached)?;
    if (end - centre).abs() > half {
        let still = bench.level(dwell(bench, Role::Released)?, Some(half));
        let level = quantity(end, "V");
        return Ok(Finding::State(match still {
            Ok(_) => {
                let words = format!("latched: after the short the output rests at {level}");
                State { words, watched_s: None }
            }
            Err(_) => {
                let length = quantity(window.length_s(), "s");
                let words = format!("not back within {length}: the output is still at {level}");
                State { words, watched_s: Some(window.length_s()) }
            }
        }));
    }
    let Some(entry_s) = last_entry(bench, output, window, centre, half) else {
        return Ok(Finding::plain(0.0).note(Some("stayed within the window".to_owned())));
    };
    Ok(Finding::Value(bench.to_crossing(output, [window.from_s, entry_s])))
}
