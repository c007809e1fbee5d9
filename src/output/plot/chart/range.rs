//! Where axes begin and end: as wide as what is drawn needs, never wider.

use super::ruler::{FARTHEST, measure};
use super::{Axis, Chart, Direction, Panel, Scale};

/// The ends of the common axis.
///
/// They are those of the curves, marks and vertical lines; masks widen it only when there is
/// nothing else, as their ends are held outside of their points.
pub(super) fn across(chart: &Chart) -> (f64, f64) {
    if let Some(given) = given(&chart.x) {
        return given;
    }
    let scale = chart.x.scale;
    let mut extent = Extent::new(scale);
    for panel in &chart.panels {
        for &(x, y) in panel.curves.iter().flat_map(|curve| &curve.points) {
            if measure(y, panel.y.scale).is_some() {
                extent.take(x);
            }
        }
        panel.marks.iter().for_each(|mark| extent.take(mark.x));
        let vertical = panel.lines.iter().filter(|line| line.direction == Direction::Vertical);
        vertical.for_each(|line| extent.take(line.at));
    }
    if extent.0.is_none() {
        let masks = chart.panels.iter().flat_map(|panel| &panel.masks);
        masks.flat_map(|mask| &mask.points).for_each(|point| extent.take(point.0));
    }
    let air = if chart.square { 0.05 } else { 0.0 };
    widened(extent.found(scale), scale, air)
}

/// The ends of a panel's own axis, with some air: its curves, masks and marks as far as they lie
/// within the common axis, and its horizontal lines.
pub(super) fn upwards(panel: &Panel, x: (f64, f64)) -> (f64, f64) {
    /// Of the height, at each end: curves must not lie on the frame.
    const AIR: f64 = 0.06;
    if let Some(given) = given(&panel.y) {
        return given;
    }
    let scale = panel.y.scale;
    let mut extent = Extent::new(scale);
    let seen = |at: f64| at >= x.0 && at <= x.1;
    for &(at, y) in panel.curves.iter().flat_map(|curve| &curve.points) {
        if seen(at) {
            extent.take(y);
        }
    }
    panel.marks.iter().filter(|mark| seen(mark.x)).for_each(|mark| extent.take(mark.y));
    for mask in &panel.masks {
        let inside = mask.points.iter().filter(|point| seen(point.0));
        inside.for_each(|point| extent.take(point.1));
        // The corners next to the axis decide how high the mask stands at its ends.
        let before = mask.points.iter().rfind(|point| point.0 < x.0);
        let after = mask.points.iter().find(|point| point.0 > x.1);
        [before, after].into_iter().flatten().for_each(|point| extent.take(point.1));
    }
    let horizontal = panel.lines.iter().filter(|line| line.direction == Direction::Horizontal);
    horizontal.for_each(|line| extent.take(line.at));
    widened(extent.found(scale), scale, AIR)
}

/// Both ranges widened about their middles to one unit of equal length, and the height that goes
/// with `width`: that of the ranges as they are, where it lies within `heights`.
pub(super) fn equal_scales(
    x: (f64, f64),
    y: (f64, f64),
    width: f64,
    heights: (f64, f64),
) -> ((f64, f64), (f64, f64), f64) {
    let (across, up) = (x.1 - x.0, y.1 - y.0);
    let height = (width * up / across).clamp(heights.0, heights.1);
    let unit = (across / width).max(up / height);
    let about = |(low, high): (f64, f64), length: f64| {
        let (middle, reach) = (f64::midpoint(low, high), unit * length / 2.0);
        (middle - reach, middle + reach)
    };
    (about(x, width), about(y, height), height)
}

/// Ends that the caller wants, if the scale can have them.
fn given(axis: &Axis) -> Option<(f64, f64)> {
    let (low, high) = axis.range?;
    let (from, to) = (measure(low, axis.scale)?, measure(high, axis.scale)?);
    (to - from > least_span(from.abs().max(to.abs()))).then_some((low, high))
}

/// Of the greatest value: a range less wide is none, as its ticks could not be told apart.
const LEAST_SPAN: f64 = 1e-9;

fn least_span(largest: f64) -> f64 {
    (largest * LEAST_SPAN).max(1.0 / FARTHEST)
}

/// Lowest and highest of the values that have a place.
struct Extent(Option<(f64, f64)>, Scale);

impl Extent {
    fn new(scale: Scale) -> Self {
        Self(None, scale)
    }

    fn take(&mut self, value: f64) {
        if measure(value, self.1).is_some() {
            let (low, high) = self.0.unwrap_or((value, value));
            self.0 = Some((low.min(value), high.max(value)));
        }
    }

    fn found(&self, scale: Scale) -> (f64, f64) {
        self.0.unwrap_or(match scale {
            Scale::Linear => (0.0, 1.0),
            Scale::Logarithmic => (1.0, 10.0),
        })
    }
}

/// With air at both ends, a share of the length; one value alone becomes a range about it.
fn widened((low, high): (f64, f64), scale: Scale, air: f64) -> (f64, f64) {
    /// Of a value that is alone, to both sides.
    const FLAT_REACH: f64 = 0.1;
    match scale {
        Scale::Linear => {
            let largest = low.abs().max(high.abs());
            let reach = largest * FLAT_REACH;
            let reach = if reach > least_span(largest) { reach } else { 1.0 };
            let flat = high - low <= least_span(largest);
            let air = if flat { reach } else { (high - low) * air };
            (low - air, high + air)
        }
        Scale::Logarithmic => {
            let flat = high <= low * (1.0 + LEAST_SPAN);
            let factor = if flat { 2.0 } else { (high / low).powf(air) };
            (low / factor, high * factor)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{across, equal_scales, upwards};
    use crate::output::plot::chart::{
        Axis, Chart, Direction, Level, Mark, Mask, Panel, Scale, Trace,
    };

    fn panel(scale: Scale, points: &[(f64, f64)]) -> Panel {
        Panel {
            y: Axis { scale, ..Axis::default() },
            curves: vec![Trace { points: points.to_vec(), ..Trace::default() }],
            ..Panel::default()
        }
    }

    fn chart(scale: Scale, panel: Panel) -> Chart {
        let x = Axis { scale, ..Axis::default() };
        Chart { x, panels: vec![panel], ..Chart::default() }
    }

    #[test]
    fn the_common_axis_ends_where_the_curves_end() {
        let points = [(10.0, 1.0), (1e6, 2.0), (1e9, f64::NAN), (-5.0, 1.0), (0.0, 1.0)];
        let mut chart = chart(Scale::Logarithmic, panel(Scale::Linear, &points));
        assert_eq!(across(&chart), (10.0, 1e6));
        chart.panels[0].masks = vec![Mask { points: vec![(0.1, 1.0)], ..Mask::default() }];
        assert_eq!(across(&chart), (10.0, 1e6), "a mask is held outside of its points anyway");
        let at = Level { at: 2e6, direction: Direction::Vertical, ..Level::default() };
        chart.panels[0].lines = vec![at, Level { at: 1e12, ..Level::default() }];
        chart.panels[0].marks = vec![Mark { x: 5.0, y: 1.0, ..Mark::default() }];
        assert_eq!(across(&chart), (5.0, 2e6));
    }

    #[test]
    fn a_given_range_counts_unless_the_scale_cannot_have_it() {
        let mut chart =
            chart(Scale::Logarithmic, panel(Scale::Linear, &[(10.0, 1.0), (20.0, 2.0)]));
        for (range, expected) in [
            ((1.0, 1e3), (1.0, 1e3)),
            ((0.0, 1e3), (10.0, 20.0)),
            ((1e3, 1.0), (10.0, 20.0)),
            ((5.0, 5.0), (10.0, 20.0)),
            ((f64::NAN, 5.0), (10.0, 20.0)),
            ((1.0, f64::INFINITY), (10.0, 20.0)),
        ] {
            chart.x.range = Some(range);
            assert_eq!(across(&chart), expected, "{range:?}");
        }
    }

    #[test]
    fn a_panel_holds_its_curves_masks_and_lines_within_the_common_axis() {
        let mut panel = panel(Scale::Linear, &[(0.0, 1.0), (5.0, 3.0), (20.0, 99.0)]);
        assert_eq!(upwards(&panel, (0.0, 10.0)), (1.0 - 0.12, 3.0 + 0.12));
        panel.lines = vec![Level { at: -1.0, ..Level::default() }];
        panel.masks = vec![Mask { points: vec![(-9.0, 9.0), (-8.0, 4.0)], ..Mask::default() }];
        assert_eq!(upwards(&panel, (0.0, 10.0)), (-1.0 - 0.3, 4.0 + 0.3));
    }

    #[test]
    fn logarithmic_ends_have_air_as_a_ratio_and_never_reach_zero() {
        let panel = panel(Scale::Logarithmic, &[(0.0, 1.0), (1.0, 100.0), (2.0, 0.0), (3.0, -1.0)]);
        let (low, high) = upwards(&panel, (0.0, 10.0));
        assert!((low * 100f64.powf(0.06) - 1.0).abs() < 1e-12, "{low}");
        assert!((high / 100f64.powf(1.06) - 1.0).abs() < 1e-12, "{high}");
    }

    #[test]
    fn one_value_or_none_still_makes_an_axis() {
        for (scale, value, expected) in [
            (Scale::Linear, 2.0, (1.8, 2.2)),
            (Scale::Linear, 0.0, (-1.0, 1.0)),
            (Scale::Linear, f64::NAN, (-0.06, 1.06)),
            (Scale::Logarithmic, 2.0, (1.0, 4.0)),
            (Scale::Logarithmic, -2.0, (10f64.powf(-0.06), 10f64.powf(1.06))),
        ] {
            let (low, high) = upwards(&panel(scale, &[(1.0, value)]), (0.0, 2.0));
            let near = |a: f64, b: f64| (a - b).abs() < 1e-12 * b.abs();
            assert!(near(low, expected.0) && near(high, expected.1), "{value}: {low} {high}");
        }
    }

    #[test]
    fn exact_equal_scales_widen_the_shorter_side_about_its_middle() {
        let as_they_are = equal_scales((-3.0, 3.0), (-3.0, 3.0), 600.0, (200.0, 640.0));
        assert_eq!(as_they_are, ((-3.0, 3.0), (-3.0, 3.0), 600.0));
        let flat = equal_scales((0.0, 6.0), (1.0, 2.0), 600.0, (200.0, 640.0));
        assert_eq!(flat, ((0.0, 6.0), (0.5, 2.5), 200.0));
        let tall = equal_scales((0.0, 1.0), (0.0, 8.0), 600.0, (200.0, 640.0));
        assert_eq!(tall, ((-3.25, 4.25), (0.0, 8.0), 640.0));
    }
}
