//! The rail's signals over a record: values at its points, and the cubics between them.

use super::observe::Observer;
use super::run::Reads;
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
    /// The sums that go with more than the unknowns.
    sums: Vec<usize>,
}

impl Observer<'_> {
    /// The rail's signals over a record, under the names that measurements read.
    pub fn waveform(&self, record: &Record, stepper: &mut Stepper) -> Waveform {
        self.waveform_again(record, stepper, &Waveform::default())
    }

    /// The same over a record that has got further points since `known` was read off it: only
    /// these and the stretches beside them are looked at.
    pub fn waveform_again(
        &self,
        record: &Record,
        stepper: &mut Stepper,
        known: &Waveform,
    ) -> Waveform {
        let readings = self.rail_readings();
        let reader = Reader::new(self.system, readings.iter().map(|r| r.sum.as_slice()));
        let sums = (0..readings.len()).filter(|&k| !reader.is_of_unknowns(k)).collect();
        let by_slopes = self.reads == Reads::Slopes;
        let mut look = Look { system: self.system, record, by_slopes, reader, sums };
        let points = record.len();
        let signal = |(k, reading): (usize, super::observe::Reading)| {
            let (name, unit) = (reading.name, reading.unit);
            let (mut values, bends) = if look.reader.is_of_unknowns(k) {
                look.curve_of_unknowns(k)
            } else {
                (Vec::with_capacity(points), Vec::with_capacity(points))
            };
            // Only temperatures have one, and they are unknowns.
            if reading.offset != 0.0 {
                values.iter_mut().for_each(|value| *value += reading.offset);
            }
            Signal { name, unit, values, bends }
        };
        let mut signals: Vec<Signal> = readings.into_iter().enumerate().map(signal).collect();
        if !look.sums.is_empty() {
            let known_as = places_of(record.times_s(), &known.time_s);
            look.values(&known_as, known, stepper, &mut signals);
            look.bends(&known_as, known, stepper, &mut signals);
        }
        Waveform { time_s: record.times_s().to_vec(), signals }
    }
}

impl Look<'_> {
    /// Sums of unknowns are curves of the integrator's own.
    fn curve_of_unknowns(&self, sum: usize) -> (Vec<f64>, Vec<[f64; 2]>) {
        let (record, times) = (self.record, self.record.times_s());
        let mut values = vec![0.0; times.len()];
        let mut bends = vec![[0.0; 2]; times.len().saturating_sub(1)];
        for (factor, [plus, minus]) in self.reader.of_unknowns(sum) {
            for (k, value) in values.iter_mut().enumerate() {
                *value += factor * (record.value(k, plus) - record.value(k, minus));
            }
            for (k, bend) in bends.iter_mut().enumerate() {
                let (above, below) = (record.bends(k, plus), record.bends(k, minus));
                bend[0] += factor * (above[0] - below[0]);
                bend[1] += factor * (above[1] - below[1]);
            }
        }
        for (bend, ends) in bends.iter_mut().zip(times.windows(2)) {
            if ends[0] == ends[1] {
                *bend = [0.0; 2];
            }
        }
        (values, bends)
    }

    fn values(
        &mut self,
        known_as: &[Option<usize>],
        known: &Waveform,
        stepper: &mut Stepper,
        signals: &mut [Signal],
    ) {
        for (k, place) in known_as.iter().enumerate() {
            if place.is_none() {
                match self.stretch_beside(k).filter(|_| self.by_slopes && known.time_s.is_empty()) {
                    Some(stretch) => self.along_the_curve(stretch),
                    None => self.by_the_equations((k, 0.0), stepper),
                }
            }
            for &sum in &self.sums {
                let value =
                    place.map_or_else(|| self.reader.read(sum), |j| known.signals[sum].values[j]);
                signals[sum].values.push(value);
            }
        }
    }

    fn bends(
        &mut self,
        known_as: &[Option<usize>],
        known: &Waveform,
        stepper: &mut Stepper,
        signals: &mut [Signal],
    ) {
        let times = self.record.times_s();
        let mut inner = vec![[0.0; 2]; signals.len()];
        for k in 0..times.len().saturating_sub(1) {
            let kept = known_as[k].filter(|j| known_as[k + 1] == Some(j + 1));
            if times[k] < times[k + 1] && kept.is_none() {
                for (which, theta) in INSIDE.into_iter().enumerate() {
                    if self.by_slopes {
                        self.along_the_curve((k, theta));
                    } else {
                        self.by_the_equations((k, theta), stepper);
                    }
                    for &sum in &self.sums {
                        inner[sum][which] = self.reader.read(sum);
                    }
                }
            }
            for &sum in &self.sums {
                let signal = &mut signals[sum];
                signal.bends.push(match kept {
                    _ if times[k] == times[k + 1] => [0.0; 2],
                    Some(j) => known.signals[sum].bends[j],
                    None => bend(signal.values[k], signal.values[k + 1], inner[sum]),
                });
            }
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
        let value = |u: usize| record.inside(k, theta, u);
        let rate = |u: usize| record.slope(k, theta, u) / length_s;
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

/// Where each of `times` stands among `known` ones, which are some of them in the same order.
fn places_of(times: &[f64], known: &[f64]) -> Vec<Option<usize>> {
    let mut next = 0;
    let place = |t: &f64| {
        (known.get(next) == Some(t)).then(|| {
            next += 1;
            next - 1
        })
    };
    times.iter().map(place).collect()
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
    fn known_times_are_found_among_more_of_them_and_jumps_keep_their_sides() {
        let found = places_of(&[0.0, 0.5, 1.0, 1.0, 2.0], &[0.0, 1.0, 1.0, 2.0]);
        assert_eq!(found, [Some(0), None, Some(1), Some(2), Some(3)]);
        assert_eq!(places_of(&[0.0, 1.0], &[]), [None, None]);
    }

    #[test]
    fn exact_two_inner_values_give_back_the_cubic() {
        let (v0, v1, b) = (1.0, -2.0, [0.7, 3.0]);
        let cubic = |t: f64| (1.0 - t) * v0 + t * (v1 + (1.0 - t) * (b[0] + t * b[1]));
        let found = bend(v0, v1, INSIDE.map(cubic));
        assert!((found[0] - b[0]).abs() < 1e-13 && (found[1] - b[1]).abs() < 1e-13);
    }
}
