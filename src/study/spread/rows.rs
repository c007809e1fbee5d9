//! One measurement over all runs: its figures, its failures, its worst run.

use super::yields::Share;
use crate::measure::Verdict;
use crate::study::shot::{Line, Reading};
use crate::study::worst::badness;

/// Shares in % at which percentiles are told: ±3σ of a normal distribution, 5 %, the middle.
pub const PERCENTS: [f64; 5] = [0.135, 5.0, 50.0, 95.0, 99.865];

/// Figures of a measurement over the runs in which it has a value.
#[derive(Clone, Debug, PartialEq)]
pub struct Figures {
    /// Runs with a value.
    pub count: usize,
    /// Their mean,
    pub mean: f64,
    /// standard deviation (of N - 1),
    pub deviation: f64,
    /// lowest,
    pub minimum: f64,
    /// highest,
    pub maximum: f64,
    /// and the values at [`PERCENTS`]: between the two nearest of the sorted values, in proportion.
    pub percentiles: [f64; 5],
}

/// A run that stands out.
#[derive(Clone, Debug, PartialEq)]
pub struct RunLine {
    /// Counted from 1.
    pub run: usize,
    /// What it came to.
    pub line: Line,
}

/// A row of a sheet over all runs.
#[derive(Clone, Debug, PartialEq)]
pub struct RowSpread {
    /// `None` where no run has a value.
    pub figures: Option<Figures>,
    /// Runs that miss the limit, have nothing to judge, or could not be solved.
    pub share: Share,
    /// Why there is no value, each with the number of runs.
    pub reasons: Vec<(String, usize)>,
    /// The run in which it was worst.
    pub worst: Option<RunLine>,
}

/// Whether a verdict counts as a failure of a run.
pub fn fails(verdict: Verdict) -> bool {
    matches!(verdict, Verdict::Fail | Verdict::NotEvaluated | Verdict::Error)
}

/// Row `row` over all runs.
pub(super) fn row(readings: &[Reading], row: usize) -> RowSpread {
    let mut reasons: Vec<(String, usize)> = Vec::new();
    let mut values = Vec::with_capacity(readings.len());
    let mut share = Share::default();
    let mut worst: Option<(f64, RunLine)> = None;
    for (k, reading) in readings.iter().enumerate() {
        let line = reading.line(row);
        share.of += 1;
        share.failing += usize::from(fails(line.verdict));
        values.extend(line.value);
        // Beside a value a reason is a remark.
        if let Some(reason) = line.reason.as_ref().filter(|_| line.value.is_none()) {
            match reasons.iter_mut().find(|(known, _)| known == reason) {
                Some((_, count)) => *count += 1,
                None => reasons.push((reason.clone(), 1)),
            }
        }
        let badness = badness(&line);
        if worst.as_ref().is_none_or(|(known, _)| badness > *known) {
            worst = Some((badness, RunLine { run: k + 1, line }));
        }
    }
    RowSpread { figures: figures(values), share, reasons, worst: worst.map(|(_, run)| run) }
}

fn figures(mut values: Vec<f64>) -> Option<Figures> {
    values.sort_by(f64::total_cmp);
    let (minimum, maximum) = (*values.first()?, *values.last()?);
    let count = values.len();
    let n = count as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    let deviation = if count > 1 { (squares / (n - 1.0)).sqrt() } else { 0.0 };
    let percentiles = PERCENTS.map(|percent| percentile(&values, percent));
    Some(Figures { count, mean, deviation, minimum, maximum, percentiles })
}

/// Of sorted values, which must not be empty: rank `percent`/100·(n - 1), counted from 0, in
/// proportion between its neighbours (definition 7 of Hyndman and Fan, The American Statistician 50
/// (1996)).
pub(super) fn percentile(sorted: &[f64], percent: f64) -> f64 {
    let last = sorted.len().saturating_sub(1);
    let rank = percent / 100.0 * last as f64;
    let below = (rank as usize).min(last);
    let above = (below + 1).min(last);
    match (sorted.get(below), sorted.get(above)) {
        (Some(a), Some(b)) => a + (rank - below as f64) * (b - a),
        _ => f64::NAN,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

    use super::*;

    fn reading(value: f64, slack: f64) -> Reading {
        let verdict = if slack < 0.0 { Verdict::Fail } else { Verdict::Pass };
        let line = Line { value: Some(value), slack: Some(slack), verdict, reason: None };
        Reading { verdict, failure: None, lines: vec![line], steps: 1 }
    }

    /// Of 0, 1, … 100 the mean is 50, the variance 101·102/12, and a percentile is its own number.
    #[test]
    fn exact_figures_of_evenly_spaced_values() {
        let readings: Vec<Reading> =
            (0..=100).rev().map(|k| reading(f64::from(k), 0.5 - f64::from(k) / 100.0)).collect();
        let found = row(&readings, 0);
        let figures = found.figures.unwrap();
        assert_eq!(
            (figures.count, figures.mean, figures.minimum, figures.maximum),
            (101, 50.0, 0.0, 100.0)
        );
        assert!((figures.deviation - (101.0_f64 * 102.0 / 12.0).sqrt()).abs() < 1e-12);
        for (found, percent) in figures.percentiles.iter().zip(PERCENTS) {
            assert!((found - percent).abs() < 1e-12);
        }
        assert_eq!(found.share, Share { failing: 50, of: 101 });
        let worst = found.worst.unwrap();
        assert_eq!((worst.run, worst.line.value), (1, Some(100.0)));
    }

    #[test]
    fn a_run_that_could_not_be_solved_fails_and_is_the_worst() {
        let readings = [
            reading(1.0, -3.0),
            Reading::failed("no convergence".to_owned(), 9),
            reading(1.0, 0.5),
        ];
        let found = row(&readings, 0);
        assert_eq!(found.share, Share { failing: 2, of: 3 });
        assert_eq!(found.reasons, [("no convergence".to_owned(), 1)]);
        assert_eq!(found.worst.unwrap().run, 2);
        assert_eq!(found.figures.unwrap().count, 2);
        assert_eq!(row(&readings[1..2], 0).figures, None);
    }
}
