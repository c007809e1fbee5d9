//! Where along a straight line in the map a requirement stops to hold: brackets that close in on
//! the crossing, all of them one run a round.

use super::field::{Kind, Place, Probe, Sample};
use crate::study::Halt;

/// Every so many rounds a bracket is halved, whatever the slacks promise.
const HALVED_EVERY: usize = 3;

/// A line from a place that holds to one that does not, or the other way round, with the crossing
/// closed in on it. Positions on it go from 0 to 1.
#[derive(Clone, Debug)]
pub(super) struct Bracket {
    pub(super) from: Place,
    pub(super) to: Place,
    /// Good enough, as a share of the line.
    pub(super) near: f64,
    low: (f64, Sample),
    high: (f64, Sample),
    /// The end that was given up last, with its slack: what bends the line.
    spare: Option<(f64, f64)>,
    rounds: usize,
    /// What the crossing was taken for before the last run.
    guess: Option<f64>,
}

/// When a bracket is good enough.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Until {
    /// The crossing moves no more: its place is told, between two runs.
    Still,
    /// Two runs stand on both sides of it: what holds and what does not are told.
    Closed,
}

impl Bracket {
    /// `None` where both ends are on the same side.
    pub(super) fn new(
        (from, first): (Place, Sample),
        (to, last): (Place, Sample),
        near: f64,
    ) -> Option<Self> {
        let (low, high) = ((0.0, first), (1.0, last));
        let (spare, rounds, guess) = (None, 0, None);
        (first.holds != last.holds).then_some(Self {
            from,
            to,
            near,
            low,
            high,
            spare,
            rounds,
            guess,
        })
    }

    pub(super) fn place(&self, t: f64) -> Place {
        let along = |k: usize| self.from[k] + t * (self.to[k] - self.from[k]);
        [along(0), along(1)]
    }

    /// Where the crossing is taken for: by the slacks where both ends have one, through a third run
    /// where there is one; else the middle.
    pub(super) fn crossing(&self) -> f64 {
        let ((low, a), (high, b)) = (self.low, self.high);
        let (Some(a), Some(b)) = (a.slack, b.slack) else { return f64::midpoint(low, high) };
        if !((a - b).is_finite() && a != b) {
            return f64::midpoint(low, high);
        }
        let straight = low + (high - low) * (a / (a - b)).clamp(0.0, 1.0);
        self.spare.and_then(|spare| bent((low, a), (high, b), spare)).unwrap_or(straight)
    }

    /// The innermost positions known to hold and known to miss.
    pub(super) fn ends(&self) -> (f64, f64) {
        if self.low.1.holds { (self.low.0, self.high.0) } else { (self.high.0, self.low.0) }
    }

    fn is_blind(&self) -> bool {
        self.low.1.slack.is_none() || self.high.1.slack.is_none()
    }

    /// The next position to run; `None` when it is good enough.
    fn next(&self, until: Until) -> Option<f64> {
        let (low, high) = (self.low.0, self.high.0);
        if high - low <= self.near {
            return None;
        }
        let crossing = self.crossing();
        let halved = until == Until::Closed && self.rounds % HALVED_EVERY == HALVED_EVERY - 1;
        if self.is_blind() || halved {
            return Some(f64::midpoint(low, high));
        }
        let aim = match until {
            Until::Still => {
                let still = self.guess.is_some_and(|guess| (guess - crossing).abs() <= self.near);
                if still {
                    return None;
                }
                crossing
            }
            // A little beyond the crossing, on the side of the farther end, so that the bracket
            // closes from there.
            Until::Closed if high - crossing > crossing - low => crossing + 0.5 * self.near,
            Until::Closed => crossing - 0.5 * self.near,
        };
        let air = 0.25 * self.near;
        Some(aim.clamp(low + air, high - air))
    }

    fn take(&mut self, t: f64, sample: Sample) {
        self.guess = Some(self.crossing());
        self.rounds += 1;
        let end = if sample.holds == self.low.1.holds { &mut self.low } else { &mut self.high };
        let (was, given_up) = std::mem::replace(end, (t, sample));
        self.spare = given_up.slack.map(|slack| (was, slack));
    }
}

/// Where the parabola through three points is zero between the first two, which lie on both sides.
fn bent((x, f): (f64, f64), (y, g): (f64, f64), (z, h): (f64, f64)) -> Option<f64> {
    let width = y - x;
    let slope = (g - f) / width;
    let bend = ((h - g) / (z - y) - slope) / (z - x);
    let linear = slope - bend * width;
    let root = (linear * linear - 4.0 * bend * f).sqrt();
    let q = -0.5 * (linear + root.copysign(linear));
    let ways = [q / bend, f / q];
    ways.into_iter().find(|way| (0.0..=width).contains(way)).map(|way| x + way)
}

/// Closes brackets, one run of each a round, `most` rounds at the most.
pub(super) fn close(
    probe: &mut dyn Probe,
    brackets: &mut [Bracket],
    until: Until,
    most: usize,
) -> Result<(), Halt> {
    for _ in 0..most {
        let open = brackets.iter().enumerate().filter_map(|(k, b)| Some((k, b.next(until)?)));
        let open: Vec<(usize, f64)> = open.collect();
        if open.is_empty() {
            break;
        }
        let places: Vec<Place> = open.iter().map(|&(k, t)| brackets[k].place(t)).collect();
        let samples = probe.samples(&places, Kind::Edge)?;
        for (&(k, t), sample) in open.iter().zip(samples) {
            brackets[k].take(t, sample);
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

    use super::super::field::analytic::Analytic;
    use super::{Bracket, Until, close};
    use crate::study::map::field::Probe as _;

    fn bracket(field: &mut Analytic, near: f64) -> Bracket {
        let ends = [[0.0, 0.0], [1.0, 0.0]];
        let samples = field.samples(&ends, super::Kind::Grid).unwrap();
        Bracket::new((ends[0], samples[0]), (ends[1], samples[1]), near).unwrap()
    }

    #[test]
    fn exact_crossing_of_a_bent_line_in_three_rounds() {
        // 1/3 - x³ crosses at the cube root of 1/3.
        let mut field = Analytic::new(|[x, _]| 1.0 / 3.0 - x * x * x);
        let mut brackets = [bracket(&mut field, 0.01)];
        close(&mut field, &mut brackets, Until::Still, 3).unwrap();
        let root = (1.0f64 / 3.0).cbrt();
        assert!((brackets[0].crossing() - root).abs() < 0.01, "{}", brackets[0].crossing());
        assert!(field.runs <= 2 + 3);
    }

    #[test]
    fn exact_crossing_of_a_parabola_after_one_run() {
        let mut field = Analytic::new(|[x, _]| 1.0 / 3.0 - x * x);
        let mut brackets = [bracket(&mut field, 0.01)];
        close(&mut field, &mut brackets, Until::Still, 1).unwrap();
        assert!((brackets[0].crossing() - (1.0f64 / 3.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn closed_ends_stand_on_both_sides_and_near() {
        let mut field = Analytic::new(|[x, _]| 0.01 / (x + 0.01) - 0.1);
        let mut brackets = [bracket(&mut field, 0.002)];
        close(&mut field, &mut brackets, Until::Closed, 16).unwrap();
        let (holds, misses) = brackets[0].ends();
        assert!(holds <= 0.09 && misses > 0.09 && misses - holds <= 0.002, "{holds} {misses}");
    }

    #[test]
    fn without_numbers_a_bracket_is_halved() {
        let mut field = Analytic::new(|[x, _]| 0.3 - x);
        field.blind_beyond = Some(0.3);
        let mut brackets = [bracket(&mut field, 0.01)];
        close(&mut field, &mut brackets, Until::Still, 3).unwrap();
        let (holds, misses) = brackets[0].ends();
        assert_eq!((holds, misses), (0.25, 0.375));
    }
}
