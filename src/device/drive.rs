//! Time functions that sources and loads follow: a constant plus steps, ramps, points or a sine.
//!
//! The integrator never steps across a corner: between two corners a drive is one smooth
//! [`Piece`], so a jump has a clear value on each side.

use std::f64::consts::TAU;

/// A level over time, in the unit of the part it drives.
#[derive(Clone, Debug, PartialEq)]
pub struct Drive {
    /// The part that never changes.
    pub constant: f64,
    /// What is added to it.
    pub shape: Option<Shape>,
}

/// What varies.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// amplitude·sin(2πf·(t − delay) + phase) from `delay_s` on, nothing before.
    Sine {
        /// Peak.
        amplitude: f64,
        /// Hz
        frequency_hz: f64,
        /// s
        delay_s: f64,
        /// rad
        phase_rad: f64,
    },
    /// Straight lines between points; two equal times are a jump; outside, the end values hold.
    Points {
        /// (s, level), times never falling.
        points: Vec<(f64, f64)>,
        /// The points start over after this many seconds.
        repeat_every_s: Option<f64>,
    },
    /// One smooth piece after the other, each from its time (s, rising) to that of the next; the first
    /// holds before its time too, the last for ever.
    Pieces(Vec<(f64, Piece)>),
}

/// A time at which a drive bends or jumps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corner {
    /// s
    pub time_s: f64,
    /// Whether the level itself jumps there.
    pub jump: bool,
}

/// A drive between two neighbouring corners.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Piece {
    /// level + slope·(t − origin).
    Line {
        /// s
        origin_s: f64,
        /// Level at the origin.
        level: f64,
        /// Level per second.
        slope: f64,
    },
    /// level + amplitude·sin(ω·(t − origin) + phase).
    Sine {
        /// Middle.
        level: f64,
        /// Peak.
        amplitude: f64,
        /// rad/s
        omega: f64,
        /// s
        origin_s: f64,
        /// rad
        phase_rad: f64,
    },
    /// level + amplitude·exp(−(t − origin)/τ).
    Decay {
        /// What it dies away to.
        level: f64,
        /// What is left to die away at the origin.
        amplitude: f64,
        /// s
        tau_s: f64,
        /// s
        origin_s: f64,
    },
}

/// Two levels that differ by less than this share of their size are the same: what is left of a
/// course that was meant to be unbroken.
const SAME_LEVEL: f64 = 1e-12;

/// A sine is sampled at least this often a period, so that none is stepped over.
const STEPS_PER_PERIOD: f64 = 8.0;

impl Drive {
    /// A level that never changes.
    pub fn constant(level: f64) -> Self {
        Self { constant: level, shape: None }
    }

    /// Straight lines through points of (s, level).
    pub fn points(points: Vec<(f64, f64)>) -> Self {
        Self { constant: 0.0, shape: Some(Shape::Points { points, repeat_every_s: None }) }
    }

    /// The level at the start of a record: what holds up to and at t = 0.
    pub fn initial(&self) -> f64 {
        // What repeats has a corner in every period.
        let since_s = match &self.shape {
            Some(Shape::Points { repeat_every_s: Some(period), .. }) => -period,
            _ => f64::NEG_INFINITY,
        };
        let corners = self.corners(since_s, 0.0);
        let last = corners.iter().rev().map(|c| c.time_s).find(|t| *t < 0.0);
        self.piece(last.map_or(-1.0, |last| 0.5 * last)).value(0.0)
    }

    /// About how many corners there are with `from_s` ≤ t ≤ `to_s`: also where they are too many to be
    /// listed.
    pub fn about_how_many_corners(&self, from_s: f64, to_s: f64) -> f64 {
        match &self.shape {
            None => 0.0,
            Some(Shape::Sine { .. }) => 1.0,
            Some(Shape::Pieces(pieces)) => pieces.len() as f64,
            Some(Shape::Points { points, repeat_every_s }) => {
                let rounds =
                    repeat_every_s.map_or(1.0, |period| ((to_s - from_s) / period).max(1.0));
                points.len() as f64 * rounds
            }
        }
    }

    /// All corners with `from_s` ≤ t ≤ `to_s`, rising, each time once.
    pub fn corners(&self, from_s: f64, to_s: f64) -> Vec<Corner> {
        let mut found = Vec::new();
        match &self.shape {
            None => {}
            Some(Shape::Sine { delay_s, phase_rad, .. }) => {
                found.push(Corner { time_s: *delay_s, jump: phase_rad.sin() != 0.0 });
            }
            Some(Shape::Points { points, repeat_every_s: None }) => {
                corners_of(points, 0.0, &mut found);
            }
            Some(Shape::Points { points, repeat_every_s: Some(period) }) => {
                let first = points.first().map_or(0.0, |p| p.0);
                let round_at = |t: f64| ((t - first) / period).floor();
                // One round more: the quotient may be off by a rounding.
                let skipped = (round_at(from_s) - 1.0).max(0.0) as usize;
                for round in skipped..=round_at(to_s).max(0.0) as usize {
                    corners_of(points, round as f64 * period, &mut found);
                    found.push(Corner {
                        time_s: first + (round as f64 + 1.0) * period,
                        jump: wraps_with_a_jump(points),
                    });
                }
            }
            Some(Shape::Pieces(pieces)) => {
                found.extend(pieces.windows(2).map(|pair| {
                    let time_s = pair[1].0;
                    let [before, after] = [&pair[0].1, &pair[1].1].map(|p| p.value(time_s));
                    let size = before.abs().max(after.abs());
                    Corner { time_s, jump: (after - before).abs() > SAME_LEVEL * size }
                }));
            }
        }
        found.retain(|c| c.time_s >= from_s && c.time_s <= to_s);
        found.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
        found.dedup_by(|later, kept| {
            let same = later.time_s == kept.time_s;
            kept.jump |= same && later.jump;
            same
        });
        found
    }

    /// The smooth piece that holds around `inside_s`, which must not be a corner.
    pub fn piece(&self, inside_s: f64) -> Piece {
        let flat = |level: f64| Piece::Line { origin_s: 0.0, level, slope: 0.0 };
        match &self.shape {
            None => flat(self.constant),
            Some(Shape::Sine { delay_s, .. }) if inside_s < *delay_s => flat(self.constant),
            Some(Shape::Sine { amplitude, frequency_hz, delay_s, phase_rad }) => Piece::Sine {
                level: self.constant,
                amplitude: *amplitude,
                omega: TAU * frequency_hz,
                origin_s: *delay_s,
                phase_rad: *phase_rad,
            },
            Some(Shape::Points { points, repeat_every_s }) => {
                let first = points.first().map_or(0.0, |p| p.0);
                let shift = repeat_every_s
                    .map_or(0.0, |period| period * ((inside_s - first) / period).floor().max(0.0));
                self.line(points, shift, inside_s - shift)
            }
            Some(Shape::Pieces(pieces)) => {
                let k = pieces.partition_point(|p| p.0 <= inside_s).saturating_sub(1);
                pieces.get(k).map_or(flat(self.constant), |p| p.1.above(self.constant))
            }
        }
    }

    /// The lowest and the highest level it ever takes or comes near to.
    pub fn range(&self) -> (f64, f64) {
        let levels: Vec<f64> = match &self.shape {
            None => vec![0.0],
            Some(Shape::Points { points, .. }) => points.iter().map(|p| p.1).collect(),
            Some(Shape::Sine { amplitude, .. }) => vec![-amplitude.abs(), amplitude.abs()],
            Some(Shape::Pieces(pieces)) => {
                let ends = pieces.iter().skip(1).map(|p| Some(p.0)).chain([None]);
                pieces.iter().zip(ends).flat_map(|((from, p), to)| p.levels(*from, to)).collect()
            }
        };
        let (low, high) = levels
            .into_iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (x.min(l), x.max(h)));
        if low <= high {
            (self.constant + low, self.constant + high)
        } else {
            (self.constant, self.constant)
        }
    }

    fn line(&self, points: &[(f64, f64)], shift: f64, inside_s: f64) -> Piece {
        let after = points.partition_point(|p| p.0 <= inside_s);
        let held = |p: (f64, f64)| (p.0, p.1, 0.0);
        let (origin, level, slope) =
            match (after.checked_sub(1).map(|k| points[k]), points.get(after)) {
                (Some(a), Some(b)) => (a.0, a.1, (b.1 - a.1) / (b.0 - a.0)),
                (Some(a), None) => held(a),
                (None, Some(&b)) => held(b),
                (None, None) => (0.0, 0.0, 0.0),
            };
        Piece::Line { origin_s: origin + shift, level: self.constant + level, slope }
    }
}

fn corners_of(points: &[(f64, f64)], shift: f64, found: &mut Vec<Corner>) {
    for (k, &(time, level)) in points.iter().enumerate() {
        let jump = k > 0 && points[k - 1].0 == time && points[k - 1].1 != level;
        found.push(Corner { time_s: time + shift, jump });
    }
}

fn wraps_with_a_jump(points: &[(f64, f64)]) -> bool {
    points.first().zip(points.last()).is_some_and(|(a, b)| a.1 != b.1)
}

impl Piece {
    /// Level at `t` in s.
    #[inline]
    pub fn value(&self, t: f64) -> f64 {
        match *self {
            Piece::Line { origin_s, level, slope } => level + slope * (t - origin_s),
            Piece::Sine { level, amplitude, omega, origin_s, phase_rad } => {
                level + amplitude * (omega * (t - origin_s) + phase_rad).sin()
            }
            Piece::Decay { level, amplitude, tau_s, origin_s } => {
                level + amplitude * (-(t - origin_s) / tau_s).exp()
            }
        }
    }

    /// The same, higher by a constant.
    fn above(self, constant: f64) -> Self {
        let mut higher = self;
        let (Piece::Line { level, .. } | Piece::Sine { level, .. } | Piece::Decay { level, .. }) =
            &mut higher;
        *level += constant;
        higher
    }

    /// Levels between which it stays from `from_s` to `to_s` (for ever).
    fn levels(&self, from_s: f64, to_s: Option<f64>) -> [f64; 2] {
        match (*self, to_s) {
            (Piece::Sine { level, amplitude, .. }, _) => {
                [level - amplitude.abs(), level + amplitude.abs()]
            }
            (_, Some(to_s)) => [self.value(from_s), self.value(to_s)],
            (Piece::Decay { level, .. }, None) => [self.value(from_s), level],
            (Piece::Line { .. }, None) => [self.value(from_s); 2],
        }
    }

    /// Level per second at `t`.
    #[inline]
    pub fn slope(&self, t: f64) -> f64 {
        match *self {
            Piece::Line { slope, .. } => slope,
            Piece::Sine { amplitude, omega, origin_s, phase_rad, .. } => {
                amplitude * omega * (omega * (t - origin_s) + phase_rad).cos()
            }
            Piece::Decay { amplitude, tau_s, origin_s, .. } => {
                -amplitude / tau_s * (-(t - origin_s) / tau_s).exp()
            }
        }
    }

    /// The longest step that cannot miss a feature of it, in s.
    pub fn longest_step_s(&self) -> f64 {
        match *self {
            Piece::Line { .. } | Piece::Decay { .. } => f64::INFINITY,
            Piece::Sine { omega, .. } => TAU / omega.abs() / STEPS_PER_PERIOD,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_jump_has_a_value_on_each_side() {
        let drive = Drive::points(vec![(0.0, 0.0), (1.0, 1.0), (1.0, 5.0), (2.0, 5.0)]);
        assert_eq!(drive.corners(0.0, 3.0).len(), 3);
        assert!(drive.corners(0.5, 1.5)[0].jump);
        assert_eq!(drive.piece(0.5).value(1.0), 1.0);
        assert_eq!(drive.piece(1.5).value(1.0), 5.0);
        assert_eq!(drive.piece(9.0).value(9.0), 5.0);
        assert_eq!(drive.initial(), 0.0);
    }

    #[test]
    fn repeated_points_start_over_at_each_period() {
        let points = vec![(0.0, 0.0), (1.0, 2.0), (2.0, 0.0)];
        let drive = Drive {
            constant: 10.0,
            shape: Some(Shape::Points { points, repeat_every_s: Some(4.0) }),
        };
        assert_eq!(drive.piece(4.5).value(4.5), 11.0);
        assert_eq!(drive.piece(3.0).value(3.0), 10.0);
        let times: Vec<f64> = drive.corners(0.0, 6.0).iter().map(|c| c.time_s).collect();
        assert_eq!(times, [0.0, 1.0, 2.0, 4.0, 5.0, 6.0]);
    }

    #[test]
    fn a_sine_is_silent_before_its_delay() {
        let shape = Shape::Sine { amplitude: 2.0, frequency_hz: 1.0, delay_s: 1.0, phase_rad: 0.0 };
        let drive = Drive { constant: 3.0, shape: Some(shape) };
        assert_eq!(drive.piece(0.5).value(0.5), 3.0);
        assert_eq!(drive.piece(1.5).value(1.25), 5.0);
        assert_eq!(drive.corners(0.0, 9.0), [Corner { time_s: 1.0, jump: false }]);
    }

    /// What holds at t = 0 is what the last change before it left, not what was before all changes.
    #[test]
    fn exact_what_happened_before_the_record_has_happened() {
        let step = vec![(-1.0, 1.0), (-0.5, 1.0), (-0.5, 3.0)];
        assert_eq!(Drive::points(step.clone()).initial(), 3.0);
        assert_eq!(Drive::points(vec![(-3.0, 0.0), (1.0, 4.0)]).initial(), 3.0);
        // A jump at 0 itself has still to come.
        assert_eq!(Drive::points(vec![(0.0, 2.0), (0.0, 5.0)]).initial(), 2.0);
        let repeat_every_s = Some(1.0);
        let again =
            Drive { constant: 0.0, shape: Some(Shape::Points { points: step, repeat_every_s }) };
        assert_eq!(again.initial(), 3.0);
        let sine =
            Shape::Sine { amplitude: 2.0, frequency_hz: 1.0, delay_s: -0.25, phase_rad: 0.0 };
        let sine = Drive { constant: 1.0, shape: Some(sine) };
        assert!((sine.initial() - 3.0).abs() < 1e-15);
    }

    /// A billion rounds before the instant asked for are not walked through.
    #[test]
    fn exact_corners_far_along_are_those_of_the_first_rounds_later() {
        let points = vec![(0.0, 0.0), (0.25, 1.0), (0.5, 0.0)];
        let shape = Shape::Points { points, repeat_every_s: Some(1.0) };
        let drive = Drive { constant: 0.0, shape: Some(shape) };
        let times = |from_s: f64| -> Vec<f64> {
            let found = drive.corners(from_s, from_s + 2.0);
            found.iter().map(|c| c.time_s - from_s).collect()
        };
        let far_s = 2.0_f64.powi(40);
        assert_eq!(times(1.0), [0.0, 0.25, 0.5, 1.0, 1.25, 1.5, 2.0]);
        assert_eq!(times(far_s), times(1.0));
        assert_eq!(drive.about_how_many_corners(0.0, 1e9), 3e9);
    }

    #[test]
    fn exact_pieces_follow_one_another_and_tell_their_jumps_and_range() {
        let line = |level: f64| Piece::Line { origin_s: 0.0, level, slope: 0.0 };
        let decay = Piece::Decay { level: 1.0, amplitude: 4.0, tau_s: 2.0, origin_s: 1.0 };
        let sine =
            Piece::Sine { level: 1.0, amplitude: 0.5, omega: TAU, origin_s: 9.0, phase_rad: 0.0 };
        let pieces = vec![(0.0, line(1.0)), (1.0, decay), (9.0, sine)];
        let drive = Drive { constant: 10.0, shape: Some(Shape::Pieces(pieces)) };
        assert_eq!(drive.initial(), 11.0);
        // 4·e^(−1) is left two seconds after the jump.
        assert!((drive.piece(3.0).value(3.0) - 11.0 - 4.0 * (-1.0_f64).exp()).abs() < 1e-14);
        assert!((drive.piece(3.0).slope(3.0) + 2.0 * (-1.0_f64).exp()).abs() < 1e-14);
        let jumps: Vec<bool> = drive.corners(0.0, 20.0).iter().map(|c| c.jump).collect();
        // 4·e^(−4) = 73 mV are cut off where the sine begins.
        assert_eq!(jumps, [true, true]);
        assert_eq!(drive.range(), (10.5, 15.0));
    }
}
