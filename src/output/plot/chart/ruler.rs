//! One axis on the page: values to coordinates, curves to unbroken lines.

use super::Scale;
use crate::output::plot::canvas::Area;
use crate::output::plot::cut;
use crate::output::plot::thin::thin;

/// Values beyond this, or on a logarithmic axis below its inverse, are taken for faults of the
/// data. Air and equal scales may widen an axis that far; ticks end only at 10^30.
pub(super) const FARTHEST: f64 = 1e27;

/// Where a value lies in the measure of the scale; `None` when the scale has no place for it.
pub(super) fn measure(value: f64, scale: Scale) -> Option<f64> {
    match scale {
        Scale::Linear => (value.abs() <= FARTHEST).then_some(value),
        Scale::Logarithmic => (1.0 / FARTHEST..=FARTHEST).contains(&value).then(|| value.log10()),
    }
}

/// An axis between two coordinates of the page.
#[derive(Clone, Copy, Debug)]
pub(in crate::output::plot) struct Ruler {
    scale: Scale,
    /// The two ends in the measure of the scale.
    measures: (f64, f64),
    /// Coordinates of the two ends, px.
    page: (f64, f64),
}

impl Ruler {
    /// `range` must be one that [`super::range`] gives: its ends differ and have a place.
    pub(in crate::output::plot) fn new(scale: Scale, range: (f64, f64), page: (f64, f64)) -> Self {
        let measures = match scale {
            Scale::Linear => range,
            Scale::Logarithmic => (range.0.log10(), range.1.log10()),
        };
        Self { scale, measures, page }
    }

    /// The coordinate of a value, also beyond the ends.
    pub(in crate::output::plot) fn at(&self, value: f64) -> Option<f64> {
        let share =
            (measure(value, self.scale)? - self.measures.0) / (self.measures.1 - self.measures.0);
        Some(self.page.0 + share * (self.page.1 - self.page.0))
    }

    /// The coordinate of a value between the ends.
    pub(in crate::output::plot) fn within(&self, value: f64) -> Option<f64> {
        /// Of a pixel: rounding must not lose what stands at an end.
        const SLACK: f64 = 1e-6;
        let (low, high) = (self.page.0.min(self.page.1), self.page.0.max(self.page.1));
        self.at(value)
            .filter(|at| *at >= low - SLACK && *at <= high + SLACK)
            .map(|at| at.clamp(low, high))
    }
}

/// The unbroken parts of a curve inside `frame`, in coordinates of the page.
///
/// A part of many more points than `columns` whose x never turns is thinned; others are drawn
/// whole.
pub(super) fn lines(
    points: &[(f64, f64)],
    x: &Ruler,
    y: &Ruler,
    frame: &Area,
    columns: usize,
) -> Vec<Vec<(f64, f64)>> {
    let ends = (frame.left, frame.right());
    let mut found = Vec::new();
    for mut part in unbroken(points, x, y) {
        if part.len() > 4 * columns {
            if part.is_sorted_by(|a, b| a.0 >= b.0) {
                part.reverse();
            }
            if part.is_sorted_by(|a, b| a.0 <= b.0) {
                part = thin(&part, ends, columns).concat();
            }
        }
        found.extend(cut::line(&part, frame));
    }
    found
}

/// The parts of a curve between points that have no place on the axes.
fn unbroken(points: &[(f64, f64)], x: &Ruler, y: &Ruler) -> Vec<Vec<(f64, f64)>> {
    points
        .iter()
        .map(|point| x.at(point.0).zip(y.at(point.1)))
        .collect::<Vec<_>>()
        .split(Option::is_none)
        .filter(|part| !part.is_empty())
        .map(|part| part.iter().copied().flatten().collect())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{Area, Ruler, Scale, lines};

    const FRAME: Area = Area { left: 0.0, top: 0.0, width: 100.0, height: 100.0 };

    fn rulers(x: Scale, y: Scale, range: (f64, f64)) -> (Ruler, Ruler) {
        (Ruler::new(x, range, (0.0, 100.0)), Ruler::new(y, range, (100.0, 0.0)))
    }

    #[test]
    fn exact_places_on_both_scales() {
        let (x, y) = rulers(Scale::Linear, Scale::Logarithmic, (1.0, 100.0));
        assert_eq!(x.at(50.5), Some(50.0));
        assert_eq!(y.at(10.0), Some(50.0));
        assert_eq!((x.at(199.0), x.within(199.0)), (Some(200.0), None));
        assert_eq!(x.within(100.0), Some(100.0));
        for none in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300] {
            assert_eq!((x.at(none), y.at(none)), (None, None), "{none}");
        }
        for none in [0.0, -0.0, -1.0, 1e-300] {
            assert_eq!(y.at(none), None, "{none}");
        }
    }

    #[test]
    fn what_has_no_place_breaks_the_curve() {
        let points = [
            (10.0, 10.0),
            (20.0, 20.0),
            (30.0, f64::NAN),
            (40.0, 40.0),
            (50.0, 0.0),
            (60.0, 60.0),
            (70.0, 70.0),
        ];
        let counts = |y| {
            let (x, y) = rulers(Scale::Linear, y, (1.0, 100.0));
            lines(&points, &x, &y, &FRAME, 60).iter().map(Vec::len).collect::<Vec<_>>()
        };
        assert_eq!(counts(Scale::Logarithmic), [2, 1, 2]);
        // Zero has a place on a linear axis, below this one's end: the curve leaves the frame.
        assert_eq!(counts(Scale::Linear), [2, 2, 3]);
    }

    #[test]
    fn a_closed_curve_and_one_that_turns_back_stay_whole() {
        let (x, y) = rulers(Scale::Linear, Scale::Linear, (-2.0, 2.0));
        let turn = |i: u32| f64::from(i) * std::f64::consts::TAU / 1000.0;
        let circle: Vec<_> = (0..=1000).map(turn).map(|a| (a.cos(), a.sin())).collect();
        let found = lines(&circle, &x, &y, &FRAME, 60);
        assert_eq!(found.iter().map(Vec::len).collect::<Vec<_>>(), [1001]);
        let back: Vec<_> = circle.iter().rev().map(|p| (p.0, 0.5 * p.0)).collect();
        assert_eq!(lines(&back, &x, &y, &FRAME, 60).len(), 1);
    }

    #[test]
    fn a_long_sweep_is_thinned_in_either_direction_and_keeps_its_spike() {
        let (x, y) = rulers(Scale::Linear, Scale::Linear, (0.0, 1.0));
        let mut points: Vec<_> = (0..=9999).map(|i| (f64::from(i) / 9999.0, 0.5)).collect();
        points[4321].1 = 0.9;
        let forth = lines(&points, &x, &y, &FRAME, 60);
        points.reverse();
        let back = lines(&points, &x, &y, &FRAME, 60);
        assert_eq!(forth, back);
        let line = forth.concat();
        assert!(line.len() < 250 && line.iter().any(|p| (p.1 - 10.0).abs() < 1e-9));
    }
}
