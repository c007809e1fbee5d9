//! Lines and areas on the page cut to a rectangle.

use super::canvas::Area;

/// The shares of the way from `a` to `b` at which a segment enters a rectangle and leaves it;
/// `None` when it does not touch it (Liang and Barsky 1984: the range of the parameter is cut at
/// the four sides).
pub(super) fn inside(a: (f64, f64), b: (f64, f64), area: &Area) -> Option<(f64, f64)> {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let (mut enter, mut leave) = (0.0f64, 1.0f64);
    for (rate, room) in [
        (-dx, a.0 - area.left),
        (dx, area.right() - a.0),
        (-dy, a.1 - area.top),
        (dy, area.bottom() - a.1),
    ] {
        if rate == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if rate < 0.0 {
            enter = enter.max(room / rate);
        } else {
            leave = leave.min(room / rate);
        }
    }
    (enter <= leave).then_some((enter, leave))
}

/// The parts of a line inside a rectangle. A line of one point stays if that lies inside.
pub(super) fn line(points: &[(f64, f64)], area: &Area) -> Vec<Vec<(f64, f64)>> {
    let mut parts: Vec<Vec<(f64, f64)>> = Vec::new();
    if let [only] = points {
        if inside(*only, *only, area).is_some() {
            parts.push(vec![*only]);
        }
        return parts;
    }
    for pair in points.windows(2) {
        let &[a, b] = pair else { continue };
        let Some((enter, leave)) = inside(a, b, area) else { continue };
        let (from, to) = (held(along(a, b, enter), area), held(along(a, b, leave), area));
        match parts.last_mut() {
            Some(part) if part.last() == Some(&from) => part.push(to),
            _ => parts.push(vec![from, to]),
        }
    }
    parts
}

/// Where the other end is very far away, rounding may leave a cut beside the area.
fn held((x, y): (f64, f64), area: &Area) -> (f64, f64) {
    (x.clamp(area.left, area.right()), y.clamp(area.top, area.bottom()))
}

/// The ends themselves at 0 and 1, so that neighbouring segments meet exactly.
fn along(a: (f64, f64), b: (f64, f64), share: f64) -> (f64, f64) {
    if share <= 0.0 {
        a
    } else if share >= 1.0 {
        b
    } else {
        (a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1))
    }
}

/// The part of a filled outline inside a rectangle (Sutherland and Hodgman 1974: cut at one side
/// after the other).
pub(super) fn outline(points: &[(f64, f64)], area: &Area) -> Vec<(f64, f64)> {
    let (left, right, top, bottom) = (area.left, area.right(), area.top, area.bottom());
    // How far inside of each side a point lies.
    let sides: [&dyn Fn((f64, f64)) -> f64; 4] =
        [&|p| p.0 - left, &|p| right - p.0, &|p| p.1 - top, &|p| bottom - p.1];
    let cut = sides.into_iter().fold(points.to_vec(), |points, depth| cut_at(&points, depth));
    cut.into_iter().map(|point| held(point, area)).collect()
}

fn cut_at(points: &[(f64, f64)], depth: &dyn Fn((f64, f64)) -> f64) -> Vec<(f64, f64)> {
    let mut kept = Vec::with_capacity(points.len() + 2);
    let Some(mut before) = points.last().copied() else { return kept };
    for &point in points {
        let (was, is) = (depth(before), depth(point));
        if (was < 0.0) != (is < 0.0) {
            kept.push(along(before, point, was / (was - is)));
        }
        if is >= 0.0 {
            kept.push(point);
        }
        before = point;
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::{Area, inside, line, outline};

    const AREA: Area = Area { left: 10.0, top: 10.0, width: 10.0, height: 10.0 };

    #[test]
    fn exact_segments_meet_boxes() {
        assert_eq!(inside((0.0, 15.0), (40.0, 15.0), &AREA), Some((0.25, 0.5)));
        assert!(inside((12.0, 12.0), (13.0, 13.0), &AREA).is_some());
        assert!(inside((0.0, 0.0), (30.0, 5.0), &AREA).is_none());
        assert!(inside((0.0, 15.0), (5.0, 15.0), &AREA).is_none());
        assert!(inside((25.0, 0.0), (25.0, 30.0), &AREA).is_none());
    }

    #[test]
    fn a_line_that_leaves_and_returns_is_two_lines() {
        let points = [(10.0, 15.0), (15.0, 15.0), (15.0, 5.0), (18.0, 5.0), (18.0, 15.0)];
        assert_eq!(
            line(&points, &AREA),
            [vec![(10.0, 15.0), (15.0, 15.0), (15.0, 10.0)], vec![(18.0, 10.0), (18.0, 15.0)]]
        );
        assert_eq!(line(&[(12.0, 12.0)], &AREA), [vec![(12.0, 12.0)]]);
        assert!(line(&[(1.0, 12.0)], &AREA).is_empty() && line(&[], &AREA).is_empty());
    }

    #[test]
    fn a_closed_line_inside_stays_one_line() {
        let ring: Vec<(f64, f64)> = (0..=64)
            .map(|i| f64::from(i) * std::f64::consts::TAU / 64.0)
            .map(|angle| (15.0 + 4.0 * angle.cos(), 15.0 + 4.0 * angle.sin()))
            .collect();
        assert_eq!(line(&ring, &AREA), [ring]);
    }

    #[test]
    fn an_outline_around_the_area_becomes_the_area_and_one_beside_it_nothing() {
        let around = [(0.0, 0.0), (90.0, 0.0), (90.0, 90.0), (0.0, 90.0)];
        let mut corners = outline(&around, &AREA);
        corners.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        assert_eq!(corners, [(10.0, 10.0), (10.0, 20.0), (20.0, 10.0), (20.0, 20.0)]);
        assert!(outline(&[(0.0, 0.0), (5.0, 0.0), (5.0, 90.0)], &AREA).is_empty());
        assert!(outline(&[], &AREA).is_empty());
    }
}
