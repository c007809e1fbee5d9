//! Slanted lines over polygons, one line wherever polygons touch.

use std::collections::BTreeMap;

/// px between two lines, measured along an axis.
const APART: f64 = 12.0;
/// px that ends of pieces of a line may be apart and still be one.
const TOUCHING: f64 = 1.0;

/// Which way lines go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Slant {
    /// Up to the right.
    Up,
    /// Down to the right.
    Down,
}

/// Lines that cover the polygons.
pub(super) fn lines(polygons: &[Vec<(f64, f64)>], slant: Slant) -> Vec<[(f64, f64); 2]> {
    // On a line that goes up to the right, x + y on the page is constant; else y − x.
    let sign = if slant == Slant::Up { 1.0 } else { -1.0 };
    let mut pieces: BTreeMap<i64, Vec<(f64, f64)>> = BTreeMap::new();
    for polygon in polygons {
        for (index, crossings) in crossed(polygon, sign) {
            let pairs = crossings.chunks_exact(2).map(|pair| (pair[0], pair[1]));
            pieces.entry(index).or_default().extend(pairs);
        }
    }
    let mut found = Vec::new();
    for (index, mut spans) in pieces {
        spans.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut merged: Vec<(f64, f64)> = Vec::new();
        for span in spans {
            match merged.last_mut().filter(|last| span.0 <= last.1 + TOUCHING) {
                Some(last) => last.1 = last.1.max(span.1),
                None => merged.push(span),
            }
        }
        let y = |x: f64| index as f64 * APART - sign * x;
        found.extend(merged.into_iter().map(|(from, to)| [(from, y(from)), (to, y(to))]));
    }
    found
}

/// Where each line crosses the outline of a polygon, by x and in order.
fn crossed(polygon: &[(f64, f64)], sign: f64) -> BTreeMap<i64, Vec<f64>> {
    let mut found: BTreeMap<i64, Vec<f64>> = BTreeMap::new();
    let next = polygon.iter().cycle().skip(1);
    for (a, b) in polygon.iter().zip(next) {
        let (p, q) = ((a.1 + sign * a.0) / APART, (b.1 + sign * b.0) / APART);
        let (low, high) = (p.min(q), p.max(q));
        // Half open, so that a corner on a line counts once.
        for index in low.ceil() as i64..high.ceil() as i64 {
            let t = (index as f64 - p) / (q - p);
            found.entry(index).or_default().push(a.0 + t * (b.0 - a.0));
        }
    }
    found.values_mut().for_each(|xs| xs.sort_by(f64::total_cmp));
    found
}

#[cfg(test)]
mod tests {
    use super::{APART, Slant, lines};

    fn square(left: f64, top: f64, side: f64) -> Vec<(f64, f64)> {
        vec![(left, top), (left + side, top), (left + side, top + side), (left, top + side)]
    }

    #[test]
    fn exact_number_and_length_of_lines_over_a_square() {
        for slant in [Slant::Up, Slant::Down] {
            let found = lines(&[square(0.5, 0.25, 90.0)], slant);
            assert_eq!(found.len(), (2.0 * 90.0 / APART) as usize);
            let area: f64 = found.iter().map(|[a, b]| (b.0 - a.0).abs() * APART).sum();
            // Lengths rise and fall linearly: sampling them misses a quarter of a square of the
            // distance at each of their three bends.
            assert!((area / 8100.0 - 1.0).abs() < 0.014, "{area}");
        }
    }

    #[test]
    fn squares_that_touch_are_covered_by_common_lines() {
        let apart = lines(&[square(0.5, 0.0, 90.0), square(90.5, 0.0, 90.0)], Slant::Up);
        let together =
            lines(&[vec![(0.5, 0.0), (180.5, 0.0), (180.5, 90.0), (0.5, 90.0)]], Slant::Up);
        assert_eq!(apart.len(), together.len());
    }
}
