//! What a regulator delivers at any output: the load is taken away and the output forced, from a
//! bit above what is regulated down to a short and below ground.
//!
//! The voltage is what is moved, so that a current that folds back is no turn of the curve. Where a
//! load's own line crosses it, the rail can rest; it stays there if what is left over charges the
//! output capacitor back.

mod curves;
mod loads;
mod read;
mod told;

pub(super) use read::{doubtful, read};

use super::motion::{LOWEST_V, OverloadAsk};
use super::place::Place;
use super::{Fineness, Found};
use crate::analysis::{QuasiStatic, SweepPoint};
use crate::device::Drive;
use crate::measure::sweep::greatest_difference;
use crate::measure::{Absence, Bound, Figure, Wanted};
use crate::quantity::{Dimension, Program, trimmed};
use crate::system::{Quantity, System};
use loads::{Fate, Line};

/// The part that forces the output; no file can name one like it.
const FORCED: &str = "forced output";
/// How far above the higher of nominal and no-load output it begins, as a share.
const ABOVE: f64 = 0.02;
/// The output has fallen by this share of nominal where the limit is read, when nothing is said:
/// common practice, no source.
const FALLEN_BY: f64 = 0.05;
/// Half of the window, as a share of nominal, where none is given.
const OTHERWISE: f64 = 0.05;
/// A load of constant resistance that is taken away, Ω.
const OPEN_OHM: f64 = 1e12;
/// The way up may differ from the way down by this share of the span of currents.
const SAME_SHARE: f64 = 1e-6;
/// The output at which the pass devices get hottest is found by so many sections.
const SECTIONS: usize = 24;
const DIGITS: usize = 3;

/// Where a load bends, in shares of the voltage that it is told with.
const BENDS: [f64; 12] = [0.1, 0.25, 0.5, 0.7, 0.85, 1.0, 1.15, 1.3, 1.6, 2.0, 3.0, 5.0];

/// The circuit with its output forced. Voltages and currents count in the sense of nominal.
struct Rig<'a> {
    rest: QuasiStatic<'a>,
    drive: usize,
    part: usize,
    pass: Vec<usize>,
    sign: f64,
}

/// One output and what the regulator does there.
#[derive(Clone, Copy, Debug)]
struct Spot {
    output_v: f64,
    current_a: f64,
    /// W; NaN where the rail names no pass devices.
    pass_w: f64,
}

/// What was found at one place.
struct Story {
    /// Falling outputs.
    falling: Vec<(SweepPoint, Spot)>,
    /// Rising outputs.
    rising: Vec<(SweepPoint, Spot)>,
    /// Whether the way up differs from the way down.
    hysteresis: Option<String>,
    short: Spot,
    hottest: Option<Spot>,
    fates: Vec<Fate>,
    lowest_v: f64,
    ended: Option<String>,
    nominal_v: f64,
}

pub(super) fn look(place: &mut Place<'_>, ask: &OverloadAsk, wanted: &[Wanted]) -> Found {
    let (net, drive, part) = match forced_net(place) {
        Ok(found) => found,
        Err(why) => return Found::missing(wanted, &why),
    };
    let system = System::build(&net);
    let told = Story::of(place, ask, wanted, (&system, drive, part));
    let (story, mut rig) = match told {
        Ok(told) => told,
        Err(why) => return Found::missing(wanted, &why),
    };
    let figures = wanted.iter().map(|w| story.figure(&mut rig, w)).collect();
    place.factorisations += rig.rest.work().1;
    let mut found = Found { figures, ..Found::default() };
    if place.fineness == Fineness::AsAsked {
        found.curves = curves::draw(place, &story);
        found.listings = told::listings(place, &story);
        found.notes = told::notes(place, &story);
    }
    found
}

/// The net with the load away and a source across the output; its drive and its part.
fn forced_net(place: &Place<'_>) -> Result<(crate::device::Net, usize, usize), String> {
    let rail = place.room.figures().ok_or("there is no `[rail]`")?;
    let output = rail.output.as_deref().ok_or("`[rail]` names no `output`")?;
    let mut net = place.room.variant.net(&place.room.excitation.drives);
    net.wanted = None;
    let held = |name: &Option<String>, net: &crate::device::Net| {
        net.find_part(name.as_deref()?).and_then(|part| net.parts[part].drive)
    };
    if let (Some(drive), Some(moved)) = (held(&place.room.load, &net), place.load) {
        let away = if moved.dimension == Dimension::OHM { OPEN_OHM } else { 0.0 };
        net.drives[drive] = Drive::constant(away);
    }
    if let (Some(drive), Some(moved)) = (held(&place.room.source, &net), place.source) {
        net.drives[drive] = Drive::constant(place.rest.level(moved.drive));
    }
    let pins = net.begin_part(FORCED, &["plus", "minus"], &[output, &rail.ground]);
    let &[plus, minus] = pins.as_slice() else { return Err("the output has no ends".to_owned()) };
    let drive = net.drive(Drive::constant(place.output_v(place.rest.z())));
    let _ = net.branch([plus, minus], 0.0, 0.0).driven_by(drive);
    let part = net.parts.len() - 1;
    Ok((net, drive, part))
}

impl Story {
    /// # Errors
    /// Why nothing can be found here, in words.
    fn of<'s>(
        place: &mut Place<'_>,
        ask: &OverloadAsk,
        wanted: &[Wanted],
        (system, drive, part): (&'s System, usize, usize),
    ) -> Result<(Self, Rig<'s>), String> {
        let nominal = place.room.figures().and_then(|r| r.nominal_v);
        let nominal = nominal.filter(|v| *v != 0.0).ok_or("`[rail]` names no `nominal`")?;
        let mut rig = Rig::new(place, system, (drive, part), nominal.signum())?;
        let evaluate = |program: &Program| -> f64 { place.room.variant.evaluate(program) };
        let lowest_v = ask.lowest.as_ref().map_or(LOWEST_V, evaluate);
        let lines = loads::lines(place, &ask.loads);
        let unloaded_v = rig.sign * unloaded(place);
        let highest_v = ask
            .highest
            .as_ref()
            .map_or_else(|| (1.0 + ABOVE) * unloaded_v.max(nominal.abs()), evaluate);
        let levels =
            levels((highest_v, lowest_v), ask, (nominal.abs(), place.fineness), &lines, wanted);
        let (falling, failure) = rig.sweep(&levels);
        if falling.is_empty() {
            let why = failure.unwrap_or_default();
            return Err(format!("no rest with the output forced to {}: {why}", volts(highest_v)));
        }
        let back: Vec<f64> = falling.iter().rev().map(|(_, spot)| spot.output_v).collect();
        let (rising, _) = rig.sweep(&back);
        let ended = failure.map(|why| {
            let last = falling.last().map_or(highest_v, |(_, spot)| spot.output_v);
            format!("no rest with the output below {}: {why}", volts(last))
        });
        let hysteresis = difference(&falling, &rising);
        let window = window(place, nominal);
        let short = rig.spot_at(&falling, 0.0)?;
        let hottest = rig.hottest(&falling);
        let mut fates = Vec::with_capacity(lines.len());
        for line in lines {
            let down = rig.crossings(&falling, &line);
            let up = match hysteresis {
                Some(_) => rig.crossings(&rising, &line),
                None => down.clone(),
            };
            let zero = rising.iter().find(|(_, s)| s.output_v == 0.0).map(|(_, s)| *s);
            let left = zero.map_or(f64::NAN, |s| line.left_over(s.output_v, s.current_a));
            fates.push(Fate::of(line, (down, up), left, (window, (lowest_v, highest_v))));
        }
        let nominal_v = nominal.abs();
        let story =
            Self { falling, rising, hysteresis, short, hottest, fates, lowest_v, ended, nominal_v };
        Ok((story, rig))
    }

    fn figure(&self, rig: &mut Rig<'_>, wanted: &Wanted) -> Result<Figure, Absence> {
        let unknown = |why: &str| Err(Absence::Unknown(why.to_owned()));
        match wanted.name {
            "limit_current" => {
                let share = wanted.asked.share.unwrap_or(FALLEN_BY);
                Ok(Figure::plain(self.fallen(rig, share)?.current_a))
            }
            "short_current" => Ok(Figure::plain(self.short.current_a)),
            "foldback_ratio" => {
                let limit = self.fallen(rig, FALLEN_BY)?.current_a;
                if limit <= 0.0 {
                    return unknown("no current is left with the output 5 % below nominal");
                }
                Ok(Figure::plain(self.short.current_a / limit))
            }
            "pass_power_worst" => match self.hottest {
                Some(spot) => {
                    let note = format!(
                        "at an output of {}, {}",
                        volts(spot.output_v),
                        trimmed(spot.current_a, "A", DIGITS)
                    );
                    Ok(Figure { note: Some(note), ..Figure::plain(spot.pass_w) })
                }
                None => unknown("`[rail]` names no `pass`"),
            },
            "stuck_voltage" => loads::stuck(&self.fates, self.lowest_v),
            "loads_not_started" => {
                if self.fates.is_empty() {
                    return unknown(
                        "neither `loads` nor a load in `[rail]` says what to start into",
                    );
                }
                let not = self.fates.iter().filter(|f| !f.starts());
                let names: Vec<&str> = not.map(|f| f.line.words.as_str()).collect();
                let note = (!names.is_empty()).then(|| names.join(", "));
                Ok(Figure { note, ..Figure::plain(names.len() as f64) })
            }
            _ => unknown("not looked for"),
        }
    }

    /// With the output down by a share of nominal.
    fn fallen(&self, rig: &mut Rig<'_>, share: f64) -> Result<Spot, Absence> {
        rig.spot_at(&self.falling, (1.0 - share) * self.nominal_v).map_err(Absence::Unknown)
    }
}

/// The output with the load away, in V; with it where there is no rest without.
fn unloaded(place: &Place<'_>) -> f64 {
    let mut rest = place.rest.clone();
    if let Some(moved) = place.load {
        let away = if moved.dimension == Dimension::OHM { OPEN_OHM } else { 0.0 };
        let _ = rest.go(moved.drive, away);
    }
    place.output_v(rest.z())
}

/// Outputs to be forced, falling: an even grid, those that are asked for, and where loads bend.
fn levels(
    (highest_v, lowest_v): (f64, f64),
    ask: &OverloadAsk,
    (nominal_v, fineness): (f64, Fineness),
    lines: &[Line],
    wanted: &[Wanted],
) -> Vec<f64> {
    let last = fineness.points(ask.points.max(2)) - 1;
    let mut all: Vec<f64> =
        (0..=last).map(|k| highest_v + k as f64 / last as f64 * (lowest_v - highest_v)).collect();
    let shares = wanted.iter().filter_map(|w| w.asked.share).chain([FALLEN_BY]);
    all.extend(shares.map(|share| (1.0 - share) * nominal_v));
    all.push(0.0);
    for bend in lines.iter().filter_map(|line| line.law.bends_at_v()) {
        all.extend(BENDS.iter().map(|share| share * bend));
    }
    all.retain(|v| (lowest_v..=highest_v).contains(v));
    all.sort_by(|a, b| b.total_cmp(a));
    all.dedup();
    all
}

/// In words, where the way up leaves the way down, if it does.
fn difference(falling: &[(SweepPoint, Spot)], rising: &[(SweepPoint, Spot)]) -> Option<String> {
    let [down, up] = [falling, rising].map(|way| -> Vec<(f64, f64)> {
        way.iter().map(|(_, s)| (s.output_v, s.current_a)).collect()
    });
    let ends = down.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (_, a)| {
        (low.min(*a), high.max(*a))
    });
    let (by, at) = greatest_difference(&down, &up)?;
    (by > SAME_SHARE * (ends.1 - ends.0)).then(|| {
        let by = trimmed(by, "A", DIGITS);
        format!("the way up differs from the way down, most by {by} at {}", volts(at))
    })
}

/// The window of settled levels in the sense of nominal.
fn window(place: &Place<'_>, nominal: f64) -> (f64, f64) {
    let sign = nominal.signum();
    match place.room.rail.window {
        Bound::Within { low_v, high_v } => {
            let (a, b) = (sign * low_v, sign * high_v);
            (a.min(b), a.max(b))
        }
        Bound::NotGiven | Bound::Off => {
            ((1.0 - OTHERWISE) * nominal.abs(), (1.0 + OTHERWISE) * nominal.abs())
        }
    }
}

fn volts(volt: f64) -> String {
    trimmed(volt, "V", DIGITS)
}

impl<'a> Rig<'a> {
    fn new(
        place: &Place<'_>,
        system: &'a System,
        (drive, part): (usize, usize),
        sign: f64,
    ) -> Result<Self, String> {
        let rest = QuasiStatic::new(system, system.pieces(-1.0))
            .map_err(|failure| format!("no rest with the output forced: {}", failure.message))?;
        let names = place.room.figures().map_or(&[][..], |rail| &rail.pass);
        let find = |name: &String| system.parts.iter().position(|p| p.name == *name);
        Ok(Self { rest, drive, part, pass: names.iter().filter_map(find).collect(), sign })
    }

    fn spot(&self, point: &SweepPoint) -> Spot {
        let system = self.rest.system();
        let seen = system.observe(&point.z, &vec![0.0; point.z.len()]);
        let power: f64 = self.pass.iter().map(|&p| system.read(&seen, Quantity::Power(p))).sum();
        Spot {
            output_v: self.sign * point.level,
            current_a: self.sign * system.read(&seen, Quantity::Current(self.part, 0)),
            pass_w: if self.pass.is_empty() { f64::NAN } else { power },
        }
    }

    /// Rests over outputs in V, and why it ended early.
    fn sweep(&mut self, outputs_v: &[f64]) -> (Vec<(SweepPoint, Spot)>, Option<String>) {
        let levels: Vec<f64> = outputs_v.iter().map(|v| self.sign * v).collect();
        let current = self.current();
        let (points, failure) = self.rest.sweep_over(self.drive, &levels, &current);
        let spots = points.into_iter().map(|p| {
            let spot = self.spot(&p);
            (p, spot)
        });
        let mut spots: Vec<_> = spots.collect();
        spots.dedup_by(|b, a| a.0.level == b.0.level && !b.0.jumped);
        (spots, failure.map(|f| f.message))
    }

    /// The current delivered at an extended vector, in A.
    fn current(&self) -> impl Fn(&[f64]) -> f64 + use<'a> {
        let (system, part, sign) = (self.rest.system(), self.part, self.sign);
        move |z: &[f64]| {
            let seen = system.observe(z, &vec![0.0; z.len()]);
            sign * system.read(&seen, Quantity::Current(part, 0))
        }
    }

    /// The forced output at an extended vector, in V as the drive has it.
    fn output_of(&self) -> impl Fn(&[f64]) -> f64 + use<'a> {
        let pins = self.rest.system().parts[self.part].pins.clone();
        move |z: &[f64]| match pins.as_slice() {
            &[plus, minus] => z[plus] - z[minus],
            _ => f64::NAN,
        }
    }

    /// At an output that was not forced before: from the neighbour above it.
    fn spot_at(&mut self, falling: &[(SweepPoint, Spot)], output_v: f64) -> Result<Spot, String> {
        if let Some((_, spot)) = falling.iter().find(|(_, s)| s.output_v == output_v) {
            return Ok(*spot);
        }
        let missing = || format!("no rest with the output at {}", volts(output_v));
        let above = falling.iter().rfind(|(_, s)| s.output_v > output_v).ok_or_else(missing)?;
        self.rest.put(self.drive, &above.0);
        self.rest.go(self.drive, self.sign * output_v).map_err(|_| missing())?;
        Ok(self.spot(&self.rest.here(self.drive)))
    }

    /// Where the pass devices absorb most, between 0 V and the top: golden sections around the
    /// greatest.
    fn hottest(&mut self, falling: &[(SweepPoint, Spot)]) -> Option<Spot> {
        let inside: Vec<&(SweepPoint, Spot)> =
            falling.iter().filter(|(_, s)| s.output_v >= 0.0 && s.pass_w.is_finite()).collect();
        let top =
            (0..inside.len()).max_by(|a, b| inside[*a].1.pass_w.total_cmp(&inside[*b].1.pass_w))?;
        let mut best = inside[top].1;
        let start = inside[top.saturating_sub(1)];
        let end = inside[(top + 1).min(inside.len() - 1)];
        let (mut a, mut b) = (end.1.output_v, start.1.output_v);
        let golden = 0.5 * (5.0_f64.sqrt() - 1.0);
        let mut probe = |rig: &mut Self, v: f64| {
            let spot = rig.spot_at(falling, v).ok();
            if let Some(spot) = spot.filter(|s| s.pass_w > best.pass_w) {
                best = spot;
            }
            spot.map_or(f64::NEG_INFINITY, |s| s.pass_w)
        };
        let (mut low, mut high) = (b - golden * (b - a), a + golden * (b - a));
        let (mut at_low, mut at_high) = (probe(self, low), probe(self, high));
        for _ in 0..SECTIONS {
            if at_low > at_high {
                (b, high, at_high) = (high, low, at_low);
                low = b - golden * (b - a);
                at_low = probe(self, low);
            } else {
                (a, low, at_low) = (low, high, at_high);
                high = a + golden * (b - a);
                at_high = probe(self, high);
            }
        }
        Some(best)
    }
}
