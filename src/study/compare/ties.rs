//! Values that a trace cannot tell, alone or apart from others: directions in which the residual
//! moves by less than its noise all the way between the bounds.

use super::knob::Knob;
use super::linear::Linear;
use nalgebra::DMatrix;

/// A name belongs to a direction if its share is at least this much of the largest one.
const NAMED: f64 = 0.15;
/// Shares that cancel to this much of the larger one are taken for a sum, product or ratio.
const CANCELS: f64 = 0.1;
/// A direction is lost where its slope is below so many times what slopes may be wrong by.
const BLUR_MARGIN: f64 = 2.0;

/// What the trace still tells of values that it cannot tell apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Only {
    /// a + b
    Sum,
    /// a·b
    Product,
    /// a/b
    Ratio,
    /// 1/(1/a + 1/b)
    Parallel,
    /// Some combination that has no name.
    Combination,
    /// Nothing: one value that moves nothing that could be seen.
    Nothing,
}

/// Values that cannot be told.
#[derive(Clone, Debug, PartialEq)]
pub struct Lost {
    /// Which knobs, by their number.
    pub knobs: Vec<usize>,
    /// Their names.
    pub names: Vec<String>,
    /// What is told of them all the same.
    pub only: Only,
    /// That figure in SI units with its 95 % interval: value, low, high.
    pub figure: Option<[f64; 3]>,
}

impl Lost {
    /// In words.
    pub fn words(&self) -> String {
        let names: Vec<String> = self.names.iter().map(|n| format!("`{n}`")).collect();
        let list = match names.as_slice() {
            [] => String::new(),
            [one] => one.clone(),
            [all @ .., last] => format!("{} and {last}", all.join(", ")),
        };
        let what = match self.only {
            Only::Nothing => {
                return format!(
                    "{list} cannot be told by this trace: all the way between its bounds it moves the \
                     residual by less than the noise"
                );
            }
            Only::Sum => "only their sum",
            Only::Product => "only their product",
            Only::Ratio => "only their ratio",
            Only::Parallel => "only what they come to in parallel",
            Only::Combination => "only a combination of them",
        };
        format!("{list} cannot be told apart by this trace: {what}")
    }
}

/// The lost directions, and the covariance of the coordinates with those left out.
pub(super) fn lost_directions(linear: &Linear<'_>, values: &[f64]) -> (Vec<Lost>, DMatrix<f64>) {
    let (aside, count) = (linear.aside, linear.indices.len());
    if count == 0 {
        return (Vec::new(), DMatrix::zeros(0, 0));
    }
    // Below the rows of shift and offset stands what is left of the values' columns once these two
    // have taken their part. Each column is scaled to the whole way between the bounds.
    let mut scaled = linear.upper.view((aside, aside), (count, count)).into_owned();
    let extents: Vec<f64> = linear.knobs.iter().map(|knob| knob.extent()).collect();
    for (mut column, extent) in scaled.column_iter_mut().zip(&extents) {
        column *= *extent;
    }
    let lengths: Vec<f64> = scaled.column_iter().map(|column| column.norm()).collect();
    let svd = scaled.svd(false, true);
    let Some(directions) = svd.v_t else { return (Vec::new(), DMatrix::zeros(count, count)) };
    let mut lost = Vec::new();
    let mut covariance = DMatrix::zeros(count, count);
    let widest = extents.iter().copied().fold(0.0, f64::max);
    for (row, &strength) in svd.singular_values.iter().enumerate() {
        let direction: Vec<f64> = directions.row(row).iter().copied().collect();
        let largest = direction.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
        let width = 2.0 * linear.t * linear.deviation_v / strength;
        if !(width < 1.0 / largest) || strength < BLUR_MARGIN * linear.blur * widest {
            lost.push(direction);
            continue;
        }
        for (i, j) in (0..count).flat_map(|i| (0..count).map(move |j| (i, j))) {
            let shares = direction[i] * extents[i] * direction[j] * extents[j];
            covariance[(i, j)] += shares * (linear.deviation_v / strength).powi(2);
        }
    }
    let told = |direction: &Vec<f64>| {
        let members = members(linear, direction, &lengths);
        name(linear, values, direction, &members, &covariance)
    };
    (lost.iter().map(told).collect(), covariance)
}

/// Who takes part in a lost direction: those whose effects cancel each other; where no effect is above
/// the noise, those that turn.
fn members(linear: &Linear<'_>, direction: &[f64], lengths: &[f64]) -> Vec<usize> {
    let effects: Vec<f64> = direction.iter().zip(lengths).map(|(v, l)| v.abs() * l).collect();
    let turns: Vec<f64> = direction.iter().map(|v| v.abs()).collect();
    let seen = effects.iter().any(|effect| *effect > 2.0 * linear.t * linear.deviation_v);
    let shares = if seen { effects } else { turns };
    let largest = shares.iter().copied().fold(0.0, f64::max);
    (0..shares.len()).filter(|j| shares[*j] >= NAMED * largest).collect()
}

fn name(
    linear: &Linear<'_>,
    values: &[f64],
    direction: &[f64],
    members: &[usize],
    covariance: &DMatrix<f64>,
) -> Lost {
    let (only, figure) = match members {
        [_] => (Only::Nothing, None),
        [a, b] => {
            let turn = |j: usize| direction[j] * linear.knobs[j].extent();
            let pair = [
                (linear.knobs[*a], values[*a], turn(*a)),
                (linear.knobs[*b], values[*b], turn(*b)),
            ];
            let only = combination(pair);
            (only, figure(linear, only, [*a, *b], values, covariance))
        }
        _ => (Only::Combination, None),
    };
    Lost {
        knobs: members.iter().map(|j| linear.indices[*j]).collect(),
        names: members.iter().map(|j| linear.knobs[*j].path.clone()).collect(),
        only,
        figure,
    }
}

/// What stays the same along a direction in which two values turn by so much of their coordinates.
pub(in crate::study) fn combination([(ka, a, da), (kb, b, db)]: [(&Knob, f64, f64); 2]) -> Only {
    let cancels = |x: f64, y: f64| (x + y).abs() <= CANCELS * x.abs().max(y.abs());
    // Turns of the values themselves.
    let (a_turn, b_turn) = (ka.slope(a) * da, kb.slope(b) * db);
    let alike = ka.dimension == kb.dimension;
    if alike && cancels(a_turn, b_turn) {
        Only::Sum
    } else if cancels(a_turn / a, b_turn / b) {
        Only::Product
    } else if alike && cancels(a_turn / (a * a), b_turn / (b * b)) {
        Only::Parallel
    } else if cancels(a_turn / a, -b_turn / b) {
        Only::Ratio
    } else {
        Only::Combination
    }
}

/// The combination itself, its deviation propagated through its slopes.
fn figure(
    linear: &Linear<'_>,
    only: Only,
    [i, j]: [usize; 2],
    values: &[f64],
    covariance: &DMatrix<f64>,
) -> Option<[f64; 3]> {
    let (a, b) = (values[i], values[j]);
    let (value, by_a, by_b) = match only {
        Only::Sum => (a + b, 1.0, 1.0),
        Only::Product => (a * b, b, a),
        Only::Ratio => (a / b, 1.0 / b, -a / (b * b)),
        Only::Parallel => {
            let value = a * b / (a + b);
            (value, (value / a).powi(2), (value / b).powi(2))
        }
        Only::Combination | Only::Nothing => return None,
    };
    let (ga, gb) = (by_a * linear.knobs[i].slope(a), by_b * linear.knobs[j].slope(b));
    let variance = ga * ga * covariance[(i, i)]
        + 2.0 * ga * gb * covariance[(i, j)]
        + gb * gb * covariance[(j, j)];
    let half = linear.t * variance.max(0.0).sqrt();
    Some([value, value - half, value + half]).filter(|f| f.iter().all(|x| x.is_finite()))
}
