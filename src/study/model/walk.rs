//! How far one value can go while others make up for it: outwards from the best place, step by step
//! along the linear problem, each step run, to the rim beyond which some point is missed, or to the
//! bound.

use super::linear::{Linear, reach};
use crate::study::least_squares::{Bound, LeastSquares, Looked, bound_at};
use nalgebra::{DMatrix, DVector};

/// The longest step, in the logarithm of the value: a factor of three.
const LONGEST: f64 = 1.1;
/// The rim is known to this, in the logarithm.
const CLOSE: f64 = 0.02;
/// A step to where the linear problem sees the rim goes on by this share of it.
const BEYOND: f64 = 0.02;
/// Places looked at again at the same held value, where the first misses a point.
const CORRECTIONS: usize = 2;
/// Slopes are taken afresh so often, where a step came out otherwise than they said …
const FRESH: usize = 2;
/// … by this much of what is accepted.
const OTHERWISE: f64 = 0.3;
/// Beyond this residual a row is not one of a point that was measured.
const FAR: f64 = 50.0;
/// Halvings of the linear problem's own rim.
const HALVINGS: usize = 12;

/// Where a walk came to.
pub(super) struct Walked<S> {
    /// Every place at which no point is missed, in the order of the walk; the best one left out.
    pub(super) accepted: Vec<S>,
    /// Whether it came to the bound.
    pub(super) at_bound: bool,
}

/// A walk to be made.
pub(super) struct Walk<'a, Q: LeastSquares> {
    pub(super) question: &'a Q,
    /// What each of the first rows may be.
    pub(super) limits: &'a [f64],
    pub(super) ends: &'a [[f64; 2]],
    /// Most places to aim at.
    pub(super) most: usize,
}

impl<Q: LeastSquares> Walk<'_, Q>
where
    Q::Seen: Clone,
{
    /// Value `k` towards a bound, from the best place and the slopes there.
    pub(super) fn walk(
        &self,
        (best, slopes): (&Q::Seen, &DMatrix<f64>),
        k: usize,
        side: Bound,
    ) -> Walked<Q::Seen> {
        let mut walked = Walked { accepted: Vec::new(), at_bound: false };
        let bound = self.ends[k][usize::from(side == Bound::Upper)];
        let (mut last, mut slopes) = (best.clone(), slopes.clone());
        if bound_at(self.question.at(&last)[k], self.ends[k]) == Some(side) {
            walked.at_bound = true;
            return walked;
        }
        let (mut missed, mut fresh) = (None, FRESH);
        for _ in 0..self.most {
            let here = self.question.at(&last)[k];
            let target = match missed {
                Some(beyond) => f64::midpoint(here, beyond),
                None => self.target(&last, &slopes, k, bound),
            };
            if (target - here).abs() < 0.5 * CLOSE && target != bound {
                // A rim that stale slopes see is not believed.
                if fresh == 0 || missed.is_none() {
                    break;
                }
                (fresh, missed) = (fresh - 1, None);
                slopes = self.question.slopes(&last).unwrap_or(slopes);
                continue;
            }
            let Some((seen, off)) = self.try_at(&last, &mut slopes, (k, target)) else {
                missed = Some(target);
                continue;
            };
            let met = reach(seen.residual(), self.limits) <= 1.0;
            if met {
                walked.accepted.push(seen.clone());
                last = seen;
                if target == bound {
                    walked.at_bound = true;
                    break;
                }
            }
            if off > OTHERWISE && fresh > 0 {
                fresh -= 1;
                slopes = self.question.slopes(&last).unwrap_or(slopes);
            } else if !met {
                missed = Some(target);
            }
        }
        walked
    }

    /// Where to aim: at the linear problem's rim, no farther than one step.
    fn target(&self, last: &Q::Seen, slopes: &DMatrix<f64>, k: usize, bound: f64) -> f64 {
        let here = self.question.at(last)[k];
        let end = if (bound - here).abs() <= LONGEST {
            bound
        } else {
            here + LONGEST.copysign(bound - here)
        };
        let met = |target: f64| {
            let (_, residual) = self.linear(last, slopes, (k, target));
            reach(&residual, self.limits) <= 1.0
        };
        if met(end) {
            return end;
        }
        let (mut inside, mut outside) = (here, end);
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(inside, outside);
            if met(middle) { inside = middle } else { outside = middle }
        }
        let way = outside - here;
        // A step must be worth a run even where the linear problem sees no room.
        let least = CLOSE.copysign(bound - here);
        let way = if way.abs() < CLOSE { least } else { way * (1.0 + BEYOND) };
        if (way).abs() > (end - here).abs() { end } else { here + way }
    }

    fn linear(
        &self,
        from: &Q::Seen,
        slopes: &DMatrix<f64>,
        held: (usize, f64),
    ) -> (Vec<f64>, Vec<f64>) {
        let at = self.question.at(from);
        let problem = Linear {
            at: &at,
            residual: from.residual(),
            slopes,
            ends: self.ends,
            limits: self.limits,
        };
        problem.follow(Some(held))
    }

    /// Looks with the value held, and again with the others corrected where a point is missed; the
    /// best of these places, and by how much the first came out otherwise than the slopes said.
    fn try_at(
        &self,
        last: &Q::Seen,
        slopes: &mut DMatrix<f64>,
        held: (usize, f64),
    ) -> Option<(Q::Seen, f64)> {
        let mut best: Option<Q::Seen> = None;
        let mut off = 0.0;
        for round in 0..=CORRECTIONS {
            let from = best.as_ref().unwrap_or(last);
            let (place, predicted) = self.linear(from, slopes, held);
            let seen = self.question.look(from, &[place]).into_iter().next().flatten()?;
            self.learn(slopes, from, &seen);
            let reached = reach(seen.residual(), self.limits);
            if round == 0 {
                off = (reached - reach(&predicted, self.limits)).abs();
            }
            let known = best.as_ref().map(|b| reach(b.residual(), self.limits));
            if known.is_some_and(|known| known <= reached) {
                break;
            }
            best = Some(seen);
            if reached <= 1.0 {
                break;
            }
        }
        best.map(|seen| (seen, off))
    }

    /// Slopes that tell the step just made (Broyden, Math. Comp. 19 (1965)).
    fn learn(&self, slopes: &mut DMatrix<f64>, from: &Q::Seen, to: &Q::Seen) {
        let (a, b) = (self.question.at(from), self.question.at(to));
        let step = DVector::from_iterator(a.len(), a.iter().zip(&b).map(|(a, b)| b - a));
        let length = step.norm_squared();
        if length < 1e-12 {
            return;
        }
        // What could not be measured at one of both places teaches nothing.
        let taught = |a: f64, b: f64| a.abs().max(b.abs()) < FAR;
        let pairs = from.residual().iter().zip(to.residual()).enumerate();
        let fell = pairs.map(
            |(i, (a, b))| {
                if taught(*a, *b) { a - b } else { (slopes.row(i) * &step)[0] }
            },
        );
        let fell = DVector::from_iterator(from.residual().len(), fell);
        let wrong = (fell - &*slopes * &step) / length;
        *slopes += wrong * step.transpose();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two points, r₁ = x + y and r₂ = (x − y)/10, and two values that are expected at 0, weakly.
    /// Both points are met in a diamond: |x + y| ≤ 1 and |x − y| ≤ 10, so either value goes from −5.5
    /// to 5.5.
    struct Bowl {
        ends: Vec<[f64; 2]>,
        /// Adds to x, so that straight steps miss: y follows x only along a bend.
        bent: f64,
    }

    #[derive(Clone)]
    struct Place(Vec<f64>, Vec<f64>);

    impl Looked for Place {
        fn residual(&self) -> &[f64] {
            &self.1
        }

        fn sum(&self) -> f64 {
            self.1.iter().map(|r| r * r).sum()
        }
    }

    const WEAK: f64 = 1e-3;

    impl Bowl {
        fn place(&self, u: &[f64]) -> Place {
            let (x, y) = (u[0] + self.bent * u[1] * u[1], u[1]);
            Place(u.to_vec(), vec![x + y, (x - y) / 10.0, WEAK * u[0], WEAK * u[1]])
        }
    }

    impl LeastSquares for Bowl {
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

        fn slopes(&self, seen: &Place) -> Option<DMatrix<f64>> {
            let dx = [1.0, 2.0 * self.bent * seen.0[1]];
            let rows = [[1.0, 1.0 + dx[1]], [0.1, 0.1 * (dx[1] - 1.0)], [WEAK, 0.0], [0.0, WEAK]];
            Some(DMatrix::from_fn(4, 2, |i, j| -rows[i][j]))
        }
    }

    fn walked(bowl: &Bowl, k: usize, side: Bound) -> (f64, bool) {
        let best = bowl.place(&[0.0, 0.0]);
        let slopes = bowl.slopes(&best).unwrap_or_else(|| DMatrix::zeros(4, 2));
        let walk = Walk { question: bowl, limits: &[1.0, 1.0], ends: &bowl.ends, most: 30 };
        let walked = walk.walk((&best, &slopes), k, side);
        let met = |p: &Place| reach(&p.1, &[1.0, 1.0]) <= 1.0;
        assert!(walked.accepted.iter().all(met));
        (walked.accepted.last().map_or(0.0, |p| p.0[k]), walked.at_bound)
    }

    #[test]
    fn exact_a_walk_comes_to_the_corners_of_a_diamond() {
        let bowl = Bowl { ends: vec![[-20.0, 20.0]; 2], bent: 0.0 };
        for k in [0, 1] {
            for (side, corner) in [(Bound::Lower, -5.5), (Bound::Upper, 5.5)] {
                let (end, at_bound) = walked(&bowl, k, side);
                // The rim is closed in to 0.02, and the corner is reached by reweighting.
                assert!((end / corner - 1.0).abs() < 0.05 && !at_bound, "{k} {side:?}: {end}");
            }
        }
    }

    #[test]
    fn exact_a_walk_ends_at_the_bound_where_nothing_is_missed_before() {
        let bowl = Bowl { ends: vec![[-2.0, 20.0], [-20.0, 20.0]], bent: 0.0 };
        assert_eq!(walked(&bowl, 0, Bound::Lower), (-2.0, true));
    }

    /// With x = u₀ + u₁²/20 the corner x = 5.5, y = −4.5 lies at u₀ = 5.5 − 1.0125; the corner
    /// x = 4.5, y = −5.5 at 4.5 − 1.5125. Between them u₀ falls, so the first is the farthest.
    #[test]
    fn exact_a_walk_follows_a_bend() {
        let bowl = Bowl { ends: vec![[-20.0, 20.0]; 2], bent: 0.05 };
        let (end, _) = walked(&bowl, 0, Bound::Upper);
        assert!((end / 4.4875 - 1.0).abs() < 0.06, "{end}");
    }
}
