//! Load and line regulation: the output at rest against load and source, at constant temperature.

mod causes;

use super::place::{Moved, Place, unit_of};
use super::{Found, heated};
use crate::analysis::{Failure, QuasiStatic, SweepPoint};
use crate::curve::{Column, Curve};
use crate::measure::{Absence, Figure, Wanted};
use crate::quantity::{Program, trimmed};
use crate::system::Quantity;
use causes::Story;

/// How close a held input pin is kept, in V: what a thousandth of that does to an output which
/// follows its input by -60 dB is far below what Newton's iteration leaves.
const HELD_V: f64 = 1e-9;
/// Digits of levels in words.
const DIGITS: usize = 4;

/// What is moved, and what is held by moving another part.
#[derive(Clone, Copy)]
pub(super) struct Track {
    pub(super) moved: Moved,
    /// The source that is moved along, the unknown of the pin, V of the pin against ground.
    pub(super) pin: Option<(Moved, usize, f64)>,
    pub(super) ground: usize,
}

impl Track {
    /// Rests at a level of what is moved.
    pub(super) fn go(&self, rest: &mut QuasiStatic<'_>, level: f64) -> Result<(), Failure> {
        rest.go(self.moved.drive, level)?;
        let Some((source, input, pin_v)) = self.pin else { return Ok(()) };
        let ground = self.ground;
        let pin = move |z: &[f64]| z[input] - z[ground];
        let held = rest.reach(source.drive, (&pin, pin_v), HELD_V);
        held.map(drop).ok_or_else(|| Failure {
            time_s: None,
            node: rest.system().unknowns.get(input).map(|u| u.name.clone()),
            part: None,
            tried: vec!["the source moved along a secant".to_owned()],
            message: format!(
                "no level of the source keeps the input pin at {}; write `hold = \"source\"`",
                trimmed(pin_v, "V", DIGITS)
            ),
        })
    }
}

/// What a test of load regulation asks.
pub(super) struct LoadAsk<'a> {
    pub(super) from: &'a Program,
    pub(super) to: &'a Program,
    pub(super) points: usize,
    pub(super) hold_pin: bool,
}

pub(super) fn look_at_load(place: &mut Place<'_>, ask: &LoadAsk<'_>, wanted: &[Wanted]) -> Found {
    let Some(load) = place.load else { return Found::missing(wanted, "no load is named") };
    let sign = match sense(place) {
        Ok(sign) => sign,
        Err(why) => return Found::missing(wanted, &why),
    };
    let [from, to] = [ask.from, ask.to].map(|p| place.room.variant.evaluate(p));
    let last = place.fineness.points(ask.points).max(2) - 1;
    let level = |k: usize| if k == last { to } else { from + k as f64 / last as f64 * (to - from) };
    let mut points = Vec::new();
    let mut track = Track { moved: load, pin: None, ground: place.ground };
    let mut lost = None;
    for k in 0..=last {
        if let Err(failure) = track.go(&mut place.rest, level(k)) {
            lost = Some(format!(
                "no rest at a load of {}: {}",
                trimmed(level(k), unit_of(load.dimension), DIGITS),
                failure.message
            ));
            break;
        }
        points.push(place.rest.here(load.drive));
        if k == 0 && ask.hold_pin {
            track.pin = place
                .source
                .zip(place.input)
                .zip(place.input_v(place.rest.z()))
                .map(|((source, input), pin_v)| (source, input, pin_v));
        }
    }
    let not_held = ask.hold_pin && track.pin.is_none();
    let note = not_held.then_some("the source is held, for `[rail]` names no `source` or `input`");
    let figures = match (&lost, points.as_slice()) {
        (None, [first, .., end]) => {
            let fall_v = sign * (place.output_v(&first.z) - place.output_v(&end.z));
            let [i0, i1] = [first, end].map(|p| current(place, load.part, &p.z));
            let name = ["load_regulation", "load_regulation_share", "load_regulation_slope"];
            told(place, wanted, name, (fall_v, (i1 - i0).abs()), &points, note)
        }
        _ => Found::missing(wanted, lost.as_deref().unwrap_or("one load only")).figures,
    };
    let mut found = Found { figures, ..Found::default() };
    if place.is_drawn() {
        found.curves.push(curve(place, ("load", unit_of(load.dimension)), &points));
        found.notes.extend(lost.map(|why| format!("{}: {why}", place.condition)));
        let story = Story { sign: -sign, is_load: true, track };
        causes::tell(place, &story, &points, &mut found);
    }
    let settled = heated::load(place, ask, sign);
    heated::put(settled, wanted, place.fineness, &mut found);
    found
}

pub(super) fn look_at_line(
    place: &mut Place<'_>,
    ask: (&Program, &Program, usize),
    wanted: &[Wanted],
) -> Found {
    let (from, to, points) = ask;
    let Some(source) = place.source else {
        return Found::missing(wanted, "no source is named");
    };
    let sign = match sense(place) {
        Ok(sign) => sign,
        Err(why) => return Found::missing(wanted, &why),
    };
    let [from, to] = [from, to].map(|p| place.room.variant.evaluate(p));
    let count = place.fineness.points(points);
    let (output, ground) = (place.output, place.ground);
    let of = move |z: &[f64]| z[output] - z[ground];
    let (points, failure) = place.rest.sweep(source.drive, (from, to), count, &of);
    let lost = failure.map(|failure| {
        let at = points.last().map_or(from, |p| p.level);
        format!("no rest with the source past {}: {}", trimmed(at, "V", DIGITS), failure.message)
    });
    let figures = match (&lost, points.as_slice()) {
        (None, [first, .., end]) => {
            let outputs = points.iter().map(|p| of(&p.z));
            let (low, high) =
                outputs.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
            let pin = |p: &SweepPoint| place.input_v(&p.z).unwrap_or(f64::NAN);
            let name = ["line_regulation", "line_regulation_share", "line_regulation_slope"];
            let pin_v = (pin(end) - pin(first)).abs();
            let nominal_v = place.room.rail.nominal_v.map_or(f64::NAN, f64::abs);
            told(place, wanted, name, (high - low, nominal_v * pin_v), &points, None)
        }
        _ => Found::missing(wanted, lost.as_deref().unwrap_or("one level only")).figures,
    };
    let mut found = Found { figures, ..Found::default() };
    if place.is_drawn() {
        found.curves.push(curve(place, ("source", "V"), &points));
        found.notes.extend(lost.map(|why| format!("{}: {why}", place.condition)));
        let track = Track { moved: source, pin: None, ground };
        causes::tell(place, &Story { sign, is_load: false, track }, &points, &mut found);
    }
    let settled = heated::line(place, ask);
    heated::put(settled, wanted, place.fineness, &mut found);
    found
}

/// 1, or −1 for a negative rail.
fn sense(place: &Place<'_>) -> Result<f64, String> {
    let rail = place.room.figures().ok_or("there is no `[rail]`")?;
    rail.output.as_ref().ok_or("`[rail]` names no `output`")?;
    Ok(rail.sense())
}

fn current(place: &Place<'_>, part: usize, z: &[f64]) -> f64 {
    let seen = place.system.observe(z, &vec![0.0; z.len()]);
    place.system.read(&seen, Quantity::Current(part, 0))
}

/// The three figures: V, over the nominal voltage, over `per`; and the distance to the window's nearer
/// edge where it is least.
fn told(
    place: &Place<'_>,
    wanted: &[Wanted],
    [whole, share, slope]: [&str; 3],
    (volt, per): (f64, f64),
    points: &[SweepPoint],
    note: Option<&str>,
) -> Vec<Result<Figure, Absence>> {
    let mut ends = points.first().into_iter().chain(points.last());
    let doubt = ends.find_map(|end| place.out_of_regulation_at(&end.z));
    let note: Vec<String> = note.map(str::to_owned).into_iter().chain(doubt).collect();
    let note = (!note.is_empty()).then(|| note.join("; "));
    let figure = |value: f64, why: &str| {
        if value.is_finite() {
            Ok(Figure { note: note.clone(), ..Figure::plain(value) })
        } else {
            Err(Absence::Unknown(why.to_owned()))
        }
    };
    let nominal_v = place.room.rail.nominal_v.map_or(f64::NAN, f64::abs);
    let one = |w: &Wanted| {
        if w.name == whole {
            figure(volt, "the output is not finite")
        } else if w.name == share {
            figure(volt / nominal_v, "`[rail]` names no `nominal`")
        } else if w.name == slope {
            figure(volt / per, "what it is counted by does not change")
        } else if w.name == "window" {
            let inside = points.iter().map(|p| place.window_at(&p.z));
            let nothing = Err(Absence::Unknown("nothing was swept".to_owned()));
            inside.reduce(nearer).unwrap_or(nothing)
        } else {
            Err(Absence::Unknown("not looked for".to_owned()))
        }
    };
    wanted.iter().map(one).collect()
}

/// The lesser figure; the reason if there is none.
fn nearer(a: Result<Figure, Absence>, b: Result<Figure, Absence>) -> Result<Figure, Absence> {
    let (a, b) = (a?, b?);
    Ok(if b.value < a.value { b } else { a })
}

fn curve(place: &Place<'_>, (axis, unit): (&str, &'static str), points: &[SweepPoint]) -> Curve {
    let column = |name: &str, unit, of: &dyn Fn(&SweepPoint) -> f64| {
        Column::new(name, unit, points.iter().map(of).collect())
    };
    let mut columns = vec![column(axis, unit, &|p| p.level)];
    if place.input.is_some() {
        columns.push(column("input", "V", &|p| place.input_v(&p.z).unwrap_or(f64::NAN)));
    }
    columns.push(column("output", "V", &|p| place.output_v(&p.z)));
    Curve { condition: place.condition.clone(), held: place.held.clone(), columns }
}
