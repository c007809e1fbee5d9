//! The search for the lowest or highest of many values, with ties told from true extremes.

use super::beyond::Beyond;
use super::segment::Segment;
use super::{Extreme, Instant, Relation, Side, Signal, Waveform, Window};

/// A search for an extreme through values in time order. Of the lowest it is that of the highest
/// upside down.
struct Search {
    /// The earliest instant that ties with the extreme so far.
    earliest: Option<Instant>,
    /// Beyond the extreme so far.
    farther: Beyond,
    /// Beyond the earliest instant by more than a tie.
    clear: Beyond,
}

impl Search {
    fn new(which: Extreme) -> Self {
        let all = match which {
            Extreme::Lowest => Beyond::new(Relation::Below, f64::INFINITY),
            Extreme::Highest => Beyond::new(Relation::Above, f64::NEG_INFINITY),
        };
        Self { earliest: None, farther: all, clear: all }
    }

    /// Passes over what is clearly less extreme than some values that are yet to be looked at.
    fn pass_over_less_than(&mut self, values: &[f64]) {
        let highest = highest(self.farther.sign, values);
        if highest.is_finite() {
            let floor = highest - CLEARLY * highest.abs() - f64::MIN_POSITIVE;
            (self.farther.height, self.clear.height) = (floor, floor);
        }
    }

    /// The extreme, and the earliest time that ties with it.
    fn found(&self) -> Option<Instant> {
        let Beyond { sign, height } = self.farther;
        self.earliest.map(|earliest| Instant { value: sign * height, ..earliest })
    }

    #[inline]
    fn look(&mut self, time_s: f64, value: f64) {
        let height = self.farther.sign * value;
        // Nearly always not; nor where it is not a number.
        if height > self.farther.height && height < f64::INFINITY {
            self.farther.height = height;
            if height > self.clear.height {
                self.earliest = Some(Instant { time_s, value });
                self.clear.height = height + TIE_ROUNDINGS * f64::EPSILON * height.abs();
            }
        }
    }

    /// Looks at a segment, as far as a window reaches into it. Where it is whole inside, its ends are samples,
    /// which are looked at anyway.
    fn look_inside(&mut self, segment: &Segment, window: Window, is_whole: bool) {
        // A tie later than what was found changes at most the last digit: not worth the roots.
        if is_whole && !self.clear.may_be_in(segment) {
            return;
        }
        let (from, to) = (segment.place(window.from_s), segment.place(window.to_s));
        if segment.is_jump() || from >= to {
            return;
        }
        self.look(segment.time(from), segment.value(from));
        if self.clear.may_be_in(segment) {
            for turn in segment.turns(from, to).into_iter().flatten() {
                self.look(segment.time(turn), segment.value(turn));
            }
        }
        self.look(segment.time(to), segment.value(to));
    }
}

/// Values closer than this many roundings tie: a cubic's extreme carries a few of them.
const TIE_ROUNDINGS: f64 = 4.0;
/// What is less extreme by this share is no tie, nor is it joined to one by many that tie in turn.
const CLEARLY: f64 = 1e-9;

/// The highest of values times a sign that are numbers.
fn highest(sign: f64, values: &[f64]) -> f64 {
    let higher = |a: f64, b: f64| if a > b { a } else { b };
    let (eights, rest) = values.as_chunks::<8>();
    // Eight at a time without a branch, so that several are compared at once.
    let mut each = [f64::NEG_INFINITY; 8];
    for eight in eights {
        for (most, value) in each.iter_mut().zip(eight) {
            *most = higher(sign * value, *most);
        }
    }
    let rest = rest.iter().map(|value| sign * value);
    each.into_iter().chain(rest).fold(f64::NEG_INFINITY, |most, value| higher(value, most))
}

impl Waveform {
    /// The lowest or highest value in a window and its time: exact on the curves, both sides of
    /// jumps counted, the earliest instant where several tie within rounding.
    pub fn extreme(&self, signal: &Signal, window: Window, which: Extreme) -> Option<Instant> {
        let mut search = Search::new(which);
        self.visit(signal, window, &mut search);
        search.found()
    }

    /// Shows a search every value that can be the window's extreme, in time order.
    fn visit(&self, signal: &Signal, window: Window, search: &mut Search) {
        let (Some(record), Some(window)) = (self.record(), self.clip(window)) else { return };
        if window.length_s() <= 0.0 {
            for side in [Side::Before, Side::After] {
                if let Some(value) = self.at(signal, window.from_s, side) {
                    search.look(window.from_s, value);
                }
            }
            return;
        }
        let strictly_inside = |t: f64| t > window.from_s && t < window.to_s;
        let at_an_end = |t: f64| {
            (t == window.from_s && t == record.from_s) || (t == window.to_s && t == record.to_s)
        };
        let times = &self.time_s[..self.samples(signal)];
        // Of segments wholly inside the ends are samples; the others are cut by an end of the window.
        let first = times.partition_point(|t| *t < window.from_s).saturating_sub(1);
        let end = times.partition_point(|t| *t <= window.to_s);
        let whole_from = times.partition_point(|t| *t <= window.from_s);
        let inside_to = times.partition_point(|t| *t < window.to_s);
        let whole_to = inside_to.saturating_sub(1);
        search.pass_over_less_than(signal.values.get(whole_from..inside_to).unwrap_or_default());
        let mut k = first;
        while k < end {
            if k >= whole_from && k < whole_to {
                k += search.farther.nothing_in(&signal.values[k..=whole_to], signal.bends_from(k));
            }
            if strictly_inside(times[k]) || at_an_end(times[k]) {
                search.look(times[k], signal.values[k]);
            }
            if let Some(segment) = self.segment(signal, k) {
                let is_whole = k >= whole_from && k < whole_to;
                search.look_inside(&segment, window, is_whole);
            }
            k += 1;
        }
    }
}
