//! Regulation in circuits with heat paths: once with every junction held at its temperature at the
//! first level, as a short pulse would, and once with heat settled at each level.

use super::place::{Place, moved, net_of};
use super::regulation::{LoadAsk, Track};
use super::{Fineness, Quest};
use crate::analysis::{Failure, QuasiStatic};
use crate::curve::{Cell, Listing};
use crate::measure::{Absence, Figure, Wanted};
use crate::quantity::{Program, celsius, trimmed};
use crate::system::{Quantity, System};

/// Digits of temperatures in notes.
const DIGITS: usize = 4;

/// Shows `look` the circuit with its junctions held as they are at the first level, the settled
/// circuit beside it. `levels`: of load and source, where the test gives them.
pub(super) fn visit_held(
    mut settled: Place<'_>,
    quest: &Quest,
    levels: [Option<f64>; 2],
    look: &mut dyn FnMut(&mut Place<'_>) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let room = settled.room;
    let first = match quest {
        Quest::LoadRegulation { from, .. } => settled.load.zip(Some(from)),
        Quest::LineRegulation { from, .. } => settled.source.zip(Some(from)),
        _ => None,
    };
    if let Some((moved, from)) = first {
        settled.rest.go(moved.drive, room.variant.evaluate(from))?;
    }
    let variant = room.variant.with_junctions_held(&junctions(settled.system, settled.rest.z()));
    let (net, wire) = net_of(room, &variant);
    let system = System::build(&net);
    let mut rest = QuasiStatic::new(&system, system.pieces(-1.0))?;
    let load = moved(&system, &variant, room.load.as_deref());
    let source = moved(&system, &variant, room.source.as_deref());
    for (moved, level) in [load, source].into_iter().zip(levels) {
        if let (Some(moved), Some(level)) = (moved, level) {
            rest.go(moved.drive, level)?;
        }
    }
    let asked = (settled.fineness, quest);
    let mut held = Place::new(room, &system, wire, rest, (load, source), asked);
    held.settled = Some(Box::new(settled));
    look(&mut held)
}

/// Every heat path with its junction temperature in K, paths without parts left to themselves.
fn junctions(system: &System, z: &[f64]) -> Vec<(String, f64)> {
    let heated = system.heat_paths.iter().filter(|path| !path.heated.is_empty());
    heated
        .map(|path| (system.parts[path.part].name.clone(), path.ambient_k + z[path.junction]))
        .collect()
}

/// What the settled circuit says beside a place with held junctions.
pub(super) struct Settled {
    /// Of the measurement whose name ends in `_settled`.
    pub(super) figure: Result<Figure, Absence>,
    pub(super) listing: Option<Listing>,
    pub(super) notes: Vec<String>,
}

/// V by which the output falls from the load `from` to `to`, times `sign`.
pub(super) fn load(place: &mut Place<'_>, ask: &LoadAsk<'_>, sign: f64) -> Option<Settled> {
    let mut settled = place.settled.take()?;
    let [from, to] = [ask.from, ask.to].map(|p| place.room.variant.evaluate(p));
    let note = held_note(&settled);
    let found = (|| {
        let moved = settled.load?;
        let mut track = Track { moved, pin: None, ground: settled.ground };
        track.go(&mut settled.rest, from).ok()?;
        let before = settled.output_v(settled.rest.z());
        if ask.hold_pin {
            let pin_v = settled.input_v(settled.rest.z());
            track.pin = settled.source.zip(settled.input).zip(pin_v).map(|((s, i), v)| (s, i, v));
        }
        Some(
            track
                .go(&mut settled.rest, to)
                .map(|()| sign * (before - settled.output_v(settled.rest.z()))),
        )
    })();
    Some(told(&settled, found, note))
}

/// V between the highest and the lowest output while the source goes from `from` to `to`.
pub(super) fn line(
    place: &mut Place<'_>,
    (from, to, points): (&Program, &Program, usize),
) -> Option<Settled> {
    let mut settled = place.settled.take()?;
    let [from, to] = [from, to].map(|p| place.room.variant.evaluate(p));
    let note = held_note(&settled);
    let (output, ground) = (settled.output, settled.ground);
    let of = move |z: &[f64]| z[output] - z[ground];
    let count = settled.fineness.points(points);
    let found = settled.source.map(|source| {
        let (points, failure) = settled.rest.sweep(source.drive, (from, to), count, &of);
        let outputs = points.iter().map(|p| of(&p.z));
        let ends = (f64::INFINITY, f64::NEG_INFINITY);
        let (low, high) = outputs.fold(ends, |(l, h), v| (l.min(v), h.max(v)));
        failure.map_or(Ok(high - low), Err)
    });
    Some(told(&settled, found, note))
}

fn told(settled: &Place<'_>, found: Option<Result<f64, Failure>>, note: String) -> Settled {
    let figure = match found {
        Some(Ok(volt)) => Ok(Figure::plain(volt)),
        Some(Err(failure)) => Err(Absence::Unknown(failure.message)),
        None => Err(Absence::Unknown("the circuit does not settle there".to_owned())),
    };
    let listing = figure.is_ok().then(|| listing(settled));
    Settled { figure, listing, notes: vec![note] }
}

fn held_note(settled: &Place<'_>) -> String {
    let at = junctions(settled.system, settled.rest.z());
    let each = at
        .iter()
        .map(|(name, kelvin)| format!("`{name}` at {}", trimmed(celsius(*kelvin), "°C", DIGITS)));
    let each: Vec<String> = each.collect();
    format!(
        "junctions held as at the first level, but for what is called settled: {}",
        each.join(", ")
    )
}

/// How warm each path is where the settled sweep ends.
fn listing(settled: &Place<'_>) -> Listing {
    let columns = [
        ("condition", ""),
        ("path", ""),
        ("power", "W"),
        ("thermal_resistance", "K/W"),
        ("junction", "°C"),
        ("rated", "°C"),
    ];
    let title = "heat, settled at the last level";
    let mut listing = Listing::new("settled_heat", title, &columns);
    let z = settled.rest.z();
    let seen = settled.system.observe(z, &vec![0.0; z.len()]);
    let system = settled.system;
    for path in &system.heat_paths {
        let part = |name: &String| system.parts.iter().position(|p| p.name == *name);
        let power = |index| system.read(&seen, Quantity::Power(index));
        let watt: f64 = path.heated.iter().filter_map(part).map(power).sum();
        listing.push([
            Cell::from(settled.condition.clone()),
            Cell::from(system.parts[path.part].name.clone()),
            Cell::from(watt),
            Cell::from(path.resistance_k_per_w),
            Cell::from(celsius(path.ambient_k + z[path.junction])),
            Cell::from(path.rated_k.map(celsius)),
        ]);
    }
    listing
}

/// Puts the settled figure where it is wanted, and what stands beside it.
pub(super) fn put(
    settled: Option<Settled>,
    wanted: &[Wanted],
    fineness: Fineness,
    found: &mut super::Found,
) {
    let none = || Err(Absence::Unknown("the circuit has no heat path".to_owned()));
    let figure = settled.as_ref().map_or_else(none, |settled| settled.figure.clone());
    let places = wanted.iter().zip(&mut found.figures);
    for (_, place) in places.filter(|(w, _)| w.name.ends_with("_settled")) {
        place.clone_from(&figure);
    }
    if let Some(settled) = settled.filter(|_| fineness == Fineness::AsAsked) {
        found.listings.extend(settled.listing);
        found.notes.extend(settled.notes);
    }
}
