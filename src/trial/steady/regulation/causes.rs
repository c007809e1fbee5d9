//! Which cause gives how much of a load or line regulation: the reference moved, the loop gain is
//! finite, or something acts where the loop does not look.
//!
//! For small changes this is an identity of the return ratio (H. W. Bode, Network Analysis and
//! Feedback Amplifier Design, 1945; the asymptotic form after S. Rosenstark, IEEE Trans. Circuits
//! Syst. 21 (1974), both from memory). With the wire at `rail.feedback` probed, u the voltage at the
//! terminal and x what is moved,
//!
//!   v(exit) = a·u + b·x,   v(out) = c·u + d·x,   T = −a;
//!
//! all voltages against the rail's ground. Closed, u = v(exit), so v(out)/x = d + c·b/(1 + T). A
//! change r·x of the amplifier's other input acts like −r·x at the terminal. With that input held,
//! b' = b + a·r and d' = d + c·r, and then
//!
//!   v(out)/x = −r·c/(1 + T)  +  d'/(1 + T)  +  (d' − c·b'/a)·T/(1 + T),
//!
//! the reference, the finite loop gain, and what even an endless gain would leave. The three are
//! summed along the sweep by Simpson's rule; intervals are halved until the sum agrees with the
//! solved outputs.
//!
//! a, b, c and d follow from two solutions of the closed loop: a voltage in series with the wire,
//! with the source moved along so that the input pin stays, and a unit of x. So the regulator is
//! looked at between its pin and its output, and what the pin does as x is moved belongs to x. The current of the terminal keeps flowing through the wire meanwhile; where there is
//! none (the sense of an amplifier) T is the loop gain, else its voltage part.

use super::Track;
use crate::analysis::small_signal::{Phasor, SmallSignal, Wire};
use crate::analysis::{Failure, SweepPoint};
use crate::curve::{Cell, Listing};
use crate::numeric::Singular;
use crate::quantity::trimmed;
use crate::trial::steady::Found;
use crate::trial::steady::place::{Place, unit_of};
use nalgebra::Complex;

/// An interval is halved until its sum is this close to the solved change, as a share of the whole.
const CLOSE_SHARE: f64 = 1e-6;
/// and at most this often: a sweep into dropout has a corner that no halving smooths.
const DEEPEST: usize = 12;
/// V below which a sum is as close as Newton's iteration leaves the outputs.
const CLOSE_V: f64 = 1e-9;
/// What the elimination's rounding leaves where there is nothing, in V.
const NOTHING_V: f64 = 1e-12;
/// A cause below this share of the whole is what rounding and the sum along the sweep leave.
const NOTHING_SHARE: f64 = 1e-6;
/// Digits of levels and dB in words.
const DIGITS: usize = 4;

/// What is explained.
pub(super) struct Story {
    /// 1 where a rising output counts positive.
    pub(super) sign: f64,
    /// Whether the load is moved, not the source.
    pub(super) is_load: bool,
    pub(super) track: Track,
}

/// The response of the closed loop to a unit of x, in its parts.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Shares {
    closed: f64,
    reference: f64,
    gain: f64,
    outside: f64,
    loop_gain: f64,
}

impl Shares {
    fn plus(self, factor: f64, other: Self) -> Self {
        Self {
            closed: self.closed + factor * other.closed,
            reference: self.reference + factor * other.reference,
            gain: self.gain + factor * other.gain,
            outside: self.outside + factor * other.outside,
            loop_gain: self.loop_gain,
        }
    }

    /// From what both solutions of the closed loop give at the terminal, at its wire's other end and
    /// at the output: `[u, v(exit), v(out)]` under the series voltage, `[u, v(out)]` under x; and r.
    fn of([u1, exit1, out1]: [f64; 3], [u2, out2]: [f64; 2], r: f64) -> Self {
        let (a, c) = (exit1 / u1, out1 / u1);
        let closed_by = 1.0 - a;
        let (b, d) = (u2 * closed_by, out2 - c * u2);
        let (b, d) = (b + a * r, d + c * r);
        // (d − c·b/a)·T/(1 + T) without the division, so that a loop without gain has a share of 0.
        let outside = (c * b - a * d) / closed_by;
        Self {
            closed: out2,
            reference: -r * c / closed_by,
            gain: d / closed_by,
            outside,
            loop_gain: -a,
        }
    }
}

/// One rest of the sweep with the response there.
struct Station {
    level: f64,
    output_v: f64,
    shares: Shares,
}

struct Prober<'p, 'a> {
    place: &'p mut Place<'a>,
    small: SmallSignal<'a>,
    wire: Wire,
    /// The unknown of the amplifier's other input, where the wire is at one of the two.
    other_input: Option<usize>,
    track: Track,
    close_v: f64,
    whole: f64,
}

/// Adds the listing `causes`, or a note why there is none.
pub(super) fn tell(place: &mut Place<'_>, story: &Story, points: &[SweepPoint], found: &mut Found) {
    let feedback = place.room.figures().and_then(|r| r.feedback.clone());
    let (Some(wire), Some(feedback)) = (place.wire, feedback) else {
        found.notes.push(
            "which cause gives how much is not told: `[rail]` names no `feedback`".to_owned(),
        );
        return;
    };
    let [first, .., last] = points else { return };
    let whole = place.output_v(&last.z) - place.output_v(&first.z);
    let other_input = other_input(place, &feedback);
    let mut prober = Prober {
        small: place.small_signal(),
        wire,
        other_input: other_input.as_ref().map(|(unknown, _)| *unknown),
        track: story.track,
        close_v: CLOSE_V.max(CLOSE_SHARE * whole.abs()),
        whole: last.level - first.level,
        place,
    };
    match prober.sum(points) {
        Err(why) => {
            let condition = &place.condition;
            found.notes.push(format!("{condition}: which cause gives how much is not told: {why}"));
        }
        Ok((sum, gains)) => {
            let other = other_input.map(|(_, name)| name);
            let rows = Rows { whole, sum, gains, feedback, other };
            found.listings.push(rows.listing(place, story, [first.level, last.level]));
        }
    }
}

/// The amplifier's input that the wire is not at: its unknown, and its name.
fn other_input(place: &Place<'_>, feedback: &str) -> Option<(usize, String)> {
    let (part, terminal) = feedback.rsplit_once('.')?;
    let part = place.room.variant.part(part)?;
    let other = match (part.kind.name, terminal) {
        ("error-amplifier", "sense") => "reference",
        ("error-amplifier", "reference") => "sense",
        ("operational-amplifier" | "transconductor", "minus") => "plus",
        ("operational-amplifier" | "transconductor", "plus") => "minus",
        _ => return None,
    };
    let at = part.terminals.iter().position(|t| *t == other)?;
    let pins = &place.system.parts.iter().find(|p| p.name == part.name)?.pins;
    Some((*pins.get(at)?, format!("{}.{other} ({})", part.name, part.nodes.get(at)?)))
}

impl Prober<'_, '_> {
    /// The shares summed over the whole sweep, and T at both ends.
    fn sum(&mut self, points: &[SweepPoint]) -> Result<(Shares, [f64; 2]), String> {
        let [first, ..] = points else { return Err("nothing was swept".to_owned()) };
        let mut before = self.look(first)?;
        let mut gains = [before.shares.loop_gain; 2];
        let mut sum = Shares::default();
        for point in &points[1..] {
            let after = self.look(point)?;
            if after.level != before.level {
                sum = sum.plus(1.0, self.between(&before, &after, 0)?);
            }
            gains[1] = after.shares.loop_gain;
            before = after;
        }
        Ok((sum, gains))
    }

    fn look(&mut self, point: &SweepPoint) -> Result<Station, String> {
        let shares = self.respond(&point.z).map_err(|at| {
            let failure = self.small.failure(0.0, at);
            failure.message
        })?;
        Ok(Station { level: point.level, output_v: self.place.output_v(&point.z), shares })
    }

    /// The sum over one interval: Simpson's rule, halved where it disagrees with the outputs.
    fn between(&mut self, a: &Station, b: &Station, depth: usize) -> Result<Shares, String> {
        let failed = |failure: Failure| failure.message;
        let level = 0.5 * (a.level + b.level);
        self.track.go(&mut self.place.rest, level).map_err(failed)?;
        let middle = self.place.rest.here(self.track.moved.drive);
        let middle = self.look(&middle)?;
        let width = b.level - a.level;
        let sum = Shares::default()
            .plus(width / 6.0, a.shares)
            .plus(width * 4.0 / 6.0, middle.shares)
            .plus(width / 6.0, b.shares);
        let share = (width / self.whole).abs();
        let off = (sum.closed - (b.output_v - a.output_v)).abs();
        if depth >= DEEPEST || off <= (self.close_v * share).max(CLOSE_V * share) {
            return Ok(sum);
        }
        let [first, second] =
            [self.between(a, &middle, depth + 1)?, self.between(&middle, b, depth + 1)?];
        Ok(first.plus(1.0, second))
    }

    /// The response at a rest.
    fn respond(&mut self, z: &[f64]) -> Result<Shares, Singular> {
        let small = &mut self.small;
        small.move_to(z);
        small.set(Complex::new(0.0, 0.0))?;
        self.place.factorisations += 1;
        let mut by_voltage = small.zeros();
        by_voltage[self.wire.current] = Complex::new(1.0, 0.0);
        small.solve(&mut by_voltage)?;
        let mut by_x = small.respond_to_drive(self.track.moved.drive)?;
        let [u1, exit1] = [self.wire.entry, self.wire.exit].map(|node| by_voltage[node]);
        let loop_gain = -(exit1 / u1).re;
        if let Some((source, input)) = self.place.source.zip(self.place.input) {
            let by_source = small.respond_to_drive(source.drive)?;
            let pin = |x: &[Phasor]| x[input] - x[self.place.ground];
            let hold = |x: &mut [Phasor]| {
                let along = -pin(x) / pin(&by_source);
                if along.is_finite() {
                    x.iter_mut().zip(&by_source).for_each(|(x, source)| *x += along * source);
                }
            };
            hold(&mut by_voltage);
            if self.track.pin.is_some() {
                hold(&mut by_x);
            }
        }
        let at = |x: &[Phasor], node: usize| (x[node] - x[self.place.ground]).re;
        let (wire, output) = (self.wire, self.place.output);
        let first = [wire.entry, wire.exit, output].map(|node| at(&by_voltage, node));
        let second = [wire.entry, output].map(|node| at(&by_x, node));
        let r = self.other_input.map_or(0.0, |node| at(&by_x, node));
        Ok(Shares { loop_gain, ..Shares::of(first, second, r) })
    }
}

/// What the listing is made of.
struct Rows {
    whole: f64,
    sum: Shares,
    gains: [f64; 2],
    feedback: String,
    other: Option<String>,
}

impl Rows {
    fn listing(&self, place: &Place<'_>, story: &Story, [from, to]: [f64; 2]) -> Listing {
        let unit = unit_of(story.track.moved.dimension);
        let [from, to] = [from, to].map(|level| trimmed(level, unit, DIGITS));
        let way = match (story.is_load, story.track.pin) {
            (true, Some(_)) => "load, input pin held",
            (true, None) => "load, source held",
            (false, _) => "source",
        };
        let counted = if story.is_load { "fall" } else { "rise" };
        let title = format!(
            "causes of the {counted} of the output from {from} to {to} of {way}; constant \
             temperature, as in a pulsed measurement"
        );
        let columns =
            [("condition", ""), ("cause", ""), ("where", ""), ("volt", "V"), ("share", "1")];
        let mut listing = Listing::new("causes", title, &columns);
        let mut add = |cause: &str, at: &str, volt: f64| {
            let nothing = NOTHING_V.max(NOTHING_SHARE * self.whole.abs());
            let volt = if volt.abs() < nothing { 0.0 } else { volt };
            let share = Some(volt / self.whole).filter(|share| share.is_finite());
            listing.push([
                Cell::from(place.condition.as_str()),
                Cell::from(cause),
                Cell::from(at),
                // Adding 0 takes the sign from a zero.
                Cell::from(story.sign * volt + 0.0),
                Cell::from(share.map(|share| share + 0.0)),
            ]);
        };
        let [first, last] = self.gains.map(|gain| 20.0 * gain.abs().log10());
        let decibel = |gain: f64| trimmed(gain, "dB", DIGITS);
        let loop_words =
            format!("{}, loop gain {} to {}", self.feedback, decibel(first), decibel(last));
        let (outside, beyond) = if story.is_load {
            ("resistance outside the loop", "between the sensed point and the output")
        } else {
            ("direct path into the loop", "where no gain of the loop counters it")
        };
        if let Some(other) = &self.other {
            add("reference moved", other, self.sum.reference);
        }
        add("finite loop gain", &loop_words, self.sum.gain);
        add(outside, beyond, self.sum.outside);
        add("remainder of the sum", "", self.whole - self.sum.closed);
        listing
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A source r0·x behind the loop's own output, a divider h, a resistance r1 between the sensed
    /// point and the output, gain g: v(s) = g·(ref − u) − r0·x, u = h·v(s), v(out) = v(s) − r1·x.
    #[test]
    fn exact_the_causes_of_an_ideal_regulator_are_its_parts() {
        let (g, h, r0, r1, r) = (400.0, 0.4, 5.0, 0.03, 2e-4);
        let t = g * h;
        // Closed: u = h·(g·r − r0)/(1 + t)·x; under a series voltage v(exit) = −t·u.
        let u = h * (g * r - r0) / (1.0 + t);
        let sensed = (g * r - r0) / (1.0 + t);
        let shares = Shares::of([1.0, -t, -g], [u, sensed - r1], r);
        let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-14 * b.abs().max(1.0), "{a} {b}");
        close(shares.loop_gain, t);
        close(shares.reference, g * r / (1.0 + t));
        // Without any gain both resistances stand in series; with endless gain r1 alone.
        close(shares.gain, -(r0 + r1) / (1.0 + t));
        close(shares.outside, -r1 * t / (1.0 + t));
        close(shares.reference + shares.gain + shares.outside, shares.closed);
    }

    #[test]
    fn exact_the_three_causes_add_up_to_the_closed_response() {
        let cases = [
            ([1e-5, -0.99999, -2.3], [3e-4, -1e-3], 2e-5),
            ([0.7, -0.3, 0.1], [0.2, 5.0], -0.4),
            ([-3.0, -4.0, 1e3], [1e-9, 1.0], 0.0),
            ([1.0, 0.0, 0.0], [0.5, 2.0], 0.1),
        ];
        for (by_voltage, by_x, r) in cases {
            let shares = Shares::of(by_voltage, by_x, r);
            let sum = shares.reference + shares.gain + shares.outside;
            // Some ten roundings of the greatest terms on the way: c·u, v(out) and c·r.
            let c = by_voltage[2] / by_voltage[0];
            let scale = (c * by_x[0]).abs() + by_x[1].abs() + (c * r).abs();
            assert!((sum - shares.closed).abs() <= 2e-15 * scale, "{shares:?}");
        }
    }
}
