//! What a load step's droop is made of at its worst instant, what limited the recovery, and what a
//! reckoning by hand would have given.
//!
//! Reads solved points; only the estimate solves more, the circuit at rest before and behind the edge.

mod estimate;
mod limit;
mod split;
mod told;
mod windup;

use super::Outcome;
use crate::analysis::Record;
use crate::circuit::{RailFigures, Variant};
use crate::measure::scene::signal;
use crate::measure::{Edge, TestKind};
use crate::system::System;
use crate::waveform::Side;

pub use estimate::{DrivePlateau, DroopEstimate};
pub use split::{Cause, CauseKind};
pub(super) use told::tell;
pub(super) use windup::tell_windup;

/// Share of the droop by which an extreme must pass the settled level behind its edge to count as
/// the loop's doing; below it the output merely goes to its new level.
const NO_UNDERSHOOT: f64 = 1e-3;

/// The droop explained.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Explanation {
    /// V; they add up to the droop. Empty if no capacitor stands between output and ground.
    pub causes: Vec<Cause>,
    /// V, of the droop what stays: the level before minus the level after the loading edge,
    /// positive when the output stays lower; `None` if either has not settled.
    pub of_which_static_v: Option<f64>,
    /// V, how far the input lies below its value at the start of the loading edge at the worst
    /// instant. Not part of the sum.
    pub input_sag_v: Option<f64>,
    /// In words; `None` where no amplifier is named and nothing else decides.
    pub limited_by: Option<String>,
    /// What can be reckoned by hand; `None` without `rail.feedback`, and where nothing more than
    /// one solution was asked for.
    pub estimate: Option<DroopEstimate>,
}

impl Explanation {
    /// What is left where the output oscillates: no figure of an instant that chance has picked.
    pub(super) fn of_a_limit_alone(self) -> Self {
        Self { limited_by: self.limited_by, ..Self::default() }
    }

    /// What limited the recovery of the loading edge, the releasing one left out.
    pub fn limit_of_loading(&self) -> Option<&str> {
        self.limited_by.as_deref()?.split(limit::ON_RELEASE).next()
    }
}

/// Explains a load step; `None` for other tests and where no droop was found. `quick` leaves the
/// estimate out.
pub(super) fn explain(
    system: &System,
    variant: &Variant,
    record: &Record,
    outcome: &Outcome,
    quick: bool,
) -> Option<Explanation> {
    let story = Story::of(system, variant, record, outcome)?;
    Some(Explanation {
        estimate: if quick { None } else { estimate::estimate(&story) },
        causes: split::causes(&story),
        of_which_static_v: story.settled_v.map(|settled| story.level_v - settled),
        input_sag_v: story.input_sag(story.lowest_s),
        limited_by: limit::limited_by(&story),
    })
}

/// The loading edge with the worst droop, and all that is looked at around it.
struct Story<'a> {
    system: &'a System,
    variant: &'a Variant,
    rail: &'a RailFigures,
    record: &'a Record,
    outcome: &'a Outcome,
    /// V that the droop counts from.
    level_v: f64,
    /// V
    droop_v: f64,
    /// When the output was lowest.
    lowest_s: f64,
    /// The edge that brought it there.
    edge: &'a Edge,
    /// End of the dwell behind it.
    dwell_end_s: f64,
    /// V, the level in that dwell, if it settles.
    settled_v: Option<f64>,
}

impl<'a> Story<'a> {
    fn of(
        system: &'a System,
        variant: &'a Variant,
        record: &'a Record,
        outcome: &'a Outcome,
    ) -> Option<Self> {
        // Its sides are told as a positive rail has them.
        let is_told =
            |rail: &&RailFigures| outcome.kind == TestKind::LoadStep && rail.sense() > 0.0;
        let rail = variant.rail.as_ref().filter(is_told)?;
        let droop = outcome.measurements.iter().find(|m| m.name == "droop")?;
        let (droop_v, lowest_s) = (droop.value?, droop.at_s?);
        let loading = |e: &&Edge| e.change > 0.0 && e.start_s <= lowest_s;
        let edge = outcome.excitation.edges.iter().rfind(loading)?;
        let output = outcome.waveform.signal(signal::OUTPUT)?;
        let sides = [Side::Before, Side::After].into_iter();
        let lowest = sides.filter_map(|side| outcome.waveform.at(output, lowest_s, side));
        let mut story = Self {
            system,
            variant,
            rail,
            record,
            outcome,
            level_v: droop_v + lowest.reduce(f64::min)?,
            droop_v,
            lowest_s,
            edge,
            dwell_end_s: outcome.waveform.record()?.to_s,
            settled_v: None,
        };
        story.dwell_end_s = story.end_of_dwell(edge);
        story.settled_v = story.level_behind(edge);
        Some(story)
    }

    /// s, where the dwell ahead of the edge begins.
    fn start_of_dwell(&self) -> f64 {
        let ends = self.outcome.excitation.edges.iter().map(|e| e.end_s);
        ends.filter(|end| *end <= self.edge.start_s && *end < self.edge.end_s).fold(0.0, f64::max)
    }

    fn end_of_dwell(&self, edge: &Edge) -> f64 {
        let starts = self.outcome.excitation.edges.iter().map(|e| e.start_s);
        starts.filter(|s| *s > edge.start_s).fold(self.dwell_end_s, f64::min)
    }

    /// V, as measured, of the kind of dwell that follows this kind of edge.
    fn level_behind(&self, edge: &Edge) -> Option<f64> {
        let first = self.outcome.excitation.edges.first()?;
        let same_way = (first.change > 0.0) == (edge.change > 0.0);
        self.measured(if same_way { "loaded_level" } else { "released_level" })
    }

    fn measured(&self, name: &str) -> Option<f64> {
        self.outcome.measurements.iter().find(|m| m.name == name)?.value
    }

    /// V of a rail signal at `t`.
    fn signal_at(&self, name: &str, t: f64, side: Side) -> Option<f64> {
        let waveform = &self.outcome.waveform;
        waveform.at(waveform.signal(name)?, t, side)
    }

    /// V that the input lies below its value ahead of the loading edge.
    fn input_sag(&self, t: f64) -> Option<f64> {
        let before = self.signal_at(signal::INPUT, self.edge.start_s, Side::Before)?;
        let sag = before - self.signal_at(signal::INPUT, t, Side::Before)?;
        let rounding = 1e-12 * before.abs();
        Some(if sag.abs() > rounding { sag } else { 0.0 })
    }

    /// V between input and output.
    fn headroom(&self, t: f64) -> Option<f64> {
        let input = self.signal_at(signal::INPUT, t, Side::Before)?;
        Some(input - self.signal_at(signal::OUTPUT, t, Side::Before)?)
    }
}
