//! Starting a rail and letting it down: when it is there, how smoothly, what it takes from the source,
//! what flows backwards, how long it holds.
//!
//! A rail whose nominal voltage is negative is looked at upside down, so that it rises as others do.

use super::bench::{Bench, Finding, Number, Options, State};
use super::scene::{Bound, Dwell, Edge, signal};
use super::supply::steady_tail;
use super::timing::recovery_after;
use super::words::quantity;
use crate::waveform::{Extreme, Relation, Side, Signal, Window};

type Found = Result<Finding, String>;

/// The share of the settled level at which a rail counts as started.
const STARTED: f64 = 0.95;
/// The share of nominal below which a rail without a window is not where it is for: a tenth is the widest
/// window that is usual (common practice, no source).
const RUNNING: f64 = 0.9;
/// The share of nominal through which a start that fails falls back.
const HALF: f64 = 0.5;
/// The share of nominal below which a rail counts as discharged.
const DISCHARGED: f64 = 0.1;

/// A start that arrives at a level.
struct Start<'a> {
    edge: &'a Edge,
    /// From the start of the edge to the end of the dwell behind it.
    watched: Window,
    /// V, as it stands.
    level: f64,
    /// The output, turned over if the level is negative.
    rising: Signal,
}

/// The start of a scene, or in which state it ends instead. `in_time`: whether what is asked is a
/// time, so that a dwell that is too short can be held against its limit.
fn started<'a>(bench: &Bench<'a>, in_time: bool) -> Result<Result<Start<'a>, Finding>, String> {
    let output = bench.output()?;
    let (edge, dwell) = switched(bench)?;
    let watched = Window::new(edge.start_s, dwell.window.to_s);
    let ends = |words: String| Ok(Err(Finding::State(State { words, watched_s: None })));
    if let Some(words) = bench.oscillation(dwell.window)? {
        return ends(format!("does not settle: it {words}"));
    }
    let level = match bench.level(dwell, None) {
        Ok(level) => level,
        Err(reason) if in_time => {
            let state = State { words: reason, watched_s: Some(watched.length_s()) };
            return Ok(Err(Finding::State(state)));
        }
        Err(reason) => return Err(reason),
    };
    if let Some(words) = rests_elsewhere(bench, level) {
        return ends(words);
    }
    Ok(Ok(Start { edge, watched, level, rising: upright(output, level) }))
}

/// The edge, and the dwell behind it.
fn switched<'a>(bench: &Bench<'a>) -> Result<(&'a Edge, &'a Dwell), String> {
    let edge = bench.scene.edges.first().ok_or("the test has no edge")?;
    let dwell = bench.scene.dwell_behind(edge).ok_or("no dwell follows the edge")?;
    Ok((edge, dwell))
}

/// A signal, turned over where `level` is negative.
fn upright(signal: &Signal, level: f64) -> Signal {
    if level < 0.0 { signal.plus(-2.0, signal, &*signal.name) } else { signal.clone() }
}

/// In words, that a rail rests where it should not.
fn rests_elsewhere(bench: &Bench, level: f64) -> Option<String> {
    let stuck = || Some(format!("stuck at {}", quantity(level, "V")));
    let nominal = bench.scene.rail.nominal_v;
    match (bench.scene.rail.window, nominal) {
        (Bound::Within { low_v, high_v }, _) if level < low_v || level > high_v => {
            let middle = 0.5 * (low_v + high_v);
            if level * middle.signum() < middle.abs() {
                stuck()
            } else {
                Some(format!("settles at {}, beyond the window", quantity(level, "V")))
            }
        }
        (Bound::NotGiven | Bound::Off, Some(nominal)) if level / nominal < RUNNING => stuck(),
        _ => None,
    }
}

pub(super) fn settled_level(bench: &Bench, _: Options) -> Found {
    Ok(match started(bench, false)? {
        Ok(start) => Finding::plain(start.level),
        Err(state) => state,
    })
}

/// When the output first reaches its share of the settled level; `None` if it begins above.
fn arrival_s(bench: &Bench, start: &Start) -> Option<f64> {
    let level = STARTED * start.level.abs();
    let below = bench.waveform().stretches(&start.rising, start.watched, Relation::Below, level);
    below.first().filter(|w| w.from_s <= start.watched.from_s).map(|w| w.to_s)
}

pub(super) fn start_time(bench: &Bench, _: Options) -> Found {
    let start = match started(bench, true)? {
        Ok(start) => start,
        Err(state) => return Ok(state),
    };
    let Some(at_s) = arrival_s(bench, &start) else {
        let note = format!("begins above 95 % of {}", quantity(start.level, "V"));
        return Ok(Finding::plain(0.0).note(Some(note)));
    };
    Ok(Finding::Value(bench.to_crossing(&start.rising, [start.edge.start_s, at_s])))
}

pub(super) fn start_settling(bench: &Bench, options: Options) -> Found {
    let band_v = options.band_v.filter(|b| *b > 0.0);
    let band_v = band_v.ok_or("needs a band: write `{ limit = …, band = … }`")?;
    match started(bench, true)? {
        Ok(start) => recovery_after(bench, start.edge, band_v, super::requirement::About::Settled),
        Err(state) => Ok(state),
    }
}

pub(super) fn start_dip(bench: &Bench, _: Options) -> Found {
    let start = match started(bench, false)? {
        Ok(start) => start,
        Err(state) => return Ok(state),
    };
    let Some(arrives_s) = arrival_s(bench, &start) else {
        let note = "begins above 95 % of its settled level".to_owned();
        return Ok(Finding::plain(0.0).note(Some(note)));
    };
    let way = Window::new(start.watched.from_s, arrives_s);
    Ok(fall(bench, &start.rising, way, f64::INFINITY, "never turns back"))
}

/// The largest fall of a signal over a window, with `none` said beside a fall of nothing.
fn fall(bench: &Bench, signal: &Signal, window: Window, ceiling: f64, none: &str) -> Finding {
    match bench.waveform().largest_fall(signal, window, ceiling) {
        Some(fall) if fall.size > 0.0 => Finding::Value(Number {
            value: fall.size,
            at_s: Some(fall.to.time_s),
            instants: vec![fall.from.time_s, fall.to.time_s],
            ..Number::default()
        }),
        _ => Finding::plain(0.0).note(Some(none.to_owned())),
    }
}

pub(super) fn start_overshoot(bench: &Bench, _: Options) -> Found {
    let start = match started(bench, false)? {
        Ok(start) => start,
        Err(state) => return Ok(state),
    };
    let highest = bench.extreme(&start.rising, start.watched, Extreme::Highest)?;
    Ok(Finding::at(highest.value - start.level.abs(), highest.time_s))
}

/// From the start of the edge to the end of the record.
fn behind(bench: &Bench) -> Result<Window, String> {
    let (edge, _) = switched(bench)?;
    bench.scene.after(edge)
}

pub(super) fn inrush_peak(bench: &Bench, _: Options) -> Found {
    let source = bench.scene.signal(signal::SOURCE_CURRENT)?;
    let highest = bench.peak_current(source, behind(bench)?)?;
    Ok(Finding::at(highest.value, highest.time_s))
}

pub(super) fn inrush_i2t(bench: &Bench, _: Options) -> Found {
    let source = bench.scene.signal(signal::SOURCE_CURRENT)?;
    let settled = bench.mean(source, steady_tail(bench)?)?.abs();
    let (window, waveform) = (behind(bench)?, bench.waveform());
    let sides = [(Relation::Above, settled), (Relation::Below, -settled)];
    let squares = sides.map(|(side, level)| waveform.square_beyond(source, window, side, level));
    Ok(Finding::plain(squares.iter().sum()))
}

pub(super) fn source_sag(bench: &Bench, _: Options) -> Found {
    let input = bench.scene.signal(signal::INPUT)?;
    let settled = bench.mean(input, steady_tail(bench)?)?;
    let rising = upright(input, settled);
    let none = "never falls below what it had reached";
    Ok(fall(bench, &rising, behind(bench)?, settled.abs(), none))
}

pub(super) fn chatter(bench: &Bench, _: Options) -> Found {
    let nominal = bench.nominal()?;
    let rising = upright(bench.output()?, nominal);
    let crossings = bench.waveform().crossings(&rising, behind(bench)?, HALF * nominal.abs());
    let falls: Vec<f64> = crossings.iter().filter(|c| !c.rising).map(|c| c.time_s).collect();
    Ok(Finding::Value(Number {
        value: falls.len() as f64,
        at_s: falls.first().copied(),
        ..Number::default()
    }))
}

/// The current through the pass devices, from output to input.
fn backwards(bench: &Bench) -> Result<Signal, String> {
    let forwards = bench.scene.signal(signal::PASS_CURRENT)?;
    Ok(forwards.plus(-2.0, forwards, "backwards"))
}

pub(super) fn reverse_current_peak(bench: &Bench, _: Options) -> Found {
    let highest = bench.extreme(&backwards(bench)?, behind(bench)?, Extreme::Highest)?;
    if highest.value <= 0.0 {
        return Ok(Finding::plain(0.0).note(Some("never flows backwards".to_owned())));
    }
    Ok(Finding::at(highest.value, highest.time_s))
}

pub(super) fn reverse_i2t(bench: &Bench, _: Options) -> Found {
    let backwards = backwards(bench)?;
    let window = behind(bench)?;
    let sum = bench.waveform().square_beyond(&backwards, window, Relation::Above, 0.0);
    Ok(Finding::plain(sum))
}

pub(super) fn hold_up(bench: &Bench, _: Options) -> Found {
    let (low_v, high_v) = super::excursion::limits(bench.scene.rail.window)?;
    let output = bench.output()?;
    let window = behind(bench)?;
    let leaves = |relation, level| {
        bench.waveform().stretches(output, window, relation, level).first().map(|w| w.from_s)
    };
    let exits = [leaves(Relation::Below, low_v), leaves(Relation::Above, high_v)];
    let Some(at_s) = exits.into_iter().flatten().reduce(f64::min) else {
        let watched_s = window.length_s();
        let words = format!("still in the window after {}", quantity(watched_s, "s"));
        return Ok(Finding::NotYet { words, watched_s });
    };
    if at_s <= window.from_s {
        let words = "lies outside the window before the power goes".to_owned();
        return Ok(Finding::State(State { words, watched_s: None }));
    }
    Ok(Finding::Value(bench.to_crossing(output, [window.from_s, at_s])))
}

pub(super) fn discharge_time(bench: &Bench, _: Options) -> Found {
    let nominal = bench.nominal()?;
    let output = upright(bench.output()?, nominal);
    let window = behind(bench)?;
    let level = DISCHARGED * nominal.abs();
    let above = bench.waveform().stretches(&output, window, Relation::Above, level);
    let Some(last) = above.last() else {
        let note = "lies below 10 % of nominal before the power goes".to_owned();
        return Ok(Finding::plain(0.0).note(Some(note)));
    };
    if last.to_s >= window.to_s {
        let left = bench.waveform().at(bench.output()?, window.to_s, Side::Before);
        let watched_s = window.length_s();
        let words = format!(
            "still at {} after {}",
            quantity(left.unwrap_or(f64::NAN), "V"),
            quantity(watched_s, "s")
        );
        return Ok(Finding::NotYet { words, watched_s });
    }
    Ok(Finding::Value(bench.to_crossing(&output, [window.from_s, last.to_s])))
}
