//! Where a load's own line crosses the limit characteristic, and what becomes of the rail there.

use super::{Rig, Spot, volts};
use crate::analysis::{Sought, SweepPoint};
use crate::device::LoadLine;
use crate::measure::{Absence, Figure};
use crate::quantity::trimmed;
use crate::trial::steady::motion::OverloadLoad;
use crate::trial::steady::place::{Place, unit_of};

/// A crossing is solved until both currents are this close, in A: a thousand times what Newton's
/// iteration leaves of the smallest ones that matter.
const CROSSING_A: f64 = 1e-9;
/// Outputs are told apart down to this, in V.
const RESOLUTION_V: f64 = 1e-12;
/// Nearer to 0 V than this an output is at 0 V.
const AT_ZERO_V: f64 = 1e-9;
/// Rests that lie closer in V are the same one, found on both ways.
const SAME_V: f64 = 1e-6;
const DIGITS: usize = 3;

/// A load, in words and as a law.
#[derive(Clone, Debug)]
pub(super) struct Line {
    /// `8 Ω`, `900 mA`, `5 W`.
    pub(super) words: String,
    pub(super) law: LoadLine,
}

/// Where the rail can rest with a load.
#[derive(Clone, Copy, Debug)]
pub(super) struct Crossing {
    pub(super) spot: Spot,
    /// Whether the output comes back after a small push.
    pub(super) stable: bool,
}

/// What becomes of the rail with one load.
#[derive(Clone, Debug)]
pub(super) struct Fate {
    pub(super) line: Line,
    /// Rising outputs.
    pub(super) crossings: Vec<Crossing>,
    /// Where an output that rises slowly from 0 V comes to rest.
    pub(super) start: Ending,
    /// The rest in the window, if there is one.
    running: Option<Crossing>,
    window: (f64, f64),
}

/// Where an output goes by itself.
#[derive(Clone, Copy, Debug)]
pub(super) enum Ending {
    /// It rests there.
    Rests(Crossing),
    /// The load pulls it below the lowest output that was looked at, in V.
    PulledBelow(f64),
    /// It rises above the highest, in V.
    RisesAbove(f64),
    /// Not known: there is no rest at 0 V.
    Unknown,
}

impl Line {
    /// What of the regulator's current is left to charge the output, in A.
    pub(super) fn left_over(&self, output_v: f64, current_a: f64) -> f64 {
        current_a - self.law.current_a(output_v)
    }
}

/// The loads of a test; the rail's own at its level where it names none.
pub(super) fn lines(place: &Place<'_>, asked: &[OverloadLoad]) -> Vec<Line> {
    let variant = &place.room.variant;
    if asked.is_empty() {
        let own = || {
            let moved = place.load?;
            let part = variant.part(&place.system.parts[moved.part].name)?;
            let level = place.rest.level(moved.drive);
            let law = LoadLine::of(&part.parameters, part.driven?.0, level);
            Some(Line { words: trimmed(level, unit_of(moved.dimension), DIGITS), law })
        };
        return own().into_iter().collect();
    }
    let line = |load: &OverloadLoad| {
        let level: f64 = variant.evaluate(&load.level);
        let bend = load.bend.as_ref().map(|p| variant.evaluate(p));
        let (law, unit) = match load.key {
            "resistance" => (LoadLine::Resistance { ohm: level }, "Ω"),
            "power" => {
                let minimum_v = bend.unwrap_or(LoadLine::MINIMUM_V);
                (LoadLine::Power { watt: level, minimum_v }, "W")
            }
            _ => {
                let fade_v = Some(bend.unwrap_or(LoadLine::FADE_V));
                (LoadLine::Current { ampere: level, fade_v }, "A")
            }
        };
        Line { words: trimmed(level, unit, DIGITS), law }
    };
    asked.iter().map(line).collect()
}

impl Rig<'_> {
    /// All crossings of a load's line along a way, rising outputs.
    pub(super) fn crossings(&mut self, way: &[(SweepPoint, Spot)], line: &Line) -> Vec<Crossing> {
        let mut sorted: Vec<&(SweepPoint, Spot)> = way.iter().collect();
        if sorted.first().zip(sorted.last()).is_some_and(|(a, b)| a.1.output_v > b.1.output_v) {
            sorted.reverse();
        }
        let mut found = Vec::new();
        let mut below: Option<(&SweepPoint, f64)> = None;
        for (point, spot) in sorted {
            let left = line.left_over(spot.output_v, spot.current_a);
            if left == 0.0 || !left.is_finite() {
                continue;
            }
            if let Some((from, before)) = below
                && before.signum() != left.signum()
            {
                let spot = self.solve(from, point, line).unwrap_or(*spot);
                found.push(Crossing { spot, stable: left < 0.0 });
            }
            below = Some((point, left));
        }
        found
    }

    /// The crossing between two rests.
    fn solve(&mut self, from: &SweepPoint, to: &SweepPoint, line: &Line) -> Option<Spot> {
        let (current, sign) = (self.current(), self.sign);
        let (drive, output) = (self.drive, self.output_of());
        let left = |z: &[f64]| line.left_over(sign * output(z), current(z));
        self.rest.put(drive, from);
        match self.rest.seek(drive, to.level, (&left, 0.0), (CROSSING_A, RESOLUTION_V)) {
            Ok(Sought::Found(_) | Sought::Jumps(_)) => Some(self.spot(&self.rest.here(drive))),
            Ok(Sought::Never) | Err(_) => None,
        }
    }
}

impl Fate {
    /// `down` and `up`: crossings by either way; `left_a`: what is left over at 0 V.
    pub(super) fn of(
        line: Line,
        (down, up): (Vec<Crossing>, Vec<Crossing>),
        left_a: f64,
        (window, (lowest_v, highest_v)): ((f64, f64), (f64, f64)),
    ) -> Self {
        let at = |c: &&Crossing| c.spot.output_v;
        let zero = up.iter().find(|c| c.spot.output_v.abs() <= AT_ZERO_V && c.stable);
        let start = if let Some(rest) = zero {
            Ending::Rests(*rest)
        } else if left_a < 0.0 {
            let next = up.iter().rfind(|c| at(c) < -AT_ZERO_V);
            next.map_or(Ending::PulledBelow(lowest_v), |c| Ending::Rests(*c))
        } else if left_a.is_nan() {
            Ending::Unknown
        } else {
            let next = up.iter().find(|c| at(c) > AT_ZERO_V);
            next.map_or(Ending::RisesAbove(highest_v), |c| Ending::Rests(*c))
        };
        let inside = |c: &&Crossing| (window.0..=window.1).contains(&at(c)) && c.stable;
        let running = down.iter().rfind(inside).copied();
        let mut crossings = down;
        for other in up {
            let near = |c: &Crossing| (c.spot.output_v - other.spot.output_v).abs() <= SAME_V;
            if !crossings.iter().any(near) {
                crossings.push(other);
            }
        }
        crossings.sort_by(|a, b| a.spot.output_v.total_cmp(&b.spot.output_v));
        Self { line, crossings, start, running, window }
    }

    /// Whether an output that rises from 0 V comes to rest in the window.
    pub(super) fn starts(&self) -> bool {
        matches!(self.start, Ending::Rests(c)
            if (self.window.0..=self.window.1).contains(&c.spot.output_v))
    }

    /// What becomes of the rail, in words.
    pub(super) fn words(&self) -> String {
        let told = |c: &Crossing| {
            let power = if c.spot.pass_w.is_finite() {
                format!(", {} in the pass devices", trimmed(c.spot.pass_w, "W", DIGITS))
            } else {
                String::new()
            };
            format!("{}, {}{power}", volts(c.spot.output_v), trimmed(c.spot.current_a, "A", DIGITS))
        };
        match (&self.start, self.running) {
            (Ending::Rests(rest), _) if self.starts() => {
                let words = format!("starts: rests at {}", told(rest));
                match self.trap_below(rest) {
                    None => words,
                    Some((edge, trap)) => format!(
                        "{words}; but once pulled below {} it does not come back: it rests at {}",
                        volts(edge),
                        told(&trap)
                    ),
                }
            }
            (Ending::Rests(rest), Some(running)) => {
                let edge = self.trap_below(&running).map(|(edge, _)| edge);
                let edge = edge.map_or_else(String::new, |edge| {
                    format!(", but once pulled below {} it does not come back", volts(edge))
                });
                format!(
                    "sticks at {}; a rail that runs holds {}{edge}",
                    told(rest),
                    volts(running.spot.output_v)
                )
            }
            (Ending::Rests(rest), None) => {
                format!("never reaches the window: rests at {}", told(rest))
            }
            (Ending::PulledBelow(lowest), running) => {
                let running = running.map_or_else(String::new, |running| {
                    format!("; a rail that runs holds {}", volts(running.spot.output_v))
                });
                format!(
                    "does not start: the load pulls the output below {}{running}",
                    volts(*lowest)
                )
            }
            (Ending::RisesAbove(highest), _) => {
                format!("the output rises above {}: nothing holds it", volts(*highest))
            }
            (Ending::Unknown, _) => "not known: there is no rest at 0 V".to_owned(),
        }
    }

    /// The edge below which the rail leaves a rest, and where it goes then.
    fn trap_below(&self, rest: &Crossing) -> Option<(f64, Crossing)> {
        let below = |c: &&Crossing| c.spot.output_v < rest.spot.output_v - SAME_V;
        let edge = self.crossings.iter().filter(below).rfind(|c| !c.stable)?;
        let under = |c: &&Crossing| c.spot.output_v < edge.spot.output_v && c.stable;
        Some((edge.spot.output_v, *self.crossings.iter().rfind(under)?))
    }
}

/// The lowest output that any load lets the rail rest at.
pub(super) fn stuck(fates: &[Fate], lowest_v: f64) -> Result<Figure, Absence> {
    let pulled = fates.iter().find(|f| matches!(f.start, Ending::PulledBelow(_)));
    if let Some(fate) = pulled {
        let words = format!("{} pulls the output below {}", fate.line.words, volts(lowest_v));
        return Ok(Figure { condemned: Some(words), ..Figure::plain(lowest_v) });
    }
    let all = fates.iter().flat_map(|f| f.crossings.iter().map(move |c| (f, c)));
    let stable = all.filter(|(_, c)| c.stable);
    let lowest = stable.min_by(|a, b| a.1.spot.output_v.total_cmp(&b.1.spot.output_v));
    let (fate, rest) = lowest.ok_or_else(|| {
        Absence::Unknown("with no load does the output rest between the outputs forced".to_owned())
    })?;
    let note = format!("with {}", fate.line.words);
    Ok(Figure { note: Some(note), ..Figure::plain(rest.spot.output_v) })
}
