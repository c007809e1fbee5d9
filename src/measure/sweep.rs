//! What is read off curves of rests over a level that is moved: where a quantity falls through a
//! level, and how far two curves lie apart.

/// The first index whose value is at or below `level` while the one before is above it.
///
/// Values that are not finite are neither.
pub fn falls_through(values: &[f64], level: f64) -> Option<usize> {
    let pairs = values.iter().zip(values.iter().skip(1));
    pairs.enumerate().find(|(_, (a, b))| **a > level && **b <= level).map(|(k, _)| k + 1)
}

/// The greatest difference between two curves of (level, value) at levels that both have, and the
/// lowest level where it is so great; `None` if they share none.
///
/// Where a curve has several values at one level, at a jump, the nearest pair counts: which side of
/// its own jump a curve was on exactly there says nothing of the other curve.
pub fn greatest_difference(one: &[(f64, f64)], other: &[(f64, f64)]) -> Option<(f64, f64)> {
    let [one, other] = [one, other].map(|curve| {
        let mut sorted: Vec<(f64, f64)> =
            curve.iter().copied().filter(|p| p.0.is_finite() && p.1.is_finite()).collect();
        sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
        sorted
    });
    let levels = |curve: &'_ [(f64, f64)], from: usize| {
        curve[from..].iter().take_while(|p| p.0 == curve[from].0).count()
    };
    let mut greatest: Option<(f64, f64)> = None;
    let (mut i, mut j) = (0, 0);
    while i < one.len() && j < other.len() {
        let (m, n) = (levels(&one, i), levels(&other, j));
        if one[i].0 < other[j].0 {
            i += m;
        } else if one[i].0 > other[j].0 {
            j += n;
        } else {
            let pairs =
                one[i..i + m].iter().flat_map(|a| other[j..j + n].iter().map(move |b| (a, b)));
            let nearest = pairs.map(|(a, b)| (a.1 - b.1).abs()).fold(f64::INFINITY, f64::min);
            if greatest.is_none_or(|(known, _)| nearest > known) {
                greatest = Some((nearest, one[i].0));
            }
            (i, j) = (i + m, j + n);
        }
    }
    greatest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_the_first_fall_through_a_level_is_found() {
        assert_eq!(falls_through(&[3.0, 2.0, 1.0, 2.5, 0.5], 1.5), Some(2));
        assert_eq!(falls_through(&[3.0, 2.0, 2.0, 1.0], 2.0), Some(1));
        assert_eq!(falls_through(&[1.0, 0.5, 3.0], 2.0), None);
        assert_eq!(falls_through(&[3.0, f64::NAN, 1.0], 2.0), None);
        assert_eq!(falls_through(&[], 2.0), None);
    }

    #[test]
    fn exact_curves_differ_most_where_their_branches_lie_apart() {
        // Falls at 1, rises at 3: between, the branches lie 5 apart.
        let falling = [(4.0, 5.0), (3.0, 5.0), (2.0, 5.0), (1.0, 5.0), (1.0, 0.0), (0.0, 0.0)];
        let rising = [(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (3.0, 0.0), (3.0, 5.0), (4.0, 5.0)];
        assert_eq!(greatest_difference(&falling, &rising), Some((5.0, 2.0)));
        assert_eq!(greatest_difference(&falling, &falling), Some((0.0, 0.0)));
        assert_eq!(greatest_difference(&falling, &[(7.0, 1.0)]), None);
    }
}
