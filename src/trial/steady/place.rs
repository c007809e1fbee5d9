//! One condition of a steady test: the circuit at rest there, and what quests ask of it.

use super::motion::{Frequencies, HIGHEST_HZ, LOWEST_HZ, SteadyMotion};
use super::{Fineness, Quest, heated};
use crate::analysis::small_signal::{SmallSignal, Wire};
use crate::analysis::{Failure, QuasiStatic};
use crate::circuit::Variant;
use crate::curve::Held;
use crate::device::{Net, region};
use crate::measure::{Absence, Bound, Figure};
use crate::quantity::{Dimension, celsius, trimmed};
use crate::system::System;
use crate::trial::reads::Reads;
use crate::trial::run::Prepared;

/// Digits of levels in conditions.
const DIGITS: usize = 4;

/// The circuit at rest at one condition.
pub(super) struct Place<'a> {
    pub(super) room: &'a Prepared,
    pub(super) system: &'a System,
    /// The wire that is probed for loop gain, if the rail names one.
    pub(super) wire: Option<Wire>,
    /// The rest; quests may move it.
    pub(super) rest: QuasiStatic<'a>,
    /// `2 mA, 3.7 V, 25 °C`
    pub(super) condition: String,
    pub(super) held: Vec<Held>,
    pub(super) load: Option<Moved>,
    pub(super) source: Option<Moved>,
    /// The unknown of the output; 0 when there is none.
    pub(super) output: usize,
    /// The unknown of the rail's ground.
    pub(super) ground: usize,
    /// The unknown of the input pin.
    pub(super) input: Option<usize>,
    pub(super) fineness: Fineness,
    pub(super) factorisations: usize,
    /// The same circuit with heat settled, where this one's junctions are held.
    pub(super) settled: Option<Box<Place<'a>>>,
}

/// A part whose level is moved.
#[derive(Clone, Copy, Debug)]
pub(super) struct Moved {
    /// Index of the part in the system.
    pub(super) part: usize,
    /// Its drive.
    pub(super) drive: usize,
    /// The unit of its level.
    pub(super) dimension: Dimension,
}

/// Visits every combination of levels in one room, loads fastest.
pub(super) fn visit(
    room: &Prepared,
    motion: &SteadyMotion,
    fineness: Fineness,
    look: &mut dyn FnMut(&mut Place<'_>) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let (net, wire) = net_of(room, &room.variant);
    let system = System::build(&net);
    let levels = |programs: &[crate::quantity::Program]| -> Vec<Option<f64>> {
        if programs.is_empty() {
            return vec![None];
        }
        programs.iter().map(|p| Some(room.variant.evaluate(p))).collect()
    };
    let known = room.unchanged.as_ref().and_then(|unchanged| unchanged.in_system(&system));
    let start = match known {
        Some(x) => QuasiStatic::near(&system, system.pieces(-1.0), x)?,
        None => QuasiStatic::new(&system, system.pieces(-1.0))?,
    };
    let load = moved(&system, &room.variant, room.load.as_deref());
    let source = moved(&system, &room.variant, room.source.as_deref());
    for &source_level in &levels(&motion.source_levels) {
        for &load_level in &levels(&motion.load_levels) {
            let mut rest = start.clone();
            for (moved, level) in [(source, source_level), (load, load_level)] {
                if let (Some(moved), Some(level)) = (moved, level) {
                    rest.go(moved.drive, level)?;
                }
            }
            rest.settle()?;
            let quest = &motion.quest;
            let asked = (fineness, quest);
            let mut place = Place::new(room, &system, wire, rest, (load, source), asked);
            let regulates =
                matches!(quest, Quest::LoadRegulation { .. } | Quest::LineRegulation { .. });
            if regulates && !system.heat_paths.is_empty() {
                heated::visit_held(place, quest, [load_level, source_level], look)?;
            } else {
                look(&mut place)?;
            }
        }
    }
    Ok(())
}

/// A variant laid out as a room's test drives it, its feedback wire bridged.
pub(super) fn net_of(room: &Prepared, variant: &Variant) -> (Net, Option<Wire>) {
    let drives = &room.excitation.drives;
    let feedback = room.figures().and_then(|r| r.feedback.as_deref());
    match feedback.and_then(|at| variant.net_with_break(drives, at)) {
        Some((net, at)) => (net, Some(Wire::from(at))),
        None => (variant.net(drives), None),
    }
}

pub(super) fn moved(system: &System, variant: &Variant, name: Option<&str>) -> Option<Moved> {
    let name = name?;
    let part = system.parts.iter().position(|p| p.name == name)?;
    let (_, dimension) = variant.part(name)?.driven?;
    Some(Moved { part, drive: system.parts[part].drive?, dimension })
}

impl<'a> Place<'a> {
    pub(super) fn new(
        room: &'a Prepared,
        system: &'a System,
        wire: Option<Wire>,
        rest: QuasiStatic<'a>,
        (load, source): (Option<Moved>, Option<Moved>),
        (fineness, quest): (Fineness, &Quest),
    ) -> Self {
        let rail = room.figures();
        let find = |name: Option<&str>| match name? {
            "gnd" => Some(0),
            name => system.unknowns.iter().position(|u| u.name == name),
        };
        let mut place = Self {
            output: find(rail.and_then(|r| r.output.as_deref())).unwrap_or(0),
            ground: find(rail.map(|r| r.ground.as_str())).unwrap_or(0),
            input: find(rail.and_then(|r| r.input.as_deref())),
            room,
            system,
            wire,
            rest,
            condition: String::new(),
            held: Vec::new(),
            load,
            source,
            fineness,
            factorisations: 0,
            settled: None,
        };
        place.name_it(quest);
        place
    }

    /// What the quest itself moves is no part of the condition.
    fn name_it(&mut self, quest: &Quest) {
        let mut words = Vec::new();
        let load = self
            .load
            .filter(|_| !matches!(quest, Quest::LoadRegulation { .. } | Quest::Overload(_)));
        let moves_source = matches!(quest, Quest::LineRegulation { .. } | Quest::Dropout { .. });
        let source = self.source.filter(|_| !moves_source);
        for (name, moved) in [("load", load), ("source", source)] {
            let Some(moved) = moved else { continue };
            let value = self.rest.level(moved.drive);
            words.push(trimmed(value, &moved.dimension.symbol(), DIGITS));
            self.held.push(Held { name, unit: unit_of(moved.dimension), value });
        }
        if let Some(rail) = self.room.figures() {
            let value = celsius(rail.ambient_k);
            words.push(format!("{value} °C"));
            self.held.push(Held { name: "ambient", unit: "°C", value });
        }
        self.condition = words.join(", ");
    }

    /// Whether curves, listings and notes are wanted: not of one run among many.
    pub(super) fn is_drawn(&self) -> bool {
        self.fineness == Fineness::AsAsked && self.room.reads == Reads::Everything
    }

    /// The small signals around the rest.
    pub(super) fn small_signal(&self) -> SmallSignal<'a> {
        SmallSignal::new(self.system, self.rest.z())
    }

    /// V of the output against the rail's ground, at an extended vector.
    pub(super) fn output_v(&self, z: &[f64]) -> f64 {
        z[self.output] - z[self.ground]
    }

    /// V of the input pin against the rail's ground, at an extended vector.
    pub(super) fn input_v(&self, z: &[f64]) -> Option<f64> {
        Some(z[self.input?] - z[self.ground])
    }

    /// How far inside the static window the output rests, as a figure.
    pub(super) fn window(&self) -> Result<Figure, Absence> {
        self.window_at(self.rest.z())
    }

    /// The same at an extended vector of another rest.
    pub(super) fn window_at(&self, z: &[f64]) -> Result<Figure, Absence> {
        let output = self.output_v(z);
        match self.room.rail.window {
            Bound::Within { low_v, high_v } => {
                Ok(Figure::plain((output - low_v).min(high_v - output)))
            }
            Bound::NotGiven => Err(Absence::Unknown("no window given".to_owned())),
            Bound::Off => Err(Absence::Unknown("the window is off for this test".to_owned())),
        }
    }

    /// Why the loop does not regulate at the rest, if it does not: an amplifier stands at a limit.
    pub(super) fn out_of_regulation(&self) -> Option<String> {
        self.out_of_regulation_at(self.rest.z())
    }

    /// The same at an extended vector of another rest.
    pub(super) fn out_of_regulation_at(&self, z: &[f64]) -> Option<String> {
        let rail = self.room.figures()?;
        let held = [
            region::AT_UPPER_SWING,
            region::AT_LOWER_SWING,
            region::AT_DRIVE_LIMIT,
            region::LIMITED,
        ];
        let regions = self.system.regions(z);
        let stuck = regions
            .iter()
            .find(|(name, region)| rail.amplifier.contains(name) && held.contains(region));
        stuck.map(|(name, region)| {
            format!("the operating point is not in regulation: `{name}` is {region}")
        })
    }

    /// Frequencies of a quest in Hz, evenly spaced in the logarithm, ends included.
    pub(super) fn grid(&self, frequencies: &Frequencies) -> Vec<f64> {
        let figure = |program: &Option<crate::quantity::Program>, otherwise: f64| {
            program.as_ref().map_or(otherwise, |p| self.room.variant.evaluate(p))
        };
        let lowest = figure(&frequencies.lowest, LOWEST_HZ);
        let highest = figure(&frequencies.highest, HIGHEST_HZ);
        let decades = (highest / lowest).log10();
        let per_decade = frequencies.per_decade.max(1) as f64;
        let coarse = ((decades * per_decade).ceil() as usize).max(1) + 1;
        let count = self.fineness.points(coarse);
        (0..count)
            .map(|k| match k {
                0 => lowest,
                k if k + 1 == count => highest,
                k => lowest * (highest / lowest).powf(k as f64 / (count - 1) as f64),
            })
            .collect()
    }

    /// Newton iterations and factorisations spent here.
    pub(super) fn work(&self) -> (usize, usize) {
        let (iterations, factorisations) = self.rest.work();
        (iterations, factorisations + self.factorisations)
    }
}

pub(super) fn unit_of(dimension: Dimension) -> &'static str {
    match dimension {
        Dimension::AMPERE => "A",
        Dimension::OHM => "Ω",
        Dimension::WATT => "W",
        _ => "V",
    }
}
