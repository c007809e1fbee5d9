//! What a test does to the circuit: drives for the parts it moves, and where its edges and dwells
//! lie.

use super::{Driven, Motion, Mover, ProfileMotion, StepMotion, Test};
use crate::circuit::Variant;
use crate::device::Drive;
use crate::measure::{Dwell, Edge, Role};
use crate::quantity::{Dimension, Program};
use crate::waveform::Window;

/// Share of `hold` that is watched ahead of the first edge when a test does not say.
const BEFORE_SHARE: f64 = 0.1;

/// Drives and the timeline of one test on one variant.
#[derive(Clone, Debug, Default)]
pub struct Excitation {
    /// Parts with the levels they follow.
    pub drives: Vec<(String, Drive)>,
    /// Edges of the moving part.
    pub edges: Vec<Edge>,
    /// Dwells between them.
    pub dwells: Vec<Dwell>,
    /// Length of the record in s.
    pub end_s: f64,
    /// What the load does, in words.
    pub load_words: Option<String>,
    /// What the source does, in words, where it moves.
    pub source_words: Option<String>,
    /// Duration of the first edge in s.
    pub edge_s: Option<f64>,
}

/// Works out drives and timeline.
///
/// # Errors
/// A duration that is negative, or not a number: in words.
pub fn excite(test: &Test, variant: &Variant) -> Result<Excitation, String> {
    let mut excitation = Excitation::default();
    rest(&mut excitation, test, variant);
    match &test.motion {
        Motion::Rest => {}
        Motion::Step(step) => step_there_and_back(&mut excitation, test, step, variant)?,
        Motion::Profile(profile) => follow_points(&mut excitation, test, profile, variant)?,
    }
    Ok(excitation)
}

/// Steady levels, where the test names them.
fn rest(excitation: &mut Excitation, test: &Test, variant: &Variant) {
    let both = [(&test.load, &test.load_level), (&test.source, &test.source_level)];
    for (driven, level) in both {
        if let (Some(driven), Some(level)) = (driven, level) {
            let level = variant.evaluate(level);
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

fn words(level: f64, dimension: Dimension) -> String {
    crate::quantity::trimmed(level, &dimension.symbol(), 4)
}

/// A duration in s, zero allowed.
fn duration(variant: &Variant, program: &Program, key: &str) -> Result<f64, String> {
    let value: f64 = variant.evaluate(program);
    if value.is_finite() && value >= 0.0 {
        Ok(value)
    } else {
        Err(format!("`{key}` must be a time of zero or more, but is {value} s"))
    }
}

fn step_there_and_back(
    excitation: &mut Excitation,
    test: &Test,
    step: &StepMotion,
    variant: &Variant,
) -> Result<(), String> {
    let read = |program: &Option<Program>, key: &str, otherwise: f64| match program {
        Some(program) => duration(variant, program, key),
        None => Ok(otherwise),
    };
    let hold = duration(variant, &step.hold_s, "hold")?;
    let edge = duration(variant, &step.edge_s, "edge")?;
    let edge_back = read(&step.edge_back_s, "edge_back", edge)?;
    let settle = read(&step.settle_s, "settle", hold)?;
    let before = read(&step.before_s, "before", BEFORE_SHARE * hold)?;
    let [from, to] = [&step.from, &step.to].map(|p| variant.evaluate(p));
    let Some(driven) = driven(test, step.mover) else { return Ok(()) };

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
    Ok(())
}

fn follow_points(
    excitation: &mut Excitation,
    test: &Test,
    profile: &ProfileMotion,
    variant: &Variant,
) -> Result<(), String> {
    let mut last = 0.0_f64;
    for (mover, list) in [(Mover::Load, &profile.load), (Mover::Source, &profile.source)] {
        let (Some(list), Some(driven)) = (list, driven(test, mover)) else { continue };
        let mut points: Vec<(f64, f64)> = Vec::with_capacity(list.len());
        for (time, level) in list {
            let time = duration(variant, time, "time of a point")?;
            if points.last().is_some_and(|p| time < p.0) {
                return Err(format!("the points' times fall at {time} s"));
            }
            points.push((time, variant.evaluate(level)));
        }
        last = last.max(points.last().map_or(0.0, |p| p.0));
        tell(excitation, mover, format!("{} points", points.len()));
        replace(excitation, driven, Drive::points(points));
    }
    excitation.end_s = match &profile.duration_s {
        Some(program) => duration(variant, program, "duration")?,
        None => last,
    };
    if excitation.end_s > 0.0 { Ok(()) } else { Err("`duration` is zero".to_owned()) }
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

fn replace(excitation: &mut Excitation, driven: &Driven, drive: Drive) {
    excitation.drives.retain(|(part, _)| *part != driven.part);
    excitation.drives.push((driven.part.clone(), drive));
}
