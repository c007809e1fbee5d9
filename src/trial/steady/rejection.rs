//! Ripple rejection at one place: the source ripples by 1 V, small, and what comes through is read
//! at the input pin and at the output; and what less headroom costs.

use super::Found;
use super::motion::Frequencies;
use super::place::Place;
use super::sweep::{Judged, Modes, Sweep, quoted, worst};
use crate::analysis::Failure;
use crate::analysis::small_signal::{Phasor, SmallSignal, s_of};
use crate::curve::{Cell, Column, Curve, Held, Listing};
use crate::measure::{Absence, Extreme, Figure, Wanted};
use crate::quantity::trimmed;
use nalgebra::Complex;

const FROM_PIN: &str = "rejection_from_pin";
const FROM_SOURCE: &str = "rejection_from_source";
const HEADROOM: &str = "headroom";
/// An input pin that 1 A moves by less than this many V stands on the source itself.
const HELD_V: f64 = 1e-12;
/// A share of the output's ripple that takes another way than the input pin and is told: 0.1 dB.
const ANOTHER_WAY: f64 = 0.01;
/// dB that may be lost with headroom before it is told: half the power.
const LOST_DB: f64 = 3.0;
const DIGITS: usize = 3;

/// Ripple rejection over frequency and what follows from it.
pub(super) fn look(
    place: &mut Place<'_>,
    frequencies: &Frequencies,
    from_source: bool,
    wanted: &[Wanted],
) -> Result<Found, Failure> {
    let mut probe = match Probe::new(place, from_source) {
        Ok(probe) => probe,
        Err(why) => return Ok(Found::missing(wanted, why)),
    };
    let grid = place.grid(frequencies);
    let quoted = quoted(&grid, wanted);
    let held = place.input.filter(|_| !from_source);
    let modes = Modes::with_held(&mut probe.signal, held);
    let at = modes.grid_with(&grid, &quoted);
    let decibel = |_: f64, ripple: &Ripple| ripple.rejection(from_source);
    let judged: [Judged<'_, Ripple>; 1] = [(Extreme::Least, &decibel)];
    let (sweep, peaks) = Sweep::new(&at, &judged, &mut |hz| probe.ripple(hz))?;
    let mut figures = Vec::with_capacity(wanted.len());
    for wanted in wanted {
        figures.push(match (wanted.name, wanted.asked.at_hz) {
            ("window", _) => place.window(),
            (_, Some(hz)) => finite(probe.ripple(hz)?.rejection(from_source), hz),
            (_, None) => peaks
                .first()
                .and_then(|peaks| worst(peaks, &sweep.hz))
                .map_or_else(|| finite(f64::INFINITY, grid[0]), Ok),
        });
    }
    let mut listing = listing();
    for &hz in &quoted {
        let ripple = probe.ripple(hz)?;
        listing.push([
            Cell::from(place.condition.clone()),
            Cell::from(headroom(place)),
            Cell::from(hz),
            Cell::from(ripple.rejection(false)),
            Cell::from(ripple.rejection(true)),
        ]);
    }
    let notes = match another_way(&mut probe, &quoted)? {
        Some(note) if !from_source => vec![format!("{}: {note}", place.condition)],
        _ => Vec::new(),
    };
    place.factorisations += probe.factorisations;
    modes.qualify(place, wanted, &mut figures);
    Ok(Found { figures, curves: vec![curve(place, &sweep)], listings: vec![listing], notes })
}

fn finite(decibel: f64, hz: f64) -> Result<Figure, Absence> {
    if decibel.is_finite() {
        return Ok(Figure::at(decibel, hz));
    }
    Err(Absence::Harmless("nothing of the ripple comes through".to_owned()))
}

/// V between input pin and output at rest.
fn headroom(place: &Place<'_>) -> Option<f64> {
    let z = place.rest.z();
    Some(place.input_v(z)? - place.output_v(z))
}

/// What 1 V of ripple at the source makes of the rail.
#[derive(Clone, Copy, Debug)]
struct Ripple {
    /// At the input pin, not-a-number where none is named.
    input: Phasor,
    /// At the output.
    output: Phasor,
}

impl Ripple {
    /// dB by which the output ripples less than the source, or than the input pin; not finite where
    /// there is none to compare.
    fn rejection(&self, from_source: bool) -> f64 {
        let from = if from_source { 1.0 } else { self.input.norm() };
        20.0 * (from / self.output.norm()).log10()
    }
}

struct Probe<'a> {
    signal: SmallSignal<'a>,
    drive: usize,
    input: Option<usize>,
    output: usize,
    ground: usize,
    factorisations: usize,
}

impl<'a> Probe<'a> {
    fn new(place: &Place<'a>, from_source: bool) -> Result<Self, &'static str> {
        let source = place.source.ok_or("no part is named as `source`")?;
        if place.output == place.ground {
            return Err("the rail names no `output`");
        }
        if place.input.is_none() && !from_source {
            return Err("the rail names no `input`");
        }
        Ok(Self {
            signal: place.small_signal(),
            drive: source.drive,
            input: place.input,
            output: place.output,
            ground: place.ground,
            factorisations: 0,
        })
    }

    /// With 1 V of ripple at the source, at a frequency in Hz.
    fn ripple(&mut self, hz: f64) -> Result<Ripple, Failure> {
        self.factorisations += 1;
        let drive = self.drive;
        let signal = &mut self.signal;
        let found = signal.set(s_of(hz)).and_then(|()| signal.respond_to_drive(drive));
        found.map(|x| self.read(&x)).map_err(|singular| self.signal.failure(hz, singular))
    }

    fn read(&self, x: &[Phasor]) -> Ripple {
        let nothing = Complex::new(f64::NAN, f64::NAN);
        Ripple {
            input: self.input.map_or(nothing, |input| x[input] - x[self.ground]),
            output: x[self.output] - x[self.ground],
        }
    }

    /// The share of the output's ripple that is left when a current into the input pin keeps the
    /// pin still; `None` where the pin stands on the source itself.
    fn around_the_pin(&mut self, hz: f64) -> Result<Option<f64>, Failure> {
        let Some(input) = self.input else { return Ok(None) };
        let driven = self.ripple(hz)?;
        let pushed = self.signal.respond_to_current(self.ground, input);
        let pushed = pushed.map_err(|singular| self.signal.failure(hz, singular))?;
        let pushed = self.read(&pushed);
        let held = driven.output - pushed.output * (driven.input / pushed.input);
        let share = held.norm() / driven.output.norm();
        Ok((pushed.input.norm() > HELD_V && share.is_finite()).then_some(share))
    }
}

/// Where the source's ripple reaches the output on another way than through the input pin, the
/// ratio of both is not the pin's alone.
fn another_way(probe: &mut Probe<'_>, quoted: &[f64]) -> Result<Option<String>, Failure> {
    let mut most: Option<(f64, f64)> = None;
    for &hz in quoted {
        let share = probe.around_the_pin(hz)?.unwrap_or(0.0);
        if share > ANOTHER_WAY && most.is_none_or(|(_, known)| share > known) {
            most = Some((hz, share));
        }
    }
    Ok(most.map(|(hz, share)| {
        format!(
            "rejection from the input pin is approximate: at {} with the pin held still the output \
             keeps {} of its ripple, which comes another way",
            trimmed(hz, "Hz", DIGITS),
            trimmed(100.0 * share, "%", DIGITS),
        )
    }))
}

fn listing() -> Listing {
    Listing::new(
        "ripple_rejection",
        "ripple rejection against headroom",
        &[
            ("condition", ""),
            (HEADROOM, "V"),
            ("frequency", "Hz"),
            (FROM_PIN, "dB"),
            (FROM_SOURCE, "dB"),
        ],
    )
}

fn curve(place: &Place<'_>, sweep: &Sweep<Ripple>) -> Curve {
    let columns = vec![
        Column::new("frequency", "Hz", sweep.hz.clone()),
        Column::new(FROM_PIN, "dB", sweep.column(|_, ripple| ripple.rejection(false))),
        Column::new(FROM_SOURCE, "dB", sweep.column(|_, ripple| ripple.rejection(true))),
    ];
    let mut held = place.held.clone();
    held.extend(headroom(place).map(|value| Held { name: HEADROOM, unit: "V", value }));
    Curve { condition: place.condition.clone(), held, columns }
}

/// What less headroom costs, for each load and temperature of which several headrooms were looked
/// at: a sentence where more than 3 dB are lost at a frequency that the listing tells of.
pub(super) fn against_headroom(
    curves: &[Curve],
    listings: &[Listing],
    from_source: bool,
) -> Vec<String> {
    let name = if from_source { FROM_SOURCE } else { FROM_PIN };
    let mut quoted: Vec<f64> = Vec::new();
    for row in listings.iter().filter(|l| l.name == "ripple_rejection").flat_map(|l| &l.rows) {
        if let Some(Cell::Number(hz)) = row.get(2)
            && !quoted.contains(hz)
        {
            quoted.push(*hz);
        }
    }
    let mut groups: Vec<(String, Vec<&Curve>)> = Vec::new();
    for curve in curves {
        let others = curve.held.iter().filter(|h| ![HEADROOM, "source"].contains(&h.name));
        let words: Vec<String> = others.map(|h| trimmed(h.value, h.unit, 4)).collect();
        let words = words.join(", ");
        match groups.iter_mut().find(|(known, _)| *known == words) {
            Some((_, members)) => members.push(curve),
            None => groups.push((words, vec![curve])),
        }
    }
    groups.iter().filter_map(|(words, members)| loss(words, members, name, &quoted)).collect()
}

/// A curve's value at a frequency that it was solved at.
fn at(curve: &Curve, name: &str, hz: f64) -> Option<f64> {
    let place = curve.column("frequency")?.values.iter().position(|f| *f == hz)?;
    curve.column(name)?.values.get(place).copied().filter(|db| db.is_finite())
}

fn loss(words: &str, members: &[&Curve], name: &str, quoted: &[f64]) -> Option<String> {
    let room = |curve: &Curve| curve.held.iter().find(|h| h.name == HEADROOM).map(|h| h.value);
    let mut rooms: Vec<(f64, &Curve)> =
        members.iter().filter_map(|curve| Some((room(curve)?, *curve))).collect();
    rooms.sort_by(|a, b| b.0.total_cmp(&a.0));
    let &(most_v, widest) = rooms.first()?;
    let mut worst: Option<(usize, f64, f64, f64)> = None;
    for &hz in quoted {
        let Some(full) = at(widest, name, hz) else { continue };
        let lost = |(_, curve): &(f64, &Curve)| at(curve, name, hz).map_or(0.0, |db| full - db);
        let Some(first) = rooms.iter().position(|r| lost(r) > LOST_DB) else { continue };
        let least = full - lost(&rooms[first]);
        let earlier = worst.is_none_or(|(known, _, all, left)| {
            first < known || (first == known && full - least > all - left)
        });
        if earlier {
            worst = Some((first, hz, full, least));
        }
    }
    let (first, hz, full, left) = worst?;
    Some(format!(
        "{words}{} ripple rejection at {} falls from {} with {} of headroom to {} with {}: more \
         than {LOST_DB} dB are lost between {} and {}",
        if words.is_empty() { "" } else { ":" },
        trimmed(hz, "Hz", DIGITS),
        trimmed(full, "dB", DIGITS),
        trimmed(most_v, "V", DIGITS),
        trimmed(left, "dB", DIGITS),
        trimmed(rooms[first].0, "V", DIGITS),
        trimmed(rooms[first - 1].0, "V", DIGITS),
        trimmed(rooms[first].0, "V", DIGITS),
    ))
}
