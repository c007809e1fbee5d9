//! Bounded nonlinear least squares: the method of Levenberg (Quart. Appl. Math. 2 (1944)) and
//! Marquardt (J. SIAM 11 (1963)) with steps cut to the bounds. What is tried depends on residuals
//! alone, so the same question always gives the same answer. What a residual is, and how places are
//! looked at, is the question's own.

use nalgebra::{DMatrix, DVector};

/// Steps of one descent.
const MOST_STEPS: usize = 40;
/// A step that lowers the sum of squares by less than this share is the last one.
const SETTLED: f64 = 1e-7;
/// Damping tried side by side, times the present one.
const DAMPINGS: [f64; 4] = [0.1, 1.0, 10.0, 100.0];
const FIRST_DAMPING: f64 = 1e-3;
const MOST_DAMPING: f64 = 1e8;
const LEAST_DAMPING: f64 = 1e-12;
/// What damping is raised by where none of those tried helps.
const RAISED: f64 = 1e4;
/// Bases of the sequence that spreads starts (Halton, Numer. Math. 2 (1960)).
const PRIMES: [u32; 20] =
    [2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71];
/// A place this share of the way between the bounds off one lies on it.
const ON_BOUND: f64 = 1e-4;

/// How a descent ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// The last step changed next to nothing.
    Settled,
    /// No step lowers the residual any further.
    NothingLower,
    /// The steps ran out.
    OutOfSteps,
}

impl Ended {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Settled => "settled: the last step changed next to nothing",
            Self::NothingLower => "settled: no step lowers the residual any further",
            Self::OutOfSteps => "not settled when its steps ran out: narrow the bounds",
        }
    }
}

/// Which bound a value lies on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bound {
    /// The lower one.
    Lower,
    /// The upper one.
    Upper,
}

/// A place that was looked at.
pub(super) trait Looked {
    /// Asked minus found there.
    fn residual(&self) -> &[f64];
    /// Sum of the residual's squares.
    fn sum(&self) -> f64;
}

/// A question with a least sum of squares.
pub(super) trait LeastSquares {
    /// What is kept of a place.
    type Seen: Looked;

    /// The coordinates of a place.
    fn at(&self, seen: &Self::Seen) -> Vec<f64>;

    /// Lower and upper bound of each coordinate; infinite where there is none.
    fn ends(&self) -> Vec<[f64; 2]>;

    /// Looks at places side by side, coming from one; `None` where one cannot be solved.
    fn look(&self, from: &Self::Seen, places: &[Vec<f64>]) -> Vec<Option<Self::Seen>>;

    /// How fast the residual falls with each coordinate, a column each. `None` where no neighbour of
    /// the place can be solved.
    fn slopes(&self, seen: &Self::Seen) -> Option<DMatrix<f64>>;

    /// A step that lowers the sum of squares by less than this share is the last one.
    fn settled(&self) -> f64 {
        SETTLED
    }

    /// Steps of one descent, at the most.
    fn most_steps(&self) -> usize {
        MOST_STEPS
    }

    /// Whether nothing is gained by going on from a place.
    fn is_enough(&self, _seen: &Self::Seen) -> bool {
        false
    }
}

/// Follows the sum of squares downwards from a place.
pub(super) fn descend<Q: LeastSquares>(question: &Q, start: Q::Seen) -> (Q::Seen, Ended) {
    let ends = question.ends();
    let (mut seen, mut damping) = (start, FIRST_DAMPING);
    if ends.is_empty() {
        return (seen, Ended::Settled);
    }
    let mut slopes = None;
    for _ in 0..question.most_steps() {
        let Some(matrix) = slopes.take().or_else(|| question.slopes(&seen)) else {
            return (seen, Ended::NothingLower);
        };
        let tried = trials((&question.at(&seen), &seen), &ends, &matrix, damping);
        match best(question, &seen, &tried).filter(|(_, new)| new.sum() < seen.sum()) {
            Some((factor, new)) => {
                let gained = seen.sum() - new.sum();
                let settled = gained <= question.settled() * seen.sum();
                (seen, damping) = (new, (damping * factor).max(LEAST_DAMPING));
                if settled || question.is_enough(&seen) {
                    return (seen, Ended::Settled);
                }
            }
            None => {
                damping *= RAISED;
                slopes = Some(matrix);
                if damping > MOST_DAMPING {
                    return (seen, Ended::NothingLower);
                }
            }
        }
    }
    (seen, Ended::OutOfSteps)
}

/// The best of the places that dampings lead to, with the damping's factor.
fn best<Q: LeastSquares>(
    question: &Q,
    seen: &Q::Seen,
    tried: &[(f64, Vec<f64>)],
) -> Option<(f64, Q::Seen)> {
    let places: Vec<Vec<f64>> = tried.iter().map(|(_, place)| place.clone()).collect();
    let factors = tried.iter().map(|(factor, _)| *factor);
    let looked = factors.zip(question.look(seen, &places));
    let solved = looked.filter_map(|(factor, seen)| Some((factor, seen?)));
    solved.filter(|(_, s)| s.sum().is_finite()).min_by(|a, b| a.1.sum().total_cmp(&b.1.sum()))
}

/// The places that each damping leads to.
fn trials<S: Looked>(
    (at, seen): (&[f64], &S),
    ends: &[[f64; 2]],
    slopes: &DMatrix<f64>,
    damping: f64,
) -> Vec<(f64, Vec<f64>)> {
    let residual = DVector::from_column_slice(seen.residual());
    let free = free_columns(at, ends, &slopes.tr_mul(&residual));
    if free.is_empty() {
        return Vec::new();
    }
    let matrix = slopes.select_columns(&free);
    let lengths: Vec<f64> = matrix.column_iter().map(|c| c.norm().max(f64::MIN_POSITIVE)).collect();
    let decomposed = matrix.qr();
    let mut turned = residual;
    decomposed.q_tr_mul(&mut turned);
    let upper = decomposed.r();
    let count = free.len();
    let step = |factor: f64| {
        let mut system = DMatrix::zeros(2 * count, count);
        system.view_mut((0, 0), (count, count)).copy_from(&upper);
        for (k, length) in lengths.iter().enumerate() {
            system[(count + k, k)] = (damping * factor).sqrt() * length;
        }
        let mut right = DVector::zeros(2 * count);
        right.rows_mut(0, count).copy_from(&turned.rows(0, count));
        let step = system.svd(true, true).solve(&right, 0.0).ok()?;
        let mut place = at.to_vec();
        for (row, &column) in free.iter().enumerate() {
            let [low, high] = ends[column];
            place[column] = (place[column] + step[row]).clamp(low, high);
        }
        Some((factor, place))
    };
    DAMPINGS.into_iter().filter_map(step).collect()
}

/// The columns that may move: all but those that lie on a bound and are pushed outwards.
fn free_columns(at: &[f64], ends: &[[f64; 2]], push: &DVector<f64>) -> Vec<usize> {
    let free = |k: &usize| match bound_at(at[*k], ends[*k]) {
        Some(Bound::Lower) => push[*k] > 0.0,
        Some(Bound::Upper) => push[*k] < 0.0,
        None => true,
    };
    (0..ends.len()).filter(free).collect()
}

/// The bound that a coordinate lies on.
pub(super) fn bound_at(u: f64, [low, high]: [f64; 2]) -> Option<Bound> {
    let near = ON_BOUND * (high - low);
    if u <= low + near {
        Some(Bound::Lower)
    } else if u >= high - near {
        Some(Bound::Upper)
    } else {
        None
    }
}

/// The `k`th of points that fill the bounds evenly.
pub(super) fn spread(ends: &[[f64; 2]], k: u32) -> Vec<f64> {
    let at = ends.iter().zip(PRIMES).map(|([low, high], base)| {
        let (mut rest, mut share, mut digit) = (k, 0.0, 1.0);
        while rest > 0 {
            digit /= f64::from(base);
            share += digit * f64::from(rest % base);
            rest /= base;
        }
        low + share * (high - low)
    });
    at.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// r = b − A·u within bounds.
    struct Linear {
        a: DMatrix<f64>,
        b: DVector<f64>,
        ends: Vec<[f64; 2]>,
    }

    struct Place(Vec<f64>, Vec<f64>);

    impl Looked for Place {
        fn residual(&self) -> &[f64] {
            &self.1
        }

        fn sum(&self) -> f64 {
            self.1.iter().map(|r| r * r).sum()
        }
    }

    impl Linear {
        fn place(&self, u: &[f64]) -> Place {
            let residual = &self.b - &self.a * DVector::from_column_slice(u);
            Place(u.to_vec(), residual.iter().copied().collect())
        }
    }

    impl LeastSquares for Linear {
        type Seen = Place;

        fn at(&self, seen: &Place) -> Vec<f64> {
            seen.0.clone()
        }

        fn ends(&self) -> Vec<[f64; 2]> {
            self.ends.clone()
        }

        fn look(&self, _: &Place, places: &[Vec<f64>]) -> Vec<Option<Place>> {
            places.iter().map(|u| Some(self.place(u))).collect()
        }

        fn slopes(&self, _: &Place) -> Option<DMatrix<f64>> {
            Some(self.a.clone())
        }
    }

    /// A line through (0, 1), (1, 3), (2, 4): slope 3/2 and height 7/6 by the normal equations.
    fn line(ends: Vec<[f64; 2]>) -> Linear {
        let a = DMatrix::from_row_slice(3, 2, &[1.0, 0.0, 1.0, 1.0, 1.0, 2.0]);
        Linear { a, b: DVector::from_column_slice(&[1.0, 3.0, 4.0]), ends }
    }

    #[test]
    fn exact_a_straight_line_is_found_without_bounds() {
        let free = [f64::NEG_INFINITY, f64::INFINITY];
        let question = line(vec![free, free]);
        let (found, ended) = descend(&question, question.place(&[10.0, -10.0]));
        // The last step is damped by a part in 10⁹ at most, and stops at 1e-7 of the sum of squares.
        assert!((found.0[0] - 7.0 / 6.0).abs() < 1e-4, "{:?}", found.0);
        assert!((found.0[1] - 1.5).abs() < 1e-4, "{:?}", found.0);
        assert_ne!(ended, Ended::OutOfSteps);
    }

    /// With the slope held at 1 by its bound the height is the mean of b − x: (1 + 2 + 2)/3.
    #[test]
    fn exact_a_value_that_is_pushed_against_its_bound_stays_there_and_others_follow() {
        let question = line(vec![[-5.0, 5.0], [0.0, 1.0]]);
        let (found, _) = descend(&question, question.place(&[0.0, 0.5]));
        assert!((found.0[0] - 5.0 / 3.0).abs() < 1e-4 && found.0[1] == 1.0, "{:?}", found.0);
        assert_eq!(bound_at(found.0[1], [0.0, 1.0]), Some(Bound::Upper));
        assert_eq!(bound_at(found.0[0], [-5.0, 5.0]), None);
    }

    #[test]
    fn exact_starts_are_haltons_points() {
        let ends = vec![[0.0, 1.0], [0.0, 3.0]];
        let points = [1, 2, 3].map(|k| spread(&ends, k));
        let expected = [[0.5, 1.0], [0.25, 2.0], [0.75, 1.0 / 3.0]];
        for (point, expected) in points.iter().zip(expected) {
            assert!((point[0] - expected[0]).abs() < 1e-15, "{points:?}");
            assert!((point[1] - expected[1]).abs() < 1e-15, "{points:?}");
        }
    }

    #[test]
    fn nothing_to_move_is_settled_at_once() {
        let question = line(Vec::new());
        let (found, ended) = descend(&question, Place(Vec::new(), vec![1.0]));
        assert!(found.0.is_empty() && ended == Ended::Settled);
    }
}
