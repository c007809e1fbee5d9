//! Works out what a test does to the circuit: drives for the parts it moves, and where its edges and
//! dwells lie.

use super::excitation::{BEFORE_SHARE, Complaint, Excitation, Figures, replace, words};
use super::start::{own_level, ramp};
use super::{
    Driven, Motion, Mover, ProfileMotion, Quest, SteadyMotion, StepMotion, Test, pulses, short,
};
use crate::circuit::Variant;
use crate::device::Drive;
use crate::measure::{Dwell, Edge, Role};
use crate::quantity::{Dimension, Program, celsius};
use crate::waveform::Window;

/// Works out drives and timeline.
///
/// # Errors
/// Every duration that is negative and every level that its part cannot have.
pub fn excite(test: &Test, variant: &Variant) -> Result<Excitation, Vec<Complaint>> {
    let mut excitation = Excitation::default();
    let mut figures = Figures { variant, wrong: Vec::new() };
    rest(&mut excitation, test, &mut figures);
    match &test.motion {
        Motion::Rest => {}
        Motion::Steady(steady) => tell_levels(&mut excitation, test, steady, variant),
        Motion::Step(step) => step_there_and_back(&mut excitation, test, step, &mut figures),
        Motion::Ramp(motion) => ramp(&mut excitation, test, motion, &mut figures),
        Motion::Profile(profile) => follow_points(&mut excitation, test, profile, &mut figures),
        Motion::Short(motion) => short::short_and_let_go(&mut excitation, motion, &mut figures),
        Motion::Pulses(motion) => pulses::pulse(&mut excitation, test, motion, &mut figures),
    }
    if figures.wrong.is_empty() { Ok(excitation) } else { Err(figures.wrong) }
}

/// Steady levels, where the test names them.
fn rest(excitation: &mut Excitation, test: &Test, figures: &mut Figures<'_>) {
    let variant = figures.variant;
    let both = [
        (&test.load, &test.load_level, "load_level"),
        (&test.source, &test.source_level, "source_level"),
    ];
    for (driven, level, key) in both {
        if let (Some(driven), Some(level)) = (driven, level) {
            let level = figures.level(level, driven, key);
            excitation.drives.push((driven.part.clone(), Drive::constant(level)));
        }
    }
    excitation.load_words = test.load.as_ref().map(|driven| {
        let own = || variant.part(&driven.part).and_then(|p| p.parameters.drive.clone());
        let level = test.load_level.as_ref().map(|p| variant.evaluate(p));
        let level = level.or_else(|| own().map(|d| d.initial())).unwrap_or(f64::NAN);
        words(level, driven.dimension)
    });
}

/// More levels than this are told by their ends and their number.
const MOST_LEVELS_TOLD: usize = 6;

/// Where a steady test is solved, in words.
fn tell_levels(excitation: &mut Excitation, test: &Test, steady: &SteadyMotion, variant: &Variant) {
    let list = |programs: &[Program], dimension: Dimension| -> Option<String> {
        let told: Vec<String> =
            programs.iter().map(|p| words(variant.evaluate(p), dimension)).collect();
        match told.as_slice() {
            [] => None,
            [first, .., last] if told.len() > MOST_LEVELS_TOLD => {
                Some(format!("{} levels from {first} to {last}", told.len()))
            }
            _ => Some(told.join(", ")),
        }
    };
    let way = |from: &Program, to: &Program, dimension: Dimension| {
        let ends = [from, to].map(|p| words(variant.evaluate(p), dimension));
        format!("{} to {}", ends[0], ends[1])
    };
    if let Some(driven) = &test.load {
        let told = match &steady.quest {
            Quest::LoadRegulation { from, to, .. } => Some(way(from, to, driven.dimension)),
            Quest::Overload(ask) if !ask.loads.is_empty() => {
                let told = ask
                    .loads
                    .iter()
                    .map(|load| words(variant.evaluate(&load.level), load.dimension()));
                Some(format!("{}, each in turn", told.collect::<Vec<_>>().join(", ")))
            }
            _ => list(&steady.load_levels, driven.dimension),
        };
        excitation.load_words = told.or(excitation.load_words.take());
    }
    if let Some(driven) = &test.source {
        excitation.source_words = match &steady.quest {
            Quest::LineRegulation { from, to, .. } => Some(way(from, to, driven.dimension)),
            Quest::Dropout { .. } => Some("falling and rising".to_owned()),
            _ => list(&steady.source_levels, driven.dimension),
        };
    }
    excitation.ambient_words =
        list(&steady.ambients, Dimension::KELVIN).map(|_| celsius_list(&steady.ambients, variant));
}

fn celsius_list(ambients: &[Program], variant: &Variant) -> String {
    let celsius = |p: &Program| celsius(variant.evaluate(p));
    let told: Vec<String> = ambients.iter().map(|p| format!("{} °C", celsius(p))).collect();
    told.join(", ")
}

fn step_there_and_back(
    excitation: &mut Excitation,
    test: &Test,
    step: &StepMotion,
    figures: &mut Figures<'_>,
) {
    let mut read = |program: &Option<Program>, key: &'static str, otherwise: f64| match program {
        Some(program) => figures.duration(program, key),
        None => otherwise,
    };
    let hold = read(&Some(step.hold_s.clone()), "hold", f64::NAN);
    let edge = read(&Some(step.edge_s.clone()), "edge", f64::NAN);
    let edge_back = read(&step.edge_back_s, "edge_back", edge);
    let settle = read(&step.settle_s, "settle", hold);
    let before = read(&step.before_s, "before", BEFORE_SHARE * hold);
    let Some(driven) = driven(test, step.mover) else { return };
    let from = figures.level(&step.from, driven, "from");
    let to = figures.level(&step.to, driven, "to");
    if [before, edge, hold, edge_back, settle].iter().all(|length| *length == 0.0) {
        let hint = "write how long the level stays, such as `hold = \"600 µs\"`";
        figures.complain("hold", "the test must last longer than no time".to_owned(), hint);
    }
    if !figures.wrong.is_empty() {
        return;
    }

    let more = if driven.dimension == Dimension::OHM { from - to } else { to - from };
    let mut points = vec![(0.0, from)];
    let mut t = 0.0;
    let mut dwell = |from_s: f64, to_s: f64, role: Role| {
        excitation.dwells.push(Dwell { window: Window { from_s, to_s }, role });
    };
    dwell(0.0, before, Role::Before);
    t += before;
    for _ in 0..step.repeat {
        for (length, change, level, rest, role) in
            [(edge, more, to, hold, Role::Loaded), (edge_back, -more, from, settle, Role::Released)]
        {
            let last = points.last().map_or(from, |p| p.1);
            excitation.edges.push(Edge { start_s: t, end_s: t + length, change });
            points.extend([(t, last), (t + length, level)]);
            t += length;
            dwell(t, t + rest, role);
            t += rest;
        }
    }
    excitation.end_s = t;
    excitation.edge_s = Some(edge);
    let told = format!(
        "{} to {} in {} and back after {}",
        words(from, driven.dimension),
        words(to, driven.dimension),
        words(edge, Dimension::SECOND),
        words(hold, Dimension::SECOND),
    );
    tell(excitation, step.mover, told);
    replace(excitation, driven, Drive::points(points));
}

fn follow_points(
    excitation: &mut Excitation,
    test: &Test,
    profile: &ProfileMotion,
    figures: &mut Figures<'_>,
) {
    let mut last = 0.0_f64;
    for (mover, list) in [(Mover::Load, &profile.load), (Mover::Source, &profile.source)] {
        let (Some(list), Some(driven)) = (list, driven(test, mover)) else { continue };
        let key = points_key(test, mover);
        let mut points: Vec<(f64, f64)> = Vec::with_capacity(list.len());
        for (time, level) in list {
            let time: f64 = figures.variant.evaluate(time);
            if !(time.is_finite() && time >= 0.0) {
                let message = format!("a point lies at {}", words(time, Dimension::SECOND));
                figures.complain(key, message, "times count from 0, the start of the record");
            }
            if points.last().is_some_and(|p| time < p.0) {
                let message = "times must not fall from one point to the next".to_owned();
                figures.complain(key, message, "put the points in order of time");
            }
            points.push((time, figures.level(level, driven, key)));
        }
        last = last.max(points.last().map_or(0.0, |p| p.0));
        tell(excitation, mover, format!("{} points", points.len()));
        replace(excitation, driven, Drive::points(points));
    }
    if let (Some(shape), Some(driven)) = (&profile.shape, &test.source) {
        let given = test.source_level.as_ref().map(|level| figures.variant.evaluate(level));
        let own = given.unwrap_or_else(|| own_level(figures.variant, driven));
        match shape.shaped(figures.variant, own) {
            Ok(shaped) => {
                last = last.max(shaped.length_s);
                tell(excitation, Mover::Source, shaped.words);
                replace(excitation, driven, shaped.drive);
                excitation.notes.push(shaped.note);
                excitation.is_automotive = shape.shape.automotive;
            }
            Err((message, hint)) => figures.complain("source_shape", message, &hint),
        }
    }
    excitation.end_s = match &profile.duration_s {
        Some(program) => figures.duration(program, "duration"),
        None => last,
    };
    if excitation.end_s <= 0.0 && figures.wrong.is_empty() {
        let message = "`duration` must be above zero".to_owned();
        let hint = "write how long to watch, such as `duration = \"1 ms\"`";
        figures.complain("duration", message, hint);
    }
}

/// The key that the points of a mover stand behind.
fn points_key(test: &Test, mover: Mover) -> &'static str {
    let (points, file) = match mover {
        Mover::Load => ("load_points", "load_file"),
        Mover::Source => ("source_points", "source_file"),
    };
    if test.keys.iter().any(|(key, _)| key == file) { file } else { points }
}

fn driven(test: &Test, mover: Mover) -> Option<&Driven> {
    match mover {
        Mover::Load => test.load.as_ref(),
        Mover::Source => test.source.as_ref(),
    }
}

fn tell(excitation: &mut Excitation, mover: Mover, told: String) {
    match mover {
        Mover::Load => excitation.load_words = Some(told),
        Mover::Source => excitation.source_words = Some(told),
    }
}
