//! Loop gain at one place: curve, margins, poles and zeros, and whether a small step agrees.

use super::motion::Frequencies;
use super::place::Place;
use super::{Fineness, Found, ringing};
use crate::analysis::Failure;
use crate::analysis::small_signal::{LoopPoint, Natural, SmallSignal, Wire, WireState};
use crate::curve::{Cell, Column, Curve, Listing};
use crate::measure::margins::{Margins, decibel, margins, second_order_damping};
use crate::measure::{Absence, Figure, Wanted};
use crate::quantity::engineering;
use crate::trial::reads::Reads;
use crate::trial::run::Outcome;
use nalgebra::Complex;
use std::f64::consts::TAU;

/// Poles and zeros within this many decades around the swept range are listed.
const LISTED_DECADES: f64 = 1.0;
/// Share of a pole that its owners are named from.
const OWNER_SHARE: f64 = 0.2;
/// A pole and a zero this near to each other, of their size, cancel for every purpose.
const CANCELLED: f64 = 1e-6;
const DIGITS: usize = 3;

/// Everything about the loop at one place.
struct Story {
    margins: Margins,
    poles: Vec<Natural>,
    /// Index of the pair that a small step shows.
    pair: Option<usize>,
    /// The same in time, or why not.
    in_time: Option<Result<Complex<f64>, String>>,
    /// Why there is no regulation here.
    lost: Option<String>,
    highest_hz: f64,
}

/// Loop gain over frequency and what follows from it.
pub(super) fn look(
    place: &mut Place<'_>,
    frequencies: &Frequencies,
    wanted: &[Wanted],
) -> Result<Found, Failure> {
    let grid = place.grid(frequencies);
    let Some(wire) = place.wire else {
        let why = "`[rail]` names no `feedback`, where the loop is opened";
        return Ok(Found::missing(wanted, why));
    };
    let mut small = place.small_signal();
    let mut points: Vec<(f64, LoopPoint)> = Vec::with_capacity(grid.len());
    for &hz in &grid {
        let point = small.loop_gain(wire, hz).map_err(|at| small.failure(hz, at))?;
        points.push((hz, point));
    }
    let mut solved = grid.len();
    let margins = {
        let mut known = points.iter().peekable();
        let mut gain = |hz: f64| {
            // The grid has been solved already, and is asked for in its order.
            if let Some((_, point)) = known.next_if(|(at, _)| *at == hz) {
                return Some(point.gain);
            }
            solved += 1;
            small.loop_gain(wire, hz).ok().map(|point| point.gain)
        };
        margins(&mut gain, &grid)
    };
    place.factorisations += solved;
    let bare = place.room.reads != Reads::Everything;
    let damping = |w: &Wanted| w.name.ends_with("_damping");
    let poles = if !bare || wanted.iter().any(damping) {
        small.natural_frequencies().unwrap_or_default()
    } else {
        Vec::new()
    };
    let lost = place.out_of_regulation();
    let crossover = margins.crossover().filter(|_| lost.is_none());
    let chosen = crossover.and_then(|c| ringing::of_the_loop(place, &poles, c.hz));
    let pair = chosen.and_then(|one| poles.iter().position(|p| p.s == one.s));
    let wants_time = wanted.iter().any(|w| w.name == "ringing_damping");
    let in_time = chosen
        .filter(|one| wants_time && one.s.re < 0.0)
        .map(|one| ringing::in_time(place, &mut small, one));
    let highest_hz = grid.last().copied().unwrap_or(f64::INFINITY);
    let story = Story { margins, poles, pair, in_time, lost, highest_hz };
    let figures = wanted.iter().map(|w| story.figure(place, w)).collect();
    if bare || place.fineness == Fineness::Doubled {
        return Ok(Found { figures, ..Found::default() });
    }
    let unilateral = points.iter().all(|(_, p)| SmallSignal::takes_no_current(p));
    let mut listings = vec![story.row(place), story.closed_poles(place, &grid)];
    if unilateral {
        listings.push(open_loop(place, &small, wire, &grid));
    }
    let curves = vec![curve(place, &points)];
    Ok(Found { figures, curves, listings, notes: story.notes(place) })
}

/// Of notes on every condition only the one on the least phase margin is kept; the others stand in
/// the listing.
pub(super) fn keep_the_worst_note(outcome: &mut Outcome) {
    let Some(listing) = outcome.listings.iter().find(|l| l.name == "loop_gain") else { return };
    let number = |cell: Option<&Cell>| match cell {
        Some(Cell::Number(value)) => *value,
        _ => f64::INFINITY,
    };
    let at = listing.columns.iter().position(|c| c.name == "phase_margin").unwrap_or(0);
    let least = listing.rows.iter().min_by(|a, b| number(a.get(at)).total_cmp(&number(b.get(at))));
    if let Some(Cell::Text(condition)) = least.and_then(|row| row.first()) {
        let start = format!("at {condition}: ");
        outcome.notes.retain(|note| !note.starts_with("at ") || note.starts_with(&start));
    }
}

fn curve(place: &Place<'_>, points: &[(f64, LoopPoint)]) -> Curve {
    let column = |name: &str, unit, of: &dyn Fn(&LoopPoint) -> f64| {
        Column::new(name, unit, points.iter().map(|(_, p)| of(p)).collect())
    };
    let mut turned = 0.0;
    let mut last: Option<f64> = None;
    let phases = points.iter().map(|(_, p)| {
        // The phase goes on where the principal value jumps.
        let phase = p.gain.arg().to_degrees();
        if let Some(last) = last {
            turned -= 360.0 * ((phase - last) / 360.0).round();
        }
        last = Some(phase);
        phase + turned
    });
    let phases = phases.collect();
    let columns = vec![
        Column::new("frequency", "Hz", points.iter().map(|(hz, _)| *hz).collect()),
        column("gain", "dB", &|p| decibel(p.gain.norm())),
        Column::new("phase", "deg", phases),
        column("real", "1", &|p| p.gain.re),
        column("imaginary", "1", &|p| p.gain.im),
    ];
    Curve { condition: place.condition.clone(), held: place.held.clone(), columns }
}

impl Story {
    fn figure(&self, place: &Place<'_>, wanted: &Wanted) -> Result<Figure, Absence> {
        if wanted.name == "window" {
            return place.window();
        }
        if wanted.name == "low_frequency_gain" {
            let low = self.margins.low_db.filter(|db| db.is_finite()).map(Figure::plain);
            return low.ok_or_else(|| Absence::Unknown("nothing comes back: no loop".to_owned()));
        }
        if let Some(lost) = &self.lost {
            return Err(Absence::Unknown(lost.clone()));
        }
        let none = || Absence::Harmless("no crossover: the loop gain stays below 1".to_owned());
        let crossover = || self.margins.crossover().ok_or_else(none);
        match wanted.name {
            "phase_margin" => {
                crossover().map(|c| self.judged(Figure::at(c.phase_margin_deg, c.hz)))
            }
            "crossover" => crossover().map(|c| Figure::plain(c.hz)),
            "gain_margin" => {
                let highest = engineering(self.highest_hz, "Hz", DIGITS);
                let none = format!("none: the phase does not pass -180° up to {highest}");
                let found = self.margins.gain_margin();
                let found = found.map(|g| self.judged(Figure::at(g.margin_db, g.hz)));
                found.ok_or(Absence::Beyond(none))
            }
            "loop_distance" => {
                let found = self.margins.distance;
                let found = found.map(|(value, hz)| self.judged(Figure::at(value, hz)));
                found.ok_or_else(none)
            }
            "closed_loop_damping" => {
                crossover()?;
                let found = self.pair().map(|p| Figure::at(p.damping(), p.frequency_hz()));
                found.ok_or_else(|| Absence::Beyond("no pair of poles that rings".to_owned()))
            }
            "ringing_damping" => match &self.in_time {
                Some(Ok(s)) => Ok(Figure::at(-s.re / s.norm(), s.norm() / TAU)),
                Some(Err(why)) => Err(Absence::Harmless(why.clone())),
                None => Err(Absence::Beyond("nothing rings after a small load step".to_owned())),
            },
            _ => Err(Absence::Unknown("not a figure of a loop".to_owned())),
        }
    }

    fn pair(&self) -> Option<&Natural> {
        self.pair.and_then(|k| self.poles.get(k))
    }

    /// A margin of a loop that is unstable all the same is none.
    fn judged(&self, mut figure: Figure) -> Figure {
        figure.condemned = self.unstable().map(|pole| {
            let hz = engineering(pole.frequency_hz(), "Hz", DIGITS);
            format!("the closed loop is unstable: a pole at {hz} grows")
        });
        figure
    }

    fn unstable(&self) -> Option<&Natural> {
        self.poles.iter().find(|p| p.s.re > 1e-9 * p.s.norm())
    }

    /// The place's row in the table of loops.
    fn row(&self, place: &Place<'_>) -> Listing {
        let mut listing = Listing::new(
            "loop_gain",
            "loop gain at each condition",
            &[
                ("condition", ""),
                ("low_frequency_gain", "dB"),
                ("crossover", "Hz"),
                ("phase_margin", "deg"),
                ("gain_margin", "dB"),
                ("loop_distance", ""),
                ("damping_of_poles", ""),
                ("damping_in_time", ""),
                ("remark", ""),
            ],
        );
        let crossover = self.margins.crossover();
        let lower = self.margins.crossovers.iter().map(|c| engineering(c.hz, "Hz", DIGITS));
        let remark = match (&self.lost, self.unstable(), self.margins.crossovers.len()) {
            (Some(_), _, _) => "not in regulation".to_owned(),
            (None, Some(_), _) => "unstable".to_owned(),
            (None, None, 0) => "no crossover".to_owned(),
            (None, None, 1) => String::new(),
            _ => format!("crossovers at {}", lower.collect::<Vec<_>>().join(", ")),
        };
        let in_time = self.in_time.as_ref().and_then(|s| s.as_ref().ok());
        listing.push([
            Cell::from(place.condition.as_str()),
            self.margins.low_db.into(),
            crossover.map(|c| c.hz).into(),
            crossover.map(|c| c.phase_margin_deg).into(),
            self.margins.gain_margin().map(|g| g.margin_db).into(),
            self.margins.distance.map(|d| d.0).into(),
            self.pair().map(Natural::damping).into(),
            in_time.map(|s| -s.re / s.norm()).into(),
            remark.into(),
        ]);
        listing
    }

    fn closed_poles(&self, place: &Place<'_>, grid: &[f64]) -> Listing {
        let mut listing = Listing::new(
            "closed_loop_poles",
            "poles of the closed loop, each with the parts that own most of it",
            &POLE_COLUMNS,
        );
        for pole in self.poles.iter().filter(|p| is_near(p, grid)) {
            listing.push(pole_row(place, "pole", pole));
        }
        listing
    }

    fn notes(&self, place: &Place<'_>) -> Vec<String> {
        if let Some(lost) = &self.lost {
            return vec![format!("{}: {lost}", place.condition)];
        }
        let Some(crossover) = self.margins.crossover() else { return Vec::new() };
        let (Some(pair), Some(Ok(s))) = (self.pair(), &self.in_time) else { return Vec::new() };
        let implied = second_order_damping(crossover.phase_margin_deg);
        let implied = implied.map_or_else(String::new, |z| {
            format!("; a loop of second order with this margin has {z:.2}")
        });
        vec![format!(
            "at {}: phase margin {:.1}° at {}; a small load step rings with damping {:.3} at {}, \
             the poles say {:.3}{implied}",
            place.condition,
            crossover.phase_margin_deg,
            engineering(crossover.hz, "Hz", DIGITS),
            -s.re / s.norm(),
            engineering(s.norm() / TAU, "Hz", DIGITS),
            pair.damping(),
        )]
    }
}

const POLE_COLUMNS: [(&str, &str); 5] =
    [("condition", ""), ("kind", ""), ("frequency", "Hz"), ("damping", ""), ("owned_by", "")];

fn pole_row(place: &Place<'_>, kind: &str, pole: &Natural) -> [Cell; 5] {
    [
        Cell::from(place.condition.as_str()),
        kind.into(),
        pole.frequency_hz().into(),
        pole.damping().into(),
        owned_by(pole).into(),
    ]
}

/// Poles and zeros of the loop gain itself; those that cancel are left out.
fn open_loop(place: &Place<'_>, small: &SmallSignal<'_>, wire: Wire, grid: &[f64]) -> Listing {
    let of = |state| small.with_wire(wire, state).natural_frequencies().unwrap_or_default();
    let (poles, zeros) = (of(WireState::Cut), of(WireState::NothingReturns));
    let same = |a: &Natural, b: &Natural| (a.s - b.s).norm() <= CANCELLED * a.s.norm();
    let alone = |one: &&Natural, others: &[Natural]| !others.iter().any(|o| same(one, o));
    let mut listing = Listing::new(
        "loop_gain_poles",
        "poles and zeros of the loop gain, each with the parts that own most of it",
        &POLE_COLUMNS,
    );
    let poles_left = poles.iter().filter(|p| alone(p, &zeros)).map(|p| ("pole", p));
    let zeros_left = zeros.iter().filter(|z| alone(z, &poles)).map(|z| ("zero", z));
    let mut rows: Vec<(&str, &Natural)> =
        poles_left.chain(zeros_left).filter(|(_, p)| is_near(p, grid)).collect();
    rows.sort_by(|a, b| a.1.s.norm().total_cmp(&b.1.s.norm()));
    rows.into_iter().for_each(|(kind, one)| listing.push(pole_row(place, kind, one)));
    listing
}

fn is_near(pole: &Natural, grid: &[f64]) -> bool {
    let beyond = 10f64.powf(LISTED_DECADES);
    let hz = pole.frequency_hz();
    let (low, high) = (grid.first(), grid.last());
    low.is_some_and(|low| hz >= low / beyond) && high.is_some_and(|high| hz <= high * beyond)
}

/// `C_OUT 98 %, Q1 21 %`
fn owned_by(pole: &Natural) -> String {
    let mut told = pole.owners.iter().enumerate();
    let most = told.by_ref().take_while(|(k, (_, share))| *k == 0 || *share >= OWNER_SHARE);
    let words = most.map(|(_, (owner, share))| format!("{owner} {:.0} %", 100.0 * share));
    words.take(3).collect::<Vec<_>>().join(", ")
}
