//! The headroom budget at the worst instant: from the source's level, over what each part on the way
//! takes, to what is left when output and pass device have had their share.
//!
//! The worst instant is where the input pin, less what the pass device drops fully on under the load
//! of that instant, is lowest. That drop is taken as proportional to the load's current for finding
//! the instant, and solved for in the budget itself. Input less output would not do: it is least
//! when the output overshoots a load that has gone, and says nothing of one that follows its input.

use super::headroom::{Ends, forced, is_shunt, not_fully_on};
use super::run::{Outcome, Prepared};
use crate::analysis::{QuasiStatic, Record};
use crate::circuit::{PathStep, RailFigures, SeriesPath};
use crate::curve::{Cell, Listing};
use crate::measure::Bound;
use crate::measure::scene::signal;
use crate::quantity::trimmed;
use crate::system::{Pieces, System};
use crate::waveform::{Extreme, Signal};

const DIGITS: usize = 4;
/// A voltage below this is no item of a budget, in V.
const NOTHING_V: f64 = 1e-12;
/// How far above nominal the source stands before it falls until the pass device is fully on, in V.
const START_V: f64 = 1.0;

/// All that is read of one instant.
struct Moment {
    t: f64,
    x: Vec<f64>,
    pieces: Pieces,
}

/// Adds the listing `headroom_budget` where source, input, output and pass device are named.
pub(super) fn tell(prepared: &Prepared, system: &System, record: &Record, outcome: &mut Outcome) {
    let Some(budget) = Budget::of(prepared, system, record, outcome) else { return };
    let (listing, notes) = budget.listing();
    outcome.listings.push(listing);
    outcome.notes.extend(notes);
}

struct Budget<'a> {
    prepared: &'a Prepared,
    system: &'a System,
    rail: &'a RailFigures,
    ends: Ends,
    /// Part and drive of the source.
    source: (usize, usize),
    moment: Moment,
}

impl<'a> Budget<'a> {
    fn of(
        prepared: &'a Prepared,
        system: &'a System,
        record: &Record,
        outcome: &Outcome,
    ) -> Option<Self> {
        let rail = prepared.figures().filter(|rail| !rail.pass.is_empty())?;
        let ends = Ends::of(system, Some(rail)).ok()?;
        let name = prepared.source.as_ref().or(rail.source.as_ref())?;
        let part = system.parts.iter().position(|p| p.name == *name)?;
        let drive = system.parts[part].drive?;
        let waveform = &outcome.waveform;
        let input = waveform.signal(signal::INPUT)?;
        let which = if ends.level(1.0) > 0.0 { Extreme::Lowest } else { Extreme::Highest };
        let at = |signal: &Signal, which: Extreme| {
            let found = waveform.extreme(signal, waveform.record()?, which)?;
            Some((moment(record, found.time_s, system.unknowns.len(), &ends)?, found.value))
        };
        let (moment, _) = at(input, which)?;
        let mut budget = Self { prepared, system, rail, ends, source: (part, drive), moment };
        let Some(load) = waveform.signal(signal::LOAD_CURRENT) else { return Some(budget) };
        let (heaviest, ampere) = at(load, Extreme::Highest)?;
        if ampere > 0.0
            && let Ok((dropout_v, _)) = budget.dropout(&heaviest)
        {
            let left = input.plus(-ends.level(dropout_v / ampere), load, "left");
            (budget.moment, _) = at(&left, which)?;
        }
        Some(budget)
    }

    /// V of a node against ground, in the sense of the nominal voltage.
    fn node_v(&self, name: &str) -> f64 {
        let at = self.system.unknowns.iter().position(|u| u.name == name).unwrap_or(0);
        self.ends.level(self.moment.x[at])
    }

    fn listing(&self) -> (Listing, Vec<String>) {
        let when = trimmed(self.moment.t, "s", DIGITS);
        let title = format!("headroom budget at {when}, the worst instant");
        let mut listing = Listing::new("headroom_budget", title, &[("item", ""), ("volt", "V")]);
        let mut add = |item: String, volt: f64| listing.push([Cell::from(item), Cell::from(volt)]);
        let source = &self.system.parts[self.source.0].name;
        let piece = self.moment.pieces.list().get(self.source.1);
        let source_v = self.ends.level(piece.map_or(f64::NAN, |piece| piece.value(self.moment.t)));
        add(format!("source {source}"), source_v);
        for (item, volt) in self.on_the_way(source_v) {
            add(item, -volt);
        }
        let input_v = self.ends.input_v(&self.moment.x);
        add(format!("= input pin {}", self.rail.input.as_deref().unwrap_or_default()), input_v);
        let (item, lowest_v) = lowest_output(self.prepared, &self.ends);
        add(format!("- {item}"), -lowest_v);
        let (pass, load) = (self.rail.pass.join(" + "), self.load_words());
        // A shunt device gives all it can when it takes nothing.
        let shunts = |name: &String| is_shunt(&self.prepared.variant, name);
        let fully = if self.rail.pass.iter().all(shunts) { "off" } else { "fully on" };
        let mut notes = Vec::new();
        match self.dropout(&self.moment) {
            Err(why) => notes.push(format!("no headroom margin: {why}")),
            Ok((dropout_v, doubt)) => {
                add(format!("- dropout of {pass}, {fully}{load}"), -dropout_v);
                let margin_v = input_v - lowest_v - dropout_v;
                add("= margin".to_owned(), margin_v);
                notes.extend(doubt.map(|doubt| format!("headroom budget: {doubt}")));
                if margin_v < 0.0 {
                    let missing = trimmed(-margin_v, "V", DIGITS);
                    notes.push(format!(
                        "at {when} {missing} of headroom are missing: {item} cannot be held with \
                         {pass} {fully}"
                    ));
                }
            }
        }
        (listing, notes)
    }

    /// What each part between source and input pin takes.
    fn on_the_way(&self, source_v: f64) -> Vec<(String, f64)> {
        let input_v = self.node_v(self.rail.input.as_deref().unwrap_or_default());
        let mut items = Vec::new();
        let path = SeriesPath::of(&self.prepared.variant, self.rail).map(|path| path.before);
        let own = Some(&self.system.parts[self.source.0].name) == self.rail.source.as_ref();
        let begin = path.as_deref().and_then(<[PathStep]>::first);
        match (path.as_deref(), begin) {
            (Some(steps), Some(first)) if own => {
                items.push(("- within the source".to_owned(), source_v - self.node_v(&first.from)));
                let drop = |step: &PathStep| self.node_v(&step.from) - self.node_v(&step.to);
                items.extend(steps.iter().map(|step| (format!("- {}", step.part), drop(step))));
            }
            _ => items.push(("- from the source to the input pin".to_owned(), source_v - input_v)),
        }
        items.push(("- rise of the rail's ground".to_owned(), self.node_v(&self.rail.ground)));
        items.retain(|(_, volt)| volt.abs() > NOTHING_V);
        items
    }

    /// ` at 180 mA`; empty without a load.
    fn load_words(&self) -> String {
        let level = || {
            let name = self.prepared.load.as_ref().or(self.rail.load.as_ref())?;
            let drive = self.system.parts.iter().find(|p| p.name == *name)?.drive?;
            let (_, dimension) = self.prepared.variant.part(name)?.driven?;
            let level = self.moment.pieces.list().get(drive)?.value(self.moment.t);
            Some(format!(" at {}", trimmed(level, &dimension.symbol(), DIGITS)))
        };
        level().unwrap_or_default()
    }

    /// V that the pass device drops fully on, everything but the source as it is at the instant; and
    /// why it may not be fully on.
    fn dropout(&self, moment: &Moment) -> Result<(f64, Option<String>), String> {
        let mut pieces = moment.pieces.clone();
        let levels: Vec<f64> = pieces.list().iter().map(|piece| piece.value(moment.t)).collect();
        for (drive, level) in levels.iter().enumerate() {
            pieces.hold(drive, *level);
        }
        let drive = self.source.1;
        let nominal_v = self.ends.nominal_v;
        let start_v = self.ends.level(levels[drive]).max(nominal_v + START_V);
        pieces.hold(drive, self.ends.level(start_v));
        let mut rest =
            QuasiStatic::as_held(self.system, pieces).map_err(|failure| failure.message)?;
        let point = forced(&mut rest, drive, self.ends)?;
        let doubt = not_fully_on(self.system, &self.prepared.variant, &point.z);
        Ok((self.ends.headroom_v(&point.z), doubt))
    }
}

/// The lowest settled level that the window allows, else the nominal one.
fn lowest_output(prepared: &Prepared, ends: &Ends) -> (&'static str, f64) {
    match prepared.rail.window {
        Bound::Within { low_v, high_v } => {
            ("lowest output allowed", ends.level(low_v).min(ends.level(high_v)))
        }
        Bound::NotGiven | Bound::Off => ("nominal output", ends.nominal_v),
    }
}

/// All unknowns at an instant, on the side of a jump with less headroom.
fn moment(record: &Record, t: f64, width: usize, ends: &Ends) -> Option<Moment> {
    let times = record.times_s();
    let reached = times.partition_point(|time| *time < t);
    let sides = (reached..times.len()).take_while(|&k| times[k] == t);
    let headroom = |k: &usize| ends.headroom_v(record.point(*k).x);
    if let Some(k) = sides.min_by(|a, b| headroom(a).total_cmp(&headroom(b))) {
        let at = record.point(k);
        return Some(Moment { t, x: at.x.to_vec(), pieces: at.pieces.clone() });
    }
    let k = reached.checked_sub(1).filter(|_| reached < times.len())?;
    let theta = (t - times[k]) / (times[reached] - times[k]);
    let mut x = vec![0.0; width];
    record.between(k, theta, &mut x);
    Some(Moment { t, x, pieces: record.pieces_after(k).clone() })
}
