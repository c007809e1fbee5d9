//! Points of a map: places in it become changes, runs and numbers, each point once.

use super::subject::Row;
use crate::circuit::Change;
use crate::measure::Verdict;
use crate::study::axis::Axis;
use crate::study::worst::badness;
use crate::study::{Halt, Line, Models, Reading, Runner, Shot};
use std::collections::BTreeMap;

/// A place in the map: from 0 to 1 along each axis as it is spaced. Where one value varies the second
/// number is 0.
pub type Place = [f64; 2];

/// Why a point was run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// One of the places asked for.
    Grid,
    /// Between them, where the boundary passes.
    Refined,
    /// On the way to an edge.
    Edge,
    /// The design as it stands.
    Present,
    /// A corner of its tolerances.
    Tolerance,
}

impl Kind {
    /// As in the results.
    pub fn word(self) -> &'static str {
        match self {
            Self::Grid => "grid",
            Self::Refined => "refined",
            Self::Edge => "edge",
            Self::Present => "present",
            Self::Tolerance => "tolerance",
        }
    }
}

/// One run of a map.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Where it lies.
    pub place: Place,
    /// What was varied, in SI base units, one an axis.
    pub at: Vec<f64>,
    /// The same as `--set` arguments; empty for the present design.
    pub changes: Vec<Change>,
    /// Why it was run.
    pub kind: Kind,
    /// In the unit of what is mapped.
    pub value: Option<f64>,
    /// Distance inside the limit over its scale, negative outside.
    pub slack: Option<f64>,
    /// Whether the limit holds; where nothing is asked, always.
    pub holds: bool,
    /// What it came to.
    pub verdict: Verdict,
    /// Why there is no value, or what state the rail is in.
    pub reason: Option<String>,
    /// It could not be solved.
    pub failed: bool,
    /// Attempted steps.
    pub steps: usize,
    /// Where several models of a regulator are tried: all the rest is as the worst of them makes it.
    pub models: Option<Passing>,
}

/// How many models hold at a point.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Passing {
    /// So many hold,
    pub passing: usize,
    /// of so many.
    pub of: usize,
    /// The worst one's name.
    pub worst: String,
}

impl Passing {
    /// Whether some models hold and some do not.
    pub fn is_open(&self) -> bool {
        self.passing > 0 && self.passing < self.of
    }
}

/// What the search for a boundary needs of a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Sample {
    pub(super) holds: bool,
    pub(super) slack: Option<f64>,
    /// What is drawn.
    pub(super) value: Option<f64>,
}

/// What answers at places.
pub(super) trait Probe {
    fn samples(&mut self, places: &[Place], kind: Kind) -> Result<Vec<Sample>, Halt>;
}

/// The points of a map so far.
pub(super) struct Field<'r, 'a> {
    pub(super) runner: &'r Runner<'a>,
    pub(super) axes: &'r [Axis],
    pub(super) test: usize,
    pub(super) row: &'r Row,
    pub(super) points: Vec<Point>,
    by_key: BTreeMap<String, usize>,
}

/// A point to be run.
pub(super) struct Wanted {
    place: Place,
    at: Vec<f64>,
    changes: Vec<Change>,
    kind: Kind,
}

impl<'r, 'a> Field<'r, 'a> {
    pub(super) fn new(runner: &'r Runner<'a>, axes: &'r [Axis], test: usize, row: &'r Row) -> Self {
        Self { runner, axes, test, row, points: Vec::new(), by_key: BTreeMap::new() }
    }

    /// The point at a place: what is run is what the text of its values says.
    pub(super) fn wanted(&self, place: Place, kind: Kind) -> Wanted {
        let values: Vec<f64> = self.axes.iter().zip(place).map(|(a, f)| a.at(f)).collect();
        self.at_values(&values, kind)
    }

    /// The point at some values.
    pub(super) fn at_values(&self, values: &[f64], kind: Kind) -> Wanted {
        let spelled = self.axes.iter().zip(values).map(|(axis, value)| axis.change(*value));
        let (changes, at): (Vec<Change>, Vec<f64>) = spelled.unzip();
        Wanted { place: self.place(&at), at, changes, kind }
    }

    /// The design as it stands: nothing is changed.
    pub(super) fn present(&self, values: &[f64]) -> Wanted {
        let (at, changes) = (values.to_vec(), Vec::new());
        Wanted { place: self.place(&at), at, changes, kind: Kind::Present }
    }

    pub(super) fn place(&self, at: &[f64]) -> Place {
        let mut place = [0.0; 2];
        for ((to, axis), value) in place.iter_mut().zip(self.axes).zip(at) {
            *to = axis.fraction(*value);
        }
        place
    }

    /// Runs what is not known yet in one batch; gives the points' indices.
    pub(super) fn run(&mut self, wanted: Vec<Wanted>) -> Result<Vec<usize>, Halt> {
        let shots: Vec<Shot> = wanted.iter().flat_map(|wanted| self.shots(wanted)).collect();
        let readings = self.runner.run(&shots)?;
        let each = shots.len() / wanted.len().max(1);
        let mut found = Vec::with_capacity(wanted.len());
        let of_each = shots.chunks(each.max(1)).zip(readings.chunks(each.max(1)));
        for (wanted, (shots, readings)) in wanted.into_iter().zip(of_each) {
            let key = shots.first().map_or_else(String::new, |s| s.key(self.runner.ground.tests));
            let next = self.points.len();
            let index = *self.by_key.entry(key).or_insert(next);
            if index == next {
                self.points.push(self.point(wanted, shots, readings));
            }
            found.push(index);
        }
        Ok(found)
    }

    /// One a model, or the one that there is.
    fn shots(&self, wanted: &Wanted) -> Vec<Shot> {
        let shot = |model: &[Change]| Shot {
            test: self.test,
            changes: [model, wanted.changes.as_slice()].concat(),
        };
        match &self.runner.models {
            Some(models) => models.list.iter().map(|model| shot(&model.changes)).collect(),
            None => vec![shot(&[])],
        }
    }

    /// What came of a place: the worst of its models, the best one where nothing is asked.
    fn point(&self, wanted: Wanted, shots: &[Shot], readings: &[Reading]) -> Point {
        let points = readings.iter().zip(shots).map(|(reading, shot)| {
            let changes = shot.changes.clone();
            point(Wanted { at: wanted.at.clone(), changes, ..wanted }, reading, self.row)
        });
        let points: Vec<Point> = points.collect();
        let asked = self.row.limit_text.is_some();
        let mut worst = 0;
        for (k, point) in points.iter().enumerate() {
            if asked && point.badness() > points[worst].badness() {
                worst = k;
            }
        }
        let passing = points.iter().filter(|point| point.holds).count();
        let steps = points.iter().map(|point| point.steps).sum();
        let of = points.len();
        let told = |models: &Models| Passing { passing, of, worst: models.name(worst).to_owned() };
        let models = self.runner.models.as_ref().map(told);
        let Some(point) = points.into_iter().nth(worst) else {
            return point(wanted, &Reading::failed("it was not run".to_owned(), 0), self.row);
        };
        Point { steps, models, ..point }
    }

    pub(super) fn sample(&self, index: usize) -> Sample {
        let point = &self.points[index];
        Sample { holds: point.holds, slack: point.slack, value: point.value }
    }

    pub(super) fn steps(&self) -> usize {
        self.points.iter().map(|p| p.steps).sum()
    }
}

impl Probe for Field<'_, '_> {
    fn samples(&mut self, places: &[Place], kind: Kind) -> Result<Vec<Sample>, Halt> {
        let wanted = places.iter().map(|place| self.wanted(*place, kind)).collect();
        let indices = self.run(wanted)?;
        Ok(indices.into_iter().map(|index| self.sample(index)).collect())
    }
}

fn point(wanted: Wanted, reading: &Reading, row: &Row) -> Point {
    let Wanted { place, at, changes, kind } = wanted;
    let (value, slack, verdict, reason) = row.read(reading);
    // The verdict of one solution knows no uncertainty: it misses only where the value is outside.
    let inside = matches!(verdict, Verdict::Pass | Verdict::Marginal | Verdict::NoRequirements);
    let holds = inside || row.limit_text.is_none();
    // What is out of its limit for another reason than its number leads no search.
    let slack = slack.filter(|slack| (*slack >= 0.0) == holds);
    let (failed, steps) = (reading.failure.is_some(), reading.steps);
    let models = None;
    Point { place, at, changes, kind, value, slack, holds, verdict, reason, failed, steps, models }
}

impl Point {
    /// Greater is worse, as in a search of worst cases.
    fn badness(&self) -> f64 {
        let (value, slack, verdict) = (self.value, self.slack, self.verdict);
        badness(&Line { value, slack, verdict, reason: None })
    }
}

/// A field with a formula, for tests.
#[cfg(test)]
pub(super) mod analytic {
    use super::{Halt, Kind, Place, Probe, Sample};
    use std::collections::BTreeSet;

    pub(in crate::study::map) struct Analytic {
        slack: fn(Place) -> f64,
        /// Beyond this on the first axis there are no numbers.
        pub(in crate::study::map) blind_beyond: Option<f64>,
        pub(in crate::study::map) runs: usize,
        seen: BTreeSet<[u64; 2]>,
    }

    impl Analytic {
        pub(in crate::study::map) fn new(slack: fn(Place) -> f64) -> Self {
            Self { slack, blind_beyond: None, runs: 0, seen: BTreeSet::new() }
        }
    }

    impl Probe for Analytic {
        fn samples(&mut self, places: &[Place], _: Kind) -> Result<Vec<Sample>, Halt> {
            let blind = self.blind_beyond;
            let sample = |place: &Place| {
                let slack = (self.slack)(*place);
                let told = blind.is_none_or(|beyond| place[0] <= beyond).then_some(slack);
                Sample { holds: slack >= 0.0, slack: told, value: told }
            };
            let found = places.iter().map(sample).collect();
            self.seen.extend(places.iter().map(|p| p.map(f64::to_bits)));
            self.runs = self.seen.len();
            Ok(found)
        }
    }
}
