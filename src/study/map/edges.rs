//! How far the present design is from the boundary: the nearest edge, and along each axis alone.
//! What is told was run on both sides.

use super::bracket::{Bracket, Until, close};
use super::field::{Field, Kind, Place};
use crate::circuit::Spacing;
use crate::quantity::Dimension;
use crate::study::Halt;
use crate::study::axis::Axis;

/// Edges that are told are closed in on to this: 0.2 % of a value.
const NEAR: f64 = 2e-3;
/// Rounds after which an edge is told as it is. Halving alone takes twelve for a decade.
const MOST_ROUNDS: usize = 16;
/// How far beyond the traced boundary a line ends, as shares of its length, one after the other.
const BEYOND: [f64; 3] = [0.05, 0.2, 0.6];

/// Two runs close to each other, of which one holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Edge {
    /// The point that holds.
    pub holds: usize,
    /// The one that does not.
    pub misses: usize,
    /// Change of each axis from the present design to the point that holds, as a share of the present
    /// value; `None` where there is no scale (temperatures, zero).
    pub shares: Vec<Option<f64>>,
    /// Length of that way: natural logarithms of ratios on logarithmic axes, shares of the present
    /// value on linear ones, added as squares. 0.1 is some 10 %.
    pub distance: f64,
}

/// How far one axis may go alone.
#[derive(Clone, Debug, PartialEq)]
pub struct Along {
    /// Which axis.
    pub axis: usize,
    /// Whether it rises.
    pub up: bool,
    /// Where it ends; `None` if it holds (or misses) as far as the range goes.
    pub edge: Option<Edge>,
}

/// Relative lengths along the axes.
pub(super) struct Measure {
    scales: [f64; 2],
}

impl Measure {
    pub(super) fn new(axes: &[Axis]) -> Self {
        let mut scales = [0.0; 2];
        for (scale, axis) in scales.iter_mut().zip(axes) {
            *scale = match axis.spacing {
                Spacing::Logarithmic => (axis.high / axis.low).ln(),
                Spacing::Linear => match reference(axis) {
                    Some(present) => (axis.high - axis.low) / present.abs(),
                    None => 1.0,
                },
            };
        }
        Self { scales }
    }

    pub(super) fn distance(&self, from: Place, to: Place) -> f64 {
        let along = |k: usize| self.scales[k] * (to[k] - from[k]);
        along(0).hypot(along(1))
    }

    /// The place of a line that is nearest.
    fn nearest_of(&self, at: Place, line: &[Place]) -> Option<(f64, Place)> {
        let mut best: Option<(f64, Place)> = None;
        for pair in line.windows(2) {
            let [a, b] = [pair[0], pair[1]];
            let mut way = 0.0;
            let mut length = 0.0;
            for k in 0..2 {
                let (scale, along) = (self.scales[k], b[k] - a[k]);
                way += scale * scale * (at[k] - a[k]) * along;
                length += scale * scale * along * along;
            }
            let t = if length > 0.0 { (way / length).clamp(0.0, 1.0) } else { 0.0 };
            let place = [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
            let distance = self.distance(at, place);
            if best.is_none_or(|(least, _)| distance < least) {
                best = Some((distance, place));
            }
        }
        best
    }
}

/// What changes of an axis are shares of.
fn reference(axis: &Axis) -> Option<f64> {
    axis.present.filter(|p| *p != 0.0 && axis.dimension != Dimension::KELVIN)
}

/// Nearest edge and edges along each axis, from the present point at `from`.
pub(super) fn find(
    field: &mut Field<'_, '_>,
    from: usize,
    boundary: &[Vec<Place>],
) -> Result<(Option<Edge>, Vec<Along>), Halt> {
    let measure = Measure::new(field.axes);
    let at = field.points[from].place;
    let nearest = boundary.iter().filter_map(|line| measure.nearest_of(at, line));
    let nearest = nearest.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, place)| place);
    let mut ways: Vec<Way> = Vec::new();
    ways.extend(nearest.map(|place| Way::through(at, place)));
    let alone = ways.len();
    let directions: Vec<(usize, bool)> =
        (0..2).flat_map(|axis| [false, true].map(|up| (axis, up))).collect();
    for &(axis, up) in &directions {
        ways.push(Way::along(at, axis, up, boundary));
    }
    let brackets = brackets(field, from, &ways, &measure)?;
    let mut edges = closed(field, from, brackets, &measure)?.into_iter();
    let nearest = edges.by_ref().take(alone).next().flatten();
    let along = directions.into_iter().zip(edges);
    let along: Vec<Along> = along.map(|((axis, up), edge)| Along { axis, up, edge }).collect();
    // A way along an axis may turn out to be shorter than that to the traced line.
    let shorter = along.iter().filter_map(|a| a.edge.clone()).chain(nearest);
    let nearest = shorter.min_by(|a, b| a.distance.total_cmp(&b.distance));
    Ok((nearest, along))
}

/// A line from the present design, and places on it that may be its other end.
struct Way {
    ends: Vec<Place>,
}

impl Way {
    /// Through a place of the boundary, and a little beyond.
    fn through(from: Place, place: Place) -> Self {
        let beyond = |share: &f64| {
            let along = |k: usize| place[k] + share * (place[k] - from[k]);
            [along(0).clamp(0.0, 1.0), along(1).clamp(0.0, 1.0)]
        };
        Self { ends: BEYOND.iter().map(beyond).collect() }
    }

    /// Parallel to an axis: to where it meets the boundary first, else to the end of the range.
    fn along(from: Place, axis: usize, up: bool, boundary: &[Vec<Place>]) -> Self {
        let other = 1 - axis;
        let pieces = boundary.iter().flat_map(|line| line.windows(2));
        let meets = pieces.filter_map(|pair| {
            let [a, b] = [pair[0], pair[1]];
            let (p, q) = (a[other] - from[other], b[other] - from[other]);
            let t = if (p < 0.0) == (q < 0.0) { return None } else { p / (p - q) };
            Some(a[axis] + t * (b[axis] - a[axis]))
        });
        let ahead = meets.filter(|at| if up { *at > from[axis] } else { *at < from[axis] });
        let distance = |at: &f64| (at - from[axis]).abs();
        let first = ahead.min_by(|a, b| distance(a).total_cmp(&distance(b)));
        let mut end = from;
        end[axis] = if up { 1.0 } else { 0.0 };
        let Some(first) = first else { return Self { ends: vec![end] } };
        let mut meeting = from;
        meeting[axis] = first;
        let mut way = Self::through(from, meeting);
        way.ends.push(end);
        way
    }
}

/// Runs the ends of all ways until each has one across the boundary, or none left.
fn brackets(
    field: &mut Field<'_, '_>,
    from: usize,
    ways: &[Way],
    measure: &Measure,
) -> Result<Vec<Option<Bracket>>, Halt> {
    let start = (field.points[from].place, field.sample(from));
    let mut found: Vec<Option<Bracket>> = vec![None; ways.len()];
    let most = ways.iter().map(|way| way.ends.len()).max().unwrap_or(0);
    for attempt in 0..most {
        let open = ways.iter().enumerate().filter(|(k, _)| found[*k].is_none());
        let open: Vec<(usize, Place)> =
            open.filter_map(|(k, way)| Some((k, *way.ends.get(attempt)?))).collect();
        let wanted = open.iter().map(|(_, place)| field.wanted(*place, Kind::Edge)).collect();
        for ((k, place), index) in open.iter().zip(field.run(wanted)?) {
            let length = measure.distance(start.0, *place);
            let near = if length > 0.0 { NEAR / length } else { 1.0 };
            found[*k] = Bracket::new(start, (*place, field.sample(index)), near);
        }
    }
    Ok(found)
}

/// Closes in on the crossings, and tells the runs on both sides of each.
fn closed(
    field: &mut Field<'_, '_>,
    from: usize,
    brackets: Vec<Option<Bracket>>,
    measure: &Measure,
) -> Result<Vec<Option<Edge>>, Halt> {
    let is_some: Vec<bool> = brackets.iter().map(Option::is_some).collect();
    let mut brackets: Vec<Bracket> = brackets.into_iter().flatten().collect();
    close(field, &mut brackets, Until::Closed, MOST_ROUNDS)?;
    let mut edges = ends(field, &brackets)?.into_iter();
    let told = |(holds, misses): (usize, usize)| edge(field, from, holds, misses, measure);
    let next = |some: bool| if some { edges.next() } else { None };
    Ok(is_some.into_iter().map(next).map(|ends| ends.map(told)).collect())
}

/// The points at the innermost ends of brackets: that which holds, that which misses. They have been
/// run, so that nothing is solved again.
pub(super) fn ends(
    field: &mut Field<'_, '_>,
    brackets: &[Bracket],
) -> Result<Vec<(usize, usize)>, Halt> {
    let places = brackets.iter().flat_map(|b| {
        let (holds, misses) = b.ends();
        [b.place(holds), b.place(misses)]
    });
    let wanted = places.map(|place| field.wanted(place, Kind::Edge)).collect();
    let indices = field.run(wanted)?;
    Ok(indices.chunks(2).map(|pair| (pair[0], pair[1])).collect())
}

/// An edge as seen from the present design.
pub(super) fn edge(
    field: &Field<'_, '_>,
    from: usize,
    holds: usize,
    misses: usize,
    measure: &Measure,
) -> Edge {
    let [here, there] = [from, holds].map(|index| &field.points[index]);
    let share = |(axis, (was, is)): (&Axis, (&f64, &f64))| reference(axis).map(|_| is / was - 1.0);
    let shares = field.axes.iter().zip(here.at.iter().zip(&there.at)).map(share).collect();
    Edge { holds, misses, shares, distance: measure.distance(here.place, there.place) }
}
