//! What is known of each candidate: the worst that was seen of each requirement, and where.

use super::cases::{Case, Stage};
use crate::circuit::Change;
use crate::measure::Verdict;
use crate::study::runner::Runner;
use crate::study::shot::{Line, Reading};
use crate::study::worst::badness;

/// One requirement: a row of the sheet of a test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Row {
    /// Which of the file's tests.
    pub test: usize,
    /// Which line of its sheet.
    pub row: usize,
}

/// The worst that was seen of one requirement.
#[derive(Clone, Debug, PartialEq)]
pub struct Spot {
    /// What it came to.
    pub line: Line,
    /// Why the run could not be solved.
    pub failure: Option<String>,
    /// What made it so, besides the candidate itself.
    pub over: Vec<Change>,
    /// Where that is.
    pub stage: Stage,
}

impl Spot {
    /// Whether the requirement is not met there.
    pub fn is_missed(&self) -> bool {
        matches!(self.line.verdict, Verdict::Fail | Verdict::Error | Verdict::NotEvaluated)
    }

    /// Slack where there is one; far below zero where it is missed without a number, infinite where
    /// it is met without a scale.
    pub fn score(&self) -> f64 {
        -badness(&self.line)
    }
}

/// All requirements of the tests that are moved.
pub(super) fn rows(runner: &Runner<'_>, tests: &[usize]) -> Vec<Row> {
    let sheets = tests.iter().filter_map(|&test| runner.sheet(test));
    sheets.flat_map(|s| (0..s.rows.len()).map(|row| Row { test: s.test, row })).collect()
}

/// What is known of one candidate.
#[derive(Clone, Debug, Default)]
pub(super) struct Held {
    /// One a requirement.
    pub(super) spots: Vec<Option<Spot>>,
}

impl Held {
    pub(super) fn new(rows: usize) -> Self {
        Self { spots: vec![None; rows] }
    }

    /// Notes a spot if it is worse than what is known.
    pub(super) fn note(&mut self, k: usize, spot: Spot) {
        if let Some(known) = self.spots.get_mut(k)
            && known.as_ref().is_none_or(|old| badness(&spot.line) > badness(&old.line))
        {
            *known = Some(spot);
        }
    }

    /// Notes every requirement of the test of a case.
    pub(super) fn note_all(
        &mut self,
        rows: &[Row],
        case: &Case,
        over: &[Change],
        reading: &Reading,
    ) {
        for (k, row) in rows.iter().enumerate().filter(|(_, row)| row.test == case.test) {
            let (line, stage) = (reading.line(row.row), case.stage());
            let failure = reading.failure.clone();
            self.note(k, Spot { line, failure, over: over.to_vec(), stage });
        }
    }

    /// The requirements among `active` that are missed.
    pub(super) fn missed<'a>(&'a self, active: &'a [bool]) -> impl Iterator<Item = usize> + 'a {
        let counts = |k: &usize| active.get(*k).copied().unwrap_or(false);
        let missed = |k: &usize| self.spots[*k].as_ref().is_some_and(Spot::is_missed);
        (0..self.spots.len()).filter(counts).filter(missed)
    }

    /// The nearest limit among `active`: which requirement, and its slack.
    pub(super) fn nearest(&self, active: &[bool]) -> Option<(usize, f64)> {
        let counts = |k: &usize| active.get(*k).copied().unwrap_or(false);
        let score = |k: usize| Some((k, self.spots[k].as_ref()?.score()));
        let scores = (0..self.spots.len()).filter(counts).filter_map(score);
        scores.filter(|(_, s)| *s < f64::INFINITY).min_by(|a, b| a.1.total_cmp(&b.1))
    }
}
