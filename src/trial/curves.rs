//! The rail's signals over a record: values at its points, and the cubics between them.

use super::observe::{Column, Observer, Reading};
use super::reads::Reads;
use crate::analysis::{Record, Stepper};
use crate::system::{Reader, System};
use crate::waveform::{Signal, Waveform};

/// Where between two points of a record an observed quantity is read, to bend its curve.
const INSIDE: [f64; 2] = [1.0 / 3.0, 2.0 / 3.0];

/// A record on which something is looked at.
struct Look<'a> {
    system: &'a System,
    record: &'a Record,
    /// Whether rates are those of the curves, where not a single point is known yet.
    by_slopes: bool,
    reader: Reader,
    /// The sums that go with the unknowns alone, with what is added to each, and those that go with
    /// more.
    plain: Vec<(usize, f64)>,
    sums: Vec<usize>,
}

impl Observer<'_> {
    /// The rail's signals over a record, under the names that measurements read.
    pub fn waveform(&self, record: &Record, stepper: &mut Stepper) -> Waveform {
        self.curves(self.rail_readings(), record, stepper)
    }

    /// The columns that show what steers the pass device, at every point of the record.
    pub(super) fn steering(
        &self,
        record: &Record,
        stepper: &mut Stepper,
    ) -> (Vec<f64>, Vec<Column>) {
        let Waveform { time_s, signals } = self.curves(self.steering_readings(), record, stepper);
        let column = |Signal { name, unit, values, .. }| Column { name, unit, values };
        (time_s, signals.into_iter().map(column).collect())
    }

    fn curves(&self, readings: Vec<Reading>, record: &Record, stepper: &mut Stepper) -> Waveform {
        let mut look = self.look_at(record, &readings);
        let points = record.len();
        let blank = |reading: Reading| Signal {
            name: reading.name,
            unit: reading.unit,
            values: vec![0.0; points],
            bends: vec![[0.0; 2]; points.saturating_sub(1)],
        };
        let mut signals: Vec<Signal> = readings.into_iter().map(blank).collect();
        look.curves_of_unknowns(&mut signals);
        if !look.sums.is_empty() {
            for k in 0..points {
                match look.stretch_beside(k).filter(|_| look.by_slopes) {
                    Some(stretch) => look.along_the_curve(stretch),
                    None => look.by_the_equations((k, 0.0), stepper),
                }
                look.keep_value(k, &mut signals);
            }
            for k in 0..points.saturating_sub(1) {
                look.bend(k, stepper, &mut signals);
            }
        }
        Waveform { time_s: record.times_s().to_vec(), signals }
    }

    /// The same over a record that has got further points since `known` was read off it: only
    /// these and the stretches beside them are looked at.
    pub fn waveform_again(
        &self,
        record: &Record,
        stepper: &mut Stepper,
        known: Waveform,
    ) -> Waveform {
        let mut look = self.look_at(record, &self.rail_readings());
        let Waveform { time_s, mut signals } = known;
        let fresh = fresh_places(record.times_s(), &time_s);
        for &k in &fresh {
            if !look.sums.is_empty() {
                look.by_the_equations((k, 0.0), stepper);
            }
            look.insert(k, &mut signals);
        }
        let mut beside: Vec<usize> = fresh.iter().flat_map(|&k| [k.saturating_sub(1), k]).collect();
        beside.dedup();
        for k in beside.into_iter().filter(|k| k + 1 < record.len()) {
            look.bend_of_unknowns(k, &mut signals);
            look.bend(k, stepper, &mut signals);
        }
        Waveform { time_s: record.times_s().to_vec(), signals }
    }

    fn look_at<'r>(&'r self, record: &'r Record, readings: &[Reading]) -> Look<'r> {
        let reader = Reader::new(self.system, readings.iter().map(|r| r.sum.as_slice()));
        let all = readings.iter().enumerate();
        let (plain, sums): (Vec<_>, Vec<_>) =
            all.map(|(k, r)| (k, r.offset)).partition(|(k, _)| reader.is_of_unknowns(*k));
        // Only temperatures have an offset, and they are unknowns.
        let sums = sums.into_iter().map(|(k, _)| k).collect();
        let by_slopes = matches!(self.reads, Reads::Slopes | Reads::Shown);
        Look { system: self.system, record, by_slopes, reader, plain, sums }
    }
}

impl Look<'_> {
    /// Sums of unknowns are curves of the integrator's own.
    fn curves_of_unknowns(&self, signals: &mut [Signal]) {
        for &(sum, offset) in &self.plain {
            let Signal { values, bends, .. } = &mut signals[sum];
            for (factor, [plus, minus]) in self.reader.of_unknowns(sum) {
                for (value, x) in values.iter_mut().zip(self.record.all_values()) {
                    *value += factor * (x[plus] - x[minus]);
                }
                for (bend, b) in bends.iter_mut().zip(self.record.all_bends()) {
                    bend[0] += factor * (b[plus][0] - b[minus][0]);
                    bend[1] += factor * (b[plus][1] - b[minus][1]);
                }
            }
            if offset != 0.0 {
                values.iter_mut().for_each(|value| *value += offset);
            }
            for (bend, ends) in bends.iter_mut().zip(self.record.times_s().windows(2)) {
                if ends[0] == ends[1] {
                    *bend = [0.0; 2];
                }
            }
        }
    }

    /// Makes room for point `k`, looked at last, in all signals, and fills in its values.
    fn insert(&self, k: usize, signals: &mut [Signal]) {
        for signal in signals.iter_mut() {
            signal.values.insert(k, 0.0);
            signal.bends.insert(k.min(signal.bends.len()), [0.0; 2]);
        }
        for &(sum, offset) in &self.plain {
            let mut value = 0.0;
            for (factor, [plus, minus]) in self.reader.of_unknowns(sum) {
                value += factor * (self.record.value(k, plus) - self.record.value(k, minus));
            }
            signals[sum].values[k] = if offset == 0.0 { value } else { value + offset };
        }
        self.keep_value(k, signals);
    }

    /// The bends of the stretch after point `k`, of sums of unknowns.
    fn bend_of_unknowns(&self, k: usize, signals: &mut [Signal]) {
        let times = self.record.times_s();
        for &(sum, _) in self.plain.iter().filter(|_| times[k] < times[k + 1]) {
            let mut bend = [0.0; 2];
            for (factor, [plus, minus]) in self.reader.of_unknowns(sum) {
                let (above, below) = (self.record.bends(k, plus), self.record.bends(k, minus));
                bend[0] += factor * (above[0] - below[0]);
                bend[1] += factor * (above[1] - below[1]);
            }
            signals[sum].bends[k] = bend;
        }
    }

    /// What was looked at last are the values at point `k`.
    fn keep_value(&self, k: usize, signals: &mut [Signal]) {
        for &sum in &self.sums {
            signals[sum].values[k] = self.reader.read(sum);
        }
    }

    /// Bends the stretch after point `k` through two values inside it; a jump stays as it is.
    fn bend(&mut self, k: usize, stepper: &mut Stepper, signals: &mut [Signal]) {
        let times = self.record.times_s();
        if self.sums.is_empty() || times[k] >= times[k + 1] {
            return;
        }
        for (which, theta) in INSIDE.into_iter().enumerate() {
            if self.by_slopes {
                self.along_the_curve((k, theta));
            } else {
                self.by_the_equations((k, theta), stepper);
            }
            for &sum in &self.sums {
                signals[sum].bends[k][which] = self.reader.read(sum);
            }
        }
        for &sum in &self.sums {
            let Signal { values, bends, .. } = &mut signals[sum];
            bends[k] = bend(values[k], values[k + 1], bends[k]);
        }
    }

    /// The stretch that ends at point `k`, or else starts there, with the share of it that is gone.
    fn stretch_beside(&self, k: usize) -> Option<(usize, f64)> {
        let times = self.record.times_s();
        let rises = |k: usize| times.get(k + 1).is_some_and(|next| *next > times[k]);
        match k.checked_sub(1) {
            Some(before) if rises(before) => Some((before, 1.0)),
            _ if rises(k) => Some((k, 0.0)),
            _ => None,
        }
    }

    /// Looks a share of the way through a stretch, rates by the curve there.
    fn along_the_curve(&mut self, (k, theta): (usize, f64)) {
        let (record, times) = (self.record, self.record.times_s());
        let length_s = times[k + 1] - times[k];
        let at = (record.pieces_after(k), times[k] + theta * length_s);
        let stretch = record.stretch(k);
        let value = |u: usize| stretch.inside(theta, u);
        let rate = |u: usize| stretch.slope(theta, u) / length_s;
        self.reader.look(self.system, at, value, rate);
    }

    /// Looks at a point, or a share of the way to the next, rates as the equations have them there.
    fn by_the_equations(&mut self, (k, theta): (usize, f64), stepper: &mut Stepper) {
        let record = self.record;
        let mut x = record.point(k).x.to_vec();
        let (mut pieces, mut t) = (record.point(k).pieces, record.times_s()[k]);
        if theta > 0.0 {
            record.between(k, theta, &mut x);
            pieces = record.pieces_after(k);
            t += theta * (record.times_s()[k + 1] - t);
        }
        let rates = if self.reader.needs_rates() {
            stepper.rates(self.system, pieces, t, &x)
        } else {
            vec![0.0; x.len()]
        };
        self.reader.look(self.system, (pieces, t), |u| x[u], |u| rates[u]);
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
    fn exact_two_inner_values_give_back_the_cubic() {
        let (v0, v1, b) = (1.0, -2.0, [0.7, 3.0]);
        let cubic = |t: f64| (1.0 - t) * v0 + t * (v1 + (1.0 - t) * (b[0] + t * b[1]));
        let found = bend(v0, v1, INSIDE.map(cubic));
        assert!((found[0] - b[0]).abs() < 1e-13 && (found[1] - b[1]).abs() < 1e-13);
    }
}
