//! Lines and regions out of cells: crossings joined to lines, corners to polygons.

use super::field::Place;
use std::collections::BTreeMap;

/// The corners of a cell, counter-clockwise from the lower left, and a place between each and the
/// next one (lower, right, upper, left side).
pub(super) struct Corners {
    pub(super) places: [Place; 4],
    pub(super) inside: [bool; 4],
    pub(super) between: [Place; 4],
}

/// The polygons that the corners inside make; two corners across from each other are one polygon if
/// the middle is inside.
pub(super) fn region(corners: &Corners, centre: bool) -> Vec<Vec<Place>> {
    let inside = corners.inside;
    let apart = inside[0] == inside[2] && inside[1] == inside[3] && inside[0] != inside[1];
    if apart && !centre {
        let first = usize::from(!inside[0]);
        let triangle =
            |k: usize| vec![corners.between[(k + 3) % 4], corners.places[k], corners.between[k]];
        return vec![triangle(first), triangle(first + 2)];
    }
    let mut polygon = Vec::new();
    for k in 0..4 {
        if inside[k] {
            polygon.push(corners.places[k]);
        }
        if inside[k] != inside[(k + 1) % 4] {
            polygon.push(corners.between[k]);
        }
    }
    if polygon.is_empty() { Vec::new() } else { vec![polygon] }
}

/// Joins pieces that share a side into lines as long as can be: open ones from border to border, and
/// closed ones, whose first place is repeated at the end.
pub(super) fn joined<Side: Copy + Ord>(
    pieces: &[(Side, Side)],
    places: &BTreeMap<Side, Place>,
) -> Vec<Vec<Place>> {
    let mut at: BTreeMap<Side, Vec<usize>> = BTreeMap::new();
    for (k, (a, b)) in pieces.iter().enumerate() {
        at.entry(*a).or_default().push(k);
        at.entry(*b).or_default().push(k);
    }
    let mut used = vec![false; pieces.len()];
    let ends: Vec<Side> = at.iter().filter(|(_, k)| k.len() == 1).map(|(side, _)| *side).collect();
    let mut lines = Vec::new();
    for start in ends.into_iter().chain(pieces.iter().map(|piece| piece.0)) {
        let mut line = vec![start];
        let mut here = start;
        while let Some(k) = at.get(&here).and_then(|k| k.iter().find(|k| !used[**k])).copied() {
            used[k] = true;
            here = if pieces[k].0 == here { pieces[k].1 } else { pieces[k].0 };
            line.push(here);
        }
        if line.len() > 1 {
            lines.push(line.iter().filter_map(|side| places.get(side).copied()).collect());
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

    use super::super::field::analytic::Analytic;
    use super::super::field::{Kind, Place, Probe as _};
    use super::super::lattice::{Boundary, Lattice};
    use super::joined;

    fn traced(field: &mut Analytic, count: usize, finer: bool) -> (Vec<Vec<Place>>, f64) {
        let mut lattice = Lattice::new(count, count, finer);
        let grid = lattice.grid();
        let places: Vec<Place> = grid.iter().map(|node| lattice.place(*node)).collect();
        let samples = field.samples(&places, Kind::Grid).unwrap();
        grid.into_iter().zip(samples).for_each(|(node, sample)| lattice.put(node, sample));
        lattice.refine(field).unwrap();
        let squares = lattice.squares();
        let boundary = Boundary::find(&lattice, &squares, field).unwrap();
        let pieces: Vec<_> = squares.iter().flat_map(|s| boundary.segments(&lattice, s)).collect();
        let failing = squares.iter().flat_map(|s| {
            boundary.region(&lattice, s, |sample| !sample.holds, !boundary.centre_holds(s))
        });
        (joined(&pieces, &boundary.crossings), failing.map(|p| area(&p)).sum())
    }

    fn area(polygon: &[Place]) -> f64 {
        let next = polygon.iter().cycle().skip(1);
        0.5 * polygon.iter().zip(next).map(|(a, b)| a[0] * b[1] - a[1] * b[0]).sum::<f64>()
    }

    const RADIUS: f64 = 0.31;

    fn circle([x, y]: Place) -> f64 {
        RADIUS - (x - 0.5).hypot(y - 0.52)
    }

    #[test]
    fn exact_boundary_of_a_circle_is_one_closed_line() {
        let mut field = Analytic::new(circle);
        let (lines, failing) = traced(&mut field, 13, true);
        assert_eq!(lines.len(), 1);
        let line = &lines[0];
        assert_eq!(line.first(), line.last());
        for &[x, y] in line {
            // Vertices are good to 1 % of a side of 1/24.
            let radius = (x - 0.5).hypot(y - 0.52);
            assert!((radius - RADIUS).abs() < 0.01 / 24.0, "{radius}");
        }
        // A polygon whose sides s cut off s²/(8 r) at most of the radius: s < 1/12·√2 / 2.
        let disc = std::f64::consts::PI * RADIUS * RADIUS;
        assert!((failing - (1.0 - disc)).abs() < 2.0 * 3.2 * RADIUS * 0.0014, "{failing}");
    }

    #[test]
    fn exact_saddle_is_passed_on_the_side_of_its_middle() {
        // (x − 0.5)(y − 0.5) = ±0.01: the two arms of a hyperbola. Between the places nearest to the
        // middle both are met by all four sides of one cell.
        for shift in [0.01, -0.01] {
            let field = |shift: f64| -> fn(Place) -> f64 {
                if shift > 0.0 {
                    |[x, y]| (x - 0.5) * (y - 0.5) + 0.01
                } else {
                    |[x, y]| (x - 0.5) * (y - 0.5) - 0.01
                }
            };
            let mut field = Analytic::new(field(shift));
            let (lines, _) = traced(&mut field, 4, false);
            assert_eq!(lines.len(), 2, "{lines:?}");
            for line in &lines {
                // An arm stays on its side of both middle lines.
                let sides = line.iter().map(|[x, y]| (*x > 0.5, *y > 0.5));
                let first = (line[0][0] > 0.5, line[0][1] > 0.5);
                assert!(sides.into_iter().all(|side| side == first), "{line:?}");
                assert_eq!(first.0 == first.1, shift < 0.0, "{line:?}");
            }
        }
    }

    /// Greatest distance of the middles of the pieces from the circle.
    fn deviation(lines: &[Vec<Place>]) -> f64 {
        let pairs = lines.iter().flat_map(|line| line.windows(2));
        let middle = pairs.map(|p| [0, 1].map(|k| f64::midpoint(p[0][k], p[1][k])));
        middle.map(|place| circle(place).abs()).fold(0.0, f64::max)
    }

    #[test]
    fn refining_takes_fewer_runs_than_a_grid_as_sharp() {
        let mut field = Analytic::new(circle);
        let (lines, _) = traced(&mut field, 13, true);
        let mut plain = Analytic::new(circle);
        let (as_sharp, _) = traced(&mut plain, 25, false);
        assert!(deviation(&lines) <= 1.01 * deviation(&as_sharp));
        assert!(field.runs < plain.runs * 2 / 3, "{} {}", field.runs, plain.runs);
    }

    #[test]
    fn a_bay_that_shows_at_a_neighbour_only_is_traced_too() {
        // A notch that reaches into the left cell through the middle of the common side.
        let mut field = Analytic::new(|[x, y]| (0.85 - x).hypot(y - 0.5) - 0.4);
        let (lines, _) = traced(&mut field, 3, true);
        for line in &lines {
            let border = |[x, y]: Place| [0.0, 1.0].contains(&x) || [0.0, 1.0].contains(&y);
            let closed = line.first() == line.last();
            assert!(closed || (border(line[0]) && border(*line.last().unwrap())), "{line:?}");
        }
    }
}
