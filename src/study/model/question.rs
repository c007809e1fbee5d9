//! The least-squares question of a datasheet: inner values and what of the bench is not known, held
//! against the points, each over what it may differ, and against where the inner values were
//! expected.

use super::bench::Bench;
use super::points::Point;
use crate::circuit::Change;
use crate::measure::TestKind;
use crate::study::compare::Knob;
use crate::study::in_parallel;
use crate::study::least_squares::{LeastSquares, Looked};
use nalgebra::DMatrix;

/// How much a value counts that lies one spread from where it was expected, next to a point at the
/// edge of what is accepted: enough to settle what no point tells, too little to pull against one.
pub(super) const PRIOR_WEIGHT: f64 = 0.1;
/// Slopes are differences over this, in the logarithm: small against what bends, large against the
/// solver's error.
const SIDE: f64 = 0.01;
/// With every point as near as this share of what is accepted nothing is gained by going on.
const ENOUGH: f64 = 0.02;
/// A point that could not be measured counts as if it lay so many times off what is accepted, …
const LOST: f64 = 100.0;
/// … and so many more for each spread from where the values were expected, which leads back there.
const LOST_SLOPE: f64 = 5.0;
/// A step that lowers the sum of squares by less is the last one: the root mean square moves by less
/// than a thousandth then.
const SETTLED: f64 = 2e-3;

/// What a rest knows nothing of: names of inner values and of the bench that only motion shows.
const ONLY_IN_MOTION: [&str; 7] = [
    "mid_gain",
    "lag_time",
    "bandwidth",
    "gate_capacitance",
    "transit_time",
    super::bench::CAPACITOR,
    super::bench::ESR,
];
/// What only noise shows.
const ONLY_IN_NOISE: [&str; 2] = ["reference_noise", "noise_corner"];

/// One value to find.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Sought {
    pub(super) knob: Knob,
    /// The coordinate that it is expected at.
    pub(super) expected: f64,
    /// How far off that may be, as a standard deviation of the coordinate.
    pub(super) spread: f64,
}

impl Sought {
    /// The name without the part's: `mid_gain`.
    fn own_name(&self) -> &str {
        self.knob.path.rsplit('.').next().unwrap_or_default()
    }

    /// Whether it can matter to a test.
    fn concerns(&self, kind: TestKind) -> bool {
        let name = self.own_name();
        let rests = matches!(
            kind,
            TestKind::OperatingPoint
                | TestKind::Dropout
                | TestKind::LoadRegulation
                | TestKind::LineRegulation
        );
        if ONLY_IN_NOISE.contains(&name) {
            return kind == TestKind::Noise;
        }
        !(rests && ONLY_IN_MOTION.contains(&name))
    }
}

/// The question.
pub(super) struct Question<'a> {
    pub(super) bench: &'a Bench,
    pub(super) sought: &'a [Sought],
    /// Points that do not count.
    pub(super) left_out: Vec<usize>,
    pub(super) threads: usize,
    /// Steps of one descent.
    pub(super) patience: usize,
}

/// A place that was looked at.
#[derive(Clone, Debug)]
pub(super) struct Seen {
    /// One coordinate a value.
    pub(super) u: Vec<f64>,
    pub(super) changes: Vec<Change>,
    /// One a point.
    pub(super) got: Vec<Result<f64, String>>,
    /// Points first, then values against what was expected; asked minus found, in what is accepted.
    pub(super) residual: Vec<f64>,
    pub(super) sum: f64,
}

impl Looked for Seen {
    fn residual(&self) -> &[f64] {
        &self.residual
    }

    fn sum(&self) -> f64 {
        self.sum
    }
}

impl Question<'_> {
    pub(super) fn points(&self) -> &[Point] {
        &self.bench.points
    }

    /// The place that everything is expected at.
    pub(super) fn expected(&self) -> Vec<f64> {
        self.sought.iter().map(|s| s.expected).collect()
    }

    /// Looks at places, taking over from a known one what cannot have changed.
    pub(super) fn look_from(&self, known: Option<&Seen>, places: &[Vec<f64>]) -> Vec<Seen> {
        let spelled = |u: &Vec<f64>| -> (Vec<Change>, Vec<f64>) {
            self.sought.iter().zip(u).map(|(s, u)| s.knob.change(*u)).unzip()
        };
        let spelled: Vec<(Vec<Change>, Vec<f64>)> = places.iter().map(spelled).collect();
        let tests = self.bench.tests.len();
        let wanted = |place: usize, test: usize| {
            let Some(known) = known else { return true };
            let Some(kind) = self.bench.tests.get(test).map(|t| t.kind) else { return false };
            let moved = self.sought.iter().zip(&known.u).zip(&spelled[place].1);
            moved.into_iter().any(|((s, old), new)| old != new && s.concerns(kind))
        };
        let all = (0..places.len()).flat_map(|p| (0..tests).map(move |t| (p, t)));
        let told = |t: usize| self.bench.points_of(t).next().is_some();
        let jobs: Vec<(usize, usize)> = all.filter(|&(p, t)| told(t) && wanted(p, t)).collect();
        let figures = in_parallel(jobs.len(), self.threads, |k| {
            let (place, test) = jobs[k];
            self.bench.run(test, &spelled[place].0)
        });
        let blank = || vec![Err("not looked at".to_owned()); self.points().len()];
        let mut got: Vec<Vec<Result<f64, String>>> =
            places.iter().map(|_| known.map_or_else(blank, |k| k.got.clone())).collect();
        for ((place, test), figures) in jobs.into_iter().zip(figures) {
            for (point, figure) in self.bench.points_of(test).zip(figures) {
                got[place][point] = figure;
            }
        }
        spelled.into_iter().zip(got).map(|((changes, u), got)| self.seen(u, changes, got)).collect()
    }

    fn seen(&self, u: Vec<f64>, changes: Vec<Change>, got: Vec<Result<f64, String>>) -> Seen {
        let priors: Vec<f64> =
            self.sought.iter().zip(&u).map(|(s, u)| (s.expected - u) / s.spread).collect();
        let away = priors.iter().map(|r| r * r).sum::<f64>().sqrt();
        let mut residual: Vec<f64> = self
            .points()
            .iter()
            .zip(&got)
            .map(|(point, got)| match got {
                Ok(got) => -point.residual(*got),
                Err(_) => LOST + LOST_SLOPE * away,
            })
            .collect();
        self.left_out.iter().for_each(|&k| residual[k] = 0.0);
        residual.extend(priors.iter().map(|r| PRIOR_WEIGHT * r));
        let sum = residual.iter().map(|r| r * r).sum();
        Seen { u, changes, got, residual, sum }
    }

    /// The place of a seen one when other points count.
    pub(super) fn again(&self, seen: &Seen) -> Seen {
        self.seen(seen.u.clone(), seen.changes.clone(), seen.got.clone())
    }

    /// How many points count.
    fn counted(&self) -> usize {
        self.points().len() - self.left_out.len()
    }

    /// How many points lie beyond what is accepted.
    pub(super) fn missed(&self, seen: &Seen) -> usize {
        seen.residual[..self.points().len()].iter().filter(|r| r.abs() > 1.0).count()
    }

    /// Root mean square of the points' residuals.
    pub(super) fn misfit(&self, seen: &Seen) -> f64 {
        let points = &seen.residual[..self.points().len()];
        let squares: f64 = points.iter().map(|r| r * r).sum();
        (squares / self.counted().max(1) as f64).sqrt()
    }
}

impl LeastSquares for Question<'_> {
    type Seen = Seen;

    fn at(&self, seen: &Seen) -> Vec<f64> {
        seen.u.clone()
    }

    fn ends(&self) -> Vec<[f64; 2]> {
        self.sought.iter().map(|s| s.knob.ends()).collect()
    }

    fn look(&self, from: &Seen, places: &[Vec<f64>]) -> Vec<Option<Seen>> {
        self.look_from(Some(from), places).into_iter().map(Some).collect()
    }

    fn slopes(&self, seen: &Seen) -> Option<DMatrix<f64>> {
        let mut places = Vec::new();
        for (k, s) in self.sought.iter().enumerate() {
            let [low, high] = s.knob.ends();
            let by = if s.knob.is_ratio() { SIDE } else { SIDE * (high - low) };
            let mut u = seen.u.clone();
            u[k] = if u[k] + by <= high { u[k] + by } else { (u[k] - by).max(low) };
            places.push(u);
        }
        let looked = self.look_from(Some(seen), &places);
        let mut slopes = DMatrix::zeros(seen.residual.len(), self.sought.len());
        let known = |s: &Seen, row: usize| s.got.get(row).is_none_or(Result::is_ok);
        for (k, beside) in looked.iter().enumerate() {
            let way = beside.u[k] - seen.u[k];
            for row in 0..seen.residual.len() {
                // A neighbour that cannot be measured says nothing of the slope here.
                if way != 0.0 && known(beside, row) == known(seen, row) {
                    slopes[(row, k)] = (seen.residual[row] - beside.residual[row]) / way;
                }
            }
        }
        Some(slopes)
    }

    fn settled(&self) -> f64 {
        SETTLED
    }

    fn most_steps(&self) -> usize {
        self.patience
    }

    fn is_enough(&self, seen: &Seen) -> bool {
        seen.residual[..self.points().len()].iter().all(|r| r.abs() <= ENOUGH)
    }
}
