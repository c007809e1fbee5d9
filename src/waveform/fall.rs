//! How far a signal falls back below what it had reached, and what it carries in squares.

use super::{Instant, Relation, Signal, Waveform, Window};

/// A fall from the highest value reached to a later one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fall {
    /// Where it had been highest.
    pub from: Instant,
    /// Where it came down to.
    pub to: Instant,
    /// In the signal's unit: how far, never negative.
    pub size: f64,
}

impl Waveform {
    /// The largest fall in a window: the highest value reached so far, or `ceiling` where that is
    /// lower, minus the present one. Exact on the curves; jumps inside the window count. A signal
    /// that never falls below what it had reached has a fall of 0.
    pub fn largest_fall(&self, signal: &Signal, window: Window, ceiling: f64) -> Option<Fall> {
        let mut highest: Option<Instant> = None;
        let mut largest: Option<Fall> = None;
        let mut look = |time_s: f64, value: f64| {
            let here = Instant { time_s, value };
            let from = match highest {
                Some(before) if before.value >= value => before,
                _ => here,
            };
            highest = Some(from);
            let size = (from.value.min(ceiling) - value).max(0.0);
            if largest.is_none_or(|l| size > l.size) {
                largest = Some(Fall { from, to: here, size });
            }
        };
        self.each_piece(signal, window, |segment, from, to| {
            look(segment.time(from), segment.value(from));
            for turn in segment.turns(from, to).into_iter().flatten() {
                look(segment.time(turn), segment.value(turn));
            }
            look(segment.time(to), segment.value(to));
        });
        largest.filter(|fall| fall.size.is_finite())
    }

    /// ∫ (v² − level²) dt over the stretches of a window below or above a level: exact on the curves.
    pub fn square_beyond(
        &self,
        signal: &Signal,
        window: Window,
        relation: Relation,
        level: f64,
    ) -> f64 {
        let mut sum = 0.0;
        for stretch in self.stretches(signal, window, relation, level) {
            sum -= stretch.length_s() * level * level;
            self.each_piece(signal, stretch, |segment, from, to| sum += segment.square(from, to));
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wave(times: &[f64], signal: Signal) -> Waveform {
        Waveform { time_s: times.to_vec(), signals: vec![signal] }
    }

    fn fall(waveform: &Waveform, ceiling: f64) -> Fall {
        let window = waveform.record().unwrap_or(Window::new(0.0, 0.0));
        let found = waveform.largest_fall(&waveform.signals[0], window, ceiling);
        found.unwrap_or(Fall {
            from: Instant { time_s: 0.0, value: 0.0 },
            to: Instant { time_s: 0.0, value: 0.0 },
            size: f64::NAN,
        })
    }

    #[test]
    fn exact_falls_count_from_the_highest_value_reached() {
        let times = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0];
        let levels = vec![0.0, 2.0, 1.5, 3.0, 2.0, 2.5];
        let waveform = wave(&times, Signal::straight("v", "V", levels));
        let found = fall(&waveform, f64::INFINITY);
        assert_eq!((found.from.time_s, found.to.time_s, found.size), (3.0, 4.0, 1.0));
        // Counted from 2 V at most, what stood higher does not count: 2 V to 1.5 V.
        let capped = fall(&waveform, 2.0);
        assert_eq!((capped.to.time_s, capped.size), (2.0, 0.5));
        let rising = wave(&[0.0, 1.0], Signal::straight("v", "V", vec![0.0, 1.0]));
        assert_eq!(fall(&rising, f64::INFINITY).size, 0.0);
    }

    /// t³ − 3t² + 2.25t has its turns at 0.5 (value 0.5) and 1.5 (value 0).
    #[test]
    fn exact_a_fall_inside_one_segment_is_seen() {
        let at = |t: f64| t * t * t - 3.0 * t * t + 2.25 * t;
        let rate = |t: f64| 3.0 * t * t - 6.0 * t + 2.25;
        let times = [0.0, 2.0];
        let signal = Signal::from_rates("v", "V", &times, &times.map(at), &times.map(rate));
        let found = fall(&wave(&times, signal), f64::INFINITY);
        assert!((found.size - 0.5).abs() < 1e-14, "{found:?}");
        assert!((found.from.time_s - 0.5).abs() < 1e-14, "{found:?}");
        assert!((found.to.time_s - 1.5).abs() < 1e-14, "{found:?}");
    }

    /// v = t from −2 to 2: ∫ (t² − 1) dt over 1 < t < 2 is 7/3 − 1 = 4/3, ∫ t² dt below 0 is 8/3.
    #[test]
    fn exact_squares_beyond_a_level() {
        let waveform = wave(&[-2.0, 2.0], Signal::straight("i", "A", vec![-2.0, 2.0]));
        let window = Window::new(-2.0, 2.0);
        let beyond =
            |side, level| waveform.square_beyond(&waveform.signals[0], window, side, level);
        assert!((beyond(Relation::Above, 1.0) - 4.0 / 3.0).abs() < 1e-14);
        assert!((beyond(Relation::Below, 0.0) - 8.0 / 3.0).abs() < 1e-14);
        assert_eq!(beyond(Relation::Above, 2.0), 0.0);
    }
}
