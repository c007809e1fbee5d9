//! What a measurement's variance comes from: linear regression on everything that was drawn.

use nalgebra::{DMatrix, DVector};

/// Below this share of the variance a straight line explains too little to name contributors.
pub const EXPLAINS: f64 = 0.7;
/// Contributors that are told.
pub(super) const MOST: usize = 5;
/// Runs for each quantity below which a regression tells more about chance than about the circuit.
const RUNS_EACH: usize = 5;
/// Singular values below this share of the largest count as nothing.
const NOTHING: f64 = 1e-9;

/// What the regression was made on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum On {
    /// Values.
    Values,
    /// Ranks (Spearman), as the values are not on a straight line.
    Ranks,
}

/// The part of one quantity.
#[derive(Clone, Debug, PartialEq)]
pub struct Contributor {
    /// Its index among what was drawn.
    pub quantity: usize,
    /// Of the variance: as the square of its standardised coefficient, all together making what is
    /// explained.
    pub share: f64,
    /// Standard deviations of the measurement per standard deviation of the quantity.
    pub coefficient: f64,
}

/// Where a measurement's variance comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Contributors {
    /// What it was found on.
    pub on: On,
    /// The share of the variance that the regression explains.
    pub explained: f64,
    /// The same on values, which says how straight the dependence is.
    pub linear: f64,
    /// The largest first.
    pub list: Vec<Contributor>,
}

/// Regresses `measured` on the columns of `drawn` over the runs that have a value. `None` where
/// nothing varies or runs are too few.
pub fn contributors(drawn: &[Vec<f64>], measured: &[Option<f64>]) -> Option<Contributors> {
    let runs: Vec<usize> = (0..measured.len()).filter(|k| measured[*k].is_some()).collect();
    let y: Vec<f64> = measured.iter().copied().flatten().collect();
    let columns: Vec<(usize, Vec<f64>)> = drawn
        .iter()
        .enumerate()
        .map(|(k, column)| (k, runs.iter().map(|run| column[*run]).collect()))
        .collect();
    let (linear, straight) = regression(&columns, &y)?;
    if linear >= EXPLAINS {
        return Some(Contributors { on: On::Values, explained: linear, linear, list: straight });
    }
    let ranked: Vec<(usize, Vec<f64>)> =
        columns.iter().map(|(k, column)| (*k, ranks(column))).collect();
    let (explained, list) = regression(&ranked, &ranks(&y))?;
    if explained > linear {
        return Some(Contributors { on: On::Ranks, explained, linear, list });
    }
    Some(Contributors { on: On::Values, explained: linear, linear, list: straight })
}

/// Share of the variance that is explained, and the largest contributors to it.
fn regression(columns: &[(usize, Vec<f64>)], y: &[f64]) -> Option<(f64, Vec<Contributor>)> {
    let y = standardised(y)?;
    let columns: Vec<(usize, Vec<f64>)> =
        columns.iter().filter_map(|(k, column)| Some((*k, standardised(column)?))).collect();
    let (n, p) = (y.len(), columns.len());
    if p == 0 || n < RUNS_EACH * p + 2 {
        return None;
    }
    let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    // The normal equations of standardised columns: correlations, of nearly independent columns.
    let correlations = DMatrix::from_fn(p, p, |i, j| product(&columns[i].1, &columns[j].1));
    let with_y = DVector::from_fn(p, |i, _| product(&columns[i].1, &y));
    let solved = correlations.svd(true, true).solve(&with_y, NOTHING).ok()?;
    let explained = solved.dot(&with_y).clamp(0.0, 1.0);
    let squares = solved.norm_squared();
    let of_squares = if squares > 0.0 { explained / squares } else { 0.0 };
    let mut list: Vec<Contributor> = columns
        .iter()
        .zip(solved.iter())
        .map(|((quantity, _), coefficient)| Contributor {
            quantity: *quantity,
            share: coefficient * coefficient * of_squares,
            coefficient: *coefficient,
        })
        .collect();
    list.sort_by(|a, b| b.share.total_cmp(&a.share));
    list.truncate(MOST);
    Some((explained, list))
}

/// Spearman's correlation of two rows of equally many values, from -1 to 1; `None` where one of them
/// does not vary.
pub fn rank_correlation(a: &[f64], b: &[f64]) -> Option<f64> {
    let (a, b) = (standardised(&ranks(a))?, standardised(&ranks(b))?);
    Some(a.iter().zip(&b).map(|(a, b)| a * b).sum::<f64>().clamp(-1.0, 1.0))
}

/// Mean 0 and sum of squares 1; `None` where nothing varies but by rounding.
fn standardised(values: &[f64]) -> Option<Vec<f64>> {
    const ROUNDING: f64 = 1e-12;
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let centred: Vec<f64> = values.iter().map(|v| v - mean).collect();
    let length = centred.iter().map(|v| v * v).sum::<f64>().sqrt();
    let varies = length > ROUNDING * mean.abs() * n.sqrt() && length > 0.0 && length.is_finite();
    varies.then(|| centred.iter().map(|v| v / length).collect())
}

/// Ranks of values, equal ones sharing the mean of theirs.
fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
    let mut ranks = vec![0.0; values.len()];
    let mut from = 0;
    while from < order.len() {
        let equal = order[from..].iter().take_while(|k| values[**k] == values[order[from]]).count();
        for k in &order[from..from + equal] {
            ranks[*k] = from as f64 + 0.5 * (equal - 1) as f64;
        }
        from += equal;
    }
    ranks
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

    use super::super::random::uniform;
    use super::*;

    fn columns(count: u64) -> Vec<Vec<f64>> {
        let names = ["a", "b", "c"];
        names.map(|n| (1..=count).map(|k| uniform(1, n, k)).collect()).to_vec()
    }

    /// y = 3a - 4b of independent quantities of equal spread: shares 9/25 and 16/25, all explained.
    #[test]
    fn exact_shares_of_a_weighted_sum() {
        let drawn = columns(4000);
        let y: Vec<Option<f64>> =
            (0..4000).map(|k| Some(3.0 * drawn[0][k] - 4.0 * drawn[1][k] + 7.0)).collect();
        let found = contributors(&drawn, &y).unwrap();
        assert_eq!(found.on, On::Values);
        assert!((found.explained - 1.0).abs() < 1e-12);
        let [b, a, c] = found.list.as_slice() else { panic!("{found:?}") };
        assert_eq!((b.quantity, a.quantity, c.quantity), (1, 0, 2));
        // The spread of 4000 uniform numbers is known to 1/√(5·4000), under 1 %, each; three times that.
        assert!((b.share - 0.64).abs() < 0.02 && (a.share - 0.36).abs() < 0.02, "{found:?}");
        assert!(b.coefficient < 0.0 && a.coefficient > 0.0 && c.share < 1e-20);
    }

    #[test]
    fn a_steep_curve_is_explained_by_ranks_and_a_bowl_by_nothing() {
        let drawn = columns(2000);
        let steep: Vec<Option<f64>> = drawn[0].iter().map(|a| Some((25.0 * a).exp())).collect();
        let found = contributors(&drawn, &steep).unwrap();
        assert!(found.linear < EXPLAINS && found.on == On::Ranks && found.explained > 0.999);
        assert_eq!(found.list[0].quantity, 0);
        let bowl: Vec<Option<f64>> = drawn[0].iter().map(|a| Some((a - 0.5).powi(2))).collect();
        assert!(contributors(&drawn, &bowl).unwrap().explained < 0.1);
    }

    #[test]
    fn nothing_is_said_of_too_few_runs_or_of_what_stands_still() {
        let drawn = columns(12);
        let y: Vec<Option<f64>> = drawn[0].iter().copied().map(Some).collect();
        assert_eq!(contributors(&drawn, &y), None);
        assert_eq!(contributors(&columns(100), &vec![Some(2.5); 100]), None);
        assert_eq!(contributors(&columns(100), &vec![None; 100]), None);
        // Runs without a value are left out.
        let drawn = columns(100);
        let mut y: Vec<Option<f64>> = drawn[2].iter().copied().map(Some).collect();
        y[17] = None;
        assert!((contributors(&drawn, &y).unwrap().list[0].share - 1.0).abs() < 1e-9);
    }

    #[test]
    fn equal_values_share_their_rank() {
        assert_eq!(ranks(&[5.0, 1.0, 5.0, 9.0]), [1.5, 0.0, 1.5, 3.0]);
    }
}
