//! Points of a curve that a page can do without.

use crate::output::plot::thin::straightened;

/// How closely a thinned curve is followed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fineness {
    /// To be looked into.
    Resting,
    /// One frame of many.
    Moving,
}

impl Fineness {
    /// A point goes only where the line between its neighbours passes it within this share of the curve's
    /// height: a twentieth of a pixel on a screen, and little when an edge is magnified; half a pixel while it
    /// moves.
    fn share(self) -> f64 {
        match self {
            Self::Resting => 2e-4,
            Self::Moving => 2e-3,
        }
    }
}

/// More points than this are thinned further, by twice the share each time, to
const MOST_POINTS: usize = 6000;
/// this share at most.
const LARGEST_SHARE: f64 = 0.02;

/// Straight lines from kept point to kept point that pass every other within a share of the curve's
/// height. Ends and both sides of a jump stay.
pub(super) fn thinned(points: &[(f64, f64)], fineness: Fineness) -> Vec<(f64, f64)> {
    let finite: Vec<(f64, f64)> = points.iter().copied().filter(|(_, v)| v.is_finite()).collect();
    let (low, high) =
        finite.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (_, v)| {
            (low.min(*v), high.max(*v))
        });
    let mut share = fineness.share();
    loop {
        let kept = straightened(&finite, share * (high - low));
        if kept.len() <= MOST_POINTS || share >= LARGEST_SHARE {
            return kept;
        }
        share *= 2.0;
    }
}

#[cfg(test)]
mod tests {
    use super::Fineness::{Moving, Resting};
    use super::thinned;

    #[test]
    fn a_straight_line_becomes_its_ends_and_corners_stay() {
        let line: Vec<(f64, f64)> =
            (0..100).map(|k| (f64::from(k), f64::from(k.min(50)))).collect();
        assert_eq!(thinned(&line, Resting), [(0.0, 0.0), (50.0, 50.0), (99.0, 50.0)]);
        assert!(thinned(&[], Resting).is_empty());
        assert_eq!(thinned(&[(1.0, 2.0)], Resting), [(1.0, 2.0)]);
    }

    #[test]
    fn both_sides_of_a_jump_stay() {
        let jump = [(0.0, 1.0), (1.0, 1.0), (1.0, 3.0), (2.0, 3.0), (3.0, f64::NAN)];
        assert_eq!(thinned(&jump, Resting), [(0.0, 1.0), (1.0, 1.0), (1.0, 3.0), (2.0, 3.0)]);
    }

    #[test]
    fn every_point_is_passed_within_the_share() {
        let wave: Vec<(f64, f64)> = (0..5000)
            .map(|k| {
                let t = f64::from(k) * 1e-3;
                (t, (-t).exp() * (20.0 * t).sin())
            })
            .collect();
        for (fineness, fewer) in [(Resting, 4), (Moving, 12)] {
            let kept = thinned(&wave, fineness);
            assert!(kept.len() < wave.len() / fewer, "{}", kept.len());
            let height = 2.0; // at most
            for (t, v) in &wave {
                let after = kept.partition_point(|(at, _)| at < t).max(1);
                let ((t0, v0), (t1, v1)) = (kept[after - 1], kept[after]);
                let on_line = v0 + (v1 - v0) * (t - t0) / (t1 - t0);
                assert!((on_line - v).abs() <= 1.01 * fineness.share() * height, "{t}");
            }
        }
    }
}
