//! What limited the recovery, from the regions in which amplifier and pass device worked.
//!
//! For the loading edge the first of these that holds:
//!
//! 1. *source*, *dropout*: the loop has lost control, at the end of the loaded dwell or at the
//!    worst instant: a pass device is ohmic (a bipolar one saturated) and the amplifier can drive
//!    it no further, being wound up (or, at the end of the dwell, at its drive limit). It is the
//!    source if the input has sagged since the edge by more than the headroom that is left.
//! 2. *amplifier drive current*: for more than [`MOST`] of the time from the start of the edge to
//!    the worst instant, the amplifier's output stage or its input stage gave its largest (or
//!    lowest) current.
//! 3. *amplifier swing*: for as long, it was wound up at a swing limit.
//! 4. *nothing*: the output goes to its loaded level without undershoot.
//! 5. *loop bandwidth*: none of these, so the loop worked linearly and its speed decided.
//!
//! For the releasing edge: the swing or drive limit that the amplifier was held at when the edge
//! began, and has to come back from; else rules 2, 3 and 5 up to the worst overshoot. It is told
//! where it differs from the loading edge.

use super::{NO_UNDERSHOOT, Story};
use crate::device::region;
use crate::measure::Edge;
use crate::measure::scene::signal;
use crate::quantity::engineering;
use crate::trial::headroom::is_fully_on;
use crate::waveform::Side;

/// The share of the time to the worst instant that counts as most of it.
const MOST: f64 = 0.5;

/// Significant digits of voltages in words.
const DIGITS: usize = 3;

const LOOP: &str = "loop bandwidth";
const NOTHING: &str = "nothing (the output settles without undershoot)";
/// What joins the limit of the releasing edge to that of the loading one.
pub(super) const ON_RELEASE: &str = "; on release by ";
const DRIVE: &str = "amplifier drive current";
const INPUT_STAGE_WORDS: &str = "amplifier drive current (of its input stage)";
const SWING_WORDS: &str = "amplifier swing";
const SWING: [&str; 2] = [region::AT_UPPER_SWING, region::AT_LOWER_SWING];
const INPUT_STAGE: [&str; 1] = [region::LIMITED];
const OUTPUT_STAGE: [&str; 2] = [region::AT_DRIVE_LIMIT, region::AT_LOWEST_DRIVE];

/// In words; `None` without an amplifier where the rail is not out of headroom.
pub(super) fn limited_by(story: &Story<'_>) -> Option<String> {
    let watch = Watch { story };
    let loading = loading(&watch)?;
    match releasing(&watch) {
        Some(releasing) if releasing != loading => {
            Some(format!("{loading}{ON_RELEASE}{releasing}"))
        }
        _ => Some(loading),
    }
}

/// Whether words of [`limited_by`] mean that the loop worked linearly.
pub(super) fn is_linear(limit: &str) -> bool {
    limit == LOOP || limit == NOTHING
}

fn loading(watch: &Watch<'_, '_>) -> Option<String> {
    let story = watch.story;
    let [settled, worst] =
        [story.dwell_end_s, story.lowest_s].map(|t| watch.state(watch.point_before(t)));
    let no_further = settled.one_of(&SWING).or(settled.one_of(&[region::AT_DRIVE_LIMIT]));
    if settled.fully_on && no_further.is_some() {
        return Some(out_of_headroom(story, story.dwell_end_s));
    }
    if worst.fully_on && worst.one_of(&SWING).is_some() {
        return Some(out_of_headroom(story, story.lowest_s));
    }
    if story.rail.amplifier.is_empty() {
        return None;
    }
    let held = watch.held_between(story.edge.start_s, story.lowest_s);
    let lowest_v = story.level_v - story.droop_v;
    let undershoots =
        story.settled_v.is_none_or(|v| v - lowest_v > NO_UNDERSHOOT * story.droop_v.abs());
    Some(match held {
        Some(held) => held.to_owned(),
        None if undershoots => LOOP.to_owned(),
        None => NOTHING.to_owned(),
    })
}

fn releasing(watch: &Watch<'_, '_>) -> Option<String> {
    let story = watch.story;
    if story.rail.amplifier.is_empty() {
        return None;
    }
    let outcome = story.outcome;
    let overshoot = outcome.measurements.iter().find(|m| m.name == "overshoot")?;
    let highest_s = overshoot.at_s?;
    let released = |e: &&Edge| e.change < 0.0 && e.start_s <= highest_s;
    let edge = outcome.excitation.edges.iter().rfind(released)?;
    let sides = [Side::Before, Side::After].into_iter();
    let highest = sides.filter_map(|side| story.signal_at(signal::OUTPUT, highest_s, side));
    let highest_v = highest.reduce(f64::max)?;
    let overshoots = story
        .level_behind(edge)
        .is_none_or(|v| highest_v - v > NO_UNDERSHOOT * story.droop_v.abs());
    if !overshoots {
        return None;
    }
    let start = watch.state(watch.point_before(edge.start_s));
    let at_release =
        |what: &str, held: &str| Some(format!("{what} ({held} when the load was released)"));
    if let Some(held) = start.one_of(&SWING) {
        return at_release(SWING_WORDS, held);
    }
    if let Some(held) = start.one_of(&OUTPUT_STAGE) {
        return at_release(DRIVE, held);
    }
    Some(watch.held_between(edge.start_s, highest_s).unwrap_or(LOOP).to_owned())
}

fn out_of_headroom(story: &Story<'_>, t: f64) -> String {
    match (story.input_sag(t), story.headroom(t)) {
        (Some(sag), Some(left)) if sag > left => format!(
            "source (dropout: the input sags by {}, more than the {} of headroom left)",
            engineering(sag, "V", DIGITS),
            engineering(left, "V", DIGITS)
        ),
        _ => "dropout".to_owned(),
    }
}

/// Where amplifier and pass device work at one point.
struct State {
    /// Of all stages of the amplifiers.
    regions: Vec<&'static str>,
    /// Whether a pass device can give no more.
    fully_on: bool,
}

impl State {
    /// The first region that is one of these.
    fn one_of(&self, regions: &[&str]) -> Option<&'static str> {
        self.regions.iter().copied().find(|r| regions.contains(r))
    }
}

struct Watch<'a, 'b> {
    story: &'a Story<'b>,
}

impl Watch<'_, '_> {
    /// The last point of the record that holds just before `t`.
    fn point_before(&self, t: f64) -> usize {
        let times = self.story.record.times_s();
        times.partition_point(|time| *time < t).min(times.len().saturating_sub(1))
    }

    fn state(&self, k: usize) -> State {
        let Story { system, variant, rail, record, .. } = self.story;
        let at = record.point(k);
        let mut z = vec![0.0; system.extent()];
        z[..at.x.len()].copy_from_slice(at.x);
        system.set_time(at.pieces, at.t, &mut z);
        let all = system.regions(&z);
        let amplifier = all.iter().filter(|(name, _)| rail.amplifier.contains(name));
        let regions: Vec<&'static str> = amplifier.map(|(_, region)| *region).collect();
        let fully_on = all
            .iter()
            .filter(|(name, _)| rail.pass.contains(name))
            .any(|(name, region)| is_fully_on(variant, name, region));
        State { regions, fully_on }
    }

    /// The limit that held the amplifier for most of a stretch of time, if one did.
    fn held_between(&self, from_s: f64, to_s: f64) -> Option<&'static str> {
        let times = self.story.record.times_s();
        // At a jump the stretch begins with its later side.
        let first = times.partition_point(|t| *t <= from_s).saturating_sub(1);
        let last = self.point_before(to_s).max(first);
        // Drive, input stage, swing.
        let mut held_s = [0.0; 3];
        let flags = |k: usize| {
            let state = self.state(k);
            [&OUTPUT_STAGE[..], &INPUT_STAGE, &SWING].map(|held| state.one_of(held).is_some())
        };
        let mut before = flags(first);
        for k in first..last {
            let after = flags(k + 1);
            let half_s = 0.5 * (times[k + 1] - times[k]);
            for (held_s, (a, b)) in held_s.iter_mut().zip(before.into_iter().zip(after)) {
                *held_s += half_s * (f64::from(u8::from(a)) + f64::from(u8::from(b)));
            }
            before = after;
        }
        let words = [DRIVE, INPUT_STAGE_WORDS, SWING_WORDS];
        let most_s = MOST * (times[last] - times[first]);
        words.into_iter().zip(held_s).find(|(_, held)| *held > most_s).map(|(words, _)| words)
    }
}
