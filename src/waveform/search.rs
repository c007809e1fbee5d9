//! The search for the lowest or highest of many values, with ties told from true extremes.

use super::segment::Segment;
use super::{Extreme, Instant};

/// A search for an extreme through values in time order.
pub(super) struct Search {
    which: Extreme,
    /// The earliest instant that ties with the extreme so far.
    earliest: Option<Instant>,
    /// The extreme so far.
    value: f64,
}

impl Search {
    pub(super) fn new(which: Extreme) -> Self {
        Self { which, earliest: None, value: f64::NAN }
    }

    /// The extreme, and the earliest time that ties with it.
    pub(super) fn found(&self) -> Option<Instant> {
        self.earliest.map(|earliest| Instant { value: self.value, ..earliest })
    }

    /// By how much `value` is more extreme than that of the earliest instant, beyond a tie.
    fn gain(&self, value: f64) -> f64 {
        let Some(earliest) = self.earliest else { return f64::INFINITY };
        let rise = match self.which {
            Extreme::Lowest => earliest.value - value,
            Extreme::Highest => value - earliest.value,
        };
        rise - TIE_ROUNDINGS * f64::EPSILON * earliest.value.abs()
    }

    pub(super) fn look(&mut self, found: Instant) {
        if !found.value.is_finite() {
            return;
        }
        if self.gain(found.value) > 0.0 {
            self.earliest = Some(found);
            self.value = found.value;
        } else {
            self.value = match self.which {
                Extreme::Lowest => self.value.min(found.value),
                Extreme::Highest => self.value.max(found.value),
            };
        }
    }

    /// Whether a segment can hold anything more extreme between its ends.
    pub(super) fn may_be_in(&self, segment: &Segment) -> bool {
        let farthest = match self.which {
            Extreme::Lowest => segment.start.min(segment.end) - segment.reach(),
            Extreme::Highest => segment.start.max(segment.end) + segment.reach(),
        };
        // A tie later than what was found changes at most the last digit: not worth the roots.
        self.gain(farthest) > 0.0 || !farthest.is_finite()
    }
}

/// Values closer than this many roundings tie: a cubic's extreme carries a few of them.
const TIE_ROUNDINGS: f64 = 4.0;
