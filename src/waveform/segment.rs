//! One step of the integrator as a cubic in its own time, and the exact answers it gives: value,
//! extremes, places where it passes a level, moments.
//!
//! A segment of no length is a jump; it has two values and no inside.

use super::{Relation, Window};

/// One segment. With θ = (t − from)/(to − from):
/// v(θ) = (1−θ)·start + θ·(end + (1−θ)·(bend\[0\] + θ·bend\[1\])).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Segment {
    /// s
    pub(super) from_s: f64,
    /// s, never before `from_s`.
    pub(super) to_s: f64,
    pub(super) start: f64,
    pub(super) end: f64,
    pub(super) bend: [f64; 2],
}

/// Up to two places in a segment, rising.
pub(super) type Turns = [Option<f64>; 2];

impl Segment {
    pub(super) fn length_s(&self) -> f64 {
        self.to_s - self.from_s
    }

    pub(super) fn is_jump(&self) -> bool {
        self.length_s() <= 0.0
    }

    /// The place of an instant, kept inside the segment.
    pub(super) fn place(&self, time_s: f64) -> f64 {
        if self.is_jump() {
            return 0.0;
        }
        ((time_s - self.from_s) / self.length_s()).clamp(0.0, 1.0)
    }

    pub(super) fn time(&self, place: f64) -> f64 {
        if place >= 1.0 { self.to_s } else { self.from_s + place * self.length_s() }
    }

    pub(super) fn value(&self, place: f64) -> f64 {
        let left = 1.0 - place;
        left * self.start + place * (self.end + left * (self.bend[0] + place * self.bend[1]))
    }

    /// Coefficients of dv/dθ = c\[0\] + c\[1\]·θ + c\[2\]·θ².
    fn derivative(&self) -> [f64; 3] {
        let [k3, k4] = self.bend;
        [self.end - self.start + k3, 2.0 * (k4 - k3), -3.0 * k4]
    }

    /// dv/dt, per second.
    pub(super) fn rate(&self, place: f64) -> f64 {
        let [a, b, c] = self.derivative();
        (a + place * (b + place * c)) / self.length_s()
    }

    /// d²v/dt², per second squared.
    pub(super) fn curvature(&self, place: f64) -> f64 {
        let [_, b, c] = self.derivative();
        (b + 2.0 * place * c) / self.length_s().powi(2)
    }

    /// Whether the segment can have values on both sides of a level.
    pub(super) fn may_pass(&self, level: f64) -> bool {
        let low = self.start.min(self.end) - reach(self.bend);
        let high = self.start.max(self.end) + reach(self.bend);
        !(low > level || high < level)
    }

    /// Where dv/dθ passes zero strictly between two places, rising.
    pub(super) fn turns(&self, from: f64, to: f64) -> Turns {
        if self.bend == [0.0, 0.0] {
            return [None, None];
        }
        let mut roots = quadratic_roots(self.derivative());
        for root in &mut roots {
            *root = root.filter(|r| *r > from && *r < to);
        }
        match roots {
            [Some(a), Some(b)] if b < a => [Some(b), Some(a)],
            [None, b] => [b, None],
            sorted => sorted,
        }
    }

    /// The place between two others at which the value passes `level` and `holds` (told the
    /// value) changes, given that the segment rises or falls throughout and that `holds` differs
    /// at both ends.
    ///
    /// Newton's method kept inside a shrinking bracket; ends when the bracket cannot shrink. An end
    /// that is at the level within rounding is the answer itself: a touch then ends exactly at
    /// the turn, from both sides.
    pub(super) fn pass(&self, from: f64, to: f64, level: f64, holds: impl Fn(f64) -> bool) -> f64 {
        let size = self.start.abs() + self.end.abs() + self.bend[0].abs() + self.bend[1].abs();
        let rounding = 2.0 * f64::EPSILON * size;
        if let Some(end) =
            [from, to].into_iter().find(|end| (self.value(*end) - level).abs() <= rounding)
        {
            return end;
        }
        let at_first = holds(self.value(from));
        if self.bend == [0.0, 0.0] {
            let share = (level - self.start) / (self.end - self.start);
            return if share.is_finite() { share.clamp(from, to) } else { from };
        }
        let (mut low, mut high) = (from, to);
        let [a, b, c] = self.derivative();
        let mut place = 0.5 * (low + high);
        for _ in 0..MOST_HALVINGS {
            if holds(self.value(place)) == at_first {
                low = place;
            } else {
                high = place;
            }
            let slope = a + place * (b + place * c);
            let newton = place - (self.value(place) - level) / slope;
            let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
            if (next - place).abs() <= f64::EPSILON * place || next <= low || next >= high {
                return next;
            }
            place = next;
        }
        place
    }

    /// The part between two places, between which it rises or falls throughout, on one side of a level.
    pub(super) fn stretch(
        &self,
        [from, to]: [f64; 2],
        side: Relation,
        level: f64,
    ) -> Option<(f64, f64)> {
        let holds = |value: f64| side.holds(value, level);
        match (holds(self.value(from)), holds(self.value(to))) {
            (true, true) => Some((from, to)),
            (false, false) => None,
            (true, false) => Some((from, self.pass(from, to, level, holds))),
            (false, true) => Some((self.pass(from, to, level, holds), to)),
        }
    }

    /// ∫ weight(t)·v dt between two places, exact up to rounding for weights up to degree six:
    /// Gauss's rule with five points integrates degree nine.
    pub(super) fn integral(&self, from: f64, to: f64, weight: impl Fn(f64) -> f64) -> f64 {
        let half = 0.5 * (to - from);
        let middle = 0.5 * (to + from);
        let mut sum = 0.0;
        for (node, share) in GAUSS_5 {
            let place = middle + half * node;
            let time_s = self.from_s + place * self.length_s();
            sum += share * half * self.length_s() * weight(time_s) * self.value(place);
        }
        sum
    }

    /// ∫ v² dt between two places, exact up to rounding.
    pub(super) fn square(&self, from: f64, to: f64) -> f64 {
        let half = 0.5 * (to - from);
        let middle = 0.5 * (to + from);
        let squares = GAUSS_5.map(|(node, share)| share * self.value(middle + half * node).powi(2));
        half * self.length_s() * squares.iter().sum::<f64>()
    }
}

/// How far at most a segment leaves the straight line between its ends: θ·(1 − θ) ≤ ¼.
#[inline]
pub(super) fn reach(bend: [f64; 2]) -> f64 {
    0.25 * (bend[0].abs() + bend[1].abs())
}

/// Every segment of some length that reaches into the window, with the places between which it does. They
/// come in time order.
pub(super) fn pieces(
    segments: impl Iterator<Item = Segment>,
    window: Window,
    mut look: impl FnMut(&Segment, f64, f64),
) {
    for segment in segments {
        if segment.from_s >= window.to_s {
            return;
        }
        let whole = segment.from_s >= window.from_s && segment.to_s <= window.to_s;
        let (from, to) = if whole && !segment.is_jump() {
            (0.0, 1.0)
        } else {
            (segment.place(window.from_s), segment.place(window.to_s))
        };
        if from < to {
            look(&segment, from, to);
        }
    }
}

/// Enough for Newton's method to fall back on halving throughout and still end at rounding.
const MOST_HALVINGS: usize = 80;

/// Gauss–Legendre nodes and weights on \[−1, 1\]: 0 and ±√(5 ∓ 2√(10/7))/3 with 128/225 and
/// (322 ± 13√70)/900.
const GAUSS_5: [(f64, f64); 5] = [
    (-0.906_179_845_938_664, 0.236_926_885_056_189_08),
    (-0.538_469_310_105_683_1, 0.478_628_670_499_366_47),
    (0.0, 128.0 / 225.0),
    (0.538_469_310_105_683_1, 0.478_628_670_499_366_47),
    (0.906_179_845_938_664, 0.236_926_885_056_189_08),
];

/// Real roots of a + b·x + c·x², without cancellation.
fn quadratic_roots([a, b, c]: [f64; 3]) -> Turns {
    let finite = |x: f64| x.is_finite().then_some(x);
    let inside = b * b - 4.0 * a * c;
    if inside < 0.0 {
        return [None, None];
    }
    let q = -0.5 * (b + inside.sqrt().copysign(b));
    if q == 0.0 {
        // b = 0 and a·c = 0: either x = 0 (c ≠ 0) or no root at all.
        return [(c != 0.0).then_some(0.0), None];
    }
    [finite(a / q), finite(q / c)]
}
