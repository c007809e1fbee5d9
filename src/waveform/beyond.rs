//! Which segments of a signal may hold values beyond a level. Most hold none, which their ends and bends tell
//! without a look at where they lie in time.

use super::Relation;
use super::segment::{Segment, reach};

/// One side of a level. Below it is above the negative of it, upside down.
#[derive(Clone, Copy, Debug)]
pub(super) struct Beyond {
    /// 1 above, −1 below.
    pub(super) sign: f64,
    /// The level times the sign.
    pub(super) height: f64,
}

/// Segments looked at in one go.
const GO: usize = 8;

impl Beyond {
    pub(super) fn new(side: Relation, level: f64) -> Self {
        let sign = match side {
            Relation::Below => -1.0,
            Relation::Above => 1.0,
        };
        Self { sign, height: sign * level }
    }

    /// Whether a segment may hold values beyond. What is not a number may hide anything.
    #[inline]
    pub(super) fn may_be_in(self, segment: &Segment) -> bool {
        self.may_be_between([segment.start, segment.end], segment.bend)
    }

    #[inline]
    fn may_be_between(self, [start, end]: [f64; 2], bend: [f64; 2]) -> bool {
        let (start, end) = (self.sign * start, self.sign * end);
        !(if start > end { start } else { end } + reach(bend) <= self.height)
    }

    /// How many segments, from the first on, hold nothing beyond: all, or as many as come before one that
    /// may. There is one between each two values; those without bends are straight.
    pub(super) fn nothing_in(self, values: &[f64], bends: &[[f64; 2]]) -> usize {
        let segments = values.len().saturating_sub(1);
        let may_be_in = |k: usize| {
            let bend = bends.get(k).copied().unwrap_or([0.0; 2]);
            self.may_be_between([values[k], values[k + 1]], bend)
        };
        if segments == 0 || may_be_in(0) {
            return 0;
        }
        let goes = values[1..]
            .windows(GO + 1)
            .step_by(GO)
            .zip(bends[1.min(bends.len())..].chunks_exact(GO));
        // Without a branch for each, several are compared at once.
        let is_empty = |(values, bends): &(&[f64], &[[f64; 2]])| {
            let each = values.iter().zip(&values[1..]).zip(*bends);
            !each.fold(false, |any, ((start, end), bend)| {
                any | self.may_be_between([*start, *end], *bend)
            })
        };
        let passed = 1 + GO * goes.take_while(is_empty).count();
        (passed..segments).find(|&k| may_be_in(k)).unwrap_or(segments)
    }
}
