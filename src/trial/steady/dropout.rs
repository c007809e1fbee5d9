//! Dropout: the output while the source falls and rises again, and how much must stay between input
//! and output, by each definition.
//!
//! The sweeps are taken along the branch that the circuit is on. What a definition asks for is
//! solved for between two points of the falling sweep, not interpolated.

mod curves;
mod told;

pub(super) use told::conclude;

use super::Found;
use super::place::{Moved, Place};
use crate::analysis::{Failure, SweepPoint, Watched};
use crate::circuit::Variant;
use crate::measure::sweep::greatest_difference;
use crate::measure::{Absence, DropoutDefinition, Figure, Wanted};
use crate::quantity::{Program, trimmed};
use crate::trial::headroom::{Ends, FORCED_SHARE, Fall, LOWEST_SHARE, fall, not_fully_on};

/// How far above nominal the input pin stands where the reference value of the output is taken, in
/// V, where the test does not say.
const REFERENCE_HEADROOM_V: f64 = 1.0;
/// An output below this share of nominal is no reference, whatever the amplifier says of itself.
const REGULATED_SHARE: f64 = 0.9;
/// How close the pin must come to that, in V.
const REFERENCE_V: f64 = 1e-9;
/// Both ways differ by less where there is no hysteresis: a rest is iterated to 1e-10 V and 1e-9 of
/// each voltage.
const ITERATED_V: f64 = 1e-8;
/// How a sweep is taken in a circuit with heat paths.
const SETTLED: &str = "heat is settled at every level of the source, so devices are warmer than in \
                       a short pulse";
/// Digits of voltages in reasons.
const DIGITS: usize = 4;

/// What the test asks.
pub(super) struct Ask<'a> {
    pub(super) from: Option<&'a Program>,
    pub(super) to: Option<&'a Program>,
    pub(super) points: usize,
    pub(super) reference_headroom: Option<&'a Program>,
}

/// The output with the input pin so far above nominal that it is surely in regulation.
struct Reference {
    output_v: f64,
    /// Why it is not one to count from, if so.
    doubt: Option<String>,
}

/// Where a definition is met, on the falling sweep.
struct Met {
    point: SweepPoint,
    note: Option<String>,
}

/// What was found at one place.
struct Story {
    ends: Ends,
    source: Moved,
    falling: Vec<SweepPoint>,
    rising: Vec<SweepPoint>,
    reference: Result<Reference, String>,
    /// Where the falling sweep ended for want of a rest.
    ended: Option<String>,
}

pub(super) fn look(place: &mut Place<'_>, ask: &Ask<'_>, wanted: &[Wanted]) -> Found {
    let story = match Story::of(place, ask) {
        Ok(story) => story,
        Err(why) => return Found::missing(wanted, &why),
    };
    let met: Vec<(DropoutDefinition, Result<Met, Absence>)> = wanted
        .iter()
        .filter_map(|w| w.asked.definition)
        .map(|definition| (definition, story.meet(place, definition)))
        .collect();
    let figure = |w: &Wanted| match (w.name, w.asked.definition) {
        ("dropout", Some(definition)) => {
            let found = met.iter().find(|(known, _)| *known == definition).map(|(_, met)| met);
            story.dropout(found)
        }
        ("sweep_hysteresis", _) => story.hysteresis(&place.condition),
        _ => Err(Absence::Unknown("not looked for".to_owned())),
    };
    let mut found = Found { figures: wanted.iter().map(figure).collect(), ..Found::default() };
    if place.is_drawn() {
        found.curves = curves::draw(place, &story);
        found.listings.push(told::row(place, &story, &met));
        if !place.system.heat_paths.is_empty() {
            found.notes.push(format!("{}: {SETTLED}", place.condition));
        }
        found.notes.extend(story.ended.iter().map(|why| format!("{}: {why}", place.condition)));
    }
    found
}

/// Where the sweep of the source begins and ends, in V, as the test says or by what else is known: the
/// rail's nominal voltage and the level at which the source stands by itself. `None` where neither
/// tells it.
pub fn swept_range(
    variant: &Variant,
    [from, to, reference_headroom]: [Option<&Program>; 3],
    (nominal_v, own_v): (Option<f64>, Option<f64>),
) -> Option<(f64, f64)> {
    let evaluate = |program: &Program| -> f64 { variant.evaluate(program) };
    let sign = nominal_v.map_or(1.0, f64::signum);
    let headroom_v = reference_headroom.map_or(REFERENCE_HEADROOM_V, evaluate);
    let levels = [nominal_v.map(|v| v.abs() + headroom_v), own_v.map(|v| sign * v)];
    let highest_v = levels.into_iter().flatten().reduce(f64::max);
    let from_v = from.map(evaluate).or(highest_v.map(|v| sign * v))?;
    let to_v = to.map(evaluate).or(nominal_v.map(|v| LOWEST_SHARE * v))?;
    Some((from_v, to_v))
}

impl Story {
    /// # Errors
    /// Why nothing can be found here, in words.
    fn of(place: &mut Place<'_>, ask: &Ask<'_>) -> Result<Self, String> {
        let ends = Ends::of(place.system, place.room.figures())?;
        let source = place.source.ok_or("no source is named")?;
        let drive = source.drive;
        let variant = &place.room.variant;
        let evaluate = |program: &Program| variant.evaluate(program);
        let headroom_v = ask.reference_headroom.map_or(REFERENCE_HEADROOM_V, evaluate);
        let reference_v = ends.nominal_v + headroom_v;
        let known = (Some(ends.level(ends.nominal_v)), Some(place.rest.level(drive)));
        let asked = [ask.from, ask.to, ask.reference_headroom];
        let (from, to) = swept_range(variant, asked, known).ok_or("nothing says what is swept")?;
        let told = |level: f64| trimmed(level, "V", DIGITS);
        place.rest.go(drive, from).map_err(|failure| {
            format!("no rest at `from` ({}): {}", told(from), failure.message)
        })?;
        let reference = reference(place, ends, drive, reference_v);
        let output = |z: &[f64]| ends.output_v(z);
        let count = place.fineness.points(ask.points);
        let (falling, fell) = place.rest.sweep(drive, (from, to), count, &output);
        let back: Vec<f64> = falling.iter().rev().map(|p| p.level).collect();
        // From the lowest rest up again; a level that stands twice, at a jump, is visited once.
        let mut levels = back;
        levels.dedup();
        let (rising, rose) = place.rest.sweep_over(drive, &levels, &output);
        let stopped = |points: &[SweepPoint], way: &str, failure: Option<Failure>| {
            let at = told(points.last()?.level);
            Some(format!("the {way} source finds no rest past {at}: {}", failure?.message))
        };
        let ended = stopped(&falling, "falling", fell).or(stopped(&rising, "rising", rose));
        Ok(Self { ends, source, falling, rising, reference, ended })
    }

    /// Where the falling sweep meets a definition.
    fn meet(&self, place: &mut Place<'_>, definition: DropoutDefinition) -> Result<Met, Absence> {
        let ends = self.ends;
        let output = move |z: &[f64]| ends.output_v(z);
        let input = move |z: &[f64]| ends.input_v(z);
        let reference = || {
            self.reference.as_ref().map_err(|why| Absence::Unknown(format!("no reference: {why}")))
        };
        let (of, level): (Watched<'_>, f64) = match definition {
            DropoutDefinition::Below(volt) => (&output, reference()?.output_v - volt),
            DropoutDefinition::ShareBelow(share) => {
                (&output, reference()?.output_v * (1.0 - share))
            }
            DropoutDefinition::FullyOn => (&input, FORCED_SHARE * ends.nominal_v),
        };
        let unknown = |why: String| Err(Absence::Unknown(why));
        let told = |volt: f64| trimmed(volt, "V", DIGITS);
        let what = if definition == DropoutDefinition::FullyOn { "input pin" } else { "output" };
        match fall(&mut place.rest, self.source.drive, &self.falling, (of, level)) {
            Fall::At(point) => {
                let note = self.doubts(place, definition, &point);
                Ok(Met { point, note })
            }
            Fall::Jumps(before, after) => {
                let [a, b] = [&before, &after].map(|p| told(output(&p.z)));
                let note = Some(format!("the output jumps there from {a} to {b}"));
                Ok(Met { point: before, note })
            }
            Fall::FromTheStart => unknown(format!(
                "at `from` the {what} is below {} already; raise `from`",
                told(level)
            )),
            Fall::Lost(failure) => unknown(failure.message),
            Fall::Never => unknown(match (&self.ended, self.falling.last()) {
                (Some(ended), _) => ended.clone(),
                (None, Some(last)) => format!(
                    "the {what} falls to {} only, not to {}; lower `to` ({})",
                    told(of(&last.z)),
                    told(level),
                    told(last.level)
                ),
                (None, None) => "nothing was swept".to_owned(),
            }),
        }
    }

    fn doubts(
        &self,
        place: &Place<'_>,
        definition: DropoutDefinition,
        point: &SweepPoint,
    ) -> Option<String> {
        match definition {
            DropoutDefinition::FullyOn => not_fully_on(place.system, &place.room.variant, &point.z),
            DropoutDefinition::Below(_) | DropoutDefinition::ShareBelow(_) => {
                self.reference.as_ref().ok()?.doubt.clone()
            }
        }
    }

    fn dropout(&self, met: Option<&Result<Met, Absence>>) -> Result<Figure, Absence> {
        match met {
            Some(Ok(met)) => {
                let value = self.ends.headroom_v(&met.point.z);
                Ok(Figure { note: met.note.clone(), ..Figure::plain(value) })
            }
            Some(Err(absence)) => Err(absence.clone()),
            None => Err(Absence::Unknown("not looked for".to_owned())),
        }
    }

    /// At one condition, which is told: where the output jumps is hard to find otherwise.
    fn hysteresis(&self, condition: &str) -> Result<Figure, Absence> {
        let [falling, rising] = [&self.falling, &self.rising].map(|points| -> Vec<_> {
            points.iter().map(|p| (p.level, self.ends.output_v(&p.z))).collect()
        });
        let (value, level) = greatest_difference(&falling, &rising)
            .ok_or_else(|| Absence::Unknown("nothing was swept both ways".to_owned()))?;
        let jumps = self.falling.iter().chain(&self.rising).any(|p| p.jumped);
        let note = jumps.then(|| {
            let source = trimmed(level, "V", DIGITS);
            format!("the output jumps; greatest with {source} at the source, at {condition}")
        });
        let value = if value > ITERATED_V { value } else { 0.0 };
        Ok(Figure { note, ..Figure::plain(value) })
    }
}

/// The output with the pin at `pin_v`; the circuit is left where it was.
fn reference(
    place: &mut Place<'_>,
    ends: Ends,
    drive: usize,
    pin_v: f64,
) -> Result<Reference, String> {
    let told = trimmed(pin_v, "V", DIGITS);
    let start = place.rest.here(drive);
    let input = |z: &[f64]| ends.input_v(z);
    let reached = place.rest.reach(drive, (&input, pin_v), REFERENCE_V);
    let there = place.rest.here(drive);
    place.rest.put(drive, &start);
    if reached.is_none() {
        return Err(format!(
            "no level of the source brings the input pin to {told} (nominal + reference_headroom)"
        ));
    }
    let output_v = ends.output_v(&there.z);
    let far_below = (output_v < REGULATED_SHARE * ends.nominal_v)
        .then(|| format!("the output is {}, far below nominal", trimmed(output_v, "V", DIGITS)));
    let doubt = place
        .out_of_regulation_at(&there.z)
        .or(far_below)
        .map(|why| format!("at the reference, {told} at the pin, {why}; raise reference_headroom"));
    Ok(Reference { output_v, doubt })
}
