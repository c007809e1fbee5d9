//! A curve cut to a window and thinned to what the page can show, with no extreme lost.

use super::ticks::LARGEST;

/// The parts of a curve inside `from..=to`, cut exactly at the ends of the window.
///
/// Where a point is not a number the line is interrupted. A run of more than four points a
/// column keeps the first, lowest, highest and last point of each of `columns` columns.
pub(in crate::output) fn thin(
    points: &[(f64, f64)],
    (from, to): (f64, f64),
    columns: usize,
) -> Vec<Vec<(f64, f64)>> {
    cut(points, from, to).into_iter().map(|run| reduce(run, from, to, columns)).collect()
}

/// The points that remain when every other one lies within `tolerance` of the straight line between
/// its neighbours that stay, measured in height. Both ends stay, and so does what turns back or jumps.
///
/// One pass: a line from the last point kept may go on as long as it can pass all points on its way.
pub(in crate::output) fn straightened(points: &[(f64, f64)], tolerance: f64) -> Vec<(f64, f64)> {
    let Some((&first, rest)) = points.split_first() else { return Vec::new() };
    let mut kept = vec![first];
    let (mut from, mut last) = (first, first);
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    for &point in rest {
        let rise = (point.1 - from.1) / (point.0 - from.0);
        if !(point.0 > from.0 && point.0 > last.0 && low <= rise && rise <= high) {
            if last != from {
                kept.push(last);
            }
            from = last;
            (low, high) = (f64::NEG_INFINITY, f64::INFINITY);
        }
        let reach = point.0 - from.0;
        if reach > 0.0 {
            low = low.max((point.1 - tolerance - from.1) / reach);
            high = high.min((point.1 + tolerance - from.1) / reach);
        } else if point != from {
            kept.push(point);
            from = point;
        }
        last = point;
    }
    if last != from {
        kept.push(last);
    }
    kept
}

/// Lowest and highest value of a curve inside the window.
pub(super) fn extent(points: &[(f64, f64)], (from, to): (f64, f64)) -> Option<(f64, f64)> {
    let inside = cut(points, from, to);
    inside.iter().flatten().fold(None, |found: Option<(f64, f64)>, &(_, value)| {
        Some(found.map_or((value, value), |(low, high)| (low.min(value), high.max(value))))
    })
}

fn cut(points: &[(f64, f64)], from: f64, to: f64) -> Vec<Vec<(f64, f64)>> {
    let usable = |&(t, v): &(f64, f64)| t.abs() <= LARGEST && v.abs() <= LARGEST;
    let mut runs = Vec::new();
    let mut run: Vec<(f64, f64)> = Vec::new();
    for pair in points.windows(2) {
        let [a, b] = pair else { continue };
        if !(usable(a) && usable(b)) || b.0 < from || a.0 > to || b.0 < a.0 {
            if !run.is_empty() {
                runs.push(std::mem::take(&mut run));
            }
            continue;
        }
        if run.is_empty() {
            run.push(if a.0 < from { between(*a, *b, from) } else { *a });
        }
        run.push(if b.0 > to { between(*a, *b, to) } else { *b });
    }
    if !run.is_empty() {
        runs.push(run);
    }
    runs
}

fn between(a: (f64, f64), b: (f64, f64), t: f64) -> (f64, f64) {
    let share = (t - a.0) / (b.0 - a.0);
    (t, a.1 + share * (b.1 - a.1))
}

fn reduce(run: Vec<(f64, f64)>, from: f64, to: f64, columns: usize) -> Vec<(f64, f64)> {
    if run.len() <= 4 * columns {
        return run;
    }
    let column = |t: f64| ((t - from) / (to - from) * columns as f64) as usize;
    let mut kept = Vec::with_capacity(4 * columns);
    for group in run.chunk_by(|a, b| column(a.0) == column(b.0)) {
        let by_value = |a: &(usize, f64), b: &(usize, f64)| a.1.total_cmp(&b.1);
        let values = || group.iter().map(|p| p.1).enumerate();
        let lowest = values().min_by(by_value).map_or(0, |(i, _)| i);
        let highest = values().max_by(by_value).map_or(0, |(i, _)| i);
        let mut wanted = [0, lowest, highest, group.len() - 1];
        wanted.sort_unstable();
        let mut last = None;
        for index in wanted {
            if last != Some(index) {
                kept.extend(group.get(index));
                last = Some(index);
            }
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::{extent, straightened, thin};
    use proptest::prelude::{prop, proptest};

    #[test]
    fn a_curve_is_cut_at_the_ends_of_the_window_by_interpolation() {
        let points = [(0.0, 0.0), (1.0, 10.0), (2.0, 10.0), (2.0, -10.0), (4.0, 30.0)];
        assert_eq!(
            thin(&points, (0.5, 3.0), 100),
            vec![vec![(0.5, 5.0), (1.0, 10.0), (2.0, 10.0), (2.0, -10.0), (3.0, 10.0)]]
        );
        assert_eq!(extent(&points, (0.5, 3.0)), Some((-10.0, 10.0)));
        assert_eq!(extent(&points, (5.0, 6.0)), None);
    }

    #[test]
    fn what_is_not_a_number_interrupts_the_line() {
        let points = [(0.0, 1.0), (1.0, 2.0), (2.0, f64::NAN), (3.0, 4.0), (4.0, 5.0)];
        assert_eq!(
            thin(&points, (0.0, 4.0), 10),
            vec![vec![(0.0, 1.0), (1.0, 2.0)], vec![(3.0, 4.0), (4.0, 5.0)]]
        );
    }

    #[test]
    fn a_spike_of_one_sample_among_a_hundred_thousand_is_kept() {
        let mut points: Vec<(f64, f64)> =
            (0..100_000).map(|i| (f64::from(i), f64::from(i % 7))).collect();
        points[61_803].1 = 99.0;
        points[61_804].1 = -99.0;
        let kept = &thin(&points, (0.0, 99_999.0), 500)[0];
        assert!(kept.len() <= 4 * 501);
        assert!(kept.contains(&(61_803.0, 99.0)) && kept.contains(&(61_804.0, -99.0)));
        assert_eq!((kept[0], kept[kept.len() - 1]), (points[0], points[99_999]));
    }

    #[test]
    fn a_straight_line_keeps_its_ends_and_a_jump_both_its_sides() {
        let line: Vec<(f64, f64)> = (0..50).map(|i| (f64::from(i), 2.0 * f64::from(i))).collect();
        assert_eq!(straightened(&line, 1e-9), [(0.0, 0.0), (49.0, 98.0)]);
        let jump = [(0.0, 1.0), (1.0, 1.0), (2.0, 1.0), (2.0, 5.0), (3.0, 5.0), (4.0, 5.0)];
        assert_eq!(straightened(&jump, 0.1), [(0.0, 1.0), (2.0, 1.0), (2.0, 5.0), (4.0, 5.0)]);
        let back = [(0.0, 0.0), (1.0, 1.0), (0.5, 2.0), (0.0, 0.0)];
        assert_eq!(straightened(&back, 0.1), back);
        assert_eq!(straightened(&[(3.0, 4.0)], 0.1), [(3.0, 4.0)]);
    }

    proptest! {
        #[test]
        fn no_point_left_out_is_farther_from_the_line_than_allowed(
            values in prop::collection::vec(-1f64..1.0, 2..200), tolerance in 1e-3f64..1.0,
        ) {
            let points: Vec<(f64, f64)> = values.iter().enumerate().map(|(i, v)| (i as f64, *v)).collect();
            let kept = straightened(&points, tolerance);
            for &(t, v) in &points {
                let pair = kept.windows(2).find(|p| p[0].0 <= t && t <= p[1].0);
                let Some(pair) = pair else { panic!("{t} lies beside all of them") };
                let share = (t - pair[0].0) / (pair[1].0 - pair[0].0);
                let drawn = pair[0].1 + share * (pair[1].1 - pair[0].1);
                assert!((drawn - v).abs() <= tolerance * (1.0 + 1e-9), "{t}: {drawn} {v}");
            }
        }

        #[test]
        fn thinning_keeps_the_extremes_and_the_order(values in prop::collection::vec(-1e3f64..1e3, 2..400)) {
            let points: Vec<(f64, f64)> = values.iter().enumerate().map(|(i, v)| (i as f64, *v)).collect();
            let window = (0.0, (values.len() - 1) as f64);
            let kept: Vec<(f64, f64)> = thin(&points, window, 5).concat();
            assert_eq!(extent(&kept, window), extent(&points, window));
            assert!(kept.windows(2).all(|p| p[0].0 < p[1].0));
            assert!(kept.len() <= 4 * 6);
        }
    }
}
