//! One measurement over one or two values: all places of a grid, the boundary between what holds and
//! what does not, and how far the present design is from it.
//!
//! Points that cannot be solved, or at which the rail has no such number, are rows with a reason and
//! count as missing the limit.

mod bracket;
mod edges;
mod field;
mod lattice;
mod outline;
mod present;
mod subject;

pub use edges::{Along, Edge};
pub use field::{Kind, Passing, Place, Point};
pub use present::Present;
pub use subject::{MARGIN, Row, Subject, subject};

use super::axis::Axis;
use super::{Halt, Models, Runner, Sheet, Shot};
use crate::trial::{Condition, Reads};
use bracket::{Bracket, Until, close};
use edges::{Measure, edge, ends};
use field::{Field, Wanted};
use lattice::{Boundary, Lattice, Node};
use outline::joined;

/// Places along each of two axes that say none; cells that the boundary crosses are split once.
pub const USUAL_COUNT: usize = 13;
/// The most places of a grid.
pub const MOST_PLACES: usize = 250_000;
/// Edges along a single axis are closed in on to this share of a value,
const LINE_NEAR: f64 = 2e-3;
/// or by so many rounds.
const LINE_ROUNDS: usize = 16;

/// What is to be mapped.
#[derive(Clone, Debug, PartialEq)]
pub struct Plot {
    /// One or two.
    pub axes: Vec<Axis>,
    /// Whether cells that the boundary crosses are split.
    pub finer: bool,
    /// Test and measurement.
    pub subject: Subject,
}

/// A part of a map of two values, for drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Patch {
    /// Lower left corner.
    pub from: Place,
    /// Upper right corner.
    pub to: Place,
    /// At the corners, counter-clockwise from the lower left.
    pub values: [Option<f64>; 4],
    /// Polygons of what misses the limit.
    pub missing: Vec<Vec<Place>>,
    /// Polygons of what has no number.
    pub blank: Vec<Vec<Place>>,
}

/// What came of it.
#[derive(Clone, Debug)]
pub struct Map {
    /// One or two.
    pub axes: Vec<Axis>,
    /// Which of the file's tests.
    pub test: usize,
    /// What is mapped.
    pub row: Row,
    /// Every run once, in the order in which they were asked for.
    pub points: Vec<Point>,
    /// Cells of a map of two values.
    pub patches: Vec<Patch>,
    /// Lines between what holds and what does not.
    pub boundary: Vec<Vec<Place>>,
    /// Edges of a map of one value, from its lower end to its upper one.
    pub edges: Vec<Edge>,
    /// The design as it stands, where its values can be told.
    pub present: Option<Present>,
    /// The edge that is nearest to it.
    pub nearest: Option<Edge>,
    /// Edges that are met when one value alone is changed.
    pub along: Vec<Along>,
    /// What was chosen or could not be told, in words.
    pub notes: Vec<String>,
    /// Attempted steps of all runs.
    pub steps: usize,
    /// The circumstances of all runs; what the axes move is left out.
    pub condition: Condition,
    /// The models of a regulator that every place was run with, where there are several.
    pub models: Option<Models>,
}

/// Makes a map.
///
/// # Errors
/// As [`Runner::run`]; [`Halt::Refused`] where an axis is set by the test itself.
pub fn map(runner: &Runner<'_>, plot: &Plot) -> Result<Map, Halt> {
    let test = plot.subject.test;
    refuse(runner, plot)?;
    let sheet =
        runner.sheet(test).ok_or_else(|| Halt::Refused("the test was not run".to_owned()))?;
    let (row, said) = subject::row(&runner.ground, sheet, &plot.subject, &plot.axes);
    let mut field = Field::new(runner, &plot.axes, test, &row);
    let mut sketch = Sketch::default();
    sketch.notes.extend(plot.subject.said.iter().cloned().chain(said));
    match plot.axes.as_slice() {
        [axis] => line(&mut field, axis.count, &mut sketch)?,
        _ => plane(&mut field, plot, &mut sketch)?,
    }
    let (points, steps) = (std::mem::take(&mut field.points), sketch.steps);
    let Sketch { patches, boundary, edges, present, nearest, along, notes, .. } = sketch;
    let axes = plot.axes.clone();
    let condition = condition(runner, sheet, &axes);
    Ok(Map {
        axes,
        test,
        row,
        points,
        patches,
        boundary,
        edges,
        present,
        nearest,
        along,
        notes,
        steps,
        condition,
        models: runner.models.clone(),
    })
}

/// A map while it is made.
#[derive(Default)]
struct Sketch {
    patches: Vec<Patch>,
    boundary: Vec<Vec<Place>>,
    edges: Vec<Edge>,
    present: Option<Present>,
    nearest: Option<Edge>,
    along: Vec<Along>,
    notes: Vec<String>,
    steps: usize,
}

/// The circumstances that are the same at the ends of all axes.
fn condition(runner: &Runner<'_>, sheet: &Sheet, axes: &[Axis]) -> Condition {
    let mut held = sheet.outcome.condition.clone();
    for axis in axes {
        for end in [axis.low, axis.high] {
            let shot = Shot { test: sheet.test, changes: vec![axis.change(end).0] };
            let Ok(other) = runner.outcome(&shot, Reads::Voltages) else { continue };
            let other = other.condition;
            held.source_v = held.source_v.filter(|_| other.source_v == held.source_v);
            held.ambient_c = held.ambient_c.filter(|_| other.ambient_c == held.ambient_c);
            held.load = held.load.filter(|load| other.load.as_ref() == Some(load));
            held.source = held.source.filter(|source| other.source.as_ref() == Some(source));
        }
    }
    held
}

/// What cannot be mapped.
fn refuse(runner: &Runner<'_>, plot: &Plot) -> Result<(), Halt> {
    let places = plot.axes.iter().map(|a| a.count).product::<usize>();
    if places > MOST_PLACES {
        let why = format!("{places} places are more than {MOST_PLACES}; ask for fewer by `:COUNT`");
        return Err(Halt::Refused(why));
    }
    if let [a, b] = plot.axes.as_slice()
        && a.path == b.path
    {
        return Err(Halt::Refused(format!("`{}` is varied twice; vary another value", a.path)));
    }
    let test = plot.subject.test;
    let pinned = plot.axes.iter().find(|axis| runner.is_pinned(test, &axis.path));
    pinned.map_or(Ok(()), |axis| {
        let (path, name) = (&axis.path, &runner.ground.tests[test].name);
        Err(Halt::Refused(format!(
            "the test `{name}` sets `{path}` itself, so that nothing moves it there; choose another \
             test by `--test`, or take `{path}` out of the test's own values"
        )))
    })
}

/// Runs the grid with the present design and its tolerances in one batch; gives the grid's points.
fn first(
    field: &mut Field<'_, '_>,
    grid: Vec<Wanted>,
    sketch: &mut Sketch,
) -> Result<Vec<usize>, Halt> {
    let count = grid.len();
    let plan = present::Plan::new(field, &mut sketch.notes);
    let mut wanted = grid;
    wanted.extend(plan.iter().flat_map(|plan| plan.wanted(field)));
    let indices = field.run(wanted)?;
    let (grid, more) = indices.split_at(count.min(indices.len()));
    sketch.present = plan.and_then(|plan| plan.found(more));
    Ok(grid.to_vec())
}

/// A map of one value.
fn line(field: &mut Field<'_, '_>, count: usize, sketch: &mut Sketch) -> Result<(), Halt> {
    let place = |k: usize| [k as f64 / (count - 1).max(1) as f64, 0.0];
    let grid = (0..count).map(|k| field.wanted(place(k), Kind::Grid)).collect();
    let grid = first(field, grid, sketch)?;
    let measure = Measure::new(field.axes);
    let mut brackets = Vec::new();
    for pair in grid.windows(2) {
        let [a, b] =
            [pair[0], pair[1]].map(|index| (field.points[index].place, field.sample(index)));
        let near = LINE_NEAR / measure.distance(a.0, b.0);
        brackets.extend(Bracket::new(a, b, near));
    }
    close(field, &mut brackets, Until::Closed, LINE_ROUNDS)?;
    let from = sketch.present.as_ref().map_or(grid[0], |p| p.point);
    let found = ends(field, &brackets)?.into_iter();
    sketch.edges =
        found.map(|(holds, misses)| edge(field, from, holds, misses, &measure)).collect();
    if let Some(present) = sketch.present.as_mut() {
        let at = field.points[present.point].place[0];
        let beside = |up: bool| {
            let ahead = sketch.edges.iter().filter(|e| (field.points[e.holds].place[0] > at) == up);
            let edge = ahead.min_by(|a, b| a.distance.total_cmp(&b.distance)).cloned();
            Along { axis: 0, up, edge }
        };
        if present.is_inside(field) {
            sketch.along = vec![beside(false), beside(true)];
            let edges = sketch.along.iter().filter_map(|a| a.edge.clone());
            sketch.nearest = edges.min_by(|a, b| a.distance.total_cmp(&b.distance));
        }
        let crossings: Vec<f64> =
            sketch.edges.iter().map(|e| field.points[e.holds].place[0]).collect();
        present.hold_against(field, &[crossings.iter().map(|x| [*x, 0.0]).collect()]);
    }
    sketch.steps = field.steps();
    Ok(())
}

/// A map of two values.
fn plane(field: &mut Field<'_, '_>, plot: &Plot, sketch: &mut Sketch) -> Result<(), Halt> {
    let mut lattice = Lattice::new(plot.axes[0].count, plot.axes[1].count, plot.finer);
    let nodes: Vec<Node> = lattice.grid();
    let grid = nodes.iter().map(|node| field.wanted(lattice.place(*node), Kind::Grid)).collect();
    let grid = first(field, grid, sketch)?;
    nodes.iter().zip(grid).for_each(|(node, index)| lattice.put(*node, field.sample(index)));
    lattice.refine(field)?;
    let squares = lattice.squares();
    let boundary = Boundary::find(&lattice, &squares, field)?;
    let pieces: Vec<_> = squares.iter().flat_map(|s| boundary.segments(&lattice, s)).collect();
    sketch.boundary = joined(&pieces, &boundary.crossings);
    sketch.patches = squares
        .iter()
        .map(|square| {
            let [a, b, c, d] = square.nodes();
            let holds = boundary.centre_holds(square);
            Patch {
                from: lattice.place(a),
                to: lattice.place(c),
                values: [a, b, c, d].map(|node| lattice.sample(node).and_then(|s| s.value)),
                missing: boundary.region(&lattice, square, |s| !s.holds, !holds),
                blank: boundary.region(&lattice, square, |s| s.value.is_none(), false),
            }
        })
        .collect();
    if let Some(present) = sketch.present.as_mut() {
        present.hold_against(field, &sketch.boundary);
        if present.is_inside(field) && field.row.limit_text.is_some() {
            let from = present.point;
            (sketch.nearest, sketch.along) = edges::find(field, from, &sketch.boundary)?;
        }
    }
    sketch.steps = field.steps();
    Ok(())
}
