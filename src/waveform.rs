//! Sampled signals with the continuous extension of the integrator between the samples, and
//! exact questions about them: values, extremes, level crossings, means, slopes, times spent
//! above or below a level.
//!
//! Knows nothing of rails, tests or requirements. No question panics: an empty or ragged
//! waveform, a window outside the record or a value that is not finite is answered by `None`
//! (or by an empty list).

mod beyond;
mod fall;
mod search;
mod segment;
#[cfg(test)]
mod tests;

use beyond::Beyond;
pub use fall::Fall;
use segment::{Segment, pieces};

/// Signals over one common time axis.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Waveform {
    /// s, never falling. Two equal neighbours are a jump: value before, value after.
    pub time_s: Vec<f64>,
    /// Each with as many values as there are times.
    pub signals: Vec<Signal>,
}

/// One signal.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Signal {
    /// Unique within a waveform.
    pub name: String,
    /// SI symbol.
    pub unit: &'static str,
    /// One a time.
    pub values: Vec<f64>,
    /// One `[k3, k4]` a segment (one fewer than times), or empty for straight lines. In the
    /// segment from k to k+1, with θ = (t − t_k)/(t_{k+1} − t_k):
    /// v(θ) = (1−θ)·v_k + θ·(v_{k+1} + (1−θ)·(k3 + θ·k4)).
    pub bends: Vec<[f64; 2]>,
}

/// A stretch of time. A jump exactly at `from_s` counts with its later value only, a jump exactly
/// at `to_s` with its earlier one only, so that neighbouring windows share no value; the two ends
/// of the record itself count with all their values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// s
    pub from_s: f64,
    /// s
    pub to_s: f64,
}

/// Which value is meant at a jump.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The value just before.
    Before,
    /// The value just after.
    After,
}

/// Which extreme is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Extreme {
    /// The lowest value.
    Lowest,
    /// The highest value.
    Highest,
}

/// Which side of a level is meant. Being exactly at the level is neither.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Relation {
    /// Strictly below.
    Below,
    /// Strictly above.
    Above,
}

impl Relation {
    /// Whether a value is on this side of a level.
    fn holds(self, value: f64, level: f64) -> bool {
        match self {
            Relation::Below => value < level,
            Relation::Above => value > level,
        }
    }
}

/// A value and when it was taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Instant {
    /// s
    pub time_s: f64,
    /// In the signal's unit.
    pub value: f64,
}

/// A passage through a level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// s
    pub time_s: f64,
    /// From at or below the level to above it; else from above to at or below.
    pub rising: bool,
}

impl Window {
    /// From `from_s` to `to_s`, in seconds.
    pub fn new(from_s: f64, to_s: f64) -> Self {
        Self { from_s, to_s }
    }

    /// How long it is, in seconds.
    pub fn length_s(&self) -> f64 {
        self.to_s - self.from_s
    }

    /// Its last `share` (0 to 1).
    pub fn last(&self, share: f64) -> Self {
        Self { from_s: self.to_s - share * self.length_s(), to_s: self.to_s }
    }
}

impl Signal {
    /// Straight lines between `values`.
    pub fn straight(name: impl Into<String>, unit: &'static str, values: Vec<f64>) -> Self {
        Self { name: name.into(), unit, values, bends: Vec::new() }
    }

    /// The cubics that have the given values and rates (per second) at `times`.
    ///
    /// With θ as in [`Signal::bends`], matching the rates r at both ends gives
    /// k3 = h·r_k − Δ and k4 = 2Δ − h·(r_k + r_{k+1}), where Δ = v_{k+1} − v_k and h is the
    /// segment's length. Surplus entries of the longer slices are left out.
    pub fn from_rates(
        name: impl Into<String>,
        unit: &'static str,
        times_s: &[f64],
        values: &[f64],
        rates: &[f64],
    ) -> Self {
        let samples = times_s.len().min(values.len()).min(rates.len());
        let bends = (1..samples)
            .map(|k| {
                let (h, change) = (times_s[k] - times_s[k - 1], values[k] - values[k - 1]);
                [h * rates[k - 1] - change, 2.0 * change - h * (rates[k - 1] + rates[k])]
            })
            .collect();
        Self { name: name.into(), unit, values: values[..samples].to_vec(), bends }
    }

    /// `self` + `factor`·`other`, exact on the curves too since they are linear in their numbers.
    /// Both must stand on the same time axis; the shorter one decides the length.
    pub fn plus(&self, factor: f64, other: &Signal, name: impl Into<String>) -> Signal {
        let values =
            self.values.iter().zip(&other.values).map(|(a, b)| a + factor * b).collect::<Vec<_>>();
        let bend = |signal: &Signal, k: usize| signal.bends.get(k).copied().unwrap_or([0.0; 2]);
        let bends = if self.bends.is_empty() && other.bends.is_empty() {
            Vec::new()
        } else {
            (0..values.len().saturating_sub(1))
                .map(|k| {
                    let (a, b) = (bend(self, k), bend(other, k));
                    [a[0] + factor * b[0], a[1] + factor * b[1]]
                })
                .collect()
        };
        Signal { name: name.into(), unit: self.unit, values, bends }
    }

    /// The bends of the segments from the `first` one on.
    fn bends_from(&self, first: usize) -> &[[f64; 2]] {
        self.bends.get(first..).unwrap_or_default()
    }
}

impl Waveform {
    /// The signal of that name.
    pub fn signal(&self, name: &str) -> Option<&Signal> {
        self.signals.iter().find(|s| s.name == name)
    }

    /// From the first to the last time; `None` if there is no time.
    pub fn record(&self) -> Option<Window> {
        Some(Window { from_s: *self.time_s.first()?, to_s: *self.time_s.last()? })
    }

    /// The value at an instant; `None` outside the record. `side` matters only at a jump.
    pub fn at(&self, signal: &Signal, time_s: f64, side: Side) -> Option<f64> {
        let k = self.index(signal, time_s, side)?;
        let value = match self.segment(signal, k) {
            Some(segment) => segment.value(segment.place(time_s)),
            None => *signal.values.get(k)?,
        };
        value.is_finite().then_some(value)
    }

    /// The rate of change at an instant, in units per second; `None` outside the record or where
    /// there is no segment on that side.
    pub fn rate(&self, signal: &Signal, time_s: f64, side: Side) -> Option<f64> {
        let segment = self.segment(signal, self.index(signal, time_s, side)?)?;
        let rate = segment.rate(segment.place(time_s));
        rate.is_finite().then_some(rate)
    }

    /// The second derivative at an instant, in units per second squared; `None` as for `rate`.
    pub fn curvature(&self, signal: &Signal, time_s: f64, side: Side) -> Option<f64> {
        let segment = self.segment(signal, self.index(signal, time_s, side)?)?;
        let curvature = segment.curvature(segment.place(time_s));
        curvature.is_finite().then_some(curvature)
    }

    /// The mean over a window: the exact integral of the curves over its length. A window of no
    /// length gives the value there.
    pub fn mean(&self, signal: &Signal, window: Window) -> Option<f64> {
        let window = self.clip(window)?;
        if window.length_s() <= 0.0 {
            return self.at(signal, window.from_s, Side::After);
        }
        let mean = self.integral(signal, window, |_| 1.0)? / window.length_s();
        mean.is_finite().then_some(mean)
    }

    /// The slope of the straight line that fits best over a window, in units per second.
    ///
    /// Least squares over all instants, not only the samples, with weights (1 − x²)², x from −1
    /// to 1 across the window. Equal weights would take a ripple for a slope: its share falls with
    /// the number of periods in the window there, and with that number's cube here.
    pub fn slope(&self, signal: &Signal, window: Window) -> Option<f64> {
        let window = self.clip(window)?;
        let half_s = 0.5 * window.length_s();
        if half_s <= 0.0 {
            return None;
        }
        let middle_s = 0.5 * (window.from_s + window.to_s);
        let weight = |time_s: f64| {
            let x = (time_s - middle_s) / half_s;
            (1.0 - x * x).powi(2) * x
        };
        // ∫ (1 − x²)²·x² dx over [−1, 1] is 16/105.
        let slope = self.integral(signal, window, weight)? / (16.0 / 105.0) / half_s.powi(2);
        slope.is_finite().then_some(slope)
    }

    /// The stretches of a window during which the signal is strictly below or above a level,
    /// rising, with ends exact on the curves. Stretches that touch are joined.
    pub fn stretches(
        &self,
        signal: &Signal,
        window: Window,
        relation: Relation,
        level: f64,
    ) -> Vec<Window> {
        let mut found: Vec<Window> = Vec::new();
        let Some(window) = self.clip(window) else { return found };
        let mut add = |from_s: f64, to_s: f64| match found.last_mut() {
            Some(last) if last.to_s >= from_s => last.to_s = to_s,
            _ => found.push(Window { from_s, to_s }),
        };
        let beyond = Beyond::new(relation, level);
        pieces(self.segments_beyond(signal, window, beyond), window, |segment, from, to| {
            if !segment.may_pass(level) {
                if relation.holds(segment.start, level) && relation.holds(segment.end, level) {
                    add(segment.time(from), segment.time(to));
                }
                return;
            }
            let mut places = [from, to, to, to];
            let mut count = 1;
            for turn in segment.turns(from, to).into_iter().flatten() {
                places[count] = turn;
                count += 1;
            }
            for pair in places[..=count].windows(2) {
                if let Some((a, b)) = segment.stretch([pair[0], pair[1]], relation, level) {
                    add(segment.time(a), segment.time(b));
                }
            }
        });
        found.retain(|w| w.length_s() > 0.0);
        found
    }

    /// Passages through a level inside a window, rising in time, exact on the curves. A touch
    /// without passing is none.
    pub fn crossings(&self, signal: &Signal, window: Window, level: f64) -> Vec<Crossing> {
        let Some(clipped) = self.clip(window) else { return Vec::new() };
        let mut found = Vec::new();
        for stretch in self.stretches(signal, window, Relation::Above, level) {
            if stretch.from_s > clipped.from_s {
                found.push(Crossing { time_s: stretch.from_s, rising: true });
            }
            if stretch.to_s < clipped.to_s {
                found.push(Crossing { time_s: stretch.to_s, rising: false });
            }
        }
        found
    }

    /// Total time in a window spent strictly below or above a level, in seconds.
    pub fn total(&self, signal: &Signal, window: Window, relation: Relation, level: f64) -> f64 {
        self.stretches(signal, window, relation, level).iter().map(Window::length_s).sum()
    }

    /// The longest single stretch below or above a level; the earliest of equally long ones.
    pub fn longest(
        &self,
        signal: &Signal,
        window: Window,
        relation: Relation,
        level: f64,
    ) -> Option<Window> {
        let mut longest: Option<Window> = None;
        for stretch in self.stretches(signal, window, relation, level) {
            if longest.is_none_or(|l| stretch.length_s() > l.length_s()) {
                longest = Some(stretch);
            }
        }
        longest
    }

    /// How many samples the signal has a time for.
    fn samples(&self, signal: &Signal) -> usize {
        self.time_s.len().min(signal.values.len())
    }

    fn segment(&self, signal: &Signal, k: usize) -> Option<Segment> {
        Some(Segment {
            from_s: *self.time_s.get(k)?,
            to_s: *self.time_s.get(k + 1)?,
            start: *signal.values.get(k)?,
            end: *signal.values.get(k + 1)?,
            bend: signal.bends.get(k).copied().unwrap_or([0.0; 2]),
        })
    }

    /// All segments from the `first` one on.
    fn segments<'s>(
        &'s self,
        signal: &'s Signal,
        first: usize,
    ) -> impl Iterator<Item = Segment> + 's {
        let samples = first..self.samples(signal).max(first);
        let times = self.time_s.get(samples.clone()).unwrap_or_default().windows(2);
        let values = signal.values.get(samples).unwrap_or_default().windows(2);
        let bends = signal.bends_from(first).iter().copied();
        let ends = times.zip(values).zip(bends.chain(std::iter::repeat([0.0; 2])));
        ends.map(|((time, value), bend)| Segment {
            from_s: time[0],
            to_s: time[1],
            start: value[0],
            end: value[1],
            bend,
        })
    }

    /// The segments that reach into a window inside the record and may hold values beyond a level.
    fn segments_beyond(
        &self,
        signal: &Signal,
        window: Window,
        beyond: Beyond,
    ) -> impl Iterator<Item = Segment> {
        let times = self.time_s.get(..self.samples(signal)).unwrap_or_default();
        let mut k = times.partition_point(|t| *t <= window.from_s).saturating_sub(1);
        let end = times.partition_point(|t| *t < window.to_s).min(times.len().saturating_sub(1));
        std::iter::from_fn(move || {
            let values = signal.values.get(k..=end)?;
            k += 1 + beyond.nothing_in(values, signal.bends_from(k));
            (k <= end).then(|| self.segment(signal, k - 1)).flatten()
        })
    }

    /// The segment (or, at the very ends, the sample) that holds the value on that side.
    fn index(&self, signal: &Signal, time_s: f64, side: Side) -> Option<usize> {
        let times = self.time_s.get(..self.samples(signal))?;
        let (first, last) = (*times.first()?, *times.last()?);
        if !(time_s >= first && time_s <= last) {
            return None;
        }
        Some(match side {
            // The last sample at or before the instant starts the segment that follows it.
            Side::After => times.partition_point(|t| *t <= time_s).saturating_sub(1),
            // The first sample at or after the instant ends the segment that leads to it.
            Side::Before => match times.partition_point(|t| *t < time_s) {
                0 => return self.first_alone(signal),
                k => k - 1,
            },
        })
    }

    /// The first sample, as the index of a segment whose value at its start is meant.
    fn first_alone(&self, signal: &Signal) -> Option<usize> {
        (self.samples(signal) > 0).then_some(0)
    }

    /// The part of a window that lies in the record.
    fn clip(&self, window: Window) -> Option<Window> {
        let record = self.record()?;
        let clipped =
            Window { from_s: window.from_s.max(record.from_s), to_s: window.to_s.min(record.to_s) };
        (clipped.from_s <= clipped.to_s).then_some(clipped)
    }

    /// Every segment of some length that reaches into the window, with the places between which
    /// it does.
    fn each_piece(&self, signal: &Signal, window: Window, look: impl FnMut(&Segment, f64, f64)) {
        let Some(window) = self.clip(window) else { return };
        let first = self.time_s.partition_point(|t| *t <= window.from_s).saturating_sub(1);
        pieces(self.segments(signal, first), window, look);
    }

    /// ∫ weight(t)·v dt over a window inside the record.
    fn integral(
        &self,
        signal: &Signal,
        window: Window,
        weight: impl Fn(f64) -> f64,
    ) -> Option<f64> {
        let (mut sum, mut total_weight, mut covered_s) = (0.0, 0.0, 0.0);
        // A level common to all is taken out first: the slope of a nearly constant signal would
        // otherwise be a small difference of large numbers.
        let base = self.at(signal, window.from_s, Side::After)?;
        self.each_piece(signal, window, |segment, from, to| {
            let above =
                Segment { start: segment.start - base, end: segment.end - base, ..*segment };
            sum += above.integral(from, to, &weight);
            let one = Segment { start: 1.0, end: 1.0, bend: [0.0; 2], ..*segment };
            total_weight += one.integral(from, to, &weight);
            covered_s += (to - from) * segment.length_s();
        });
        // A signal with fewer values than times does not cover the window.
        let whole = (covered_s - window.length_s()).abs() <= 1e-9 * window.length_s();
        whole.then_some(sum + base * total_weight)
    }
}
