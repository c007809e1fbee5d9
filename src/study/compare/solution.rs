//! One solution of the test, as it is held against the trace: its value at any instant, what it
//! differs by, and averages for the search of the shift.

use crate::waveform::{Side, Signal, Waveform};

/// A calculated voltage over the record.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Solution {
    /// The record, with the voltage as its only signal.
    waveform: Waveform,
    /// Integral of the voltage from the start of the record to each of its times, V s.
    integrals: Vec<f64>,
    /// Whether the circuit was at rest before the record, so that its first value held there.
    pub at_rest: bool,
}

impl Solution {
    /// Of a signal and its times in s; `None` where it holds nothing.
    pub fn new(time_s: Vec<f64>, signal: Signal, at_rest: bool) -> Option<Self> {
        if time_s.len() < 2 || signal.values.len() < time_s.len() {
            return None;
        }
        let waveform = Waveform { time_s, signals: vec![signal] };
        let mut solution = Self { waveform, integrals: vec![0.0], at_rest };
        for k in 1..solution.waveform.time_s.len() {
            let before = solution.integrals[k - 1];
            solution.integrals.push(before + solution.piece(k - 1, 1.0));
        }
        solution.integrals.iter().all(|i| i.is_finite()).then_some(solution)
    }

    /// Length of the record in s.
    pub fn end_s(&self) -> f64 {
        self.waveform.time_s.last().copied().unwrap_or(0.0)
    }

    /// The voltage at an instant of the record; its first or last value outside.
    pub fn volt(&self, time_s: f64) -> f64 {
        let held = time_s.clamp(0.0, self.end_s());
        let signal = self.waveform.signals.first();
        let value = signal.and_then(|signal| self.waveform.at(signal, held, Side::After));
        value.unwrap_or(f64::NAN)
    }

    /// How fast it changes there, in V/s; not at all outside the record.
    pub fn rate(&self, time_s: f64) -> f64 {
        let signal = self.waveform.signals.first();
        signal.and_then(|s| self.waveform.rate(s, time_s, Side::After)).unwrap_or(0.0)
    }

    /// The mean over a stretch, its first or last value counting outside the record.
    pub fn mean(&self, from_s: f64, to_s: f64) -> f64 {
        if !(to_s > from_s) {
            return self.volt(from_s);
        }
        (self.integral(to_s) - self.integral(from_s)) / (to_s - from_s)
    }

    fn integral(&self, time_s: f64) -> f64 {
        let values = self.waveform.signals.first().map_or(&[][..], |s| &s.values);
        let ends = (values.first(), values.last(), self.integrals.last());
        let (Some(first), Some(last), Some(whole)) = ends else { return f64::NAN };
        let times = &self.waveform.time_s;
        if time_s <= times[0] {
            return first * (time_s - times[0]);
        }
        if time_s >= self.end_s() {
            return whole + last * (time_s - self.end_s());
        }
        let k = times.partition_point(|t| *t <= time_s).saturating_sub(1);
        let length = times[k + 1] - times[k];
        let theta = if length > 0.0 { (time_s - times[k]) / length } else { 0.0 };
        self.integrals[k] + self.piece(k, theta)
    }

    /// The integral from the start of segment `k` to the share `theta` of it: of
    /// v(θ) = v0 + θ(v1 − v0) + θ(1 − θ)(k3 + θ·k4).
    fn piece(&self, k: usize, theta: f64) -> f64 {
        let Some(signal) = self.waveform.signals.first() else { return 0.0 };
        let length = self.waveform.time_s[k + 1] - self.waveform.time_s[k];
        let (v0, v1) = (signal.values[k], signal.values[k + 1]);
        let [k3, k4] = signal.bends.get(k).copied().unwrap_or_default();
        let (t2, t3, t4) = (theta.powi(2) / 2.0, theta.powi(3) / 3.0, theta.powi(4) / 4.0);
        length * (v0 * theta + (v1 - v0) * t2 + k3 * (t2 - t3) + k4 * (t3 - t4))
    }

    /// Times of the record and the voltage at each, for drawing.
    pub fn waveform(&self) -> &Waveform {
        &self.waveform
    }
}

#[cfg(test)]
mod tests {
    use super::Solution;
    use crate::waveform::Signal;

    /// v = t³ from 0 to 2 in two unequal segments; its integral is t⁴/4.
    #[test]
    fn exact_means_of_a_cubic() {
        let times = vec![0.0, 0.5, 2.0];
        let values: Vec<f64> = times.iter().map(|t: &f64| t.powi(3)).collect();
        let rates: Vec<f64> = times.iter().map(|t: &f64| 3.0 * t * t).collect();
        let signal = Signal::from_rates("v", "V", &times, &values, &rates);
        let solution = Solution::new(times, signal, true).unwrap_or_default();
        let exact = |a: f64, b: f64| (b.powi(4) - a.powi(4)) / 4.0 / (b - a);
        for (a, b) in [(0.0, 2.0), (0.2, 0.4), (0.3, 1.7), (1.0, 1.1)] {
            assert!((solution.mean(a, b) - exact(a, b)).abs() < 1e-14, "{a} {b}");
        }
        // Ahead of the record 0 counts, behind it 8.
        assert!((solution.mean(-2.0, 0.0)).abs() < 1e-14);
        assert!((solution.mean(2.0, 5.0) - 8.0).abs() < 1e-13);
        assert!((solution.mean(1.0, 3.0) - f64::midpoint(3.75, 8.0)).abs() < 1e-13);
        assert!((solution.rate(1.0) - 3.0).abs() < 1e-13 && solution.rate(9.0) == 0.0);
    }
}
