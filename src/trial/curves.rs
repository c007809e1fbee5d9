//! The rail's signals over a record: values at its points, and the cubics between them.

// Measured: a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::observe::{Column, Observer, Reading};
use super::reads::Reads;
use crate::analysis::{Record, Stepper, Stretch};
use crate::numeric::{Field, LANES, Lanes};
use crate::system::{Points, Reader, System};
use crate::waveform::{Signal, Waveform};
use std::array;

/// Where between two points of a record an observed quantity is read, to bend its curve.
const INSIDE: [f64; 2] = [1.0 / 3.0, 2.0 / 3.0];
/// The places of a stretch that are looked at together: those inside are the middle ones.
const ALONG: Lanes = Lanes([0.0, INSIDE[0], INSIDE[1], 1.0]);

/// A look at some of what can be read off a record, with what it takes.
pub(super) struct Look<'a> {
    system: &'a System,
    readings: Vec<Reading>,
    /// Whether rates are those of the curves, where not a single point is known yet.
    by_slopes: bool,
    reader: Reader,
    /// The sums that go with the unknowns alone, with what is added to each, and those that go with
    /// more.
    plain: Vec<(usize, f64)>,
    sums: Vec<usize>,
}

impl<'a> Observer<'a> {
    /// A look at the rail's signals, under the names that measurements read.
    pub(super) fn look_at_rail(&self) -> Look<'a> {
        self.look_at(self.rail_readings())
    }

    /// The columns that show what steers the pass device, at every point of the record.
    pub(super) fn steering(
        &self,
        record: &Record,
        stepper: &mut Stepper,
    ) -> (Vec<f64>, Vec<Column>) {
        let mut look = self.look_at(self.steering_readings());
        let Waveform { time_s, signals } = look.waveform(record, stepper);
        let column = |Signal { name, unit, values, .. }| Column { name, unit, values };
        (time_s, signals.into_iter().map(column).collect())
    }

    fn look_at(&self, readings: Vec<Reading>) -> Look<'a> {
        let reader = Reader::new(self.system, readings.iter().map(|r| r.sum.as_slice()));
        let all = readings.iter().enumerate();
        let (plain, sums): (Vec<_>, Vec<_>) =
            all.map(|(k, r)| (k, r.offset)).partition(|(k, _)| reader.is_of_unknowns(*k));
        // Only temperatures have an offset, and they are unknowns.
        let sums = sums.into_iter().map(|(k, _)| k).collect();
        let by_slopes = matches!(self.reads, Reads::Slopes | Reads::Shown);
        Look { system: self.system, readings, by_slopes, reader, plain, sums }
    }
}

impl Look<'_> {
    /// What is looked at, over a record.
    pub(super) fn waveform(&mut self, record: &Record, stepper: &mut Stepper) -> Waveform {
        let points = record.len();
        let blank = |reading: &Reading| Signal {
            name: reading.name.clone(),
            unit: reading.unit,
            values: vec![0.0; points],
            bends: vec![[0.0; 2]; points.saturating_sub(1)],
        };
        let mut signals: Vec<Signal> = self.readings.iter().map(blank).collect();
        self.curves_of_unknowns(record, &mut signals);
        if !self.sums.is_empty() {
            for k in 0..points {
                let is_beside_a_curve = rises(record, k) || k > 0 && rises(record, k - 1);
                if !(self.by_slopes && is_beside_a_curve) {
                    self.by_the_equations((record, stepper), k, &[0.0]);
                    self.keep_value(k, &mut signals);
                }
            }
            for k in (0..points).filter(|&k| rises(record, k)) {
                self.look_inside((record, stepper), k);
                // A point belongs to the stretch before, if there is one.
                let has_start = k == 0 || !rises(record, k - 1);
                self.keep_stretch(k, (self.by_slopes && has_start, self.by_slopes), &mut signals);
            }
        }
        Waveform { time_s: record.times_s().to_vec(), signals }
    }

    /// The same over a record that has got further points, none of them its last, since `known` was read off
    /// it: only these and the stretches beside them are looked at.
    pub(super) fn waveform_again(
        &mut self,
        record: &Record,
        stepper: &mut Stepper,
        known: Waveform,
    ) -> Waveform {
        let Waveform { mut time_s, mut signals } = known;
        let fresh = fresh_places(record.times_s(), &time_s);
        for signal in &mut signals {
            make_room(&mut signal.values, &fresh, 0.0);
            make_room(&mut signal.bends, &fresh, [0.0; 2]);
        }
        for &k in &fresh {
            self.value_of_unknowns(record, k, &mut signals);
            if !self.sums.is_empty() {
                self.by_the_equations((record, stepper), k, &[0.0]);
                self.keep_value(k, &mut signals);
            }
        }
        let mut beside: Vec<usize> = fresh.iter().flat_map(|&k| [k.saturating_sub(1), k]).collect();
        beside.dedup();
        for k in beside.into_iter().filter(|&k| rises(record, k)) {
            self.bend_of_unknowns(record, k, &mut signals);
            if !self.sums.is_empty() {
                self.look_inside((record, stepper), k);
                self.keep_stretch(k, (false, false), &mut signals);
            }
        }
        time_s.clear();
        time_s.extend_from_slice(record.times_s());
        Waveform { time_s, signals }
    }

    /// Sums of unknowns are curves of the integrator's own.
    fn curves_of_unknowns(&self, record: &Record, signals: &mut [Signal]) {
        for &(sum, offset) in &self.plain {
            let Signal { values, bends, .. } = &mut signals[sum];
            for (factor, [plus, minus]) in self.reader.of_unknowns(sum) {
                for (value, x) in values.iter_mut().zip(record.all_values()) {
                    *value += factor * (x[plus] - x[minus]);
                }
                for (bend, b) in bends.iter_mut().zip(record.all_bends()) {
                    bend[0] += factor * (b[plus][0] - b[minus][0]);
                    bend[1] += factor * (b[plus][1] - b[minus][1]);
                }
            }
            if offset != 0.0 {
                values.iter_mut().for_each(|value| *value += offset);
            }
            for (bend, ends) in bends.iter_mut().zip(record.times_s().windows(2)) {
                if ends[0] == ends[1] {
                    *bend = [0.0; 2];
                }
            }
        }
    }

    /// The values of sums of unknowns at point `k`.
    fn value_of_unknowns(&self, record: &Record, k: usize, signals: &mut [Signal]) {
        for &(sum, offset) in &self.plain {
            let mut value = 0.0;
            for (factor, [plus, minus]) in self.reader.of_unknowns(sum) {
                value += factor * (record.value(k, plus) - record.value(k, minus));
            }
            signals[sum].values[k] = if offset == 0.0 { value } else { value + offset };
        }
    }

    /// The bends of the stretch after point `k`, of sums of unknowns.
    fn bend_of_unknowns(&self, record: &Record, k: usize, signals: &mut [Signal]) {
        for &(sum, _) in &self.plain {
            let mut bend = [0.0; 2];
            for (factor, [plus, minus]) in self.reader.of_unknowns(sum) {
                let (above, below) = (record.bends(k, plus), record.bends(k, minus));
                bend[0] += factor * (above[0] - below[0]);
                bend[1] += factor * (above[1] - below[1]);
            }
            signals[sum].bends[k] = bend;
        }
    }

    /// What was looked at last are the values at point `k`.
    fn keep_value(&self, k: usize, signals: &mut [Signal]) {
        for &sum in &self.sums {
            signals[sum].values[k] = self.reader.read(sum).0[0];
        }
    }

    /// Bends the stretch after point `k` through the two values inside it that were looked at last, and keeps
    /// the values at its start and end where these were looked at as well and are to be kept.
    fn keep_stretch(&self, k: usize, (has_start, has_end): (bool, bool), signals: &mut [Signal]) {
        for &sum in &self.sums {
            let Lanes([start, first, second, end]) = self.reader.read(sum);
            let Signal { values, bends, .. } = &mut signals[sum];
            if has_start {
                values[k] = start;
            }
            if has_end {
                values[k + 1] = end;
            }
            bends[k] = bend(values[k], values[k + 1], [first, second]);
        }
    }

    /// Looks at two places inside the stretch after point `k`; by slopes, at its ends too.
    fn look_inside(&mut self, (record, stepper): (&Record, &mut Stepper), k: usize) {
        if self.by_slopes {
            self.along_the_curve(record, k);
        } else {
            self.by_the_equations((record, stepper), k, &INSIDE);
        }
    }

    /// Looks along the stretch after point `k`, rates by the curve there.
    fn along_the_curve(&mut self, record: &Record, k: usize) {
        let times = record.times_s();
        let length_s = Lanes::splat(times[k + 1] - times[k]);
        let at = (record.pieces_after(k), Lanes::splat(times[k]) + ALONG * length_s);
        self.reader.look(self.system, at, Along { stretch: record.stretch(k), length_s });
    }

    /// Looks at shares of the way from point `k` to the next, rates as the equations have them there: at one
    /// alone, or at two where those along a curve lie that are inside.
    fn by_the_equations(
        &mut self,
        (record, stepper): (&Record, &mut Stepper),
        k: usize,
        shares: &[f64],
    ) {
        let times = record.times_s();
        let mut pieces = record.point(k).pieces;
        let mut times_s = Vec::with_capacity(shares.len());
        let mut solved = Solved(Vec::with_capacity(shares.len()));
        for &theta in shares {
            let mut x = record.point(k).x.to_vec();
            let mut t = times[k];
            if theta > 0.0 {
                record.between(k, theta, &mut x);
                pieces = record.pieces_after(k);
                t += theta * (times[k + 1] - t);
            }
            let rates = if self.reader.needs_rates() {
                stepper.rates(self.system, pieces, t, &x)
            } else {
                vec![0.0; x.len()]
            };
            times_s.push(t);
            solved.0.push((x, rates));
        }
        self.reader.look(self.system, (pieces, spread_out(&times_s, |t| *t)), solved);
    }
}

/// Places along a stretch of a record.
struct Along<'a> {
    stretch: Stretch<'a>,
    length_s: Lanes,
}

impl Points for Along<'_> {
    #[inline(always)]
    fn value(&self, unknown: usize) -> Lanes {
        self.stretch.inside(ALONG, unknown)
    }

    #[inline(always)]
    fn rate(&self, unknown: usize) -> Lanes {
        self.stretch.slope(ALONG, unknown) / self.length_s
    }
}

/// Values and rates of all unknowns at one place or two.
struct Solved(Vec<(Vec<f64>, Vec<f64>)>);

impl Points for Solved {
    fn value(&self, unknown: usize) -> Lanes {
        spread_out(&self.0, |(values, _)| values[unknown])
    }

    fn rate(&self, unknown: usize) -> Lanes {
        spread_out(&self.0, |(_, rates)| rates[unknown])
    }
}

/// One number of each place, over all there is room for: of two, the middle ones are the first and second.
fn spread_out<T>(places: &[T], of: impl Fn(&T) -> f64) -> Lanes {
    Lanes(array::from_fn(|lane| of(&places[lane * places.len() / LANES])))
}

/// Whether time goes on from point `k` to the next, if there is one.
fn rises(record: &Record, k: usize) -> bool {
    let times = record.times_s();
    times.get(k + 1).is_some_and(|next| *next > times[k])
}

/// Moves values apart so that there is room for fresh ones at these places, rising, of the longer list.
fn make_room<T: Copy>(values: &mut Vec<T>, fresh: &[usize], blank: T) {
    let mut end = values.len();
    values.resize(end + fresh.len(), blank);
    for (before, &place) in fresh.iter().enumerate().rev() {
        values.copy_within(place - before..end, place + 1);
        values[place] = blank;
        end = place - before;
    }
}

/// Places among `times` of those that are not among the `known` ones, which are some of them in the
/// same order.
fn fresh_places(times: &[f64], known: &[f64]) -> Vec<usize> {
    let mut known = known.iter().peekable();
    let is_fresh = |t: &f64| known.next_if(|next| *next == t).is_none();
    let fresh = times.iter().map(is_fresh).enumerate();
    fresh.filter_map(|(k, fresh)| fresh.then_some(k)).collect()
}

/// The two bends of the cubic through both ends and two inner values at [`INSIDE`].
fn bend(v0: f64, v1: f64, inner: [f64; 2]) -> [f64; 2] {
    let rest = |k: usize| {
        let theta = INSIDE[k];
        (inner[k] - (1.0 - theta) * v0 - theta * v1) / (theta * (1.0 - theta))
    };
    let slope = (rest(1) - rest(0)) / (INSIDE[1] - INSIDE[0]);
    [rest(0) - slope * INSIDE[0], slope]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fresh_times_are_told_from_known_ones_and_jumps_keep_their_sides() {
        assert_eq!(fresh_places(&[0.0, 0.5, 1.0, 1.0, 2.0], &[0.0, 1.0, 1.0, 2.0]), [1]);
        assert_eq!(fresh_places(&[0.0, 1.0], &[]), [0, 1]);
    }

    #[test]
    fn room_is_made_where_fresh_ones_go() {
        let mut values = vec![1, 2, 3, 4];
        make_room(&mut values, &[1, 3, 4], 0);
        assert_eq!(values, [1, 0, 2, 0, 0, 3, 4]);
    }

    #[test]
    fn exact_two_inner_values_give_back_the_cubic() {
        let (v0, v1, b) = (1.0, -2.0, [0.7, 3.0]);
        let cubic = |t: f64| (1.0 - t) * v0 + t * (v1 + (1.0 - t) * (b[0] + t * b[1]));
        let found = bend(v0, v1, INSIDE.map(cubic));
        assert!((found[0] - b[0]).abs() < 1e-13 && (found[1] - b[1]).abs() < 1e-13);
    }
}
