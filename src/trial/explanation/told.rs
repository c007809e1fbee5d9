//! The estimate in words and figures: a listing, and why simulation and estimate differ.

use super::limit::is_linear;
use super::{DroopEstimate, Explanation, Outcome};
use crate::curve::{Cell, Listing};
use crate::quantity::engineering;
use std::fmt::Write as _;

/// Significant digits of figures in words.
const DIGITS: usize = 3;
/// Between these a ratio of simulation to estimate needs no reason: a rule of thumb is not asked for
/// more (common practice, no source).
const NEEDS_NO_REASON: [f64; 2] = [0.5, 2.0];
/// A loop this many times as fast at the heavier load is called faster.
const FASTER: f64 = 1.5;

/// Puts the estimate of an outcome's droop into its listings and notes.
pub(in crate::trial) fn tell(outcome: &mut Outcome) {
    let Some(explanation) = &outcome.explanation else { return };
    let Some(estimate) = &explanation.estimate else { return };
    let (listing, note) = (listing(estimate), note(estimate, explanation));
    outcome.listings.push(listing);
    outcome.notes.push(note);
}

fn listing(e: &DroopEstimate) -> Listing {
    let columns = [("quantity", ""), ("estimate", "V"), ("ratio", "1"), ("from", "")];
    let mut listing =
        Listing::new("droop_estimate", "droop by hand, and what was simulated over it", &columns);
    let step = amps(e.step_a);
    let mut row = |name: &str, volt: Option<f64>, ratio: bool, from: String| {
        let ratio = if ratio { volt.map(|v| e.droop_v / v) } else { None };
        listing.push([Cell::from(name), volt.into(), ratio.into(), from.into()]);
    };
    row("series resistance", Some(e.esr_v), false, format!("ESR, {step}"));
    if e.esl_v.is_none_or(|v| v > 0.0) {
        let edge = seconds(e.edge_s);
        row("series inductance", e.esl_v, false, format!("ESL, {step} in {edge}, then gone"));
    }
    let farad = engineering(e.farad, "F", DIGITS);
    let taken = match (e.loop_time_s(), e.crossover_before_hz) {
        (Some(t), Some(hz)) => {
            format!(
                "{step} for {} from {farad}, crossover {} before the edge",
                seconds(t),
                hertz(hz)
            )
        }
        _ => "the loop gain has no crossover before the edge".to_owned(),
    };
    row("charge", e.charge_v(), false, taken);
    row("traditional estimate", e.traditional_v(), true, "resistance, inductance, charge".into());
    if let Some(p) = e.plateau {
        let change = engineering(p.change.abs(), p.unit, DIGITS);
        // V a volt is a plain number, A a volt is a conductance.
        let gain = engineering(p.gain, if p.unit == "V" { "" } else { "S" }, DIGITS);
        row("drive plateau", Some(p.volt), true, format!("control moves {change}, gain {gain}"));
    }
    row("static", e.static_v, false, "level before less level behind the edge".into());
    row("estimate with the plateau", e.combined_v(), true, "charge or plateau, and static".into());
    listing
}

fn note(e: &DroopEstimate, explanation: &Explanation) -> String {
    let droop = volts(e.droop_v);
    let (Some(traditional), Some(hz)) = (e.traditional_v(), e.crossover_before_hz) else {
        return format!(
            "droop {droop}; no traditional estimate, as the loop gain has no crossover at the load \
             before the edge"
        );
    };
    let ratio = e.droop_v / traditional;
    let ratio_words = engineering(ratio, "", DIGITS);
    let mut note = format!(
        "droop {droop}; traditional estimate {} (loop crossing at {} before the edge), simulated/\
         estimate {ratio_words}",
        volts(traditional),
        hertz(hz)
    );
    let [low, high] = NEEDS_NO_REASON;
    if !(low..=high).contains(&ratio) {
        note += ": ";
        note += &reasons(e, explanation, ratio);
    }
    if let (Some(plateau), Some(combined)) = (e.plateau, e.combined_v()) {
        let _ = write!(
            note,
            "; with the drive plateau of {} the estimate is {}, ratio {}",
            volts(plateau.volt),
            volts(combined),
            engineering(e.droop_v / combined, "", DIGITS)
        );
    }
    note
}

/// Why a ratio lies far from 1.
fn reasons(e: &DroopEstimate, explanation: &Explanation, ratio: f64) -> String {
    let mut told = Vec::new();
    if ratio < 1.0 {
        if let (Some(before), Some(loaded)) = (e.crossover_before_hz, e.crossover_loaded_hz)
            && loaded > FASTER * before
        {
            told.push(format!(
                "the loop is faster at the heavier load (crossover there {})",
                hertz(loaded)
            ));
        }
        if e.plateau_decides() {
            told.push("the drive plateau decides, not the charge".to_owned());
        }
    }
    // What only slows a loop down is no reason for a droop below the estimate.
    let limit = explanation.limit_of_loading().filter(|limit| !is_linear(limit));
    if let Some(limit) = limit.filter(|_| ratio > 1.0 || told.is_empty()) {
        told.push(format!("limited by {limit}"));
    }
    if told.is_empty() {
        told.push("the loop is not the single pole that the estimate takes it for".to_owned());
    }
    told.join(", and ")
}

impl DroopEstimate {
    /// Whether the drive plateau is below the charge that the traditional estimate counts, and
    /// explains the simulated droop within a factor of two.
    pub fn plateau_decides(&self) -> bool {
        let [low, high] = NEEDS_NO_REASON;
        self.plateau.is_some_and(|p| {
            self.charge_v().is_none_or(|charge| p.volt < charge)
                && (low..=high).contains(&(self.droop_v / p.volt))
        })
    }
}

fn volts(volt: f64) -> String {
    engineering(volt, "V", DIGITS)
}

fn amps(ampere: f64) -> String {
    engineering(ampere, "A", DIGITS)
}

fn hertz(hz: f64) -> String {
    engineering(hz, "Hz", DIGITS)
}

fn seconds(s: f64) -> String {
    engineering(s, "s", DIGITS)
}
