//! Tests at rest and over frequency: the circuit is brought to rest at every combination of the
//! test's loads, sources and temperatures, and each quest is answered there.

mod check;
mod dropout;
mod heated;
mod impedance;
mod keys;
mod loop_gain;
mod motion;
mod noise;
mod overload;
mod place;
mod read;
mod regulation;
mod rejection;
mod ringing;
mod sweep;

pub(super) use check::doubtful_figures;
pub use dropout::swept_range;
pub use motion::{Frequencies, OverloadAsk, OverloadLoad, Quest, SteadyMotion};
pub use read::MEANINGLESS as IN_TIME_ONLY;
pub(super) use read::read_steady;

use super::Test;
use super::reads::Reads;
use super::run::{Outcome, Prepared, RunOptions};
use crate::analysis::Failure;
use crate::circuit::{Change, Circuit};
use crate::curve::{Curve, Listing};
use crate::device::Net;
use crate::diagnostic::Diagnostic;
use crate::measure::{
    Absence, Figure, Limit, Requirement, Scene, Station, Wanted, measure, measure_twice, overall,
    wanted,
};
use crate::waveform::Waveform;
use place::Place;

/// Takes runs of other tests, so that no place can tell it.
const USABLE_INPUT: &str = "usable_input";

/// The net that a prepared steady test is solved on.
pub(super) fn net_of(prepared: &Prepared) -> Net {
    place::net_of(prepared, &prepared.variant).0
}

/// What was found at one place.
#[derive(Debug, Default)]
struct Found {
    /// One for each that was wanted, in that order.
    figures: Vec<Result<Figure, Absence>>,
    curves: Vec<Curve>,
    /// Rows are told with the place's condition; those of several places become one listing.
    listings: Vec<Listing>,
    notes: Vec<String>,
}

impl Found {
    /// Nothing could be found, for one reason.
    fn missing(wanted: &[Wanted], why: &str) -> Self {
        let figures = wanted.iter().map(|_| Err(Absence::Unknown(why.to_owned()))).collect();
        Self { figures, ..Self::default() }
    }
}

/// How finely a solution is taken: the second one, for the numerical uncertainty, twice as finely.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Fineness {
    AsAsked,
    Doubled,
}

impl Fineness {
    /// So many points instead of `count`, so that every point of the coarse grid is one of the fine.
    fn points(self, count: usize) -> usize {
        match self {
            Self::AsAsked => count,
            Self::Doubled => 2 * count - 1,
        }
    }
}

/// What a test is told from outside its own run, such as what other tests came to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Further {
    /// Beside the first solution.
    pub stations: Vec<Station>,
    /// Beside the second one: apart from the first by what they are good to.
    pub again: Vec<Station>,
    /// Sentences.
    pub notes: Vec<String>,
}

/// Runs a steady test.
pub(super) fn run(
    circuit: &Circuit,
    test: &Test,
    motion: &SteadyMotion,
    options: &RunOptions,
    (prepared, further): (&Prepared, &Further),
) -> Result<Outcome, Vec<Diagnostic>> {
    let mut outcome = prepared.blank_outcome(test);
    let requirements = requirements(motion, prepared);
    let mut wanted = wanted(test.kind, &requirements);
    if options.reads != Reads::Everything {
        // One of many runs: what nothing is asked of would only cost time.
        let named = |name: &str| options.watched.iter().flatten().any(|watched| watched == name);
        let asked = |name: &str| requirements.iter().any(|r| r.name == name);
        wanted.retain(|w| w.name == "window" || asked(w.name) || named(w.name));
    }
    let rooms = rooms(circuit, test, motion, options)?;
    let rounds: &[Fineness] =
        if options.quick { &[Fineness::AsAsked] } else { &[Fineness::AsAsked, Fineness::Doubled] };
    let mut solutions = Vec::new();
    for (&fineness, further) in rounds.iter().zip([&further.stations, &further.again]) {
        match solve(&rooms, motion, fineness, &wanted, &mut outcome) {
            Ok(mut stations) => {
                stations.extend(further.iter().cloned());
                solutions.push(stations);
            }
            Err(failure) => {
                outcome.fail(failure);
                return Ok(outcome);
            }
        }
    }
    if let Quest::LoopGain { .. } = motion.quest {
        loop_gain::keep_the_worst_note(&mut outcome);
    }
    if let Quest::RippleRejection { from_source, .. } = motion.quest {
        let (curves, listings) = (&outcome.curves, &outcome.listings);
        let notes = rejection::against_headroom(curves, listings, from_source);
        outcome.notes.extend(notes);
    }
    let nothing = Waveform::default();
    let scene = |stations| Scene { stations, ..prepared.scene(test.kind, &nothing) };
    outcome.measurements = match solutions.as_slice() {
        [first, second] => measure_twice(&scene(first), &scene(second), &requirements, 0.0),
        [only] => measure(&scene(only), &requirements),
        _ => Vec::new(),
    };
    outcome.verdict = overall(&outcome.measurements);
    outcome.notes.extend(dropout::conclude(prepared, &outcome.listings));
    outcome.notes.extend(further.notes.iter().cloned());
    Ok(outcome)
}

/// The test's own requirements, and the one that a mask stands for.
fn requirements(motion: &SteadyMotion, prepared: &Prepared) -> Vec<Requirement> {
    let mut requirements = prepared.requirements.clone();
    let has_mask = matches!(&motion.quest, Quest::OutputImpedance { mask, .. } if !mask.is_empty());
    if has_mask && !requirements.iter().any(|r| r.name == "impedance_mask") {
        requirements.push(Requirement::new("impedance_mask", Limit::AtLeast(0.0)));
    }
    requirements
}

/// The circuit at each ambient temperature of the test.
fn rooms(
    circuit: &Circuit,
    test: &Test,
    motion: &SteadyMotion,
    options: &RunOptions,
) -> Result<Vec<Prepared>, Vec<Diagnostic>> {
    let prepared = |test: &Test| {
        let mut prepared = Prepared::new(circuit, test, options)?;
        // Only where it is brought along: looking for it costs as much as it saves.
        prepared.unchanged.clone_from(&options.unchanged);
        Ok(prepared)
    };
    let base = prepared(test)?;
    if motion.ambients.is_empty() {
        return Ok(vec![base]);
    }
    let at = |program| {
        let kelvin: f64 = base.variant.evaluate(program);
        let mut here = test.clone();
        let text = format!("{kelvin} K");
        here.changes.list.push(Change { path: "rail.ambient".to_owned(), text, span: None });
        prepared(&here)
    };
    motion.ambients.iter().map(at).collect()
}

/// Visits every place once; curves, listings and notes of the first round go into the outcome.
fn solve(
    rooms: &[Prepared],
    motion: &SteadyMotion,
    fineness: Fineness,
    wanted: &[Wanted],
    outcome: &mut Outcome,
) -> Result<Vec<Station>, Failure> {
    let mut stations = Vec::new();
    for room in rooms {
        place::visit(room, motion, fineness, &mut |place| {
            let mut found = look(place, &motion.quest, wanted)?;
            found.figures.resize(wanted.len(), Err(Absence::Unknown("not looked for".to_owned())));
            let condition = place.condition.clone();
            let figures = wanted.iter().copied().zip(found.figures);
            let figures = figures.filter(|(wanted, _)| wanted.name != USABLE_INPUT).collect();
            stations.push(Station { condition: condition.clone(), figures });
            if fineness == Fineness::AsAsked {
                outcome.curves.append(&mut found.curves);
                // What is true at every condition is told once.
                for note in found.notes {
                    if !outcome.notes.contains(&note) {
                        outcome.notes.push(note);
                    }
                }
                found.listings.into_iter().for_each(|l| merge(&mut outcome.listings, l));
            }
            let (iterations, factorisations) = place.work();
            outcome.work.newton_iterations += iterations;
            outcome.work.factorisations += factorisations;
            Ok(())
        })?;
    }
    Ok(stations)
}

fn look(place: &mut Place<'_>, quest: &Quest, wanted: &[Wanted]) -> Result<Found, Failure> {
    match quest {
        Quest::LoopGain { frequencies, .. } => loop_gain::look(place, frequencies, wanted),
        Quest::LoadRegulation { from, to, points, hold_pin } => {
            let ask = regulation::LoadAsk { from, to, points: *points, hold_pin: *hold_pin };
            Ok(regulation::look_at_load(place, &ask, wanted))
        }
        Quest::LineRegulation { from, to, points } => {
            Ok(regulation::look_at_line(place, (from, to, *points), wanted))
        }
        Quest::Dropout { from, to, points, reference_headroom, .. } => {
            let ask = dropout::Ask {
                from: from.as_ref(),
                to: to.as_ref(),
                points: *points,
                reference_headroom: reference_headroom.as_ref(),
            };
            Ok(dropout::look(place, &ask, wanted))
        }
        Quest::Overload(ask) => Ok(overload::look(place, ask, wanted)),
        Quest::OutputImpedance { frequencies, mask, include_load } => {
            impedance::look(place, frequencies, mask, *include_load, wanted)
        }
        Quest::RippleRejection { frequencies, from_source } => {
            rejection::look(place, frequencies, *from_source, wanted)
        }
        Quest::Noise { frequencies, band } => {
            noise::look(place, frequencies, band.as_ref(), wanted)
        }
    }
}

/// Rows of several places under one name stand in one listing.
fn merge(all: &mut Vec<Listing>, new: Listing) {
    match all.iter_mut().find(|l| l.name == new.name && l.columns == new.columns) {
        Some(known) => known.rows.extend(new.rows),
        None => all.push(new),
    }
}
