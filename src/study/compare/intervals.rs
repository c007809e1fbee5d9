//! What a fit is worth: 95 % intervals of its values, and which of them the trace cannot tell apart.
//!
//! The covariance is that of the linear problem at the end of the fit, s²·(JᵀJ)⁻¹, shift and offset
//! counted as unknowns; s² is the residual's variance times n/n_eff, for neighbouring samples of an
//! oscilloscope are not independent. Values on a bound are held there and get no interval.

use super::fit::{Bound, Descent, bound_at, settled_sum};
use super::linear::Linear;
use super::problem::{Place, Problem};
use super::student::{independent, neighbours};
use super::ties::{Lost, lost_directions};
use nalgebra::{DMatrix, DVector};

/// An interval is never widened further than this by the check at its ends: what is wider is not
/// held by the trace in any useful way.
const MOST_WIDENING: f64 = 3.0;

/// What is known of one fitted value.
#[derive(Clone, Debug, PartialEq)]
pub enum Known {
    /// It lies between these with 95 % confidence, if the model is right.
    Within {
        /// In SI base units.
        low: f64,
        /// In SI base units.
        high: f64,
        /// Rise of the residual at both ends over what the linear problem has it, the other
        /// values moved along; 1 where it is linear. `None` beyond a bound.
        rise: [Option<f64>; 2],
    },
    /// The fit came to a bound; the value is not known.
    OnBound(Bound),
    /// The trace does not tell it, or not apart from others.
    Lost,
}

/// A fit with what it is worth.
#[derive(Clone, Debug)]
pub struct Worth {
    /// One a knob.
    pub known: Vec<Known>,
    /// Values that cannot be told.
    pub lost: Vec<Lost>,
    /// Pairs that are told apart, but move together: names and correlation.
    pub tied: Vec<(String, String, f64)>,
    /// Half-width of the shift's interval in s, where it was found.
    pub shift_s: Option<f64>,
    /// Half-width of the offset's interval in V, where it was found.
    pub offset_v: Option<f64>,
    /// Correlation of neighbouring residuals.
    pub correlation: f64,
    /// Independent samples that the residual is worth.
    pub independent: f64,
}

/// Told from this correlation on.
const TIED: f64 = 0.9;

/// Works out what a fit is worth; four further runs for each value.
pub(super) fn worth(problem: &Problem<'_>, descent: &Descent) -> Option<Worth> {
    let (seen, used) = (&descent.seen, &descent.used);
    let correlation = neighbours(&seen.residual);
    let independent = independent(used.len(), correlation);
    let all: Vec<usize> = (0..problem.knobs.len()).collect();
    let on_bound: Vec<Option<Bound>> =
        all.iter().map(|k| bound_at(problem, &seen.place, *k)).collect();
    let mut worth = Worth {
        known: on_bound.iter().map(|b| b.map_or(Known::Lost, Known::OnBound)).collect(),
        lost: Vec::new(),
        tied: Vec::new(),
        shift_s: None,
        offset_v: None,
        correlation,
        independent,
    };
    if problem.aside() + all.len() == 0 {
        return Some(worth);
    }
    let slopes = problem.slopes(seen, used)?;
    // A value may have come to its bound only because another one makes up for it: it is lost then,
    // and so is the other.
    let open = Linear::new(problem, descent, &slopes, all.clone(), independent);
    let (lost, _) = lost_directions(&open, &open.values(descent));
    let made_up_for = |k: &usize| lost.iter().any(|l| l.knobs.len() > 1 && l.knobs.contains(k));
    let free = |k: &usize| on_bound[*k].is_none() || made_up_for(k);
    let indices: Vec<usize> = all.into_iter().filter(free).collect();
    let linear = Linear::new(problem, descent, &slopes, indices, independent);
    let (lost, covariance) = lost_directions(&linear, &linear.values(descent));
    for k in lost.iter().flat_map(|l| &l.knobs) {
        worth.known[*k] = Known::Lost;
    }
    worth.lost = lost;
    (worth.shift_s, worth.offset_v) = aside_widths(problem, &linear);
    intervals(problem, descent, &linear, &covariance, &mut worth);
    Some(worth)
}

/// Half-widths of shift and offset. They are found exactly as the values are: by the inverse of
/// the whole triangle, the pseudo-inverse where some values are lost.
fn aside_widths(problem: &Problem<'_>, linear: &Linear<'_>) -> (Option<f64>, Option<f64>) {
    let size = linear.upper.ncols();
    let lengths: Vec<f64> =
        linear.upper.column_iter().map(|c| c.norm().max(f64::MIN_POSITIVE)).collect();
    let mut scaled = linear.upper.clone();
    for (mut column, length) in scaled.column_iter_mut().zip(&lengths) {
        column /= *length;
    }
    let half = |k: usize| {
        let inverse = scaled.clone().pseudo_inverse(1e-6).ok()?;
        Some(linear.t * linear.deviation_v * inverse.row(k).norm() / lengths[k])
    };
    let free_shift = problem.shift == super::Shift::Free;
    let shift = (free_shift && size > 0).then(|| half(0)).flatten();
    let offset = problem.offset_free.then(|| half(usize::from(free_shift))).flatten();
    (shift, offset)
}

fn intervals(
    problem: &Problem<'_>,
    descent: &Descent,
    linear: &Linear<'_>,
    covariance: &DMatrix<f64>,
    worth: &mut Worth,
) {
    let lost = |k: usize| worth.lost.iter().any(|l| l.knobs.contains(&k));
    let kept: Vec<usize> =
        (0..linear.indices.len()).filter(|j| !lost(linear.indices[*j])).collect();
    for (a, &i) in kept.iter().enumerate() {
        for &j in &kept[a + 1..] {
            let both = (covariance[(i, i)] * covariance[(j, j)]).sqrt();
            let tie = covariance[(i, j)] / both;
            if tie.abs() >= TIED {
                let name = |j: usize| linear.knobs[j].path.clone();
                worth.tied.push((name(i), name(j), tie));
            }
        }
    }
    let half = |j: usize| linear.t * covariance[(j, j)].sqrt();
    let ends: Vec<(usize, f64)> =
        kept.iter().flat_map(|&j| [-1.0, 1.0].map(|side| (j, side * half(j)))).collect();
    let places: Vec<Place> =
        ends.iter().map(|&(j, by)| beside(problem, descent, linear, covariance, j, by)).collect();
    let looked = problem.look(&places, &descent.used);
    let rise = (linear.t * linear.deviation_v).powi(2);
    let within = |place: &Place| {
        let knobs = problem.knobs.iter().zip(&place.u);
        knobs.clone().all(|(knob, u)| *u >= knob.ends()[0] && *u <= knob.ends()[1])
    };
    for (pair, &j) in kept.iter().enumerate() {
        let side = |which: usize| {
            let (place, seen) = (places.get(2 * pair + which)?, looked.get(2 * pair + which)?);
            let seen = seen.as_ref().filter(|_| within(place))?;
            // Where an edge passes a sample the residual has a kink in the shift, at which one way
            // to its least value may end: it is looked for from both sides.
            let stayed = Place { u: seen.place.u.clone(), ..descent.seen.place.clone() };
            let sums = [&seen.place, &stayed]
                .map(|place| settled_sum(problem, seen, place, &descent.used));
            Some((sums[0].min(sums[1]) - descent.seen.sum) / rise)
        };
        let rises = [side(0), side(1)];
        // Where the residual rises more slowly than the linear problem has it, the interval reaches
        // farther on that side; where it rises faster, the linear one stands.
        let widened = |rise: Option<f64>| {
            let slow = rise.unwrap_or(1.0).max(1.0 / MOST_WIDENING.powi(2));
            (1.0 / slow.sqrt()).max(1.0)
        };
        let (k, u) = (linear.indices[j], descent.seen.place.u[linear.indices[j]]);
        let knob = &problem.knobs[k];
        let [low, high] =
            [knob.at(u - half(j) * widened(rises[0])), knob.at(u + half(j) * widened(rises[1]))];
        worth.known[k] = Known::Within { low, high, rise: rises };
    }
}

/// The place at which value `j` is turned by so much and all others follow to where the linear
/// problem has the least residual then.
fn beside(
    problem: &Problem<'_>,
    descent: &Descent,
    linear: &Linear<'_>,
    covariance: &DMatrix<f64>,
    j: usize,
    by: f64,
) -> Place {
    let mut place = descent.seen.place.clone();
    let values = DVector::from_iterator(
        linear.indices.len(),
        (0..linear.indices.len()).map(|i| by * covariance[(i, j)] / covariance[(j, j)]),
    );
    for (i, &k) in linear.indices.iter().enumerate() {
        place.u[k] += values[i];
    }
    let (aside, count) = (linear.aside, linear.indices.len());
    let own = linear.upper.view((0, 0), (aside, aside)).into_owned();
    let mixed = linear.upper.view((0, aside), (aside, count)) * &values;
    if let Some(follow) = own.solve_upper_triangular(&(-mixed)) {
        let free_shift = problem.shift == super::Shift::Free;
        if free_shift {
            place.shift_s += follow[0];
        }
        if problem.offset_free {
            place.offset_v += follow[usize::from(free_shift)];
        }
    }
    place
}
