//! Points of a curve that a page can do without.

/// A point goes only where the line between its neighbours passes it within this share of the curve's
/// height: a fifth of a pixel on a screen, and little when an edge is magnified.
const SHARE: f64 = 2e-4;
/// More points than this are thinned further, by twice the share each time, to
const MOST_POINTS: usize = 6000;
/// this share at most.
const LARGEST_SHARE: f64 = 0.02;

/// Straight lines from kept point to kept point that pass every other within a share of the curve's
/// height. Ends and both sides of a jump stay.
pub(super) fn thinned(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let finite = points.iter().filter(|(_, v)| v.is_finite());
    let (low, high) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (_, v)| {
        (low.min(*v), high.max(*v))
    });
    let mut share = SHARE;
    loop {
        let kept = within(points, share * (high - low));
        if kept.len() <= MOST_POINTS || share >= LARGEST_SHARE {
            return kept;
        }
        share *= 2.0;
    }
}

/// The line from the last kept point may turn only within the window that every point since has left
/// open.
fn within(points: &[(f64, f64)], error: f64) -> Vec<(f64, f64)> {
    let mut kept: Vec<(f64, f64)> = Vec::new();
    let mut open = (f64::NEG_INFINITY, f64::INFINITY);
    let mut last: Option<(f64, f64)> = None;
    for &(t, v) in points.iter().filter(|(_, v)| v.is_finite()) {
        let from = kept.last().copied();
        if let (Some((t0, v0)), Some(before)) = (from, last) {
            let slope = (v - v0) / (t - t0);
            let jumped = before.0 <= t0 && before != (t0, v0);
            if jumped || !(slope >= open.0 && slope <= open.1) {
                if before != (t0, v0) {
                    kept.push(before);
                }
                open = (f64::NEG_INFINITY, f64::INFINITY);
            }
        } else {
            kept.push((t, v));
        }
        if let Some(&(t0, v0)) = kept.last()
            && t > t0
        {
            let (lower, upper) = ((v - error - v0) / (t - t0), (v + error - v0) / (t - t0));
            open = (open.0.max(lower), open.1.min(upper));
        }
        last = Some((t, v));
    }
    kept.extend(last.filter(|last| kept.last() != Some(last)));
    kept
}

#[cfg(test)]
mod tests {
    use super::{SHARE, thinned};

    #[test]
    fn a_straight_line_becomes_its_ends_and_corners_stay() {
        let line: Vec<(f64, f64)> =
            (0..100).map(|k| (f64::from(k), f64::from(k.min(50)))).collect();
        assert_eq!(thinned(&line), [(0.0, 0.0), (50.0, 50.0), (99.0, 50.0)]);
        assert!(thinned(&[]).is_empty());
        assert_eq!(thinned(&[(1.0, 2.0)]), [(1.0, 2.0)]);
    }

    #[test]
    fn both_sides_of_a_jump_stay() {
        let jump = [(0.0, 1.0), (1.0, 1.0), (1.0, 3.0), (2.0, 3.0), (3.0, f64::NAN)];
        assert_eq!(thinned(&jump), [(0.0, 1.0), (1.0, 1.0), (1.0, 3.0), (2.0, 3.0)]);
    }

    #[test]
    fn every_point_is_passed_within_the_share() {
        let wave: Vec<(f64, f64)> = (0..5000)
            .map(|k| {
                let t = f64::from(k) * 1e-3;
                (t, (-t).exp() * (20.0 * t).sin())
            })
            .collect();
        let kept = thinned(&wave);
        assert!(kept.len() < wave.len() / 4, "{}", kept.len());
        let height = 2.0; // at most
        for (t, v) in &wave {
            let after = kept.partition_point(|(at, _)| at < t).max(1);
            let ((t0, v0), (t1, v1)) = (kept[after - 1], kept[after]);
            let on_line = v0 + (v1 - v0) * (t - t0) / (t1 - t0);
            assert!((on_line - v).abs() <= 1.01 * SHARE * height, "{t}");
        }
    }
}
