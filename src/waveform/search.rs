//! The search for the lowest or highest of many values, with ties told from true extremes.

use super::segment::Segment;
use super::{Extreme, Instant};

/// A search for an extreme through values in time order. Of the lowest it is that of the highest
/// upside down.
pub(super) struct Search {
    /// 1 for the highest, −1 for the lowest.
    sign: f64,
    /// The earliest instant that ties with the extreme so far.
    earliest: Option<Instant>,
    /// The extreme so far, times the sign.
    height: f64,
    /// What is above this is more extreme than the earliest instant, beyond a tie.
    tie: f64,
}

impl Search {
    pub(super) fn new(which: Extreme) -> Self {
        let sign = match which {
            Extreme::Lowest => -1.0,
            Extreme::Highest => 1.0,
        };
        Self { sign, earliest: None, height: f64::NEG_INFINITY, tie: f64::NEG_INFINITY }
    }

    /// The extreme, and the earliest time that ties with it.
    pub(super) fn found(&self) -> Option<Instant> {
        self.earliest.map(|earliest| Instant { value: self.sign * self.height, ..earliest })
    }

    #[inline]
    pub(super) fn look(&mut self, time_s: f64, value: f64) {
        let height = self.sign * value;
        // Nearly always not; nor where it is not a number.
        if height > self.height && height < f64::INFINITY {
            self.height = height;
            if height > self.tie {
                self.earliest = Some(Instant { time_s, value });
                self.tie = height + TIE_ROUNDINGS * f64::EPSILON * height.abs();
            }
        }
    }

    /// Whether a segment can hold anything more extreme between its ends.
    #[inline]
    pub(super) fn may_be_in(&self, segment: &Segment) -> bool {
        let (start, end) = (self.sign * segment.start, self.sign * segment.end);
        let farthest = if start > end { start } else { end } + segment.reach();
        // A tie later than what was found changes at most the last digit: not worth the roots. What
        // is not a number may hide anything.
        !(farthest <= self.tie)
    }
}

/// Values closer than this many roundings tie: a cubic's extreme carries a few of them.
const TIE_ROUNDINGS: f64 = 4.0;
