//! Overshoot of an amplifier that was wound up while its rail was out of regulation: after a dip of the
//! source, or at the start.
//!
//! The amplifier counts as the cause where all of this holds: it was held at a swing limit while the
//! output lay below where it settles; the output then passed that level for the first time and went
//! beyond it by more than 0.5 % of nominal, below which a linear loop that lags behind its input does
//! as much; and it did so in one go, which is taken to mean that the
//! last 0.1 % of nominal below the level took no longer than the rise from the level to the peak.

use crate::analysis::Record;
use crate::circuit::RailFigures;
use crate::device::region;
use crate::measure::TestKind;
use crate::measure::scene::signal;
use crate::quantity::engineering;
use crate::system::System;
use crate::trial::Outcome;
use crate::waveform::{Extreme, Instant, Relation, Signal, Window};

/// Share of nominal by which the output must pass its level to overshoot (common practice, no source).
const OVERSHOOT: f64 = 5e-3;
/// Share of nominal within which the output is at its level.
const QUIET: f64 = 1e-3;
/// Share of a dwell, at its end, over which its level is averaged.
const TAIL: f64 = 0.1;
const DIGITS: usize = 3;
/// More returns than this are not told one by one.
const MOST_TOLD: usize = 3;

/// An amplifier held at a swing limit.
struct Held {
    amplifier: String,
    region: &'static str,
    window: Window,
}

/// What came of it.
struct Overshoot {
    held: Held,
    /// V, how low the output was meanwhile, below its level.
    dip_v: f64,
    /// Above its level, and when.
    peak: Instant,
}

/// Adds a note for each overshoot that has this cause.
pub(in crate::trial) fn tell_windup(
    system: &System,
    rail: Option<&RailFigures>,
    record: &Record,
    outcome: &mut Outcome,
) {
    let kinds = [TestKind::LineStep, TestKind::Profile, TestKind::StartUp];
    let Some(rail) = rail.filter(|r| !r.amplifier.is_empty() && kinds.contains(&outcome.kind))
    else {
        return;
    };
    let mut found: Vec<Overshoot> = held(system, rail, record)
        .into_iter()
        .filter_map(|held| overshoot(held, rail, outcome))
        .collect();
    // Of several clamps ahead of one peak the last decided.
    found.dedup_by(|later, kept| {
        let same = later.peak.time_s == kept.peak.time_s;
        if same {
            std::mem::swap(later, kept);
        }
        same
    });
    outcome.notes.extend(found.iter().take(MOST_TOLD).map(note));
}

/// Every stretch of the record in which an amplifier is wound up.
fn held(system: &System, rail: &RailFigures, record: &Record) -> Vec<Held> {
    let times = record.times_s();
    let mut found: Vec<Held> = Vec::new();
    let mut before: Option<(String, &'static str)> = None;
    for (k, &t) in times.iter().enumerate() {
        let at = record.point(k);
        let mut z = vec![0.0; system.extent()];
        z[..at.x.len()].copy_from_slice(at.x);
        system.set_time(at.pieces, at.t, &mut z);
        let wound =
            |region: &str| [region::AT_UPPER_SWING, region::AT_LOWER_SWING].contains(&region);
        let now = system
            .regions(&z)
            .into_iter()
            .find(|(name, region)| rail.amplifier.contains(name) && wound(region));
        match (&now, found.last_mut()) {
            (Some(_), Some(last)) if before == now => last.window.to_s = t,
            (Some((amplifier, region)), _) => {
                found.push(Held {
                    amplifier: amplifier.clone(),
                    region,
                    window: Window::new(t, t),
                });
            }
            (None, _) => {}
        }
        before = now;
    }
    found
}

/// What the output does after it was held, if it overshoots for that.
fn overshoot(held: Held, rail: &RailFigures, outcome: &Outcome) -> Option<Overshoot> {
    let waveform = &outcome.waveform;
    let nominal = rail.nominal_v?;
    let output = waveform.signal(signal::OUTPUT)?;
    let output = upright(output, nominal);
    let quiet_v = QUIET * nominal.abs();
    let record = waveform.record()?;
    let dwells = outcome.excitation.dwells.iter().map(|d| d.window);
    let until_s = dwells.map(|w| w.to_s).find(|end| *end > held.window.to_s);
    let dwell = outcome.excitation.dwells.iter().map(|d| d.window);
    let dwell = dwell.into_iter().find(|w| Some(w.to_s) == until_s).unwrap_or(record);
    let level_v = waveform.mean(&output, dwell.last(TAIL))?;
    let lowest = waveform.extreme(&output, held.window, Extreme::Lowest)?;
    let dip_v = level_v - lowest.value;
    if dip_v <= quiet_v {
        return None;
    }
    let rest = Window::new(lowest.time_s, dwell.to_s);
    let above = waveform.stretches(&output, rest, Relation::Above, level_v);
    let first = above.first().filter(|w| w.to_s > held.window.to_s)?;
    let highest = waveform.extreme(&output, *first, Extreme::Highest)?;
    let peak = Instant { value: highest.value - level_v, ..highest };
    let approach = Window::new(rest.from_s, first.from_s);
    let far = waveform.stretches(&output, approach, Relation::Below, level_v - quiet_v);
    let near_s = first.from_s - far.last().map_or(rest.from_s, |w| w.to_s);
    let in_one_go = near_s <= peak.time_s - first.from_s;
    (peak.value > OVERSHOOT * nominal.abs() && in_one_go).then_some(Overshoot { held, dip_v, peak })
}

/// A signal, turned over where `nominal` is negative.
fn upright(signal: &Signal, nominal: f64) -> Signal {
    if nominal < 0.0 { signal.plus(-2.0, signal, &*signal.name) } else { signal.clone() }
}

fn note(found: &Overshoot) -> String {
    let Overshoot { held, dip_v, peak } = found;
    let volt = |v: f64| engineering(v, "V", DIGITS);
    let second = |t: f64| engineering(t, "s", DIGITS + 1);
    let clamp = if held.region == region::AT_UPPER_SWING {
        "`ceiling` or `swing_high`"
    } else {
        "`swing_low`"
    };
    format!(
        "overshoot by windup: the amplifier `{}` was {} from {} to {}, while the output lay up to {} \
         low; it had to come back from that clamp before it could take the pass device back, and the \
         output went {} beyond its level at {}; a clamp ({clamp}) closer to where it works in \
         regulation leaves less to come back from",
        held.amplifier,
        held.region,
        second(held.window.from_s),
        second(held.window.to_s),
        volt(*dip_v),
        volt(peak.value),
        second(peak.time_s),
    )
}
