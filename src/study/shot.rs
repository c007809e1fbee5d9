//! One run among the many of a study, and what is kept of it.

use crate::circuit::Change;
use crate::measure::{Bound, Measurement, Verdict};
use crate::trial::{Outcome, Test};
use serde::{Deserialize, Serialize};

/// One run that a study asks for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shot {
    /// Which of the file's tests.
    pub test: usize,
    /// As `--set` arguments: over the file, under what the test itself sets.
    pub changes: Vec<Change>,
}

impl Shot {
    /// What tells it from all others of the same study: `transmit-burst|c_out=3.3 µF`.
    pub fn key(&self, tests: &[Test]) -> String {
        let mut key = tests.get(self.test).map_or("", |t| t.stem.as_str()).to_owned();
        for change in &self.changes {
            key.push('|');
            key.push_str(&change.path);
            key.push('=');
            key.push_str(&change.text);
        }
        key
    }
}

/// What is kept of one run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Of the whole test.
    pub verdict: Verdict,
    /// Why it could not be solved.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub failure: Option<String>,
    /// In the order of [`super::Sheet::rows`]; empty after a failure.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lines: Vec<Line>,
    /// Attempted steps: what it cost.
    #[serde(default)]
    pub steps: usize,
}

/// One measurement of a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// In the unit of its row.
    #[serde(rename = "v", default, skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
    /// How far inside the limit, 1 at the middle of nothing: the margin where the requirement has
    /// one, for a window the distance to its nearer edge over half its width. Negative outside.
    #[serde(rename = "m", default, skip_serializing_if = "Option::is_none")]
    pub slack: Option<f64>,
    /// What it came to.
    #[serde(rename = "j")]
    pub verdict: Verdict,
    /// Why there is no value, or what state the rail is in.
    #[serde(rename = "w", default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

impl Reading {
    /// A run that could not be made.
    pub fn failed(why: String, steps: usize) -> Self {
        Self { verdict: Verdict::Error, failure: Some(why), lines: Vec::new(), steps }
    }

    /// What is kept of an outcome: the measurements at these indices.
    pub fn of(outcome: &Outcome, indices: &[usize]) -> Self {
        let work = outcome.work;
        let steps = work.steps + work.rejected_error + work.rejected_newton;
        if let Some(failure) = &outcome.failure {
            return Self::failed(failure.message.clone(), steps);
        }
        let rows: Vec<&Measurement> =
            indices.iter().filter_map(|&k| outcome.measurements.get(k)).collect();
        // What was not asked for was not looked at either.
        let verdict = Verdict::worst(rows.iter().filter(|m| !m.advisory).map(|m| m.verdict));
        let lines = rows.into_iter().map(|m| line(outcome, m)).collect();
        Self { verdict, failure: None, lines, steps }
    }

    /// Row `k`; an error where the run could not be solved.
    pub fn line(&self, k: usize) -> Line {
        let none = || Line {
            value: None,
            slack: None,
            verdict: Verdict::Error,
            reason: self.failure.clone(),
        };
        self.lines.get(k).cloned().unwrap_or_else(none)
    }

    /// The least slack of its lines: how near the nearest limit is. `None` where no line has one, or
    /// where one that has none fails.
    pub fn least_slack(&self) -> Option<f64> {
        let blind = |l: &Line| l.slack.is_none() && l.verdict == Verdict::Fail;
        if self.failure.is_some() || self.lines.iter().any(blind) {
            return None;
        }
        self.lines.iter().filter_map(|l| l.slack).min_by(f64::total_cmp)
    }
}

fn line(outcome: &Outcome, m: &Measurement) -> Line {
    Line { value: m.value, slack: slack(outcome, m), verdict: m.verdict, reason: m.reason.clone() }
}

/// How far a measurement lies inside its limit, over a scale of its own.
pub fn slack(outcome: &Outcome, m: &Measurement) -> Option<f64> {
    m.limit.as_ref()?;
    let rail = &outcome.condition.rail;
    let bound = match m.name.as_str() {
        "window" => &rail.window,
        "transient_window" => &rail.transient_window,
        // It is a share of the mask already.
        "impedance_mask" => return m.value,
        _ => return m.margin,
    };
    match bound {
        Bound::Within { low_v, high_v } if high_v > low_v => {
            m.value.map(|v| v / (0.5 * (high_v - low_v)))
        }
        _ => m.margin,
    }
}
